"""A plane of the car seen straight on: a picture with a scale in millimetres, to measure on.

``plane_through``, ``plane_of_circle`` and ``centre_plane`` say which plane; ``straighten`` pictures it from a photograph. What
lies in the plane is shown true to scale; what stands in front of or behind it is shifted and has another scale, so lengths are
only read between points of the plane itself.

``View.length`` measures between two pixels of the straightened picture with the survey's joint draws: for each draw its own
camera meets its own plane, so that the interval holds the errors of both, and the length correlates rightly with other numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from longlens.errors import NotSolvable, UnusableInput
from longlens.survey.camera import Array, project, rays
from longlens.survey.foretold import eye_of
from longlens.survey.network import State, place_points

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

#: Pixels of a straightened picture at most, a side.
LARGEST = 4000
#: A plane seen flatter than this (degrees between it and the line of sight) is refused: its picture is stretched ten times.
FLATTEST = 6.0


@dataclass(frozen=True)
class Plane:
    """A plane with axes: ``origin`` (..., 3) m, ``right`` and ``up`` (..., 3) unit vectors in it; leading axes are draws.

    ``draws`` is the same for the joint draws (N, …); ``size`` the half width and half height (m) worth showing.
    """

    origin: Array
    right: Array
    up: Array
    size: tuple[float, float]
    name: str = ""
    draws: Plane | None = None

    @property
    def normal(self) -> Array:
        return np.cross(self.right, self.up)


def plane_through(solution: Solution, points: Sequence[str], margin: float = 0.25, name: str = "") -> Plane:
    """The plane through three placed points, or the one nearest to more; its x axis along the first two."""
    if len(dict.fromkeys(points)) < 3:
        raise UnusableInput("a plane needs three different points", fix="name three points that lie on it")
    net = solution.net
    for p in points:
        if p not in net._point_index:
            raise NotSolvable(f"the point {p} is not placed by the survey", needs=[f"marks of {p} on two photographs"])
    at = [net.point(p) for p in points]
    best = place_points(net, solution.fit.state)[at]
    spread = np.linalg.svd(best - best.mean(0))[1]
    if spread[1] < 0.02 * max(spread[0], 1e-9):
        raise UnusableInput("these points lie on one line", fix="name a third point beside the line of the others")
    many = _fit(place_points(net, solution.drawn.state)[:, at])
    one = _fit(best)
    local = np.stack([(best - one[0]) @ one[1], (best - one[0]) @ one[2]], axis=1)
    half = (np.abs(local).max(0) * (1 + margin)).tolist()
    return Plane(*one, (half[0], half[1]), name or ", ".join(points), Plane(*many, (half[0], half[1])))


def _fit(X: Array) -> tuple[Array, Array, Array]:
    """Origin, right and up of the least-squares plane of points (..., n, 3); the x axis along the first two."""
    middle = X.mean(axis=-2)
    _, _, V = np.linalg.svd(X - middle[..., None, :], full_matrices=False)
    n = V[..., 2, :]
    first = X[..., 1, :] - X[..., 0, :]
    return (middle, *_axes(n, first))


def _axes(n: Array, along: Array) -> tuple[Array, Array]:
    """Right and up in the plane across n, with right along ``along``; up has z upwards, or x forwards where z is not in it."""
    right = along - np.sum(along * n, axis=-1, keepdims=True) * n
    right = right / np.linalg.norm(right, axis=-1, keepdims=True)
    up = np.cross(n, right)
    sign = np.where(np.abs(up[..., 2:]) > 0.3, np.sign(up[..., 2:]), np.sign(up[..., :1]))
    return right, up * np.where(sign == 0, 1.0, sign)


def plane_of_circle(solution: Solution, circle: str, margin: float = 0.2) -> Plane:
    """A circle's plane, for a wheel or a disc; x runs forward and up is up."""
    net = solution.net
    if circle not in net._circle_index:
        raise NotSolvable(
            f"the circle {circle} is not placed by the survey", needs=[f"its edge on two photographs: {circle}"]
        )
    m = net.circle(circle)

    def of(st: State) -> tuple[Array, Array, Array]:
        centre = st.X[..., net.circle_body[m], :] * [1.0, net.circle_sign[m], 1.0]
        n = st.normal[..., m, :]
        return (centre, *_axes(n, np.broadcast_to([1.0, 0.0, 0.0], n.shape)))

    r = float(solution.fit.state.radius[net.radius_of[m]]) * (1 + margin)
    return Plane(*of(solution.fit.state), (r, r), circle, Plane(*of(solution.drawn.state), (r, r)))


def centre_plane(solution: Solution, margin: float = 0.15) -> Plane:
    """The car's centre plane (y = 0), as wide as the marked points; x runs forward."""
    P = place_points(solution.net, solution.fit.state)
    standing = P[P[:, 2] > 0.05]  # marks on the ground may lie far from the car
    P = standing if len(standing) > 3 else P
    low, high = P.min(0), P.max(0)
    origin = np.array([(low[0] + high[0]) / 2, 0.0, (low[2] + high[2]) / 2])
    size = ((high[0] - low[0]) / 2 * (1 + margin), (high[2] - low[2]) / 2 * (1 + margin))
    n = len(solution.drawn.state.logf)
    right, up = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
    o, r, u = (np.broadcast_to(v, (n, 3)) for v in (origin, right, up))
    many = Plane(o, r, u, size)
    return Plane(origin, right, up, size, "centre plane", many)


@dataclass(frozen=True)
class View:
    """A straightened picture.

    Parameters
    ----------
    picture : (h, w, 3) RGB or (h, w) grey; black where the photograph does not reach.
    mm_per_px : scale, the same in both directions and everywhere in the plane.
    scale_sd : relative standard deviation of that scale, at the picture's middle.
    shot, plane : what it is of. enlarged : how many of its pixels one pixel of the photograph fills, at the middle.
    """

    picture: Array
    mm_per_px: float
    scale_sd: float
    shot: str
    plane: Plane
    enlarged: float
    solution: Solution

    def to_photograph(self, xy: Array) -> Array:
        """Pixels (n, 2) of the photograph that show pixels (n, 2) of this view."""
        return eye_of(self.solution, self.shot).see(self._places(self.plane, np.asarray(xy, float)))

    def _places(self, plane: Plane, xy: Array) -> Array:
        h, w = self.picture.shape[:2]
        m = self.mm_per_px / 1000
        u = (xy[..., 0] - (w - 1) / 2) * m
        v = -(xy[..., 1] - (h - 1) / 2) * m
        return plane.origin + u[..., None] * plane.right + v[..., None] * plane.up

    def length(
        self, a: tuple[float, float], b: tuple[float, float], sd_px: float = 0.0, seed: int = 0
    ) -> tuple[float, Array]:
        """Length (m) between two pixels of the view: best value and (N,) joint draws. ``sd_px``: how well they were pointed at,
        px of the view."""
        ends = np.array([a, b], float)
        best = float(np.linalg.norm(np.subtract(*self._places(self.plane, ends))))
        n = len(self.solution.drawn.state.logf)
        many = np.broadcast_to(ends, (n, 2, 2))
        if sd_px:
            many = many + np.random.default_rng(seed).normal(0, sd_px, many.shape)
        here = eye_of(self.solution, self.shot).see(self._places(self.plane, many))
        X = _meet(self.solution, self.shot, self.plane, here)
        return best, np.linalg.norm(X[:, 1] - X[:, 0], axis=-1)


def _meet(solution: Solution, shot: str, plane: Plane, xy: Array) -> Array:
    """(N, k, 3): where the rays of photograph pixels (N, k, 2) meet each draw's own plane."""
    assert plane.draws is not None
    net, D = solution.net, solution.drawn.state
    s = net.shot(shot)
    g = net.camera_of[s]
    f, kappa = np.exp(D.logf[:, g])[:, None], D.kappa[:, g][:, None]
    d = rays(xy, f[..., None], kappa, net.rho[g], D.principal[:, s][:, None])
    d = np.einsum("nji,nkj->nki", D.R[:, s], d)
    C, n = D.C[:, s][:, None], plane.draws.normal[:, None]
    t = np.sum((plane.draws.origin[:, None] - C) * n, axis=-1) / np.sum(d * n, axis=-1)
    return C + t[..., None] * d


def straighten(solution: Solution, shot: str, picture: Array, plane: Plane, *, mm_per_px: float | None = None) -> View:
    """Picture a plane straight on from a photograph.

    Parameters
    ----------
    picture : (h, w) or (h, w, 3), the upright photograph of ``shot``, at the size the survey knows.
    mm_per_px : of the result; default: as sharp as the photograph is at the plane's middle.

    Raises
    ------
    NotSolvable : the shot is not solved. UnusableInput : the plane is seen from its edge or lies behind the camera.
    """
    import cv2

    net = solution.net
    if shot not in net._shot_index:
        raise NotSolvable(f"the shot {shot} is not solved", needs=[f"more marks on {shot}"])
    eye = eye_of(solution, shot)
    if tuple(picture.shape[1::-1]) != tuple(int(v) for v in eye.size):
        raise UnusableInput(
            f"the picture is {picture.shape[1]} × {picture.shape[0]}, the shot {eye.size[0]:.0f} × {eye.size[1]:.0f}",
            where=shot,
            fix="give the photograph at its own size",
        )
    plane = _turned_to(plane, eye.C)
    towards = eye.C - plane.origin
    angle = np.degrees(np.arcsin(abs(towards @ plane.normal) / np.linalg.norm(towards)))
    if angle < FLATTEST:
        raise UnusableInput(
            f"{shot} sees this plane from its edge ({angle:.0f}° to it)",
            fix="take a photograph that looks at it more squarely",
        )
    if (plane.origin - eye.C) @ eye.R[2] <= 0:
        raise UnusableInput(f"the plane lies behind the camera of {shot}", fix="take another photograph")
    px_per_m = _sharpness(eye, plane)
    m = mm_per_px / 1000 if mm_per_px else 1 / px_per_m
    w, h = (int(np.ceil(2 * s / m)) + 1 for s in plane.size)
    if max(w, h) > LARGEST:
        m *= max(w, h) / LARGEST
        w, h = (int(np.ceil(2 * s / m)) + 1 for s in plane.size)
    u, v = (np.arange(w) - (w - 1) / 2) * m, -(np.arange(h) - (h - 1) / 2) * m
    out = np.zeros((h, w, *picture.shape[2:]), picture.dtype)
    for rows in np.array_split(np.arange(h), max(1, h * w // 1_000_000)):
        X = plane.origin + u[None, :, None] * plane.right + v[rows][:, None, None] * plane.up
        xy = project(X, eye.R, eye.C, eye.f, eye.k1, eye.principal)
        xy = np.nan_to_num(xy, nan=-1e6).astype(np.float32)
        out[rows] = cv2.remap(picture, xy[..., 0], xy[..., 1], cv2.INTER_AREA if px_per_m * m > 1 else cv2.INTER_CUBIC)
    bare = View(out, m * 1000, 0.0, shot, plane, 1 / (px_per_m * m), solution)
    k = min(w, h) / 4
    c = np.array([(w - 1) / 2, (h - 1) / 2])
    best, draws = bare.length((c[0] - k, c[1]), (c[0] + k, c[1]))
    return View(out, m * 1000, float(np.std(draws) / best), shot, plane, bare.enlarged, solution)


def _turned_to(plane: Plane, eye: Array) -> Plane:
    """The plane with its x axis to the right as seen from the camera's side: text on it can be read."""
    if (eye - plane.origin) @ plane.normal >= 0:
        return plane
    many = plane.draws
    turned = Plane(many.origin, -many.right, many.up, many.size) if many is not None else None
    return Plane(plane.origin, -plane.right, plane.up, plane.size, plane.name, turned)


def _sharpness(eye, plane: Plane) -> float:
    """Photograph pixels per metre at the plane's middle, along its better direction."""
    step = 1e-3
    here = eye.see(plane.origin)
    return float(max(np.linalg.norm(eye.see(plane.origin + step * a) - here) / step for a in (plane.right, plane.up)))
