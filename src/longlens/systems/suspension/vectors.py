"""Vectors in space as three arrays of any broadcastable shape.

A ``Vec`` is the tuple (x, y, z). Kept apart, the components need no copies and stay contiguous: for hundreds of
thousands of positions that is several times faster than arrays (..., 3), which is the form at the public edge.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[Any]
Vec = tuple[Any, Any, Any]


def split(points: ArrayLike) -> Vec:
    """(..., 3) to a Vec."""
    p = np.asarray(points, float)
    return np.array(p[..., 0]), np.array(p[..., 1]), np.array(p[..., 2])  # contiguous copies


def join(v: Vec) -> Array:
    """A Vec to (..., 3)."""
    return np.stack(np.broadcast_arrays(*v), axis=-1).astype(float, copy=False)


def add(a: Vec, b: Vec) -> Vec:
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


def sub(a: Vec, b: Vec) -> Vec:
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def scale(a: Vec, k: Any) -> Vec:
    return a[0] * k, a[1] * k, a[2] * k


def along(a: Vec, k: Any, d: Vec) -> Vec:
    """a + k d"""
    return a[0] + k * d[0], a[1] + k * d[1], a[2] + k * d[2]


def dot(a: Vec, b: Vec) -> Any:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def norm(a: Vec) -> Any:
    return np.sqrt(dot(a, a))


def unit(a: Vec) -> Vec:
    """Direction of a; NaN for a zero vector, without a warning (callers check lengths first)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return scale(a, 1.0 / norm(a))


def square_to(n: Vec) -> Vec:
    """A unit vector square to the unit vector n: the axis of the car that n is least along, made square."""
    x = np.where(np.abs(n[0]) < 0.6, 1.0, 0.0)
    return unit(cross(n, (x, 0.0 * x, 1.0 - x)))
