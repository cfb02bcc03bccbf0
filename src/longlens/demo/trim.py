"""What gives the eye a hold close up and hangs on nothing else: rivets, screws, brake lines, data plates and stickers.

None of it can be marked or measured; it is there to be found when somebody goes in close.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from longlens.demo import details as d
from longlens.demo.model import Model
from longlens.demo.panels import Loft
from longlens.demo.solids import Array, Mesh, grid, lathe, merge, spline, tube, unit


def vec(*xyz: float) -> Array:
    return np.array(xyz, float)


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


def gannet(m: Model, tub: Loft, shown: bool) -> None:
    """The track car's trim."""
    up = vec(0, 0, 1)
    for sgn in (1, -1):
        with m.side(sgn):
            xs = np.linspace(0.60, -0.44, 50)
            for angle in (0.92, -0.98):
                rail = np.array([tub.at(x, angle) for x in xs])
                n = np.array([outwards(tub, x, angle) for x in xs])
                m.add("tub.rivets", rivets(rail + n * 0.0002, 0.06, n, 0.0034), "steel_dark")
            edge = np.array([(1.035, 0.03), (1.03, 0.29), (0.975, 0.595), (0.71, 0.775), (0.475, 0.775)])
            m.add(
                "splitter.rivets",
                rivets(np.column_stack([edge, np.full(len(edge), 0.0772)]), 0.08, up, 0.0038),
                "machined",
            )
            floor = np.array([(-0.63, 0.815), (-1.25, 0.832), (-1.90, 0.852)])
            m.add("floor.rivets", rivets(np.column_stack([floor, np.full(3, 0.0632)]), 0.075, up), "machined")
            top = float(tub.at(0.40, np.pi / 2)[2])
            path = spline(
                [
                    vec(0.378, 0.09, top + 0.010),
                    vec(0.33, 0.115, float(tub.at(0.33, 1.1)[2]) + 0.010),
                    vec(0.18, 0.150, float(tub.at(0.18, 1.0)[2]) + 0.010),
                    vec(-0.05, 0.175, float(tub.at(-0.05, 1.0)[2]) + 0.010),
                    vec(-0.22, 0.190, float(tub.at(-0.22, 1.0)[2]) + 0.010),
                ],
                12,
            )
            line_with_clips(m, "brake_line", path, 0.0035, (0.4, 0.75), (0.0, -0.014, -0.008))
    top = float(tub.at(0.15, np.pi / 2)[2])
    m.add("tub.sticker", sticker((0.15, -0.10, top), (0.02, 0, 1), (-1, 0, 0), 0.120, 0.060, 0.0006), "sticker_bars")
    m.add("header_tank.sticker", sticker((-1.715, -0.02, 0.730), (-1, 0, 0), up, 0.110, 0.055), "sticker_coolant")
    m.add("engine.sticker", sticker((-1.83, 0.0, 0.6252), up, (0, -1, 0), 0.16, 0.08, 0.0004), "sticker_engine")
    m.add("airbox.sticker", sticker((-2.26, 0.02, 0.565), (-1, 0, 0), up, 0.12, 0.06), "sticker_intake")


def outwards(loft: Loft, x: float, angle: float) -> Array:
    """The outward normal of a loft."""
    p = loft.at(x, angle)
    n = unit(np.cross(loft.at(x + 1e-3, angle) - p, loft.at(x, angle + 1e-3) - p))
    middle = loft.at(np.full(8, x), np.linspace(0, 2 * np.pi, 8, endpoint=False)).mean(0)
    return n if n @ (p - middle) > 0 else -n
