"""Axes and signs of the suspension, named once.

Vehicle axes as in ISO 8855: x forward, y to the left, z up. Angles in rad, lengths in m. All of the physics is
written for a *left* corner; a right one is its reflection in the plane y = 0 (:func:`mirror`), its rack travel negated.

===================== ==================================================================== ====================
quantity              what it is                                                           positive when
===================== ==================================================================== ====================
travel                wheel centre's height over the body, less that of the design position the wheel rises (bump)
rack                  the rack's travel along y                                            the rack moves left
spin axis             unit vector along the wheel's axle, pointing out of the car          —
camber                lean of the wheel against the normal of the ground                   the top leans out
toe                   turn of the wheel about z                                            the front points in
steer                 turn of the wheel about z                                            to the left
caster                lean of the steering axis seen from the side                         its top leans back
kingpin inclination   lean of the steering axis seen from the front                        its top leans in
scrub radius          steering axis to contact centre at the ground, along the axle        the axis meets the
                      (ISO 8855: steering-axis offset at ground)                           ground inboard
mechanical trail      contact centre to steering axis at the ground, along the heading     the axis meets the
                      (ISO 8855: castor offset at ground)                                  ground ahead
roll                  turn of the body about x                                             the left side rises
===================== ==================================================================== ====================

Source of terms and signs: ISO 8855:2011 (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension.vectors import Array

FORWARD = np.array([1.0, 0.0, 0.0])
LEFT = np.array([0.0, 1.0, 0.0])
UP = np.array([0.0, 0.0, 1.0])


def mirror(points: ArrayLike) -> Array:
    """Reflection in the car's centre plane; points (..., 3)."""
    return np.asarray(points, float) * np.array([1.0, -1.0, 1.0])


def camber(spin: ArrayLike, normal: ArrayLike = UP) -> Array:
    """Camber of a wheel from its outward spin axis (..., 3), against a ground with that normal; rad (...)."""
    return -np.arcsin(np.clip(np.sum(np.asarray(spin, float) * np.asarray(normal, float), axis=-1), -1.0, 1.0))


def steer(spin: ArrayLike) -> Array:
    """Steer angle of a left wheel from its outward spin axis (..., 3), about z; rad (...), positive to the left."""
    s = np.asarray(spin, float)
    return np.arctan2(-s[..., 0], s[..., 1])


def toe(spin: ArrayLike) -> Array:
    """Toe of a left wheel, rad (...), positive in: its steer angle with the sign turned."""
    return -steer(spin)


def caster(axis: ArrayLike) -> Array:
    """Caster of a steering axis (..., 3) that points up; rad (...)."""
    k = np.asarray(axis, float)
    return np.arctan2(-k[..., 0], k[..., 2])


def kingpin_inclination(axis: ArrayLike) -> Array:
    """Kingpin inclination of a left corner's steering axis (..., 3) that points up; rad (...)."""
    k = np.asarray(axis, float)
    return np.arctan2(-k[..., 1], k[..., 2])
