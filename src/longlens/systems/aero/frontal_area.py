"""Frontal area from an outline drawn on a photograph, with the survey's perspective taken out.

Each corner of the outline is carried along its line of sight to a plane across the car, and the area of the polygon there is
taken. The outline of a car is not in one plane: its parts lie at different distances, so the plane's place along the car is a
draw between the parts that make the outline, and travels as model error. Where a corner lies on a marked point, that point's own
place is used.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from longlens.errors import NotSolvable
from longlens.numbers.streams import Array

#: Beyond this between the line of sight and the car's axis the outline is not the front (rad).
MOST_OBLIQUE = np.radians(14.0)


def carried(centre: ArrayLike, rays: ArrayLike, station: ArrayLike) -> Array:
    """(..., n, 2) places y, z where lines of sight meet the plane x = station.

    centre (..., 3) m, rays (..., n, 3) directions in vehicle axes, station (...) or (..., n) m.
    """
    c, r = np.asarray(centre, float), np.asarray(rays, float)
    s = np.asarray(station, float)
    s = s[..., None] if s.ndim < r.ndim - 1 else s
    along = (s - c[..., None, 0]) / r[..., 0]
    return c[..., None, 1:] + along[..., None] * r[..., 1:]


def polygon(places: ArrayLike) -> Array:
    """Area of plane polygons (..., n, 2), m², whichever way round; it must not cross itself."""
    p = np.asarray(places, float)
    q = np.roll(p, -1, axis=-2)
    return 0.5 * np.abs(np.sum(p[..., 0] * q[..., 1] - q[..., 0] * p[..., 1], axis=-1))


def crosses_itself(path: ArrayLike) -> bool:
    """True where two sides of a closed outline (n, 2) cross."""
    p = np.asarray(path, float)
    n = len(p)
    a, b = p, np.roll(p, -1, axis=0)

    def side(o: Array, d: Array, e: Array) -> float:
        return float((d[0] - o[0]) * (e[1] - o[1]) - (d[1] - o[1]) * (e[0] - o[0]))

    for i in range(n):
        for j in range(i + 2, n):
            if i == 0 and j == n - 1:
                continue
            if (
                side(a[i], b[i], a[j]) * side(a[i], b[i], b[j]) < 0
                and side(a[j], b[j], a[i]) * side(a[j], b[j], b[i]) < 0
            ):
                return True
    return False


def frontal_area(centre: ArrayLike, rays: ArrayLike, station: ArrayLike) -> Array:
    """Frontal area (m²) of draws: camera centres (N, 3), rays (N, n, 3), stations (N,) or (N, n).

    Raises NotSolvable where the picture is not taken from nearly straight ahead or behind.
    """
    c, r = np.asarray(centre, float), np.asarray(rays, float)
    middle = np.mean(r / np.linalg.norm(r, axis=-1, keepdims=True), axis=-2)
    oblique = np.arccos(np.clip(np.abs(middle[..., 0]) / np.linalg.norm(middle, axis=-1), 0, 1))
    if float(np.median(oblique)) > MOST_OBLIQUE:
        raise NotSolvable(
            f"the picture looks at the car {np.degrees(np.median(oblique)):.0f}° off its axis: its outline is not the front",
            needs=["an outline on a picture from straight ahead or behind (within 14°)"],
        )
    return polygon(carried(c, r, station))
