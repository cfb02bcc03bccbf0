"""The Skerry Fulmar E4, an invented battery-electric hill-climb single-seater: its joints, its bodies, two stages.

``test``: the camouflaged test car. ``shown``: the car as presented. What differs between them is what an engineer would
look for: front wing, pushrod foot, heave element, anti-roll bar, second coolers with fans, the coolers' plumbing, end
plates, instrumentation. Nothing here is a real car.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from longlens.demo import coolers as k
from longlens.demo import details as d
from longlens.demo import linkage as li
from longlens.demo import trim
from longlens.demo import wheels as wh
from longlens.demo.ground import add_ground_points
from longlens.demo.mechanics import Corner, CornerState, rocker_for, solve, unit, vec
from longlens.demo.model import Model
from longlens.demo.panels import Loft, aerofoil, wing
from longlens.demo.solids import Array, Mesh, bent, box, frame, lathe, merge, plate, rod, spline, tube

WHEELBASE = 2.6236
HALF_FRONT, HALF_REAR = 0.7592, 0.7381
LOADED_FRONT, LOADED_REAR = 0.2845, 0.2972
CAMBER_FRONT, CAMBER_REAR = np.radians(1.6), np.radians(1.1)

FRONT_TYRE = wh.Tyre(0.225, 45, 15, 8.0, grown=-0.0021)
REAR_TYRE = wh.Tyre(0.285, 40, 15, 10.0, grown=0.0017)


@dataclass(frozen=True)
class Stance:
    """Ride height and steer: bumps of front and rear wheels (m, body axes), rack travel (m, to the left), the ground
    if not under the tyres, and whether the car stands on trestles."""

    front: float = 0.0
    rear: float = 0.0
    rack: float = 0.0
    roll: float = 0.0
    ground: tuple[float, float] | None = None
    trestles: bool = False

    def ground_plane(self) -> tuple[float, float]:
        """Height at x = 0 and slope dz/dx of the ground in body axes."""
        if self.ground is not None:
            return self.ground
        return self.front, (self.front - self.rear) / WHEELBASE


STANCES = {
    "static": Stance(),
    "hanging": Stance(front=-0.048, rear=-0.040, rack=0.024, ground=(-0.185, 0.0), trestles=True),
    "turning": Stance(front=0.011, rack=-0.027),
}


def corners(stage: str) -> tuple[Corner, Corner]:
    """Front and rear left corners as designed."""
    shown = stage == "shown"
    push = vec(-0.004, 0.622, 0.183) if shown else vec(-0.004, 0.588, 0.181)
    pivot = vec(-0.020, 0.135, 0.415)
    reach = push - pivot
    q = vec(0, reach[1], reach[2])
    lever, length = 0.066, float(np.linalg.norm(q))
    e = q / length
    up = np.cross(vec(1, 0, 0), e)
    inner = pivot + lever * (lever / length * e + np.sqrt(1 - (lever / length) ** 2) * up)
    if inner[2] < pivot[2]:
        inner = pivot + lever * (lever / length * e - np.sqrt(1 - (lever / length) ** 2) * up)
    bar_rocker = pivot + vec(0.052, -0.046, 0.004)
    front = Corner(
        upper_front=vec(0.168, 0.240, 0.352),
        upper_rear=vec(-0.204, 0.246, 0.342),
        upper_outer=vec(-0.0138, 0.6482, 0.3962),
        lower_front=vec(0.206, 0.218, 0.150),
        lower_rear=vec(-0.266, 0.226, 0.146),
        lower_outer=vec(0.0061, 0.6724, 0.1583),
        tie_inner=vec(0.1284, 0.2315, 0.2342),
        tie_outer=vec(0.1221, 0.6554, 0.2618),
        wheel_centre=vec(0.0, HALF_FRONT, LOADED_FRONT),
        wheel_axis=vec(0, np.cos(CAMBER_FRONT), np.sin(CAMBER_FRONT)),
        rod_outer=push,
        rod_inner=inner,
        rocker_pivot=pivot,
        rocker_axis=vec(1, 0, 0),
        lever={"bar": bar_rocker, "heave": pivot + vec(-0.048, -0.012, 0.074)},
        bar_pivot=vec(0.205, 0.115, 0.424),
        bar_axis=vec(0, 1, 0),
        bar_arm=bar_rocker + vec(0.002, 0.004, 0.062),
    )
    x = -WHEELBASE
    rear_push = vec(x + 0.040, 0.600, 0.186)
    rear_pivot = vec(x + 0.130, 0.152, 0.470)
    spring = vec(x + 0.43, 0.140, 0.520)
    axis, rod_joint, spring_joint = rocker_for(rear_pivot, rear_push, spring, 0.062, 0.080)
    rear = Corner(
        upper_front=vec(x + 0.262, 0.212, 0.346),
        upper_rear=vec(x - 0.118, 0.206, 0.339),
        upper_outer=vec(x - 0.0162, 0.6318, 0.4236),
        lower_front=vec(x + 0.338, 0.201, 0.152),
        lower_rear=vec(x - 0.104, 0.188, 0.147),
        lower_outer=vec(x + 0.0087, 0.6563, 0.1561),
        tie_inner=vec(x - 0.184, 0.196, 0.1950),
        tie_outer=vec(x - 0.1532, 0.6401, 0.2214),
        wheel_centre=vec(x, HALF_REAR, LOADED_REAR),
        wheel_axis=vec(0, np.cos(CAMBER_REAR), np.sin(CAMBER_REAR)),
        rod_outer=rear_push,
        rod_inner=rod_joint,
        rocker_pivot=rear_pivot,
        rocker_axis=axis,
        lever={"spring": spring_joint},
    )
    return front, rear


SPRING_CHASSIS = vec(-WHEELBASE + 0.43, 0.140, 0.520)

TUB = Loft(
    x=[1.06, 0.98, 0.80, 0.48, 0.15, -0.30, -0.65, -1.10, -1.50, -1.80],
    w=[0.030, 0.075, 0.122, 0.176, 0.206, 0.232, 0.268, 0.298, 0.300, 0.290],
    z0=[0.235, 0.200, 0.176, 0.140, 0.104, 0.070, 0.046, 0.036, 0.036, 0.040],
    z1=[0.262, 0.292, 0.350, 0.455, 0.520, 0.572, 0.632, 0.640, 0.560, 0.480],
    n_up=[2.0, 2.2, 2.5, 2.8, 2.6, 2.5, 2.7, 3.2, 3.4, 4],
    n_low=[2.0, 2.2, 2.6, 3.2, 3.4, 3.8, 5, 6, 6, 6],
)
COVER = Loft(
    x=[-1.36, -1.50, -1.70, -2.05, -2.45, -2.80, -2.98],
    w=[0.165, 0.205, 0.240, 0.225, 0.180, 0.125, 0.085],
    z0=[0.40, 0.38, 0.36, 0.36, 0.38, 0.40, 0.42],
    z1=[0.905, 0.920, 0.890, 0.760, 0.640, 0.560, 0.525],
    n_up=[2.0, 1.9, 1.85, 1.9, 2.1, 2.4, 2.6],
    n_low=[5, 5, 5, 5, 5, 5, 5],
)
POD = Loft(
    x=[-0.72, -0.95, -1.25, -1.60, -1.95, -2.22],
    w=[0.196, 0.212, 0.214, 0.190, 0.120, 0.055],
    z0=[0.105, 0.056, 0.048, 0.048, 0.056, 0.070],
    z1=[0.455, 0.492, 0.492, 0.460, 0.372, 0.290],
    n_up=[4.2, 3.4, 3.0, 2.8, 2.5, 2.3],
    n_low=[4.5, 5, 5.5, 5, 4, 3],
    y=[0.508, 0.505, 0.492, 0.452, 0.372, 0.312],
)
HATCH = 0.86


def build(stage: str = "shown", stance: str = "static") -> Model:
    """The whole car of a stage in a stance.

    Parameters
    ----------
    stage : ``"test"`` or ``"shown"``.
    stance : a key of :data:`STANCES`.
    """
    m = Model()
    st = STANCES[stance]
    m.ground = st.ground_plane()
    front, rear = corners(stage)
    shown = stage == "shown"
    fl, fr = solve(front, st.front, st.rack), solve(front, st.front, -st.rack)
    rl = solve(rear, st.rear)
    _wheels(m, (fl, fr), rl, shown)
    _front_links(m, front, fl, fr, shown)
    _rear_links(m, rear, rl)
    _tub(m, shown)
    _cockpit(m)
    _front_wing(m, shown)
    _pods(m, shown)
    _cooling(m, shown)
    _drive(m, shown)
    _rear_wing(m, shown)
    _floor(m, shown)
    if not shown:
        _instruments(m)
    trim.fulmar(m, TUB, shown)
    if st.trestles:
        _trestles(m, st)
    add_ground_points(m)
    return m


def _wheels(m: Model, fronts: tuple[CornerState, CornerState], rear: CornerState, shown: bool) -> None:
    f = wh.WheelSpec(
        FRONT_TYRE,
        0.149,
        0.026,
        np.pi * 0.97,
        spokes=9,
        twin=shown,
        dish=0.062,
        blocks=64,
        rim="rim_graphite" if shown else "rim_silver",
        caliper="caliper",
    )
    r = wh.WheelSpec(
        REAR_TYRE,
        0.142,
        0.024,
        np.pi * 0.03,
        spokes=9,
        twin=shown,
        dish=0.082,
        blocks=62,
        grooves=4,
        rim="rim_graphite" if shown else "rim_silver",
        caliper="caliper",
        lettering="sidewall_rear",
    )
    for sgn, s in ((1, fronts[0]), (-1, fronts[1])):
        with m.side(sgn):
            wh.add_wheel(m, "front", f, s, 0.4 + 0.5 * sgn, m.ground)
            wh.add_upright(m, "front", s, f)
            axis = s.wheel_axis
            c = s.joints["wheel_centre"] - axis * 0.02
            li.brake_hose(m, "front", vec(-0.10, 0.225, 0.395), c + s.R @ vec(-0.115, -0.045, 0.02))
            # brake duct: a scoop inboard of the upright
            if not shown:
                _duct(m, s.joints["wheel_centre"], axis, s)
            with_ground = s.joints["wheel_centre"]
            _contact(m, "front", with_ground, FRONT_TYRE, m.ground)
    for sgn in (1, -1):
        with m.side(sgn):
            wh.add_wheel(m, "rear", r, rear, 0.9 + 0.3 * sgn, m.ground)
            wh.add_upright(m, "rear", rear, r)
            _contact(m, "rear", rear.joints["wheel_centre"], REAR_TYRE, m.ground)


def _contact(m: Model, where: str, c: Array, t: wh.Tyre, ground: tuple[float, float]) -> None:
    """The outer edge of the contact patch, under the wheel centre: only where the ground is the frame's own."""
    if ground == (0.0, 0.0):
        m.point(f"{where}.contact_outer", vec(c[0], c[1] + t.width * 0.455, 0.0), 0.012, 0.25, on="ground")


def _duct(m: Model, c: Array, axis: Array, s: CornerState) -> None:
    ahead = s.R @ vec(1, 0, 0)
    up = s.R @ vec(0, 0, 1)
    o = c - axis * 0.085 + up * 0.062
    path = spline(
        [
            o + ahead * 0.175 - axis * 0.045 - up * 0.005,
            o + ahead * 0.12 - axis * 0.03,
            o + ahead * 0.055 - axis * 0.004,
        ],
        12,
    )
    m.add("front.brake_duct", tube(path, np.linspace(0.040, 0.030, len(path)), 32, caps=False, flat=1.3), "carbon_matt")
    m.add(
        "front.brake_duct.lip",
        tube(
            path[0]
            + 0.040 * np.array([np.cos(w) * axis + 1.3 * np.sin(w) * up for w in np.linspace(0, 2 * np.pi, 40)]),
            0.003,
            10,
        ),
        "carbon_gloss",
    )
    m.add("front.brake_duct.dark", tube(path[3:5], 0.036, 30, flat=1.3), "void")


def _front_links(m: Model, c: Corner, fl: CornerState, fr: CornerState, shown: bool) -> None:
    look = li.Look(chassis_y=0.196, rod_diameter=0.020 if shown else 0.018)
    for sgn, s in ((1, fl), (-1, fr)):
        with m.side(sgn):
            li.add_linkage(m, "front", c, s, look)
            li.add_bar_link(m, "front", s, 0.009)
            li.add_torsion_bar(m, "front", c, 0.325, 0.0130)
            li.add_rocker_mount(m, "front", c, c.rocker_pivot + vec(0, 0, -0.028))
    li.add_bar(m, "front", fl, fr, 0.0165 if shown else 0.0140, 0.008)
    flip = vec(1, -1, 1)
    li.add_heave(m, "front", fl.joints["lever_heave"], fr.joints["lever_heave"] * flip, "discs" if shown else "coil")
    li.add_rack(m, "front", fl.joints["tie_inner"], fr.joints["tie_inner"] * flip, 0.168)


def _rear_links(m: Model, c: Corner, s: CornerState) -> None:
    look = li.Look(
        arm="steel_black",
        rod="steel_black",
        tie="steel_black",
        tie_name="toe_link",
        chassis_y=0.172,
        faired=False,
        arm_thick=0.022,
        rod_diameter=0.021,
        tie_diameter=0.018,
    )
    for sgn in (1, -1):
        with m.side(sgn):
            li.add_linkage(m, "rear", c, s, look)
            li.add_spring(m, "rear", s, SPRING_CHASSIS)
            li.add_rocker_mount(m, "rear", c, c.rocker_pivot + vec(0, -0.02, -0.055))
            li.add_drive_shaft(m, "rear", s, vec(-WHEELBASE - 0.012, 0.168, 0.262), 0.115)


def _tub(m: Model, shown: bool) -> None:
    paint = "paint_white" if shown else "camouflage"
    lower = "paint_slate" if shown else "camouflage"
    gap = 0.004
    with m.group("*nose_cover"):
        m.add("nose_cover", TUB.panel(1.055, 0.478, -np.pi / 2, 1.5 * np.pi, 0.003, 90, 120), paint)
        tip = TUB.at(np.full(60, 1.055), np.linspace(0, 2 * np.pi, 60, endpoint=False))
        m.add("nose_cover.tip", _fan(tip, vec(1.064, 0, 0.2485)), paint)
        for sgn in (1, -1):
            with m.side(sgn):
                for i, (x, a) in enumerate(((0.50, 0.25), (0.50, 0.95), (0.50, -0.35), (0.62, -0.35))):
                    p = TUB.at(x, a)
                    m.add(f"nose_cover.fastener_{i + 1}", d.fastener(p, _out(TUB, x, a)), "steel", "*nose_cover")
                    m.point(f"nose_cover.fastener_{i + 1}", p, 0.008, 1.0)
        m.add(
            "nose_cover.badge",
            _badge(vec(0.90, 0, float(TUB.at(0.90, np.pi / 2)[2]) + 0.0005), _out(TUB, 0.90, np.pi / 2)),
            "anodised",
        )
        m.point(
            "nose_cover.badge", vec(0.90, 0, float(TUB.at(0.90, np.pi / 2)[2]) + 0.002), 0.012, 0.8, on="centre_plane"
        )
        if shown:
            band = Loft(
                **{
                    **TUB.__dict__,
                    "w": [v + 0.0006 for v in TUB.w],
                    "z1": [v + 0.0006 for v in TUB.z1],
                    "z0": [v - 0.0006 for v in TUB.z0],
                }
            )
            m.add("nose_cover.band", band.panel(0.760, 0.715, -0.2, np.pi + 0.2, 0.0005, 8, 90), "mustard")
    # under the cover: crash structure, bulkhead with its cylinders and reservoirs
    crash = Loft(
        x=[0.955, 0.80, 0.478],
        w=[0.050, 0.088, 0.138],
        z0=[0.205, 0.192, 0.165],
        z1=[0.268, 0.318, 0.405],
        n_up=[5, 6, 6],
        n_low=[5, 6, 6],
    )
    m.add("crash_structure", crash.whole(0.955, 0.478, 60, 120), "carbon_weave")
    for x in (0.62, 0.74, 0.86):
        m.add("crash_structure.joint", crash_ring(crash, x), "carbon_matt")
    m.add("crash_structure.cap", crash.whole(0.962, 0.950, 4, 80), "anodised")
    for sgn in (1, -1):
        with m.side(sgn):
            m.point("crash_structure.front_upper", crash.at(0.955, 0.72), 0.010, 0.7)
            m.point("crash_structure.front_lower", crash.at(0.955, -0.72), 0.010, 0.7)
            m.point("crash_structure.rear_upper", crash.at(0.49, 0.76), 0.012, 0.6)
            for i, zz in enumerate((0.190, 0.380)):
                m.add("crash_structure.bolt", d.bolt(vec(0.4795, 0.150, zz), vec(1, 0, 0), 0.008), "steel")
                m.point(f"crash_structure.bolt_{i + 1}", vec(0.484, 0.150, zz), 0.008, 0.95)
            m.add("crash_structure.flange", box(vec(0.480, 0.146, 0.285), (0.006, 0.030, 0.235), 0.002), "carbon_matt")
    bulk = TUB.at(np.full(96, 0.474), np.linspace(0, 2 * np.pi, 96, endpoint=False))
    inset = bulk * 0.97 + bulk.mean(0) * 0.03
    m.add("bulkhead", plate(inset[:, 1:], vec(0.470, 0, 0), vec(0, 1, 0), vec(0, 0, 1), 0.008, 0.001), "carbon_weave")
    for y in (-0.052, 0.0, 0.052):
        m.add(
            "master_cylinder",
            merge(
                [
                    rod(vec(0.474, y, 0.425), vec(0.520, y, 0.425), 0.012, 28, 0.002),
                    rod(vec(0.52, y, 0.425), vec(0.545, y, 0.425), 0.008, 20),
                    d.bolt(vec(0.545, y, 0.425), vec(1, 0, 0), 0.008),
                ]
            ),
            "cast",
        )
        m.add(
            "reservoir",
            lathe(
                [(0, 0), (0, 0.015), (0.034, 0.015), (0.036, 0.013), (0.036, 0)], vec(0.512, y, 0.437), vec(0, 0, 1), 30
            ),
            "tank",
        )
        m.add(
            "reservoir.cap",
            lathe([(0, 0), (0, 0.017), (0.009, 0.017), (0.009, 0)], vec(0.512, y, 0.470), vec(0, 0, 1), 10),
            "black",
        )
    # tub in three lengths: bulkhead ring, the part under the hatch, the cockpit
    m.add("tub.front", TUB.panel(0.474, 0.400, -np.pi / 2, 1.5 * np.pi, 0.006, 12, 140), lower)
    slot = _bump(-0.012, 0.050)

    def open_l(x: Array) -> Array:
        return np.pi / 2 + HATCH + 0.30 * slot(x)

    def open_r(x: Array) -> Array:
        return 2.5 * np.pi - HATCH - 0.30 * slot(x)

    m.add("tub.middle", TUB.panel(0.400, -0.345, open_l, open_r, 0.006, 150, 150), lower)
    with m.group("*front_hatch"):
        m.add(
            "front_hatch",
            TUB.panel(
                0.400 - gap,
                -0.345 + gap,
                lambda x: np.full_like(x, np.pi / 2 - HATCH + 0.012),
                lambda x: np.full_like(x, np.pi / 2 + HATCH - 0.012),
                0.003,
                80,
                90,
            ),
            paint,
        )
        for sgn in (1, -1):
            with m.side(sgn):
                for i, x in enumerate((0.375, 0.18, -0.16, -0.325)):
                    p = TUB.at(x, np.pi / 2 - HATCH + 0.075)
                    m.add(
                        f"front_hatch.fastener_{i + 1}",
                        d.fastener(p, _out(TUB, x, np.pi / 2 - HATCH + 0.075)),
                        "steel",
                        "*front_hatch",
                    )
                    m.point(f"front_hatch.fastener_{i + 1}", p, 0.008, 1.0)
    m.add(
        "deck",
        plate(
            [(0.395, 0.168), (0.395, -0.168), (-0.34, -0.196), (-0.34, 0.196)],
            vec(0, 0, 0.381),
            vec(1, 0, 0),
            vec(0, 1, 0),
            0.008,
            0.001,
            uv_scale=0.5,
        ),
        "carbon_weave",
    )
    for sgn in (1, -1):
        with m.side(sgn):
            for x in (0.37, 0.10, -0.12, -0.31):
                m.add("deck.bolt", d.bolt(vec(x, 0.155, 0.385), vec(0, 0, 1), 0.005), "steel")
            for i, x in enumerate((0.37, -0.31)):
                m.point(f"deck.bolt_{i + 1}", vec(x, 0.155, 0.389), 0.007, 0.95)
            p = TUB.at(0.30, 0.05)
            m.add(
                "tub.tow_eye",
                lathe(
                    [(-0.003, 0.011), (-0.003, 0.018), (0.003, 0.018), (0.003, 0.011)],
                    p + vec(0, 0.012, 0),
                    vec(1, 0, 0.2),
                    30,
                ),
                "mustard",
            )
    sens, ties = d.loom(
        spline(
            [
                vec(0.36, 0.02, 0.392),
                vec(0.25, -0.03, 0.393),
                vec(0.10, -0.02, 0.393),
                vec(-0.12, 0.03, 0.394),
                vec(-0.33, 0.02, 0.396),
            ],
            12,
        ),
        0.0065,
        6,
    )
    m.add("front.loom", sens, "sleeve")
    m.add("front.loom.ties", ties, "black")
    cock = _opening()

    m.add(
        "tub.cockpit",
        TUB.panel(-0.345, -1.62, lambda x: np.pi / 2 + cock(x), lambda x: 2.5 * np.pi - cock(x), 0.010, 150, 150),
        lower,
    )
    if shown:
        for sgn in (1, -1):
            with m.side(sgn):
                trim = Loft(**{**TUB.__dict__, "w": [v + 0.0005 for v in TUB.w], "z1": [v + 0.0005 for v in TUB.z1]})
                m.add(
                    "tub.flash",
                    trim.panel(
                        0.10, -0.70, lambda x: 0.16 + 0.10 * (x + 0.3), lambda x: 0.27 + 0.02 * (x + 0.3), 0.0005, 60, 8
                    ),
                    "mustard",
                )
    # padded rim round the cockpit
    rim_x = np.linspace(-0.56, -1.40, 60)
    for sgn in (1, -1):
        with m.side(sgn):
            rim = TUB.at(rim_x, np.pi / 2 - cock(rim_x))
            m.add("tub.cockpit_rim", tube(rim, 0.011, 16), "rubber")
    m.point("cockpit.front_edge", TUB.at(-0.545, np.pi / 2), 0.015, 0.6, on="centre_plane")


def _bump(at: float, half: float) -> Callable[[Array], Array]:
    return lambda x: np.exp(-(((x - at) / half) ** 6))


def _opening() -> Callable[[Array], Array]:
    from longlens.demo.solids import ramp

    return lambda x: ramp(
        x, [-1.62, -1.50, -1.25, -0.95, -0.66, -0.545, -0.40], [0.95, 0.95, 0.90, 0.86, 0.62, 0.0, 0.0]
    )


def crash_ring(loft: Loft, x: float) -> Mesh:
    """A raised hoop round the crash structure."""
    ring = loft.at(np.full(97, x), np.linspace(0, 2 * np.pi, 97))
    return tube(ring, 0.0035, 8)


def _out(loft: Loft, x: float, a: float) -> Array:
    """The outward normal of a loft."""
    p = loft.at(x, a)
    n = np.cross(loft.at(x + 1e-3, a) - p, loft.at(x, a + 1e-3) - p)
    mid = loft.at(np.full(8, x), np.linspace(0, 2 * np.pi, 8, endpoint=False)).mean(0)
    n = unit(n)
    return n if n @ (p - mid) > 0 else -n


def _fan(ring: Array, apex: Array) -> Mesh:
    n = len(ring)
    i = np.arange(n)
    f = np.stack([i, (i + 1) % n, np.full(n, n)], 1)
    mesh = Mesh(np.vstack([ring, apex]), f)
    look = np.cross(ring[1] - ring[0], apex - ring[0])[0]
    return mesh if look > 0 else mesh.flipped()


def _badge(at: Array, n: Array) -> Mesh:
    """An invented badge: a wave in a ring."""
    F = frame(n, vec(1, 0, 0))
    ring = lathe([(0, 0.017), (0.0015, 0.0205), (0.003, 0.0205), (0.003, 0.017)], at, n, 40)
    w = np.linspace(-1, 1, 30)
    waves = [
        tube(at + n * 0.0018 + (w * 0.016)[:, None] * F[0] + (0.004 * np.sin(w * 5) + o)[:, None] * F[1], 0.0016, 8)
        for o in (-0.004, 0.004)
    ]
    return merge([ring, *waves])


def _cockpit(m: Model) -> None:
    hoop = spline(
        [
            vec(-1.40, 0.215, 0.50),
            vec(-1.405, 0.205, 0.70),
            vec(-1.415, 0.165, 0.90),
            vec(-1.42, 0.085, 0.995),
            vec(-1.42, 0, 1.012),
            vec(-1.42, -0.085, 0.995),
            vec(-1.415, -0.165, 0.90),
            vec(-1.405, -0.205, 0.70),
            vec(-1.40, -0.215, 0.50),
        ],
        14,
    )
    m.add("roll_hoop", tube(hoop, 0.0225, 32), "steel_black")
    m.point("roll_hoop.top", vec(-1.42, 0, 1.012 + 0.0225), 0.02, 0.5, on="centre_plane")
    for sgn in (1, -1):
        with m.side(sgn):
            m.add("roll_hoop.stay", rod(vec(-1.415, 0.155, 0.915), vec(-1.98, 0.145, 0.47), 0.0165, 28), "steel_black")
            m.add(
                "roll_hoop.stay.weld",
                d.weld(d.ring_path(vec(-1.437, 0.1546, 0.898), vec(-0.56, -0.01, -0.445), 0.0168, squash=1.15), 0.0028),
                "weld",
            )
            m.point("roll_hoop.stay_foot", vec(-1.98, 0.145, 0.47), 0.016, 0.5)
            m.add(
                "roll_hoop.stay_foot",
                merge(
                    [
                        box(vec(-1.985, 0.145, 0.452), (0.07, 0.05, 0.010), 0.003),
                        d.bolt(vec(-2.008, 0.145, 0.457), vec(0, 0, 1), 0.008),
                        d.bolt(vec(-1.958, 0.160, 0.457), vec(0, 0, 1), 0.008),
                    ]
                ),
                "machined",
            )
    m.add("headrest", box(vec(-1.355, 0, 0.80), (0.060, 0.24, 0.17), 0.028, k=6), "fabric")
    for sgn in (1, -1):
        with m.side(sgn):
            m.add("headrest.side", box(vec(-1.24, 0.185, 0.715), (0.26, 0.050, 0.11), 0.022, k=6), "fabric")
    seat = spline(
        [vec(-0.72, 0, 0.135), vec(-0.95, 0, 0.105), vec(-1.13, 0, 0.19), vec(-1.27, 0, 0.42), vec(-1.35, 0, 0.66)], 12
    )
    from longlens.demo.panels import shell

    y = np.linspace(-1, 1, 31)
    P = seat[:, None] + np.stack([np.abs(y) ** 3 * 0.05, y * 0.235, 0.02 + 0.09 * np.abs(y) ** 3.5], -1)[None]
    m.add("seat", shell(P + vec(0, 0, 0.006), P), "fabric")
    for sgn in (1, -1):
        with m.side(sgn):
            q = spline(
                [vec(-1.34, 0.085, 0.66), vec(-1.25, 0.095, 0.50), vec(-1.10, 0.060, 0.30), vec(-1.02, 0.015, 0.22)], 14
            )
            side = np.cross(np.gradient(q, axis=0), vec(0, 1, 0))
            side /= np.linalg.norm(side, axis=1)[:, None]
            S = q[:, None] + np.linspace(-0.024, 0.024, 5)[None, :, None] * vec(0, 1, 0) + side[:, None] * 0.004
            m.add("belt", shell(S + side[:, None] * 0.003, S), "belt")
    wheel_c, tilt = vec(-0.655, 0, 0.585), unit(vec(-1, 0, 0.42))
    F = frame(tilt)
    w = np.linspace(0, 2 * np.pi, 90)
    rr = 1 + 0.10 * np.cos(2 * w) - 0.05 * np.maximum(0, np.sin(w)) ** 4
    loop = wheel_c + (0.125 * rr * np.cos(w))[:, None] * F[0] + (0.092 * rr * np.sin(w))[:, None] * F[1]
    m.add("steering_wheel", tube(loop, 0.0125, 20), "fabric")
    m.add(
        "steering_wheel.plate",
        plate(
            [(-0.105, -0.035), (0.105, -0.035), (0.105, 0.05), (-0.105, 0.05)], wheel_c, F[0], F[1], 0.014, 0.003, 0.02
        ),
        "carbon_weave",
    )
    m.add("steering_wheel.screen", box(wheel_c + tilt * 0.008 + F[1] * 0.012, (0.10, 0.052, 0.004), 0.001, F), "screen")
    for i, (a, b) in enumerate(
        ((-0.075, 0.03), (0.075, 0.03), (-0.075, -0.012), (0.075, -0.012), (-0.03, -0.03), (0.03, -0.03))
    ):
        m.add(
            "steering_wheel.knob",
            lathe(
                [(0, 0), (0, 0.008), (0.009, 0.007), (0.009, 0)], wheel_c + tilt * 0.007 + F[0] * a + F[1] * b, tilt, 18
            ),
            ("mustard", "anodised", "caliper")[i % 3],
        )
    m.add("steering_column", rod(wheel_c - tilt * 0.01, vec(-0.05, 0, 0.30), 0.0125, 20), "steel_dark")
    m.add("dash", box(vec(-0.50, 0, 0.585), (0.10, 0.30, 0.03), 0.012), "carbon_matt")
    screen_x = np.linspace(-0.50, -0.60, 14)
    sweep = np.linspace(np.pi * 0.22, np.pi * 0.78, 40)
    S = TUB.at(screen_x[:, None], sweep[None]) + np.stack(
        [
            np.zeros((14, 40)),
            np.zeros((14, 40)),
            np.broadcast_to(np.linspace(0.0, 0.045, 14)[:, None] ** 1.0, (14, 40)),
        ],
        -1,
    )
    m.add("screen", shell(S + vec(0, 0, 0.002), S), "smoke")
    for sgn in (1, -1):
        with m.side(sgn):
            c = vec(-0.70, 0.455, 0.705)
            m.add("mirror", box(c, (0.075, 0.155, 0.058), 0.024, k=6), "paint_slate")
            m.add(
                "mirror.glass",
                box(
                    c - vec(0.0375, 0, 0),
                    (0.003, 0.132, 0.044),
                    0.001,
                ),
                "mirror",
            )
            stalk = spline([c + vec(0.005, -0.06, -0.022), c + vec(0.012, -0.12, -0.055), vec(-0.68, 0.262, 0.545)], 10)
            m.add("mirror.stalk", tube(stalk, 0.008, 16, flat=0.5), "carbon_gloss")
            m.point("mirror.outer_end", c + vec(0, 0.0775, 0), 0.014, 0.5)
            m.point("mirror.inner_end", c + vec(0, -0.0775, 0), 0.014, 0.4)


def _front_wing(m: Model, shown: bool) -> None:
    y = np.linspace(-0.795, 0.795, 61)
    a = np.abs(y)
    lead = np.stack([1.000 - 0.10 * (a / 0.8) ** 1.6, y, 0.108 - 0.030 * np.clip((a - 0.12) / 0.3, 0, 1)], -1)
    m.add(
        "front_wing.main",
        wing(y, lead, np.full_like(y, 0.250), 2.0 + 3.0 * np.clip((a - 0.15) / 0.4, 0, 1), aerofoil(36, 0.07, 0.11)),
        "carbon_gloss" if shown else "camouflage",
    )
    paint = "paint_white" if shown else "carbon_matt"
    spec = [(0.770, 0.118, 0.092, 13.0), (0.693, 0.150, 0.074, 21.0), (0.637, 0.184, 0.056, 28.0)]
    if not shown:
        spec = [(0.765, 0.120, 0.118, 14.0), (0.661, 0.158, 0.078, 23.0)]
    for i, (x, z, c, inc) in enumerate(spec):
        for sgn in (1, -1):
            with m.side(sgn):
                yy = np.linspace(0.205, 0.795, 34)
                root = np.clip((yy - 0.205) / 0.16, 0, 1) ** 0.6
                ld = np.stack([np.full_like(yy, x) - 0.05 * (yy / 0.8) ** 1.6, yy, z + 0 * yy], -1)
                m.add(
                    f"front_wing.flap_{i + 1}",
                    wing(yy, ld, c * (0.55 + 0.45 * root), inc, aerofoil(26, 0.09, 0.10)),
                    paint if i % 2 == 0 else ("paint_slate" if shown else "carbon_matt"),
                )
                m.point(f"front_wing.flap_{i + 1}.inner_trailing", _trail(ld[0], c * 0.55, inc), 0.008, 0.7)
                m.point(f"front_wing.flap_{i + 1}.tip_trailing", _trail(ld[-1], c, inc), 0.008, 0.7)
                for yy_ in (0.40, 0.62):
                    m.add(
                        "front_wing.slot_bracket",
                        plate(
                            [(0.03, -0.012), (-0.035, -0.004), (-0.035, 0.014), (0.02, 0.004)],
                            vec(x + 0.005, yy_, z + 0.004),
                            vec(1, 0, 0),
                            vec(0, 0, 1),
                            0.003,
                            0.0006,
                        ),
                        "machined",
                    )
    for sgn in (1, -1):
        with m.side(sgn):
            m.point("front_wing.main.tip_leading", lead[-1] + vec(0.002, -0.003, 0.004), 0.010, 0.6)
            o = (
                [(0.955, 0.045), (0.965, 0.115), (0.90, 0.190), (0.58, 0.262), (0.54, 0.262), (0.535, 0.050)]
                if shown
                else [(0.955, 0.045), (0.955, 0.240), (0.545, 0.240), (0.545, 0.045)]
            )
            m.add(
                "front_wing.end_plate",
                plate(np.array(o), vec(0, 0.800, 0), vec(1, 0, 0), vec(0, 0, 1), 0.008, 0.002, 0.018),
                paint,
            )
            m.add(
                "front_wing.foot_plate",
                plate(
                    [(0.95, 0.795), (0.95, 0.832), (0.60, 0.862), (0.545, 0.855), (0.545, 0.795)],
                    vec(0, 0, 0.048),
                    vec(1, 0, 0),
                    vec(0, 1, 0),
                    0.005,
                    0.0015,
                    0.01,
                ),
                "carbon_gloss",
            )
            k_ = (
                [(0.965, 0.115, "front"), (0.54, 0.262, "rear_upper"), (0.535, 0.050, "rear_lower")]
                if shown
                else [(0.955, 0.240, "front"), (0.545, 0.240, "rear_upper"), (0.545, 0.045, "rear_lower")]
            )
            for x, z, nm in k_:
                off = 0.0045
                m.point(
                    f"front_wing.end_plate.{nm}",
                    vec(
                        x - (0.005 if nm == "front" else -0.005),
                        0.800 + off - 0.0005,
                        z + (-0.004 if z > 0.1 else 0.004),
                    ),
                    0.009,
                    0.75,
                )
            if shown:
                strip = rod(vec(0.88, 0.806, 0.085), vec(0.58, 0.806, 0.10), 0.006, 16)
                m.add("front_wing.end_plate.rub", strip, "carbon_matt")
            o2 = [(0.93, 0.225), (0.70, 0.235), (0.78, 0.095), (0.915, 0.100)]
            m.add(
                "front_wing.pylon",
                plate(np.array(o2), vec(0, 0.062, 0), vec(1, 0, 0), vec(0, 0, 1), 0.009, 0.003, 0.012),
                "carbon_gloss",
                "*nose_pylon",
            )


def _trail(lead: Array, chord: float, inc: float) -> Array:
    a = np.radians(inc)
    return lead + vec(-chord * np.cos(a), 0, chord * np.sin(a))


def _pods(m: Model, shown: bool) -> None:
    paint = "paint_white" if shown else "camouflage"
    for sgn in (1, -1):
        with m.side(sgn):
            with m.group("pod_cover"):
                m.add("pod_cover", POD.panel(-0.722, -2.20, -1.15, 2.30, 0.003, 130, 110), paint)
                lip = POD.at(np.full(70, -0.722), np.linspace(-1.15, 2.30, 70))
                m.add("pod_cover.lip", tube(lip, 0.0065, 14), "paint_slate" if shown else paint)
                for i, (x, ang) in enumerate(
                    ((-0.80, -0.60), (-1.15, -0.60), (-1.50, -0.62), (-0.82, 1.9), (-1.2, 1.95), (-1.6, 1.95))
                ):
                    p = POD.at(x, ang)
                    m.add(f"pod_cover.fastener_{i + 1}", d.fastener(p, _pod_out(x, ang)), "steel", None)
                    m.point(f"pod_cover.fastener_{i + 1}", p, 0.008, 1.0)
                if shown:
                    # louvres over the hot air's way out
                    for i in range(6):
                        x = -1.42 - 0.055 * i
                        b = np.linspace(1.05, 1.85, 20)
                        q = POD.at(np.full(20, x), b)
                        up = np.array([_pod_out(x, t) for t in b])
                        from longlens.demo.panels import shell

                        S = np.stack([q + up * 0.001, q + vec(-0.034, 0, 0) + up * 0.016])
                        m.add("pod_cover.louvre", shell(S + vec(0, 0, 0.002), S), paint)
                        m.add(
                            "pod_cover.louvre.dark",
                            shell(
                                np.stack([q + vec(-0.030, 0, 0) + up * 0.0012, q + vec(-0.046, 0, 0) + up * 0.0012]),
                                np.stack([q + vec(-0.030, 0, 0), q + vec(-0.046, 0, 0)]),
                            ),
                            "void",
                        )
                    flash = Loft(**{**POD.__dict__, "w": [v + 0.0006 for v in POD.w]})
                    m.add(
                        "pod_cover.flash",
                        flash.panel(
                            -0.80,
                            -1.75,
                            lambda x: -0.15 + 0.12 * (x + 1.2),
                            lambda x: 0.02 + 0.05 * (x + 1.2),
                            0.0005,
                            80,
                            8,
                        ),
                        "mustard",
                    )
            inner = POD.at(np.linspace(-0.70, -2.2, 40)[:, None], np.linspace(2.35, 3.9, 20)[None])
            from longlens.demo.panels import shell

            m.add("pod_inner", shell(inner, inner - vec(0, 0.003, 0)), "carbon_matt")
            # duct walls that lead the air to the core
            for y0, y1 in ((0.318, 0.372),):
                m.add(
                    "pod_duct",
                    plate(
                        [(-0.74, 0.075), (-0.74, 0.43), (-1.40, 0.44), (-1.40, 0.10)],
                        vec(0, (y0 + y1) / 2 - 0.02, 0),
                        vec(1, -0.06, 0),
                        vec(0, 0, 1),
                        0.003,
                        0.0006,
                    ),
                    "carbon_matt",
                )
            m.add(
                "side_impact", rod(vec(-0.86, 0.28, 0.345), vec(-0.86, 0.655, 0.330), 0.022, 32, 0.006), "carbon_weave"
            )
            m.add("side_impact.cap", d.bolt(vec(-0.86, 0.655, 0.330), vec(0, 1, 0), 0.012), "anodised")
            m.point("side_impact.end", vec(-0.86, 0.660, 0.330), 0.016, 0.6)


def _pod_out(x: float, a: float) -> Array:
    p = POD.at(x, a)
    n = unit(np.cross(POD.at(x + 1e-3, a) - p, POD.at(x, a + 1e-3) - p))
    mid = POD.at(np.full(8, x), np.linspace(0, 2 * np.pi, 8, endpoint=False)).mean(0)
    return n if n @ (p - mid) > 0 else -n


MAIN_CORE = k.Core(
    (-0.985, 0.652),
    (-1.418, 0.392),
    -0.052,
    0.108,
    0.428,
    0.042,
    collector_start=(0.054, 0.036),
    collector_end=(0.036, 0.054),
)
SMALL_CORE = k.Core(
    (-1.545, 0.575),
    (-1.585, 0.372),
    0.0,
    0.115,
    0.325,
    0.030,
    0.0085,
    0.0018,
    collector_start=(0.032, 0.032),
    collector_end=(0.032, 0.032),
)
TEST_CORE = replace(MAIN_CORE, sagitta=-0.030, top=0.404, thick=0.036)


def _cooling(m: Model, shown: bool) -> None:
    core = MAIN_CORE if shown else TEST_CORE
    tank_at = vec(-1.575, 0.0, 0.700)
    with m.side(0):
        union = k.add_header_tank(m, "header_tank", tank_at, (0.120, 0.170, 0.115))
        m.add("header_tank.strap", box(tank_at - vec(0, 0, 0.062), (0.03, 0.20, 0.006), 0.002), "machined")
        for sgn in (1, -1):
            m.add(
                "header_tank.leg",
                rod(tank_at + vec(0, sgn * 0.09, -0.06), vec(-1.585, sgn * 0.105, 0.45), 0.006, 16),
                "steel_black",
            )
    hot = "pipe" if shown else "hose"
    for sgn in (1, -1):
        with m.side(sgn):
            k.add_core(m, "cooler", core, -1.0)
            head = m.points[m.named("cooler.collector_end.head")].xyz * vec(1, sgn, 1)
            foot = m.points[m.named("cooler.collector_start.foot")].xyz * vec(1, sgn, 1)
            # a connector stands square on each collector where it is thickest
            hin = head + vec(-0.022, 0.0, -0.032)
            fout = foot + vec(-0.010, -0.022, 0.026)
            feed = bent(
                [
                    hin,
                    hin + vec(-0.085, 0.0, 0.004),
                    vec(-1.70, 0.318, 0.415),
                    vec(-1.86, 0.235, 0.400),
                    vec(-1.93, 0.205, 0.36),
                    vec(-1.935, 0.19, 0.315),
                ],
                0.055,
            )
            k.add_pipe(
                m,
                "feed_pipe",
                feed,
                0.032,
                hot,
                True,
                ((0.52, d.along(feed, 0.52)[0] + vec(0.0, -0.045, -0.02)),),
                "coolant, hot",
                tape=0.36,
            )
            back = bent(
                [
                    fout,
                    fout + vec(-0.075, -0.030, -0.012),
                    vec(-1.20, 0.605, 0.088),
                    vec(-1.52, 0.520, 0.082),
                    vec(-1.86, 0.330, 0.082),
                    vec(-1.98, 0.180, 0.092),
                ],
                0.07,
            )
            k.add_pipe(
                m,
                "return_pipe",
                back,
                0.030,
                "pipe",
                True,
                tuple((s, d.along(back, s)[0] * vec(1, 1, 0) + vec(0, 0.034, 0.041)) for s in (0.24, 0.48, 0.72)),
                "coolant, cool",
                tape=0.36,
            )
            top = head + vec(0, 0, 0.016)
            un = union.copy() if sgn > 0 else union * vec(1, 1, 1)
            un = vec(un[0], abs(un[1]), un[2])
            bleed = spline(
                [
                    top,
                    top + vec(-0.004, -0.006, 0.045),
                    vec(-1.470, 0.318, 0.535),
                    vec(-1.520, 0.225, 0.648),
                    vec(un[0], un[1] + 0.060, un[2] - 0.004),
                    un + vec(0, 0.018, 0),
                ],
                14,
            )
            m.add("bleed_line", tube(bleed, 0.0048, 16), "braided")
            m.add(
                "bleed_line.unions",
                merge(
                    [
                        lathe(
                            [(-0.004, 0), (-0.004, 0.0085), (0.010, 0.0085), (0.014, 0.0055), (0.024, 0.0055)],
                            bleed[0],
                            vec(0, 0, 1),
                            6,
                        ),
                        lathe(
                            [(0, 0.0055), (0.010, 0.0075), (0.024, 0.0075)],
                            bleed[-1] + vec(0, 0.02, 0),
                            vec(0, -1, 0),
                            6,
                        ),
                    ]
                ),
                "anodised",
            )
            m.pipe("bleed_line", bleed, 0.0096, carries="coolant and air")
            m.point("bleed_line.low_end", bleed[0] + vec(0, 0, 0.006), 0.009, 0.6)
            for i, s in enumerate((0.32, 0.62)):
                p, e = d.along(bleed, s)
                metal, liner = d.p_clip(p, e, 0.0048, p + vec(-0.004, -0.028, -0.012))
                m.add("bleed_line.bracket", metal, "steel")
                m.add("bleed_line.bracket.liner", liner, "rubber")
                m.point(f"bleed_line.bracket_{i + 1}", p, 0.008, 0.7)
            for tag, p in (("hot", hin), ("cool", fout)):
                m.add(
                    f"cooler.connector_{tag}",
                    rod(p + (head - p if tag == "hot" else foot - p) * vec(1, 1, 0) * 0.8, p, 0.0165, 28),
                    "cast",
                )
            if shown:
                k.add_core(m, "second_cooler", SMALL_CORE, 1.0)
                n3 = unit(np.array([-0.98, -0.19, 0]))
                c = SMALL_CORE.at(np.array([0.5]), np.array([0.5]))[0] + n3 * 0.024
                m.add("second_cooler.cowl", box(c + n3 * 0.004, (0.212, 0.214, 0.008), 0.003, frame(n3)), "plastic")
                k.add_fan(m, "fan", c + n3 * 0.012, n3, 0.094)
                wire, ties = d.loom(
                    spline(
                        [
                            c + n3 * 0.06,
                            c + n3 * 0.09 + vec(0, -0.05, -0.04),
                            vec(-1.72, 0.30, 0.14),
                            vec(-1.86, 0.255, 0.13),
                        ],
                        10,
                    ),
                    0.0055,
                    3,
                )
                m.add("fan.loom", wire, "sleeve")
                m.add("fan.loom.ties", ties, "black")
                oil = bent(
                    [
                        vec(-1.570, 0.350, 0.30),
                        vec(-1.62, 0.315, 0.30),
                        vec(-1.82, 0.275, 0.275),
                        vec(-2.06, 0.165, 0.26),
                    ],
                    0.04,
                )
                k.add_pipe(m, "drive_pipe", oil, 0.019, "hose", False, (), "drive unit oil")
                for s in (0.02, 0.98):
                    p, e = d.along(oil, s)
                    m.add(
                        "drive_pipe.union",
                        lathe(
                            [(-0.012, 0.0095), (-0.012, 0.0145), (0.004, 0.0145), (0.008, 0.0115), (0.014, 0.0105)],
                            p,
                            e,
                            6,
                        ),
                        "anodised",
                    )
            else:
                m.add("second_cooler.blank", box(vec(-1.565, 0.475, 0.22), (0.004, 0.21, 0.21), 0.001), "aluminium")
    if not shown:
        # in series: one pipe under the seat from the left core's outlet to the right one's inlet; only its ends show
        cross = bent(
            [
                vec(-1.065, 0.600, 0.085),
                vec(-1.09, 0.40, 0.020 + 0.03),
                vec(-1.09, -0.40, 0.05),
                vec(-1.065, -0.600, 0.085),
            ],
            0.07,
        )
        k.add_pipe(m, "cross_pipe", cross, 0.030, "hose", False, (), "coolant, between the cores")
    else:
        tee = bent(
            [vec(-1.935, 0.19, 0.315), vec(-1.945, 0.10, 0.245), vec(-1.945, -0.10, 0.245), vec(-1.935, -0.19, 0.315)],
            0.05,
        )
        k.add_pipe(m, "tee_pipe", tee, 0.034, "pipe", False, (), "coolant, hot, to both cores")
    m.other["plumbing"] = "parallel" if shown else "series"
    m.other["hidden"] = "tee_pipe" if shown else "cross_pipe"
    m.add(
        "pump",
        merge(
            [
                lathe(
                    [(-0.05, 0), (-0.05, 0.036), (0.02, 0.036), (0.024, 0.044), (0.045, 0.044), (0.047, 0)],
                    vec(-2.0, 0.10, 0.10),
                    vec(0, 1, 0),
                    44,
                )
            ]
        ),
        "cast",
    )


def _drive(m: Model, shown: bool) -> None:
    x = -WHEELBASE
    m.add("battery.case", box(vec(-1.76, 0, 0.205), (0.40, 0.50, 0.30), 0.012), "battery")
    for yy in np.linspace(-0.22, 0.22, 12):
        m.add("battery.rib", box(vec(-1.76, yy, 0.357), (0.37, 0.008, 0.008), 0.003), "battery")
    for sgn in (1, -1):
        with m.side(sgn):
            for i, xx in enumerate((-1.585, -1.70, -1.82, -1.935)):
                m.add("battery.bolt", d.bolt(vec(xx, 0.238, 0.356), vec(0, 0, 1), 0.006), "steel")
                if i in (0, 3):
                    m.point(f"battery.bolt_{i + 1}", vec(xx, 0.238, 0.361), 0.007, 0.9)
            path = spline(
                [
                    vec(-1.90, 0.09, 0.365),
                    vec(-1.96, 0.10, 0.41),
                    vec(-2.04, 0.09, 0.44),
                    vec(-2.12, 0.075, 0.425),
                    vec(-2.17, 0.07, 0.40),
                ],
                12,
            )
            m.add("traction_cable", tube(path, 0.0085, 20), "orange")
            for p, e in ((path[0], path[1] - path[0]), (path[-1], path[-2] - path[-1])):
                m.add(
                    "traction_cable.gland",
                    lathe([(-0.006, 0), (-0.006, 0.0145), (0.012, 0.0145), (0.018, 0.0105), (0.030, 0.0098)], p, e, 6),
                    "black",
                )
    m.add("inverter", box(vec(-1.74, 0, 0.415), (0.27, 0.24, 0.10), 0.012), "cast")
    for yy in np.linspace(-0.10, 0.10, 11):
        m.add("inverter.fin", box(vec(-1.74, yy, 0.475), (0.25, 0.005, 0.024), 0.0015), "cast")
    case = Loft(
        x=[x + 0.60, x + 0.40, x + 0.12, x - 0.06, x - 0.24],
        w=[0.158, 0.150, 0.152, 0.158, 0.120],
        z0=[0.10, 0.10, 0.095, 0.095, 0.12],
        z1=[0.42, 0.425, 0.41, 0.395, 0.36],
        n_up=[5, 5, 5, 5, 5],
        n_low=[4, 4, 4, 4, 4],
    )
    m.add("drive_unit.case", case.whole(x + 0.60, x - 0.24, 80, 120), "cast")
    for xx in (0.52, 0.44, 0.36, 0.28, 0.20, 0.06, -0.03, -0.12):
        ring = case.at(np.full(97, x + xx), np.linspace(0, 2 * np.pi, 97))
        m.add("drive_unit.rib", tube(ring, 0.006, 10, flat=1.2), "cast")
    for sgn in (1, -1):
        with m.side(sgn):
            m.add(
                "drive_unit.motor",
                lathe(
                    [
                        (0.0, 0.0),
                        (0.0, 0.118),
                        (0.010, 0.124),
                        (0.075, 0.124),
                        (0.080, 0.118),
                        (0.086, 0.07),
                        (0.086, 0),
                    ],
                    vec(x + 0.235, 0.135, 0.262),
                    vec(0, 1, 0),
                    72,
                ),
                "cast",
            )
            for w in np.linspace(0, 2 * np.pi, 10, endpoint=False):
                m.add(
                    "drive_unit.motor.bolt",
                    d.bolt(vec(x + 0.235 + 0.105 * np.cos(w), 0.217, 0.262 + 0.105 * np.sin(w)), vec(0, 1, 0), 0.006),
                    "steel",
                )
            m.point("drive_unit.motor.centre", vec(x + 0.235, 0.2215, 0.262), 0.02, 0.5)
            m.circle("drive_unit.motor", vec(x + 0.235, 0.210, 0.262), vec(0, 1, 0), 0.124)
            m.add(
                "drive_unit.flange",
                lathe(
                    [(0.0, 0.0), (0.0, 0.068), (0.016, 0.066), (0.018, 0.05), (0.018, 0)],
                    vec(x - 0.012, 0.145, 0.262),
                    vec(0, 1, 0),
                    56,
                ),
                "machined",
            )
            m.add(
                "drive_unit.spring_bracket",
                merge(
                    [
                        box(SPRING_CHASSIS + vec(0.01, 0, -0.055), (0.05, 0.05, 0.075), 0.008),
                        box(SPRING_CHASSIS + vec(0.004, 0, -0.012), (0.03, 0.042, 0.03), 0.006),
                    ]
                ),
                "machined",
            )
    crash = Loft(
        x=[x - 0.235, x - 0.50], w=[0.095, 0.058], z0=[0.16, 0.205], z1=[0.335, 0.310], n_up=[6, 6], n_low=[6, 6]
    )
    m.add("rear_crash_structure", crash.whole(x - 0.235, x - 0.50, 30, 100), "carbon_weave")
    m.add("lamp.rear", box(vec(x - 0.503, 0, 0.258), (0.014, 0.085, 0.055), 0.005), "lamp_red")
    m.add("lamp.rear.frame", box(vec(x - 0.498, 0, 0.258), (0.016, 0.097, 0.067), 0.006), "black")
    for sgn in (1, -1):
        with m.side(sgn):
            m.point("rear_crash_structure.rear_upper", crash.at(x - 0.498, 0.74), 0.010, 0.6)
            m.point("lamp.rear.corner_upper", vec(x - 0.506, 0.0475, 0.2905), 0.008, 0.7)
    with m.group("*engine_cover"):
        m.add(
            "engine_cover",
            COVER.panel(-1.37, -2.94, -0.02, np.pi + 0.02, 0.003, 130, 120),
            "paint_white" if shown else "camouflage",
        )
        if shown:
            fin = [(-1.75, 0.86), (-2.60, 0.90), (-2.66, 0.88), (-2.60, 0.59), (-2.05, 0.74)]
            m.add(
                "engine_cover.fin",
                plate(np.array(fin), vec(0, 0, 0), vec(1, 0, 0), vec(0, 0, 1), 0.007, 0.002, 0.03),
                "paint_slate",
            )
        for sgn in (1, -1):
            with m.side(sgn):
                for i, x_ in enumerate((-1.46, -1.75, -2.10, -2.45)):
                    p = COVER.at(x_, 0.08)
                    m.add(
                        f"engine_cover.fastener_{i + 1}", d.fastener(p, _out(COVER, x_, 0.08)), "steel", "*engine_cover"
                    )
                    m.point(f"engine_cover.fastener_{i + 1}", p, 0.008, 1.0)


#: The rear wing's elements: leading edge behind the axle, its height, chord, incidence in degrees, camber, thickness.
REAR_WING = {
    "shown": (
        ("main", 0.040, 0.880, 0.330, 7.0, 0.10, 0.12),
        ("flap_1", 0.357, 0.932, 0.170, 24.0, 0.09, 0.10),
        ("flap_2", 0.502, 1.010, 0.110, 42.0, 0.08, 0.10),
    ),
    "test": (("main", 0.040, 0.880, 0.340, 7.0, 0.10, 0.12), ("flap_1", 0.367, 0.935, 0.190, 30.0, 0.09, 0.10)),
}
REAR_WING_HALF = 0.700


def _rear_wing(m: Model, shown: bool) -> None:
    x, half = -WHEELBASE, REAR_WING_HALF
    y = np.linspace(-(half - 0.005), half - 0.005, 41)
    paint = {"main": "carbon_gloss", "flap_1": "paint_white" if shown else "camouflage", "flap_2": "paint_slate"}
    for name, back, z, chord, inc, camber, thick in REAR_WING["shown" if shown else "test"]:
        rise = 0.012 * (y / half) ** 2 if name == "main" else 0 * y
        ld = np.stack([np.full_like(y, x - back), y, z + rise], -1)
        m.add(
            f"rear_wing.{name}",
            wing(y, ld, np.full_like(y, chord), inc, aerofoil(44, camber, thick)),
            paint[name],
        )
        for sgn in (1, -1):
            with m.side(sgn):
                if name == "main":
                    m.point("rear_wing.main.tip_leading", ld[-1] + vec(0, -0.003, 0), 0.010, 0.5)
                m.point(f"rear_wing.{name}.tip_trailing", _trail(ld[-1], chord, inc) + vec(0, -0.003, 0), 0.009, 0.7)
    for sgn in (1, -1):
        with m.side(sgn):
            o = (
                [
                    (x - 0.005, 0.815),
                    (x - 0.015, 0.950),
                    (x - 0.180, 1.055),
                    (x - 0.610, 1.115),
                    (x - 0.620, 0.880),
                    (x - 0.460, 0.780),
                    (x - 0.120, 0.765),
                ]
                if shown
                else [(x - 0.005, 0.78), (x - 0.005, 1.06), (x - 0.575, 1.06), (x - 0.575, 0.78)]
            )
            m.add(
                "rear_wing.end_plate",
                plate(np.array(o), vec(0, half, 0), vec(1, 0, 0), vec(0, 0, 1), 0.008, 0.002, 0.02),
                "paint_white" if shown else "camouflage",
            )
            if shown:
                for i in range(4):
                    m.add(
                        "rear_wing.end_plate.slat",
                        plate(
                            [
                                (x - 0.46, 1.052 - 0.022 * i),
                                (x - 0.59, 1.068 - 0.022 * i),
                                (x - 0.59, 1.061 - 0.022 * i),
                                (x - 0.46, 1.045 - 0.022 * i),
                            ],
                            vec(0, half + 0.004, 0),
                            vec(1, 0, 0),
                            vec(0, 0, 1),
                            0.004,
                            0.0008,
                        ),
                        "paint_slate",
                    )
            tx, tz = (x - 0.61, 1.115) if shown else (x - 0.575, 1.06)
            m.point("rear_wing.end_plate.rear_upper", vec(tx + 0.006, half + 0.0035, tz - 0.006), 0.009, 0.7)
            bx, bz = (x - 0.015, 0.95) if shown else (x - 0.005, 1.06)
            m.point("rear_wing.end_plate.front_upper", vec(bx - 0.005, half + 0.0035, bz - 0.005), 0.009, 0.7)
            yp = 0.105 if shown else 0.0
            if shown or sgn > 0:
                p = spline(
                    [
                        vec(x - 0.115, yp, 0.40),
                        vec(x - 0.165, yp, 0.58),
                        vec(x - 0.095, yp, 0.82),
                        vec(x - 0.055, yp, 0.918),
                        vec(x - 0.105, yp, 0.948),
                        vec(x - 0.160, yp, 0.913),
                    ],
                    12,
                )
                m.add(
                    "rear_wing.pylon",
                    tube(
                        p,
                        np.concatenate([np.linspace(0.034, 0.024, len(p) - 14), np.linspace(0.024, 0.016, 14)]),
                        24,
                        flat=0.24,
                        hint=(0, 1, 0),
                    ),
                    "carbon_matt",
                )
                m.add("rear_wing.pylon.foot", box(vec(x - 0.11, yp, 0.395), (0.10, 0.05, 0.02), 0.006), "machined")


def _floor(m: Model, shown: bool) -> None:
    o = [
        (-0.42, 0.25),
        (-0.62, 0.60),
        (-0.78, 0.735),
        (-1.60, 0.748),
        (-2.06, 0.700),
        (-2.20, 0.52),
        (-2.24, 0.18),
        (-2.24, -0.18),
        (-2.20, -0.52),
        (-2.06, -0.700),
        (-1.60, -0.748),
        (-0.78, -0.735),
        (-0.62, -0.60),
        (-0.42, -0.25),
    ]
    m.add(
        "floor",
        plate(np.array(o), vec(0, 0, 0.034), vec(1, 0, 0), vec(0, 1, 0), 0.008, 0.002, 0.05, uv_scale=0.5),
        "carbon_weave",
    )
    from longlens.demo.panels import shell

    t = np.linspace(0, 1, 24)
    for sgn in (1, -1):
        with m.side(sgn):
            yy = np.linspace(0.0, 0.47, 12)
            P = np.stack(
                [
                    np.broadcast_to((-2.22 - 0.80 * t)[:, None], (24, 12)),
                    np.broadcast_to(yy, (24, 12)),
                    np.broadcast_to((0.034 + 0.150 * t**1.6)[:, None], (24, 12)),
                ],
                -1,
            )
            m.add("diffuser", shell(P + vec(0, 0, 0.005), P), "carbon_gloss")
            for ys in (0.10, 0.24, 0.38, 0.468):
                s = [(-2.30, 0.045), (-3.02, 0.186), (-3.02, 0.055), (-2.45, 0.032)]
                m.add(
                    "diffuser.strake",
                    plate(np.array(s), vec(0, ys, 0), vec(1, 0, 0), vec(0, 0, 1), 0.004, 0.001),
                    "carbon_gloss",
                )
            m.point("diffuser.rear_corner", vec(-3.018, 0.468, 0.183), 0.009, 0.6)
            m.point("floor.edge_front", vec(-0.78, 0.732, 0.038), 0.010, 0.5)
            m.point("floor.edge_rear", vec(-1.60, 0.746, 0.038), 0.010, 0.4)
            stay = rod(vec(-1.80, 0.68, 0.040), vec(-2.06, 0.152, 0.30), 0.003, 10)
            m.add("floor.stay", stay, "steel_dark")
            if shown:
                P2 = np.stack(
                    [
                        np.stack(
                            [
                                x_ * np.ones(2),
                                np.array([0.742, 0.770]),
                                np.array([0.040, 0.075 + 0.02 * np.sin((x_ + 0.8) * 4)]),
                            ],
                            -1,
                        )
                        for x_ in np.linspace(-0.85, -1.55, 30)
                    ]
                )
                m.add("floor.edge_wing", shell(P2 + vec(0, 0, 0.003), P2), "carbon_gloss")


def _instruments(m: Model) -> None:
    """The test car's rake of pitot tubes behind the front wheels, and its aerials."""
    for sgn in (1, -1):
        with m.side(sgn):
            for i in range(7):
                z = 0.16 + 0.055 * i
                m.add("rake.tube", rod(vec(-0.42, 0.62, z), vec(-0.50, 0.62, z), 0.0022, 10), "steel")
            m.add(
                "rake.post",
                plate(
                    [(-0.50, 0.13), (-0.55, 0.13), (-0.55, 0.52), (-0.50, 0.52)],
                    vec(0, 0.62, 0),
                    vec(1, 0, 0),
                    vec(0, 0, 1),
                    0.007,
                    0.003,
                    0.01,
                ),
                "caliper",
            )
            m.add("rake.stay", rod(vec(-0.53, 0.62, 0.30), vec(-0.55, 0.30, 0.30), 0.006, 14), "caliper")
            m.point("rake.top", vec(-0.525, 0.62, 0.519), 0.012, 0.6)
    m.add("aerial", rod(vec(-0.10, 0.0, 0.548), vec(-0.16, 0.0, 0.70), 0.0022, 10), "black")
    m.add(
        "aerial.foot",
        lathe([(0, 0), (0, 0.014), (0.012, 0.010), (0.014, 0)], vec(-0.10, 0, 0.545), vec(0, 0, 1), 24),
        "black",
        "*front_hatch",
    )


def _trestles(m: Model, st: Stance) -> None:
    g = st.ground[0] if st.ground else 0.0
    for xx, yy in ((-0.80, 0.56), (-1.95, 0.55)):
        for sgn in (1, -1):
            with m.side(sgn):
                top = vec(xx, yy, 0.030)
                m.add("trestle.pad", box(top - vec(0, 0, 0.012), (0.10, 0.10, 0.022), 0.006), "rubber")
                for w in np.linspace(0.4, 2 * np.pi + 0.4, 3, endpoint=False):
                    m.add(
                        "trestle.leg",
                        rod(top - vec(0, 0, 0.024), vec(xx + 0.10 * np.cos(w), yy + 0.10 * np.sin(w), g), 0.011, 18),
                        "caliper",
                    )


def sheet(stage: str) -> dict[str, object]:
    """The maker's published figures of a stage, rounded as makers round."""
    figures: dict[str, object] = {
        "maker": "Skerry (invented)",
        "car": "Fulmar E4",
        "stage": stage,
        "wheelbase_mm": 2625,
        "track_front_mm": 1520,
        "track_rear_mm": 1475,
        "tyre_front": FRONT_TYRE.designation,
        "tyre_rear": REAR_TYRE.designation,
        "rim_front": "8 J x 15",
        "rim_rear": "10 J x 15",
        "source": "Skerry press sheet (invented)",
    }
    if stage == "shown":
        figures |= {
            "length_mm": 4305,
            "width_mm": 1770,
            "height_mm": 1110,
            "mass_kg": 620,
            "power_kW": 320,
            "battery_kWh": 19,
            "mass_front_percent": 43,
            "top_speed_km_h": 245,
            "zero_to_100_s": 2.4,
        }
    return figures


def facts(circles: list[str]) -> list[dict[str, object]]:
    """Published lengths as facts of the exchange form; ``circles`` are the ids of rims and tyres that are marked."""
    from longlens.demo.asked import layout_facts, wheel_facts

    return [
        *layout_facts(FRONT_TYRE, REAR_TYRE, 2.625, 1.520, 1.475, 0.005),
        *wheel_facts(FRONT_TYRE, REAR_TYRE, circles),
    ]


def measures(stage: str, model: Model) -> list[dict[str, object]]:
    """All that may be asked of this stage; see :func:`longlens.demo.asked.in_reach` for what the marks can answer."""
    from longlens.demo.asked import length, suspension

    out: list[dict[str, object]] = []
    for side in ("left", "right"):
        out += suspension(side, "pushrod", "toe_link", ("bar", "heave"), ("spring",))
        out.append(length(f"{side}.wheelbase", f"{side}.front.rim_centre", f"{side}.rear.rim_centre", along="x"))
        out.append(length(f"{side}.front.bar_link", f"{side}.front.rocker.bar", f"{side}.front.bar_link.upper"))
        out.append(
            length(f"{side}.front.torsion_bar", f"{side}.front.rocker.pivot", f"{side}.front.torsion_bar.anchor")
        )
        out.append(length(f"{side}.rear.spring", f"{side}.rear.spring.chassis", f"{side}.rear.rocker.spring"))
        for end in ("front", "rear"):
            for what in ("rim", "tyre", "disc"):
                out.append({"id": f"{side}.{end}.{what}.diameter", "diameter": f"{side}.{end}.{what}"})
        for core in ("cooler", "second_cooler"):
            c = [f"{side}.{core}.corner.{k}" for k in ("start_lower", "end_lower", "end_upper", "start_upper")]
            rails = model.cores.get(f"{side}.{core}", {}).get("rails")
            if rails:
                out.append({"id": f"{side}.{core}.face", "face_area": rails})
            else:
                out.append({"id": f"{side}.{core}.face", "area": c})
            out.append(length(f"{side}.{core}.height", c[0], c[3]))
            out.append(
                length(
                    f"{side}.{core}.collector_start",
                    f"{side}.{core}.collector_start.foot",
                    f"{side}.{core}.collector_start.head",
                )
            )
        bleed = [f"{side}.bleed_line.{p}" for p in ("low_end", "bracket_1", "bracket_2")]
        out.append({"id": f"{side}.bleed_rise", "rise": bleed})
        out.append({"id": f"{side}.bleed_least_rise", "least_rise": bleed})
        out.append({"id": f"{side}.floor_edge.height", "height": f"{side}.floor.edge_front"})
        out.append({"id": f"{side}.floor_edge_rear.height", "height": f"{side}.floor.edge_rear"})
        out.append({"id": f"{side}.diffuser.height", "height": f"{side}.diffuser.rear_corner"})
        out.append({"id": f"{side}.front_wing.height", "height": f"{side}.front_wing.end_plate.rear_lower"})
        out.append(
            length(
                f"{side}.front_wing.plate_length",
                f"{side}.front_wing.end_plate.front",
                f"{side}.front_wing.end_plate.rear_upper",
            )
        )
        out.append(
            length(
                f"{side}.rear_wing.plate_length",
                f"{side}.rear_wing.end_plate.front_upper",
                f"{side}.rear_wing.end_plate.rear_upper",
            )
        )
    for end in ("front", "rear"):
        out.append(length(f"{end}.rim_faces", f"left.{end}.rim_centre", f"right.{end}.rim_centre", along="y"))
    out.append(length("front.heave", "left.front.rocker.heave", "right.front.rocker.heave"))
    out.append(length("front.rack", "left.front.track_rod.inner", "right.front.track_rod.inner"))
    out.append(
        length("front_wing.span", "left.front_wing.end_plate.rear_upper", "right.front_wing.end_plate.rear_upper")
    )
    out.append(length("rear_wing.span", "left.rear_wing.end_plate.rear_upper", "right.rear_wing.end_plate.rear_upper"))
    out.append(length("crash_structure.width", "left.crash_structure.front_upper", "right.crash_structure.front_upper"))
    out.append(
        length("crash_structure.length", "left.crash_structure.front_upper", "left.crash_structure.bolt_2", along="x")
    )
    out.append({"id": "roll_hoop.height", "height": "roll_hoop.top"})
    return out


def stanced_measures(points: set[str]) -> list[dict[str, object]]:
    """The same rods again where another stance shows them: their lengths must come out the same."""
    from longlens.demo.asked import length

    out: list[dict[str, object]] = []
    for stance in ("hanging", "turning"):
        for side in ("left", "right"):
            for name, a, b in (
                ("track_rod", "track_rod.inner", "track_rod.outer"),
                ("pushrod", "pushrod.inner", "pushrod.outer"),
            ):
                pa = f"{side}.front.{a}@{stance}"
                if pa not in points:
                    pa = f"{side}.front.{a}"
                out.append(length(f"{side}.front.{name}@{stance}", pa, f"{side}.front.{b}@{stance}"))
    return out


def rods_to_measure() -> list[tuple[str, str, str, str]]:
    """Rods whose diameters are worth asking: measure, part, the point where edges are marked, a second point."""
    out = []
    for side in ("left", "right"):
        out += [
            (
                f"{side}.front.pushrod.diameter",
                f"{side}.front.pushrod",
                f"{side}.front.pushrod.band_outer",
                f"{side}.front.pushrod.band_inner",
            ),
            (
                f"{side}.front.track_rod.diameter",
                f"{side}.front.track_rod",
                f"{side}.front.track_rod.band_outer",
                f"{side}.front.track_rod.band_inner",
            ),
            (
                f"{side}.rear.pushrod.diameter",
                f"{side}.rear.pushrod",
                f"{side}.rear.pushrod.band_outer",
                f"{side}.rear.pushrod.band_inner",
            ),
            (
                f"{side}.cooler.collector_start.foot_diameter",
                f"{side}.cooler.collector_start#0",
                f"{side}.cooler.collector_start.foot",
                f"{side}.cooler.collector_start.head",
            ),
            (
                f"{side}.cooler.collector_start.head_diameter",
                f"{side}.cooler.collector_start#1",
                f"{side}.cooler.collector_start.head",
                f"{side}.cooler.collector_start.foot",
            ),
        ]
        for pipe in ("feed_pipe", "return_pipe"):
            p = f"{side}.{pipe}"
            out.append((f"{p}.diameter", p, f"{p}.tape_1", f"{p}.tape_2"))
    return out
