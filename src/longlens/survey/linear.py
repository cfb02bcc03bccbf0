"""The solution's straight-line neighbourhood: which numbers hang on which marks, facts and points, and by how much.

Near the solution every quantity moves in proportion to the unknowns. Each is written as a row in *whitened* coordinates, in
which the joint covariance of all unknowns is the identity: the variance of a quantity is its row's squared length, the covariance
of two their product. In least squares the covariance of the unknowns is ``(JᵀJ)⁻¹``, so the products of a quantity's row with the
rows of all (whitened) observations have squares that add up to its variance: each square is what this observation contributes.

Limits: first order. Where the draws were corrected (one photograph, thin geometry) shares and gains are a guide only.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from longlens.survey.adjust import _root, move
from longlens.survey.camera import Array
from longlens.survey.measures import evaluator
from longlens.survey.network import BLOCK, DENSE, PAIR, SINGLE, Network, State, place_points
from longlens.survey.observations import Rows, all_rows

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

#: Steps of the differences by which a quantity's derivatives are taken: m and rad, and px for the principal point.
STEP, STEP_PX = 1e-5, 1e-2
#: A quantity on all leading axes of a state: shapes (...) .
Quantity = Callable[[Network, State], Array]


@dataclass
class Share:
    """What one mark, fact or thing known beforehand contributes to the variance of a number.

    kind : ``mark`` (with ``shot`` and ``name``), ``fact`` (``name`` its id) or ``prior`` (``name`` says of what).
    part : 0 to 1, of the variance. slope : how far the number moves when the observation moves by its standard deviation.
    """

    kind: str
    name: str
    part: float
    slope: float
    shot: str = ""
    index: int = -1  # number of the mark or fact in the document


@dataclass
class Linear:
    """Built once per solution; everything else is products."""

    solution: Solution
    _rows: dict[str, Array] = field(default_factory=dict, repr=False)

    @cached_property
    def size(self) -> int:
        """Z, the number of whitened coordinates."""
        return len(self.solution.cov.root) + sum(Y.shape[0] * Y.shape[1] for Y in self.solution.cov.Y.values())

    @cached_property
    def _own(self) -> dict[int, Array]:
        return {f: _root(V) for f, V in self.solution.cov.Vi.items()}

    def whiten(self, d: Array, blocks: dict[int, Array]) -> Array:
        """(n, Z) whitened rows of derivatives by the reduced unknowns (n, D) and by the eliminated blocks (n, count, B)."""
        cov = self.solution.cov
        reduced = d.astype(float).copy()
        parts = []
        for f, Y in cov.Y.items():
            b = blocks.get(f)
            if b is None:
                parts.append(np.zeros((len(d), Y.shape[0] * Y.shape[1])))
                continue
            reduced -= b.reshape(len(b), -1) @ Y.reshape(-1, Y.shape[2])
            parts.append(np.einsum("knb,nbc->knc", b, self._own[f]).reshape(len(b), -1))
        out = np.concatenate([reduced @ cov.root, *parts], axis=1)
        return out * self.solution.inflate

    def places(self, bodies: np.ndarray, sign: Array | None = None) -> Array:
        """(n, 3, Z) rows of the places of bodies; ``sign`` (n,) turns y."""
        net = self.solution.net
        n = len(bodies)
        d = np.zeros((n, 3, net.columns))
        blocks = {f: np.zeros((n, 3, net.count[f], BLOCK[f])) for f in (SINGLE, PAIR) if f in self.solution.cov.Y}
        for k, b in enumerate(bodies):
            f, free = net.family[b], net.free[b].astype(float)
            if sign is not None:
                free = free * [1.0, sign[k], 1.0]
            i = np.arange(3)
            if f == DENSE:
                d[k, i, net.at_body + 3 * net.slot[b] + i] = free
            else:
                blocks[f][k, i, net.slot[b], 3 * net.part[b] + i] = free
        rows = self.whiten(d.reshape(3 * n, -1), {f: b.reshape(3 * n, *b.shape[2:]) for f, b in blocks.items()})
        return rows.reshape(n, 3, -1)

    def observations(self, q: Rows) -> Array:
        """(n, m, Z) rows of a group of observations, in units of their standard deviations."""
        net = self.solution.net
        n, m = q.r.shape
        d = np.zeros((n, m, net.columns))
        if q.columns.shape[1]:
            np.add.at(d, (np.arange(n)[:, None, None], np.arange(m)[None, :, None], q.columns[:, None, :]), q.Jd)
        blocks = {}
        if q.Jb is not None and q.block is not None and q.family != DENSE:
            b = np.zeros((n, m, net.count[q.family], BLOCK[q.family]))
            b[np.arange(n), :, q.block] = q.Jb
            blocks[q.family] = b.reshape(n * m, *b.shape[2:])
        return self.whiten(d.reshape(n * m, -1), blocks).reshape(n, m, -1)

    def quantity(self, of: Quantity) -> Array:
        """(Z,) row of any quantity, by central differences along every unknown."""
        return self.quantities(lambda net, st: np.asarray(of(net, st))[..., None], 1)[0]

    def quantities(self, of: Quantity, number: int) -> Array:
        """(number, Z) rows of quantities that ``of`` gives along a last axis."""
        sol = self.solution
        net, st = sol.net, sol.fit.state
        D = net.columns
        h = np.full(D, STEP)
        shots = net.at_shot + 8 * np.arange(len(net.shots))[:, None] + np.array([6, 7])
        h[shots.ravel()] = STEP_PX
        zero = {f: np.zeros((D, *Y.shape[:2])) for f, Y in sol.cov.Y.items()}
        up, down = (move(net, st, s * np.diag(h), zero) for s in (1.0, -1.0))
        d = (np.asarray(of(net, up)) - np.asarray(of(net, down))).T / (2 * h)
        blocks = {}
        for f, Y in sol.cov.Y.items():
            n, B, _ = Y.shape
            step = (np.eye(n * B) * STEP).reshape(n * B, n, B)
            others = {g: np.zeros((n * B, *W.shape[:2])) for g, W in sol.cov.Y.items()}
            none = np.zeros((n * B, D))
            up, down = (move(net, st, none, others | {f: s * step}) for s in (1.0, -1.0))
            slope = (np.asarray(of(net, up)) - np.asarray(of(net, down))).T / (2 * STEP)
            blocks[f] = slope.reshape(number, n, B)
        return self.whiten(d, blocks)

    def prepare(self, measures: Sequence[str]) -> None:
        """Work out the rows of many measures together: the states are moved once for all."""
        wanted = {m for m in measures if m not in self._rows}
        table = [m for m in self.solution.net.document.measures if m.id in wanted]

        def all_of(net: Network, st: State) -> Array:
            value = evaluator(net, st)
            return np.stack([np.asarray(value(m), float) for m in table], axis=-1)

        if table:
            for m, row in zip(table, self.quantities(all_of, len(table)), strict=True):
                self._rows[m.id] = row

    def measure(self, measure_id: str) -> Array:
        """(Z,) row of a measure; its length is the measure's standard deviation to first order."""
        if measure_id not in self._rows:
            m = next(m for m in self.solution.net.document.measures if m.id == measure_id)
            self._rows[measure_id] = self.quantity(lambda net, st: evaluator(net, st)(m))
        return self._rows[measure_id]

    def point(self, pid: str) -> Array:
        """(3, Z) rows of a point's place."""
        net = self.solution.net
        i = net.point(pid)
        return self.places(net.body_of[[i]], net.sign[[i]])[0]

    @cached_property
    def _observed(self) -> list[tuple[Rows, Array]]:
        sol = self.solution
        rows, _ = all_rows(sol.net, sol.fit.state, sol.fit.theta, sol.screened.weights)
        return [(q, self.observations(q)) for q in rows]

    def facts(self) -> dict[str, Array]:
        """Fact → (k, Z) rows of what it says, in units of its standard deviation; those set aside are left out."""
        net, doc = self.solution.net, self.solution.net.document
        found: dict[str, list[Array]] = {}
        for q, Z in self._observed:
            if q.kind in ("distance", "diameter", "position"):
                for k in range(len(Z)):
                    if np.any(Z[k]):
                        _, at = _named(net, doc, q.kind, int(q.which[k]))
                        found.setdefault(doc.facts[at].id, []).append(Z[k])
        return {name: np.concatenate(rows) for name, rows in found.items()}

    def part(self, row: Array, rows: Array) -> float:
        """The part of a number's variance that observations with these rows contribute, 0 to 1."""
        total = float(row @ row) * self.solution.inflate**2
        return float(np.sum((rows @ row) ** 2)) / total if total > 0 else 0.0

    def shares(self, row: Array, *, least: float = 0.0) -> list[Share]:
        """What a number's variance is made of, the largest first; together they come to 1 (but for free datum directions).

        The marks of one thing on one shot are told together.
        """
        sol = self.solution
        net, doc = sol.net, sol.net.document
        scale = sol.inflate**2
        total = float(row @ row) or 1.0
        found: dict[tuple[str, str, str], list[float]] = {}
        index: dict[tuple[str, str, str], int] = {}
        for q, Z in self._observed:
            c = Z @ row / scale  # (n, m): covariance of number and observation, in the observation's sd
            part = np.sum(c * c, axis=1) * scale / total
            slope = np.sqrt(np.sum(c * c, axis=1))
            for k in np.flatnonzero(part > 1e-9):
                key, at = _named(net, doc, q.kind, int(q.which[k]))
                got = found.setdefault(key, [0.0, 0.0])
                got[0] += float(part[k])
                got[1] = float(np.hypot(got[1], slope[k]))
                index[key] = at
        out = [Share(kind, name, p, s, shot, index[kind, name, shot]) for (kind, name, shot), (p, s) in found.items()]
        return sorted((s for s in out if s.part >= least), key=lambda s: -s.part)

    def hang_on(
        self, measures: Sequence[str], *, point: str = "", shot: str = "", fact: str = "", least: float = 0.01
    ) -> dict[str, float]:
        """Which of these numbers hang on a mark (point or circle, on a shot), on all marks of a point, or on a fact, and which
        part of the number's variance that is; numbers below ``least`` are left out."""
        out = {}
        for m in measures:
            part = sum(
                s.part
                for s in self.shares(self.measure(m))
                if (fact and s.kind == "fact" and s.name == fact)
                or (point and s.kind == "mark" and s.name == point and shot in ("", s.shot))
            )
            if part >= least:
                out[m] = part
        return dict(sorted(out.items(), key=lambda kv: -kv[1]))


def _named(net: Network, doc, kind: str, i: int) -> tuple[tuple[str, str, str], int]:
    """((kind, name, shot), number in the document) of an observation."""
    if kind == "mark":
        return ("mark", net.points[net.mark_point[i]], net.shots[net.mark_shot[i]]), int(net.mark_id[i])
    if kind == "edge":
        return ("mark", net.circles[net.edge_circle[i]], net.shots[net.edge_shot[i]]), int(net.edge_id[i])
    if kind in ("distance", "diameter", "position"):
        at = int({"distance": net.distance_id, "diameter": net.diameter_id, "position": net.position_id}[kind][i])
        return ("fact", doc.facts[at].id, ""), at
    if kind in ("focal", "radial"):
        named = net.cameras[i].split(":", 1)[1]
        return ("prior", f"{'focal length' if kind == 'focal' else 'lens'} of {named}, as known beforehand", ""), -1
    if kind == "principal":
        return ("prior", f"picture's centre of {net.shots[i]}", ""), -1
    if kind == "lateral":
        return ("prior", f"axle of {net.circles[net.lateral[i]]} lies across the car", ""), -1
    return ("prior", _PRIORS.get(kind, kind.replace("_", " ")), ""), -1


_PRIORS = {
    "twin": "left and right are alike",
    "ground": "points on the ground",
    "ground_prior": "ride height and lean of other stances",
    "level": "front and rear wheel centres equally high",
}


def place_rows(solution: Solution) -> dict[str, Array]:
    """(3,) best places of all points."""
    P = place_points(solution.net, solution.fit.state)
    return {p: P[i] for i, p in enumerate(solution.net.points)}
