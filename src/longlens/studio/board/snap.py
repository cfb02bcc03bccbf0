"""To the corner or the edge under a mark, to a part of a pixel.

A corner is refined by the condition that every gradient near it is square to the line from the corner (Förstner and Gülch
1987; OpenCV's ``cornerSubPix``). An edge is found along its own normal, where the gradient of the picture smoothed by a
Gaussian is largest, with the top of a parabola through the three samples about it. Which of the two it is, the structure
tensor decides (Harris and Stephens 1988): two large eigenvalues are a corner, one is an edge.

Limits: a mark farther than ``reach`` from what it means goes elsewhere; soft or noisy edges are worth no more than their
width. The picture's own sharpening can shift an edge by some tenths of a pixel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

Array = np.ndarray
#: How far a mark may move, px.
REACH = 8.0
#: Smoothing before gradients are taken, px.
SIGMA = 1.2
#: The smaller eigenvalue is at least this part of the larger one at a corner.
CORNER = 0.12
#: Gradients smaller than this (grey levels per px, root mean square over the window) are no edge.
FAINT = 1.5


@dataclass(frozen=True)
class Snapped:
    """Where a mark went and to what; ``what`` is "nothing" when it stayed."""

    x: float
    y: float
    what: Literal["corner", "edge", "nothing"]
    moved: float = 0.0


def snap(picture: Array, x: float, y: float, *, reach: float = REACH, normal: Array | None = None) -> Snapped:
    """Refine one place.

    Parameters
    ----------
    picture : (h, w) or (h, w, 3), 0 to 255.
    x, y : px; (0, 0) is the centre of the top left pixel.
    reach : how far it may move, px.
    normal : (2,) direction in which alone it may move (of a rim's edge); then only an edge is looked for.
    """
    grey, x0, y0 = _window(picture, x, y, reach)
    if grey is None:
        return Snapped(x, y, "nothing")
    gx, gy = _gradients(grey)
    cx, cy = x - x0, y - y0
    large, small, direction = _tensor(gx, gy, cx, cy, reach)
    if np.sqrt(large) < FAINT:
        return Snapped(x, y, "nothing")
    if normal is None and small > CORNER * large:
        found = _corner(grey, cx, cy, reach)
        if found is not None:
            return _snapped(x, y, found[0] + x0, found[1] + y0, "corner")
    along = direction if normal is None else np.asarray(normal, float) / np.linalg.norm(normal)
    got = _edge(gx, gy, cx, cy, along, reach)
    if got is None:
        return Snapped(x, y, "nothing")
    return _snapped(x, y, got[0] + x0, got[1] + y0, "edge")


def snap_rim(picture: Array, edge: Array, *, reach: float = 5.0) -> list[tuple[float, float]]:
    """Points (n, 2) on a rim's edge, each moved along the normal of the ellipse through them, where there is an edge."""
    from longlens.survey.circle import fit_ellipse

    xy = np.asarray(edge, float)
    Q = fit_ellipse(xy) if len(xy) >= 5 else None
    out = []
    for x, y in xy:
        normal = None
        if Q is not None:
            g = (Q @ np.array([x, y, 1.0]))[:2]
            normal = g if np.linalg.norm(g) > 0 else None
        got = snap(picture, float(x), float(y), reach=reach, normal=normal)
        out.append((got.x, got.y))
    return out


def _window(picture: Array, x: float, y: float, reach: float) -> tuple[Array | None, int, int]:
    """Grey window about a place with room for the smoothing, and its corner."""
    half = int(np.ceil(2 * reach + 4 * SIGMA + 2))
    h, w = picture.shape[:2]
    if not (0 <= x <= w - 1 and 0 <= y <= h - 1):
        return None, 0, 0
    x0, x1 = max(0, int(x) - half), min(w, int(x) + half + 1)
    y0, y1 = max(0, int(y) - half), min(h, int(y) + half + 1)
    part = np.asarray(picture[y0:y1, x0:x1], np.float32)
    if part.ndim == 3:
        part = part @ np.array([0.2126, 0.7152, 0.0722], np.float32)  # ITU-R BT.709 luma of R, G, B
    return (np.ascontiguousarray(part), x0, y0) if min(part.shape) >= 12 else (None, 0, 0)


def _gradients(grey: Array) -> tuple[Array, Array]:
    from scipy.ndimage import gaussian_filter

    g = grey.astype(float)
    return gaussian_filter(g, SIGMA, order=(0, 1)), gaussian_filter(g, SIGMA, order=(1, 0))


def _tensor(gx: Array, gy: Array, cx: float, cy: float, reach: float) -> tuple[float, float, Array]:
    """Eigenvalues (large, small) of the structure tensor about a place, and the direction of the large one."""
    yy, xx = np.indices(gx.shape)
    w = np.exp(-((xx - cx) ** 2 + (yy - cy) ** 2) / (2 * (reach / 2) ** 2))
    w = w / w.sum()
    J = np.array([[np.sum(w * gx * gx), np.sum(w * gx * gy)], [np.sum(w * gx * gy), np.sum(w * gy * gy)]])
    values, vectors = np.linalg.eigh(J)
    return float(values[1]), float(max(values[0], 0.0)), vectors[:, 1]


def _corner(grey: Array, cx: float, cy: float, reach: float) -> Array | None:
    import cv2

    half = max(3, round(reach / 2))
    here = np.array([[[cx, cy]]], np.float32)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-3)
    try:
        found = cv2.cornerSubPix(np.clip(grey, 0, 255), here, (half, half), (-1, -1), stop)[0, 0].astype(float)
    except cv2.error:
        return None
    # where it does not converge, the function gives the starting place back
    return found if np.linalg.norm(found - [cx, cy]) <= reach else None


def _edge(gx: Array, gy: Array, cx: float, cy: float, along: Array, reach: float) -> Array | None:
    from scipy.ndimage import map_coordinates

    step = 0.25
    t = np.arange(-reach, reach + step / 2, step)
    at = [cy + t * along[1], cx + t * along[0]]
    response = np.abs(
        along[0] * map_coordinates(gx, at, order=3, mode="nearest")
        + along[1] * map_coordinates(gy, at, order=3, mode="nearest")
    )
    weighed = response * np.exp(-((t / reach) ** 2))  # of two edges the nearer one
    tops = np.flatnonzero((weighed[1:-1] >= weighed[:-2]) & (weighed[1:-1] > weighed[2:])) + 1
    if not len(tops):
        return None
    k = int(tops[np.argmax(weighed[tops])])
    # the weighing has drawn its top towards the mark: on to the edge's own
    while 0 < k < len(t) - 1 and max(response[k - 1], response[k + 1]) > response[k]:
        k += 1 if response[k + 1] > response[k - 1] else -1
    if response[k] < FAINT or not 0 < k < len(t) - 1:
        return None
    a, b, c = response[k - 1], response[k], response[k + 1]
    bend = a - 2 * b + c
    shift = float(np.clip(0.5 * (a - c) / bend, -1, 1)) if bend < 0 else 0.0
    s = t[k] + shift * step
    return np.array([cx + s * along[0], cy + s * along[1]])


def _snapped(x: float, y: float, nx: float, ny: float, what: Literal["corner", "edge"]) -> Snapped:
    return Snapped(float(nx), float(ny), what, float(np.hypot(nx - x, ny - y)))
