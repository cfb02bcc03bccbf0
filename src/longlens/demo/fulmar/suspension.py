"""The Fulmar's corners as designed, and its links: pushrods at both ends, torsion bars and a heave element in front."""

from __future__ import annotations

import numpy as np

from longlens.demo import linkage as li
from longlens.demo import springing as sp
from longlens.demo.fulmar.shape import (
    CAMBER_FRONT,
    CAMBER_REAR,
    HALF_FRONT,
    HALF_REAR,
    LOADED_FRONT,
    LOADED_REAR,
    WHEELBASE,
)
from longlens.demo.mechanics import Corner, CornerState, rocker_for, vec
from longlens.demo.model import Model

#: Where the rear springs stand on the drive unit.
SPRING_CHASSIS = vec(-WHEELBASE + 0.43, 0.140, 0.520)


def corners(stage: str) -> tuple[Corner, Corner]:
    """Front and rear left corners as designed."""
    return _front_corner(stage == "shown"), _rear_corner()


def _front_corner(shown: bool) -> Corner:
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
    return Corner(
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


def _rear_corner() -> Corner:
    x = -WHEELBASE
    push = vec(x + 0.040, 0.600, 0.186)
    pivot = vec(x + 0.130, 0.152, 0.470)
    axis, rod_joint, spring_joint = rocker_for(pivot, push, SPRING_CHASSIS, 0.062, 0.080)
    return Corner(
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
        rod_outer=push,
        rod_inner=rod_joint,
        rocker_pivot=pivot,
        rocker_axis=axis,
        lever={"spring": spring_joint},
    )


def add_front_links(m: Model, c: Corner, fl: CornerState, fr: CornerState, shown: bool) -> None:
    """The front axle's links, bar, heave element and rack."""
    look = li.Look(chassis_y=0.196, rod_diameter=0.020 if shown else 0.018)
    for sgn, s in ((1, fl), (-1, fr)):
        with m.side(sgn):
            li.add_linkage(m, "front", c, s, look)
            sp.add_bar_link(m, "front", s, 0.009)
            sp.add_torsion_bar(m, "front", c, 0.325, 0.0130)
            li.add_rocker_mount(m, "front", c, c.rocker_pivot + vec(0, 0, -0.028))
    sp.add_bar(m, "front", fl, fr, 0.0165 if shown else 0.0140, 0.008)
    flip = vec(1, -1, 1)
    sp.add_heave(m, "front", fl.joints["lever_heave"], fr.joints["lever_heave"] * flip, "discs" if shown else "coil")
    li.add_rack(m, "front", fl.joints["tie_inner"], fr.joints["tie_inner"] * flip, 0.168)


def add_rear_links(m: Model, c: Corner, s: CornerState) -> None:
    """The rear axle's links, springs and drive shafts."""
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
    for _ in m.both_sides():
        li.add_linkage(m, "rear", c, s, look)
        sp.add_spring(m, "rear", s, SPRING_CHASSIS)
        li.add_rocker_mount(m, "rear", c, c.rocker_pivot + vec(0, -0.02, -0.055))
        li.add_drive_shaft(m, "rear", s, vec(-WHEELBASE - 0.012, 0.168, 0.262), 0.115)
