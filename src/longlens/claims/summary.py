"""Claims and forecasts in the few words that a brief prints. For the publishing floor."""

from __future__ import annotations

from dataclasses import dataclass, field

from longlens.claims.forecasts import all_of, record
from longlens.claims.sources import Sources
from longlens.claims.weigh import Weighed, percent, weigh_all
from longlens.dossier.reading import Reader


@dataclass(frozen=True)
class ClaimLine:
    """One question answered: ``text`` what leads, ``strength`` in the guideline's words, ``basis`` what speaks for it."""

    id: str
    text: str
    strength: str
    basis: str
    sentence: str


@dataclass(frozen=True)
class ForecastLine:
    """One forecast: what was said, what came, how it scored."""

    id: str
    text: str
    chance: str
    outcome: str
    score: str


@dataclass
class Summary:
    """All claims and forecasts; ``score`` sums the forecasts up."""

    claims: list[ClaimLine] = field(default_factory=list)
    forecasts: list[ForecastLine] = field(default_factory=list)
    score: str = ""


def summary(reader: Reader, sources: Sources | None = None) -> Summary:
    """What a dossier claims and has forecast, now."""
    claims = [claim_line(w) for w in weigh_all(reader, sources)]
    seen = all_of(reader)
    lines = [
        ForecastLine(
            s.forecast.id, s.forecast.text, s.given, s.came, ", ".join(f"{k} {v:.3g}" for k, v in s.score.items())
        )
        for s in seen
    ]
    return Summary(claims, lines, record(seen).sentence() if seen else "")


def claim_line(w: Weighed) -> ClaimLine:
    """A weighed question as one line."""
    texts = {i.evidence.id: i.evidence.text for i in w.items}
    top = sorted((g for g in w.groups if g.contribution > 0.05), key=lambda g: -g.contribution)[:3]
    basis = "; ".join(texts[g.speaks] for g in top) or "the prior alone"
    strength = "" if w.refuted else f"{w.strength}; probability {percent(w.belief[w.lead.id])}"
    return ClaimLine(w.question.id, f"{w.question.text} {w.lead.text}", strength, basis, w.sentence())
