"""The Gannet's corners as designed, and its links: pullrods at both ends, the springs low down."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from longlens.demo import linkage as li
from longlens.demo import springing as sp
from longlens.demo.gannet.shape import (
    CAMBER_FRONT,
    CAMBER_REAR,
    HALF_FRONT,
    HALF_REAR,
    LOADED_FRONT,
    LOADED_REAR,
    WHEELBASE,
)
from longlens.demo.mechanics import Corner, CornerState, rocker_for, unit, vec
from longlens.demo.model import Model
from longlens.demo.solids import box

#: Where the springs stand.
SPRING_FRONT = vec(-0.362, 0.350, 0.268)
SPRING_REAR = vec(-WHEELBASE + 0.385, 0.288, 0.252)


def corners(stage: str) -> tuple[Corner, Corner]:
    """Front and rear left corners as designed."""
    return _front_corner(stage == "shown"), _rear_corner()


def _front_corner(shown: bool) -> Corner:
    outer = vec(-0.010, 0.618 if shown else 0.600, 0.402)
    pivot = vec(-0.030, 0.352, 0.232)
    axis, rod_joint, spring_joint = rocker_for(pivot, outer, SPRING_FRONT, 0.056, 0.082, pulled=True)
    away = unit(pivot - spring_joint)
    bar = pivot + away * 0.052
    tangent = unit(np.cross(axis, away))
    tangent = tangent if tangent[0] > 0 else -tangent
    arm = bar + tangent * 0.210
    return Corner(
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


def _rear_corner() -> Corner:
    x = -WHEELBASE
    outer = vec(x + 0.020, 0.606, 0.424)
    pivot = vec(x + 0.095, 0.282, 0.222)
    axis, rod_joint, spring_joint = rocker_for(pivot, outer, SPRING_REAR, 0.056, 0.084, pulled=True)
    return Corner(
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


#: Of the front links; the rear ones differ a little.
_LOOK = li.Look(
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


def add_front_links(m: Model, c: Corner, fl: CornerState, fr: CornerState, shown: bool) -> None:
    """The front axle's links, springs, bar and rack."""
    for sgn, s in ((1, fl), (-1, fr)):
        with m.side(sgn):
            li.add_linkage(m, "front", c, s, _LOOK)
            sp.add_spring(m, "front", s, SPRING_FRONT)
            sp.add_bar_link(m, "front", s, 0.009)
            li.add_rocker_mount(m, "front", c, c.rocker_pivot + vec(0, -0.045, -0.05))
            bracket = box(SPRING_FRONT + vec(-0.012, -0.030, -0.030), (0.045, 0.085, 0.075), 0.008)
            m.add("front.spring.bracket", bracket, "machined")
    sp.add_bar(m, "front", fl, fr, 0.0142 if shown else 0.0125, 0.008)
    flip = vec(1, -1, 1)
    li.add_rack(m, "front", fl.joints["tie_inner"], fr.joints["tie_inner"] * flip, 0.235)


def add_rear_links(m: Model, c: Corner, s: CornerState) -> None:
    """The rear axle's links, springs and drive shafts."""
    look = replace(_LOOK, tie_name="toe_link", chassis_y=0.238, rod_diameter=0.019)
    for _ in m.both_sides():
        li.add_linkage(m, "rear", c, s, look)
        sp.add_spring(m, "rear", s, SPRING_REAR)
        li.add_rocker_mount(m, "rear", c, c.rocker_pivot + vec(0, -0.055, -0.04))
        li.add_drive_shaft(m, "rear", s, vec(-WHEELBASE - 0.035, 0.185, 0.300), 0.125)
