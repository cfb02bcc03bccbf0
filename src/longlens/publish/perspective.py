"""Things of the car projected into a photograph by the camera that the survey found: rods, circles, dimension lines that lie
on the car, bars of known length in the plane meant."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.publish.drawing import Array
from longlens.survey.camera import camera_frame, project

#: Points into which a straight line of the car is cut: a lens bends it.
PIECES = 24


@dataclass(frozen=True)
class Camera:
    """A camera: rotation (3, 3) from vehicle to camera axes, place (3,) m, focal length px, k1, principal point (2,) px."""

    R: Array
    C: Array
    f: float
    k1: float
    principal: Array

    @classmethod
    def of_answer(cls, shot: dict[str, Any]) -> Camera:
        """From a shot of the survey's answer."""
        return cls(
            np.asarray(shot["rotation"], float), np.asarray(shot["position_m"], float), float(shot["focal_px"]),
            float(shot["k1"]), np.asarray(shot["principal_px"], float),
        )  # fmt: skip

    def project(self, X: Array) -> Array:
        """Pixels (..., 2) of points (..., 3), m; NaN behind the camera."""
        X = np.asarray(X, float)
        lead = X.shape[:-1]
        return project(X, np.broadcast_to(self.R, (*lead, 3, 3)), self.C, np.full(lead, self.f), np.full(lead, self.k1),
                       self.principal)  # fmt: skip

    def depth(self, X: Array) -> Array:
        """How far points (..., 3) lie ahead of the camera, m."""
        return camera_frame(np.asarray(X, float), self.R, self.C)[..., 2]

    def pixels_per_metre(self, X: Array) -> float:
        """Scale at a point, px/m, across the view."""
        return self.f / max(float(self.depth(X)), 1e-6)


def segment(a: Array, b: Array, pieces: int = PIECES) -> Array:
    """Points (pieces + 1, 3) along a straight line."""
    t = np.linspace(0, 1, pieces + 1)[:, None]
    return np.asarray(a, float) * (1 - t) + np.asarray(b, float) * t


def ring(centre: Array, axis: Array, radius: float, points: int = 96) -> Array:
    """Points (points, 3) round a circle."""
    n = np.asarray(axis, float) / np.linalg.norm(axis)
    helper = np.array([0.0, 0.0, 1.0]) if abs(n[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    u = np.cross(n, helper)
    u /= np.linalg.norm(u)
    v = np.cross(n, u)
    t = np.linspace(0, 2 * np.pi, points, endpoint=False)[:, None]
    return np.asarray(centre, float) + radius * (np.cos(t) * u + np.sin(t) * v)


@dataclass(frozen=True)
class DimensionLine:
    """A dimension line on the car, all (n, 3) m: the line itself, two lines out to it, two arrow heads (3, 3)."""

    line: Array
    out: tuple[Array, Array]
    heads: tuple[Array, Array]


def dimension_line(a: Array, b: Array, away: Array, head: float) -> DimensionLine:
    """The dimension line of a distance from ``a`` to ``b``, drawn out by ``away`` (3,), with heads of that length, m.

    It lies in the plane of the distance and of ``away``; so do its heads.
    """
    a, b, away = (np.asarray(x, float) for x in (a, b, away))
    d = b - a
    length = float(np.linalg.norm(d))
    d = d / length if length > 1e-9 else np.array([1.0, 0.0, 0.0])
    side = away - d * float(away @ d)
    side = side / np.linalg.norm(side) if np.linalg.norm(side) > 1e-9 else np.array([0.0, 0.0, 1.0])
    head = min(head, length / 3)

    def arrow(tip: Array, back: Array) -> Array:
        foot = tip + back * head
        return np.stack([tip, foot + side * head * 0.3, foot - side * head * 0.3])

    p, q = a + away, b + away
    over = side * head * 0.5
    return DimensionLine(segment(p, q), (segment(a, p + over, 6), segment(b, q + over, 6)), (arrow(p, d), arrow(q, -d)))


def scale_bar(at: Array, axis: str, length: float, thick: float, up: Array) -> list[Array]:
    """A bar (four squares of turning light and dark) from ``at`` along an axis: polygons (n, 3), light ones first and third."""
    step = np.zeros(3)
    step["xyz".index(axis)] = length / 4
    out = []
    for k in range(4):
        a, b = at + k * step, at + (k + 1) * step
        out.append(np.vstack([segment(a, b, 4), segment(b + up * thick, a + up * thick, 4)]))
    return out
