"""Claims and forecasts as words and pages can show them; taken from the claims floor."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from longlens.publish.basis import Basis, Shown


@dataclass(frozen=True)
class HeldClaim:
    """One claim: its words, how strongly it is held, what speaks for it."""

    id: str
    text: str
    strength: str
    basis: str


@dataclass(frozen=True)
class HeldForecast:
    """One forecast: its words, the chance that was given, what happened, its score."""

    id: str
    text: str
    chance: str
    outcome: str
    score: str


@dataclass
class Held:
    """All that is claimed and was forecast; ``score`` sums the forecasts up."""

    claims: list[HeldClaim] = field(default_factory=list)
    forecasts: list[HeldForecast] = field(default_factory=list)
    score: str = ""


def held_of(basis: Basis) -> Held | None:
    """Claims and forecasts of a dossier as they stand now, None where there are none. Kept under the state of the journal."""
    import json
    from importlib.util import find_spec

    if find_spec("longlens.claims.summary") is None:
        return None
    from longlens.claims.records import Forecast, Question
    from longlens.claims.summary import summary
    from longlens.dossier.reading import canonical

    dossier = basis.dossier
    if not dossier.count(Question) and not dossier.count(Forecast):
        return None
    key = dossier.chain_head
    body = dossier.derived("claims said", key)
    if body is None:
        found = summary(dossier)
        plain = {
            "claims": [[c.id, c.text, c.strength, c.basis] for c in found.claims],
            "forecasts": [[f.id, f.text, f.chance, f.outcome, f.score] for f in found.forecasts],
            "score": found.score,
        }
        body = canonical(plain).encode()
        dossier.keep_derived("claims said", key, body, newest=8)
    said = json.loads(body)
    return Held([HeldClaim(*c) for c in said["claims"]], [HeldForecast(*f) for f in said["forecasts"]], said["score"])


def held(basis: Basis, kind: str, id: str) -> Shown:
    """What a claim or a forecast says now. Raises LostBasis where there is none, or the evidence refutes all its answers."""
    from longlens.publish.basis import LostBasis, Shown

    found = held_of(basis) or Held()
    if kind == "claim":
        for c in found.claims:
            if c.id == id:
                if not c.strength:
                    raise LostBasis(
                        f"the evidence speaks against every answer to {id}", fix="look at the question again"
                    )
                text = f"{c.text} ({c.strength})"
                return Shown(f"claim:{id}", id, text, text, "weighed", trail=(c.basis,))
    for f in found.forecasts if kind == "forecast" else ():
        if f.id == id:
            text = f"{f.text} (given {f.chance}; {f.outcome})"
            return Shown(f"forecast:{id}", id, text, text, "forecast", trail=(f.score,) if f.score else ())
    raise LostBasis(f"there is no {kind} {id}", fix="name another, or take it out of the text")
