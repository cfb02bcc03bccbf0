"""Circles in space and their pictures.

A circle of radius r, centre c and unit axis n is pictured as a conic. Its edge points are compared with the *projected
curve itself* (lens distortion and all): for each observed edge pixel the nearest point of the curve is found by its
angle θ, and the residual is the distance across the curve. Sources: Hartley & Zisserman, *Multiple View Geometry*, ch. 8
(conics under projection); Fitzgibbon, Pilu & Fisher 1999 (direct ellipse fit); the two poses of a circle follow from the
eigenvectors of its cone.
"""

from __future__ import annotations

import numpy as np

from longlens.survey.camera import Array, cross

COARSE = 36


def basis(normal: Array) -> tuple[Array, Array]:
    """Two unit vectors (..., 3) that span the plane across ``normal`` (..., 3); smooth but for a turn near ±x."""
    n0, n1, n2 = normal[..., 0], normal[..., 1], normal[..., 2]
    wide = np.abs(n0) > 0.9
    # ex × n, or ez × n near ±x
    a = np.stack([np.where(wide, -n1, 0.0), np.where(wide, n0, -n2), np.where(wide, 0.0, n1)], axis=-1)
    a /= np.linalg.norm(a, axis=-1, keepdims=True)
    return a, cross(normal, a)


def fit_ellipse(xy: Array) -> Array | None:
    """Conic matrix (3, 3) of the ellipse through, or nearest to, points (n, 2); None when there is none.

    Fitzgibbon's direct fit in Halíř & Flusser's stable form, on shifted and scaled points. Five points at least; a short
    arc pulls the ellipse small (a known bias): good for a start, the adjustment then uses the points themselves.
    """
    xy = np.asarray(xy, float)
    if len(xy) < 5:
        return None
    centre = xy.mean(0)
    size = np.abs(xy - centre).max() or 1.0
    x, y = ((xy - centre) / size).T
    D1 = np.stack([x * x, x * y, y * y], 1)
    D2 = np.stack([x, y, np.ones_like(x)], 1)
    S1, S2, S3 = D1.T @ D1, D1.T @ D2, D2.T @ D2
    try:
        T = -np.linalg.solve(S3, S2.T)
        M = S1 + S2 @ T
        M = np.array([M[2] / 2, -M[1], M[0] / 2])
        _, V = np.linalg.eig(M)
    except np.linalg.LinAlgError:
        return None
    V = V.real
    ok = 4 * V[0] * V[2] - V[1] ** 2 > 1e-12
    if not ok.any():
        return None
    a = V[:, np.flatnonzero(ok)[0]]
    A, B, Cc, D, E, F = np.concatenate([a, T @ a])
    Q = np.array([[A, B / 2, D / 2], [B / 2, Cc, E / 2], [D / 2, E / 2, F]])
    S = np.array([[1 / size, 0, -centre[0] / size], [0, 1 / size, -centre[1] / size], [0, 0, 1]])
    Q = S.T @ Q @ S
    return Q / np.linalg.norm(Q)


def ellipse_centre(Q: Array) -> Array:
    """Centre (2,) of a conic matrix."""
    return -np.linalg.solve(Q[:2, :2], Q[:2, 2])


def conic_in_camera(Q: Array, f: float, principal: Array) -> Array:
    """The cone (3, 3) in pinhole coordinates of a conic in pixels (no distortion)."""
    K = np.array([[f, 0, principal[0]], [0, f, principal[1]], [0, 0, 1.0]])
    return K.T @ Q @ K


def circle_poses(cone: Array, radius: float = 1.0) -> list[tuple[Array, Array]]:
    """Both poses of a circle of known radius from its cone.

    Parameters
    ----------
    cone : (3, 3) symmetric, in the camera's pinhole coordinates, of signature (2, 1).
    radius : m.

    Returns
    -------
    Two pairs (centre (3,) with z > 0, unit normal (3,) turned towards the camera); none if the cone is not of a circle.
    They coincide for a circle seen straight on.
    """
    w, V = np.linalg.eigh((cone + cone.T) / 2)
    if np.sum(w > 0) == 1:  # two negative: turn the sign
        w, V = -w[::-1], V[:, ::-1]
    if not (w[0] < 0 < w[1]):
        return []
    l3, l2, l1 = w  # l1 ≥ l2 > 0 > l3
    v3, v1 = V[:, 0], V[:, 2]
    g = np.sqrt(max((l2 - l3) / (l1 - l3), 0.0))
    h = np.sqrt(max((l1 - l2) / (l1 - l3), 0.0))
    out = []
    for s in (1.0, -1.0):
        n = g * v3 + s * h * v1
        z0 = l2 * radius / np.sqrt(-l1 * l3)
        c = z0 * (g * (l1 / l2) * v3 + s * h * (l3 / l2) * v1)
        if c[2] < 0:
            c = -c
        if n @ c > 0:
            n = -n
        out.append((c, n))
    return out


def nearest_angle(distance2, theta: Array) -> Array:
    """The best of sampled angles; ``distance2`` maps (n, k) angles to squared distances."""
    return np.take_along_axis(theta, np.argmin(distance2(theta), axis=-1)[:, None], axis=-1)[:, 0]
