"""What would settle a question: which observation tells most, and from where the photograph for it would be taken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from longlens.claims import bayes
from longlens.claims.weigh import Weighed

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

#: Where a photograph would be taken so that these points show: a sentence each, the best first.
Standpoints = Callable[[Sequence[str]], list[str]]


@dataclass(frozen=True)
class Candidate:
    """One observation not made yet: bits expected, chance that another answer leads after it, and where to stand for it.

    ``then``: what could be seen, how probable that is now, and what the leader's probability would be.
    """

    look: str
    text: str
    bits: float
    turns: float
    then: list[tuple[str, float, dict[str, float]]]
    stand: list[str] = field(default_factory=list)
    at: tuple[str, ...] = ()
    why: str = ""

    def as_json(self) -> dict[str, Any]:
        return {
            "id": self.look, "text": self.text, "bits": self.bits, "turns": self.turns, "stand": self.stand,
            "at": list(self.at), "why": self.why,
            "then": [{"text": t, "probability": p, "belief": b} for t, p, b in self.then],
        }  # fmt: skip


def candidates(found: Weighed, standpoints: Standpoints | None = None) -> list[Candidate]:
    """The question's looks, the most telling first. Information is counted from the belief now (Lindley 1956)."""
    q = found.question
    belief = np.array([found.belief[a][0] for a in q.ids])
    if found.refuted:
        belief = np.array([a.prior for a in q.alternatives])
    belief = belief / belief.sum()
    out = []
    for look in q.looks:
        chances = np.array([[s.chances[a] for a in q.ids] for s in look.sights]).reshape(-1, len(q.ids))
        if not len(chances):
            continue
        chances = chances / chances.sum(axis=0)
        joint = chances * belief
        seen = joint.sum(axis=1)
        then = [
            (s.text, float(seen[k]), dict(zip(q.ids, map(float, joint[k] / seen[k]), strict=True)))
            for k, s in enumerate(look.sights)
            if seen[k] > 0
        ]
        stand = standpoints(look.at) if standpoints is not None and look.at else []
        out.append(
            Candidate(
                look.id, look.text, bayes.expected_information(belief, chances), bayes.chance_of_turning(belief, chances),
                then, stand, tuple(look.at), look.why,
            )
        )  # fmt: skip
    return sorted(out, key=lambda c: -c.bits)


def list_for_photographer(found: Weighed, of: Sequence[Candidate]) -> str:
    """Plain text to hand to a photographer: what to take, from where, and what to look for."""
    lines = [f"Photographs wanted: {found.question.text}", ""]
    for k, c in enumerate(of, 1):
        lines.append(f"{k}. {c.text}")
        lines += [f"   Stand: {s}" for s in c.stand[:2]]
        if c.at:
            lines.append(f"   Must show: {', '.join(_words(p) for p in c.at)}")
        lines += [f"   If it shows {t}: note it" for t, _, _ in c.then]
        lines.append(
            f"   Worth {c.bits:.2f} bits of the {bayes.entropy([found.belief[a][0] for a in found.question.ids]):.2f} still open"
        )
        lines.append("")
    lines.append("Keep to where the public may stand; do not touch the car; ask before photographing people.")
    return "\n".join(lines)


def standpoints_of(solution: Solution, most: int = 2) -> Standpoints:
    """Standpoints by the survey's planner: positions from which the points would show, those that place them best first.

    Directions from which nothing near was ever seen cannot be promised (see :mod:`longlens.survey.planner`, limits).
    """
    from longlens.survey.linear import Linear
    from longlens.survey.planner import plan

    linear = Linear(solution)

    def find(points: Sequence[str]) -> list[str]:
        placed = [solution.net.points.index(p) for p in points if p in solution.net.points]
        if not placed:
            return []
        out: list[tuple[float, str]] = []
        for axis in range(3):
            made = plan(
                solution,
                _middle(placed, axis),
                name="place",
                kinds=("camera",),
                most=4 * most,
                least=0.0,
                linear=linear,
            )
            out += [(a.gain, a.words) for a in made.advice if set(points) & set(a.shows)]
        return list(dict.fromkeys(w for _, w in sorted(out, reverse=True)))[:most]

    return find


def _middle(numbers: list[int], axis: int) -> Callable[[Any, Any], Any]:
    """One coordinate of the middle of some points, as a quantity of the survey."""
    from longlens.survey.network import place_points

    def of(net: Any, state: Any) -> Any:
        return place_points(net, state)[..., numbers, axis].mean(axis=-1)

    return of


def _words(point: str) -> str:
    return point.replace("_", " ").replace(".", " ")
