"""The linkage couples the stances in which a wheel was photographed: one joint solution, narrower than the separate
ones.

The survey gives the chassis-side points once and the wheel-side points anew in each stance (other ride height, other
steer). Between stances rods keep their lengths and the upright its shape; each is one more observation. Here they are
applied to the survey's joint draws, and the gain is told. For a survey that takes observations of distances itself,
:func:`equal_distances` gives them as a list.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from longlens.dossier.exchange import EqualLength, ExchangeDocument
from longlens.systems.suspension import names
from longlens.systems.suspension.conditioning import Conditioned, Knowledge, Places, condition
from longlens.systems.suspension.corner import ALIASES, LINKS, REQUIRED, Corner
from longlens.systems.suspension.vectors import Array

#: How far a rod's length may differ between photographs (temperature, load, adjustment between sessions), m.
RIGID = 5e-5

#: The same where the survey's own adjustment holds it: joints and bushes under load of another ride height give, m.
RIGID_IN_SURVEY = 2e-4


@dataclass(frozen=True)
class EqualDistances:
    """Two pairs of points whose distances are equal within ``sd`` (m), and why. Points are (name, stance); the stance
    "" is that of points fixed to the chassis."""

    one: tuple[tuple[str, str], tuple[str, str]]
    other: tuple[tuple[str, str], tuple[str, str]]
    sd: float
    why: str


@dataclass(frozen=True)
class Joined:
    """The stances solved together.

    ``points``: stance → name → (N, 3) draws; "" holds the chassis side. ``narrower``: (stance, name) → mean standard
    deviation before over after: 1.3 means 1.3 times narrower. ``tests`` as in :class:`Conditioned`.
    """

    points: dict[str, dict[str, Array]]
    narrower: dict[tuple[str, str], float]
    tests: dict[str, float]

    def disagreeing(self, limit: float = 4.0) -> list[tuple[str, float]]:
        """What the marks contradict, worst first: what should be equal, and by how many standard deviations it is
        not."""
        worst = sorted(self.tests.items(), key=lambda t: -t[1])
        return [(k.partition(" #")[0], t) for k, t in worst if t > limit]

    def gain(self) -> float:
        """How many times narrower the wheel-side points became, on average; 1 with one stance."""
        moving = [g for k, g in self.narrower.items() if k[0]]
        return float(np.exp(np.mean(np.log(moving)))) if moving else 1.0

    def summary(self) -> str:
        """How much the coupling gained, in one sentence."""
        moving = {k: g for k, g in self.narrower.items() if k[0]}
        if not moving:
            return "there is only one stance: nothing is coupled"
        best = max(moving, key=lambda k: moving[k])
        mean = float(np.exp(np.mean(np.log(list(moving.values())))))
        count = len({k[0] for k in moving})
        return (
            f"solving {count} stances together makes the wheel-side points {mean:.2f} times narrower on average, "
            f"{best[1]} in stance {best[0]} most ({moving[best]:.2f} times)"
        )


def split_stances(points: Mapping[str, Array]) -> tuple[dict[str, Array], dict[str, dict[str, Array]]]:
    """Points of a corner, those of other stances named ``point@stance``, as chassis side and stances for :func:`join`.

    Without a stance in its name a point that moves belongs to ``static``; one that has no other stance and is a rack
    end (a rear axle's track rod) counts as fixed.
    """
    plain = {k: p for k, p in points.items() if "@" not in k}
    stances: dict[str, dict[str, Array]] = {}
    for k, p in points.items():
        name, at, stance = k.partition("@")
        if at:
            stances.setdefault(stance, {})[ALIASES.get(name, name)] = p
    again = {n for ps in stances.values() for n in ps}
    plain = {ALIASES.get(k, k): p for k, p in plain.items()}
    fixed = {k: p for k, p in plain.items() if k not in again and not _moves(k)}
    static = {k: p for k, p in plain.items() if k not in fixed}
    return fixed, ({"static": static} if static else {}) | stances


def _moves(name: str) -> bool:
    return name in MOVING or (name.endswith(".outer") and name != "track_rod.inner")


#: Points that move with the wheel and do not end in ``outer``.
MOVING = ("wheel.centre", "rim_centre", "strut.lower", "pushrod.inner", "bar_link.inner")


def equal_distances(
    layout: str, names: Mapping[str, Sequence[str]], mounts: Mapping[str, str] | None = None, sd: float = RIGID
) -> list[EqualDistances]:
    """Which distances are the same in all stances.

    Parameters
    ----------
    names : stance → names of the points that were seen in it and move; "" → those fixed to the chassis.
    mounts : what carries the pushrod, spring or bar link, as for :class:`Corner`.

    Rods run from the chassis to the upright, pushrods from wishbone or upright to the rocker; upright, wishbones and
    rocker are rigid. Each later stance is set equal to the first in which the same two points were seen.
    """
    pairs = _rigid_pairs(layout, {n for ns in names.values() for n in ns}, dict(mounts or {}))
    chassis = set(names.get("", ()))
    out = []
    for (a, b), why in pairs.items():
        seen = []
        for stance, ns in names.items():
            if stance == "":
                continue
            at = tuple((p, "") if p in chassis else (p, stance) for p in (a, b))
            if all(s == "" or p in ns for p, s in at) and any(s for _, s in at):
                seen.append(at)
        out += [EqualDistances(seen[0], other, sd, why) for other in seen[1:]]  # type: ignore[arg-type]
    return out


def _rigid_pairs(layout: str, there: set[str], mounts: dict[str, str]) -> dict[tuple[str, str], str]:
    dummy = Corner(layout, {n: np.zeros(3) for n in there}, np.array([0.0, 1.0, 0.0]), np.array(0.3), mounts)  # type: ignore[arg-type]
    there = set(dummy.points)
    rods = [(a, b, f"{n} keeps its length") for n, a, b in LINKS[layout]]
    rods.append(("pushrod.inner", "pushrod.outer", "pushrod keeps its length"))
    rods.append(("bar_link.inner", "bar_link.outer", "bar link keeps its length"))
    pairs = {(a, b): why for a, b, why in rods if a in there and b in there}
    bodies: dict[str, list[str]] = {}
    for n in sorted(there):
        bodies.setdefault(dummy.body_of(n), []).append(n)
    # A ball joint belongs to both bodies it joins; a hinged body also keeps its distance from its own pivots.
    if layout in ("double_wishbone", "strut"):
        bodies.setdefault("upright", []).extend(
            n for n in ("upper_wishbone.outer", "lower_wishbone.outer") if n in there
        )
    for body, pivots in (
        ("upper_wishbone", ("upper_wishbone.front_inner", "upper_wishbone.rear_inner")),
        ("lower_wishbone", ("lower_wishbone.front_inner", "lower_wishbone.rear_inner")),
        ("rocker", ("rocker.pivot", "rocker.axis")),
    ):
        bodies.setdefault(body, []).extend(n for n in pivots if n in there)
    for body, members in bodies.items():
        if body in ("chassis", "rack"):
            continue
        for a, b in itertools.combinations(dict.fromkeys(members), 2):
            if (b, a) not in pairs:
                pairs.setdefault((a, b), f"{body.replace('_', ' ')} is rigid")
    return pairs


def join(
    chassis: Mapping[str, Array],
    stances: Mapping[str, Mapping[str, Array]],
    layout: str,
    mounts: Mapping[str, str] | None = None,
    *,
    sd: float = RIGID,
    seed: int = 0,
) -> Joined:
    """Condition the separately solved stances on equal rod lengths and rigid bodies.

    Parameters
    ----------
    chassis : name → (N, 3) joint draws, m; stances : stance → name → (N, 3), draw k of all from one survey.

    Returns
    -------
    Draws narrowed, and by how much for each point.
    """
    chassis = {ALIASES.get(k, k): np.asarray(p, float) for k, p in chassis.items()}
    moving = {s: {ALIASES.get(k, k): np.asarray(p, float) for k, p in ps.items()} for s, ps in stances.items()}
    keys = [("", n) for n in chassis] + [(s, n) for s, ps in moving.items() for n in ps]
    places = Places(tuple(f"{s}:{n}" for s, n in keys))
    state = places.state({f"{s}:{n}": chassis[n] if s == "" else moving[s][n] for s, n in keys})
    names = {"": list(chassis), **{s: list(ps) for s, ps in moving.items()}}
    known = []
    for k, e in enumerate(equal_distances(layout, names, mounts, sd)):
        one, other = (tuple(f"{s}:{n}" for n, s in pair) for pair in (e.one, e.other))
        label = f"{e.why} ({e.one[0][0]} to {e.one[1][0]}, {e.one[1][1] or e.one[0][1]} and {_stance(e.other)}) #{k}"
        known.append(Knowledge(label, places.difference(one, other), 0.0, e.sd, (e.one[0][0], e.one[1][0])))  # type: ignore[arg-type]
    done = condition(state, known, seed=seed) if known else Conditioned(state, {}, 0.0)
    before, after = places.points(state), places.points(done.draws)
    out: dict[str, dict[str, Array]] = {s: {} for s in ("", *moving)}
    gain = {}
    for s, n in keys:
        out[s][n] = after[f"{s}:{n}"]
        was, now = (np.sqrt(np.mean(np.var(p[f"{s}:{n}"], axis=0))) for p in (before, after))
        gain[s, n] = float(was / now) if now > 0 else 1.0
    return Joined(out, gain, done.tests)


def _stance(pair: tuple[tuple[str, str], tuple[str, str]]) -> str:
    return pair[1][1] or pair[0][1]


def couple(document: ExchangeDocument, sd: float = RIGID_IN_SURVEY) -> ExchangeDocument:
    """The document with the equal lengths that its points' names tell, for the survey's own adjustment.

    Points of another stance are named ``point@stance`` (``left.front.track_rod.outer@bump``). The layout is the
    likeliest for the names; which body a push- or pullrod or a spring sits on is not known before the solution, so lengths
    that hang on that are left to :func:`join`. What the document says itself stays. Documents with one stance, or with
    names of another kind, come back unchanged.
    """
    corners: dict[str, dict[str, dict[str, str]]] = {}  # corner → stance → point → id
    for pid in [p.id for p in document.points]:
        side, end, point = names.split(pid.partition("@")[0])
        if side and end:
            stance = pid.partition("@")[2]
            corners.setdefault(f"{side}.{end}", {}).setdefault(stance, {})[point] = pid
    new = []
    for corner, by_stance in corners.items():
        if len(by_stance) > 1:
            new += _equal_in(by_stance, sd, steered=corner.endswith("front"))
    if not new:
        return document
    kept = {frozenset((frozenset(e.one), frozenset(e.other))) for e in document.equal_lengths}
    new = [e for e in new if frozenset((frozenset(e.one), frozenset(e.other))) not in kept]
    return document.model_copy(update={"equal_lengths": [*document.equal_lengths, *new]})


def _equal_in(by_stance: Mapping[str, Mapping[str, str]], sd: float, steered: bool) -> list[EqualLength]:
    plain = by_stance.get("", {})
    again = {p for s, ps in by_stance.items() if s for p in ps}
    named = {"static": [p for p in plain if p in again or _moves(p)]}
    named |= {s: list(ps) for s, ps in by_stance.items() if s}
    # A front rack seen in one stance only may have moved since: its rod's length then says nothing.
    free = {"track_rod.inner"} if steered else set()
    named[""] = [p for p in plain if p not in named["static"] and p not in free]
    there = {p for ps in named.values() for p in ps} | set(named[""])
    whole = (k for k, need in REQUIRED.items() if set(need) - {"wheel.centre"} - free <= there)
    layout = next(whole, None) or _layout_of(there)
    if layout is None:
        return []
    out = []
    for e in equal_distances(layout, named, sd=sd):
        ends = {p for pair in (e.one, e.other) for p, _ in pair}
        if ends & UNSURE:
            continue
        one, other = (tuple(by_stance["" if s == "static" else s][p] for p, s in pair) for pair in (e.one, e.other))
        out.append(EqualLength(one=one, other=other, sd=sd, why=e.why))
    return out


def _layout_of(there: set[str]) -> str | None:
    """A layout some of whose parts are named, when no layout is whole."""
    parts = names.parts_of(there)
    counts = {k: sum(t in parts for t in names.TELLING[k]) for k in LINKS}
    best = max(counts, key=lambda k: counts[k])
    return best if counts[best] else None


#: Points whose body is found from their places, not from their names.
UNSURE = {"pushrod.outer", "spring.outer", "damper.outer", "bar_link.outer"}
