"""The datum: which motions and scalings of the whole scene the observations leave free, and how the frame is laid then.

A free direction costs nothing: moving every camera and point along it changes no residual. It is held by inner
constraints (any choice gives the same shapes); a measure that would change along it cannot be answered.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.survey.adjust import Normal, reduce
from longlens.survey.camera import Array, rotation
from longlens.survey.circle import basis
from longlens.survey.network import DENSE, Network, State
from longlens.survey.observations import all_rows, cost, edge_angles

NAMES = (
    "moved along x",
    "moved along y",
    "moved along z",
    "turned about x",
    "turned about y",
    "turned about z",
    "scaled",
)
#: Information (per rad², per relative length²) below which a direction is looked at more closely.
SUSPECT_BELOW = 100.0


@dataclass
class Datum:
    """``null`` (D, k): free directions in the reduced unknowns. ``scale_free``: sizes are not determined at all.
    ``motions`` : (k, 7) what they are made of, in the order of NAMES. ``weak`` (D, j): further directions that nothing
    determines, which are no motion of the whole."""

    null: Array
    motions: Array
    scale_free: bool
    weak: Array


def generators(net: Network, st: State) -> Array:
    """(D, 7) derivatives of the reduced unknowns by three shifts, three turns and a scaling about the points' middle."""
    D = net.columns
    G = np.zeros((D, 7))
    middle = middle_of(net, st)
    dense = np.flatnonzero(net.family == DENSE)
    S, M = len(net.shots), len(net.circles)
    shots = net.at_shot + 8 * np.arange(S)
    bodies = net.at_body + 3 * net.slot[dense]
    a, b = basis(st.normal) if M else (np.zeros((0, 3)), np.zeros((0, 3)))
    for k in range(3):
        e = np.eye(3)[k]
        G[shots + 3 + k, k] = 1
        G[bodies + k, k] = 1
        turn = 3 + k
        G[(shots[:, None] + np.arange(3)).ravel(), turn] = -(st.R @ e).ravel()
        G[(shots[:, None] + 3 + np.arange(3)).ravel(), turn] = np.cross(e, st.C - middle).ravel()
        G[(bodies[:, None] + np.arange(3)).ravel(), turn] = np.cross(e, st.X[dense] - middle).ravel()
        for m in range(M):
            G[net.at_circle + 2 * m : net.at_circle + 2 * m + 2, turn] = (a[m] @ e, b[m] @ e)
    G[(shots[:, None] + 3 + np.arange(3)).ravel(), 6] = (st.C - middle).ravel()
    G[(bodies[:, None] + np.arange(3)).ravel(), 6] = (st.X[dense] - middle).ravel()
    G[net.at_radius : net.at_radius + net.radii, 6] = st.radius
    if len(net.ground_used):
        _ground_generators(net, st, middle, G)
    fixed = dense[~net.free[dense].all(1)]
    for body in fixed:
        G[net.at_body + 3 * net.slot[body] + np.flatnonzero(~net.free[body])] = 0
    return G


def _ground_generators(net: Network, st: State, middle: Array, G: Array) -> None:
    """The grounds' part of :func:`generators`, in place: planes z = g₀ + g₁x + g₂y that go with the scene."""
    at = net.at_ground + 3 * np.arange(len(net.ground_used))
    n = ground_normals(st.ground)
    for k in range(3):
        G[at, k] = n[:, k]
        dn = np.cross(np.eye(3)[k], n)
        G[at, 3 + k] = dn @ middle - st.ground[:, 0] * dn[:, 2]
        G[at + 1, 3 + k] = -dn[:, 0] + n[:, 0] * dn[:, 2]
        G[at + 2, 3 + k] = -dn[:, 1] + n[:, 1] * dn[:, 2]
    G[at, 6] = st.ground[:, 0] - n @ middle


def ground_normals(ground: Array) -> Array:
    """(..., T, 3) normals (not unit: z is 1) of planes (height, slope along x, slope along y)."""
    return np.stack([-ground[..., 1], -ground[..., 2], np.ones_like(ground[..., 0])], axis=-1)


def moved_ground(ground: Array, Q: Array, middle: Array, shift: Array | float = 0.0, scale: float = 1.0) -> Array:
    """Planes (..., T, 3) turned by Q (..., 3, 3) and scaled about ``middle``, then shifted."""
    n = ground_normals(ground)
    turned = np.einsum("...ij,...tj->...ti", Q, n)
    over = scale * (ground[..., 0] - n @ middle) + turned @ (middle + shift)
    return np.stack([over, -turned[..., 0], -turned[..., 1]], axis=-1) / turned[..., 2:]


def find_datum(net: Network, st: State, normal: Normal) -> Datum:
    """Which directions the observations leave free, from the reduced normal equations at the solution.

    A direction is free when the observations know it worse than one part in one (a radian, the scene's own size, a factor
    of e) — judged by really moving the scene, since a squared residual may look curved where the true cost is flat.
    """
    red = reduce(normal)
    empty = np.zeros((net.columns, 0))
    if red is None:
        return Datum(empty, np.zeros((0, 7)), False, empty)
    d = np.sqrt(np.maximum(np.einsum("ii->i", red.S), 1e-12))
    A = red.S / d / d[:, None]
    size = scene_size(st)
    units = np.array([size, size, size, 1, 1, 1, 1])
    J = _by_motion(net, st, size)
    info, V = np.linalg.eigh(J.T @ J)
    free = []
    base = float(cost(net, st, edge_angles(net, st)))
    for k in range(7):
        if info[k] < 1e-3:
            free.append(k)
        elif info[k] < SUSPECT_BELOW:
            step = 0.3 * V[:, k] / np.abs(V[:, k]).max()
            moved = moved_state(net, st, step[:3] * size, step[3:6], step[6])
            if float(cost(net, moved, edge_angles(net, moved))) - base < 0.5:
                free.append(k)
    V = V[:, free]
    N = empty
    if free:
        U, w, _ = np.linalg.svd((generators(net, st) * units @ V) * d[:, None], full_matrices=False)
        N = U[:, w > 1e-9 * max(w.max(), 1e-300)]
    wa, Va = np.linalg.eigh(A + N @ N.T)
    weak = Va[:, wa < 1e-13] / d[:, None]
    return Datum(N / d[:, None], V.T, bool(np.any(np.abs(V[6]) > 1e-3)), weak)


def _by_motion(net: Network, st: State, size: float) -> Array:
    """(n, 7) derivatives of all residuals by moving the whole scene, bodies too: exact zeros where it is free."""
    h = 1e-4
    out = []
    for k in range(7):
        e = np.eye(7)[k] * h
        pair = []
        for sign in (1, -1):
            m = moved_state(net, st, sign * e[:3] * size, sign * e[3:6], sign * e[6])
            rows, _ = all_rows(net, m, edge_angles(net, m))
            pair.append(np.concatenate([q.r.ravel() for q in rows]))
        out.append((pair[0] - pair[1]) / (2 * h))
    return np.array(out).T


def middle_of(net: Network, st: State) -> Array:
    """The points' middle, laid into the planes that the document fixes: scaling about it then keeps those planes."""
    middle = np.median(st.X, axis=0) if len(st.X) else np.zeros(3)
    if np.any(net.sign < 0) or len(net.soft_sd) or not net.free[:, 1].all():
        middle[1] = 0.0
    if len(net.ground_bodies):
        middle[2] = 0.0
    return middle


def scene_size(st: State) -> float:
    """A length (m) that the scene fills: the middle spread of its points, or the nearest camera's distance."""
    if len(st.X) == 0:
        return 1.0
    spread = np.linalg.norm(st.X - np.median(st.X, axis=0), axis=1)
    return float(max(np.percentile(spread, 80), 1e-6))


def moved_state(net: Network, st: State, shift: Array, turn: Array, log_scale: float) -> State:
    """The whole scene, cameras too, turned and scaled about its middle and shifted: no picture changes."""
    out = st.copy()
    middle = middle_of(net, st)
    Q, s = rotation(turn), np.exp(log_scale)
    out.X = np.where(net.free, (st.X - middle) @ Q.T * s + middle + shift, st.X)
    out.C = (st.C - middle) @ Q.T * s + middle + shift
    out.R = st.R @ Q.T
    out.normal = st.normal @ Q.T
    out.radius = st.radius * s
    out.ground = moved_ground(st.ground, Q, middle, shift, s)
    return out
