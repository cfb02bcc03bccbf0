"""A wheel and what sits inside it: tyre with tread and lettering, rim with spokes, disc, caliper, hub and upright."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.demo import details as d
from longlens.demo.mechanics import CornerState
from longlens.demo.model import Model
from longlens.demo.solids import Array, Mesh, box, frame, lathe, merge, plate, ramp, rod, spline, tube, unit

INCH = 0.0254


@dataclass(frozen=True)
class Tyre:
    """A tyre by its designation: section width (m), aspect (%), rim (inch); and the rim's width between flanges, inch.

    Overall diameter = rim diameter + 2 · width · aspect (ETRTO's rule). The true one differs by ``grown``.
    """

    width: float
    aspect: float
    rim_inch: float
    rim_width_inch: float
    grown: float = 0.0

    @property
    def designation(self) -> str:
        return f"{self.width * 1000:.0f}/{self.aspect:.0f} R {self.rim_inch:.0f}"

    @property
    def nominal_diameter(self) -> float:
        return self.rim_inch * INCH + 2 * self.width * self.aspect / 100

    @property
    def diameter(self) -> float:
        return self.nominal_diameter + self.grown

    @property
    def flange_diameter(self) -> float:
        """True outer diameter of the rim's flanges, m: the nominal one less a little, as rims come."""
        return self.nominal_flange_diameter - 0.0006

    @property
    def nominal_flange_diameter(self) -> float:
        """Nominal diameter + 2 × 17.3 mm (flange J, ISO 4000-2; from memory), m."""
        return self.rim_inch * INCH + 2 * 0.0173

    @property
    def face_offset(self) -> float:
        """From the wheel's middle plane to the outer face of the outer flange, m."""
        return self.rim_width_inch * INCH / 2 + 0.0125


def tyre_meshes(t: Tyre, blocks: int, grooves: int, treaded: bool) -> tuple[Mesh, Mesh, Mesh]:
    """Tread, outer sidewall (with texture coordinates), inner sidewall; wheel axis +z, middle plane z = 0."""
    from longlens.demo.solids import grid

    R, W = t.diameter / 2, t.width
    flange, half_rim = t.flange_diameter / 2, t.face_offset
    tw = W * 0.43
    bead = (half_rim - 0.006, flange - 0.004)
    wall = spline(
        [
            (tw, R - 0.0045, 0),
            (tw + 0.007, R - 0.010, 0),
            (W * 0.487, R - 0.30 * (R - flange), 0),
            (W * 0.5, R - 0.52 * (R - flange), 0),
            (W * 0.488, R - 0.76 * (R - flange), 0),
            (half_rim + 0.001, flange + 0.006, 0),
            (bead[0], bead[1], 0),
        ],
        8,
    )[:, :2]
    z = np.linspace(-tw, tw, 97)
    n = blocks * 16 if treaded else 360
    r0 = R - 0.0045 * np.abs(z / tw) ** 4
    w = np.linspace(0, 2 * np.pi, n, endpoint=False)
    depth = np.zeros((n, len(z)))
    if treaded:
        # ribs between grooves round the tyre, cut across by slots staggered from rib to rib; all on the grid's lines
        at = (np.arange(grooves) - (grooves - 1) / 2) / grooves * 1.7 * tw
        rib = np.searchsorted(at, z)
        step = (np.arange(n)[:, None] + np.where(rib % 2 == 0, 0, 8)[None]) % 16
        slot = np.isin(step, (7, 8)).astype(float) + 0.5 * np.isin(step, (6, 9))
        outer_rib = (rib == 0) | (rib == grooves)
        depth = np.clip(slot, 0, 1) * np.where(outer_rib, 0.0052, 0.0040)[None] * (np.abs(z) < 0.985 * tw)[None]
        for g in at:
            depth = np.maximum(depth, 0.0060 * np.clip(1.6 - np.abs(z - g) / 0.0034, 0, 1)[None])
    rr = r0[None] - depth
    P = np.stack([np.cos(w)[:, None] * rr, np.sin(w)[:, None] * rr, np.broadcast_to(z, rr.shape)], -1)
    tread = grid(P, close_u=True)
    outer = lathe(wall, (0, 0, 0), (0, 0, 1), 241, hint=(0, 1, 0), uv=True)
    inner = lathe(np.stack([-wall[::-1, 0], wall[::-1, 1]], 1), (0, 0, 0), (0, 0, 1), 160, hint=(0, 1, 0))
    rings = [
        lathe(
            [(t_ - 0.0012, r_ + 0.0016), (t_ + 0.0014, r_), (t_ - 0.0012, r_ - 0.0016)],
            (0, 0, 0),
            (0, 0, 1),
            160,
            hint=(0, 1, 0),
        )
        for t_, r_ in (
            (np.interp(-(R - 0.34 * (R - flange)), -wall[:, 1], wall[:, 0]), R - 0.34 * (R - flange)),
            (np.interp(-(R - 0.86 * (R - flange)), -wall[:, 1], wall[:, 0]), R - 0.86 * (R - flange)),
        )
    ]
    return tread, outer, merge([inner, *rings])


def rim_meshes(t: Tyre, spokes: int, dish: float, twin: bool) -> dict[str, Mesh]:
    """Barrel with flanges, spokes and centre, wheel axis +z: meshes by material key."""
    b, f = t.face_offset, t.flange_diameter / 2
    seat = t.rim_inch * INCH / 2
    outside = [
        (-b, f - 0.0025),
        (-b + 0.002, f),
        (-b + 0.0075, f - 0.001),
        (-b + 0.011, seat + 0.004),
        (-b + 0.034, seat - 0.001),
        (-b + 0.046, seat - 0.012),
        (b - 0.060, seat - 0.014),
        (b - 0.040, seat - 0.001),
        (b - 0.011, seat + 0.004),
        (b - 0.0075, f - 0.001),
        (b - 0.002, f),
        (b, f - 0.0025),
    ]
    inside = [
        (b, f - 0.0025),
        (b - 0.001, f - 0.0065),
        (b - 0.0045, seat - 0.004),
        (b - 0.040, seat - 0.010),
        (b - 0.060, seat - 0.021),
        (-b + 0.046, seat - 0.019),
        (-b + 0.032, seat - 0.009),
        (-b + 0.003, seat + 0.003),
        (-b, f - 0.0025),
    ]
    barrel = lathe(outside + inside[1:], (0, 0, 0), (0, 0, 1), 128, hint=(0, 1, 0))
    hub_z = b - dish
    arms = []
    for k in range(spokes):
        for off in (-0.075, 0.075) if twin else (0.0,):
            w = 2 * np.pi * k / spokes + off * 0.9
            w1 = 2 * np.pi * k / spokes + off * 1.7
            e0 = np.array([np.cos(w), np.sin(w), 0])
            e1 = np.array([np.cos(w1), np.sin(w1), 0])
            p = spline(
                [
                    e0 * 0.046 + [0, 0, hub_z - 0.004],
                    e0 * 0.085 + [0, 0, hub_z + 0.004],
                    e1 * (seat * 0.72) + [0, 0, b - 0.030],
                    e1 * (seat - 0.016) + [0, 0, b - 0.026],
                ],
                7,
            )
            s = np.linspace(0, 1, len(p))
            arms.append(tube(p, ramp(s, [0, 0.3, 0.8, 1], [0.0125, 0.0085, 0.0078, 0.0125]), 18, flat=1.15))
    centre = lathe(
        [
            (hub_z - 0.034, 0.0),
            (hub_z - 0.034, 0.070),
            (hub_z - 0.012, 0.066),
            (hub_z + 0.001, 0.056),
            (hub_z + 0.002, 0.040),
            (hub_z - 0.010, 0.036),
            (hub_z - 0.010, 0),
        ],
        (0, 0, 0),
        (0, 0, 1),
        64,
        hint=(0, 1, 0),
    )
    z = hub_z - 0.008
    nut = merge(
        [
            lathe(
                [(z, 0), (z, 0.0375), (z + 0.006, 0.0375), (z + 0.007, 0.034), (z + 0.012, 0.0335), (z + 0.012, 0.0)],
                (0, 0, 0),
                (0, 0, 1),
                12,
                hint=(0, 1, 0),
            ),
            lathe(
                [(z + 0.010, 0.029), (z + 0.030, 0.027), (z + 0.032, 0.025), (z + 0.032, 0.017), (z + 0.012, 0.017)],
                (0, 0, 0),
                (0, 0, 1),
                40,
                hint=(0, 1, 0),
            ),
        ]
    )
    pin = merge(
        [
            rod((0.0, -0.020, z + 0.022), (0.0, 0.020, z + 0.022), 0.0028, 14),
            lathe(
                [(z + 0.004, 0.0), (z + 0.024, 0.012), (z + 0.026, 0.0)],
                (0, 0, 0),
                (0, 0, 1),
                24,
                hint=(0, 1, 0),
            ),
        ]
    )
    pegs = merge(
        [
            rod(
                (0.056 * np.cos(w), 0.056 * np.sin(w), hub_z - 0.01),
                (0.056 * np.cos(w), 0.056 * np.sin(w), hub_z + 0.0045),
                0.0052,
                16,
                0.001,
            )
            for w in np.linspace(0, 2 * np.pi, 6, endpoint=False) + 0.3
        ]
    )
    valve_w = 0.62
    e = np.array([np.cos(valve_w), np.sin(valve_w), 0])
    valve = rod(e * (seat - 0.012) + [0, 0, b - 0.034], e * (seat - 0.030) + [0, 0, b - 0.020], 0.0035, 12, 0.001)
    weights = merge(
        [
            box(
                (np.cos(w) * (seat - 0.0105), np.sin(w) * (seat - 0.0105), b - 0.0365 + 0.004),
                (0.004, 0.019, 0.013),
                0.001,
                np.array([[np.cos(w), np.sin(w), 0], [-np.sin(w), np.cos(w), 0], [0, 0, 1]]),
            )
            for w in (2.1, 2.24)
        ]
    )
    return {
        "rim": merge([barrel, *arms, centre]),
        "nut": nut,
        "steel": merge([pin, pegs]),
        "valve": valve,
        "lead": weights,
    }


def disc_meshes(radius: float, thick: float, z: float) -> dict[str, Mesh]:
    """A vented disc on its bell, wheel axis +z."""
    r0, h = radius * 0.64, thick / 2
    ring = lathe(
        [(z - h, r0), (z - h, radius - 0.001), (z - h + 0.001, radius), (z - h * 0.4, radius)],
        (0, 0, 0),
        (0, 0, 1),
        120,
        hint=(0, 1, 0),
    )
    ring2 = lathe(
        [(z + h * 0.4, radius), (z + h - 0.001, radius), (z + h, radius - 0.001), (z + h, r0)],
        (0, 0, 0),
        (0, 0, 1),
        120,
        hint=(0, 1, 0),
    )
    inner = lathe([(z + h, r0), (z - h, r0)], (0, 0, 0), (0, 0, 1), 120, hint=(0, 1, 0))
    core = lathe(
        [
            (z - h * 0.4, radius),
            (z - h * 0.4, radius - 0.012),
            (z + h * 0.4, radius - 0.012),
            (z + h * 0.4, radius),
        ],
        (0, 0, 0),
        (0, 0, 1),
        120,
        hint=(0, 1, 0),
    )
    vanes = [
        box(
            (np.cos(w) * (radius - 0.007), np.sin(w) * (radius - 0.007), z),
            (0.012, 0.0022, h * 0.9),
            0.0005,
            np.array([[np.cos(w), np.sin(w), 0], [-np.sin(w), np.cos(w), 0], [0, 0, 1]]),
            k=1,
        )
        for w in np.linspace(0, 2 * np.pi, 60, endpoint=False)
    ]
    bell = lathe(
        [
            (z - 0.002, r0 - 0.018),
            (z - 0.002, r0 - 0.008),
            (z + 0.004, r0 - 0.006),
            (z + 0.030, r0 - 0.020),
            (z + 0.032, 0.035),
        ],
        (0, 0, 0),
        (0, 0, 1),
        80,
        hint=(0, 1, 0),
    )
    bell2 = lathe(
        [(z + 0.029, 0.035), (z + 0.027, r0 - 0.023), (z - 0.002, r0 - 0.018)],
        (0, 0, 0),
        (0, 0, 1),
        80,
        hint=(0, 1, 0),
    )
    bobbins = merge(
        [
            rod(
                (np.cos(w) * (r0 - 0.003), np.sin(w) * (r0 - 0.003), z - h - 0.001),
                (np.cos(w) * (r0 - 0.003), np.sin(w) * (r0 - 0.003), z + h + 0.0015),
                0.0062,
                16,
                0.001,
            )
            for w in np.linspace(0, 2 * np.pi, 12, endpoint=False)
        ]
    )
    return {"disc": merge([ring, ring2, inner, core, *vanes]), "bell": merge([bell, bell2]), "steel": bobbins}


def caliper_meshes(radius: float, thick: float, z: float, middle: float, span: float = 0.95) -> dict[str, Mesh]:
    """A caliper round the disc's rim, its middle at an angle about the wheel axis +z (rad from the frame's e1)."""
    ro, ri = radius + 0.022, radius * 0.70
    h = thick / 2 + 0.026
    prof = [
        (z - h, ri + 0.006),
        (z - h, ro - 0.012),
        (z - h + 0.009, ro),
        (z + h - 0.009, ro),
        (z + h, ro - 0.012),
        (z + h, ri + 0.006),
        (z + h - 0.006, ri),
        (z + 0.012, ri),
        (z + 0.012, radius + 0.004),
        (z - 0.012, radius + 0.004),
        (z - 0.012, ri),
        (z - h + 0.006, ri),
    ]
    body = lathe(
        prof,
        (0, 0, 0),
        (0, 0, 1),
        36,
        arc=(middle - span / 2, middle + span / 2),
        hint=(0, 1, 0),
        closed=True,
    )
    F = frame((0, 0, 1), (0, 1, 0))
    ends, bits, steel = [], [], []
    p = np.array(prof)
    from longlens.demo.solids import polygon_faces

    for s in (-1, 1):
        w = middle + s * span / 2
        e = np.cos(w) * F[0] + np.sin(w) * F[1]
        ring = p[:, :1] * F[2] + p[:, 1:] * e
        q = p if 0.5 * np.sum(p[:, 0] * np.roll(p[:, 1], -1) - np.roll(p[:, 0], -1) * p[:, 1]) > 0 else p[::-1]
        tri = polygon_faces(q)
        ring = q[:, :1] * F[2] + q[:, 1:] * e
        # (axis, radius) plane: its normal axis × radial is tangential
        look = np.cross(F[2], e) @ (np.cross(F[2], e) * s)
        ends.append(Mesh(ring, tri if look > 0 else tri[:, ::-1]))
    for k in (-0.30, 0.0, 0.30):
        w = middle + k * span
        e = np.cos(w) * F[0] + np.sin(w) * F[1]
        for s in (-1, 1):
            bits.append(
                lathe(
                    [(0, 0.021), (0.004, 0.020), (0.006, 0.017), (0.006, 0)],
                    e * (ri + 0.026) + F[2] * (z + s * (h - 0.001)),
                    F[2] * s,
                    30,
                )
            )
    for k in (-0.44, 0.44, 0.15, -0.15):
        w = middle + k * span
        e = np.cos(w) * F[0] + np.sin(w) * F[1]
        steel.append(d.bolt(e * (ro - 0.008) + F[2] * (z + h - 0.004), F[2], 0.007))
        steel.append(d.bolt(e * (ro - 0.001) + F[2] * (z + 0.010), e, 0.005))
    w = middle + 0.40 * span
    e = np.cos(w) * F[0] + np.sin(w) * F[1]
    steel.append(
        rod(
            e * (ri + 0.04) - F[2] * (h - z - 0.002),
            e * (ri + 0.04) - F[2] * (h - z + 0.018),
            0.0035,
            12,
            0.001,
        )
    )
    pads = [
        lathe(
            [
                (z + a, radius * 0.72),
                (z + a, radius - 0.002),
                (z + a + 0.011, radius - 0.002),
                (z + a + 0.011, radius * 0.72),
            ],
            (0, 0, 0),
            (0, 0, 1),
            24,
            arc=(middle - span * 0.40, middle + span * 0.40),
            hint=(0, 1, 0),
            closed=True,
        )
        for a in (thick / 2, -thick / 2 - 0.011)
    ]
    return {"caliper": merge([body, *ends, *bits]), "steel": merge(steel), "pad": merge(pads)}


def outline_round(points: list[Array], radii: list[float]) -> Array:
    """The convex outline round several circles (plane points and radii), counter-clockwise."""
    from scipy.spatial import ConvexHull

    w = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    q = np.vstack([p + r * np.stack([np.cos(w), np.sin(w)], 1) for p, r in zip(points, radii, strict=True)])
    return q[ConvexHull(q).vertices]


@dataclass(frozen=True)
class WheelSpec:
    """How a wheel and its brake look."""

    tyre: Tyre
    disc_radius: float
    disc_thick: float
    caliper_angle: float
    spokes: int = 8
    twin: bool = True
    dish: float = 0.075
    treaded: bool = True
    blocks: int = 60
    grooves: int = 3
    rim: str = "rim_graphite"
    nut: str = "nut"
    caliper: str = "caliper"
    lettering: str = "sidewall"


def add_wheel(
    m: Model,
    where: str,
    spec: WheelSpec,
    s: CornerState,
    spin: float,
    ground: tuple[float, float],
    moves: bool = True,
) -> None:
    """Wheel, brake and hub of one corner at its solved place. ``ground``: its height and slope dz/dx."""
    c, axis = s.joints["wheel_centre"], s.wheel_axis
    up = s.R @ np.array([0, 0, 1.0])
    F = frame(axis, up)  # rows e1, e2, e3 = axis
    G = np.stack([np.cos(spin) * F[0] + np.sin(spin) * F[1], -np.sin(spin) * F[0] + np.cos(spin) * F[1], F[2]])

    def put(mesh: Mesh, turning: bool = True) -> Mesh:
        return mesh.moved((G if turning else F).T, c)

    t = spec.tyre
    tread, outer, inner = tyre_meshes(t, spec.blocks, spec.grooves, spec.treaded)
    if m._side < 0 and outer.uv is not None:
        outer = Mesh(outer.v, outer.f, np.stack([1 - outer.uv[:, 0], outer.uv[:, 1]], 1))

    def squashed(mesh: Mesh) -> Mesh:
        v = mesh.v.copy()
        floor = ground[0] + ground[1] * v[:, 0] + 0.0004
        v[:, 2] = np.maximum(v[:, 2], floor)
        return Mesh(v, mesh.f, mesh.uv)

    m.add(f"{where}.tyre.tread", squashed(put(tread)), "tread")
    m.add(f"{where}.tyre.sidewall", squashed(put(outer)), spec.lettering)
    m.add(f"{where}.tyre.inner", squashed(put(inner)), "rubber")
    for key, mesh in rim_meshes(t, spec.spokes, spec.dish, spec.twin).items():
        mat = {"rim": spec.rim, "nut": spec.nut, "steel": "steel", "valve": "black", "lead": "aluminium"}[key]
        m.add(f"{where}.rim.{key}", put(mesh), mat)
    z = t.face_offset - spec.dish - 0.075
    for key, mesh in disc_meshes(spec.disc_radius, spec.disc_thick, z).items():
        m.add(f"{where}.disc.{key}", put(mesh), {"disc": "disc", "bell": "anodised", "steel": "steel"}[key])
    for key, mesh in caliper_meshes(spec.disc_radius, spec.disc_thick, z, spec.caliper_angle).items():
        m.add(
            f"{where}.caliper.{key}",
            put(mesh, False),
            {"caliper": spec.caliper, "steel": "steel", "pad": "pad"}[key],
        )
    hub = lathe(
        [
            (z - 0.085, 0.0),
            (z - 0.085, 0.030),
            (z - 0.075, 0.046),
            (z - 0.012, 0.050),
            (z + 0.002, 0.062),
            (z + 0.034, 0.062),
            (z + 0.034, 0),
        ],
        (0, 0, 0),
        (0, 0, 1),
        48,
        hint=(0, 1, 0),
    )
    m.add(f"{where}.hub", put(hub), "steel_dark")
    # markable: the rim's outer flange circle, the tyre's outer tread edge, the disc
    face = c + axis * (t.face_offset - 0.002)  # the crest of the outer flange
    m.circle(f"{where}.rim", face, axis, t.flange_diameter / 2, moves)
    m.circle(f"{where}.tyre", c + axis * t.width * 0.43, axis, t.diameter / 2 - 0.0045, moves)
    m.circle(f"{where}.disc", c + axis * (z + spec.disc_thick / 2), axis, spec.disc_radius - 0.0005, moves)
    m.point(f"{where}.wheel_centre", c, 0.02, 0.2, moves=moves, buried=True)
    m.point(f"{where}.rim_centre", face, 0.03, 0.2, moves=moves, buried=True)
    z_nut = t.face_offset - spec.dish - 0.008 + 0.032
    m.point(f"{where}.hub_nut", c + axis * z_nut, 0.022, 0.7, moves=moves)


def add_upright(m: Model, where: str, s: CornerState, spec: WheelSpec) -> None:
    """Upright with its bearing housing, ears to the ball joints and arm to the track rod."""
    j = s.joints
    c, axis = j["wheel_centre"], s.wheel_axis
    z = spec.tyre.face_offset - spec.dish - 0.075
    back = c + axis * (z - 0.052)
    up = s.R @ np.array([0, 0, 1.0])
    e2 = unit(up - axis * (up @ axis))
    e1 = np.cross(e2, axis)

    def flat(p: Array) -> Array:
        q = p - back
        return np.array([q @ e1, q @ e2])

    U, L, T = flat(j["upper_outer"]), flat(j["lower_outer"]), flat(j["tie_outer"])
    solid = []
    side = np.array([0.030, 0.0])
    for sgn in (-1, 1):  # two webs, so that one sees between them
        o = outline_round([U + sgn * side * 0.75, sgn * side * 1.35, L + sgn * side * 0.8], [0.010, 0.014, 0.011])
        solid.append(plate(o, back, e1, e2, 0.020, 0.003))
    solid.append(plate(outline_round([np.zeros(2)], [0.062]), back, e1, e2, 0.030, 0.004))
    solid.append(lathe([(-0.030, 0.0), (-0.030, 0.044), (-0.024, 0.052), (0.034, 0.054), (0.034, 0.0)], back, axis, 48))
    o = outline_round([T, T * 0.45 + U * 0.1], [0.013, 0.022])
    solid.append(plate(o, back - axis * 0.002, e1, e2, 0.014, 0.003))
    for key, q, p in (
        ("upper", U, j["upper_outer"]),
        ("lower", L, j["lower_outer"]),
        ("tie", T, j["tie_outer"]),
    ):
        foot = back + e1 * q[0] + e2 * q[1]
        size = (0.026, 0.052 if key != "tie" else 0.026, float(np.linalg.norm(p - foot)) + 0.018)
        block = box((foot + p) / 2, size, 0.005, frame(p - foot, e1))
        solid.append(block)
        for k in (-1, 1):
            if key != "tie":
                solid.append(d.bolt(foot + e1 * 0.018 * k - axis * 0.012, -axis, 0.006))
    m.add(f"{where}.upright", merge(solid), "machined")
    for name, p in (("upper", j["upper_outer"]), ("lower", j["lower_outer"])):
        dirn = e2 if name == "upper" else -e2
        ball = merge(
            [
                rod(p - dirn * 0.020, p + dirn * 0.020, 0.0075, 20, 0.001),
                lathe([(-0.0085, 0.0), (-0.0085, 0.0165), (0.0085, 0.0165), (0.0085, 0.0)], p, dirn, 36),
                d.bolt(p + dirn * 0.019, dirn, 0.008),
            ]
        )
        m.add(f"{where}.{name}_ball_joint", ball, "steel")
        lugs = merge([box(p + dirn * k * 0.0155, (0.030, 0.030, 0.006), 0.003, frame(dirn, e1)) for k in (-1, 1)])
        m.add(f"{where}.{name}_ball_joint.lugs", lugs, "machined")


def add_contact(m: Model, where: str, centre: Array, t: Tyre) -> None:
    """The outer edge of the contact patch, under the wheel centre: only where the ground is the frame's own."""
    if m.ground == (0.0, 0.0):
        m.point(f"{where}.contact_outer", [centre[0], centre[1] + t.width * 0.455, 0.0], 0.012, 0.25, on="ground")
