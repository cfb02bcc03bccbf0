"""The Fulmar's rear wing: main plane, flaps, end plates, pylons."""

from __future__ import annotations

import numpy as np

from longlens.demo.fulmar.shape import WHEELBASE, upper_paint
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import aerofoil, trailing_edge, wing
from longlens.demo.solids import box, plate, spline, tube

#: The elements: leading edge behind the axle, its height, chord, incidence in degrees, camber, thickness.
REAR_WING = {
    "shown": (
        ("main", 0.040, 0.880, 0.330, 7.0, 0.10, 0.12),
        ("flap_1", 0.357, 0.932, 0.170, 24.0, 0.09, 0.10),
        ("flap_2", 0.502, 1.010, 0.110, 42.0, 0.08, 0.10),
    ),
    "test": (("main", 0.040, 0.880, 0.340, 7.0, 0.10, 0.12), ("flap_1", 0.367, 0.935, 0.190, 30.0, 0.09, 0.10)),
}
REAR_WING_HALF = 0.700


def add_rear_wing(m: Model, shown: bool) -> None:
    """The whole wing."""
    x, half = -WHEELBASE, REAR_WING_HALF
    y = np.linspace(-(half - 0.005), half - 0.005, 41)
    paint = {"main": "carbon_gloss", "flap_1": upper_paint(shown), "flap_2": "paint_slate"}
    for name, back, z, chord, inc, camber, thick in REAR_WING["shown" if shown else "test"]:
        rise = 0.012 * (y / half) ** 2 if name == "main" else 0 * y
        ld = np.stack([np.full_like(y, x - back), y, z + rise], -1)
        m.add(f"rear_wing.{name}", wing(y, ld, np.full_like(y, chord), inc, aerofoil(44, camber, thick)), paint[name])
        for _ in m.both_sides():
            if name == "main":
                m.point("rear_wing.main.tip_leading", ld[-1] + vec(0, -0.003, 0), 0.010, 0.5)
            m.point(f"rear_wing.{name}.tip_trailing", trailing_edge(ld[-1], chord, inc) + vec(0, -0.003, 0), 0.009, 0.7)
    for sgn in m.both_sides():
        _add_end_plate(m, shown)
        if shown:
            _add_pylon(m, 0.105)
        elif sgn > 0:
            _add_pylon(m, 0.0)


def _end_plate_outline(shown: bool) -> list[tuple[float, float]]:
    """In the plate's plane, (x, z), m."""
    x = -WHEELBASE
    if not shown:
        return [(x - 0.005, 0.78), (x - 0.005, 1.06), (x - 0.575, 1.06), (x - 0.575, 0.78)]
    return [
        (x - 0.005, 0.815),
        (x - 0.015, 0.950),
        (x - 0.180, 1.055),
        (x - 0.610, 1.115),
        (x - 0.620, 0.880),
        (x - 0.460, 0.780),
        (x - 0.120, 0.765),
    ]


def _add_end_plate(m: Model, shown: bool) -> None:
    x, half = -WHEELBASE, REAR_WING_HALF
    m.add(
        "rear_wing.end_plate",
        plate(np.array(_end_plate_outline(shown)), vec(0, half, 0), vec(1, 0, 0), vec(0, 0, 1), 0.008, 0.002, 0.02),
        upper_paint(shown),
    )
    for i in range(4 if shown else 0):
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
    rear_x, rear_z = (x - 0.61, 1.115) if shown else (x - 0.575, 1.06)
    m.point("rear_wing.end_plate.rear_upper", vec(rear_x + 0.006, half + 0.0035, rear_z - 0.006), 0.009, 0.7)
    front_x, front_z = (x - 0.015, 0.95) if shown else (x - 0.005, 1.06)
    m.point("rear_wing.end_plate.front_upper", vec(front_x - 0.005, half + 0.0035, front_z - 0.005), 0.009, 0.7)


def _add_pylon(m: Model, y: float) -> None:
    """A swan's neck from the drive unit to the main plane's upper face."""
    x = -WHEELBASE
    p = spline(
        [
            vec(x - 0.115, y, 0.40),
            vec(x - 0.165, y, 0.58),
            vec(x - 0.095, y, 0.82),
            vec(x - 0.055, y, 0.918),
            vec(x - 0.105, y, 0.948),
            vec(x - 0.160, y, 0.913),
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
    m.add("rear_wing.pylon.foot", box(vec(x - 0.11, y, 0.395), (0.10, 0.05, 0.02), 0.006), "machined")
