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
    """Claims and forecasts of a dossier, None where there are none."""
    return None


def held(basis: Basis, kind: str, id: str) -> Shown:
    """What a claim or a forecast says now. Raises LostBasis."""
    from longlens.publish.basis import LostBasis

    raise LostBasis(f"there is no {kind} {id}", fix="name another, or take it out of the text")
