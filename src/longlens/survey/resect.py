"""Resection: the place, direction and focal length of one camera from points whose places are known.

Starts come from OpenCV's perspective-n-point solvers inside a sampling loop, over a grid of focal lengths, and from the
direct linear transform where six or more points stand in space (Hartley & Zisserman, ch. 7); all are then refined
together by a damped Gauss–Newton with a Cauchy loss, and ranked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.survey.camera import Array, cross, rotation

#: Focal lengths tried, as parts of the picture's longer side: about 18 mm to 250 mm on a full-frame camera.
FOCAL_GRID = np.array([0.5, 0.7, 0.95, 1.3, 1.8, 2.5, 3.5, 5.0, 7.0])


@dataclass
class Pose:
    """One camera: R (3, 3), C (3,), f (px), principal shift (2,) px, score (smaller is better), inliers (n,) bool."""

    R: Array
    C: Array
    f: float
    shift: Array
    score: float
    inliers: np.ndarray


def resect(
    X: Array,
    q: Array,
    sd: Array,
    side: float,
    *,
    focal: float | None = None,
    principal_free: bool = False,
    keep: int = 2,
    tolerance: float = 0.006,
    quick: bool = False,
) -> list[Pose]:
    """Poses of a camera, best first.

    Parameters
    ----------
    X : (n, 3) places; q : (n, 2) pixels from the assumed principal point; sd : (n,) px.
    side : the picture's longer side, px. focal : known focal length, px, or None.
    tolerance : what counts as fitting, as a part of ``side`` (the places themselves may still be rough).
    quick : try fewer focal lengths; enough to rank, not to be sure.
    """
    n = len(X)
    if n < 4:
        return []
    if n > 60:  # enough to find the pose; the adjustment uses all
        pick = np.linspace(0, n - 1, 60).astype(int)
        poses = resect(X[pick], q[pick], sd[pick], side, focal=focal, principal_free=principal_free, keep=keep,
                       tolerance=tolerance, quick=quick)  # fmt: skip
        return poses
    starts: list[tuple[Array, Array, float, Array]] = []
    scale = max(float(np.linalg.norm(X - X.mean(0), axis=1).max()), 1e-12)
    Xn = (X - X.mean(0)) / scale
    flat = np.linalg.svd(Xn, compute_uv=False)
    if n >= 6 and flat[2] > 0.02 * flat[0]:
        starts += direct_linear(Xn, q, principal_free)
    grid = np.array([focal]) if focal is not None else FOCAL_GRID * side
    if quick:
        grid = grid[[2, 4, 6]] if len(grid) == len(FOCAL_GRID) else grid
    elif len(starts) and n >= 8:
        grid = grid[[0, 2, 4, 6, 8]] if len(grid) == len(FOCAL_GRID) else grid
    for f in grid:
        starts += _pnp(Xn, q, float(f), max(tolerance * 2 * side, 6 * float(np.median(sd))))
    if not starts:
        return []
    out = _refine(Xn, q, np.maximum(sd, tolerance * side / 4), starts, focal, principal_free)
    for p in out:
        p.C = p.C * scale + X.mean(0)
    out.sort(key=lambda p: p.score)
    return out[:keep]


def direct_linear(X: Array, q: Array, principal_free: bool) -> list[tuple[Array, Array, float, Array]]:
    """Direct linear transform of n ≥ 6 points in space; a robust second pass drops the worst fifth."""
    out = []
    use = np.ones(len(X), bool)
    for _ in range(2):
        size = np.abs(q[use]).max() or 1.0
        P = _dlt(X[use], q[use] / size)
        if P is None:
            break
        P = np.diag([size, size, 1]) @ P
        got = _decompose(P, X)
        if got is not None:
            R, C, f, pp = got
            out.append((R, C, f, pp if principal_free else np.zeros(2)))
        x = (P[:, :3] @ X.T + P[:, 3:]).T
        e = np.linalg.norm(x[:, :2] / x[:, 2:] - q, axis=1)
        use = e <= np.quantile(e, 0.8)
        if use.sum() < 7:
            break
    return out


def _dlt(X: Array, q: Array) -> Array | None:
    Xh = np.c_[X, np.ones(len(X))]
    zero = np.zeros_like(Xh)
    A = np.r_[np.c_[Xh, zero, -q[:, :1] * Xh], np.c_[zero, Xh, -q[:, 1:] * Xh]]
    _, s, V = np.linalg.svd(A, full_matrices=False)
    if s[-2] < 1e-10 * s[0]:
        return None
    return V[-1].reshape(3, 4)


def _decompose(P: Array, X: Array) -> tuple[Array, Array, float, Array] | None:
    from scipy.linalg import rq

    if np.linalg.det(P[:, :3]) < 0:
        P = -P
    K, R = rq(P[:, :3])
    T = np.diag(np.sign(np.diag(K)))
    K, R = K @ T, T @ R
    if np.linalg.det(R) < 0 or abs(K[2, 2]) < 1e-15:
        return None
    C = -np.linalg.solve(P[:, :3], P[:, 3])
    K = K / K[2, 2]
    if np.median(((X - C) @ R.T)[:, 2]) <= 0:
        return None
    return R, C, float(np.sqrt(abs(K[0, 0] * K[1, 1]))), K[:2, 2].copy()


def _pnp(X: Array, q: Array, f: float, threshold: float) -> list[tuple[Array, Array, float, Array]]:
    import cv2

    K = np.array([[f, 0, 0], [0, f, 0], [0, 0, 1.0]])
    out = []
    try:
        cv2.setRNGSeed(1)
        if len(X) >= 6:
            ok, rvec, tvec, _ = cv2.solvePnPRansac(
                X, q, K, None, iterationsCount=30, reprojectionError=threshold, flags=cv2.SOLVEPNP_SQPNP
            )
            found = [(rvec, tvec)] if ok else []
        else:
            number, rvecs, tvecs, _ = cv2.solvePnPGeneric(X, q, K, None, flags=cv2.SOLVEPNP_SQPNP)
            found = list(zip(rvecs, tvecs, strict=True)) if number else []
    except cv2.error:
        return []
    for rvec, tvec in found:
        R = cv2.Rodrigues(rvec)[0]
        C = -R.T @ tvec[:, 0]
        if np.all(np.isfinite(C)) and np.median(((X - C) @ R.T)[:, 2]) > 0:
            out.append((R, C, f, np.zeros(2)))
    return out


def _refine(X, q, sd, starts, focal, principal_free, iterations: int = 18) -> list[Pose]:
    """All starts at once: Cauchy-weighted damped Gauss–Newton on rotation, place, log f and, if free, principal point."""
    R = np.array([s[0] for s in starts])
    C = np.array([s[1] for s in starts])
    logf = np.log([np.clip(s[2], 1e-3, 1e9) for s in starts])
    shift = np.array([s[3] for s in starts])
    k = 9 if principal_free else 7
    lam = np.full(len(starts), 1e-3)

    def see(R, C, logf, shift):
        Xc = np.einsum("kij,knj->kni", R, X - C[:, None])
        z = np.maximum(Xc[..., 2], 1e-6)
        p = np.exp(logf)[:, None, None] * Xc[..., :2] / z[..., None]
        e = (p + shift[:, None] - q) / sd[:, None]
        e2 = np.sum(e * e, -1) + 1e6 * (Xc[..., 2] <= 1e-6)
        return Xc, z, p, e, e2

    Xc, z, p, e, e2 = see(R, C, logf, shift)
    loss = np.sum(np.log1p(e2 / 4), 1)
    for _ in range(iterations):
        w = 1 / (1 + e2 / 4) / sd**2
        f = np.exp(logf)[:, None]
        d = np.zeros((*p.shape, 3))
        d[..., 0, 0] = d[..., 1, 1] = f / z
        d[..., 0, 2], d[..., 1, 2] = -p[..., 0] / z, -p[..., 1] / z
        J = np.zeros((*p.shape, k))
        J[..., 0:3] = cross(Xc[..., None, :], d)
        J[..., 3:6] = -(d @ R[:, None])
        J[..., 6] = p if focal is None else 0
        if principal_free:
            J[..., 7:9] = np.eye(2)
        JW = J * w[..., None, None]
        H = np.einsum("knmi,knmj->kij", JW, J)
        g = np.einsum("knmi,knm->ki", JW, e * sd[:, None])
        D = np.einsum("kii->ki", H)
        H = H + (lam[:, None] * D + 1e-12 * D.max(1, keepdims=True))[:, :, None] * np.eye(k)
        try:
            step = -np.linalg.solve(H, g[..., None])[..., 0]
        except np.linalg.LinAlgError:
            break
        step[:, :3] = np.clip(step[:, :3], -0.5, 0.5)
        step[:, 6] = np.clip(step[:, 6], -0.5, 0.5)
        trial = (
            rotation(step[:, :3]) @ R,
            C + step[:, 3:6],
            logf + (step[:, 6] if focal is None else 0),
            shift + step[:, 7:9] if principal_free else shift,
        )
        t = see(*trial)
        t_loss = np.sum(np.log1p(t[4] / 4), 1)
        better = t_loss < loss
        lam = np.where(better, lam / 10, lam * 10).clip(1e-12, 1e12)

        def pick(new, old, better=better):
            return np.where(better.reshape(-1, *[1] * (np.ndim(old) - 1)), new, old)

        R, C, logf, shift = (pick(a, b) for a, b in zip(trial, (R, C, logf, shift), strict=True))
        Xc, z, p, e, e2 = (pick(a, b) for a, b in zip(t, (Xc, z, p, e, e2), strict=True))
        done = np.all((np.abs(t_loss - loss) < 1e-4 * loss) | ~better)
        loss = pick(t_loss, loss)
        if done and np.all(lam > 1e-6):
            break
    return [
        Pose(R[i], C[i], float(np.exp(logf[i])), shift[i], float(loss[i] / len(X)), e2[i] < 9)
        for i in range(len(starts))
        if np.isfinite(loss[i])
    ]
