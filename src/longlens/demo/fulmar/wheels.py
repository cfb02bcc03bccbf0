"""The Fulmar's wheels, and the test car's ducts to the front brakes."""

from __future__ import annotations

import numpy as np

from longlens.demo import wheels as wh
from longlens.demo.brakes import add_brake_hose
from longlens.demo.fulmar.shape import FRONT_TYRE, REAR_TYRE
from longlens.demo.mechanics import CornerState, vec
from longlens.demo.model import Model
from longlens.demo.solids import spline, tube


def _front_spec(shown: bool) -> wh.WheelSpec:
    return wh.WheelSpec(
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


def _rear_spec(shown: bool) -> wh.WheelSpec:
    return wh.WheelSpec(
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


def add_wheels(m: Model, fronts: tuple[CornerState, CornerState], rear: CornerState, shown: bool) -> None:
    """The wheels on their uprights, with brake hoses in front."""
    spec = _front_spec(shown)
    for sgn, s in ((1, fronts[0]), (-1, fronts[1])):
        with m.side(sgn):
            centre = s.joints["wheel_centre"]
            wh.add_wheel(m, "front", spec, s, 0.4 + 0.5 * sgn, m.ground)
            wh.add_upright(m, "front", s, spec)
            on_hub = centre - s.wheel_axis * 0.02 + s.R @ vec(-0.115, -0.045, 0.02)
            add_brake_hose(m, "front", vec(-0.10, 0.225, 0.395), on_hub)
            if not shown:
                _add_brake_duct(m, s)
            wh.add_contact(m, "front", centre, FRONT_TYRE)
    spec = _rear_spec(shown)
    for sgn in m.both_sides():
        wh.add_wheel(m, "rear", spec, rear, 0.9 + 0.3 * sgn, m.ground)
        wh.add_upright(m, "rear", rear, spec)
        wh.add_contact(m, "rear", rear.joints["wheel_centre"], REAR_TYRE)


def _add_brake_duct(m: Model, s: CornerState) -> None:
    """A scoop inboard of the upright."""
    axis = s.wheel_axis
    ahead = s.R @ vec(1, 0, 0)
    up = s.R @ vec(0, 0, 1)
    o = s.joints["wheel_centre"] - axis * 0.085 + up * 0.062
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
