"""The numbers at once, after one mark was moved: warm start, the same covariance algebra, and the same joint draws.

``Live(solution).update(document)`` adjusts again from where the last solution stands, screens the marks as the full survey does,
and carries the draws over: each old draw is written in whitened coordinates about the old solution (in which the joint covariance
is the identity) and read back about the new one. Where nothing moved, no draw moves; where the covariance shrank, the draws draw
together; what makes the distribution other than Gaussian (rivals, a bent valley) is kept as it was.

It does not look for other starts or for new rivals. So it says no, with the reason, where that could matter: when what is
determined has changed, when the fit does not settle, when marks that were right are wrong now, or when the solution moved far
(``FAR`` standard deviations of any number). Then the full survey has to be asked (:func:`longlens.survey.answer.solve`);
:func:`recompute` does that by itself.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.linalg import solve_triangular

from longlens.dossier.exchange import ExchangeDocument, Measure
from longlens.survey.adjust import Covariance, Fit, _root, adjust, covariance, move
from longlens.survey.answer import (
    Solution,
    _compile,
    _measure,
    _variance_factor,
    solve,
)
from longlens.survey.camera import Array
from longlens.survey.circle import basis
from longlens.survey.datum import Datum, generators, scene_size
from longlens.survey.determine import Determined, count_out
from longlens.survey.draws import Draws
from longlens.survey.measures import evaluator
from longlens.survey.network import BLOCK, DENSE, Network, State
from longlens.survey.observations import all_rows, principal_turn
from longlens.survey.screen import TESTED, Screened, limits, test_values

#: A number that moved by more than so many of its standard deviations asks for the full survey.
FAR = 6.0


@dataclass
class Update:
    """What became of a change. ``solution``: the new one, or None where the full survey must be asked; ``why``: the reason.

    moved : by measure, how far its value moved in its own (old) standard deviations.
    """

    solution: Solution | None
    why: str = ""
    moved: dict[str, float] = field(default_factory=dict)


class Live:
    """A solution kept ready for small changes; after each it is ready for the next.

    ``warm()`` does beforehand what the first change needs once.
    """

    def __init__(self, solution: Solution) -> None:
        self.solution = solution
        self._z: Array | None = None
        self._counted: Determined | None = None

    def warm(self) -> Array:
        """(N, Z) whitened draws; worked out once for a solution of the full survey."""
        if self._z is None:
            self._z = _whitened(self.solution)
        if self._counted is None:
            self._counted = count_out(self.solution.net.document)
        return self._z

    def update(self, document: ExchangeDocument) -> Update:
        """Take a changed document: marks moved, added or taken away; facts' values changed."""
        old = self.solution
        if self._counted is None:
            self._counted = count_out(old.net.document)
        left = _left_out(old, self._counted, document)
        net = _compiled(old, document, left)
        if why := _differs(old.net, net):
            return Update(None, why)
        weights = _weights(old, net)
        fit = adjust(net, old.fit.state, weights=weights, damping=1e-7, iterations=25, tolerance=1e-9)
        if fit is None or not fit.converged:
            return Update(None, "the fit does not settle from where it stood")
        datum = _datum(old, net, fit)
        cov = covariance(net, fit.normal, datum.null)
        if cov is None:
            return Update(None, "the fit does not determine what it did")
        rows, _ = all_rows(net, fit.state, fit.theta)
        tests = test_values(net, rows, cov, weights)
        limit = limits(net)
        screened = Screened(fit, weights, tests, limit, [])
        if why := _suspicions_changed(net, screened):
            return Update(None, why)
        sigma0, redundancy, inflate = _variance_factor(net, screened, datum)
        z = self.warm() * (inflate / old.inflate)
        drawn = Draws(_unwhitened(net, fit, cov, z), old.drawn.method, old.drawn.effective)
        new = Solution(
            net, fit, cov, datum, screened, drawn, sigma0, redundancy, inflate, left_out=left, rivals=list(old.rivals)
        )
        _revalue(old, new)
        moved = _moved(old, new)
        if (far := max(moved.values(), default=0.0)) > FAR:
            worst = max(moved, key=lambda m: moved[m])
            return Update(None, f"{worst} moved by {far:.0f} standard deviations", moved)
        _carry_words(old, new)
        self.solution, self._z, self._counted = new, z, None
        return Update(new, moved=moved)


def recompute(
    previous: Solution, document: ExchangeDocument, *, seed: int = 0, draws: int | None = None
) -> tuple[Solution, str]:
    """The solution of a changed document, quickly where that is honest, else by the full survey.

    Returns it and, where the full survey was needed, why. Raises NotSolvable as the survey does.
    """
    got = Live(previous).update(document)
    if got.solution is not None:
        return got.solution, ""
    number = len(previous.drawn.state.logf) if draws is None else draws
    return solve(document, seed=seed, draws=number), got.why


def _left_out(old: Solution, before: Determined, document: ExchangeDocument) -> Determined:
    """What is to be left out now: by counting, and what the full survey left out beyond that. ``before``: by counting, then."""
    now = count_out(document)
    out = Determined()
    for name in ("shots", "points", "circles"):
        kept = {k: v for k, v in getattr(old.left_out, name).items() if k not in getattr(before, name)}
        getattr(out, name).update(kept | getattr(now, name))
    return out


def _compiled(old: Solution, document: ExchangeDocument, left: Determined) -> Network:
    free_ground = bool(len(old.net.ground_used) and old.net.ground_used[0] == 0)
    net = _compile(document, left, free_ground)
    if len(old.net.level):
        net.level, net.level_sd = old.net.level, old.net.level_sd
    net.equal_on = old.net.equal_on
    return net


def _differs(a: Network, b: Network) -> str:
    """Why the unknowns of two networks are not the same; "" where they are."""
    for what, x, y in (("shot", a.shots, b.shots), ("point", a.points, b.points), ("circle", a.circles, b.circles)):
        if x != y:
            came, went = [i for i in y if i not in x], [i for i in x if i not in y]
            if came:
                return f"the {what} {came[0]} can be placed now"
            return f"the {what} {went[0]} cannot be placed any more" if went else f"the {what}s changed their order"
    same = (
        a.columns == b.columns
        and a.cameras == b.cameras
        and a.stances == b.stances
        and np.array_equal(a.family, b.family)
        and np.array_equal(a.slot, b.slot)
        and np.array_equal(a.free, b.free)
        and np.array_equal(a.body_of, b.body_of)
        and np.array_equal(a.radius_of, b.radius_of)
        and np.array_equal(a.circle_body, b.circle_body)
    )
    return "" if same else "facts tie other things than before"


def _weights(old: Solution, net: Network) -> dict[str, Array]:
    """What was set aside stays so where it is the same observation in the same place; what moved is given its say again."""
    out = {}
    for kind in TESTED:
        known = dict(zip(_keys(old.net, kind), old.screened.weights[kind], strict=True))
        out[kind] = np.array([known.get(key, 1.0) for key in _keys(net, kind)], float)
    return out


def _keys(net: Network, kind: str) -> list[tuple]:
    if kind == "mark":
        return list(zip(net.mark_shot.tolist(), net.mark_point.tolist(), map(tuple, net.mark_xy.tolist()), strict=True))
    if kind == "edge":
        return list(
            zip(net.edge_shot.tolist(), net.edge_circle.tolist(), map(tuple, net.edge_xy.tolist()), strict=True)
        )
    ids = {"distance": net.distance_id, "diameter": net.diameter_id, "position": net.position_id}[kind]
    return [(net.document.facts[i].model_dump_json(),) for i in ids]


def _datum(old: Solution, net: Network, fit: Fit) -> Datum:
    """The same free motions as before, taken at the new solution."""
    was = old.datum
    if not len(was.motions):
        return Datum(np.zeros((net.columns, 0)), was.motions, was.scale_free, was.weak)
    size = scene_size(fit.state)
    null = (generators(net, fit.state) * np.array([size, size, size, 1, 1, 1, 1])) @ was.motions.T
    return Datum(null / np.linalg.norm(null, axis=0), was.motions, was.scale_free, was.weak)


def _suspicions_changed(net: Network, sc: Screened) -> str:
    """A kept observation that now contradicts the rest, or one set aside that would fit."""
    for kind in TESTED:
        w, t, limit = sc.weights[kind], sc.tests[kind], sc.limit[kind]
        bad = np.flatnonzero((w > 0) & (t > limit))
        if len(bad):
            k = int(bad[np.argmax(t[bad])])
            return f"{_said(net, kind, k)} contradicts the rest now (test {t[k]:.1f})"
        good = np.flatnonzero((w == 0) & (t < 0.8 * limit))
        if len(good):
            return f"{_said(net, kind, int(good[0]))}, set aside before, would fit now"
    return ""


def _said(net: Network, kind: str, k: int) -> str:
    if kind == "mark":
        return f"the mark of {net.points[net.mark_point[k]]} on {net.shots[net.mark_shot[k]]}"
    if kind == "edge":
        return f"an edge point of {net.circles[net.edge_circle[k]]} on {net.shots[net.edge_shot[k]]}"
    ids = {"distance": net.distance_id, "diameter": net.diameter_id, "position": net.position_id}[kind]
    return f"the fact {net.document.facts[ids[k]].id}"


def _moved(old: Solution, new: Solution) -> dict[str, float]:
    out = {}
    for m, (value, _) in new.values.items():
        if m in old.values:
            was, draws = old.values[m]
            out[m] = abs(value - was) / max(float(np.std(draws)), 1e-12)
    return out


def _revalue(old: Solution, new: Solution) -> None:
    """Values of all measures. What was refused for what the marks leave free stays refused: they leave the same free."""
    net = new.net
    was = {m.id: m for m in old.net.document.measures}
    unchanged = [m for m in net.document.measures if was.get(m.id) == m]
    ids = {m.id for m in unchanged}
    if all(m.ratio is None or set(m.ratio) <= ids for m in unchanged) and len(unchanged) == len(net.document.measures):
        best, many = evaluator(net, new.fit.state), evaluator(net, new.drawn.state)
        before = evaluator(old.net, old.drawn.state)
        for m in unchanged:
            if m.id in old.refused:
                new.refused[m.id] = old.refused[m.id]
                continue
            draws = np.asarray(many(m), float)
            if _has_marking_error(m, was):  # a rod's edges have an error of their own: it stays as it was drawn
                draws = old.values[m.id][1] + draws - np.asarray(before(m), float)
            value = float(best(m))
            if new.rivals:  # as in the full survey
                value = float(np.mean(draws))
            elif new.drawn.method != "gaussian":
                value = float(np.median(draws))
            new.values[m.id] = (value, draws)
    else:
        _measure(new, _rng(new))


def _has_marking_error(m: Measure, table: dict[str, Measure]) -> bool:
    return any(part.rod_diameter is not None for part in ([table[k] for k in m.ratio] if m.ratio else [m]))


def _carry_words(old: Solution, new: Solution) -> None:
    """Suspects and warnings as they stand: what is set aside is the same, or the full survey would have been asked. Figures
    within their sentences are of the last full survey."""
    aside = {(e["shot"], e.get("point") or e.get("circle"), e["x"], e["y"]) for e in old.suspects}
    if aside:
        net = new.net
        here = {
            (net.shots[s], net.points[p], x, y)
            for s, p, (x, y) in zip(net.mark_shot, net.mark_point, net.mark_xy.tolist(), strict=True)
        } | {
            (net.shots[s], net.circles[c], x, y)
            for s, c, (x, y) in zip(net.edge_shot, net.edge_circle, net.edge_xy.tolist(), strict=True)
        }
        new.suspects = [
            e for e in old.suspects if (e["shot"], e.get("point") or e.get("circle"), e["x"], e["y"]) in here
        ]
    new.suspect_facts, new.warnings = list(old.suspect_facts), list(old.warnings)
    new.wrong_side = dict(old.wrong_side)


def _rng(sol: Solution) -> np.random.Generator:
    """For the marking error of rod edges: a stream of its own that does not change when marks move."""
    return np.random.default_rng(len(sol.net.points))


# Whitened coordinates of draws ------------------------------------------------------------------------------


def _whitened(sol: Solution) -> Array:
    """(N, Z) draws about the solution, in coordinates in which the Gaussian would be standard normal."""
    d, blocks = difference(sol.net, sol.fit.state, sol.drawn.state)
    cov = sol.cov
    parts = [_solve_root(cov.root, d.T).T]
    for f, Y in cov.Y.items():
        own = blocks[f] + (d @ Y.reshape(-1, Y.shape[2]).T).reshape(len(d), *Y.shape[:2])
        L = _root(cov.Vi[f])
        parts.append(np.einsum("nbc,knc->knb", np.linalg.pinv(L), own).reshape(len(d), -1))
    return np.concatenate(parts, axis=1)


def _solve_root(root: Array, right: Array) -> Array:
    if np.allclose(root, np.triu(root), rtol=0, atol=1e-300):
        return solve_triangular(root, right, lower=False, check_finite=False)
    return np.linalg.solve(root, right)


def _unwhitened(net: Network, fit: Fit, cov: Covariance, z: Array) -> State:
    """States of whitened draws (N, Z) about a solution."""
    D = len(cov.root)
    d = z[:, :D] @ cov.root.T
    steps, at, first = [d], D, {DENSE: net.at_body}
    for f, Y in cov.Y.items():
        n, B, _ = Y.shape
        own = np.swapaxes(z[:, at : at + n * B].reshape(len(z), n, B), 0, 1) @ np.swapaxes(_root(cov.Vi[f]), 1, 2)
        first[f] = at
        steps.append(np.swapaxes(own, 0, 1).reshape(len(z), n * B) - d @ Y.reshape(n * B, D).T)
        at += n * B
    # all bodies in one gather; ``move`` does the rest (cameras, circles, grounds)
    size = {DENSE: 3, **BLOCK}
    columns = np.array(
        [first[f] + size[f] * s + 3 * k * (f != DENSE) for f, s, k in zip(net.family, net.slot, net.part, strict=True)]
    )
    every = np.concatenate(steps, axis=1)
    places = every[:, (columns[:, None] + np.arange(3)).ravel()].reshape(len(z), -1, 3)
    lean = replace(fit.state, X=fit.state.X[:0])
    bare = copy.copy(net)
    bare.family, bare.free, bare.slot = net.family[:0], net.free[:0], net.slot[:0]
    out = move(bare, lean, d, {})
    out.X = fit.state.X + places * net.free
    return out


def difference(net: Network, at: State, st: State) -> tuple[Array, dict[int, Array]]:
    """Steps (N, D) and blocks (N, n, B) that lead from one state to others (N draws): the inverse of ``adjust.move``."""
    N, S, G, M = len(st.logf), len(net.shots), len(net.cameras), len(net.circles)
    d = np.zeros((N, net.columns))
    shot = np.empty((N, S, 8))
    shot[..., 6:8] = st.principal - at.principal
    shot[..., 3:6] = st.C - at.C
    shot[..., 0:3] = _turn(st.R @ np.swapaxes(at.R, -1, -2))
    shot[..., 0:2] -= np.einsum("sij,nsj->nsi", principal_turn(net, at), shot[..., 6:8])
    d[:, net.at_shot : net.at_shot + 8 * S] = shot.reshape(N, -1)
    cam = np.stack([st.logf - at.logf, st.kappa - at.kappa], axis=-1)
    d[:, net.at_camera : net.at_camera + 2 * G] = cam.reshape(N, -1)
    if M:
        a, b = basis(at.normal)
        axis = np.cross(at.normal, st.normal)
        sine = np.linalg.norm(axis, axis=-1)
        angle = np.arctan2(sine, np.sum(at.normal * st.normal, axis=-1))
        w = axis * np.where(sine > 1e-12, angle / np.maximum(sine, 1e-12), 1.0)[..., None]
        turn = np.stack([np.sum(w * a, axis=-1), np.sum(w * b, axis=-1)], axis=-1)
        d[:, net.at_circle : net.at_circle + 2 * M] = turn.reshape(N, -1)
    d[:, net.at_radius : net.at_radius + net.radii] = st.radius - at.radius
    d[:, net.at_ground : net.at_ground + 3 * len(net.ground_used)] = (st.ground - at.ground).reshape(N, -1)
    dX = (st.X - at.X) * net.free
    dense = np.flatnonzero(net.family == DENSE)
    columns = net.at_body + 3 * net.slot[dense][:, None] + np.arange(3)
    d[:, columns.ravel()] = dX[:, dense].reshape(N, -1)
    blocks = {}
    for f, B in BLOCK.items():
        if net.count[f]:
            out = np.zeros((N, net.count[f], B // 3, 3))
            members = np.flatnonzero(net.family == f)
            out[:, net.slot[members], net.part[members]] = dX[:, members]
            blocks[f] = out.reshape(N, net.count[f], B)
    return d, blocks


def _turn(R: Array) -> Array:
    """Rotation vectors (..., 3) of matrices (..., 3, 3); turns short of half a circle."""
    v = np.stack([R[..., 2, 1] - R[..., 1, 2], R[..., 0, 2] - R[..., 2, 0], R[..., 1, 0] - R[..., 0, 1]], axis=-1) / 2
    sine = np.linalg.norm(v, axis=-1)
    angle = np.arctan2(sine, (np.einsum("...ii->...", R) - 1) / 2)
    return v * np.where(sine > 1e-9, angle / np.maximum(sine, 1e-12), 1.0)[..., None]
