"""What gives the eye a hold close up and hangs on nothing else: rivets, screws, brake lines, data plates and stickers.

None of it can be marked or measured; it is there to be found when somebody goes in close.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from longlens.demo import details as d
from longlens.demo.model import Model
from longlens.demo.panels import Loft
from longlens.demo.solids import Array, Mesh, grid, lathe, merge, tube, unit


def rivets(path: ArrayLike, pitch: float, normal: ArrayLike, radius: float = 0.0042) -> Mesh:
    """Domed heads every ``pitch`` m along a polyline, all with one ``normal`` or one (n, 3) for each corner."""
    p = np.asarray(path, float)
    n = np.broadcast_to(np.asarray(normal, float), p.shape)
    s = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])
    at = np.arange(pitch / 2, s[-1], pitch)
    dome = [(0.0, radius), (0.3 * radius, 0.9 * radius), (0.5 * radius, 0.55 * radius), (0.56 * radius, 0.0)]
    return merge(
        [
            lathe(dome, [np.interp(t, s, p[:, k]) for k in range(3)], [np.interp(t, s, n[:, k]) for k in range(3)], 14)
            for t in at
        ]
    )


def sticker(at: ArrayLike, normal: ArrayLike, up: ArrayLike, width: float, height: float, pitch: float = 0.0) -> Mesh:
    """A thin printed sheet a hair off a surface; its picture fills it once, upright along ``up``.

    ``pitch`` lifts it further off, m.
    """
    n = unit(normal)
    v = np.asarray(up, float)
    v = unit(v - n * (v @ n))
    u = np.cross(v, n)  # to the right of somebody who looks at it
    c = np.asarray(at, float) + n * (0.0006 + pitch)
    P = np.array([[c + a * u * width / 2 + b * v * height / 2 for b in (-1, 1)] for a in (-1, 1)])
    g = grid(
        P,
        uv=np.array([[[a, b] for b in (1.0, 0.0)] for a in (0.0, 1.0)]),  # pictures run downwards
    )
    k = np.cross(g.v[g.f[0, 1]] - g.v[g.f[0, 0]], g.v[g.f[0, 2]] - g.v[g.f[0, 0]])
    return g if k @ n > 0 else g.flipped()


def line_with_clips(m: Model, name: str, path: Array, radius: float, clips: tuple[float, ...], down: ArrayLike) -> None:
    """A braided line with hexagon unions at its ends and P-clips at shares of its length."""
    m.add(name, tube(path, radius, 14), "braided")
    ends = [(path[0], path[1] - path[0]), (path[-1], path[-2] - path[-1])]
    nut = [(-0.004, 0), (-0.004, radius * 1.8), (0.010, radius * 1.8), (0.012, radius * 1.25), (0.022, radius * 1.2)]
    m.add(f"{name}.unions", merge([lathe(nut, p, e, 6) for p, e in ends]), "anodised")
    for share in clips:
        p, e = d.along(path, share)
        metal, liner = d.p_clip(p, e, radius, p + np.asarray(down, float))
        m.add(f"{name}.clip", metal, "steel")
        m.add(f"{name}.clip.liner", liner, "rubber")


def panel_screws(m: Model, name: str, corners: ArrayLike, normal: ArrayLike, pitch: float, size: float = 0.004) -> None:
    """Small hexagon screws round a flat panel given by its corners (n, 3), a little inside of its edge."""
    p = np.asarray(corners, float)
    p = p + (p.mean(0) - p) * 0.05
    ring = np.vstack([p, p[:1]])
    s = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    at = np.linspace(0, s[-1], max(int(s[-1] / pitch), 4), endpoint=False)
    places = np.stack([np.interp(at, s, ring[:, k]) for k in range(3)], 1)
    m.add(name, merge([d.bolt(q, normal, size) for q in places]), "steel_dark")


def outwards(loft: Loft, x: float, angle: float) -> Array:
    """As :meth:`Loft.outward`; the last bit may differ, and the pictures' rivets were drawn with this one."""
    p = loft.at(x, angle)
    n = unit(np.cross(loft.at(x + 1e-3, angle) - p, loft.at(x, angle + 1e-3) - p))
    middle = loft.at(np.full(8, x), np.linspace(0, 2 * np.pi, 8, endpoint=False)).mean(0)
    return n if n @ (p - middle) > 0 else -n
