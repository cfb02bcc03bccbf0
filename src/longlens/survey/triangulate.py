"""Triangulation: places of bodies from the rays of posed shots; a twin's ray counts as its mirrored ray."""

from __future__ import annotations

import copy
from dataclasses import dataclass

import numpy as np

from longlens.survey.camera import Array
from longlens.survey.network import Network


@dataclass
class Sketch:
    """A rough solution under construction, in some frame whose centre plane is y = 0 where mirrors are used.

    R, C, f, shift by shot; X (B, 3) with ``known`` (B,); ``posed`` (S,); spread (B,): how well the rays meet, rad.
    """

    R: Array
    C: Array
    f: Array
    shift: Array
    posed: np.ndarray
    X: Array
    known: np.ndarray
    normal: Array
    radius: Array
    frame: str = ""
    score: float = np.inf

    def copy(self) -> Sketch:
        return copy.deepcopy(self)


def blank_sketch(net: Network) -> Sketch:
    S, B, M = len(net.shots), len(net.free), len(net.circles)
    normal = np.zeros((M, 3))
    normal[:, 1] = 1
    return Sketch(
        np.tile(np.eye(3), (S, 1, 1)), np.zeros((S, 3)), np.zeros(S), np.zeros((S, 2)), np.zeros(S, bool),
        np.zeros((B, 3)), np.zeros(B, bool), normal, np.full(net.radii, np.nan),
    )  # fmt: skip


def triangulate(
    net: Network, sk: Sketch, *, mirrored: bool, ground: bool = False, least_parallax: float = 0.02
) -> None:
    """Fill ``sk.X`` and ``sk.known`` from the posed shots, in place.

    Each body is the least-squares meeting point of its rays, with two reweighted rounds so that one wrong ray among
    three or more does not carry it off. ``mirrored``: the frame's centre plane is y = 0, so twins' rays may be used and
    centre-plane bodies have y = 0. ``ground``: the frame's ground is z = 0.
    """
    use = sk.posed[net.mark_shot]
    if not mirrored:
        use = use & (net.mark_sign > 0)
    rows = np.flatnonzero(use)
    if len(rows) == 0:
        return
    s, b = net.mark_shot[rows], net.mark_body[rows]
    q = (net.mark_xy[rows] - net.principal0[s] - sk.shift[s]) / sk.f[s][:, None]
    d = np.einsum("nji,nj->ni", sk.R[s], np.c_[q, np.ones(len(q))])
    d /= np.linalg.norm(d, axis=1, keepdims=True)
    C = sk.C[s].copy()
    sound = np.isfinite(d).all(1) & np.isfinite(C).all(1)  # a camera that marks at one place have led astray
    rows, b, d, C = rows[sound], b[sound], d[sound], C[sound]
    flip = net.mark_sign[rows]
    d[:, 1] *= flip
    C[:, 1] *= flip
    free = np.ones((len(net.free), 3), bool)
    if mirrored:
        free[:, 1] = net.free[:, 1]
    if ground:
        free[:, 2] = net.free[:, 2]
    B = len(net.free)
    w = np.ones(len(rows))
    P = np.eye(3) - d[:, :, None] * d[:, None, :]
    for _ in range(3):
        A = np.zeros((B, 3, 3))
        rhs = np.zeros((B, 3))
        np.add.at(A, b, P * w[:, None, None])
        np.add.at(rhs, b, np.einsum("nij,nj->ni", P, C) * w[:, None])
        held = ~free
        A = A * free[:, :, None] * free[:, None, :] + held[:, :, None] * np.eye(3)
        rhs = rhs * free
        e = np.linalg.eigvalsh(A)
        ok = e[:, 0] > 0.5 * least_parallax**2
        X = np.zeros((B, 3))
        X[ok] = np.linalg.solve(A[ok], rhs[ok][..., None])[..., 0]
        miss = np.linalg.norm(np.einsum("nij,nj->ni", P, X[b] - C), axis=1)
        depth = np.maximum(np.linalg.norm(X[b] - C, axis=1), 1e-12)
        w = 1 / (1 + (miss / depth / 0.004) ** 2)
        w[np.sum((X[b] - C) * d, axis=1) < 0] *= 1e-3
    fixed = _positioned(net)
    sk.known[:] = ok
    sk.X[ok] = X[ok]
    if sk.frame == "positions":
        for body, xyz in fixed.items():
            sk.X[body], sk.known[body] = xyz, True


def _positioned(net: Network) -> dict[int, Array]:
    out = {}
    for p, xyz in zip(net.position_point, net.position_xyz, strict=True):
        xyz = xyz.copy()
        xyz[1] *= net.sign[p]
        out[int(net.body_of[p])] = xyz
    return out
