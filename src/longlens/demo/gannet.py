"""The Skerry Gannet, an invented turbocharged mid-engined track car with pullrods at both ends, in two stages.

``test``: the camouflaged test car with a tail spoiler and a small charge cooler. ``shown``: the car as presented, with
a wing, a larger charge cooler, an oil cooler, other wheels and a thicker anti-roll bar. Nothing here is a real car.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from longlens.demo import coolers as k
from longlens.demo import details as d
from longlens.demo import linkage as li
from longlens.demo import trim
from longlens.demo import wheels as wh
from longlens.demo.ground import add_ground_points
from longlens.demo.mechanics import Corner, CornerState, rocker_for, solve, unit, vec
from longlens.demo.model import Model
from longlens.demo.panels import Loft, aerofoil, shell, wing
from longlens.demo.solids import Array, Mesh, bent, box, frame, lathe, merge, plate, rod, sphere, spline, tube

WHEELBASE = 2.4472
HALF_FRONT, HALF_REAR = 0.78155, 0.7744
LOADED_FRONT, LOADED_REAR = 0.3072, 0.3258
CAMBER_FRONT, CAMBER_REAR = np.radians(1.9), np.radians(1.4)

FRONT_TYRE = wh.Tyre(0.245, 35, 18, 8.5, grown=0.0014)
REAR_TYRE = wh.Tyre(0.305, 30, 19, 11.0, grown=-0.0019)


@dataclass(frozen=True)
class Stance:
    """Bumps of front and rear wheels (m, body axes) and rack travel (m, to the left)."""

    front: float = 0.0
    rear: float = 0.0
    rack: float = 0.0

    def ground_plane(self) -> tuple[float, float]:
        """Height at x = 0 and slope dz/dx of the ground in body axes."""
        return self.front, (self.front - self.rear) / WHEELBASE


STANCES = {"static": Stance(), "steered": Stance(rack=-0.030), "braking": Stance(front=0.014, rear=-0.012)}


def corners(stage: str) -> tuple[Corner, Corner]:
    """Front and rear left corners as designed."""
    shown = stage == "shown"
    outer = vec(-0.010, 0.618 if shown else 0.600, 0.402)
    pivot = vec(-0.030, 0.352, 0.232)
    axis, rod_joint, spring_joint = rocker_for(pivot, outer, SPRING_FRONT, 0.056, 0.082, pulled=True)
    away = unit(pivot - spring_joint)
    bar = pivot + away * 0.052
    tangent = unit(np.cross(axis, away))
    tangent = tangent if tangent[0] > 0 else -tangent
    arm = bar + tangent * 0.210
    front = Corner(
        upper_front=vec(0.152, 0.372, 0.392),
        upper_rear=vec(-0.188, 0.378, 0.382),
        upper_outer=vec(-0.0117, 0.6655, 0.4268),
        lower_front=vec(0.194, 0.352, 0.166),
        lower_rear=vec(-0.242, 0.358, 0.161),
        lower_outer=vec(0.0078, 0.6921, 0.1694),
        tie_inner=vec(0.1192, 0.3655, 0.2655),
        tie_outer=vec(0.1164, 0.6672, 0.2861),
        wheel_centre=vec(0.0, HALF_FRONT, LOADED_FRONT),
        wheel_axis=vec(0, np.cos(CAMBER_FRONT), np.sin(CAMBER_FRONT)),
        rod_outer=outer,
        rod_inner=rod_joint,
        rocker_pivot=pivot,
        rocker_axis=axis,
        rod_on="upper",
        lever={"spring": spring_joint, "bar": bar},
        bar_pivot=vec(arm[0], arm[1] - 0.035, arm[2] + 0.078),
        bar_axis=vec(0, 1, 0),
        bar_arm=arm,
    )
    x = -WHEELBASE
    outer = vec(x + 0.020, 0.606, 0.424)
    pivot = vec(x + 0.095, 0.282, 0.222)
    axis, rod_joint, spring_joint = rocker_for(pivot, outer, SPRING_REAR, 0.056, 0.084, pulled=True)
    rear = Corner(
        upper_front=vec(x + 0.236, 0.302, 0.398),
        upper_rear=vec(x - 0.132, 0.296, 0.391),
        upper_outer=vec(x - 0.0142, 0.6402, 0.4521),
        lower_front=vec(x + 0.318, 0.268, 0.170),
        lower_rear=vec(x - 0.122, 0.262, 0.165),
        lower_outer=vec(x + 0.0091, 0.6714, 0.1746),
        tie_inner=vec(x - 0.192, 0.266, 0.2235),
        tie_outer=vec(x - 0.1608, 0.6528, 0.2465),
        wheel_centre=vec(x, HALF_REAR, LOADED_REAR),
        wheel_axis=vec(0, np.cos(CAMBER_REAR), np.sin(CAMBER_REAR)),
        rod_outer=outer,
        rod_inner=rod_joint,
        rocker_pivot=pivot,
        rocker_axis=axis,
        rod_on="upper",
        lever={"spring": spring_joint},
    )
    return front, rear


SPRING_FRONT = vec(-0.362, 0.350, 0.268)
SPRING_REAR = vec(-WHEELBASE + 0.385, 0.288, 0.252)

TUB = Loft(
    x=[0.62, 0.30, -0.30, -0.50, -0.80, -1.30, -1.56],
    w=[0.235, 0.262, 0.290, 0.380, 0.505, 0.520, 0.500],
    z0=[0.10, 0.085, 0.075, 0.065, 0.055, 0.055, 0.06],
    z1=[0.36, 0.40, 0.47, 0.53, 0.555, 0.560, 0.60],
    n_up=[5, 5, 4.5, 4, 3.6, 3.6, 4],
    n_low=[5, 5, 5, 5, 6, 6, 6],
)
NOSE = Loft(
    x=[1.06, 0.98, 0.70, 0.40, 0.0, -0.34],
    w=[0.36, 0.44, 0.485, 0.470, 0.398, 0.370],
    z0=[0.150, 0.120, 0.108, 0.10, 0.10, 0.10],
    z1=[0.262, 0.322, 0.445, 0.512, 0.566, 0.590],
    n_up=[3, 3, 3.2, 3.2, 3, 3],
    n_low=[3, 4, 5, 6, 6, 6],
)
LID = Loft(
    x=[-1.34, -1.60, -2.00, -2.45, -2.80, -3.02],
    w=[0.560, 0.700, 0.905, 0.945, 0.930, 0.880],
    z0=[0.40, 0.44, 0.50, 0.52, 0.50, 0.50],
    z1=[0.905, 0.890, 0.820, 0.772, 0.765, 0.800],
    n_up=[2.1, 2.4, 3.4, 4.2, 4.6, 5],
    n_low=[6, 6, 6, 6, 6, 6],
)
POD = Loft(
    x=[-0.58, -0.80, -1.15, -1.55, -1.92],
    w=[0.150, 0.190, 0.205, 0.200, 0.160],
    z0=[0.10, 0.065, 0.055, 0.055, 0.075],
    z1=[0.470, 0.570, 0.615, 0.625, 0.560],
    n_up=[3.4, 3.2, 3.0, 3.0, 3.0],
    n_low=[5, 5, 6, 6, 5],
    y=[0.690, 0.712, 0.722, 0.722, 0.706],
)


def build(stage: str = "shown", stance: str = "static") -> Model:
    """The whole car of a stage (``"test"`` or ``"shown"``) in a stance (a key of :data:`STANCES`)."""
    m = Model()
    st = STANCES[stance]
    m.ground = st.ground_plane()
    shown = stage == "shown"
    front, rear = corners(stage)
    fl, fr = solve(front, st.front, st.rack), solve(front, st.front, -st.rack)
    rl = solve(rear, st.rear)
    _wheels(m, (fl, fr), rl, shown)
    _links(m, front, rear, fl, fr, rl, shown)
    _tub(m, shown)
    _cockpit(m)
    _cooling(m, shown)
    _engine(m, shown)
    _body(m, shown)
    _tail(m, shown)
    trim.gannet(m, TUB, shown)
    add_ground_points(m)
    return m


def _wheels(m: Model, fronts: tuple[CornerState, CornerState], rear: CornerState, shown: bool) -> None:
    rim = "rim_bronze" if shown else "rim_graphite"
    f = wh.WheelSpec(
        FRONT_TYRE, 0.178, 0.030, np.pi * 0.95, spokes=7 if shown else 10, twin=shown, dish=0.066, blocks=72, rim=rim
    )
    r = wh.WheelSpec(
        REAR_TYRE,
        0.170,
        0.028,
        np.pi * 0.05,
        spokes=7 if shown else 10,
        twin=shown,
        dish=0.092,
        blocks=74,
        grooves=4,
        rim=rim,
        lettering="sidewall_rear",
    )
    for sgn, s in ((1, fronts[0]), (-1, fronts[1])):
        with m.side(sgn):
            wh.add_wheel(m, "front", f, s, 0.2 + 0.4 * sgn, m.ground)
            wh.add_upright(m, "front", s, f)
            c = s.joints["wheel_centre"]
            li.brake_hose(m, "front", vec(-0.26, 0.300, 0.36), c + s.R @ vec(-0.13, -0.06, 0.02))
            _contact(m, "front", c, FRONT_TYRE)
            wh.add_wheel(m, "rear", r, rear, 0.7 + 0.2 * sgn, m.ground)
            wh.add_upright(m, "rear", rear, r)
            _contact(m, "rear", rear.joints["wheel_centre"], REAR_TYRE)


def _contact(m: Model, where: str, c: Array, t: wh.Tyre) -> None:
    if m.ground == (0.0, 0.0):
        m.point(f"{where}.contact_outer", vec(c[0], c[1] + t.width * 0.455, 0.0), 0.012, 0.25, on="ground")


def _links(
    m: Model, front: Corner, rear: Corner, fl: CornerState, fr: CornerState, rl: CornerState, shown: bool
) -> None:
    look = li.Look(
        arm="steel_black",
        rod="titanium",
        tie="titanium",
        faired=False,
        arm_thick=0.024,
        rod_name="pullrod",
        chassis_y=0.268,
        rod_diameter=0.017,
        tie_diameter=0.016,
    )
    flip = vec(1, -1, 1)
    for sgn, s in ((1, fl), (-1, fr)):
        with m.side(sgn):
            li.add_linkage(m, "front", front, s, look)
            li.add_spring(m, "front", s, SPRING_FRONT)
            li.add_bar_link(m, "front", s, 0.009)
            li.add_rocker_mount(m, "front", front, front.rocker_pivot + vec(0, -0.045, -0.05))
            m.add(
                "front.spring.bracket",
                box(SPRING_FRONT + vec(-0.012, -0.030, -0.030), (0.045, 0.085, 0.075), 0.008),
                "machined",
            )
    li.add_bar(m, "front", fl, fr, 0.0142 if shown else 0.0125, 0.008)
    li.add_rack(m, "front", fl.joints["tie_inner"], fr.joints["tie_inner"] * flip, 0.235)
    look = replace(look, tie_name="toe_link", chassis_y=0.238, rod_diameter=0.019)
    for sgn in (1, -1):
        with m.side(sgn):
            li.add_linkage(m, "rear", rear, rl, look)
            li.add_spring(m, "rear", rl, SPRING_REAR)
            li.add_rocker_mount(m, "rear", rear, rear.rocker_pivot + vec(0, -0.055, -0.04))
            li.add_drive_shaft(m, "rear", rl, vec(-WHEELBASE - 0.035, 0.185, 0.300), 0.125)


def _skin(shown: bool) -> str:
    return "paint_white" if shown else "camouflage"


def _tub(m: Model, shown: bool) -> None:
    m.add("tub.front", TUB.whole(0.62, -0.46, 60, 120), "carbon_weave")
    m.add(
        "tub.cockpit",
        TUB.panel(-0.46, -1.56, lambda x: np.pi / 2 + _open(x), lambda x: 2.5 * np.pi - _open(x), 0.012, 110, 130),
        "carbon_matt",
    )
    m.add(
        "tub.bulkhead",
        plate(
            TUB.at(np.full(80, -1.55), np.linspace(0, 2 * np.pi, 80, endpoint=False))[:, 1:],
            vec(-1.555, 0, 0),
            vec(0, 1, 0),
            vec(0, 0, 1),
            0.012,
            0.001,
        ),
        "carbon_weave",
    )
    # two cans low down, under the radiator, into a beam behind the mouth's lip
    crash = Loft(x=[0.96, 0.62], w=[0.050, 0.085], z0=[0.112, 0.098], z1=[0.172, 0.186], n_up=[6, 6], n_low=[6, 6])
    for y in (0.150, -0.150):
        m.add("crash_structure", crash.whole(0.96, 0.62, 30, 80).moved(None, (0, y, 0)), "aluminium")
        for x in (0.70, 0.78, 0.86, 0.92):
            ring = crash.at(np.full(81, x), np.linspace(0, 2 * np.pi, 81)) + vec(0, y, 0)
            m.add("crash_structure.bead", tube(ring, 0.003, 8), "aluminium")
    m.add("crash_structure.beam", box(vec(0.975, 0, 0.142), (0.045, 0.60, 0.070), 0.012), "aluminium")
    for sgn in (1, -1):
        with m.side(sgn):
            m.point("crash_structure.beam_end", vec(0.9975, 0.299, 0.175), 0.010, 0.7)
            for i, (y, z) in enumerate(((0.215, 0.345), (0.215, 0.215))):
                m.add("tub.front_bolt", d.bolt(vec(0.620, y, z - 0.012), vec(1, 0, 0), 0.008), "steel")
                m.point(f"tub.front_bolt_{i + 1}", vec(0.626, y, z - 0.012), 0.008, 0.95)
            for i, x in enumerate((0.48, 0.20, -0.20)):
                z = float(TUB.at(x, np.pi / 2)[2])
                m.add("tub.top_bolt", d.bolt(vec(x, 0.14, z - 0.001), vec(0, 0, 1), 0.007), "steel")
                m.point(f"tub.top_bolt_{i + 1}", vec(x, 0.14, z + 0.004), 0.008, 0.95)
            m.add(
                "reservoir",
                lathe(
                    [(0, 0), (0, 0.022), (0.048, 0.022), (0.052, 0.018), (0.052, 0)],
                    vec(0.40, 0.09, float(TUB.at(0.40, np.pi / 2)[2]) - 0.002),
                    vec(0, 0, 1),
                    36,
                ),
                "tank",
            )
            m.add(
                "reservoir.cap",
                lathe(
                    [(0, 0), (0, 0.024), (0.012, 0.024), (0.012, 0)],
                    vec(0.40, 0.09, float(TUB.at(0.40, np.pi / 2)[2]) + 0.047),
                    vec(0, 0, 1),
                    10,
                ),
                "black",
            )
            m.point("reservoir.cap", vec(0.40, 0.09, float(TUB.at(0.40, np.pi / 2)[2]) + 0.059), 0.016, 0.7)
    sleeve, ties = d.loom(
        spline([vec(0.55, -0.03, 0.375), vec(0.35, -0.02, 0.395), vec(0.10, 0.03, 0.425), vec(-0.28, 0.02, 0.474)], 12),
        0.008,
        6,
    )
    m.add("front.loom", sleeve, "sleeve")
    m.add("front.loom.ties", ties, "black")


def _open(x: Array) -> Array:
    from longlens.demo.solids import ramp

    return ramp(x, [-1.56, -1.45, -1.10, -0.72, -0.56, -0.46], [0.70, 0.82, 0.86, 0.74, 0.05, 0.0])


def _cockpit(m: Model) -> None:
    x = np.linspace(-0.57, -1.50, 60)
    for sgn in (1, -1):
        with m.side(sgn):
            m.add("cockpit.rim", tube(TUB.at(x, np.pi / 2 - _open(x)), 0.012, 16), "rubber")
            seat = spline(
                [
                    vec(-0.86, 0, 0.14),
                    vec(-1.05, 0, 0.11),
                    vec(-1.24, 0, 0.20),
                    vec(-1.38, 0, 0.45),
                    vec(-1.46, 0, 0.78),
                ],
                12,
            )
            y = np.linspace(-1, 1, 25)
            P = (
                seat[:, None]
                + np.stack([np.abs(y) ** 3 * 0.05, y * 0.200 + 0.235, 0.02 + 0.07 * np.abs(y) ** 3.5], -1)[None]
            )
            m.add("seat", shell(P + vec(0, 0, 0.006), P), "fabric")
            m.add("seat.headrest", box(vec(-1.44, 0.235, 0.80), (0.05, 0.20, 0.14), 0.022, k=5), "fabric")
            hoop = spline(
                [
                    vec(-1.50, 0.43, 0.50),
                    vec(-1.51, 0.42, 0.75),
                    vec(-1.52, 0.36, 0.965),
                    vec(-1.52, 0.235, 1.035),
                    vec(-1.52, 0.11, 0.965),
                    vec(-1.51, 0.05, 0.75),
                    vec(-1.50, 0.04, 0.50),
                ],
                12,
            )
            m.add("roll_hoop", tube(hoop, 0.021, 28), "steel_black")
            m.point("roll_hoop.top", vec(-1.52, 0.235, 1.056), 0.02, 0.5)
            m.add("roll_hoop.stay", rod(vec(-1.515, 0.37, 0.94), vec(-2.02, 0.34, 0.46), 0.017, 26), "steel_black")
            m.add(
                "roll_hoop.stay.weld",
                d.weld(d.ring_path(vec(-1.53, 0.369, 0.925), vec(-0.5, -0.03, -0.48), 0.0174, squash=1.1), 0.0026),
                "weld",
            )
            c = vec(-0.62, 0.60, 0.70)
            m.add("mirror", box(c, (0.085, 0.165, 0.085), 0.034, k=6), "paint_ink")
            m.add("mirror.glass", box(c - vec(0.0435, 0, 0), (0.003, 0.132, 0.060), 0.001), "mirror")
            m.add(
                "mirror.stalk",
                tube(
                    spline([c + vec(0, -0.06, -0.03), c + vec(0.01, -0.14, -0.10), vec(-0.60, 0.40, 0.52)], 10),
                    0.009,
                    14,
                    flat=0.5,
                ),
                "carbon_gloss",
            )
            m.point("mirror.outer_end", c + vec(0, 0.0825, 0), 0.016, 0.5)
    c, tilt = vec(-0.70, 0.235, 0.60), unit(vec(-1, 0, 0.42))
    F = frame(tilt)
    w = np.linspace(0, 2 * np.pi, 90)
    m.add(
        "steering_wheel",
        tube(
            c
            + 0.150 * (np.cos(w)[:, None] * F[0] + np.sin(w)[:, None] * F[1] * (1 - 0.1 * (np.sin(w) < -0.6)[:, None])),
            0.0135,
            18,
        ),
        "fabric",
    )
    m.add(
        "steering_wheel.spokes",
        merge(
            [
                rod(c, c + 0.145 * (np.cos(a) * F[0] + np.sin(a) * F[1]), 0.011, 14)
                for a in (0.1, np.pi - 0.1, -np.pi / 2)
            ]
        ),
        "aluminium",
    )
    m.add("steering_column", rod(c, vec(-0.42, 0.235, 0.47), 0.013, 18), "steel_dark")
    m.add("dash", box(vec(-0.53, 0, 0.555), (0.12, 0.80, 0.05), 0.02), "carbon_matt")
    m.add("dash.screen", box(vec(-0.594, 0.235, 0.575), (0.006, 0.17, 0.06), 0.002), "screen")
    xs = np.linspace(-0.42, -0.66, 16)
    a = np.linspace(np.pi * 0.14, np.pi * 0.86, 60)
    S = TUB.at(xs[:, None], a[None]) + np.stack(
        [
            np.zeros((16, 60)),
            np.zeros((16, 60)),
            np.broadcast_to((np.linspace(0, 1, 16) ** 0.8 * 0.16)[:, None], (16, 60)),
        ],
        -1,
    )
    m.add("screen", shell(S + vec(0, 0, 0.003), S), "smoke")


RADIATOR = k.Core(
    (0.868, 0.335), (0.868, -0.335), 0.0, 0.198, 0.395, 0.044, 0.0100, 0.0020, (0.046, 0.034), (0.034, 0.046), -0.72
)
CHARGE = k.Core(
    (-0.985, 0.845), (-1.205, 0.590), 0.0, 0.105, 0.500, 0.060, 0.0140, 0.0062, (0.064, 0.048), (0.048, 0.064)
)
CHARGE_TEST = replace(CHARGE, top=0.395, thick=0.052)
OIL = k.Core((-1.380, 0.850), (-1.440, 0.640), 0.0, 0.115, 0.345, 0.038, 0.0095, 0.0020, (0.034, 0.034), (0.034, 0.034))


def _cooling(m: Model, shown: bool) -> None:
    k.add_core(m, "radiator", RADIATOR, 1.0)
    for sgn in (1, -1):
        with m.side(sgn):
            behind = RADIATOR.at(np.array([0.27]), np.array([0.5]), -0.046)[0]
            k.add_fan(m, "radiator.fan", behind, unit(vec(-1, 0, RADIATOR.lean)), 0.108, 7)
            charge = CHARGE if shown else CHARGE_TEST
            k.add_core(m, "charge_cooler", charge, -1.0)
            name = "charge_cooler"
            head = m.points[m.named(f"{name}.collector_end.head")].xyz * vec(1, sgn, 1)
            foot = m.points[m.named(f"{name}.collector_start.foot")].xyz * vec(1, sgn, 1)
            y0 = 0.20
            hot = bent(
                [
                    vec(-1.98, y0 + 0.10, 0.40),
                    vec(-1.80, y0 + 0.24, 0.36),
                    vec(-1.45, 0.585, head[2] - 0.02),
                    head + vec(-0.03, 0.0, -0.045),
                ],
                0.10,
            )
            k.add_pipe(
                m,
                f"{name}.inlet_pipe",
                hot,
                0.052,
                "pipe",
                True,
                ((0.45, d.along(hot, 0.45)[0] + vec(0, -0.05, -0.02)),),
                "charge air, hot",
                tape=0.60,
            )
            cold = bent(
                [
                    foot + vec(-0.032, -0.01, 0.030),
                    vec(-1.25, 0.78, 0.085),
                    vec(-1.60, 0.62, 0.10),
                    vec(-1.72, 0.30, 0.30),
                    vec(-1.74, 0.16, 0.52),
                    vec(-1.78, 0.10, 0.615),
                ],
                0.10,
            )
            k.add_pipe(
                m,
                f"{name}.outlet_pipe",
                cold,
                0.050,
                "pipe",
                True,
                ((0.30, d.along(cold, 0.30)[0] * vec(1, 1, 0) + vec(0, 0.045, 0.052)),),
                "charge air, cool",
                tape=0.42,
            )
            if shown:
                k.add_core(m, "oil_cooler", OIL, -1.0)
                _oil_lines(m)
            wl = bent(
                [
                    vec(0.832, 0.352, 0.215),
                    vec(0.70, 0.375, 0.160),
                    vec(0.48, 0.335, 0.110),
                    vec(-0.10, 0.330, 0.095),
                    vec(-0.55, 0.500, 0.085),
                    vec(-1.45, 0.540, 0.085),
                    vec(-1.66, 0.240, 0.180),
                ],
                0.08,
            )
            k.add_pipe(
                m,
                "coolant_pipe",
                wl,
                0.034,
                "pipe",
                True,
                tuple((s, _tub_side(d.along(wl, s)[0])) for s in (0.22, 0.42)),
                "coolant",
                tape=0.38,
            )
    tank = vec(-1.66, -0.02, 0.735)
    union = k.add_header_tank(m, "header_tank", tank, (0.11, 0.20, 0.12))
    with m.side(1):
        bleed = spline(
            [vec(-1.73, 0.18, 0.60), vec(-1.72, 0.20, 0.66), vec(-1.69, 0.16, 0.735), union + vec(0, 0.02, 0)], 12
        )
        m.add("bleed_line", tube(bleed, 0.005, 16), "braided")
        m.pipe("bleed_line", bleed, 0.010, carries="coolant and air")
        m.point("bleed_line.low_end", bleed[0], 0.010, 0.5, twin=False)
    m.other["hidden"] = "wastegate"


def _oil_lines(m: Model) -> None:
    """Two hoses between the oil cooler's inner collector and the engine's flank."""
    inner = {q: m.points[m.named(f"oil_cooler.collector_end.{q}")].xyz for q in ("foot", "head")}
    for what, q, drop, end in (
        ("hot", "head", -0.030, vec(-1.700, 0.152, 0.270)),
        ("cool", "foot", 0.030, vec(-1.760, 0.152, 0.165)),
    ):
        start = np.abs(inner[q]) * vec(-1, 1, 1) + vec(-0.006, -0.012, drop)
        path = bent(
            [
                start,
                start + vec(-0.060, -0.050, 0),
                vec(end[0] + 0.02, 0.34, end[2] + 0.01),
                end + vec(0, 0.05, 0),
                end,
            ],
            0.045,
        )
        k.add_pipe(m, f"oil_line_{what}", path, 0.018, "hose", False, (), f"engine oil, {what}")
        for s in (0.015, 0.985):
            p, e = d.along(path, s)
            fitting = [(-0.012, 0.009), (-0.012, 0.0140), (0.004, 0.0140), (0.008, 0.011), (0.014, 0.0098)]
            m.add(f"oil_line_{what}.union", lathe(fitting, p, e, 6), "anodised")


def _tub_side(p: Array) -> Array:
    """The place on the tub's flank beside a pipe, a little higher than the pipe's middle."""
    z = p[2] + 0.035
    ring = TUB.at(np.full(400, p[0]), np.linspace(-np.pi / 2, np.pi / 2, 400))
    return ring[np.argmin(np.abs(ring[:, 2] - z))]


def _engine(m: Model, shown: bool) -> None:
    x = -WHEELBASE
    m.add("engine.block", box(vec(-1.83, 0, 0.285), (0.46, 0.30, 0.36), 0.014), "cast")
    for i in range(6):
        m.add("engine.block.rib", box(vec(-1.64 - 0.075 * i, 0.152, 0.26), (0.010, 0.012, 0.26), 0.003), "cast")
        m.add("engine.block.rib", box(vec(-1.64 - 0.075 * i, -0.152, 0.26), (0.010, 0.012, 0.26), 0.003), "cast")
    m.add("engine.head", box(vec(-1.83, 0.0, 0.515), (0.46, 0.25, 0.11), 0.012), "cast")
    m.add(
        "engine.cover",
        box(vec(-1.83, 0.0, 0.595), (0.455, 0.22, 0.06), 0.022, k=5),
        "paint_ochre" if shown else "black",
    )
    for sgn in (1, -1):
        with m.side(sgn):
            for i in range(5):
                xx = -1.63 - 0.10 * i
                m.add("engine.cover.bolt", d.bolt(vec(xx, 0.092, 0.622), vec(0, 0, 1), 0.006), "steel")
                if i in (0, 2, 4):
                    m.point(f"engine.cover.bolt_{i + 1}", vec(xx, 0.092, 0.627), 0.008, 0.95)
    m.add("engine.plenum", rod(vec(-1.64, 0.17, 0.60), vec(-2.02, 0.17, 0.60), 0.047, 44, 0.02), "aluminium")
    for i in range(4):
        xx = -1.68 - 0.10 * i
        m.add(
            "engine.runner",
            tube(spline([vec(xx, 0.17, 0.575), vec(xx, 0.165, 0.53), vec(xx, 0.12, 0.515)], 8), 0.021, 24),
            "cast",
        )
        p = spline(
            [
                vec(xx, -0.118, 0.500),
                vec(xx, -0.185, 0.495),
                vec((xx - 1.98) / 2, -0.235, 0.42),
                vec(-1.98, -0.245, 0.365 + 0.004 * i),
            ],
            14,
        )
        m.add("exhaust.primary", tube(p, 0.0195, 26), "exhaust")
        m.add("exhaust.primary.flange", box(vec(xx, -0.128, 0.500), (0.062, 0.010, 0.052), 0.004), "steel_dark")
        m.add("exhaust.primary.weld", d.weld(d.ring_path(p[6], p[7] - p[5], 0.0199), 0.0019), "weld")
    c = vec(-2.045, -0.255, 0.355)
    volute = []
    for w0 in np.linspace(0, 2 * np.pi * 0.96, 60):
        r = 0.018 + 0.016 * w0 / (2 * np.pi)
        volute.append((c + vec((0.058 + r * 0.4) * np.cos(w0), 0, (0.058 + r * 0.4) * np.sin(w0)), r))
    m.add("turbo.turbine", tube(np.array([v[0] for v in volute]), [v[1] for v in volute], 28), "turbo")
    m.add(
        "turbo.compressor",
        tube(np.array([v[0] + vec(0, 0.16, 0.0) for v in volute]), [v[1] * 1.05 for v in volute], 28),
        "aluminium",
    )
    m.add(
        "turbo.centre",
        lathe(
            [
                (-0.02, 0),
                (-0.02, 0.058),
                (0.0, 0.062),
                (0.02, 0.05),
                (0.05, 0.038),
                (0.11, 0.040),
                (0.135, 0.062),
                (0.17, 0.060),
                (0.18, 0.04),
                (0.215, 0.043),
                (0.215, 0.036),
            ],
            c,
            vec(0, 1, 0),
            52,
        ),
        "turbo",
    )
    m.point("turbo.centre", c + vec(0, 0.20, 0), 0.04, 0.3, twin=False)
    m.add(
        "turbo.band",
        lathe([(0.118, 0.062), (0.118, 0.068), (0.128, 0.068), (0.128, 0.062)], c, vec(0, 1, 0), 50),
        "steel",
    )
    down = bent(
        [
            c + vec(0, -0.02, 0),
            c + vec(-0.01, -0.10, 0.0),
            vec(-2.40, -0.37, 0.44) if shown else vec(-2.40, -0.34, 0.30),
            vec(-2.75, -0.22, 0.46) if shown else vec(-2.75, -0.28, 0.26),
            vec(-3.02, -0.22, 0.47) if shown else vec(-3.02, -0.28, 0.25),
        ],
        0.09,
    )
    m.add("exhaust.pipe", tube(down, 0.036, 40, caps=False), "exhaust")
    m.add("exhaust.pipe.dark", tube(down[-3:-1], 0.033, 30), "void")
    m.pipes["exhaust.pipe"] = {
        "diameter_m": 0.072,
        "length_m": float(np.linalg.norm(np.diff(down, axis=0), axis=1).sum()),
        "centre_line_m": np.round(down, 6).tolist(),
        "carries": "exhaust",
    }
    m.point("exhaust.tip", down[-1], 0.034, 0.5, twin=False)
    gate = vec(-2.10, -0.20, 0.255)
    m.add(
        "wastegate",
        merge(
            [
                lathe(
                    [(0, 0), (0, 0.030), (0.02, 0.036), (0.05, 0.036), (0.055, 0.02), (0.055, 0)],
                    gate,
                    vec(0, 0, -1),
                    40,
                ),
                sphere(gate, 0.026, 24),
            ]
        ),
        "anodised",
    )
    case = Loft(
        x=[-2.06, -2.20, x, x - 0.12, x - 0.36],
        w=[0.200, 0.215, 0.215, 0.200, 0.120],
        z0=[0.10, 0.105, 0.11, 0.11, 0.15],
        z1=[0.46, 0.45, 0.44, 0.42, 0.36],
        n_up=[4] * 5,
        n_low=[4] * 5,
    )
    m.add("gearbox.case", case.whole(-2.06, x - 0.36, 70, 120), "cast")
    for xx in (-2.10, -2.18, -2.26, -2.34, -2.54, -2.64, -2.72):
        m.add("gearbox.rib", tube(case.at(np.full(97, xx), np.linspace(0, 2 * np.pi, 97)), 0.006, 10, flat=1.2), "cast")
    for sgn in (1, -1):
        with m.side(sgn):
            m.add(
                "gearbox.flange",
                lathe(
                    [(0.0, 0.0), (0.0, 0.070), (0.016, 0.068), (0.018, 0.05), (0.018, 0)],
                    vec(x - 0.035, 0.160, 0.300),
                    vec(0, 1, 0),
                    56,
                ),
                "machined",
            )
            m.add(
                "gearbox.spring_bracket",
                box(SPRING_REAR + vec(0.010, -0.035, -0.030), (0.050, 0.095, 0.080), 0.008),
                "machined",
            )
            for i, (xx, zz) in enumerate(((-2.075, 0.420), (-2.075, 0.140))):
                m.add("gearbox.bolt", d.bolt(vec(xx, 0.205, zz), vec(0, 1, 0), 0.009), "steel")
                m.point(f"gearbox.bolt_{i + 1}", vec(xx, 0.212, zz), 0.009, 0.9)
            wire, ties = d.loom(
                spline(
                    [
                        vec(-1.62, 0.13, 0.635),
                        vec(-1.80, 0.125, 0.640),
                        vec(-2.02, 0.12, 0.60),
                        vec(-2.14, 0.15, 0.475),
                    ],
                    10,
                ),
                0.007,
                4,
            )
            m.add("engine.loom", wire, "sleeve")
            m.add("engine.loom.ties", ties, "black")
    m.add("airbox", box(vec(-2.16, 0.02, 0.565), (0.20, 0.24, 0.13), 0.035, k=6), "carbon_gloss")
    inlet = bent([vec(-2.10, 0.02, 0.53), vec(-2.07, 0.0, 0.44), vec(-2.05, -0.02, 0.365)], 0.05)
    m.add("airbox.duct", tube(inlet, 0.036, 32), "hose")
    m.point("airbox.corner", vec(-2.245, 0.125, 0.615), 0.02, 0.4, twin=False)


def _fender(shown: bool) -> Mesh:
    """A shell round the front wheel, open inboard and below."""
    R0, half = 0.352, 0.155
    w = np.linspace(-0.42, np.pi + 0.10, 70)
    y = np.linspace(-1, 1, 31)
    r = R0 + 0.030 * (1 - np.abs(y) ** 4)
    drop = -0.12 * np.clip((y - 0.82) / 0.18, 0, 1) ** 1.5
    a = w[:, None]
    rr = r[None] + drop[None] * np.clip(np.sin(a) + 0.25, 0.1, 1) * 0.5
    stretch = np.where(np.cos(a) < 0, 1.10, 1.03)
    P = np.stack(
        [
            rr * np.cos(a) * stretch,
            np.broadcast_to(HALF_FRONT + 0.012 + half * y[None], rr.shape),
            LOADED_FRONT + rr * np.sin(a),
        ],
        -1,
    )
    mid = vec(0, 0, LOADED_FRONT)
    out = P - mid * 1.0
    out = out * vec(1, 0, 1)
    out = out / np.linalg.norm(out, axis=-1, keepdims=True)
    tex = np.stack([R0 * np.broadcast_to(a, rr.shape), P[..., 1]], -1) / 0.5
    return shell(P, P - out * 0.004, tex=tex)


def _sill(x: Array) -> Array:
    """Where the nose cover's side ends, as an angle of its section: arched over the upper wishbone's legs."""
    from longlens.demo.solids import ramp

    return ramp(x, [-0.34, -0.30, -0.24, 0.19, 0.25, 1.06], [0.10, 0.10, 0.50, 0.50, 0.10, 0.10])


def _body(m: Model, shown: bool) -> None:
    skin = _skin(shown)
    with m.group("*nose_cover"):
        m.add("nose_cover", NOSE.panel(1.06, -0.33, _sill, lambda x: np.pi - _sill(x), 0.003, 160, 130), skin)
        m.add("nose_cover.chin", NOSE.panel(1.06, 0.42, np.pi + 0.4, 2 * np.pi - 0.4, 0.003, 40, 80), "carbon_gloss")
        if shown:
            band = Loft(**{**NOSE.__dict__, "z1": [v + 0.0007 for v in NOSE.z1]})
            m.add("nose_cover.head", band.panel(1.02, 0.60, 0.55, np.pi - 0.55, 0.0006, 40, 90), "paint_ochre")
        for sgn in (1, -1):
            with m.side(sgn):
                for i, (x, a) in enumerate(((0.80, 0.55), (0.42, 0.50), (0.05, 0.62), (-0.26, 0.60))):
                    p = NOSE.at(x, a)
                    m.add("nose_cover.fastener", d.fastener(p, _normal(NOSE, x, a)), "steel", "*nose_cover")
                    m.point(f"nose_cover.fastener_{i + 1}", p, 0.009, 1.0)
                c = NOSE.at(0.945, 0.62)
                m.add(
                    "lamp.front",
                    box(c + vec(-0.006, 0, 0), (0.05, 0.13, 0.030), 0.012, k=5),
                    "lamp_clear",
                    "*nose_cover",
                )
                m.point("lamp.front.outer_end", c + vec(0.0, 0.065, 0), 0.014, 0.6)
        m.point("nose_cover.tip_upper", NOSE.at(1.058, np.pi / 2), 0.010, 0.6, on="centre_plane")
    m.add(
        "splitter",
        plate(
            np.array(
                [
                    (1.10, 0.34),
                    (1.03, 0.64),
                    (0.72, 0.80),
                    (0.45, 0.80),
                    (0.45, -0.80),
                    (0.72, -0.80),
                    (1.03, -0.64),
                    (1.10, -0.34),
                ]
            ),
            vec(0, 0, 0.072),
            vec(1, 0, 0),
            vec(0, 1, 0),
            0.010,
            0.002,
            0.04,
            uv_scale=0.5,
        ),
        "carbon_weave",
    )
    for sgn in (1, -1):
        with m.side(sgn):
            m.point("splitter.corner", vec(0.725, 0.797, 0.077), 0.012, 0.6)
            with m.group("fender"):
                m.add("fender", _fender(shown), skin)
                m.add(
                    "fender.stay",
                    merge(
                        [
                            rod(vec(xx, 0.66, z), vec(xx * 0.8, 0.30, z - 0.10), 0.011, 18)
                            for xx, z in ((0.28, 0.50), (-0.28, 0.52))
                        ]
                    ),
                    "steel_black",
                )
                if shown:
                    for i in range(5):
                        ww = 0.72 + 0.14 * i
                        o = vec(0.384 * np.cos(ww), HALF_FRONT, LOADED_FRONT + 0.384 * np.sin(ww))
                        m.add(
                            "fender.louvre",
                            box(
                                o,
                                (0.012, 0.17, 0.004),
                                0.0015,
                            ),
                            "void",
                        )
            with m.group("pod_cover"):
                m.add("pod_cover", POD.panel(-0.585, -1.90, -1.25, 2.25, 0.003, 110, 110), skin)
                m.add(
                    "pod_cover.lip",
                    tube(POD.at(np.full(70, -0.585), np.linspace(-1.25, 2.25, 70)), 0.007, 14),
                    "paint_ink" if shown else skin,
                )
                for i, (x, a) in enumerate(
                    ((-0.70, -0.62), (-1.20, -0.62), (-1.70, -0.62), (-0.75, 1.7), (-1.30, 1.7))
                ):
                    p = POD.at(x, a)
                    m.add("pod_cover.fastener", d.fastener(p, _normal(POD, x, a)), "steel")
                    m.point(f"pod_cover.fastener_{i + 1}", p, 0.009, 1.0)
                if shown:
                    tip = Loft(**{**POD.__dict__, "w": [v + 0.0007 for v in POD.w], "z1": [v + 0.0007 for v in POD.z1]})
                    m.add(
                        "pod_cover.flash",
                        tip.panel(
                            -1.28,
                            -1.86,
                            lambda x: -0.30 + 0.5 * (x + 1.9),
                            lambda x: 0.62 + 0.3 * (x + 1.9),
                            0.0006,
                            50,
                            20,
                        ),
                        "paint_ink",
                    )
            m.add("pod_floor_rail", box(vec(-1.25, 0.86, 0.075), (1.20, 0.02, 0.03), 0.006), "carbon_matt")
            m.point("pod_floor_rail.front", vec(-0.65, 0.868, 0.088), 0.012, 0.6)
            m.point("pod_floor_rail.rear", vec(-1.85, 0.868, 0.088), 0.012, 0.6)
    floor = [
        (-0.40, 0.42),
        (-0.62, 0.84),
        (-1.92, 0.88),
        (-2.02, 0.52),
        (-2.30, 0.46),
        (-2.30, -0.46),
        (-2.02, -0.52),
        (-1.92, -0.88),
        (-0.62, -0.84),
        (-0.40, -0.42),
    ]
    m.add(
        "floor",
        plate(np.array(floor), vec(0, 0, 0.058), vec(1, 0, 0), vec(0, 1, 0), 0.010, 0.002, 0.04, uv_scale=0.5),
        "carbon_weave",
    )
    with m.group("*engine_cover"):
        m.add("engine_cover", LID.panel(-1.36, -3.00, 0.06, np.pi - 0.06, 0.004, 140, 140), skin)
        for sgn in (1, -1):
            with m.side(sgn):
                for i, (x, a) in enumerate(((-1.45, 0.35), (-1.95, 0.22), (-2.85, 0.30))):
                    p = LID.at(x, a)
                    m.add("engine_cover.fastener", d.fastener(p, _normal(LID, x, a)), "steel", "*engine_cover")
                    m.point(f"engine_cover.fastener_{i + 1}", p, 0.009, 1.0)
        if shown:
            tip = Loft(**{**LID.__dict__, "z1": [v + 0.0008 for v in LID.z1], "w": [v + 0.0008 for v in LID.w]})
            m.add(
                "engine_cover.tips",
                merge(
                    [
                        tip.panel(-2.45, -2.98, 0.10, 0.62, 0.0006, 40, 40),
                        tip.panel(-2.45, -2.98, np.pi - 0.62, np.pi - 0.10, 0.0006, 40, 40),
                    ]
                ),
                "paint_ink",
            )
            for i in range(7):
                xx = -1.75 - 0.075 * i
                b = np.linspace(1.22, np.pi - 1.22, 24)
                q = LID.at(np.full(24, xx), b)
                S = np.stack([q + vec(0, 0, 0.002), q + vec(-0.045, 0, 0.016)])
                m.add("engine_cover.louvre", shell(S + vec(0, 0, 0.002), S), skin)
                m.add(
                    "engine_cover.louvre.dark",
                    shell(
                        np.stack([q + vec(-0.036, 0, 0.0018), q + vec(-0.064, 0, 0.0012)]),
                        np.stack([q + vec(-0.036, 0, 0), q + vec(-0.064, 0, -0.001)]),
                    ),
                    "void",
                )


def _normal(loft: Loft, x: float, a: float) -> Array:
    p = loft.at(x, a)
    n = unit(np.cross(loft.at(x + 1e-3, a) - p, loft.at(x, a + 1e-3) - p))
    mid = loft.at(np.full(8, x), np.linspace(0, 2 * np.pi, 8, endpoint=False)).mean(0)
    return n if n @ (p - mid) > 0 else -n


def _tail(m: Model, shown: bool) -> None:
    x = -WHEELBASE
    t = np.linspace(0, 1, 24)
    for sgn in (1, -1):
        with m.side(sgn):
            yy = np.linspace(0.0, 0.50, 12)
            P = np.stack(
                [
                    np.broadcast_to((-2.28 - 0.74 * t)[:, None], (24, 12)),
                    np.broadcast_to(yy, (24, 12)),
                    np.broadcast_to((0.062 + 0.165 * t**1.6)[:, None], (24, 12)),
                ],
                -1,
            )
            m.add("diffuser", shell(P + vec(0, 0, 0.006), P), "carbon_gloss")
            for ys in (0.14, 0.32, 0.497):
                m.add(
                    "diffuser.strake",
                    plate(
                        np.array([(-2.36, 0.075), (-3.02, 0.226), (-3.02, 0.085), (-2.50, 0.060)]),
                        vec(0, ys, 0),
                        vec(1, 0, 0),
                        vec(0, 0, 1),
                        0.005,
                        0.001,
                    ),
                    "carbon_gloss",
                )
            m.point("diffuser.rear_corner", vec(-3.018, 0.497, 0.223), 0.010, 0.6)
            m.add(
                "lamp.rear",
                merge([box(vec(-3.0, 0.66 - 0.07 * i, 0.685), (0.03, 0.055, 0.022), 0.008, k=4) for i in range(3)]),
                "lamp_red",
            )
            m.add("lamp.rear.panel", box(vec(-2.985, 0.59, 0.685), (0.02, 0.26, 0.05), 0.01), "black")
            m.point("lamp.rear.outer_end", vec(-3.012, 0.6875, 0.685), 0.012, 0.6)
            m.add(
                "tail.frame",
                merge(
                    [
                        rod(vec(x - 0.30, 0.10, 0.34), vec(-2.97, 0.34, 0.66), 0.014, 20),
                        rod(vec(-2.97, 0.34, 0.66), vec(-2.97, 0.70, 0.68), 0.012, 20),
                        rod(vec(-2.02, 0.34, 0.46), vec(-2.97, 0.34, 0.66), 0.014, 20),
                    ]
                ),
                "steel_black",
            )
            m.point("tail.frame.corner", vec(-2.97, 0.34, 0.66), 0.015, 0.5)
            if shown:
                o = [(-2.70, 0.93), (-2.72, 1.075), (-3.06, 1.095), (-3.10, 0.95), (-3.02, 0.88), (-2.80, 0.88)]
                m.add(
                    "rear_wing.end_plate",
                    plate(np.array(o), vec(0, 0.775, 0), vec(1, 0, 0), vec(0, 0, 1), 0.009, 0.002, 0.03),
                    "paint_ink",
                )
                m.point("rear_wing.end_plate.rear_upper", vec(-3.055, 0.7795, 1.089), 0.012, 0.6)
                m.point("rear_wing.end_plate.front_upper", vec(-2.726, 0.7795, 1.069), 0.012, 0.6)
                m.add(
                    "rear_wing.pylon",
                    plate(
                        np.array([(-2.60, 0.70), (-2.74, 0.975), (-2.92, 0.99), (-2.86, 0.70)]),
                        vec(0, 0.30, 0),
                        vec(1, 0, 0),
                        vec(0, 0, 1),
                        0.012,
                        0.004,
                        0.02,
                    ),
                    "carbon_gloss",
                )
    if shown:
        y = np.linspace(-0.77, 0.77, 45)
        m.add(
            "rear_wing.main",
            wing(
                y,
                np.stack([np.full_like(y, -2.755), y, 0.995 + 0.02 * (y / 0.77) ** 2], -1),
                np.full_like(y, 0.285),
                7.0,
                aerofoil(44, 0.09, 0.12),
            ),
            "carbon_gloss",
        )
    else:
        S = np.stack(
            [
                LID.at(np.full(60, xx), np.linspace(0.35, np.pi - 0.35, 60)) + vec(-up * 0.6, 0, up)
                for xx, up in ((-2.95, 0.0), (-2.98, 0.05), (-2.99, 0.115))
            ]
        )
        m.add("tail_spoiler", shell(S + vec(0.004, 0, 0.002), S), "caliper", "*engine_cover")
        for sgn in (1, -1):
            with m.side(sgn):
                m.point("tail_spoiler.end", S[-1, 0] * vec(1, 1, 1), 0.014, 0.6)


def sheet(stage: str) -> dict[str, Any]:
    """The maker's published figures of a stage, rounded as makers round."""
    figures: dict[str, Any] = {
        "maker": "Skerry (invented)",
        "car": "Gannet",
        "stage": stage,
        "wheelbase_mm": 2445,
        "track_front_mm": 1565,
        "track_rear_mm": 1550,
        "tyre_front": FRONT_TYRE.designation,
        "tyre_rear": REAR_TYRE.designation,
        "rim_front": "8.5 J x 18",
        "rim_rear": "11 J x 19",
        "source": "Skerry press sheet (invented)",
    }
    if stage == "shown":
        figures |= {
            "length_mm": 4195,
            "width_mm": 1895,
            "height_mm": 1095,
            "mass_kg": 860,
            "power_kW": 305,
            "engine": "four cylinders, 2.0 l, turbocharged",
            "mass_front_percent": 41,
            "top_speed_km_h": 265,
            "zero_to_100_s": 3.2,
        }
    return figures


def facts(circles: list[str]) -> list[dict[str, Any]]:
    """Published lengths as facts of the exchange form; ``circles`` are the ids of rims and tyres that are marked."""
    from longlens.demo.asked import layout_facts, wheel_facts

    return [
        *layout_facts(FRONT_TYRE, REAR_TYRE, 2.445, 1.565, 1.550, 0.005),
        *wheel_facts(FRONT_TYRE, REAR_TYRE, circles),
    ]


def measures(stage: str, model: Model) -> list[dict[str, Any]]:
    """All that may be asked of this stage."""
    from longlens.demo.asked import length, suspension

    out: list[dict[str, Any]] = []
    for side in ("left", "right"):
        out += suspension(side, "pullrod", "toe_link", ("bar", "spring"), ("spring",))
        out.append(length(f"{side}.wheelbase", f"{side}.front.rim_centre", f"{side}.rear.rim_centre", along="x"))
        out.append(length(f"{side}.front.bar_link", f"{side}.front.rocker.bar", f"{side}.front.bar_link.upper"))
        for end in ("front", "rear"):
            out.append(length(f"{side}.{end}.spring", f"{side}.{end}.spring.chassis", f"{side}.{end}.rocker.spring"))
            out += [
                {"id": f"{side}.{end}.{what}.diameter", "diameter": f"{side}.{end}.{what}"}
                for what in ("rim", "tyre", "disc")
            ]
        for core in (f"{side}.charge_cooler", f"{side}.oil_cooler"):
            c = [f"{core}.corner.{q}" for q in ("start_lower", "end_lower", "end_upper", "start_upper")]
            out.append({"id": f"{core}.face", "area": c})
            out.append(length(f"{core}.height", c[0], c[3]))
        out.append({"id": f"{side}.splitter.height", "height": f"{side}.splitter.corner"})
        out.append({"id": f"{side}.floor_rail.height", "height": f"{side}.pod_floor_rail.front"})
        out.append({"id": f"{side}.floor_rail_rear.height", "height": f"{side}.pod_floor_rail.rear"})
        out.append({"id": f"{side}.diffuser.height", "height": f"{side}.diffuser.rear_corner"})
        out.append({"id": f"{side}.roll_hoop.height", "height": f"{side}.roll_hoop.top"})
        out.append(
            length(
                f"{side}.rear_wing.plate_length",
                f"{side}.rear_wing.end_plate.front_upper",
                f"{side}.rear_wing.end_plate.rear_upper",
            )
        )
    c = [f"radiator.corner.{q}" for q in ("start_lower", "end_lower", "end_upper", "start_upper")]
    out.append({"id": "radiator.face", "area": c})
    out.append(length("radiator.width", c[3], c[2]))
    for end in ("front", "rear"):
        out.append(length(f"{end}.rim_faces", f"left.{end}.rim_centre", f"right.{end}.rim_centre", along="y"))
    out.append(length("rear_wing.span", "left.rear_wing.end_plate.rear_upper", "right.rear_wing.end_plate.rear_upper"))
    out.append(length("diffuser.width", "left.diffuser.rear_corner", "right.diffuser.rear_corner"))
    out.append(length("crash_beam.width", "left.crash_structure.beam_end", "right.crash_structure.beam_end"))
    out.append(length("splitter.width", "left.splitter.corner", "right.splitter.corner"))
    return out


def stanced_measures(points: set[str]) -> list[dict[str, Any]]:
    """Rods seen again in another stance: their lengths must come out the same."""
    from longlens.demo.asked import length

    out = []
    for stance in ("steered", "braking"):
        for side in ("left", "right"):
            for name in ("track_rod", "pullrod"):
                a = f"{side}.front.{name}.inner@{stance}"
                out.append(
                    length(
                        f"{side}.front.{name}@{stance}",
                        a if a in points else f"{side}.front.{name}.inner",
                        f"{side}.front.{name}.outer@{stance}",
                    )
                )
    return out


def rods_to_measure() -> list[tuple[str, str, str, str]]:
    """Rods whose diameters are worth asking: measure, part, the point where edges are marked, a second point."""
    out = []
    for side in ("left", "right"):
        for end, name in (("front", "pullrod"), ("front", "track_rod"), ("rear", "pullrod")):
            p = f"{side}.{end}.{name}"
            out.append((f"{p}.diameter", p, f"{p}.band_outer", f"{p}.band_inner"))
    for q in ("left.charge_cooler.collector_start", "radiator.collector_start"):
        out.append((f"{q}.foot_diameter", f"{q}#0", f"{q}.foot", f"{q}.head"))
        out.append((f"{q}.head_diameter", f"{q}#1", f"{q}.head", f"{q}.foot"))
    for pipe in ("coolant_pipe", "charge_cooler.inlet_pipe", "charge_cooler.outlet_pipe"):
        p = f"left.{pipe}"
        out.append((f"{p}.diameter", p, f"{p}.tape_1", f"{p}.tape_2"))
    return out
