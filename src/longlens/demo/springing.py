"""Solids of what springs a corner or an axle: coil springs, torsion bar, heave element, anti-roll bar with its links."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.mechanics import Corner, CornerState
from longlens.demo.model import Model
from longlens.demo.solids import (
    Array,
    box,
    frame,
    lathe,
    merge,
    outline_round,
    plate,
    rod,
    tube,
    unit,
)


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


def add_heave(m: Model, where: str, left: Array, right: Array, kind: str) -> None:
    """The element between the two rockers: a coil spring round a damper, or a stack of disc springs in a sleeve."""
    if kind == "coil":
        materials = {
            "body": "aluminium",
            "shaft": "steel",
            "spring": "spring_yellow",
            "ring": "anodised",
            "steel": "steel",
        }
        for key, mesh in d.spring_damper(left, right, 0.019, 0.028, 0.0046, 6.5).items():
            m.add(f"{where}.heave.{key}", mesh, materials[key])
    else:
        _disc_springs(m, where, left, right)
    m.rods[f"{where}.heave"] = {
        "ends": [f"left.{where}.rocker.heave", f"right.{where}.rocker.heave"],
        "length_m": float(np.linalg.norm(left - right)),
        "diameter_m": 0.046 if kind != "coil" else 0.038,
        "xyz_m": [left.tolist(), right.tolist()],
    }


def _disc_springs(m: Model, where: str, left: Array, right: Array) -> None:
    """A stack of disc springs in a sleeve between two joints."""
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
