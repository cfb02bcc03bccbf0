"""Lengths that are equal: a rod seen in two stances, two points of one rigid body, a rod and its twin.

Wheel-side points are solved anew in each stance; rods and bodies keep their lengths between stances, and so each tells
something about the others. One row of the adjustment per equal pair of lengths: (|ab| − |cd|) / sd. The document says which
lengths are equal (``equal_lengths``); this module knows nothing of cars.

The rows join in only after a start was found without them (:func:`couple`): stiff rows between points that still lie
far off would lead the search astray.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from longlens.survey.camera import Array

if TYPE_CHECKING:
    from longlens.survey.network import Network, State

#: Equal lengths are never held better than this, m: joints have play, and a straight step along a bend must not cost.
LEAST_SD = 1e-4
#: The first pass holds them this loosely, m, the second as stated.
LOOSE = 5e-3
#: Places tried along the ray of a body with one mark, and the misfit (m) beyond which a length tells no more.
RAY_STEPS, RAY_CAP = 1200, 0.05


def compile_equal(net: Network) -> None:
    """Index arrays of the document's equal lengths whose four points are in the network."""
    rows, seen = [], set()
    for k, e in enumerate(net.document.equal_lengths):
        if all(p in net._point_index for p in (*e.one, *e.other)):
            points = [net.point(p) for p in (*e.one, *e.other)]
            key = frozenset((_length(net, *points[:2]), _length(net, *points[2:])))
            if len(key) == 2 and key not in seen:  # not one length twice, nor left and right of exact twins
                seen.add(key)
                rows.append((k, *points, max(e.sd, LEAST_SD)))
    t = np.array(rows, float).reshape(-1, 6)
    net.equal_id, net.equal_points = t[:, 0].astype(int), t[:, 1:5].astype(int)
    net.equal_sd = t[:, 5].copy()
    net.equal_on = False


def _length(net: Network, a: int, b: int) -> tuple[tuple[int, float], ...]:
    """A name for a length that is the same for its mirror image."""
    ends = sorted((int(net.body_of[p]), float(net.sign[p])) for p in (a, b))
    return min(tuple(ends), tuple(sorted((body, -sign) for body, sign in ends)))


def tied(net: Network) -> set[int]:
    """Bodies that stay in the reduced system for the sake of these rows."""
    return set(net.body_of[net.equal_points].ravel().tolist())


def equal_rows(net: Network, st: State) -> tuple[Array, Array, np.ndarray]:
    """Residuals (..., n, 1), derivatives (..., n, 1, 12) by the four bodies, and their columns (n, 12)."""
    from longlens.survey.network import body_columns

    out, columns = [], []
    lengths = []
    for k in (0, 2):
        a, b = net.equal_points[:, k], net.equal_points[:, k + 1]
        A, B = st.X[..., net.body_of[a], :].copy(), st.X[..., net.body_of[b], :].copy()
        A[..., 1] *= net.sign[a]
        B[..., 1] *= net.sign[b]
        d = B - A
        length = np.linalg.norm(d, axis=-1)
        unit = d / np.maximum(length, 1e-12)[..., None] * (1.0 if k == 0 else -1.0)
        lengths.append(length)
        for p, slope in ((a, -unit), (b, unit)):
            body = net.body_of[p]
            J = slope / net.equal_sd[:, None] * net.free[body]
            J[..., 1] *= net.sign[p]
            out.append(J)
            columns.append(body_columns(net, body))
    r = ((lengths[0] - lengths[1]) / net.equal_sd)[..., None]
    return r, np.concatenate(out, axis=-1)[..., None, :], np.concatenate(columns, axis=1)


def couple(net: Network, state: State) -> State:
    """Let the rows join in, from a robust fit without them: loosely first, then as stated."""
    from longlens.survey.adjust import adjust

    if not len(net.equal_sd):
        return state
    state = place_along_rays(net, state)
    stated, net.equal_on = net.equal_sd, True
    for sd in (np.maximum(stated, LOOSE), stated):
        net.equal_sd = sd
        fit = adjust(net, state, robust=3.0, tolerance=1e-6)
        state = fit.state if fit is not None else state
    net.equal_sd = stated
    return state


def place_along_rays(net: Network, state: State) -> State:
    """Bodies of one mark only, which a start puts anywhere on their ray: there where their lengths fit best.

    A length is met twice along a ray, and an adjustment from the wrong one stays there. Rows that hang on several such bodies
    are told by rounds: first those whose other ends stand.
    """
    marks = np.bincount(net.mark_body, minlength=len(state.X))
    lone = [b for b in tied(net) if marks[b] == 1 and net.free[b].all()]
    if not lone:
        return state
    st = state.copy()
    waiting = set(lone)
    for _ in range(3):
        for b in sorted(lone):
            bodies = net.body_of[net.equal_points]
            rows = np.flatnonzero((bodies == b).any(axis=1) & ~np.isin(bodies, list(waiting - {b})).any(axis=1))
            if len(rows):
                st.X[b] = _best_on_ray(net, st, b, rows)
                waiting.discard(b)
    return st


def _best_on_ray(net: Network, st: State, b: int, rows: np.ndarray) -> Array:
    from longlens.survey.camera import rays

    k = int(np.flatnonzero(net.mark_body == b)[0])
    s = int(net.mark_shot[k])
    g = net.camera_of[s]
    u = rays(net.mark_xy[k], np.exp(st.logf[g]), st.kappa[g], net.rho[g], st.principal[s])
    start, way = st.C[s], st.R[s].T @ u
    depth = abs(float((st.X[b] * [1, net.mark_sign[k], 1] - start) @ st.R[s][2]))
    tried = depth * np.linspace(0.5, 1.6, RAY_STEPS)
    places = (start + tried[:, None] * way) * [1, net.mark_sign[k], 1]
    worst = np.zeros(len(tried))
    for q in rows:
        ends = []
        for p in net.equal_points[q]:
            body = net.body_of[p]
            at = places if body == b else np.broadcast_to(st.X[body], places.shape)
            ends.append(at * [1, net.sign[p], 1])
        gap = np.linalg.norm(ends[1] - ends[0], axis=1) - np.linalg.norm(ends[3] - ends[2], axis=1)
        worst += np.minimum(np.abs(gap), RAY_CAP)
    return places[int(np.argmin(worst))]
