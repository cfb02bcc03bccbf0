"""Seeds: rough solutions of one or two shots, from which the others are found. None needs a guess by the user.

* Known positions: resection.
* Mirror pairs: the lines through the pictures of twins meet in the lateral vanishing point; with a focal length the pairs
  triangulate against their own reflection (the picture's mirror image is a second view).
* Wheel circles: each has two poses; the pair of poses whose axes agree gives the lateral axis and the wheels' places.
* Two views: the essential matrix over a grid of focal lengths (works for flat scenes too).
"""

from __future__ import annotations

import itertools

import numpy as np

from longlens.survey.camera import Array, cross_matrix, rotation
from longlens.survey.circle import circle_poses, conic_in_camera, fit_ellipse
from longlens.survey.network import Network
from longlens.survey.resect import FOCAL_GRID, resect
from longlens.survey.triangulate import Sketch, blank_sketch


def focal_candidates(net: Network, shot: int) -> Array:
    """Focal lengths to try for a shot, px: its prior if it has one, else the grid from usual to unusual."""
    g = net.camera_of[shot]
    if net.logf_sd[g] < 0.3:
        f = np.exp(net.logf0[g])
        return np.array([f]) if net.logf_sd[g] < 0.08 else f * np.exp(np.array([0, -1, 1]) * net.logf_sd[g])
    side = net.size[shot].max()
    order = np.argsort(np.abs(np.log(FOCAL_GRID / 1.3)))
    return FOCAL_GRID[order] * side


def centred(net: Network, rows: np.ndarray) -> Array:
    """Pixels of point marks from the assumed principal point."""
    return net.mark_xy[rows] - net.principal0[net.mark_shot[rows]]


def pairs_on(net: Network, shot: int) -> list[tuple[int, int, int]]:
    """Twins both marked on a shot: (body, row of the point with sign +, row of its twin)."""
    rows = np.flatnonzero(net.mark_shot == shot)
    first: dict[int, int] = {}
    second: dict[int, int] = {}
    partner = {int(a): int(b) for a, b, _ in net.soft}
    back = {b: a for a, b in partner.items()}
    for r in rows:
        b = int(net.mark_body[r])
        if b in back:
            second[back[b]] = int(r)
        elif net.mark_sign[r] > 0:
            first[b] = int(r)
        else:
            second[b] = int(r)
    return [(b, first[b], second[b]) for b in first if b in second]


def ellipses_on(net: Network, shot: int) -> dict[int, Array]:
    """Conic matrices of the circles seen on a shot, in pixels from the assumed principal point."""
    out = {}
    for m in np.unique(net.edge_circle[net.edge_shot == shot]):
        rows = (net.edge_shot == shot) & (net.edge_circle == m)
        Q = fit_ellipse(net.edge_xy[rows] - net.principal0[shot])
        if Q is not None:
            out[int(m)] = Q
    return out


def seed_positions(net: Network, shot: int) -> list[Sketch]:
    """Resection from facts of position."""
    from longlens.survey.triangulate import _positioned

    fixed = _positioned(net)
    rows = np.array([r for r in np.flatnonzero(net.mark_shot == shot) if int(net.mark_body[r]) in fixed], int)
    if len(rows) < 4:
        return []
    X = np.array([fixed[int(b)] for b in net.mark_body[rows]])
    X[:, 1] *= net.mark_sign[rows]
    prior = focal_candidates(net, shot)
    out = []
    for pose in resect(
        X, centred(net, rows), net.mark_sd[rows], net.size[shot].max(),
        focal=float(prior[0]) if len(prior) == 1 else None, principal_free=_principal_free(net, shot),
        tolerance=0.003, keep=3,
    ):  # fmt: skip
        sk = blank_sketch(net)
        sk.frame = "positions"
        _pose(sk, shot, pose)
        for body, xyz in fixed.items():
            sk.X[body], sk.known[body] = xyz, True
        out.append(sk)
    return out


def _principal_free(net: Network, shot: int) -> bool:
    return bool(net.principal_sd[shot] > 0.05 * net.size[shot].max())


def _pose(sk: Sketch, shot: int, pose) -> None:
    sk.R[shot], sk.C[shot], sk.f[shot], sk.shift[shot], sk.posed[shot] = (
        pose.R,
        pose.C,
        pose.f,
        pose.shift,
        True,
    )


def lateral_direction(net: Network, shot: int, f: float, pairs, conics) -> tuple[Array | None, float]:
    """The car's lateral axis in the camera frame, unit (3,), and the misfit (rad): from twins and from wheel circles.

    Twins: each pair's two rays span a plane that holds the axis. Robust by reweighting.
    """
    e, misfit = None, np.inf
    if len(pairs) >= 2:
        a = np.c_[centred(net, np.array([p[1] for p in pairs])) / f, np.ones(len(pairs))]
        b = np.c_[centred(net, np.array([p[2] for p in pairs])) / f, np.ones(len(pairs))]
        m = np.cross(a, b)
        length = np.linalg.norm(m, axis=1)
        ok = length > 1e-9
        m, weight = m[ok] / length[ok, None], length[ok]
        doubt = np.zeros(len(m))
        for _ in range(6 if ok.sum() >= 2 else 0):  # twins marked at one place tell nothing
            _, _, V = np.linalg.svd(m * (weight / weight.max() / (1 + doubt**2))[:, None])
            e = V[-1]
            r = np.abs(m @ e) * weight
            doubt = r / max(float(np.median(r)) * 2, 1e-4)
        if e is not None:
            misfit = float(np.median(np.abs(m @ e)))
    if len(pairs) < 4:
        poses = [circle_poses(conic_in_camera(Q, f, np.zeros(2))) for Q in conics.values()]
        poses = [p for p in poses if p]
        best = None
        if poses:
            for combo in itertools.product(*[range(2)] * min(len(poses), 4)):
                n = np.array([p[k][1] for p, k in zip(poses, combo, strict=False)])
                n = n * np.where(n @ n[0] < 0, -1, 1)[:, None]
                mean = n.sum(0) / np.linalg.norm(n.sum(0))
                spread = float(np.sqrt(np.mean(np.sum(np.cross(n, mean) ** 2, 1))))
                if e is not None:
                    spread += float(np.linalg.norm(np.cross(mean, e)))
                if best is None or spread < best[0]:
                    best = (spread, mean)
        if best is not None and (e is None or len(pairs) < 3):
            misfit, e = best
    return e, misfit


def seed_shot(net: Network, shot: int, f: float, pairs, conics) -> list[Sketch]:
    """One shot in a frame whose y is lateral and whose centre plane is y = 0, scaled so that the camera is one unit from
    it (pairs), or by the circles' radius (circles alone)."""
    e, misfit = lateral_direction(net, shot, f, pairs, conics)
    if e is None:
        return []
    y = e
    up = np.array([0, -1.0, 0])
    z = up - (up @ y) * y
    if np.linalg.norm(z) < 0.1:
        return []
    z /= np.linalg.norm(z)
    W = np.stack([np.cross(y, z), y, z])  # camera → seed frame
    sk = blank_sketch(net)
    sk.frame = "mirror"
    sk.f[shot], sk.posed[shot], sk.R[shot] = f, True, W.T
    sk.score = misfit
    found = _pairs_in_frame(net, sk, shot, f, pairs, W)
    if not found and pairs:  # the plane may lie on the camera's other side: turn the heading round
        W = np.diag([-1.0, -1.0, 1.0]) @ W
        sk.R[shot] = W.T
        found = _pairs_in_frame(net, sk, shot, f, pairs, W)
    _circles_in_frame(net, sk, shot, f, conics, W, found)
    if not sk.known.any():
        return []
    if found:
        return [sk]
    # nothing tells where the centre plane is: place it beside the wheels, half a track away
    flip = sk.copy()
    flip.R[shot] = (np.diag([-1.0, -1.0, 1.0]) @ W).T  # heading turned round
    flip.X = sk.X * [-1, -1, 1]
    flip.C = sk.C * [-1, -1, 1]
    flip.normal = sk.normal * [-1, -1, 1]
    return [sk, flip]


def _pairs_in_frame(net: Network, sk: Sketch, shot: int, f: float, pairs, W: Array) -> bool:
    """Triangulate twins against their own reflection; the camera stands at y = −1."""
    partner = {int(a): int(b) for a, b, _ in net.soft}
    if not pairs:
        return False
    a = np.c_[centred(net, np.array([p[1] for p in pairs])) / f, np.ones(len(pairs))] @ W.T
    b = np.c_[centred(net, np.array([p[2] for p in pairs])) / f, np.ones(len(pairs))] @ W.T
    C = np.array([0.0, -1.0, 0.0])
    ua, ub = a / np.linalg.norm(a, axis=1)[:, None], b / np.linalg.norm(b, axis=1)[:, None]
    ub = ub * [1, -1, 1]
    Cm = C * [1, -1, 1]
    P, Q = (np.eye(3) - u[:, :, None] * u[:, None, :] for u in (ua, ub))
    A, rhs = P + Q, P @ C + Q @ Cm
    good = np.linalg.eigvalsh(A)[:, 0] > 0.5 * 0.03**2
    if good.sum() < min(2, len(pairs)):
        return False
    X = np.zeros((len(pairs), 3))
    X[good] = np.linalg.solve(A[good], rhs[good][..., None])[..., 0]
    ahead = (np.sum((X - C) * ua, 1) > 0) & (np.sum((X - Cm) * ub, 1) > 0)
    good &= ahead
    if good.sum() < min(2, len(pairs)) or ahead.sum() < 0.5 * len(pairs):
        return False
    sk.C[shot] = C
    for (body, _, _), x, ok in zip(pairs, X, good, strict=True):
        if ok:
            sk.X[body], sk.known[body] = x, True
            if body in partner:
                sk.X[partner[body]], sk.known[partner[body]] = x * [1, -1, 1], True
    for r in np.flatnonzero(net.mark_shot == shot):  # single points of the centre plane
        body = int(net.mark_body[r])
        if not net.free[body, 1] and not sk.known[body]:
            d = np.r_[(net.mark_xy[r] - net.principal0[shot]) / f, 1.0] @ W.T
            if d[1] > 1e-3:
                sk.X[body], sk.known[body] = C + d / d[1], True
    return True


def _circles_in_frame(net: Network, sk: Sketch, shot: int, f: float, conics, W: Array, placed: bool) -> None:
    """Circles from their pose nearest the lateral axis. With pairs placed, the radius follows from known centres; alone,
    a given diameter (or one unit) makes the scale."""
    chosen = {}
    for m, Q in conics.items():
        poses = circle_poses(conic_in_camera(Q, f, np.zeros(2)))
        if poses:
            c, n = max(poses, key=lambda p: abs((W @ p[1])[1]))
            chosen[m] = (W @ c, W @ n)
    if not chosen:
        return
    given = {int(q): v / 2 for q, v in zip(net.diameter_radius, net.diameter_value, strict=True)}
    ratio = {}
    for m, (c, _) in chosen.items():
        body = net.circle_body[m]
        if placed and sk.known[body]:
            depth = np.linalg.norm(sk.X[body] * [1, net.circle_sign[m], 1] - sk.C[shot])
            ratio[int(net.radius_of[m])] = depth / np.linalg.norm(c)
    if placed and not ratio:
        return
    unit = 1.0
    if placed:  # given diameters carry the scale from one radius to another
        known = [r / given[q] for q, r in ratio.items() if q in given]
        unit = float(np.median(known)) if known else 0.0
    for m, (c, n) in chosen.items():
        q = int(net.radius_of[m])
        r = ratio.get(q) or (given[q] * unit if q in given and unit else (1.0 if not placed and not given else None))
        if r is None:
            continue
        sk.radius[q] = r
        body = net.circle_body[m]
        sk.normal[m] = n * (1 if n[1] > 0 else -1)
        if not sk.known[body]:
            sk.X[body], sk.known[body] = (sk.C[shot] + r * c) * [1, net.circle_sign[m], 1], True
    if not placed:
        _beside_plane(net, sk, shot, chosen)


def _beside_plane(net: Network, sk: Sketch, shot: int, chosen) -> None:
    """Move the frame so that the wheels stand half a usual track from y = 0, on the camera's side, and near x = 0."""
    bodies = [net.circle_body[m] for m in chosen if sk.known[net.circle_body[m]]]
    if not bodies:
        return
    signs = np.array([net.circle_sign[m] for m in chosen if sk.known[net.circle_body[m]]])
    place = sk.X[bodies] * np.c_[np.ones(len(bodies)), signs, np.ones(len(bodies))]
    middle = place.mean(0)
    r = np.nanmean(sk.radius)
    half = 3.3 * r
    side = -1.0  # the camera stands at smaller y in the seed frame: outward is −y when it looks along +y
    outward = np.mean([chosen[m][1][1] for m in chosen])
    side = 1.0 if outward > 0 else -1.0
    shift = np.array([-middle[0], side * half - middle[1], -middle[2]])
    sk.C[shot] += shift
    for b, s in zip(bodies, signs, strict=True):
        sk.X[b] = (sk.X[b] * [1, s, 1] + shift) * [1, s, 1]


def seed_two_views(net: Network, i: int, j: int, most: int = 4) -> list[Sketch]:
    """Two shots by their essential matrix, over focal lengths; frame of the first camera, base length one."""
    import cv2

    ri = {int(net.mark_point[r]): r for r in np.flatnonzero(net.mark_shot == i)}
    rj = {int(net.mark_point[r]): r for r in np.flatnonzero(net.mark_shot == j)}
    common = sorted(set(ri) & set(rj))
    if len(common) < 5:
        return []
    qi, qj = centred(net, np.array([ri[p] for p in common])), centred(net, np.array([rj[p] for p in common]))
    if min(len(np.unique(q, axis=0)) for q in (qi, qj)) < 5:
        return []  # marks at one place have no two views
    fi, fj = focal_candidates(net, i), focal_candidates(net, j)
    same = net.camera_of[i] == net.camera_of[j]
    combos = [(f, f) for f in fi] if same else [(a, b) for a in fi for b in fj]
    if len(combos) > 12 and len(common) >= 8:
        combos = _by_fundamental(qi, qj, combos)[:12]
    elif len(combos) > 27:
        combos = [(a, b) for a, b in combos if 0.35 < (a / net.size[i].max()) / (b / net.size[j].max()) < 2.9][:40]
    sd = float(np.median(np.r_[net.mark_sd[[ri[p] for p in common]], net.mark_sd[[rj[p] for p in common]]]))
    out: list[tuple] = []
    for a, b in combos:
        x, y = qi / a, qj / b
        noise = 2 * sd / min(a, b)
        options: list[tuple[Array, Array]] = [(np.eye(3), _shift_alone(x, y))]
        for threshold in (2 * noise, max(0.004, 4 * noise)):
            cv2.setRNGSeed(1)
            E, _ = cv2.findEssentialMat(
                x, y, np.eye(3), method=cv2.RANSAC, prob=0.999, threshold=threshold, maxIters=150
            )
            for E1 in np.split(E, len(E) // 3) if E is not None else []:
                _, R, t, _ = cv2.recoverPose(E1, x, y, np.eye(3), distanceThresh=1e6)[:4]
                options.append((np.asarray(R), np.asarray(t)[:, 0]))
        for R, t in options:
            if not np.all(np.isfinite(t)):
                continue
            R, t = _refine_pair(R, t, x, y, noise)
            ahead = _in_front(R, t, x, y)
            if ahead < 0.5:
                t, ahead = -t, _in_front(R, -t, x, y)
            e = _epipolar(cross_matrix(t) @ R, x, y) / noise
            score = float(np.mean(np.log1p(e * e))) + 2.0 * (1 - ahead)
            if ahead > 0.6 and all(np.linalg.norm(R - o[3]) + np.linalg.norm(t - o[4]) > 0.02 for o in out):
                out.append((score, a, b, R, t))
    out.sort(key=lambda o: o[0])
    sketches = []
    for score, a, b, R, t in out[:most]:
        sk = blank_sketch(net)
        sk.frame, sk.score = "views", score
        sk.f[i], sk.f[j] = a, b
        sk.posed[[i, j]] = True
        sk.R[j], sk.C[j] = R, -R.T @ t
        sketches.append(sk)
    return sketches


def _shift_alone(x: Array, y: Array) -> Array:
    """Unit shift between two cameras that look the same way: square to all ``x × y``."""
    m = np.cross(np.c_[x, np.ones(len(x))], np.c_[y, np.ones(len(y))])
    return np.linalg.svd(m)[2][-1]


def _refine_pair(R: Array, t: Array, x: Array, y: Array, noise: float) -> tuple[Array, Array]:
    """Turn and direction of shift that lower a robust sum of Sampson distances."""
    from scipy.optimize import least_squares

    t = t / np.linalg.norm(t)
    a = np.linalg.svd(t[None])[2][1:]

    def pose(p: Array) -> tuple[Array, Array]:
        s = t + p[3] * a[0] + p[4] * a[1]
        return rotation(p[:3]) @ R, s / np.linalg.norm(s)

    def miss(p: Array) -> Array:
        Q, s = pose(p)
        return _epipolar(cross_matrix(s) @ Q, x, y) / noise

    got = least_squares(miss, np.zeros(5), loss="cauchy", f_scale=3.0, max_nfev=25)
    return pose(got.x)


def _in_front(R: Array, t: Array, x: Array, y: Array) -> float:
    """Share of points that lie ahead of both cameras (second camera: Xc = R X + t)."""
    X, Y = np.c_[x, np.ones(len(x))] @ R.T, np.c_[y, np.ones(len(y))]
    # λ X + t = μ Y in least squares
    a, b, c = np.sum(X * X, 1), np.sum(X * Y, 1), np.sum(Y * Y, 1)
    d, e = X @ t, Y @ t
    det = np.maximum(a * c - b * b, 1e-18)
    lam, mu = (b * e - c * d) / det, (a * e - b * d) / det
    return float(np.mean((lam > 0) & (mu > 0)))


def _epipolar(E: Array, x: Array, y: Array) -> Array:
    """Sampson distances (n,) of normalised pixels."""
    X, Y = np.c_[x, np.ones(len(x))], np.c_[y, np.ones(len(y))]
    l2, l1 = X @ E.T, Y @ E
    return np.sum(Y * l2, 1) / np.sqrt(l2[:, 0] ** 2 + l2[:, 1] ** 2 + l1[:, 0] ** 2 + l1[:, 1] ** 2 + 1e-30)


def _by_fundamental(qi: Array, qj: Array, combos):
    """Order focal pairs by how nearly the fundamental matrix becomes an essential one (two equal singular values)."""
    import cv2

    cv2.setRNGSeed(1)
    F, _ = cv2.findFundamentalMat(qi, qj, cv2.FM_LMEDS)
    if F is None or F.shape != (3, 3):
        return combos

    def misfit(pair) -> float:
        E = np.diag([pair[1], pair[1], 1]) @ F @ np.diag([pair[0], pair[0], 1])
        s = np.linalg.svd(E, compute_uv=False)
        return float((s[0] - s[1]) / (s[0] + s[1]))

    return sorted(combos, key=misfit)
