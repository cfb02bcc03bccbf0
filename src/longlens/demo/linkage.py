"""Solids of one corner's linkage at its solved position: wishbones, rods, rocker, springs, bar, drive shaft."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from longlens.demo import details as d
from longlens.demo.mechanics import Corner, CornerState
from longlens.demo.model import Model
from longlens.demo.solids import Array, Mesh, box, frame, lathe, merge, plate, rod, spline, tube, unit
from longlens.demo.wheels import outline_round


@dataclass(frozen=True)
class Look:
    """Sizes and materials of a corner's rods, m."""

    arm_chord: float = 0.034
    arm_thick: float = 0.015
    arm: str = "carbon_matt"
    rod_diameter: float = 0.018
    rod: str = "carbon_matt"
    tie_diameter: float = 0.015
    tie: str = "carbon_matt"
    tie_name: str = "track_rod"
    rod_name: str = "pushrod"
    rocker: str = "rocker"
    rocker_thick: float = 0.007
    link_diameter: float = 0.008
    chassis_y: float = 0.20
    faired: bool = True


def add_linkage(m: Model, where: str, c: Corner, s: CornerState, look: Look) -> None:
    """All links of a corner with their joints, named points and rods."""
    j = s.joints
    ahead = np.array([1.0, 0, 0])
    for level in ("upper", "lower"):
        outer = j[f"{level}_outer"]
        name = f"{where}.{level}_wishbone"
        legs: list[Mesh] = []
        steel: list[Mesh] = []
        nuts: list[Mesh] = []
        ends = {}
        for leg in ("front", "rear"):
            inner = j[f"{level}_{leg}"]
            e = unit(outer - inner)
            b = outer - e * 0.020
            a = inner + e * 0.030
            if look.faired:
                legs.append(_leg(a, b, look))
            else:
                legs.append(rod(a, b, look.arm_thick / 2, 24))
            s_mesh, nut = d.rod_end(inner, outer, ahead if abs(e[0]) < 0.8 else (0, 0, 1), 0.0125)
            steel.append(s_mesh)
            nuts.append(nut)
            ends[leg] = b
        across = unit(ends["front"] - ends["rear"])
        n = unit(np.cross(across, outer - ends["rear"]))
        toes = [_in_plane(ends[leg] + unit(j[f"{level}_{leg}"] - outer) * 0.035, outer, n) for leg in ("front", "rear")]
        apex = outline_round([np.zeros(2), *toes], [0.021, 0.010, 0.010])
        F = frame(n, ahead)
        legs.append(plate(apex, outer, F[0], F[1], look.arm_thick * 1.15, 0.004))
        m.add(f"{name}.legs", merge(legs), look.arm)
        m.add(f"{name}.joints", merge(steel), "steel")
        m.add(f"{name}.nuts", merge(nuts), "steel_dark")
        for leg in ("front", "rear"):
            inner = j[f"{level}_{leg}"]
            root = inner.copy()
            root[1] = min(inner[1] - 0.022, look.chassis_y + (0.0 if level == "lower" else 0.012))
            m.add(f"{name}.{leg}_bracket", d.clevis(inner, root, ahead), "machined")
            m.point(f"{name}.{leg}_inner", inner, 0.014, 0.8)
        m.point(f"{name}.outer", outer, 0.018, 0.7, moves=True)
        for leg in ("front", "rear"):
            m.rod(
                f"{name}.{leg}_leg",
                f"{name}.{leg}_inner",
                f"{name}.outer",
                look.arm_thick,
                j[f"{level}_{leg}"],
                outer,
            )
    _two_force(
        m,
        f"{where}.{look.tie_name}",
        j["tie_inner"],
        j["tie_outer"],
        look.tie_diameter,
        look.tie,
        (0, 0, 1),
        (0, 0, 1),
        moving_inner=where == "front",
    )
    _two_force(
        m,
        f"{where}.{look.rod_name}",
        j["rod_inner"],
        j["rod_outer"],
        look.rod_diameter,
        look.rod,
        turn_pin(c, s),
        ahead,
        moving_inner=True,
    )
    # the foot of the push- or pullrod on its wishbone
    ro = j["rod_outer"]
    drop, width = (-0.030, 0.018) if c.rod_on == "lower" else (0.012, 0.010)
    m.add(
        f"{where}.{look.rod_name}.foot",
        merge(
            [
                plate(
                    outline_round([np.zeros(2), np.array([0.0, drop])], [0.012, width]),
                    ro + ahead * k * 0.011,
                    (0, 1, 0),
                    (0, 0, 1),
                    0.004,
                    0.0008,
                )
                for k in (-1, 1)
            ]
        ),
        "machined",
    )
    _rocker(m, where, c, s, look)


def _in_plane(p: Array, o: Array, n: Array) -> Array:
    F = frame(n, np.array([1.0, 0, 0]))
    return np.array([(p - o) @ F[0], (p - o) @ F[1]])


def _leg(a: Array, b: Array, look: Look) -> Mesh:
    from longlens.demo.solids import blade

    return blade(a, b, look.arm_chord, look.arm_thick, (1.0, 0, -0.06))


def turn_pin(c: Corner, s: CornerState) -> Array:
    """The pin at the rod's inner joint: along the rocker's axis."""
    return unit(c.rocker_axis)


def _two_force(
    m: Model,
    name: str,
    inner: Array,
    outer: Array,
    diameter: float,
    material: str,
    pin_in: ArrayLike,
    pin_out: ArrayLike,
    moving_inner: bool,
) -> None:
    e = unit(outer - inner)
    size = diameter * 0.68
    a, b = inner + e * size * 2.6, outer - e * size * 2.6
    L = float(np.linalg.norm(b - a))
    t = np.array([0, 0.002, 0.02, 0.05, 1 - 0.05, 1 - 0.02, 1 - 0.002, 1])
    r = diameter / 2 * np.array([0.72, 0.80, 0.84, 1, 1, 0.84, 0.80, 0.72])
    m.add(f"{name}.bar", tube(a + t[:, None] * (b - a), r, 32), material)
    s1, n1 = d.rod_end(inner, outer, pin_in, size)
    s2, n2 = d.rod_end(outer, inner, pin_out, size)
    m.add(f"{name}.joints", merge([s1, s2]), "steel")
    m.add(f"{name}.nuts", merge([n1, n2]), "steel_dark")
    bands = [
        lathe(
            [
                (-0.004, diameter / 2),
                (-0.004, diameter / 2 + 0.0005),
                (0.004, diameter / 2 + 0.0005),
                (0.004, diameter / 2),
            ],
            a + e * L * k,
            e,
            32,
        )
        for k in (0.12, 0.88)
    ]
    m.add(f"{name}.bands", merge(bands), "mustard")
    for where, k in (("inner", 0.12), ("outer", 0.88)):
        m.point(f"{name}.band_{where}", a + e * L * k, diameter / 2 + 0.002, 0.7, moves=True)
    m.point(f"{name}.inner", inner, size * 1.1, 0.75, moves=moving_inner)
    m.point(f"{name}.outer", outer, size * 1.1, 0.75, moves=True)
    m.rod(name, f"{name}.inner", f"{name}.outer", diameter, inner, outer)


def _rocker(m: Model, where: str, c: Corner, s: CornerState, look: Look) -> None:
    j = s.joints
    n = unit(c.rocker_axis)
    pivot = c.rocker_pivot
    F = frame(n, j["rod_inner"] - pivot)

    def flat(p: Array) -> Array:
        return np.array([(p - pivot) @ F[0], (p - pivot) @ F[1]])

    arms = {"rod": j["rod_inner"]} | {k[6:]: v for k, v in j.items() if k.startswith("lever_")}
    plates = []
    for p in arms.values():
        q = flat(p)
        off = (p - pivot) @ n
        for sgn in (-1, 1):
            o = pivot + n * (off + sgn * (look.rocker_thick / 2 + 0.0085))
            plates.append(
                plate(
                    outline_round([np.zeros(2), q], [0.021, 0.0115]),
                    o,
                    F[0],
                    F[1],
                    look.rocker_thick * 0.75,
                    0.0012,
                )
            )
        if abs(off) > 0.004:
            plates.append(rod(pivot, pivot + n * off, 0.017, 30))
    spread = [float((p - pivot) @ n) for p in arms.values()]
    lo, hi = min(spread) - 0.018, max(spread) + 0.018
    hub = lathe(
        [(lo, 0.0), (lo, 0.0155), (lo + 0.002, 0.0175), (hi - 0.002, 0.0175), (hi, 0.0155), (hi, 0.0)],
        pivot,
        n,
        40,
    )
    m.add(f"{where}.rocker", merge([*plates, hub]), look.rocker)
    pins = [rod(p - n * 0.017, p + n * 0.017, 0.0048, 20, 0.0008) for p in arms.values()]
    pins += [d.bolt(p + n * 0.0155, n, 0.006) for p in arms.values()] + [
        d.bolt(p - n * 0.0155, -n, 0.006) for p in arms.values()
    ]
    pins += [d.bolt(pivot + n * hi, n, 0.011), d.bolt(pivot + n * lo, -n, 0.011)]
    m.add(f"{where}.rocker.pins", merge(pins), "steel")
    m.point(
        f"{where}.rocker.pivot",
        pivot,
        0.024,
        0.6,
    )
    for k, p in arms.items():
        if k != "rod":
            m.point(f"{where}.rocker.{k}", p, 0.013, 0.7, moves=True)


def add_bar_link(m: Model, where: str, s: CornerState, diameter: float) -> None:
    """The drop link from rocker to the anti-roll bar's arm."""
    a, b = s.joints["lever_bar"], s.joints["bar_arm"]
    e = unit(b - a)
    m.add(f"{where}.bar_link.bar", rod(a + e * 0.008, b - e * 0.008, diameter / 2, 20), "steel_dark")
    s1, n1 = d.rod_end(a, b, (1, 0, 0), 0.0085)
    s2, n2 = d.rod_end(b, a, (0, 1, 0), 0.0085)
    m.add(f"{where}.bar_link.joints", merge([s1, s2]), "steel")
    m.add(f"{where}.bar_link.nuts", merge([n1, n2]), "steel_dark")
    m.point(f"{where}.bar_link.upper", b, 0.0095, 0.7, moves=True)
    m.rod(f"{where}.bar_link", f"{where}.rocker.bar", f"{where}.bar_link.upper", diameter, a, b)


def add_bar(m: Model, where: str, left: CornerState, right: CornerState, diameter: float, blade: float = 0.0) -> None:
    """The bar itself and its two arms; both corners are given as left ones."""
    flip = np.array([1.0, -1.0, 1.0])
    pl, pr = left.joints["bar_pivot"], right.joints["bar_pivot"] * flip
    a, b = pl + np.array([0, 0.022, 0]), pr - np.array([0, 0.022, 0])
    solids = [rod(a, b, diameter / 2, 28, 0.001)]
    for end in (a, b):
        solids.append(
            lathe(
                [(-0.010, 0), (-0.010, diameter * 0.72), (0.010, diameter * 0.72), (0.010, 0)],
                end,
                (0, 1, 0),
                36,
            )
        )
    m.add(f"{where}.anti_roll_bar", merge(solids), "steel_dark")
    for sgn, st in ((1, left), (-1, right)):
        p = st.joints["bar_pivot"] * ([1, sgn, 1])
        q = st.joints["bar_arm"] * ([1, sgn, 1])
        foot = p.copy()
        foot[1] = q[1]
        e = unit(q - foot)
        arm = plate(
            outline_round([np.zeros(2), np.array([0, float(np.linalg.norm(q - foot))])], [diameter * 0.62, 0.0085]),
            foot,
            np.cross(e, [0, 1.0, 0]),
            e,
            max(blade, 0.007),
            0.001,
        )
        with m.side(0):
            m.add(f"{'left' if sgn > 0 else 'right'}.{where}.anti_roll_bar.arm", arm, "anodised")
        bearing = merge(
            [
                lathe(
                    [
                        (-0.009, diameter / 2),
                        (-0.009, diameter / 2 + 0.007),
                        (0.009, diameter / 2 + 0.007),
                        (0.009, diameter / 2),
                    ],
                    p + np.array([0, -sgn * 0.03, 0]),
                    (0, 1, 0),
                    36,
                ),
                box(p + np.array([0, -sgn * 0.030, -0.016]), (0.044, 0.018, 0.012), 0.003),
                d.bolt(p + np.array([0.016, -sgn * 0.030, -0.010]), (0, 0, 1), 0.005),
                d.bolt(p + np.array([-0.016, -sgn * 0.030, -0.010]), (0, 0, 1), 0.005),
            ]
        )
        m.add(f"{'left' if sgn > 0 else 'right'}.{where}.anti_roll_bar.bearing", bearing, "machined")
    for sgn, p in ((1, a), (-1, b)):
        with m.side(sgn):
            m.point(f"{where}.anti_roll_bar.end", p * [1, sgn, 1], 0.014, 0.6)
    m.rods[f"{where}.anti_roll_bar"] = {
        "ends": [f"left.{where}.anti_roll_bar.end", f"right.{where}.anti_roll_bar.end"],
        "length_m": float(np.linalg.norm(a - b)),
        "diameter_m": diameter,
        "xyz_m": [a.tolist(), b.tolist()],
    }


def add_torsion_bar(m: Model, where: str, c: Corner, length: float, diameter: float) -> None:
    """A torsion bar from the rocker along its axis backwards, splined into an anchor."""
    n = unit(c.rocker_axis)
    n = n if n[0] < 0 else -n
    a, b = c.rocker_pivot + n * 0.020, c.rocker_pivot + n * length
    s = np.array([0, 0.06, 0.09, 0.91, 0.94, 1.0])
    m.add(
        f"{where}.torsion_bar",
        tube(a + s[:, None] * (b - a), diameter / 2 * np.array([1.35, 1.35, 1, 1, 1.35, 1.35]), 28),
        "spring_steel",
    )
    teeth = [
        rod(b - n * 0.020 + v, b + n * 0.004 + v, 0.0012, 8)
        for v in (
            frame(n)[0] * np.cos(w) * diameter * 0.69 + frame(n)[1] * np.sin(w) * diameter * 0.69
            for w in np.linspace(0, 2 * np.pi, 18, endpoint=False)
        )
    ]
    m.add(f"{where}.torsion_bar.splines", merge(teeth), "spring_steel")
    anchor = merge(
        [
            lathe(
                [(-0.013, diameter * 0.75), (-0.013, 0.020), (0.013, 0.020), (0.013, diameter * 0.75)],
                b - n * 0.013,
                n,
                40,
            ),
            box(b - n * 0.013 + np.array([0, 0.010, -0.020]), (0.026, 0.062, 0.018), 0.004),
            d.bolt(b - n * 0.013 + np.array([0, 0.031, -0.012]), (0, 0, 1), 0.006),
            d.bolt(b - n * 0.013 + np.array([0, -0.012, -0.012]), (0, 0, 1), 0.006),
        ]
    )
    m.add(f"{where}.torsion_bar.anchor", anchor, "machined")
    m.point(f"{where}.torsion_bar.anchor", b, 0.014, 0.75)
    m.rod(
        f"{where}.torsion_bar",
        f"{where}.rocker.pivot",
        f"{where}.torsion_bar.anchor",
        diameter,
        c.rocker_pivot,
        b,
    )


def add_rocker_mount(m: Model, where: str, c: Corner, floor: Array) -> None:
    """Bearing blocks that carry the rocker's pivot over its deck or beside its case."""
    n = unit(c.rocker_axis)
    for sgn in (-1, 1):
        o = c.rocker_pivot + n * sgn * 0.034
        drop = floor - o
        drop = drop - n * (drop @ n)
        L = float(np.linalg.norm(drop))
        e = unit(drop)
        F0 = np.cross(e, n)
        body = plate(
            outline_round([np.zeros(2), np.array([-0.012, L]), np.array([0.012, L])], [0.021, 0.008, 0.008]),
            o,
            F0,
            e,
            0.010,
            0.0015,
        )
        m.add(
            f"{where}.rocker.mount_{'a' if sgn < 0 else 'b'}",
            merge([body, d.bolt(o + n * sgn * 0.005, n * sgn, 0.012)]),
            "machined",
        )


def add_heave(m: Model, where: str, left: Array, right: Array, kind: str) -> None:
    """The element between the two rockers: a coil spring round a damper, or a stack of disc springs in a sleeve."""
    if kind == "coil":
        for key, mesh in d.spring_damper(left, right, 0.019, 0.028, 0.0046, 6.5).items():
            m.add(
                f"{where}.heave.{key}",
                mesh,
                {
                    "body": "aluminium",
                    "shaft": "steel",
                    "spring": "spring_yellow",
                    "ring": "anodised",
                    "steel": "steel",
                }[key],
            )
    else:
        e = unit(right - left)
        L = float(np.linalg.norm(right - left))
        body = lathe(
            [
                (0.022, 0),
                (0.022, 0.016),
                (0.030, 0.023),
                (L * 0.42, 0.023),
                (L * 0.42 + 0.004, 0.018),
                (L * 0.42 + 0.004, 0),
            ],
            left,
            e,
            44,
        )
        stack = []
        z0, z1 = L * 0.44, L - 0.05
        k = 14
        p = (z1 - z0) / k
        for i in range(k):
            z = z0 + i * p
            a, b = (0.011, 0.022) if i % 2 == 0 else (0.022, 0.011)
            stack.append(lathe([(z, 0.010), (z + 0.0005, a), (z + p * 0.55, b), (z + p * 0.9, 0.010)], left, e, 40))
        cap = lathe(
            [
                (z1, 0.0),
                (z1, 0.024),
                (z1 + 0.010, 0.024),
                (z1 + 0.018, 0.012),
                (L - 0.016, 0.0075),
                (L - 0.016, 0),
            ],
            left,
            e,
            40,
        )
        m.add(f"{where}.heave.body", merge([body, cap]), "anodised")
        m.add(f"{where}.heave.stack", merge(stack), "steel")
        pin = frame(e)[0]
        m.add(
            f"{where}.heave.steel",
            merge([d.rod_end(left, right, pin, 0.0105)[0], d.rod_end(right, left, pin, 0.0105)[0]]),
            "steel",
        )
    m.rods[f"{where}.heave"] = {
        "ends": [f"left.{where}.rocker.heave", f"right.{where}.rocker.heave"],
        "length_m": float(np.linalg.norm(left - right)),
        "diameter_m": 0.046 if kind != "coil" else 0.038,
        "xyz_m": [left.tolist(), right.tolist()],
    }


def add_spring(m: Model, where: str, s: CornerState, chassis: Array, colour: str = "spring_yellow") -> None:
    """A coil-over from the rocker to the chassis."""
    a = s.joints["lever_spring"]
    for key, mesh in d.spring_damper(chassis, a).items():
        m.add(
            f"{where}.spring.{key}",
            mesh,
            {"body": "aluminium", "shaft": "steel", "spring": colour, "ring": "anodised", "steel": "steel"}[key],
        )
    m.point(f"{where}.spring.chassis", chassis, 0.013, 0.7)
    m.rod(f"{where}.spring", f"{where}.spring.chassis", f"{where}.rocker.spring", 0.042, chassis, a)


def add_drive_shaft(m: Model, where: str, s: CornerState, inner: Array, out_offset: float) -> None:
    """Shaft with two joints in rubber boots, from the final drive to the hub."""
    outer = s.joints["wheel_centre"] - s.wheel_axis * out_offset
    e = unit(outer - inner)
    L = float(np.linalg.norm(outer - inner))
    m.add(f"{where}.drive_shaft", rod(inner + e * 0.05, outer - e * 0.05, 0.0125, 30), "steel_dark")
    for p, dirn in ((inner, e), (outer, -e)):
        prof = [(0.0, 0.0), (0.0, 0.047), (0.004, 0.049), (0.032, 0.049), (0.036, 0.045)]
        m.add(f"{where}.drive_shaft.joint", lathe(prof, p, dirn, 48), "steel")
        z = np.linspace(0.036, 0.110, 60)
        r = 0.045 - (z - 0.036) / 0.074 * 0.029 + 0.0035 * np.sin((z - 0.036) / 0.074 * 2 * np.pi * 5)
        m.add(f"{where}.drive_shaft.boot", lathe(np.stack([z, r], 1), p, dirn, 48), "rubber")
        m.add(
            f"{where}.drive_shaft.band",
            lathe([(0.105, 0.018), (0.105, 0.0195), (0.112, 0.0195), (0.112, 0.018)], p, dirn, 36),
            "steel",
        )
        for w in np.linspace(0, 2 * np.pi, 6, endpoint=False):
            F = frame(dirn)
            m.add(
                f"{where}.drive_shaft.bolts",
                d.bolt(p + 0.040 * (np.cos(w) * F[0] + np.sin(w) * F[1]) - dirn * 0.0005, -dirn, 0.006),
                "steel_dark",
            )
    m.rods[m.named(f"{where}.drive_shaft")] = {
        "ends": [],
        "length_m": L,
        "diameter_m": 0.025,
        "xyz_m": [m.placed(inner).tolist(), m.placed(outer).tolist()],
    }


def add_rack(m: Model, where: str, left: Array, right: Array, half: float) -> None:
    """A steering rack between two track rod joints: housing, shaft, boots."""
    z, x = left[2], left[0]
    m.add(
        f"{where}.rack.housing",
        merge(
            [
                rod((x, half, z), (x, -half, z), 0.019, 36, 0.002),
                lathe([(-0.026, 0), (-0.026, 0.027), (0.026, 0.027), (0.026, 0)], (x, 0.06, z), (0, 1, 0), 40),
                rod((x, 0.06, z), (x - 0.045, 0.06, z + 0.040), 0.017, 30),
            ]
        ),
        "machined",
    )
    for p, sgn in ((left, 1), (right, -1)):
        y0, y1 = half, abs(p[1]) - 0.012
        yy = np.linspace(0, max(y1 - y0, 0.01), 40)
        r = 0.0165 + 0.0022 * np.sin(yy / max(y1 - y0, 0.01) * 2 * np.pi * 6)
        m.add(f"{where}.rack.boot", lathe(np.stack([yy, r], 1), (x, sgn * half, z), (0, sgn, 0), 36), "rubber")
        m.add(f"{where}.rack.shaft", rod((x, sgn * y1, z), (x, p[1], z), 0.009, 24), "steel")


def brake_hose(m: Model, where: str, start: Array, end: Array) -> None:
    """A braided hose from the tub to the caliper, with its unions."""
    mid = (start + end) / 2 + np.array([0.0, 0.0, 0.055])
    p = spline([start, start + np.array([0, 0.045, 0.012]), mid, end + np.array([0, -0.040, 0.012]), end], 14)
    m.add(f"{where}.brake_hose", tube(p, 0.0042, 14), "braided")
    for q, e in ((p[0], p[1] - p[0]), (p[-1], p[-2] - p[-1])):
        m.add(
            f"{where}.brake_hose.union",
            lathe([(-0.004, 0), (-0.004, 0.0075), (0.010, 0.0075), (0.012, 0.0052), (0.022, 0.0050)], q, e, 6),
            "anodised",
        )
