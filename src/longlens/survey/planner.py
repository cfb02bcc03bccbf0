"""Which further mark, which fact or which photograph narrows a number most, and by how much.

``plan(solution, "wheelbase")`` gives a :class:`Plan`: what is known now, and :class:`Advice` sorted by gain, of three kinds:

* ``mark``: a point that is placed already, marked on a further solved photograph (``advice.shot``, ``advice.point``);
* ``fact``: a figure from outside (a focal length, a rim's diameter, a length), or one that is known twice as well;
* ``camera``: a further photograph from a position (``advice.pose``, told in words: "from the front left, low, from about 5 m"),
  with the points that it would probably show (``advice.shows``).

Instead of a measure's id any quantity can be asked for: a function ``of(net, state)`` that gives values of shape (...) for a
state with any leading axes, such as ``lambda net, st: evaluator(net, st)(a) - evaluator(net, st)(b)`` (what tells two
explanations apart). Each advice carries the standard deviation and the 95 % interval expected *after* it.

How: in the whitened coordinates of :mod:`longlens.survey.linear` a quantity is a row ``a`` and new observations are rows ``B``
(in units of their standard deviation): the variance falls from ``|a|²`` to ``a (I + BᵀWB)⁻¹ aᵀ``. A new photograph brings
unknowns of its own (pose, focal length, lens, centre); ``W`` is the weight that is left when they are taken out (Schur
complement). This is the Fisher information of the enlarged survey; source: any text on optimal design, e.g. Pukelsheim 2006;
Förstner & Wrobel 2016.

Limits: first order, so where the draws were corrected for curvature the gain is a guide; whether a thing can be *seen* from
somewhere is judged by what earlier photographs (and their mirror images, for twins) show from within ``SEEN_WITHIN`` degrees;
rim edges that a new photograph would show are not counted, so its gain is rather told too small.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from longlens.errors import UnusableInput
from longlens.survey.camera import Array, camera_frame, cross, image_with_derivatives, look_at, project
from longlens.survey.linear import Linear, Quantity
from longlens.survey.measures import points_of, unit_of
from longlens.survey.network import FREE_LOGF_SD, KAPPA_SD, PRINCIPAL_SD, place_points, shot_columns
from longlens.survey.observations import _split, point_marks

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

#: What is seen from one direction is taken to be seen from directions within so many degrees.
SEEN_WITHIN = 40.0
#: How well the usual figures from outside are known: a focal length (relative), a rim's diameter and a length (m).
FOCAL_KNOWN, DIAMETER_KNOWN, LENGTH_KNOWN = 0.01, 0.001, 0.002
#: Positions tried: directions round the car, heights over the ground (m), and (distance m, width of what is in the picture m).
DIRECTIONS, HEIGHTS, FRAMES = 16, (0.4, 1.4, 2.6), ((5.0, 5.0), (3.0, 1.6))
#: A photograph on which fewer known points would be seen cannot be joined to the others.
FEWEST = 7
WAYS = (
    "the front",
    "the front left",
    "the left",
    "the rear left",
    "the rear",
    "the rear right",
    "the right",
    "the front right",
)


@dataclass(frozen=True)
class Pose:
    """Where a photograph would be taken: ``position`` (3,) m and ``rotation`` (3, 3) vehicle to camera axes; focal length and
    picture size in px."""

    position: Array
    rotation: Array
    focal_px: float
    width: int
    height: int


@dataclass(frozen=True)
class Advice:
    """One thing that would help.

    Parameters
    ----------
    words : what to do, in a sentence.
    sd : standard deviation of the number afterwards, SI; ``low``, ``high`` its 95 % interval then.
    gain : part by which the interval narrows, 0 to 1.
    shot, point, fact : what it is about, where it is about one.
    pose, shows : of a photograph.
    """

    kind: Literal["mark", "fact", "camera"]
    words: str
    sd: float
    low: float
    high: float
    gain: float
    shot: str = ""
    point: str = ""
    fact: str = ""
    pose: Pose | None = None
    shows: tuple[str, ...] = ()


@dataclass
class Plan:
    """What is known now of a number, and what would help, the best first. ``needs``: what is said where it is not determined."""

    number: str
    unit: str
    value: float = float("nan")
    sd: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    advice: list[Advice] = field(default_factory=list)
    needs: list[str] = field(default_factory=list)

    def best(self, kind: str) -> Advice | None:
        """The best of one kind."""
        return next((a for a in self.advice if a.kind == kind), None)


def plan(
    solution: Solution,
    of: str | Quantity,
    *,
    name: str = "",
    unit: str = "m",
    kinds: Iterable[str] = ("mark", "fact", "camera"),
    most: int = 4,
    least: float = 0.01,
    linear: Linear | None = None,
) -> Plan:
    """What would narrow a number.

    Parameters
    ----------
    of : a measure's id, or any quantity (then with ``name`` and ``unit``).
    kinds : which kinds of advice to look for.
    most : advice of each kind at most. least : smallest gain worth telling.
    linear : the solution's :class:`Linear`, where one is at hand already.

    Raises
    ------
    UnusableInput : there is no such measure.
    """
    lin = linear or Linear(solution)
    out, row, scope = _now(solution, lin, of, name, unit)
    if row is None:
        return out
    found: list[Advice] = []
    at = _Asked(solution, lin, row, out)
    for kind in kinds:
        if kind not in _KINDS:
            raise UnusableInput(f"there is no kind of advice {kind!r}", fix=f"take some of {', '.join(_KINDS)}")
        got = sorted(_KINDS[kind](at, scope), key=lambda a: -a.gain)
        found += [a for a in _apart(got) if a.gain >= least][:most]
    out.advice = sorted(found, key=lambda a: -a.gain)
    return out


def _now(
    solution: Solution, lin: Linear, of: str | Quantity, name: str, unit: str
) -> tuple[Plan, Array | None, list[str]]:
    """The plan without advice, the quantity's whitened row, and the points that it is of."""
    net = solution.net
    if callable(of):
        many = np.asarray(of(net, solution.drawn.state), float)
        value = float(np.asarray(of(net, solution.fit.state)))
        low, high = np.percentile(many, [2.5, 97.5])
        return Plan(name, unit, value, float(np.std(many)), float(low), float(high)), lin.quantity(of), []
    table = {m.id: m for m in net.document.measures}
    if of not in table:
        raise UnusableInput(
            f"there is no measure {of!r}", fix=f"measures are: {', '.join(list(table)[:8]) or 'none'} …"
        )
    m = table[of]
    if of in solution.refused:
        return Plan(of, unit_of(m), needs=list(solution.refused[of].needs)), None, []
    value, many = solution.values[of]
    low, high = np.percentile(many, [2.5, 97.5])
    scope = [p for p in dict.fromkeys(points_of(m, table)) if p in net._point_index]
    if m.diameter is not None and not scope:
        centre = next((c.centre for c in net.document.circles if c.id == m.diameter), None)
        scope = [centre] if centre is not None and centre in net._point_index else []
    return Plan(of, unit_of(m), value, float(np.std(many)), float(low), float(high)), lin.measure(of), scope


@dataclass
class _Asked:
    """A question: the solution, the row of the number (in units without the common inflation), and what is known now."""

    solution: Solution
    lin: Linear
    row: Array
    now: Plan

    def __post_init__(self) -> None:
        self.a = self.row / self.solution.inflate
        self.var = float(self.a @ self.a)

    def then(self, variance: float) -> dict[str, Any]:
        """Fields of an advice, from the variance that remains (in the row's units)."""
        ratio = float(np.sqrt(max(variance, 0.0) / self.var)) if self.var > 0 else 1.0
        n = self.now
        return {
            "sd": n.sd * ratio,
            "low": n.value - (n.value - n.low) * ratio,
            "high": n.value + (n.high - n.value) * ratio,
            "gain": 1 - ratio,
        }

    def after(self, B: Array, W: Array | None = None) -> float:
        """Variance that remains after observations with whitened rows B (k, Z), weight W (k, k) or 1."""
        B = B / self.solution.inflate
        c = B @ self.a
        M = B @ B.T
        if W is None:
            return self.var - float(c @ np.linalg.solve(np.eye(len(B)) + M, c))
        return self.var - float(c @ np.linalg.solve(np.eye(len(B)) + W @ M, W @ c))


# Marks -------------------------------------------------------------------------------------------------------


def _marks(at: _Asked, scope: list[str]) -> list[Advice]:
    """Every placed point on every solved shot where it is not marked yet and is likely to be seen."""
    sol, net = at.solution, at.solution.net
    st = sol.fit.state
    places = place_points(net, st)
    marked = set(zip(net.mark_shot.tolist(), net.mark_point.tolist(), strict=True))
    sight = Sight(sol)
    sd = usual_sd(sol)
    pairs = []
    for s in range(len(net.shots)):
        xy = picture(sol, s, places)
        inside = np.all((xy >= 0) & (xy < net.size[s]), axis=1)
        for p in np.flatnonzero(inside):
            if (s, int(p)) not in marked and sight.likely(int(p), st.C[s]) and _same_stance(sol, s, int(p)):
                pairs.append((s, int(p), *xy[p]))
    out = []
    for part in np.array_split(np.arange(len(pairs)), max(1, len(pairs) // 400)):
        for (s, p), B in zip(
            ((pairs[k][0], pairs[k][1]) for k in part), _imagined(at, [pairs[k] for k in part], sd), strict=True
        ):
            then = at.then(at.after(B))
            shot, point = net.shots[s], net.points[p]
            out.append(
                Advice(
                    "mark",
                    f"mark {_said(point)} on {shot} as well, if it can be seen there",
                    **then,
                    shot=shot,
                    point=point,
                )
            )
    return out


def _imagined(at: _Asked, pairs: Sequence[tuple[int, int, float, float]], sd: float) -> list[Array]:
    """(2, Z) whitened rows of marks that are not there: (shot, point, x, y) each."""
    if not len(pairs):
        return []
    net = copy.copy(at.solution.net)
    table = np.array(pairs, float)
    net.mark_shot, net.mark_point = table[:, 0].astype(int), table[:, 1].astype(int)
    net.mark_body, net.mark_sign = net.body_of[net.mark_point], net.sign[net.mark_point]
    net.mark_xy, net.mark_sd = table[:, 2:], np.full(len(table), sd)
    r, _behind, Js, Jx = point_marks(net, at.solution.fit.state)
    out: list[Array] = [np.zeros(0)] * len(pairs)
    for q in _split(net, "mark", net.mark_body, r, Js, shot_columns(net, net.mark_shot), Jx):
        Z = at.lin.observations(q)
        for k, which in enumerate(q.which):
            out[which] = Z[k]
    return out


def _same_stance(sol: Solution, s: int, p: int) -> bool:
    """A point belongs to the stances in which it is marked already: in another one a wheel-side thing is elsewhere."""
    net = sol.net
    stances = {int(net.stance_of[k]) for k in net.mark_shot[net.mark_point == p]}
    return not stances or int(net.stance_of[s]) in stances or len(net.stances) == 1


class Sight:
    """From where each point has been seen: the directions of the photographs on which it is marked, and the mirrored ones of its
    twin's. What nobody has seen yet from about a direction is not promised."""

    def __init__(self, solution: Solution) -> None:
        net, st = solution.net, solution.fit.state
        self.places = place_points(net, st)
        self._cos = np.cos(np.radians(SEEN_WITHIN))
        self._seen: list[list[Array]] = [[] for _ in net.points]
        by_body: dict[int, list[int]] = {}
        for i, b in enumerate(net.body_of):
            by_body.setdefault(int(b), []).append(i)
        for a, b, _ in net.soft:
            by_body[a] = by_body[b] = [*by_body.get(a, []), *by_body.get(b, [])]
        for s, p in zip(net.mark_shot, net.mark_point, strict=True):
            d = st.C[s] - self.places[p]
            d = d / np.linalg.norm(d)
            self._seen[p].append(d)
            for q in by_body.get(int(net.body_of[p]), []):
                if q != p and net.points[q].partition("@")[2] == net.points[p].partition("@")[2]:
                    self._seen[q].append(d * [1.0, -1.0, 1.0])

    def likely(self, p: int, eye: Array) -> bool:
        """Whether point number p is likely to be seen from a place (3,)."""
        if not self._seen[p]:
            return False
        d = eye - self.places[p]
        return bool((np.array(self._seen[p]) @ (d / np.linalg.norm(d))).max() > self._cos)


# Facts -------------------------------------------------------------------------------------------------------


def _facts(at: _Asked, scope: list[str]) -> list[Advice]:
    """Figures from outside."""
    net, lin = at.solution.net, at.lin
    out = []

    def told(words: str, row: Array, sd: float, fact: str = "") -> None:
        out.append(Advice("fact", words, **at.then(at.after(row[None] / sd)), fact=fact))

    def unit(column: int) -> Array:
        d = np.zeros((1, net.columns))
        d[0, column] = 1.0
        return lin.whiten(d, {})[0]

    for g, key in enumerate(net.cameras):
        if net.logf_sd[g] > 0.05:
            what = key.partition(":")[2]
            row = unit(net.at_camera + 2 * g)
            told(f"the focal length of {what}, known to 1 % (from the file, the lens, or its maker)", row, FOCAL_KNOWN)
    known = set(net.diameter_radius.tolist())
    for q in sorted(set(net.radius_of.tolist()) - known):
        names = [net.circles[m] for m in np.flatnonzero(net.radius_of == q)]
        told(f"the diameter of {_said(names[0])}, known to 1 mm", unit(net.at_radius + q) * 2, DIAMETER_KNOWN)
    for a, b in _centre_pairs(at.solution):
        told(f"the distance of {_said(a)} and {_said(b)}, known to 2 mm", _length(lin, a, b), LENGTH_KNOWN)
    for q, Z in lin._observed:
        if q.kind in ("distance", "diameter", "position"):
            ids = {"distance": net.distance_id, "diameter": net.diameter_id, "position": net.position_id}[q.kind]
            for k, i in enumerate(q.which):
                if np.any(Z[k]):
                    fact = net.document.facts[ids[i]]
                    # half the standard deviation is the same as three more such facts
                    then = at.then(at.after(Z[k] * np.sqrt(3.0)))
                    words = f"the fact {_said(fact.id)} known twice as well (now ± {1.96 * fact.sd:.2g} {fact.unit})"
                    out.append(Advice("fact", words, **then, fact=fact.id))
    return out


def _length(lin: Linear, a: str, b: str) -> Array:
    net = lin.solution.net
    P = place_points(net, lin.solution.fit.state)
    d = P[net.point(b)] - P[net.point(a)]
    return (d / np.linalg.norm(d)) @ (lin.point(b) - lin.point(a))


def _centre_pairs(sol: Solution) -> list[tuple[str, str]]:
    """Pairs of circles' centres that no fact ties yet, at least half a metre apart: wheelbase, tracks."""
    net = sol.net
    centres = [c.centre for c in net.document.circles if c.centre in net._point_index and "@" not in (c.centre or "")]
    names = list(dict.fromkeys(c for c in centres if c))
    P = place_points(net, sol.fit.state)
    tied = {frozenset((net.points[a], net.points[b])) for a, b in zip(net.distance_a, net.distance_b, strict=True)}
    out = []
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            if frozenset((a, b)) not in tied and np.linalg.norm(P[net.point(a)] - P[net.point(b)]) > 0.5:
                out.append((a, b))
    return out[:12]


# Photographs -------------------------------------------------------------------------------------------------


def _cameras(at: _Asked, scope: list[str]) -> list[Advice]:
    """Positions round the car, at a few heights, as a whole picture and as a detail of what is asked about."""
    sol = at.solution
    net = sol.net
    sight = Sight(sol)
    base = [i for i, p in enumerate(net.points) if "@" not in p]
    if len(base) < FEWEST:
        return []
    rows = at.lin.places(net.body_of[base], net.sign[base])  # (n, 3, Z)
    P = sight.places[base]
    middle, floor = np.median(P, axis=0), _floor(sol)
    aim = (
        P[[base.index(net.point(p)) for p in scope if net.point(p) in base]].mean(0)
        if _any(scope, base, net)
        else middle
    )
    width, height = (int(v) for v in np.median(net.size, axis=0))
    sd = usual_sd(sol)
    out = []
    for distance, field_width in FRAMES:
        target = middle if field_width > 2 else aim
        f = width * distance / field_width
        for k in range(DIRECTIONS):
            az = 2 * np.pi * k / DIRECTIONS
            for h in HEIGHTS:
                C = target + distance * np.array([np.cos(az), np.sin(az), 0.0])
                C[2] = floor + h
                pose = Pose(C, look_at(C, target), f, width, height)
                got = photograph(at, pose, base, P, rows, sight, sd)
                if got is None:
                    continue
                variance, shown = got
                names = tuple(net.points[base[i]] for i in shown)
                detail = "" if field_width > 2 else f", close in on {_shared(scope)}"
                words = (
                    f"a photograph {position_in_words(C, target, floor)}{detail} "
                    f"(some {len(names)} of the marked points would show)"
                )
                out.append(Advice("camera", words, **at.then(variance), pose=pose, shows=names))
    return out


def photograph(
    at: _Asked, pose: Pose, numbers: Sequence[int], P: Array, rows: Array, sight: Sight, sd: float
) -> tuple[float, np.ndarray] | None:
    """Variance that remains after a photograph, and which of the points (n) it would show; None where it could not be joined."""
    pp = np.array([(pose.width - 1) / 2, (pose.height - 1) / 2])
    xy = project(P, pose.rotation, pose.position, pose.focal_px, 0.0, pp)
    with np.errstate(invalid="ignore"):
        inside = np.all((xy >= 0) & (xy < [pose.width, pose.height]), axis=1)
    shown = np.array([i for i in map(int, np.flatnonzero(inside)) if sight.likely(numbers[i], pose.position)], int)
    if len(shown) < FEWEST:
        return None
    Js, Jx = _new_camera(pose, P[shown])
    B = np.einsum("nij,njz->niz", Jx, rows[shown]).reshape(2 * len(shown), -1) / sd
    J = Js.reshape(2 * len(shown), 10) / sd
    prior = np.zeros(10)
    prior[:6] = 1e-9
    prior[6:8] = 1 / (PRINCIPAL_SD * pose.width) ** 2
    prior[8], prior[9] = 1 / FREE_LOGF_SD**2, 1 / KAPPA_SD**2
    scale = np.sqrt(np.maximum(np.sum(J * J, axis=0) + prior, 1e-30))
    A = (J.T @ J + np.diag(prior)) / scale / scale[:, None] + 1e-12 * np.eye(10)
    W = np.eye(len(J)) - (J / scale) @ np.linalg.solve(A, (J / scale).T)
    return at.after(B, W), shown


def _new_camera(pose: Pose, X: Array) -> tuple[Array, Array]:
    """Derivatives (n, 2, 10) by the camera's own unknowns and (n, 2, 3) by the points' places, px."""
    Xc = camera_frame(X, pose.rotation, pose.position)
    rho = np.hypot(pose.width, pose.height) / 2
    f = np.full(len(X), pose.focal_px)
    _, dXc, dlogf, dkappa = image_with_derivatives(Xc, f, np.zeros(len(X)), np.full(len(X), rho), np.zeros(2))
    J = np.empty((len(X), 2, 10))
    J[..., 0:3] = cross(Xc[..., None, :], dXc)
    Jx = dXc @ pose.rotation
    J[..., 3:6] = -Jx
    J[..., 6:8] = np.eye(2)
    J[..., 8], J[..., 9] = dlogf, dkappa
    return J, Jx


def position_in_words(C: Array, target: Array, floor: float) -> str:
    """``from the front left, low, from about 5 m``: the way from the target to the camera; x is ahead and y to the left."""
    d = np.asarray(C, float) - target
    way = WAYS[int(np.round(np.arctan2(d[1], d[0]) / (np.pi / 4))) % 8]
    up = float(C[2] - floor)
    high = "low" if up < 0.8 else "at eye height" if up < 2.0 else "from above"
    far = float(np.linalg.norm(d))
    return f"from {way}, {high}, from about {far:.0f} m" if far >= 2 else f"from {way}, {high}, from about {far:.1f} m"


# Small things ------------------------------------------------------------------------------------------------


def picture(sol: Solution, s: int, X: Array) -> Array:
    """(n, 2) pixels of places (n, 3) on shot number s by the solution; NaN behind the camera."""
    net, st = sol.net, sol.fit.state
    g = net.camera_of[s]
    f = float(np.exp(st.logf[g]))
    with np.errstate(invalid="ignore"):
        return project(X, st.R[s], st.C[s], f, st.kappa[g] * (f / net.rho[g]) ** 2, st.principal[s])


def usual_sd(sol: Solution) -> float:
    """The middle standard deviation of the marks, px."""
    return float(np.median(sol.net.mark_sd)) if len(sol.net.mark_sd) else 2.0


def _floor(sol: Solution) -> float:
    """Height of the ground, m: known, or that of the lowest point."""
    net = sol.net
    if net.ground_bodies or len(net.position_sd):
        return 0.0
    return float(place_points(net, sol.fit.state)[:, 2].min())


def _any(scope: list[str], base: list[int], net) -> bool:
    return any(net.point(p) in base for p in scope)


def _said(id: str) -> str:
    name, _, stance = id.partition("@")
    return " ".join(name.replace(".", " ").replace("_", " ").split()) + (f" ({stance})" if stance else "")


def _shared(scope: list[str]) -> str:
    """What the points of a measure have in common: ``left front lower wishbone``."""
    words = [p.partition("@")[0].split(".") for p in scope]
    n = 0
    while words and all(len(w) > n and w[n] == words[0][n] for w in words):
        n += 1
    return _said(".".join(words[0][:n])) if n else "what is asked about"


def _apart(advice: list[Advice]) -> list[Advice]:
    """The same words, or nearly the same place, once."""
    out: list[Advice] = []
    for a in advice:
        if any(a.words == b.words or (a.pose and b.pose and _near(a.pose, b.pose)) for b in out):
            continue
        out.append(a)
    return out


def _near(a: Pose, b: Pose) -> bool:
    d, e = a.rotation[2], b.rotation[2]
    return bool(d @ e > np.cos(np.radians(25))) and abs(np.log(a.focal_px / b.focal_px)) < 0.2


_KINDS = {"mark": _marks, "fact": _facts, "camera": _cameras}

__all__ = ["Advice", "Plan", "Pose", "Sight", "plan", "position_in_words"]
