"""Starting values from the marks alone.

Seeds (one or two shots solved roughly, over a grid of focal lengths) are grown: further shots follow by resection, points
by triangulation; the whole is then laid into vehicle axes, scaled by the facts and handed to a robust adjustment. Seeds are
tried in order of promise until one fits as well as the marks' own errors say it should; else the best one is kept.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np

from longlens.survey.adjust import Fit, adjust
from longlens.survey.camera import Array, rotation
from longlens.survey.circle import basis, circle_poses, conic_in_camera, ellipse_centre
from longlens.survey.network import Network, State, blank_state
from longlens.survey.observations import edge_angles, edge_marks, point_marks
from longlens.survey.resect import resect
from longlens.survey.seeds import (
    _principal_free,
    centred,
    ellipses_on,
    focal_candidates,
    pairs_on,
    seed_positions,
    seed_shot,
    seed_two_views,
)
from longlens.survey.triangulate import Sketch, blank_sketch, triangulate

#: A robust misfit (median whitened residual over its expectation) that counts as a fit.
GOOD = 1.5
#: Seeds tried once something has been found: cars need one to four, things without symmetry up to nine.
ENOUGH_SEEDS = 14
#: And no longer than this, s: a count, unlike a clock, gives the same answer on a slow machine.
MOST_SECONDS = 40.0
#: A seed this many times as dear as the best after its first fit is given up.
HOPELESS_LOSS = 2.0
#: The Cauchy scale of the robust passes, in standard deviations.
CAUCHY = 3.0
#: The first, wide pass: a rough start is off by many standard deviations everywhere, and nothing must be given up yet.
WIDE = 200.0
#: No marked thing is nearer to its camera than this share of the middle distance of what the shot shows.
NEAREST = 2e-3


@dataclass
class Started:
    """The best robust fit found, the shots it could place, its robust cost, and how it fits."""

    fit: Fit | None
    posed: np.ndarray
    loss: float
    quality: int
    tried: int


def find_start(net: Network, progress=None, most_seeds: int = 24) -> Started:
    """The best start over all seeds; ``fit`` is None when no seed could be grown."""
    best = Started(None, np.zeros(len(net.shots), bool), np.inf, POOR, 0)
    tried, patience = 0, 4
    sk = blank_sketch(net)
    began = time.monotonic()
    for sk, careful in attempts(net):
        tried += 1
        if progress:
            progress("looking for a start", min(0.9, tried / most_seeds))
        for laid in _grown(net, sk, careful):
            got = _settle(net, laid, best.loss)
            if got is None or in_the_lens(net, got.state):
                continue
            missing = int((~laid.posed).sum())
            if (missing, got.loss) < (int((~best.posed).sum()) if best.fit else 10**9, best.loss):
                best = Started(got, laid.posed.copy(), got.loss, fits(net, got), tried)
        if best.posed.all() and best.quality < POOR:
            patience -= 1
            if best.quality == CLEAN or patience < 0:
                break
        if tried >= most_seeds or (best.fit is not None and tried >= ENOUGH_SEEDS):
            break
        if best.fit is not None and time.monotonic() - began > MOST_SECONDS:
            break
    best.tried = tried
    if best.fit is not None and (best.quality == POOR or sk.frame == "views"):
        _sweep_focal(net, best)
    return best


def in_the_lens(net: Network, st: State) -> list[str]:
    """Marked points that have run into a camera: a false valley, in which the camera has sunk into the ground (or onto the
    centre plane) and what lies on it fits any mark."""
    X = st.X[net.mark_body].copy()
    X[:, 1] *= net.mark_sign
    depth = np.einsum("ij,ij->i", st.R[net.mark_shot][:, 2], X - st.C[net.mark_shot])
    found: set[int] = set()
    for i in range(len(net.shots)):
        mine = net.mark_shot == i
        if mine.any():
            found.update(net.mark_point[mine & (depth < NEAREST * np.median(depth[mine]))].tolist())
    return [net.points[p] for p in sorted(found)]


def _grown(net: Network, sk: Sketch, careful: bool) -> list[Sketch]:
    """A seed grown and laid; none where its algebra breaks down (marks at one place, rays that meet nowhere)."""
    try:
        with np.errstate(all="ignore"):
            grow(net, sk, careful)
            return [laid for laid in lay(net, sk) if np.all(np.isfinite(laid.X[laid.known]))]
    except np.linalg.LinAlgError:
        return []


def _sweep_focal(net: Network, best: Started) -> None:
    """Flat or distant scenes have valleys of their own at wrong focal lengths: cameras are drawn back or nearer with
    their focal lengths, the picture kept, and the fit run again."""
    free = net.logf_sd > 0.3
    if not free.any():
        return
    for _ in range(3):
        assert best.fit is not None
        here, before = best.fit.state, best.loss
        middle = np.median(here.X, axis=0)
        for factor in (0.55, 0.75, 1.33, 1.8):
            st = here.copy()
            st.logf = st.logf + np.log(factor) * free
            k = np.where(free[net.camera_of], factor, 1.0)[:, None]
            st.C = middle + (st.C - middle) * k
            fit = _in_two_passes(net, st, None)
            if fit is None or in_the_lens(net, fit.state):
                continue
            if fit.loss < best.loss - 0.5 and fits(net, fit) <= best.quality:
                best.fit, best.loss, best.quality = fit, fit.loss, fits(net, fit)
        if best.loss > before - 0.5:
            return


def attempts(net: Network) -> Iterator[tuple[Sketch, bool]]:
    """Seeds, and whether to grow them carefully (adjusting between shots): the best two first go the quick way."""
    first: list[Sketch] = []
    for sk in seeds(net):
        if len(first) < 2:
            first.append(sk.copy())
            yield sk, False
            if len(first) < 2 or len(net.shots) < 3:
                continue
            yield from ((f.copy(), True) for f in first)
        else:
            yield sk, len(net.shots) > 2


def seeds(net: Network) -> Iterator[Sketch]:
    """Seeds in order of promise."""
    S = len(net.shots)
    for shot in sorted(range(S), key=lambda s: -int(np.sum(net.mark_shot == s))):
        yield from seed_positions(net, shot)[:2]
    order = sorted(range(S), key=lambda s: -len(pairs_on(net, s)) - 0.5 * len(ellipses_on(net, s)))
    mirror: list[Sketch] = []  # ranked only as far as needed: most often the first shots' best seed does
    strong: list[Sketch] = []
    for group in (order[:2], order[2:]):
        found = _mirror_seeds(net, group)
        mirror += found
        strong += [sk for sk in found if sk.known.sum() >= 4]
        yield from [sk for sk in found if sk.known.sum() >= 4][:4]
    counts = _shared(net)
    pairs = sorted(((i, j) for i in range(S) for j in range(i + 1, S) if counts[i, j] >= 5), key=lambda p: -counts[p])
    views: list[Sketch] = []
    for k, (i, j) in enumerate(pairs[:6]):
        found = seed_two_views(net, i, j)
        first = 3 if k < 2 else 1  # a flat or distant scene leaves the focal length open: several are tried
        views += found[first:]
        yield from found[:first]
    yield from (sk for sk in mirror if sk.known.sum() < 4)
    yield from strong
    yield from sorted(views, key=lambda s: s.score)


def _shared(net: Network) -> Array:
    seen = np.zeros((len(net.shots), len(net.free)), bool)
    seen[net.mark_shot, net.mark_body] = True
    return seen.astype(int) @ seen.T.astype(int)


def _mirror_seeds(net: Network, shots: list[int]) -> list[Sketch]:
    """Seeds of these shots from twins and circles, ranked by how well one further shot follows from each."""
    ranked: list[tuple[float, int, Sketch]] = []
    for shot in shots:
        pairs, conics = pairs_on(net, shot), ellipses_on(net, shot)
        if len(pairs) < 2 and not conics:
            continue
        if not conics and len(pairs) < 3:
            continue
        for f in focal_candidates(net, shot):
            for sk in seed_shot(net, shot, float(f), pairs, conics):
                ranked.append((_promise(net, sk, shot), len(ranked), sk))
    ranked.sort(key=lambda r: r[:2])
    return [sk for *_, sk in ranked]


def _promise(net: Network, sk: Sketch, shot: int) -> float:
    """Smaller is better: the resection score of the best other shot, else the misfit of the lateral axis."""
    best = np.inf
    others = np.argsort([-_known_marks(net, sk, s)[0].size if s != shot else 0 for s in range(len(net.shots))])
    for other in others[:1]:
        if other == shot:
            continue
        rows, X = _known_marks(net, sk, int(other))
        if len(rows) < 5:
            break
        poses = resect(
            X, centred(net, rows), net.mark_sd[rows], net.size[other].max(),
            focal=_known_focal(net, sk, int(other)), quick=True,
        )  # fmt: skip
        if poses:
            best = min(best, poses[0].score / max(np.log(len(rows)), 1))
    return best if np.isfinite(best) else 10.0 + 100.0 * min(sk.score, 1.0) - 0.1 * sk.known.sum()


def _known_marks(net: Network, sk: Sketch, shot: int) -> tuple[np.ndarray, Array]:
    """Rows of a shot's marks whose bodies have a place in the sketch, and those places (twins mirrored)."""
    rows = np.flatnonzero((net.mark_shot == shot) & sk.known[net.mark_body])
    if sk.frame == "views":
        rows = rows[net.mark_sign[rows] > 0]
    X = sk.X[net.mark_body[rows]].copy()
    X[:, 1] *= net.mark_sign[rows]
    return rows, X


def _known_focal(net: Network, sk: Sketch, shot: int) -> float | None:
    g = net.camera_of[shot]
    mates = np.flatnonzero(sk.posed & (net.camera_of == g))
    if len(mates):
        return float(np.median(sk.f[mates]))
    return float(np.exp(net.logf0[g])) if net.logf_sd[g] < 0.08 else None


def grow(net: Network, sk: Sketch, careful: bool = False) -> None:
    """Pose further shots one by one, the best seen first, and triangulate after each; in place. ``careful``: what is posed is
    adjusted in between, so that the errors of a rough seed do not carry on."""
    mirrored = sk.frame != "views"
    if sk.frame == "views" or sk.frame == "positions":
        triangulate(net, sk, mirrored=sk.frame == "positions", least_parallax=0.002)
    failed: set[int] = set()
    while not sk.posed.all():
        todo = [int(s) for s in np.flatnonzero(~sk.posed) if s not in failed]
        if not todo:
            break
        count = {s: len(_known_marks(net, sk, s)[0]) for s in todo}
        s = max(todo, key=lambda k: count[k])
        ok = _pose_by_points(net, sk, s) or _pose_by_circles(net, sk, s)
        if not ok:
            failed.add(s)
            continue
        failed.clear()
        before = sk.known.copy(), sk.X.copy()
        triangulate(net, sk, mirrored=mirrored)
        keep = before[0] & ~sk.known  # what one view gave and rays do not yet
        sk.known |= keep
        sk.X[keep] = before[1][keep]
        if careful and mirrored and not sk.posed.all() and sk.posed.sum() in (2, 3, 5, 8, 12, 18, 27, 40):
            _adjust_so_far(net, sk)
    if sk.frame == "views":
        triangulate(net, sk, mirrored=False, least_parallax=0.002)


def _adjust_so_far(net: Network, sk: Sketch) -> None:
    """A robust adjustment of the shots posed so far (facts of length, which fix a scale the sketch need not have, left out)."""
    st = state_of(net, sk)
    weights = {
        "mark": (sk.posed[net.mark_shot] & sk.known[net.mark_body]).astype(float),
        "edge": np.zeros(len(net.edge_xy)),
        "distance": np.zeros(len(net.distance_value)),
        "diameter": np.zeros(len(net.diameter_value)),
        "position": np.full(len(net.position_sd), float(sk.frame == "positions")),
    }
    st.X = np.where(net.free, np.where(sk.known[:, None], sk.X, 0.0), 0.0)
    with np.errstate(all="ignore"):
        weights["mark"] *= ~point_marks(net, st, derivatives=False)[1]
    with _without_edges(net):
        weights["edge"] = np.zeros(0)
        fit = adjust(net, st, weights=weights, robust=30.0, iterations=12, tolerance=1e-3, damping=1e-3)
        if fit is None:
            return
        fit = adjust(net, fit.state, weights=weights, robust=CAUCHY, iterations=10, tolerance=1e-3, damping=1e-3) or fit
    new = fit.state
    p = sk.posed
    sk.R[p], sk.C[p], sk.shift[p] = new.R[p], new.C[p], (new.principal - net.principal0)[p]
    sk.f[p] = np.exp(new.logf[net.camera_of])[p]
    sk.X[sk.known] = new.X[sk.known]


def _pose_by_points(net: Network, sk: Sketch, s: int) -> bool:
    rows, X = _known_marks(net, sk, s)
    if len(rows) < 4:
        return False
    poses = resect(
        X, centred(net, rows), net.mark_sd[rows], net.size[s].max(), focal=_known_focal(net, sk, s),
        principal_free=_principal_free(net, s) and len(rows) >= 8,
    )  # fmt: skip
    if not poses or poses[0].inliers.sum() < max(4, 0.4 * len(rows)):
        return False
    p = poses[0]
    sk.R[s], sk.C[s], sk.f[s], sk.shift[s], sk.posed[s] = p.R, p.C, p.f, p.shift, True
    return True


def _pose_by_circles(net: Network, sk: Sketch, s: int) -> bool:
    """A shot with known circles: its own frame from its circles (and twins), laid over the sketch."""
    pairs, conics = pairs_on(net, s), ellipses_on(net, s)
    if not conics or sk.frame == "views":
        return False
    best = None
    focal = _known_focal(net, sk, s)
    for f in focal_candidates(net, s) if focal is None else [focal]:
        for own in seed_shot(net, s, float(f), pairs, conics):
            bodies = np.flatnonzero(own.known & sk.known)
            if len(bodies) < 2:
                continue
            A, B = _anchors(net, own, bodies), _anchors(net, sk, bodies)
            Q, scale, t = similarity(A, B)
            miss = np.linalg.norm(scale * A @ Q.T + t - B, axis=1)
            score = float(np.sqrt(np.mean(miss**2)) / max(np.ptp(B, axis=0).max(), 1e-9))
            if best is None or score < best[0]:
                best = (score, f, own.R[s] @ Q.T, scale * Q @ own.C[s] + t)
    if best is None or best[0] > 0.15:
        return False
    _, sk.f[s], sk.R[s], sk.C[s] = best
    sk.posed[s] = True
    return True


def _anchors(net: Network, sk: Sketch, bodies: np.ndarray) -> Array:
    """Bodies, and points beside them along y: a common lateral axis ties the roll and yaw of thin sets."""
    X = sk.X[bodies]
    size = max(float(np.ptp(X, axis=0).max()), 1e-9)
    beside = X + np.array([0, 0.3 * size, 0])
    return np.concatenate([X, beside])


def similarity(A: Array, B: Array, weights: Array | None = None) -> tuple[Array, float, Array]:
    """Q, s, t that lay points A (n, 3) over B by ``s Q A + t`` in least squares (Umeyama 1991)."""
    w = np.ones(len(A)) if weights is None else weights
    w = w / w.sum()
    ma, mb = w @ A, w @ B
    a, b = A - ma, B - mb
    U, D, Vt = np.linalg.svd((b * w[:, None]).T @ a)
    S = np.diag([1, 1, np.sign(np.linalg.det(U @ Vt)) or 1.0])
    Q = U @ S @ Vt
    s = float(np.trace(np.diag(D) @ S) / max(float(w @ np.sum(a * a, 1)), 1e-30))
    return Q, s, mb - s * Q @ ma


def lay(net: Network, sk: Sketch) -> list[Sketch]:
    """The sketch in vehicle axes and metres: positions if given, else lateral axis, level, heading, scale."""
    if sk.frame == "positions":
        return [sk]
    if sk.frame == "views":
        fixed = _fixed_points(net, sk)
        if len(fixed[0]) >= 3:
            Q, s, t = similarity(*fixed)
            return [_moved(net, sk, Q, s, t, mirrored=False)]
        sk = _to_mirror(net, sk)
    _centres_from_ellipses(net, sk)  # facts are often between wheel centres, which nobody marks as points
    sk = _level(net, sk)
    sk = _heading(net, sk)
    fixed = _fixed_points(net, sk)
    if len(fixed[0]) >= 3:
        Q, s, t = similarity(*fixed)
        return [_moved(net, sk, Q, s, t, mirrored=True)]
    return [_scaled(net, sk)]


def _fixed_points(net: Network, sk: Sketch) -> tuple[Array, Array]:
    rows = [k for k, p in enumerate(net.position_point) if sk.known[net.body_of[p]]]
    A = sk.X[net.body_of[net.position_point[rows]]].copy() if rows else np.zeros((0, 3))
    if rows:
        A[:, 1] *= net.sign[net.position_point[rows]]
    return A, net.position_xyz[rows]


def _moved(net: Network, sk: Sketch, Q: Array, s: float, t: Array, mirrored: bool) -> Sketch:
    out = sk.copy()
    out.X = s * sk.X @ Q.T + t
    out.C = s * sk.C @ Q.T + t
    out.R = sk.R @ Q.T
    out.normal = sk.normal @ Q.T
    out.radius = sk.radius * s
    if not mirrored:
        _retriangulate_twins(net, out)
    return out


def _retriangulate_twins(net: Network, sk: Sketch) -> None:
    sk.frame = "mirror"
    known, X = sk.known.copy(), sk.X.copy()
    triangulate(net, sk, mirrored=True, least_parallax=0.008)
    keep = known & ~sk.known
    sk.X[keep], sk.known = X[keep], sk.known | keep


def _to_mirror(net: Network, sk: Sketch) -> Sketch:
    """From a frame of two views to one whose centre plane is y = 0: by twins triangulated apart, centre-plane points, or
    circle axes; where there are none the frame stays as it is."""
    left, right = _twins_apart(net, sk)
    lateral, offset = None, 0.0
    centre_bodies = np.flatnonzero(~net.free[:, 1] & sk.known)
    if len(left) >= 2:
        d = left - right
        d *= np.where(d @ d[np.argmax(np.linalg.norm(d, axis=1))] < 0, -1, 1)[:, None]
        lateral = np.median(d / np.linalg.norm(d, axis=1)[:, None], axis=0)
        lateral /= np.linalg.norm(lateral)
        if np.median((left - right) @ lateral) < 0:
            lateral = -lateral
        offset = float(np.median((left + right) / 2 @ lateral))
    elif len(centre_bodies) >= 3:
        P = sk.X[centre_bodies]
        lateral = np.linalg.svd(P - P.mean(0))[2][-1]
        offset = float(P.mean(0) @ lateral)
    elif len(left) == 1:
        lateral = (left - right)[0] / np.linalg.norm((left - right)[0])
        offset = float((left + right)[0] @ lateral / 2)
    else:
        lateral = _axis_of_circles(net, sk)
        if lateral is not None and sk.known.any():
            offset = float(np.median(sk.X[sk.known] @ lateral))
    up = -np.mean(sk.R[sk.posed][:, 1, :], axis=0)  # cameras are held upright
    if lateral is None:
        z = up / np.linalg.norm(up)
        y = np.cross(z, [1.0, 0, 0]) if abs(z[0]) < 0.9 else np.cross(z, [0, 0, 1.0])
        y /= np.linalg.norm(y)
        Q = np.stack([np.cross(y, z), y, z])
        t = -Q @ np.median(sk.X[sk.known], axis=0) if sk.known.any() else np.zeros(3)
        out = _moved(net, sk, Q, 1.0, t, mirrored=True)
        out.frame = "views"
        return out
    z = up - (up @ lateral) * lateral
    if np.linalg.norm(z) < 1e-6:
        z = np.cross(lateral, [1.0, 0.3, 0.1])
    z /= np.linalg.norm(z)
    Q = np.stack([np.cross(lateral, z), lateral, z])
    return _moved(net, sk, Q, 1.0, np.array([0, -offset, 0]), mirrored=False)


def _twins_apart(net: Network, sk: Sketch) -> tuple[Array, Array]:
    """Twins triangulated each from its own marks, (n, 3) and (n, 3)."""
    left, right = [], []
    for a, b, _sd in net.soft:
        if sk.known[a] and sk.known[b]:
            left.append(sk.X[a])
            right.append(sk.X[b])
    other = sk.copy()
    flipped = net.mark_sign.copy()
    if np.any(flipped < 0):
        keep = net.mark_sign
        try:
            net.mark_sign = -keep
            rows_free = net.free
            net.free = np.ones_like(net.free)
            triangulate(net, other, mirrored=False)
        finally:
            net.mark_sign, net.free = keep, rows_free
        both = sk.known & other.known
        left += list(sk.X[both])
        right += list(other.X[both])
    return np.array(left).reshape(-1, 3), np.array(right).reshape(-1, 3)


def _axis_of_circles(net: Network, sk: Sketch) -> Array | None:
    axes = []
    for m in net.lateral:
        for s in np.unique(net.edge_shot[net.edge_circle == m]):
            if sk.posed[s]:
                Q = ellipses_on(net, s).get(int(m))
                if Q is not None:
                    axes += [sk.R[s].T @ n for _, n in circle_poses(conic_in_camera(Q, sk.f[s], sk.shift[s]))]
    if not axes:
        return None
    a = np.array(axes)
    agree = np.sum(np.abs(a @ a.T) > np.cos(np.radians(8)), axis=1)
    best = a[np.argmax(agree)]
    near = a[np.abs(a @ best) > np.cos(np.radians(8))]
    near = near * np.where(near @ best < 0, -1, 1)[:, None]
    return near.sum(0) / np.linalg.norm(near.sum(0))


def _level(net: Network, sk: Sketch) -> Sketch:
    """Turn about y so that the ground is level, or the wheels, or the cameras upright; then put the ground at z = 0."""
    ground = [b for b in net.ground_bodies if sk.known[b]]
    P = sk.X[ground] if ground else np.zeros((0, 3))
    pitch = 0.0
    size = max(float(np.ptp(sk.X[sk.known], axis=0).max()), 1e-9) if sk.known.any() else 1.0
    lateral_known = sk.frame == "mirror"
    if len(P) >= 3 and not lateral_known:
        n = np.linalg.svd(P - P.mean(0))[2][-1]
        n = n if n[2] > 0 else -n
        x = np.array([1.0, 0, 0]) - n[0] * n
        x /= np.linalg.norm(x)
        Q = np.stack([x, np.cross(n, x), n])
        sk = _moved(net, sk, Q, 1.0, np.zeros(3), mirrored=True)
        P = sk.X[ground]
    elif len(P) >= 2 and np.ptp(P[:, 0]) > 0.15 * size:
        pitch = float(np.arctan(np.polyfit(P[:, 0], P[:, 2], 1)[0]))
    else:
        wheels = {int(net.circle_body[m]) for m in range(len(net.circles))}
        W = sk.X[[b for b in wheels if sk.known[b]]] if wheels else np.zeros((0, 3))
        if len(W) >= 2 and np.ptp(W[:, 0]) > 0.3 * size:
            i, j = np.argmin(W[:, 0]), np.argmax(W[:, 0])
            pitch = float(np.arctan2(W[j, 2] - W[i, 2], W[j, 0] - W[i, 0]))
    c, s = np.cos(pitch), np.sin(pitch)
    Q = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    out = _moved(net, sk, Q, 1.0, np.zeros(3), mirrored=True)
    up = -np.mean(out.R[out.posed][:, 1, 2])
    if up < 0:
        out = _moved(net, out, np.diag([-1.0, 1.0, -1.0]), 1.0, np.zeros(3), mirrored=True)
    if ground:
        out = _moved(net, out, np.eye(3), 1.0, np.array([0, 0, -np.median(out.X[ground][:, 2])]), mirrored=True)
    return out


def _heading(net: Network, sk: Sketch) -> Sketch:
    """Left is +y and front is +x where the ids say so (a half turn about z changes no measure)."""
    vote = 0.0
    for p, pid in enumerate(net.points):
        if not sk.known[net.body_of[p]]:
            continue
        y = sk.X[net.body_of[p], 1] * net.sign[p]
        words = pid.lower()
        if "left" in words:
            vote += np.sign(y)
        elif "right" in words:
            vote -= np.sign(y)
    if vote < 0:
        return _moved(net, sk, np.diag([-1.0, -1.0, 1.0]), 1.0, np.zeros(3), mirrored=True)
    return sk


def _scaled(net: Network, sk: Sketch) -> Sketch:
    """Metres from length facts and from circles of given diameter."""
    ratios = []
    for a, b, axis, value in zip(net.distance_a, net.distance_b, net.distance_axis, net.distance_value, strict=True):
        ba, bb = net.body_of[a], net.body_of[b]
        if sk.known[ba] and sk.known[bb]:
            d = sk.X[bb] * [1, net.sign[b], 1] - sk.X[ba] * [1, net.sign[a], 1]
            length = np.linalg.norm(d) if axis < 0 else abs(d[axis])
            if length > 1e-9:
                ratios.append(value / length)
    if not ratios:
        own = _radii(net, sk)
        ratios = [
            float(v) / 2 / own[int(q)]
            for q, v in zip(net.diameter_radius, net.diameter_value, strict=True)
            if int(q) in own
        ]
    if not ratios:
        rows = [k for k, p in enumerate(net.position_point) if sk.known[net.body_of[p]]]
        if len(rows) == 2:
            A, B = _fixed_points(net, sk)
            ratios = [float(np.linalg.norm(B[1] - B[0])) / max(float(np.linalg.norm(A[1] - A[0])), 1e-12)]
    if not ratios:
        size = max(float(np.ptp(sk.X[sk.known], axis=0).max()), 1e-9) if sk.known.any() else 1.0
        ratios = [3.0 / size]
    return _moved(net, sk, np.eye(3), float(np.median(ratios)), np.zeros(3), mirrored=True)


def _radii(net: Network, sk: Sketch) -> dict[int, float]:
    """Radii in the sketch's own unit, from the ellipses and the places of their centres."""
    found: dict[int, list[float]] = {}
    for s in np.flatnonzero(sk.posed):
        for m, Q in ellipses_on(net, int(s)).items():
            body = net.circle_body[m]
            poses = circle_poses(conic_in_camera(Q, sk.f[s], sk.shift[s]))
            if poses and sk.known[body]:
                depth = np.linalg.norm(sk.X[body] * [1, net.circle_sign[m], 1] - sk.C[s])
                found.setdefault(int(net.radius_of[m]), []).append(float(depth / np.linalg.norm(poses[0][0])))
    out = {q: float(np.median(v)) for q, v in found.items()}
    for q, r in enumerate(sk.radius):
        if q not in out and np.isfinite(r):
            out[q] = float(r)
    return out


def state_of(net: Network, sk: Sketch) -> State:
    """A full state; circles get radius, centre and axis from their ellipses; bodies without a place are put where their
    first ray says, at the scene's depth."""
    st = blank_state(net)
    st.R, st.C = sk.R.copy(), sk.C.copy()
    st.principal = net.principal0 + sk.shift
    for g in range(len(net.cameras)):
        f = sk.f[(net.camera_of == g) & sk.posed]
        if len(f):
            st.logf[g] = np.log(np.median(f))
    _centres_from_ellipses(net, sk)
    st.X = np.where(net.free, sk.X * sk.known[:, None], 0.0)
    known = sk.known.copy()
    own = _radii(net, sk)
    given = {int(q): v / 2 for q, v in zip(net.diameter_radius, net.diameter_value, strict=True)}
    for q in range(net.radii):
        st.radius[q] = own.get(q, given.get(q, 0.3))
    _place_circles(net, sk, st, known)
    middle = np.median(st.X[known], axis=0) if known.any() else np.zeros(3)
    for b in np.flatnonzero(~known):
        rows = np.flatnonzero((net.mark_body == b) & sk.posed[net.mark_shot])
        if len(rows):
            r = rows[0]
            s = net.mark_shot[r]
            d = sk.R[s].T @ np.r_[(net.mark_xy[r] - net.principal0[s] - sk.shift[s]) / sk.f[s], 1.0]
            depth = max(float((middle - sk.C[s]) @ sk.R[s][2]), 0.1)
            X = sk.C[s] + d * depth
            X[1] *= net.mark_sign[r]
            st.X[b] = np.where(net.free[b], X, 0.0)
            known[b] = True
    for b in np.flatnonzero(~known):
        st.X[b] = np.where(net.free[b], middle, 0.0)
    return st


def _centres_from_ellipses(net: Network, sk: Sketch) -> None:
    """Centres of circles seen on two shots, that nothing else places: the rays of the ellipses' centres, near enough."""
    for m in range(len(net.circles)):
        body, sign = net.circle_body[m], net.circle_sign[m]
        if sk.known[body]:
            continue
        A, rhs, n = np.zeros((3, 3)), np.zeros(3), 0
        for s in np.flatnonzero(sk.posed):
            Q = ellipses_on(net, int(s)).get(m)
            if Q is not None:
                q = (ellipse_centre(Q) - sk.shift[s]) / sk.f[s]
                d = sk.R[s].T @ np.r_[q, 1.0]
                P = np.eye(3) - np.outer(d, d) / (d @ d)
                A, rhs, n = A + P, rhs + P @ sk.C[s], n + 1
        if n >= 2 and np.linalg.eigvalsh(A)[0] > 1e-5:
            sk.X[body], sk.known[body] = np.linalg.solve(A, rhs) * [1, sign, 1], True


def _place_circles(net: Network, sk: Sketch, st: State, known: np.ndarray) -> None:
    lateral = set(net.lateral.tolist())
    views: dict[int, list[tuple[int, Array, Array]]] = {}
    for s in np.flatnonzero(sk.posed):
        for m, Q in ellipses_on(net, int(s)).items():
            for c, n in circle_poses(conic_in_camera(Q, sk.f[s], sk.shift[s])):
                views.setdefault(m, []).append((int(s), sk.R[s].T @ c, sk.R[s].T @ n))
    for m in range(len(net.circles)):
        body, sign = net.circle_body[m], net.circle_sign[m]
        options = views.get(m, [])
        if not options:
            continue
        if m in lateral:
            options = sorted(options, key=lambda o: -abs(o[2][1]))
            st.normal[m] = [0.0, 1.0, 0.0]
        else:
            axes = np.array([o[2] for o in options])
            if len({o[0] for o in options}) == 1:  # one shot gives two poses alike: wheels are more nearly lateral
                options = sorted(options, key=lambda o: -abs(o[2][1]))
                axes = np.array([options[0][2]])
            agree = np.sum(np.abs(axes @ axes.T) > np.cos(np.radians(10)), axis=1)
            best = axes[np.argmax(agree)]
            options = sorted(options, key=lambda o: -abs(float(o[2] @ best)))
            st.normal[m] = best if best[1] >= 0 else -best
        if not known[body]:
            seen, c, _ = options[0]
            X = (sk.C[seen] + st.radius[net.radius_of[m]] * c) * [1, sign, 1]
            st.X[body] = np.where(net.free[body], X, 0.0)
            known[body] = True


def _settle(net: Network, sk: Sketch, best: float = np.inf) -> Fit | None:
    """A robust adjustment of a sketch whose shots are all posed; ``best``: the robust cost of the best seed so far, beside
    which a hopeless one is not polished."""
    if not sk.posed.all():
        return None
    st = state_of(net, sk)
    fit = None
    if len(net.circles) == len(net.lateral):
        fit = _in_two_passes(net, st, None)
        if fit is not None and fit.loss > HOPELESS_LOSS * best:
            return fit
        fit = _free_the_stuck(net, fit) if fit is not None else None
        if (fit is not None and fits(net, fit) == CLEAN) or not len(net.mark_xy):
            return fit
    again = _points_first(net, st) if len(net.mark_xy) and len(net.edge_xy) else None
    if again is None and len(net.circles) > len(net.lateral):
        again = _in_two_passes(net, choose_poses(net, sk, st), None)
    return min((f for f in (fit, again) if f is not None), key=lambda f: f.loss, default=None)


def _points_first(net: Network, st: State) -> Fit | None:
    """The points settled without any circle, the circles then placed by their edges with the cameras held, then all."""
    with _without_edges(net):
        fit = _in_two_passes(net, st, None)
        fit = _free_the_stuck(net, fit) if fit is not None else None
    if fit is None:
        return None
    sk = _sketch_of(net, fit.state)
    marked = set(net.mark_body.tolist()) | {int(net.body_of[p]) for p in net.position_point}
    sk.known[:] = True
    sk.known[[b for b in net.circle_body if int(b) not in marked]] = False
    sk.radius[:] = np.nan
    if sk.frame != "positions" and not len(net.position_sd):
        _centres_from_ellipses(net, sk)
        sk = _scaled(net, sk)
    placed = choose_poses(net, sk, state_of(net, sk))
    fit = _in_two_passes(net, placed, None)
    return _free_the_stuck(net, fit) if fit is not None else None


@contextmanager
def _without_edges(net: Network) -> Iterator[None]:
    """Circles do not take part for a while: their edges would cost most of the time, or lead a rough start astray."""
    tables = {k: getattr(net, k) for k in ("edge_id", "edge_shot", "edge_circle", "edge_xy", "edge_sd")}
    try:
        for name, table in tables.items():
            setattr(net, name, table[:0])
        yield
    finally:
        for name, table in tables.items():
            setattr(net, name, table)


def _in_two_passes(net: Network, st: State, weights: dict[str, Array] | None) -> Fit | None:
    """First wide, then narrow; marks of what the rough start has put behind a camera wait until the second pass."""
    fit = adjust(
        net,
        st,
        weights=_ahead(net, st, weights),
        robust=WIDE,
        soft_kinds=("mark", "edge"),
        iterations=25,
        tolerance=1e-3,
        damping=1e-2,
    )
    if fit is None:
        return None
    weights = _ahead(net, fit.state, weights)
    return adjust(net, fit.state, weights=weights, robust=CAUCHY, iterations=40, tolerance=1e-5, damping=1e-3)


def _ahead(net: Network, st: State, weights: dict[str, Array] | None) -> dict[str, Array]:
    """The weights, with nothing for marks and edges whose thing lies behind its camera."""
    out = dict(weights or {})
    with np.errstate(all="ignore"):
        if len(net.mark_xy):
            out["mark"] = out.get("mark", 1.0) * (~point_marks(net, st, derivatives=False)[1]).astype(float)
        if len(net.edge_xy):
            behind = edge_marks(net, st, edge_angles(net, st), derivatives=False)[1]
            out["edge"] = out.get("edge", 1.0) * (~behind).astype(float)
    return out


def _sketch_of(net: Network, st: State) -> Sketch:
    sk = blank_sketch(net)
    sk.R, sk.C, sk.f, sk.X = st.R.copy(), st.C.copy(), np.exp(st.logf[net.camera_of]), st.X.copy()
    sk.shift, sk.posed[:] = st.principal - net.principal0, True
    sk.frame = "mirror"
    return sk


def _free_the_stuck(net: Network, fit: Fit) -> Fit:
    """Bodies that the robust loss left far from all their marks are triangulated afresh from the cameras found."""
    for _ in range(2):
        r, _behind = point_marks(net, fit.state, derivatives=False)
        far = np.linalg.norm(r, axis=1) > 8
        bodies = np.unique(net.mark_body[far])
        bodies = bodies[[np.sum(far[net.mark_body == b]) >= 2 for b in bodies]] if len(bodies) else bodies
        if len(bodies) == 0:
            return fit
        st = fit.state.copy()
        sk = _sketch_of(net, st)
        triangulate(net, sk, mirrored=True, least_parallax=0.001)
        ok = bodies[sk.known[bodies]]
        st.X[ok] = np.where(net.free[ok], sk.X[ok], st.X[ok])
        again = adjust(net, st, robust=CAUCHY, iterations=40, tolerance=1e-5, damping=1e-3)
        if again is None or again.loss > fit.loss - 1:
            return fit
        fit = again
    return fit


def choose_poses(net: Network, sk: Sketch, st: State) -> State:
    """Of the two poses of every circle of free tilt, the one that its edge points on all shots fit better.

    From either pose the circles are fitted to their own edge points with the cameras held, all side by side.
    """
    lateral = set(net.lateral.tolist())
    tilted = [m for m in range(len(net.circles)) if m not in lateral]
    if not tilted:
        return st
    alone = {m for m in tilted if len(np.unique(net.edge_shot[net.edge_circle == m])) == 1}
    marked = set(net.mark_body.tolist())
    results = []
    for choice in (0, 1):
        option = st.copy()
        for m in tilted:
            for s in np.unique(net.edge_shot[net.edge_circle == m]):
                Q = ellipses_on(net, int(s)).get(m)
                poses = circle_poses(conic_in_camera(Q, sk.f[s], sk.shift[s])) if Q is not None and sk.posed[s] else []
                if poses:
                    c, n = poses[choice]
                    option.normal[m] = sk.R[s].T @ n
                    body = int(net.circle_body[m])
                    if m in alone and body not in marked:
                        X = sk.C[s] + sk.R[s].T @ c * option.radius[net.radius_of[m]]
                        option.X[body] = np.where(net.free[body], X * [1, net.circle_sign[m], 1], 0.0)
                    break
        results.append(_fit_circles(net, option))
    (a, cost_a), (b, cost_b) = results
    out = st.copy()
    for m in tilted:
        better = a if cost_a[m] <= cost_b[m] else b
        if m in alone and abs(cost_a[m] - cost_b[m]) < 2:  # both fit: a wheel is more nearly lateral
            better = a if abs(a.normal[m, 1]) >= abs(b.normal[m, 1]) else b
        body, q = net.circle_body[m], net.radius_of[m]
        out.normal[m], out.X[body], out.radius[q] = better.normal[m], better.X[body], better.radius[q]
    return out


def _fit_circles(net: Network, st: State) -> tuple[State, Array]:
    """Circles fitted to their edge points, cameras held: damped Gauss–Newton, each circle by itself; costs (M,)."""
    M = len(net.circles)
    alone = np.bincount(net.radius_of, minlength=net.radii)[net.radius_of] == 1
    lam = np.full(M, 1e-2)

    def look(s: State):
        r, behind, _, Jc, Ja, Jr = edge_marks(net, s, edge_angles(net, s))
        J = np.concatenate([Jc, Ja, Jr * alone[net.edge_circle][:, None, None]], axis=-1)[:, 0]
        cost = np.bincount(net.edge_circle, np.log1p(r[:, 0] ** 2 / 100) + 1e6 * behind, M)
        return r[:, 0], J, cost

    r, J, cost = look(st)
    for _ in range(15):
        w = 1 / (1 + r**2 / 100)
        H, g = np.zeros((M, 6, 6)), np.zeros((M, 6))
        np.add.at(H, net.edge_circle, J[:, :, None] * J[:, None, :] * w[:, None, None])
        np.add.at(g, net.edge_circle, J * (w * r)[:, None])
        D = np.einsum("mii->mi", H)
        H = H + (lam[:, None] * D + 1e-9 * D.max(1, keepdims=True) + 1e-12)[:, :, None] * np.eye(6)
        step = -np.linalg.solve(H, g[..., None])[..., 0]
        trial = st.copy()
        trial.X[net.circle_body] += step[:, :3]
        u, v = basis(st.normal)
        turn = np.clip(step[:, 3:5], -0.3, 0.3)
        trial.normal = np.einsum("mij,mj->mi", rotation(turn[:, :1] * u + turn[:, 1:] * v), st.normal)
        trial.radius[net.radius_of] = np.maximum(trial.radius[net.radius_of] + step[:, 5] * alone, 1e-3)
        t_r, t_J, t_cost = look(trial)
        ok = t_cost < cost
        lam = np.where(ok, lam / 5, lam * 5)
        for m in np.flatnonzero(~ok):
            trial.X[net.circle_body[m]], trial.normal[m] = st.X[net.circle_body[m]], st.normal[m]
            trial.radius[net.radius_of[m]] = st.radius[net.radius_of[m]]
        st = trial
        e = ok[net.edge_circle]
        r, J, cost = np.where(e, t_r, r), np.where(e[:, None], t_J, J), np.where(ok, t_cost, cost)
    return st, cost


CLEAN, DOUBTFUL, POOR = 0, 1, 2


def fits(net: Network, fit: Fit) -> int:
    """How well a robust fit explains the observations by their stated errors: CLEAN, DOUBTFUL (all but a few, which may be
    wrong), or POOR."""
    mark, edge = [], []
    bad_facts = 0
    for i, size in enumerate(net.size):
        g = net.camera_of[i]
        if not 0.2 < np.exp(fit.state.logf[g]) / size.max() < 40 and net.logf_sd[g] > 1:
            return POOR  # no lens
    for q in fit.rows:
        soft = getattr(q, "soft", None)
        r = q.r if soft is None else q.r / soft[:, None]
        size = np.linalg.norm(r, axis=1)
        if q.kind == "mark":
            mark.append(size / 1.1774)
        elif q.kind == "edge":
            edge.append(size / 0.6745)
        elif q.kind in ("distance", "diameter", "position"):
            bad_facts += int(np.sum(size > 5))
        elif len(size) and q.kind in ("lateral", "principal", "radial") and np.any(size > 5):
            return POOR
    spread = np.concatenate(mark + edge) if mark or edge else np.zeros(1)
    n = len(spread)
    allowed = max(2, int(0.04 * n)) if n > 20 else 0  # a swapped pair, or a slip
    rest = np.sort(spread)[: n - allowed]
    # of whitened residuals the mean square over their medians² is 2/1.386 in the plane and 1/0.455 across a line
    expected = (1.44 * sum(map(len, mark)) + 2.2 * sum(map(len, edge))) / max(n, 1)
    slack = 1 + 3 * np.sqrt(2 / max(n, 1))
    if np.median(spread) > GOOD or np.mean(rest**2) > expected * slack or rest[-1] > 5 or bad_facts > 1:
        return POOR
    return DOUBTFUL if bad_facts or np.max(spread) > 5.5 else CLEAN
