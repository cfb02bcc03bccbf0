"""Other solutions that the marks cannot tell from the one found: named, and held by the intervals.

Four kinds occur in practice, each tried by starting from it and adjusting again:

* two published facts contradict each other and nothing else gives the scale: either may be wrong;
* left and right were exchanged on one of two shots, and nothing else sees the pair: either shot may be meant;
* a point is seen along one ray only and tied by one length: the ray meets the sphere of that length twice;
* a circle of free tilt is seen on one photograph: a circle's picture has two poses (``circle.circle_poses``).

A rival whose cost is near the best one's is mixed into the draws by its likelihood, so that the intervals hold both.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

import numpy as np

from longlens.survey.adjust import Fit, adjust
from longlens.survey.camera import Array
from longlens.survey.circle import circle_poses, conic_in_camera
from longlens.survey.network import Network, State, place_points
from longlens.survey.screen import LENGTHS, Screened
from longlens.survey.seeds import ellipses_on

#: A rival this much dearer (half a sum of squares) is told apart by the marks: it would carry e⁻⁵ of the draws.
APART = 5.0
#: Rivals tried at most: each costs an adjustment.
MOST = 12


@dataclass
class Rival:
    """A fit as good as the best; its weights; ``facts``: (kind, row) set aside in the best fit and in this one; ``about``:
    the point or circle that is elsewhere; ``marks``: rows of marks set aside here and kept in the best fit."""

    fit: Fit
    weights: dict[str, Array]
    facts: tuple[tuple[str, int], tuple[str, int]] | None = None
    about: str = ""
    marks: tuple[int, ...] = ()


def find_rivals(net: Network, screened: Screened) -> list[Rival]:
    """Rivals of the screened fit, the likeliest first."""
    out = _facts_exchanged(net, screened) + _sides_exchanged(net, screened)
    best = screened.fit
    for about, st in islice(_elsewhere(net, screened), MOST):
        got = adjust(net, st, weights=screened.weights, iterations=40)
        if got is not None and got.cost - best.cost < APART and _differs(best.state, got.state):
            out.append(Rival(got, screened.weights, about=about))
    return sorted(out, key=lambda r: r.fit.cost)


def _facts_exchanged(net: Network, screened: Screened) -> list[Rival]:
    """For each fact set aside: each fact kept that could be the wrong one instead."""
    aside = [(k, int(i)) for k in LENGTHS for i in screened.aside(k)]
    kept = [(k, int(i)) for k in LENGTHS for i in np.flatnonzero(screened.weights[k] > 0)]
    if not aside or len(aside) * len(kept) > MOST:
        return []
    out = []
    for bad in aside:
        for other in kept:
            weights = {k: v.copy() for k, v in screened.weights.items()}
            weights[bad[0]][bad[1]], weights[other[0]][other[1]] = 1.0, 0.0
            got = adjust(net, screened.fit.state, weights=weights, iterations=60)
            if got is not None and got.cost - screened.fit.cost < APART:
                out.append(Rival(got, weights, facts=(bad, other)))
    return out


def _sides_exchanged(net: Network, screened: Screened) -> list[Rival]:
    """For each pair of twins set aside on one shot: the same pair on another shot that could be exchanged instead."""
    out = []
    aside = screened.aside("mark")
    for body in np.unique(net.mark_body[aside]):
        mine = aside[net.mark_body[aside] == body]
        kept = np.flatnonzero((net.mark_body == body) & (screened.weights["mark"] > 0))
        if len(mine) != 2 or len(np.unique(net.mark_shot[mine])) != 1 or net.mark_sign[mine].sum() != 0:
            continue
        for s in np.unique(net.mark_shot[kept]):
            both = kept[net.mark_shot[kept] == s]
            if len(both) != 2 or net.mark_sign[both].sum() != 0:
                continue
            weights = {k: v.copy() for k, v in screened.weights.items()}
            weights["mark"][mine], weights["mark"][both] = 1.0, 0.0
            start = screened.fit.state.copy()
            start.X[body, 1] *= -1
            got = adjust(net, start, weights=weights, iterations=40)
            if got is not None and got.cost - screened.fit.cost < APART:
                rows = tuple(int(i) for i in both)
                out.append(Rival(got, weights, about=net.points[net.mark_point[both[0]]], marks=rows))
    return out


def _differs(a: State, b: State) -> bool:
    size = np.linalg.norm(a.X - np.median(a.X, axis=0), axis=1).max(initial=1e-9)
    turned = len(a.normal) and np.abs(np.sum(a.normal * b.normal, axis=-1)).min() < np.cos(0.02)
    return bool(turned or np.linalg.norm(a.X - b.X, axis=1).max(initial=0.0) > 0.01 * size)


def _elsewhere(net: Network, screened: Screened) -> Iterator[tuple[str, State]]:
    """(what, state) with one point or one circle in its other place."""
    st = screened.fit.state
    places = place_points(net, st)
    seen = screened.weights["mark"] > 0
    circled = set(net.circle_body.tolist())
    for body in np.unique(net.mark_body[seen]):
        rows = np.flatnonzero((net.mark_body == body) & seen)
        if len(rows) != 1 or body in circled or not net.free[body].all():
            continue
        for x in _other_meetings(net, screened, places, int(body), int(rows[0])):
            other = st.copy()
            other.X[body] = x
            yield net.points[net.mark_point[rows[0]]], other
    for m, cid in enumerate(net.circles):
        shots = np.unique(net.edge_shot[(net.edge_circle == m) & (screened.weights["edge"] > 0)])
        if len(shots) == 1:
            turned = _other_pose(net, st, m, int(shots[0]))
            if turned is not None:
                yield cid, turned


def _other_meetings(net: Network, screened: Screened, places: Array, body: int, row: int) -> list[Array]:
    """Where the point's ray meets the sphere (or the two planes) of its length a second time; canonical side."""
    st, s = screened.fit.state, int(net.mark_shot[row])
    sign = np.array([1.0, net.mark_sign[row], 1.0])
    here = st.X[body] * sign  # where it is seen
    C = st.C[s]
    d = (here - C) / np.linalg.norm(here - C)
    out = []
    for k in np.flatnonzero(screened.weights["distance"] > 0):
        a, b = int(net.distance_a[k]), int(net.distance_b[k])
        if (net.body_of[a] == body) == (net.body_of[b] == body):
            continue
        end, own = (b, a) if net.body_of[a] == body else (a, b)
        Y = places[end] * np.array([1.0, net.sign[own] * net.mark_sign[row], 1.0])
        L, axis = net.distance_value[k], int(net.distance_axis[k])
        t0 = np.linalg.norm(here - C)
        if axis < 0:
            t = 2 * float((Y - C) @ d) - t0  # both meetings lie evenly about the ray's point nearest to Y
        else:
            gap = float(here[axis] - Y[axis])
            if abs(d[axis]) < 1e-6:
                continue
            t = t0 - 2 * gap / d[axis]
        if t > 0.05 * t0 and abs(t - t0) > 0.02 * L:
            out.append((C + t * d) * sign)
    return out


def _other_pose(net: Network, st: State, m: int, s: int) -> State | None:
    Q = ellipses_on(net, s).get(m)
    if Q is None:
        return None
    g = net.camera_of[s]
    shift = st.principal[s] - net.principal0[s]
    radius = float(st.radius[net.radius_of[m]])
    poses = circle_poses(conic_in_camera(Q, float(np.exp(st.logf[g])), shift), radius)
    if len(poses) != 2:
        return None
    normals = [st.R[s].T @ n for _, n in poses]
    k = int(np.argmin([abs(n @ st.normal[m]) for n in normals]))
    if abs(normals[k] @ st.normal[m]) > np.cos(0.02):
        return None
    other = st.copy()
    body = net.circle_body[m]
    n = normals[k] if normals[k] @ st.normal[m] > 0 else -normals[k]
    other.normal[m] = n
    x = (st.C[s] + st.R[s].T @ poses[k][0]) * [1, net.circle_sign[m], 1]
    other.X[body] = np.where(net.free[body], x, other.X[body])
    return other
