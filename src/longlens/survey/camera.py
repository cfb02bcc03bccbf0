"""The camera: from a point of the car to a pixel, and the derivatives of that road.

Conventions (those of the exchange document): pixels with (0, 0) at the centre of the top-left pixel, x right, y down;
the camera frame has x right, y down, z ahead. A rotation matrix ``R`` takes vehicle axes to camera axes, ``C`` is the
place of the camera in vehicle axes: ``Xc = R (X − C)``. With ``u`` the pinhole coordinates ``Xc[:2]/Xc[2]``::

    x_pixel = principal + f · u · (1 + k1 |u|²)

Inside the adjustment the radial term is carried as ``kappa = k1 · (rho/f)²``, the relative shift at ``rho`` pixels from
the principal point (``rho``: half the picture's diagonal), since that is what a lens maker keeps small, and since it
hardly correlates with the focal length.
"""

from __future__ import annotations

import numpy as np

Array = np.ndarray

#: Points nearer than this (m, or the unit of a free scale) to the camera's plane have no picture.
NEAREST = 1e-9


def project(X: Array, R: Array, C: Array, f: Array | float, k1: Array | float, principal: Array) -> Array:
    """Pixels of points.

    Parameters
    ----------
    X : (..., 3) points, m, vehicle axes.
    R : (..., 3, 3) rotations from vehicle to camera axes.
    C : (..., 3) camera places, m.
    f : (...) focal lengths, px.
    k1 : (...) radial terms, dimensionless.
    principal : (..., 2) principal points, px.

    Returns
    -------
    (..., 2) pixels; NaN for points behind the camera.

    Limits: one radial term, no tangential distortion, square pixels. Beyond the radius where
    ``r (1 + k1 r²)`` turns back (k1 < 0), the picture folds and the result has no meaning.
    """
    Xc = camera_frame(X, R, C)
    z = Xc[..., 2:]
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.where(z > NEAREST, Xc[..., :2] / z, np.nan)
    r2 = np.sum(u * u, axis=-1, keepdims=True)
    f, k1 = np.asarray(f)[..., None], np.asarray(k1)[..., None]
    return principal + f * u * (1 + k1 * r2)


def cross(a: Array, b: Array) -> Array:
    """Cross product of (..., 3) with (..., 3). NumPy's own takes three times as long on small arrays, and here they are
    small and many."""
    a0, a1, a2 = a[..., 0], a[..., 1], a[..., 2]
    b0, b1, b2 = b[..., 0], b[..., 1], b[..., 2]
    return np.stack([a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0], axis=-1)


def camera_frame(X: Array, R: Array, C: Array) -> Array:
    """Vehicle axes to camera axes, (..., 3)."""
    return np.einsum("...ij,...j->...i", R, X - C)


def image(Xc: Array, f: Array, kappa: Array, rho: Array, principal: Array) -> Array:
    """Pixels (..., 2) of points in the camera frame (..., 3); the caller has seen to it that z > 0."""
    p = f[..., None] * Xc[..., :2] / Xc[..., 2:]
    s = np.sum(p * p, axis=-1) / rho**2
    return principal + p * (1 + kappa * s)[..., None]


def image_with_derivatives(
    Xc: Array, f: Array, kappa: Array, rho: Array, principal: Array
) -> tuple[Array, Array, Array, Array]:
    """Pixels and derivatives.

    Returns
    -------
    x : (..., 2) pixels.
    dXc : (..., 2, 3) by the point in the camera frame, px/m.
    dlogf : (..., 2) by the logarithm of the focal length, px.
    dkappa : (..., 2) by kappa, px.
    """
    iz = 1.0 / Xc[..., 2]
    p = (f * iz)[..., None] * Xc[..., :2]
    s = np.sum(p * p, axis=-1) / rho**2
    stretch = 1 + kappa * s
    x = principal + p * stretch[..., None]
    # dx/dp = stretch·I + (2 kappa / rho²) p pᵀ
    c = 2 * kappa / rho**2
    a11 = stretch + c * p[..., 0] ** 2
    a22 = stretch + c * p[..., 1] ** 2
    a12 = c * p[..., 0] * p[..., 1]
    g = f * iz
    dXc = np.empty((*p.shape, 3))
    dXc[..., 0, 0] = a11 * g
    dXc[..., 0, 1] = a12 * g
    dXc[..., 1, 0] = a12 * g
    dXc[..., 1, 1] = a22 * g
    dXc[..., 0, 2] = -(a11 * p[..., 0] + a12 * p[..., 1]) * iz
    dXc[..., 1, 2] = -(a12 * p[..., 0] + a22 * p[..., 1]) * iz
    dlogf = p * (1 + 3 * kappa * s)[..., None]
    dkappa = p * s[..., None]
    return x, dXc, dlogf, dkappa


def rays(pixels: Array, f: Array | float, kappa: Array | float, rho: float, principal: Array) -> Array:
    """Directions (n, 3) with unit z in the camera frame of pixels (n, 2): the picture undone.

    The radial equation ``q = p (1 + kappa |p|²/rho²)`` is undone by Newton steps on the radius; pixels beyond the
    fold of a strong barrel distortion are taken at the fold.
    """
    q = np.asarray(pixels, float) - principal
    rq = np.linalg.norm(q, axis=-1)
    r = rq.copy()
    for _ in range(12):
        slope = np.maximum(1 + 3 * kappa * (r / rho) ** 2, 0.05)
        r = r - (r * (1 + kappa * (r / rho) ** 2) - rq) / slope
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.where(rq > 0, r / np.where(rq > 0, rq, 1.0), 1.0)
    p = q * scale[..., None] / f
    return np.concatenate([p, np.ones((*p.shape[:-1], 1))], axis=-1)


def rotation(w: Array) -> Array:
    """Rotation matrices (..., 3, 3) of rotation vectors (..., 3), rad (Rodrigues)."""
    w = np.asarray(w, float)
    t2 = np.sum(w * w, axis=-1)
    t = np.sqrt(t2)
    small = t < 1e-6
    ts = np.where(small, 1.0, t)
    a = np.where(small, 1 - t2 / 6, np.sin(ts) / ts)
    b = np.where(small, 0.5 - t2 / 24, (1 - np.cos(ts)) / ts**2)
    K = cross_matrix(w)
    return np.eye(3) + a[..., None, None] * K + b[..., None, None] * (K @ K)


def cross_matrix(w: Array) -> Array:
    """(..., 3, 3) matrices with ``cross_matrix(w) @ v = w × v``."""
    K = np.zeros((*w.shape[:-1], 3, 3))
    K[..., 0, 1], K[..., 0, 2] = -w[..., 2], w[..., 1]
    K[..., 1, 0], K[..., 1, 2] = w[..., 2], -w[..., 0]
    K[..., 2, 0], K[..., 2, 1] = -w[..., 1], w[..., 0]
    return K


def look_at(place: Array, target: Array, up: Array | None = None) -> Array:
    """The rotation (3, 3) of a camera at ``place`` that looks at ``target`` with the horizon level."""
    up = np.array([0.0, 0.0, 1.0]) if up is None else up
    z = np.asarray(target, float) - place
    z = z / np.linalg.norm(z)
    x = np.cross(z, up)
    if np.linalg.norm(x) < 1e-9:
        x = np.cross(z, [1.0, 0.0, 0.0])
    x = x / np.linalg.norm(x)
    return np.stack([x, np.cross(z, x), z])
