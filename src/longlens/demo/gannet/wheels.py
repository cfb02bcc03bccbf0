"""The Gannet's wheels."""

from __future__ import annotations

import numpy as np

from longlens.demo import wheels as wh
from longlens.demo.brakes import add_brake_hose
from longlens.demo.gannet.shape import FRONT_TYRE, REAR_TYRE
from longlens.demo.mechanics import CornerState, vec
from longlens.demo.model import Model


def _front_spec(shown: bool) -> wh.WheelSpec:
    rim = "rim_bronze" if shown else "rim_graphite"
    return wh.WheelSpec(
        FRONT_TYRE, 0.178, 0.030, np.pi * 0.95, spokes=7 if shown else 10, twin=shown, dish=0.066, blocks=72, rim=rim
    )


def _rear_spec(shown: bool) -> wh.WheelSpec:
    return wh.WheelSpec(
        REAR_TYRE,
        0.170,
        0.028,
        np.pi * 0.05,
        spokes=7 if shown else 10,
        twin=shown,
        dish=0.092,
        blocks=74,
        grooves=4,
        rim="rim_bronze" if shown else "rim_graphite",
        lettering="sidewall_rear",
    )


def add_wheels(m: Model, fronts: tuple[CornerState, CornerState], rear: CornerState, shown: bool) -> None:
    """The wheels on their uprights, with brake hoses in front."""
    f, r = _front_spec(shown), _rear_spec(shown)
    for sgn, s in ((1, fronts[0]), (-1, fronts[1])):
        with m.side(sgn):
            wh.add_wheel(m, "front", f, s, 0.2 + 0.4 * sgn, m.ground)
            wh.add_upright(m, "front", s, f)
            c = s.joints["wheel_centre"]
            add_brake_hose(m, "front", vec(-0.26, 0.300, 0.36), c + s.R @ vec(-0.13, -0.06, 0.02))
            wh.add_contact(m, "front", c, FRONT_TYRE)
            wh.add_wheel(m, "rear", r, rear, 0.7 + 0.2 * sgn, m.ground)
            wh.add_upright(m, "rear", rear, r)
            wh.add_contact(m, "rear", rear.joints["wheel_centre"], REAR_TYRE)
