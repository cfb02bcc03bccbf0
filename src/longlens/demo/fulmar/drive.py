"""The Fulmar's drive: battery, inverter, drive unit with its motors, the rear crash structure, the cover over it all."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.fulmar.shape import COVER, WHEELBASE, upper_paint
from longlens.demo.fulmar.suspension import SPRING_CHASSIS
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import Loft
from longlens.demo.solids import box, lathe, merge, plate, spline, tube


def add_drive(m: Model, shown: bool) -> None:
    """All behind the cockpit."""
    _add_battery(m)
    _add_inverter(m)
    _add_drive_unit(m)
    _add_rear_crash_structure(m)
    _add_engine_cover(m, shown)


def _add_battery(m: Model) -> None:
    m.add("battery.case", box(vec(-1.76, 0, 0.205), (0.40, 0.50, 0.30), 0.012), "battery")
    for y in np.linspace(-0.22, 0.22, 12):
        m.add("battery.rib", box(vec(-1.76, y, 0.357), (0.37, 0.008, 0.008), 0.003), "battery")
    for _ in m.both_sides():
        for i, xx in enumerate((-1.585, -1.70, -1.82, -1.935)):
            m.add("battery.bolt", d.bolt(vec(xx, 0.238, 0.356), vec(0, 0, 1), 0.006), "steel")
            if i in (0, 3):
                m.point(f"battery.bolt_{i + 1}", vec(xx, 0.238, 0.361), 0.007, 0.9)
        _add_traction_cable(m)


def _add_traction_cable(m: Model) -> None:
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


def _add_inverter(m: Model) -> None:
    m.add("inverter", box(vec(-1.74, 0, 0.415), (0.27, 0.24, 0.10), 0.012), "cast")
    for y in np.linspace(-0.10, 0.10, 11):
        m.add("inverter.fin", box(vec(-1.74, y, 0.475), (0.25, 0.005, 0.024), 0.0015), "cast")


def _add_drive_unit(m: Model) -> None:
    x = -WHEELBASE
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
    for _ in m.both_sides():
        _add_motor(m)
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


def _add_motor(m: Model) -> None:
    """A motor's end on the drive unit's flank."""
    x = -WHEELBASE
    m.add(
        "drive_unit.motor",
        lathe(
            [(0.0, 0.0), (0.0, 0.118), (0.010, 0.124), (0.075, 0.124), (0.080, 0.118), (0.086, 0.07), (0.086, 0)],
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


def _add_rear_crash_structure(m: Model) -> None:
    x = -WHEELBASE
    crash = Loft(
        x=[x - 0.235, x - 0.50], w=[0.095, 0.058], z0=[0.16, 0.205], z1=[0.335, 0.310], n_up=[6, 6], n_low=[6, 6]
    )
    m.add("rear_crash_structure", crash.whole(x - 0.235, x - 0.50, 30, 100), "carbon_weave")
    m.add("lamp.rear", box(vec(x - 0.503, 0, 0.258), (0.014, 0.085, 0.055), 0.005), "lamp_red")
    m.add("lamp.rear.frame", box(vec(x - 0.498, 0, 0.258), (0.016, 0.097, 0.067), 0.006), "black")
    for _ in m.both_sides():
        m.point("rear_crash_structure.rear_upper", crash.at(x - 0.498, 0.74), 0.010, 0.6)
        m.point("lamp.rear.corner_upper", vec(x - 0.506, 0.0475, 0.2905), 0.008, 0.7)


def _add_engine_cover(m: Model, shown: bool) -> None:
    with m.group("*engine_cover"):
        m.add("engine_cover", COVER.panel(-1.37, -2.94, -0.02, np.pi + 0.02, 0.003, 130, 120), upper_paint(shown))
        if shown:
            fin = [(-1.75, 0.86), (-2.60, 0.90), (-2.66, 0.88), (-2.60, 0.59), (-2.05, 0.74)]
            m.add(
                "engine_cover.fin",
                plate(np.array(fin), vec(0, 0, 0), vec(1, 0, 0), vec(0, 0, 1), 0.007, 0.002, 0.03),
                "paint_slate",
            )
        for _ in m.both_sides():
            for i, x in enumerate((-1.46, -1.75, -2.10, -2.45)):
                p = COVER.at(x, 0.08)
                fastener = d.fastener(p, COVER.outward(x, 0.08))
                m.add(f"engine_cover.fastener_{i + 1}", fastener, "steel", "*engine_cover")
                m.point(f"engine_cover.fastener_{i + 1}", p, 0.008, 1.0)
