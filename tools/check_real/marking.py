"""How the committed marks were made: enlargements to read from, patch correlation, edges of rims.

Works on plain arrays; the pictures come from the installed packages (`tools.check_real.pictures`).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def enlarge(image: Array, corner: tuple[int, int], size: tuple[int, int], scale: int, step: int = 10) -> Array:
    """A crop enlarged with grid lines at the pixel centres whose coordinates are multiples of ``step``.

    Parameters
    ----------
    image : (h, w, 3) uint8, BGR.
    corner : x, y of the crop's first pixel.
    size : width and height of the crop, px.
    scale : enlarged pixels for each pixel.
    """
    import cv2

    (x0, y0), (w, h) = corner, size
    warp = np.array([[scale, 0, (0.5 - x0) * scale - 0.5], [0, scale, (0.5 - y0) * scale - 0.5]], float)
    out = cv2.warpAffine(image, warp, (w * scale, h * scale), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    for x in range(-(-x0 // step) * step, x0 + w, step):
        at = int((x - x0 + 0.5) * scale)
        cv2.line(out, (at, 0), (at, h * scale), (160, 160, 60), 1)
        cv2.putText(out, str(x), (at + 2, 10), 0, 0.38, (0, 255, 255), 1)
    for y in range(-(-y0 // step) * step, y0 + h, step):
        at = int((y - y0 + 0.5) * scale)
        cv2.line(out, (0, at), (w * scale, at), (160, 160, 60), 1)
        cv2.putText(out, str(y), (2, at - 2), 0, 0.38, (0, 255, 255), 1)
    return out


def match(
    left: Array, right: Array, spot: tuple[float, float], half: int, search: tuple[int, int] = (20, 80)
) -> tuple[float, float, float]:
    """The same spot in the right picture by normalised correlation of a Gaussian-weighted patch, all colours.

    Parameters
    ----------
    left, right : (h, w, 3) pictures.
    spot : x, y in the left picture, px.
    half : half the patch's side, px.
    search : how far left of ``spot`` to look, px; two pixels up and down.

    Returns
    -------
    Correlation (1: the same up to brightness and contrast), x and y in the right picture, px.
    """
    import cv2
    from scipy.ndimage import map_coordinates
    from scipy.optimize import minimize

    o = np.arange(-half, half + 1)
    weight = np.exp(-(o[:, None] ** 2 + o**2) / (2 * (half / 1.5) ** 2))[..., None] * np.ones(3)
    weight /= weight.sum()

    def patch(image: Array, x: float, y: float) -> Array:
        yy, xx = np.meshgrid(y + o, x + o, indexing="ij")
        m = half + 8
        x0, y0 = max(int(x) - m, 0), max(int(y) - m, 0)
        part = image[y0 : int(y) + m, x0 : int(x) + m].astype(float)
        return np.stack(
            [map_coordinates(part[..., c], [yy - y0, xx - x0], order=3, mode="nearest") for c in range(3)], -1
        )

    def normal(p: Array) -> Array:
        p = p - 3 * np.sum(weight * p, axis=(0, 1), keepdims=True)
        return p / np.sqrt(np.sum(weight * p * p) + 1e-9)

    x, y = spot
    wanted = normal(patch(left, x, y))
    xi, yi = round(x), round(y)
    a, b = max(xi - search[1] - half, 0), xi - search[0] + half + 1
    area = right[yi - 2 - half : yi + 3 + half, a:b].astype(np.float32)
    found = cv2.matchTemplate(area, np.clip(patch(left, x, y), 0, 255).astype(np.float32), cv2.TM_CCOEFF_NORMED)
    j = np.unravel_index(found.argmax(), found.shape)
    start = np.array([a + j[1] + half, yi - 2 + j[0]], float)
    best = minimize(
        lambda q: -np.sum(weight * wanted * normal(patch(right, q[0], q[1]))),
        start,
        method="Nelder-Mead",
        options={
            "xatol": 0.01,
            "fatol": 1e-6,
            "maxfev": 80,
            "initial_simplex": start + np.array([[0, 0], [0.4, 0], [0, 0.4]]),
        },
    )
    return -float(best.fun), float(best.x[0]), float(best.x[1])


def fit_conic(points: Array) -> Array:
    """The ellipse (3, 3) through points (n, 2) by the direct method of Fitzgibbon, Pilu and Fisher 1999."""
    centre, size = points.mean(0), points.std()
    x, y = ((points - centre) / size).T
    design = np.stack([x * x, x * y, y * y, x, y, np.ones_like(x)], 1)
    constraint = np.zeros((6, 6))
    constraint[0, 2] = constraint[2, 0] = 2
    constraint[1, 1] = -1
    values, vectors = np.linalg.eig(np.linalg.solve(design.T @ design, constraint))
    a = vectors[:, np.argmax(values.real)].real
    conic = np.array([[a[0], a[1] / 2, a[3] / 2], [a[1] / 2, a[2], a[4] / 2], [a[3] / 2, a[4] / 2, a[5]]])
    T = np.array([[1 / size, 0, -centre[0] / size], [0, 1 / size, -centre[1] / size], [0, 0, 1]])
    return T.T @ conic @ T


def rim_edge(image: Array, hand: Array, reaches: tuple[float, ...] = (3, 2, 1.5), count: int = 120) -> Array:
    """Edge points of a bright rim on dark, moved from a hand-drawn ellipse to the steepest fall outwards.

    Parameters
    ----------
    image : (h, w, 3) uint8, BGR.
    hand : (n, 2) points on the rim read by hand, n ≥ 6.
    reaches : how far along the normal to look, px, one round after another.
    count : directions tried.

    Returns
    -------
    (m, 2) px, m ≤ count: points within 2.5 robust standard deviations of the last ellipse.
    """
    import cv2
    from scipy.ndimage import gaussian_filter, map_coordinates

    grey = gaussian_filter(cv2.cvtColor(image, cv2.COLOR_BGR2GRAY).astype(float), 0.7)
    conic, kept = fit_conic(hand), hand
    for reach in reaches:
        on, outwards = _sample(conic, count)
        s = np.arange(-reach, reach + 0.05, 0.1)
        at = on[:, None] + s[None, :, None] * outwards[:, None]
        fall = -np.gradient(map_coordinates(grey, [at[..., 1], at[..., 0]], order=3), 0.1, axis=1)
        i = fall[:, 3:-3].argmax(1) + 3
        k = np.arange(count)
        a, b, c = fall[k, i - 1], fall[k, i], fall[k, i + 1]
        shift = np.clip((a - c) / (2 * (a - 2 * b + c) + 1e-12), -1, 1)
        edge = (on + (s[i] + 0.1 * shift)[:, None] * outwards)[(b > 12) & (i > 5) & (i < len(s) - 6)]
        kept = edge
        for _ in range(5):
            conic = fit_conic(kept)
            r = conic_distance(conic, edge)
            spread = 1.4826 * np.median(np.abs(conic_distance(conic, kept)))
            kept = edge[np.abs(r) < max(2.5 * spread, 0.25)]
    return kept


def conic_distance(conic: Array, points: Array) -> Array:
    """First-order (Sampson) distance of points (n, 2) to a conic, px, signed."""
    p = np.c_[points, np.ones(len(points))]
    h = p @ conic
    return np.sum(h * p, axis=1) / (2 * np.linalg.norm(h[:, :2], axis=1))


def _sample(conic: Array, count: int) -> tuple[Array, Array]:
    """Points on an ellipse and its outward unit normals, (count, 2) each."""
    A = conic[:2, :2]
    centre = -np.linalg.solve(A, conic[:2, 2])
    k = -(conic[2, 2] + conic[:2, 2] @ centre)
    values, vectors = np.linalg.eigh(A / k)
    t = np.linspace(0, 2 * np.pi, count, endpoint=False)
    points = centre + np.stack([np.cos(t), np.sin(t)], 1) / np.sqrt(values) @ vectors.T
    normals = (np.c_[points, np.ones(count)] @ conic)[:, :2]
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    return points, normals if np.sum((points - centre) * normals) > 0 else -normals


def disparity_at(disparity: Array, spot: Any) -> tuple[float, float, int]:
    """Median, scatter and count of the nearer surface in 5 × 5 px of a disparity map around a spot (x, y)."""
    x, y = round(spot[0]), round(spot[1])
    window = disparity[y - 2 : y + 3, x - 2 : x + 3]
    window = window[np.isfinite(window)]
    near = window[window > window.max() - 1.2]
    return float(np.median(near)), float(near.std()), int(near.size)
