"""Solids of one corner's linkage at its solved position: wishbones, rods, rocker; drive shaft and steering rack."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from longlens.demo import details as d
from longlens.demo.mechanics import Corner, CornerState
from longlens.demo.model import Model
from longlens.demo.solids import (
    Array,
    Mesh,
    blade,
    frame,
    lathe,
    merge,
    outline_round,
    plate,
    rod,
    tube,
    unit,
)


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
        _wishbone(m, where, level, s, look)
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
    _rod_foot(m, where, c, s, look)
    _rocker(m, where, c, s, look)


def _wishbone(m: Model, where: str, level: str, s: CornerState, look: Look) -> None:
    """The upper or lower wishbone with its joints and brackets."""
    j = s.joints
    ahead = np.array([1.0, 0, 0])
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


def _rod_foot(m: Model, where: str, c: Corner, s: CornerState, look: Look) -> None:
    """The foot of the push- or pullrod on its wishbone."""
    ahead = np.array([1.0, 0, 0])
    ro = s.joints["rod_outer"]
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


def _in_plane(p: Array, o: Array, n: Array) -> Array:
    F = frame(n, np.array([1.0, 0, 0]))
    return np.array([(p - o) @ F[0], (p - o) @ F[1]])


def _leg(a: Array, b: Array, look: Look) -> Mesh:
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
