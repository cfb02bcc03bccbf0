"""Where on a photograph a point, a ray or a circle must show, by the cameras of a solution and their joint draws.

``where(solution, point, shot)`` gives the place of a point that the survey has placed, with the ellipse that holds it 95 times
in 100; ``seen_by`` the same of any place that has draws; ``ray_on(solution, (shot, x, y), other)`` the line of a point that is
marked once only, and with ``mirrored=True`` that of its twin across the car; ``rim_on`` a circle's picture.

The ellipse is the prediction's: of camera and point, without a new mark's own error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from longlens.survey.camera import Array, project, rays
from longlens.survey.circle import basis
from longlens.survey.network import place_points

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

#: √ of the 95 % point of χ² with two degrees of freedom (5.991).
REGION = 2.4477
#: Draws used for an ellipse: its half axes are then known to 4 %.
DRAWS = 300
#: A ray is followed between these parts of its camera's distance to the middle of the car.
NEAR, FAR = 0.35, 2.2


@dataclass(frozen=True)
class Region:
    """Where a point lies on a photograph: ``xy`` (2,) px and ``cov`` (2, 2) px² of the prediction, without a mark's own error."""

    xy: Array
    cov: Array

    def ellipse(self) -> tuple[float, float, float]:
        """Half axes (px) of the 95 % ellipse, the longer first, and its angle (rad, from x towards y)."""
        w, V = np.linalg.eigh(self.cov)
        a, b = (REGION * float(np.sqrt(max(v, 0.0))) for v in w[::-1])
        return a, b, float(np.arctan2(V[1, 1], V[0, 1]))


@dataclass(frozen=True)
class Eye:
    """One solved camera: R (3, 3), C (3,), f px, k1, principal point (2,), size (2,)."""

    R: Array
    C: Array
    f: float
    k1: float
    principal: Array
    size: Array

    def see(self, X: Array) -> Array:
        """(..., 2) pixels of places (..., 3); NaN behind."""
        with np.errstate(invalid="ignore"):
            return project(X, self.R, self.C, self.f, self.k1, self.principal)

    def ray(self, xy: Array) -> Array:
        """(..., 3) unit directions in vehicle axes of pixels (..., 2)."""
        rho = float(np.hypot(*self.size)) / 2
        d = rays(np.atleast_2d(xy), self.f, self.k1 * (rho / self.f) ** 2, rho, self.principal) @ self.R
        d = d / np.linalg.norm(d, axis=-1, keepdims=True)
        return d[0] if np.ndim(xy) == 1 else d

    def mirrored(self) -> Eye:
        """The camera that would see the car's mirror image as this one sees the car: its pictures are not mirrored, its place and
        axes are. What it sees at a pixel is the twin of what this camera sees there."""
        M = np.diag([1.0, -1.0, 1.0])
        return Eye(self.R @ M, self.C * [1, -1, 1], self.f, self.k1, self.principal, self.size)


def eye_of(solution: Solution, shot: str, draw: int | None = None) -> Eye:
    """The camera of a shot by the best solution, or by one of its draws."""
    net = solution.net
    st = solution.fit.state if draw is None else solution.drawn.state.take(draw)
    s = net.shot(shot)
    g = net.camera_of[s]
    f = float(np.exp(st.logf[g]))
    return Eye(st.R[s], st.C[s], f, float(st.kappa[g] * (f / net.rho[g]) ** 2), st.principal[s], net.size[s])


def where(solution: Solution, point: str, shot: str, draws: int = DRAWS) -> Region | None:
    """Where a placed point lies on a shot; None when it is not placed or lies behind the camera."""
    return where_all(solution, [point], shot, draws).get(point)


def where_all(solution: Solution, points: Sequence[str], shot: str, draws: int = DRAWS) -> dict[str, Region]:
    """The same of several points; those that are not placed, or lie behind the camera, are left out."""
    net = solution.net
    wanted = [p for p in points if p in net._point_index]
    if not wanted or shot not in net._shot_index:
        return {}
    at = np.array([net.point(p) for p in wanted])
    best = place_points(net, solution.fit.state)[at]
    pick = picked(solution, draws)
    X = solution.drawn.state.X[pick][:, net.body_of[at]] * np.stack(
        [np.ones(len(at)), net.sign[at], np.ones(len(at))], axis=1
    )
    found = {p: seen_by(solution, shot, best[k], X[:, k], pick) for k, p in enumerate(wanted)}
    return {p: r for p, r in found.items() if r is not None}


def picked(solution: Solution, draws: int = DRAWS) -> Array:
    """Numbers of so many draws, evenly over all of them."""
    n = len(solution.drawn.state.logf)
    return np.linspace(0, n - 1, min(draws, n)).astype(int)


def seen_by(solution: Solution, shot: str, best: Array, X: Array, pick: Array) -> Region | None:
    """Where a place shows on a shot: ``best`` (3,) by the best solution, ``X`` (n, 3) by the draws ``pick`` (n,); None behind."""
    net, D = solution.net, solution.drawn.state
    s = net.shot(shot)
    g = net.camera_of[s]
    xy = eye_of(solution, shot).see(best)
    f = np.exp(D.logf[pick, g])
    with np.errstate(invalid="ignore"):
        many = project(X, D.R[pick, s], D.C[pick, s], f, D.kappa[pick, g] * (f / net.rho[g]) ** 2, D.principal[pick, s])
    many = many[np.isfinite(many).all(1)]
    if not np.isfinite(xy).all() or len(many) < len(pick) // 2:
        return None
    return Region(xy, np.cov(many.T))


def rim_on(solution: Solution, circle: str, shot: str, steps: int = 96) -> Array | None:
    """(steps, 2) pixels of a circle that the survey has placed, as the shot should show it; None where it cannot."""
    net, best = solution.net, solution.fit.state
    if shot not in net._shot_index or circle not in net.circles:
        return None
    m = net.circles.index(circle)
    centre = best.X[net.circle_body[m]] * [1, net.circle_sign[m], 1]
    u, v = basis(best.normal[m])
    t = np.linspace(0, 2 * np.pi, steps, endpoint=False)[:, None]
    xy = eye_of(solution, shot).see(centre + best.radius[net.radius_of[m]] * (np.cos(t) * u + np.sin(t) * v))
    return xy if np.isfinite(xy).all() else None


def ray_on(
    solution: Solution, seen: tuple[str, float, float], shot: str, *, mirrored: bool = False, steps: int = 200
) -> Array | None:
    """(n, 5) pixels x, y and places X, Y, Z along the ray of a mark (shot, x, y), as ``shot`` sees them; only what is in the
    picture, None where nothing is. ``mirrored``: of the twin across the car (then ``shot`` may be the mark's own)."""
    net = solution.net
    source, x, y = seen
    if source not in net._shot_index or shot not in net._shot_index or (source == shot and not mirrored):
        return None
    a = eye_of(solution, source)
    b = eye_of(solution, shot)
    X = _along(solution, a, np.array([x, y]), steps)
    if mirrored:
        X = X * [1.0, -1.0, 1.0]
    xy = b.see(X)
    with np.errstate(invalid="ignore"):
        fine = np.isfinite(xy).all(1) & np.all((xy >= -0.5) & (xy <= b.size - 0.5), axis=1)
    return np.concatenate([xy, X], axis=1)[fine] if fine.sum() > 1 else None


def _along(solution: Solution, eye: Eye, xy: Array, steps: int) -> Array:
    """(steps, 3) places along a pixel's ray, evenly spaced in inverse distance (so nearly evenly in other pictures)."""
    reach = float(np.linalg.norm(np.median(solution.fit.state.X, axis=0) - eye.C))
    t = 1 / np.linspace(1 / (NEAR * reach), 1 / (FAR * reach), steps)
    return eye.C + t[:, None] * eye.ray(xy)
