"""What the wheel does: camber, toe, steering axis, contact centre, instant axes, roll centre, anti-dive and its kin.

Each function takes a :class:`Motion` (or a :class:`Twist`) and gives arrays of its shape; signs as in :mod:`.axes`.
The tyre is a thin disc of its loaded radius: its width and deflection are left out (limit: contact centre at large
camber).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension import axes
from longlens.systems.suspension.axes import UP
from longlens.systems.suspension.kinematics import Motion
from longlens.systems.suspension.vectors import Array
from longlens.systems.suspension.velocity import Twist


def camber(m: Motion, normal: ArrayLike = UP) -> Array:
    """Camber against a ground with that normal (..., 3) in body axes, rad."""
    return axes.camber(m.spin, normal)


def toe(m: Motion) -> Array:
    """Toe, positive in, rad."""
    return axes.toe(m.spin)


def steer(m: Motion) -> Array:
    """Steer angle, positive to the left, rad."""
    return axes.steer(m.spin)


def contact(m: Motion, normal: ArrayLike = UP) -> Array:
    """Contact centre (..., 3), m: from the wheel centre one loaded radius down the wheel's plane (ISO 8855)."""
    n, s = np.asarray(normal, float), m.spin
    down = n - np.sum(n * s, axis=-1, keepdims=True) * s
    down = down / np.linalg.norm(down, axis=-1, keepdims=True)
    return m.point("wheel.centre") - m.corner.radius[..., None] * down


class SteeringAxis(NamedTuple):
    """Unit vector (..., 3) that points up, and a place (..., 3) on the axis, m."""

    direction: Array
    place: Array


def steering_axis(m: Motion, by_rack: Twist | None = None) -> SteeringAxis:
    """The line the upright turns about when steered.

    Through the two ball joints (double wishbone), through lower ball joint and top mount (strut), or, for a
    five-link, the instant screw axis of the upright for a small rack travel at constant wheel height (``by_rack`` is
    needed then).
    """
    if m.corner.layout == "five_link":
        if by_rack is None:
            raise ValueError("a five-link's steering axis needs the twist per rack travel")
        direction, place, _ = screw(by_rack)
        flip = np.where(direction[..., 2:] < 0, -1.0, 1.0)
        return SteeringAxis(direction * flip, place)
    top = m.point("strut.top" if m.corner.layout == "strut" else "upper_wishbone.outer")
    low = m.point("lower_wishbone.outer")
    d = top - low
    return SteeringAxis(d / np.linalg.norm(d, axis=-1, keepdims=True), low)


def screw(t: Twist) -> tuple[Array, Array, Array]:
    """Instant axis of a twist: unit direction (..., 3), the place on it nearest the wheel centre (..., 3), pitch
    (m/rad).

    NaN where the upright does not turn (parallel motion): there is no axis then.
    """
    size2 = np.sum(t.omega**2, axis=-1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        size2 = np.where(size2 > 1e-16, size2, np.nan)
        place = t.motion.point("wheel.centre") + np.cross(t.omega, t.centre) / size2
        pitch = np.sum(t.omega * t.centre, axis=-1) / size2[..., 0]
        return t.omega / np.sqrt(size2), place, pitch


def at_ground(m: Motion, axis: SteeringAxis, normal: ArrayLike = UP) -> tuple[Array, Array]:
    """Scrub radius and mechanical trail, m (...): where the steering axis meets the ground under the wheel."""
    n = np.asarray(normal, float)
    c = contact(m, n)
    with np.errstate(divide="ignore", invalid="ignore"):
        k = np.sum((c - axis.place) * n, axis=-1) / np.sum(axis.direction * n, axis=-1)
    d = axis.place + k[..., None] * axis.direction - c
    out = m.spin - np.sum(m.spin * n, axis=-1, keepdims=True) * n
    out = out / np.linalg.norm(out, axis=-1, keepdims=True)
    return -np.sum(d * out, axis=-1), np.sum(d * np.cross(out, n), axis=-1)


def roll_centre_height(m: Motion, by_travel: Twist) -> Array:
    """Height of the roll centre over the ground for equal travel left and right, m (...).

    The line through the contact centre square to its path in the front view meets the centre plane there: h = y ·
    dy/dz of the upright's matter at the contact centre. For a symmetric axle this is also the point at which a
    lateral force does not roll the body (ISO 8855). Limits: rigid links; body upright. For the rolled car see
    :mod:`.axle`.
    """
    c = contact(m)
    u = by_travel.at(c)
    return c[..., 1] * u[..., 1] / u[..., 2]


def roll_centre(left: tuple[Array, Array], right: tuple[Array, Array]) -> Array:
    """Where the two lines of a rolled axle meet in the front view, (..., 2): y, z, m.

    Parameters
    ----------
    left, right : contact centre (..., 3) and velocity of the matter there (..., 3), both in body axes.

    NaN where the lines are parallel.
    """
    (p, u), (q, w) = left, right
    # The line through p square to u in (y, z): (s − p)·u = 0.
    a = np.stack([u[..., 1:], w[..., 1:]], axis=-2)
    b = np.stack([np.sum(p[..., 1:] * u[..., 1:], axis=-1), np.sum(q[..., 1:] * w[..., 1:], axis=-1)], axis=-1)
    det = a[..., 0, 0] * a[..., 1, 1] - a[..., 0, 1] * a[..., 1, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        det = np.where(np.abs(det) > 1e-9, det, np.nan)
        y = (b[..., 0] * a[..., 1, 1] - b[..., 1] * a[..., 0, 1]) / det
        z = (a[..., 0, 0] * b[..., 1] - a[..., 1, 0] * b[..., 0]) / det
    return np.stack([y, z], axis=-1)


def side_slope(m: Motion, by_travel: Twist, *, torque_on_chassis: bool) -> Array:
    """dx/dz in the side view, 1 (...): how far the wheel moves forward per travel.

    Of the matter at the contact centre when the torque of brake or motor acts on the upright (outboard brakes, hub
    motors); of the wheel centre when it acts on the chassis (inboard brakes, drive through half-shafts).
    """
    u = by_travel.centre if torque_on_chassis else by_travel.at(contact(m))
    return u[..., 0] / u[..., 2]


def anti_dive(slope: ArrayLike, wheelbase: ArrayLike, cg_height: ArrayLike, share: ArrayLike) -> Array:
    """Anti-dive of a front axle in braking, 1: the share of the load transfer that the links carry instead of the
    springs.

    By virtual work: share · (dx/dz) · L/h. ``slope`` from :func:`side_slope`; ``share`` the axle's share of the
    braking force.
    """
    return np.asarray(share) * np.asarray(slope) * np.asarray(wheelbase) / np.asarray(cg_height)


def anti_lift(slope: ArrayLike, wheelbase: ArrayLike, cg_height: ArrayLike, share: ArrayLike) -> Array:
    """Anti-lift of a rear axle in braking, 1: −share · (dx/dz) · L/h."""
    return -anti_dive(slope, wheelbase, cg_height, share)


def anti_squat(slope: ArrayLike, wheelbase: ArrayLike, cg_height: ArrayLike, share: ArrayLike) -> Array:
    """Anti-squat of a driven rear axle, 1: −share · (dx/dz) · L/h, ``share`` of the driving force."""
    return -anti_dive(slope, wheelbase, cg_height, share)


def anti_lift_driving(slope: ArrayLike, wheelbase: ArrayLike, cg_height: ArrayLike, share: ArrayLike) -> Array:
    """Anti-lift of a driven front axle in accelerating, 1: share · (dx/dz) · L/h."""
    return anti_dive(slope, wheelbase, cg_height, share)


def ackermann_outer(inner: ArrayLike, track: ArrayLike, wheelbase: ArrayLike) -> Array:
    """Steer of the outer wheel, rad, for which both axles' wheels roll about one point: cot δo = cot δi + t/L.

    ``inner`` is the inner wheel's steer angle as a positive number, rad; track between the steering axes at the
    ground, m.
    """
    i = np.asarray(inner, float)
    return np.arctan2(np.sin(i), np.cos(i) + np.sin(i) * np.asarray(track) / np.asarray(wheelbase))


def ackermann_error(left: ArrayLike, right: ArrayLike, track: ArrayLike, wheelbase: ArrayLike) -> Array:
    """Outer wheel's steer less the ideal one for its inner wheel, rad. ``left``, ``right``: steer angles, both signed
    as ISO.

    Positive: the outer wheel is steered more than rolling about one point wants (towards parallel steer).
    """
    lft, rgt = np.asarray(left, float), np.asarray(right, float)
    turning_left = lft + rgt > 0
    inner = np.where(turning_left, lft, -rgt)
    outer = np.where(turning_left, rgt, -lft)
    return outer - ackermann_outer(inner, track, wheelbase)
