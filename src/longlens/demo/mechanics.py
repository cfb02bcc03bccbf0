"""Where every joint of a double-wishbone corner goes when the wheel is bumped and steered: rods keep their lengths.

The demo's own solver, kept apart from the suspension physics on purpose: the pictures must not be drawn with the code
that later explains them. Axes are the vehicle's (x forward, y left, z up, m); a corner is always described as a left
one, and the right one is its reflection with the rack's travel negated.

Model: rigid links, ideal joints, no bushes. Limits: small to usual travel (some 80 mm of bump, 25° of steer); beyond
that Newton's method may find no solution and says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import cast

import numpy as np
from numpy.typing import NDArray

from longlens.errors import NotSolvable

Array = NDArray[np.float64]

_TOLERANCE = 1e-13


def vec(*xyz: float) -> Array:
    """A point or direction as an array."""
    return np.array(xyz, float)


def unit(v: Array) -> Array:
    """The direction of ``v``."""
    return v / np.linalg.norm(v)


def turn(axis: Array, angle: float) -> Array:
    """Rotation matrix (3, 3) about a direction by an angle, rad (Rodrigues)."""
    a = unit(axis)
    K = np.array([[0, -a[2], a[1]], [a[2], 0, -a[0]], [-a[1], a[0], 0]])
    return np.eye(3) + np.sin(angle) * K + (1 - np.cos(angle)) * K @ K


@dataclass(frozen=True)
class Corner:
    """Design position of a left corner's joints, m, and its wheel's axis (pointing outwards).

    ``rod`` is the pushrod or pullrod; ``rod_on`` names the body that carries its outer end. ``lever`` holds further
    points fixed to the rocker. The bar's arm turns about ``bar_axis`` through ``bar_pivot``; its link joins
    ``lever["bar"]`` and ``bar_arm``.
    """

    upper_front: Array
    upper_rear: Array
    upper_outer: Array
    lower_front: Array
    lower_rear: Array
    lower_outer: Array
    tie_inner: Array
    tie_outer: Array
    wheel_centre: Array
    wheel_axis: Array
    rod_outer: Array
    rod_inner: Array
    rocker_pivot: Array
    rocker_axis: Array
    rod_on: str = "lower"
    lever: dict[str, Array] = field(default_factory=dict)
    bar_pivot: Array | None = None
    bar_axis: Array | None = None
    bar_arm: Array | None = None


@dataclass(frozen=True)
class CornerState:
    """A corner in one position: joints by name, the upright's motion (p → R p + t), rocker and bar angles (rad)."""

    joints: dict[str, Array]
    R: Array
    t: Array
    wheel_axis: Array
    rocker_angle: float
    bar_angle: float
    lower_angle: float
    upper_angle: float


def solve(c: Corner, bump: float = 0.0, rack: float = 0.0) -> CornerState:
    """Joints with the wheel centre raised by ``bump`` m in body axes and the rack moved by ``rack`` m to the left.

    Raises
    ------
    NotSolvable : when no position keeps all lengths.
    """
    tie_inner = c.tie_inner + vec(0, rack, 0)
    R, t = _upright(c, bump, tie_inner)
    joints = {k: cast(Array, getattr(c, k)).copy() for k in _FIXED}
    for k in _ON_UPRIGHT:
        joints[k] = R @ getattr(c, k) + t
    joints["tie_inner"] = tie_inner
    lower = _arm_angle(c.lower_front, c.lower_rear, c.lower_outer, joints["lower_outer"])
    upper = _arm_angle(c.upper_front, c.upper_rear, c.upper_outer, joints["upper_outer"])
    if c.rod_on == "upright":
        rod_outer = R @ c.rod_outer + t
    elif c.rod_on == "lower":
        rod_outer = _turned(c.rod_outer, c.lower_front, c.lower_rear - c.lower_front, lower)
    else:
        rod_outer = _turned(c.rod_outer, c.upper_front, c.upper_rear - c.upper_front, upper)
    joints["rod_outer"] = rod_outer
    rod = float(np.linalg.norm(c.rod_inner - c.rod_outer))
    rocker = _hinge(c.rocker_pivot, c.rocker_axis, c.rod_inner, rod_outer, rod, "the rocker")
    joints["rod_inner"] = _turned(c.rod_inner, c.rocker_pivot, c.rocker_axis, rocker)
    for name, p in c.lever.items():
        joints[f"lever_{name}"] = _turned(p, c.rocker_pivot, c.rocker_axis, rocker)
    bar = 0.0
    if c.bar_pivot is not None and c.bar_axis is not None and c.bar_arm is not None:
        link = float(np.linalg.norm(c.lever["bar"] - c.bar_arm))
        bar = _hinge(c.bar_pivot, c.bar_axis, c.bar_arm, joints["lever_bar"], link, "the anti-roll bar")
        joints["bar_arm"] = _turned(c.bar_arm, c.bar_pivot, c.bar_axis, bar)
        joints["bar_pivot"] = c.bar_pivot.copy()
    return CornerState(joints, R, t, R @ c.wheel_axis, rocker, bar, lower, upper)


_FIXED = ("upper_front", "upper_rear", "lower_front", "lower_rear", "rocker_pivot")
_ON_UPRIGHT = ("upper_outer", "lower_outer", "tie_outer", "wheel_centre")


def _upright(c: Corner, bump: float, tie_inner: Array) -> tuple[Array, Array]:
    """The upright's motion: five link lengths and the wheel centre's height, six equations, Newton."""
    body = np.array([c.upper_outer, c.upper_outer, c.lower_outer, c.lower_outer, c.tie_outer])
    frame = np.array([c.upper_front, c.upper_rear, c.lower_front, c.lower_rear, tie_inner])
    static = np.array([c.upper_front, c.upper_rear, c.lower_front, c.lower_rear, c.tie_inner])
    length2 = np.sum((body - static) ** 2, axis=1)
    height = c.wheel_centre[2] + bump
    R, t = np.eye(3), vec(0, 0, bump)
    for _ in range(60):
        p = body @ R.T + t
        d = p - frame
        wc = R @ c.wheel_centre + t
        r = np.append(np.sum(d * d, axis=1) - length2, wc[2] - height)
        if np.max(np.abs(r)) < _TOLERANCE:
            return R, t
        J = np.zeros((6, 6))
        J[:5, 3:] = 2 * d
        J[:5, :3] = 2 * np.cross(p - t, d)  # d·(w × (p−t)) = w·((p−t) × d)
        J[5, 5] = 1
        J[5, :3] = np.cross(wc - t, vec(0, 0, 1))
        step = np.linalg.solve(J, -r)
        angle = float(np.linalg.norm(step[:3]))
        if angle > 0:
            R = turn(step[:3], angle) @ R
        t = t + step[3:]
    if np.max(np.abs(r)) < 50 * _TOLERANCE:
        return R, t
    raise NotSolvable("the links cannot reach this wheel position", needs=["less bump", "less rack travel"])


def _turned(p: Array, pivot: Array, axis: Array, angle: float) -> Array:
    return pivot + turn(axis, angle) @ (p - pivot)


def _arm_angle(front: Array, rear: Array, before: Array, after: Array) -> float:
    """Angle of a wishbone about its inner axis from one outer position to the other, rad."""
    n = unit(rear - front)
    a, b = before - front, after - front
    a, b = a - n * (a @ n), b - n * (b @ n)
    return float(np.arctan2(np.cross(a, b) @ n, a @ b))


def _hinge(pivot: Array, axis: Array, arm: Array, other: Array, length: float, what: str) -> float:
    """The angle at which a point on a hinged body stands ``length`` from ``other``: the root nearest to zero."""
    n = unit(axis)
    angle = 0.0
    for _ in range(60):
        p = _turned(arm, pivot, axis, angle)
        d = p - other
        r = d @ d - length**2
        if abs(r) < _TOLERANCE:
            return angle
        slope = 2 * d @ np.cross(n, p - pivot)
        angle -= float(np.clip(r / slope, -0.3, 0.3))
    if abs(r) < 50 * _TOLERANCE:
        return angle
    raise NotSolvable(f"{what} cannot follow its rod this far", needs=["less bump"])


def rocker_for(
    pivot: Array,
    rod_outer: Array,
    spring_end: Array,
    rod_lever: float,
    spring_lever: float,
    inwards: float = 1.0,
    pulled: bool = False,
) -> tuple[Array, Array, Array]:
    """A rocker laid out as a designer would: its axis square to rod and spring, its levers square to both.

    Returns the axis (unit), the rod's joint and the spring's joint on the rocker. ``inwards`` picks the side on which
    the rod passes the pivot. ``pulled`` is for a rod that draws its joint away from the rocker when the wheel rises: the
    spring's joint then sits on the pivot's other side, so that it is pressed together by either kind of rod.
    """
    axis = unit(np.cross(pivot - rod_outer, spring_end - pivot)) * inwards

    def joint(end: Array, lever: float, sign: float) -> Array:
        # the joint j with |j − pivot| = lever and (end − j) square to (j − pivot), in the rocker's plane
        to = end - pivot
        to = to - axis * (to @ axis)
        reach = float(np.linalg.norm(to))
        along = lever**2 / reach
        side = np.sqrt(max(lever**2 - along**2, 0.0))
        e = to / reach
        return pivot + along * e + sign * side * np.cross(axis, e)

    return axis, joint(rod_outer, rod_lever, 1.0), joint(spring_end, spring_lever, 1.0 if pulled else -1.0)
