"""The adjustment: Levenberg–Marquardt with the bodies eliminated (Schur complement), and the covariance of its answer.

Source of the method: Triggs et al. 2000, *Bundle Adjustment — A Modern Synthesis*; Hartley & Zisserman, appendix 6.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_triangular

from longlens.survey.camera import Array, rotation
from longlens.survey.circle import basis
from longlens.survey.network import BLOCK, DENSE, PAIR, SINGLE, Network, State
from longlens.survey.observations import Rows, all_rows, edge_angles, principal_turn

#: Observations that a robust loss may let go; what is known beforehand of cameras and axes it may not.
SOFT_KINDS = ("mark", "edge", "distance", "diameter", "position")


#: Focal lengths stay within this of what is usual (natural logarithm).
LOGF_REACH = 8.0
#: Information (per m² or rad²) that everything has at least.
LEASH = 1e-6


@dataclass
class Normal:
    """Normal equations, reduced and blocks: H (D, D), g (D,), and per family V (n, B, B), W (n, B, D), v (n, B)."""

    H: Array
    g: Array
    V: dict[int, Array]
    W: dict[int, Array]
    v: dict[int, Array]
    cost: float
    residuals: int


@dataclass
class Reduced:
    """The normal equations with the bodies eliminated: S (D, D), its right side s, and Y = V⁻¹W (n, B, D) per family."""

    S: Array
    s: Array
    Y: dict[int, Array]
    Vi: dict[int, Array]


def normal_equations(net: Network, rows: list[Rows]) -> Normal:
    """Sum JᵀJ and Jᵀr over all rows; unknowns that are held fixed get a unit diagonal."""
    D = net.columns
    H, g = np.zeros((D, D)), np.zeros(D)
    V = {f: np.zeros((net.count[f], BLOCK[f], BLOCK[f])) for f in (SINGLE, PAIR)}
    W = {f: np.zeros((net.count[f], BLOCK[f], D)) for f in (SINGLE, PAIR)}
    v = {f: np.zeros((net.count[f], BLOCK[f])) for f in (SINGLE, PAIR)}
    total, number = 0.0, 0
    for q in rows:
        total += float(np.vdot(q.r, q.r))
        number += q.r.size
        if q.columns.shape[1]:
            _add_reduced(H, g, q)
        if q.Jb is not None and q.block is not None:
            f, B = q.family, BLOCK[q.family]
            n = net.count[f]
            VV = np.einsum("nmb,nmc->nbc", q.Jb, q.Jb)
            V[f] += _sum_by(q.block, VV.reshape(len(VV), -1), n).reshape(n, B, B)
            v[f] += _sum_by(q.block, np.einsum("nmb,nm->nb", q.Jb, q.r), n)
            if q.columns.shape[1]:
                WW = np.einsum("nmb,nmk->nbk", q.Jb, q.Jd)
                at = ((q.block[:, None] * B + np.arange(B))[:, :, None]) * D + q.columns[:, None, :]
                W[f] += np.bincount(at.ravel(), WW.ravel(), n * B * D).reshape(n, B, D)
    _hold_fixed(net, H, V)
    return Normal(H, g, V, W, v, total / 2, number)


def _add_reduced(H: Array, g: Array, q: Rows) -> None:
    """Rows that share their columns (all marks of a shot) are summed as one matrix product."""
    change = np.flatnonzero(np.any(q.columns[1:] != q.columns[:-1], axis=1)) + 1
    starts = np.concatenate([[0], change])
    stops = np.concatenate([change, [len(q.columns)]])
    if len(starts) * 4 < len(q.columns):
        for i, j in zip(starts, stops, strict=True):
            J = q.Jd[i:j].reshape(-1, q.Jd.shape[-1])
            c = q.columns[i]
            H[np.ix_(c, c)] += J.T @ J
            g[c] += J.T @ q.r[i:j].ravel()
        return
    D = len(g)
    JJ = np.einsum("nmk,nml->nkl", q.Jd, q.Jd)
    at = q.columns[:, :, None] * D + q.columns[:, None, :]
    if 4 * at.size >= D * D:
        H += np.bincount(at.ravel(), JJ.ravel(), D * D).reshape(D, D)
    else:
        np.add.at(H.reshape(-1), at.ravel(), JJ.ravel())
    np.add.at(g, q.columns.ravel(), np.einsum("nmk,nm->nk", q.Jd, q.r).ravel())


def _sum_by(index: np.ndarray, values: Array, n: int) -> Array:
    k = values.shape[1]
    at = index[:, None] * k + np.arange(k)
    return np.bincount(at.ravel(), values.ravel(), n * k).reshape(n, k)


def _hold_fixed(net: Network, H: Array, V: dict[int, Array]) -> None:
    """Coordinates that are not free have no observations: a unit diagonal keeps the equations solvable. All others get
    a leash of a thousand units (metres, radians), so that a body whose marks were all found wrong stays finite."""
    i = np.arange(net.at_shot, net.at_shot + 8 * len(net.shots))
    i = i[i % 8 < 6] if len(i) else i
    H[i, i] += LEASH
    i = np.arange(net.at_circle, net.columns)
    H[i, i] += LEASH
    for f, blocks in V.items():
        k = np.arange(BLOCK[f])
        blocks[:, k, k] += LEASH
    for fam in (DENSE, SINGLE, PAIR):
        b, axis = np.nonzero(~net.free & (net.family == fam)[:, None])
        if fam == DENSE:
            at = net.at_body + 3 * net.slot[b] + axis
            H[at, at] += 1.0
        else:
            at = 3 * net.part[b] + axis
            V[fam][net.slot[b], at, at] += 1.0


def reduce(normal: Normal, damping: float = 0.0) -> Reduced | None:
    """Eliminate the bodies; None where a block cannot be inverted. ``damping`` is Marquardt's, relative to the diagonal."""
    S, s = normal.H.copy(), normal.g.copy()
    if damping:
        d = np.einsum("ii->i", S)
        d += damping * np.maximum(np.einsum("ii->i", normal.H), 1e-8)
    Y, Vi = {}, {}
    for f in (SINGLE, PAIR):
        if len(normal.V[f]) == 0:
            continue
        V = normal.V[f]
        if damping:
            V = V.copy()
            i = np.arange(BLOCK[f])
            V[:, i, i] *= 1 + damping
        try:
            Vi[f] = np.linalg.inv(V)
        except np.linalg.LinAlgError:
            return None
        if not np.all(np.isfinite(Vi[f])):
            return None
        n, B, D = normal.W[f].shape
        Y[f] = Vi[f] @ normal.W[f]
        S -= _product(normal.W[f].reshape(n * B, D), Y[f].reshape(n * B, D))
        s -= np.tensordot(Y[f], normal.v[f], axes=([0, 1], [0, 1]))
    return Reduced((S + S.T) / 2, s, Y, Vi)


def _product(W: Array, Y: Array) -> Array:
    """WᵀY; through a sparse product where bodies are seen on few of many shots."""
    if W.size > 2_000_000 and np.count_nonzero(W[:: max(1, len(W) // 300)]) < 0.12 * W[:: max(1, len(W) // 300)].size:
        from scipy.sparse import csr_array

        return (csr_array(W).T @ csr_array(Y)).toarray()
    return W.T @ Y


def step_blocks(normal: Normal, red: Reduced, d: Array) -> dict[int, Array]:
    """Steps (n, B) of the eliminated bodies, given the reduced step."""
    return {f: -np.einsum("nbc,nc->nb", red.Vi[f], normal.v[f]) - red.Y[f] @ d for f in red.Y}


def move(net: Network, st: State, d: Array, blocks: dict[int, Array]) -> State:
    """The state after a step: ``d`` (..., D), blocks (..., n, B); leading axes make as many states."""
    lead = d.shape[:-1]
    S, G, M, T = len(net.shots), len(net.cameras), len(net.circles), len(net.ground_used)

    def part(start: int, n: int, k: int) -> Array:
        return d[..., start : start + n * k].reshape(*lead, n, k)

    shot, cam = part(net.at_shot, S, 8), part(net.at_camera, G, 2)
    turn = part(net.at_circle, M, 2)
    X = np.broadcast_to(st.X, (*lead, *st.X.shape[-2:])).copy()
    dense = np.flatnonzero(net.family == DENSE)
    X[..., dense, :] += part(net.at_body, net.count[DENSE], 3)[..., net.slot[dense], :] * net.free[dense]
    for f, b in blocks.items():
        members = np.flatnonzero(net.family == f)
        bb = b.reshape(*b.shape[:-1], BLOCK[f] // 3, 3)
        X[..., members, :] += bb[..., net.slot[members], net.part[members], :] * net.free[members]
    a, b2 = basis(st.normal)
    spin = turn[..., 0:1] * a + turn[..., 1:2] * b2
    normal = np.einsum("...ij,...j->...i", rotation(spin), np.broadcast_to(st.normal, (*lead, M, 3)))
    turned = shot[..., 0:3].copy()
    turned[..., 0:2] += np.einsum("...ij,...j->...i", principal_turn(net, st), shot[..., 6:8])
    return State(
        R=rotation(turned) @ st.R,
        C=st.C + shot[..., 3:6],
        principal=st.principal + shot[..., 6:8],
        logf=np.clip(st.logf + cam[..., 0], net.logf0 - LOGF_REACH, net.logf0 + LOGF_REACH),
        kappa=st.kappa + cam[..., 1],
        X=X,
        normal=normal,
        radius=st.radius + d[..., net.at_radius : net.at_radius + net.radii],
        ground=st.ground + part(net.at_ground, T, 3),
    )


@dataclass
class Fit:
    """Where the adjustment came to rest."""

    state: State
    theta: Array
    cost: float
    normal: Normal
    rows: list[Rows]
    converged: bool
    iterations: int
    loss: float = 0.0  # the robust cost, where a robust pass was asked


def adjust(
    net: Network,
    start: State,
    *,
    weights: dict[str, Array] | None = None,
    robust: float | None = None,
    soft_kinds: tuple[str, ...] = SOFT_KINDS,
    iterations: int = 60,
    tolerance: float = 1e-10,
    damping: float = 1e-4,
) -> Fit | None:
    """Least squares from a start; None if the start has marked things behind their cameras or blows up.

    Parameters
    ----------
    weights : fixed factors on the residuals, by kind.
    robust : scale (in standard deviations) of a Cauchy loss on ``soft_kinds``, by reweighting; None for plain squares.
    tolerance : stop when a step would lower the cost by less than this part of it (plus a tiny absolute amount).
    """
    state, theta = start, edge_angles(net, start)
    rows, bad = all_rows(net, state, theta, weights)
    if bad:
        return None
    if robust:
        _soften(rows, robust, soft_kinds)
    normal = normal_equations(net, rows)
    if not np.isfinite(normal.cost):
        return None
    converged, k = False, 0
    for k in range(1, iterations + 1):
        red = reduce(normal, damping)
        d = _solve(red) if red is not None else None
        if red is None or d is None:
            damping = max(damping * 10, 1e-8)
            if damping > 1e8:
                break
            continue
        blocks = step_blocks(normal, red, d)
        gain = -(normal.g @ d + sum(float(np.vdot(normal.v[f], blocks[f])) for f in blocks)) / 2
        if k > BEND_AFTER:
            d, blocks = _bend(net, state, theta, rows, weights, red, d, blocks)
        trial = move(net, state, d, blocks)
        if not np.all(np.isfinite(trial.X)) or not np.all(np.isfinite(trial.C)):
            damping = max(damping * 10, 1e-8)
            continue
        small = gain < tolerance * (1.0 + normal.cost)
        if np.all(trial.radius > 0):
            t_theta = edge_angles(net, trial, theta if k > 3 or gain < 1.0 else None, 3)
            t_rows, bad = all_rows(net, trial, t_theta, weights)
            new = _cost(t_rows, robust, soft_kinds) if not bad else np.inf
            old = _cost(rows, robust, soft_kinds)
            if np.isfinite(new) and new <= old + 1e-12 * (1 + old):
                state, theta, rows = trial, t_theta, t_rows
                if robust:
                    _soften(rows, robust, soft_kinds)
                normal = normal_equations(net, rows)
                damping = max(damping / 10, 1e-13)
                if small:
                    converged = True
                    break
                continue
        if small:
            converged = True
            break
        damping = max(damping * 10, 1e-8)
        if damping > 1e8:
            break
    return Fit(state, theta, normal.cost, normal, rows, converged, k, _cost(rows, robust, soft_kinds))


#: Iterations after which steps follow the valley's curve (geodesic acceleration): easy problems have ended by then.
BEND_AFTER = 6
_PROBE = 0.1


def _bend(net, state, theta, rows, weights, red, d, blocks):
    """Geodesic acceleration (Transtrum & Sethna 2012): add the second-order part of the step, from the second derivative
    of the residuals along it, with the factors at hand. Left out where it is not small against the step itself."""
    probe = move(net, state, _PROBE * d, {f: _PROBE * b for f, b in blocks.items()})
    if np.any(probe.radius <= 0):
        return d, blocks
    there, bad = all_rows(net, probe, edge_angles(net, probe, theta, 2), weights)
    if bad:
        return d, blocks
    g, v = np.zeros(net.columns), {f: np.zeros((net.count[f], BLOCK[f])) for f in (SINGLE, PAIR)}
    for q, p in zip(rows, there, strict=True):
        soft = getattr(q, "soft", None)
        r1 = p.r if soft is None else p.r * soft[:, None]
        slope = np.einsum("nmk,nk->nm", q.Jd, d[q.columns]) if q.columns.shape[1] else 0.0
        if q.Jb is not None:
            slope = slope + np.einsum("nmb,nb->nm", q.Jb, blocks[q.family][q.block])
        bend = 2 / _PROBE * ((r1 - q.r) / _PROBE - slope)
        if q.columns.shape[1]:
            np.add.at(g, q.columns.ravel(), np.einsum("nmk,nm->nk", q.Jd, bend).ravel())
        if q.Jb is not None and q.block is not None:
            v[q.family] += _sum_by(q.block, np.einsum("nmb,nm->nb", q.Jb, bend), net.count[q.family])
    s = g - sum(np.tensordot(Y, v[f], axes=([0, 1], [0, 1])) for f, Y in red.Y.items())
    a = _solve(Reduced(red.S, s, red.Y, red.Vi))
    if a is None:
        return d, blocks
    size = np.sqrt(np.maximum(np.einsum("ii->i", red.S), 0))
    if 2 * np.linalg.norm(a * size) > 0.75 * np.linalg.norm(d * size) or not np.all(np.isfinite(a)):
        return d, blocks
    bent = {f: b + 0.5 * (-np.einsum("nbc,nc->nb", red.Vi[f], v[f]) - red.Y[f] @ a) for f, b in blocks.items()}
    return d + 0.5 * a, bent


def _soften(rows: list[Rows], scale: float, kinds: tuple[str, ...]) -> None:
    """Cauchy weights, in place (the raw squared length is kept on the rows for the cost)."""
    for q in rows:
        if q.kind in kinds:
            e2 = np.sum(q.r**2, axis=-1)
            q.loss = float(np.sum(scale**2 / 2 * np.log1p(e2 / scale**2)))  # type: ignore[attr-defined]
            w = 1 / np.sqrt(1 + e2 / scale**2)
            q.soft = w  # type: ignore[attr-defined]
            q.r = q.r * w[:, None]
            q.Jd = q.Jd * w[:, None, None]
            if q.Jb is not None:
                q.Jb = q.Jb * w[:, None, None]


def _cost(rows: list[Rows], robust: float | None, kinds: tuple[str, ...]) -> float:
    total = 0.0
    for q in rows:
        if robust and q.kind in kinds:
            loss = getattr(q, "loss", None)
            if loss is None:
                e2 = np.sum(q.r**2, axis=-1)
                loss = float(np.sum(robust**2 / 2 * np.log1p(e2 / robust**2)))
            total += loss
        else:
            total += float(np.vdot(q.r, q.r)) / 2
    return total


def _solve(red: Reduced) -> Array | None:
    """The reduced step. Scaled to a unit diagonal; a ridge of 1e-12 carries directions that nothing determines."""
    d = np.sqrt(np.maximum(np.einsum("ii->i", red.S), 1e-12))
    A = red.S / d / d[:, None]
    try:
        A[np.diag_indices_from(A)] += 1e-12
        x = cho_solve(cho_factor(A, lower=True, check_finite=False), -red.s / d, check_finite=False) / d
    except np.linalg.LinAlgError:
        return None
    return x if np.all(np.isfinite(x)) else None


@dataclass
class Covariance:
    """Joint covariance of all unknowns in factored form, with the free datum directions held.

    root : (D, D) with ``root @ root.T`` the covariance Sigma (D, D) of the reduced unknowns; null : (D, k) datum directions;
    Y, Vi : per family, what ties the eliminated bodies to the reduced unknowns, and their own part.
    """

    root: Array
    null: Array
    Y: dict[int, Array]
    Vi: dict[int, Array]
    Sigma: Array

    def blocks(self, d: Array, z: dict[int, Array]) -> dict[int, Array]:
        """Blocks (n, count, B) that go with reduced steps d (n, D) and standard normals z (n, count, B)."""
        out = {}
        for f, Y in self.Y.items():
            own = np.einsum("nbc,knc->knb", _root(self.Vi[f]), z[f])
            out[f] = own - (d @ Y.reshape(-1, Y.shape[2]).T).reshape(len(d), *Y.shape[:2])
        return out


def _root(V: Array) -> Array:
    """(n, B, B) matrices whose squares are the covariances V; what rounding has made negative counts as nothing."""
    try:
        return np.linalg.cholesky(V)
    except np.linalg.LinAlgError:
        w, E = np.linalg.eigh((V + np.swapaxes(V, -1, -2)) / 2)
        return E * np.sqrt(np.maximum(w, 0.0))[..., None, :]


def covariance(net: Network, normal: Normal, null: Array) -> Covariance | None:
    """Invert the reduced system, the datum directions ``null`` (D, k) held by inner constraints.

    Directions that nothing determines (an eigenvalue below 1e-12 of a unit diagonal) are given that little information, so
    that what hangs on them comes out as wide as it is.
    """
    red = reduce(normal)
    if red is None:
        return None
    d = np.sqrt(np.maximum(np.einsum("ii->i", red.S), 1e-12))
    A = red.S / d / d[:, None]
    if null.shape[1]:
        N, _ = np.linalg.qr(null * d[:, None])
        A = A + N @ N.T
    try:
        L = np.linalg.cholesky(A)
        root = solve_triangular(L, np.eye(len(A)), lower=True, check_finite=False).T
    except np.linalg.LinAlgError:
        w, V = np.linalg.eigh(A)
        root = V / np.sqrt(np.maximum(w, 1e-12))
    root = root / d[:, None]
    return Covariance(root, null, red.Y, red.Vi, root @ root.T)
