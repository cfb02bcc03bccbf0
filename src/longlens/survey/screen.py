"""Wrong marks and wrong facts: found one by one, named with their test value, and set aside.

The test of a mark is the length of its residual in units of the residual's own standard deviation (data snooping, Baarda
1968; Förstner & Wrobel 2016): for a mark in the fit that is the square root of ``rᵀ Q⁻¹ r`` with Q the residual's
covariance, for one set aside the same with the prediction's covariance. Two coordinates make it a χ with two degrees of
freedom, a rim edge point or a fact with one. The limit keeps false alarms below about one document in two hundred.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.special import chdtri

from longlens.survey.adjust import Covariance, Fit, adjust, covariance
from longlens.survey.camera import Array
from longlens.survey.network import DENSE, Network, State
from longlens.survey.observations import Rows, all_rows, point_marks

#: Chance of a false alarm in a whole document.
FALSE_ALARM = 0.005
TESTED = ("mark", "edge", "distance", "diameter", "position")
LENGTHS = ("distance", "diameter", "position")
ROUNDS = 30
#: Facts that are each asked alone when they contradict one another.
MOST_VOTERS = 16


@dataclass
class Screened:
    """The final fit; weights (1 kept, 0 set aside) and tests by kind; ``twins_of``: marks that could equally be meant."""

    fit: Fit
    weights: dict[str, Array]
    tests: dict[str, Array]
    limit: dict[str, float]
    undecided: list[tuple[str, list[int]]] = field(default_factory=list)

    def aside(self, kind: str) -> np.ndarray:
        return np.flatnonzero(self.weights[kind] == 0)


def test_values(net: Network, rows: list[Rows], cov: Covariance, weights: dict[str, Array]) -> dict[str, Array]:
    """Test value of every mark, edge point and fact: (n,) by kind. ``rows`` are unweighted."""
    out = {k: np.zeros(_number(net, k)) for k in TESTED}
    for q in rows:
        if q.kind not in TESTED:
            continue
        for part in np.array_split(np.arange(len(q.which)), max(1, len(q.which) * net.columns // 4_000_000)):
            if len(part) == 0:
                continue
            P = _prediction(net, q, part, cov)
            w = weights[q.kind][q.which[part]]
            m = q.r.shape[-1]
            # kept: covariance of the residual, I − P; set aside: of the prediction error, I + P
            Q = np.eye(m) + np.where(w[:, None, None] > 0, -1.0, 1.0) * P
            lam, V = np.linalg.eigh(Q)
            z = np.einsum("nij,ni->nj", V, q.r[part])
            # directions with no redundancy say nothing, rather than everything
            z2 = np.where(lam > 0.02, z * z / np.maximum(lam, 1e-12), 0.0)
            out[q.kind][q.which[part]] = np.sqrt(np.sum(z2, axis=1))
    return out


def _number(net: Network, kind: str) -> int:
    return len(
        {
            "mark": net.mark_xy,
            "edge": net.edge_xy,
            "distance": net.distance_value,
            "diameter": net.diameter_value,
            "position": net.position_sd,
        }[kind]
    )


def _prediction(net: Network, q: Rows, part: np.ndarray, cov: Covariance) -> Array:
    """(n, m, m) covariance of the predicted observation, in whitened units."""
    n, m = len(part), q.r.shape[-1]
    G = np.zeros((n, m, net.columns))
    if q.columns.shape[1]:
        i, j = np.arange(n)[:, None, None], np.arange(m)[None, :, None]
        np.add.at(G, (i, j, q.columns[part][:, None, :]), q.Jd[part])
    own = 0.0
    if q.Jb is not None and q.block is not None and q.family != DENSE:
        J, b = q.Jb[part], q.block[part]
        G -= np.einsum("nmb,nbk->nmk", J, cov.Y[q.family][b])
        own = np.einsum("nmb,nbc,nlc->nml", J, cov.Vi[q.family][b], J)
    Z = G.reshape(n * m, -1) @ cov.root
    Z = Z.reshape(n, m, -1)
    return np.einsum("nmk,nlk->nml", Z, Z) + own


def limits(net: Network) -> dict[str, float]:
    """Limits of the test values by kind, from the number of tests made."""
    number = max(1, sum(_number(net, k) for k in TESTED))
    p = FALSE_ALARM / number
    dof = {"mark": 2, "edge": 1, "distance": 1, "diameter": 1, "position": 3}
    return {k: float(np.sqrt(chdtri(d, p))) for k, d in dof.items()}


def screen(net: Network, fit: Fit, null: Array) -> Screened | None:
    """Set wrong marks and facts aside, the worst first, and take back what fits after all."""
    limit = limits(net)
    weights = {k: np.ones(_number(net, k)) for k in TESTED}
    rows, _ = all_rows(net, fit.state, fit.theta)
    for q in rows:  # what the robust fit already leaves far off
        if q.kind in ("mark", "edge", "distance", "diameter", "position"):
            far = np.linalg.norm(q.r, axis=-1) > 2.5 * limit[q.kind]
            weights[q.kind][q.which[far]] = 0.0
    _blame(net, fit, limit["mark"], weights["mark"])
    _keep_facts_alive(weights)
    out = _set_aside(net, fit.state, weights, limit, null)
    if out is not None and any(len(out.aside(k)) for k in LENGTHS):
        voted = _vote(net, out, null)
        if voted is not None:
            out = _set_aside(net, out.fit.state, voted, limit, null) or out
    if out is not None:
        _indistinguishable(net, out)
    return out


def _set_aside(net: Network, st: State, weights: dict[str, Array], limit, null: Array) -> Screened | None:
    """One at a time, the worst first, and back in what fits after all; ``weights`` is where it begins, and is changed."""
    best = adjust(net, st, weights=weights)
    tests: dict[str, Array] = {}
    banned: dict[tuple[str, int], int] = {}
    for _ in range(ROUNDS):
        if best is None:
            return None
        rows, _ = all_rows(net, best.state, best.theta)
        cov = covariance(net, best.normal, null)
        if cov is None:
            return None
        tests = test_values(net, rows, cov, weights)
        change = _next_change(tests, limit, weights, banned)
        if not change:
            break
        for kind, i, w in change:
            weights[kind][i] = w
            banned[kind, i] = banned.get((kind, i), 0) + 1
        again = adjust(net, best.state, weights=weights, damping=1e-6)
        if again is None:
            break
        best = again
    assert best is not None
    return Screened(best, weights, tests, limit)


def _vote(net: Network, out: Screened, null: Array) -> dict[str, Array] | None:
    """Where facts contradict each other the first fit may have followed the wrong one: each in turn gives the scale alone,
    and the most that agree are kept. None where that is what is kept already, or where there are too many to ask each."""
    facts = [(k, i) for k in LENGTHS for i in range(_number(net, k))]
    if not 3 <= len(facts) <= MOST_VOTERS:
        return None
    kept = sum(int(out.weights[k].sum()) for k in LENGTHS)
    best: tuple[int, float, dict[str, Array]] | None = None
    for kind, i in facts:
        weights = {k: np.zeros(len(w)) if k in LENGTHS else w.copy() for k, w in out.weights.items()}
        weights[kind][i] = 1.0
        alone = adjust(net, out.fit.state, weights=weights, iterations=40)
        cov = covariance(net, alone.normal, null) if alone is not None else None
        if alone is None or cov is None:
            continue
        rows, _ = all_rows(net, alone.state, alone.theta)
        tests = test_values(net, [q for q in rows if q.kind in LENGTHS], cov, weights)
        for k in LENGTHS:
            weights[k] = np.maximum(weights[k], (tests[k] < out.limit[k]).astype(float))
        agree = sum(int(weights[k].sum()) for k in LENGTHS)
        if best is None or (agree, -alone.cost) > best[:2]:
            best = (agree, -alone.cost, weights)
    return best[2] if best is not None and best[0] > kept else None


def _blame(net: Network, fit: Fit, limit: float, weight: Array) -> None:
    """Who is wrong, where a body's marks disagree: one mark of it, or left and right exchanged on one shot.

    A robust fit of few rays may let go of the wrong one. Every single mark, and every exchange of twins that are both marked
    on a shot, is tried: the body is placed by the other rays (or by the exchanged ones), cameras held; what explains the
    marks best, and clearly better than the next, is taken.
    """
    r, _ = point_marks(net, fit.state, derivatives=False)
    far = np.linalg.norm(r, axis=1) > 2.5 * limit
    for body in np.unique(net.mark_body[far]):
        rows = np.flatnonzero(net.mark_body == body)
        if len(rows) < 3:
            continue
        tried: list[tuple[float, list[int]]] = []
        for i in rows:
            others = rows[rows != i]
            tried.append((_meeting(net, fit, others, net.mark_sign[others]), [int(i)]))
        for s in np.unique(net.mark_shot[rows]):
            both = rows[net.mark_shot[rows] == s]
            if len(both) == 2 and net.mark_sign[both].sum() == 0:
                sign = np.where(np.isin(rows, both), -net.mark_sign[rows], net.mark_sign[rows])
                tried.append((_meeting(net, fit, rows, sign), [int(k) for k in both]))
        tried.sort(key=lambda t: t[0])
        if tried[0][0] < limit and (len(tried) == 1 or tried[1][0] > 2 * limit):
            weight[rows] = 1.0
            weight[tried[0][1]] = 0.0


def _meeting(net: Network, fit: Fit, rows: np.ndarray, sign: Array) -> float:
    """Largest whitened residual of a body's marks when it is placed by them, cameras held."""
    st, keep = fit.state.copy(), net.mark_sign
    body = net.mark_body[rows[0]]
    net.mark_sign = keep.copy()
    net.mark_sign[rows] = sign
    free = net.free[body]
    try:
        C = st.C[net.mark_shot[rows]] * np.c_[np.ones(len(rows)), sign, np.ones(len(rows))]
        f = np.exp(st.logf[net.camera_of[net.mark_shot[rows]]])[:, None]
        q = (net.mark_xy[rows] - st.principal[net.mark_shot[rows]]) / f
        d = np.einsum("nji,nj->ni", st.R[net.mark_shot[rows]], np.c_[q, np.ones(len(q))])
        d[:, 1] *= sign
        P = np.eye(3) - d[:, :, None] * d[:, None, :] / np.sum(d * d, axis=1)[:, None, None]
        A, rhs = P.sum(0), np.einsum("nij,nj->i", P, C)
        A = A * free[:, None] * free[None, :] + np.diag(~free) + 1e-9 * np.eye(3)
        st.X[body] = np.linalg.solve(A, rhs * free)
        for _ in range(4):
            r, _behind, _, J = point_marks(net, st, rows)
            J = J.reshape(-1, 3)
            st.X[body] -= np.linalg.lstsq(J, r.ravel(), rcond=1e-9)[0]
        r, behind = point_marks(net, st, rows, derivatives=False)
        return np.inf if behind.any() else float(np.linalg.norm(r, axis=1).max())
    finally:
        net.mark_sign = keep


def _keep_facts_alive(weights: dict[str, Array]) -> None:
    """At least one length must stay: if all were far off, none is set aside yet."""
    lengths = np.concatenate([weights["distance"], weights["diameter"], weights["position"]])
    if len(lengths) and not lengths.any():
        for k in ("distance", "diameter", "position"):
            weights[k][:] = 1.0


def _next_change(tests, limit, weights, banned) -> list[tuple[str, int, float]]:
    back = [
        (k, int(i), 1.0)
        for k in TESTED
        for i in np.flatnonzero((weights[k] == 0) & (tests[k] < 0.8 * limit[k]))
        if banned.get((k, int(i)), 0) < 3
    ]
    if back:
        return back
    worst = [
        (float(tests[k][i] / limit[k]), k, int(i))
        for k in TESTED
        for i in np.flatnonzero((weights[k] > 0) & (tests[k] > limit[k]))
        if banned.get((k, int(i)), 0) < 3
    ]
    if not worst:
        return []
    _, kind, i = max(worst)
    if (
        kind in ("distance", "diameter", "position")
        and sum(float(weights[k].sum()) for k in ("distance", "diameter", "position")) <= 1
    ):
        return []
    return [(kind, i, 0.0)]


def _indistinguishable(net: Network, out: Screened) -> None:
    """Where a point is left with too few marks to be placed without the one set aside, its other marks are as suspect."""
    for i in out.aside("mark"):
        body = net.mark_body[i]
        mates = np.flatnonzero((net.mark_body == body) & (out.weights["mark"] > 0))
        if len(mates) == 1 and net.free[body].sum() == 3 and net.family[body] != DENSE:
            out.undecided.append(("mark", [int(i), *map(int, mates)]))
