"""What an edition keeps of numbers and claims: the survey's answers and every question as it was weighed, with the figures
that it rested on.

What was published stays readable without solving or weighing anything again, and whatever a later version would make of the same
records.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from longlens.claims.records import Question
from longlens.claims.sources import Sources
from longlens.claims.weigh import Figure, Weighed, weigh_in
from longlens.dossier.reading import Reader
from longlens.errors import LonglensError
from longlens.numbers.number import DRAWS

Progress = Callable[[str, float], None]
#: A probability with the ends of its range.
Chance = tuple[float, float, float]


@dataclass(frozen=True)
class Claim:
    """A weighed question as it was: ``chances`` by alternative, its words in ``names``; ``rests``: the records, ``figures``: the
    numbers that its evidence took.

    An edition of an earlier version may have kept neither chances nor figures.
    """

    text: str
    sentence: str
    leads: str
    strength: str
    rests: frozenset[str]
    names: Mapping[str, str] = field(default_factory=dict)
    chances: Mapping[str, Chance] = field(default_factory=dict)
    figures: Mapping[str, Figure] = field(default_factory=dict)

    @classmethod
    def of(cls, w: Weighed) -> Claim:
        from longlens.claims.verbal import grade

        strength = "refuted" if w.refuted else grade(max(w.support[0], 1.0)).words
        records = {r for i in w.items for r in (*i.basis.records, *i.lost)} | {f"question:{w.question.id}"}
        records |= {f"evidence:{i.evidence.id}" for i in w.items}
        return cls(
            w.question.text,
            w.sentence(),
            w.lead.id,
            strength,
            frozenset(records),
            {a.id: a.text for a in w.question.alternatives},
            {id: p for id, p in w.belief.items() if all(map(math.isfinite, p))},
            {ref: f for i in w.items for ref, f in i.figures.items() if all(map(math.isfinite, f[:3]))},
        )

    @classmethod
    def kept(cls, data: Any) -> Claim | None:
        """From an edition's contents; None where they are not what :meth:`as_json` writes."""
        try:
            text, sentence, leads, strength = (str(data[n]) for n in ("text", "sentence", "leads", "strength"))
            rests = frozenset(map(str, data["rests"]))
            names = {str(k): str(v["text"]) for k, v in (data.get("alternatives") or {}).items()}
            chances = {str(k): _three(v) for k, v in (data.get("alternatives") or {}).items() if "probability" in v}
            figures = {str(k): (*_three(v, "value"), str(v["unit"])) for k, v in (data.get("numbers") or {}).items()}
        except (KeyError, TypeError, ValueError, AttributeError):
            return None
        return cls(text, sentence, leads, strength, rests, names, chances, figures)

    def as_json(self) -> dict[str, Any]:
        chances = {k: dict(zip(("probability", "low95", "high95"), p, strict=True)) for k, p in self.chances.items()}
        return {
            "text": self.text,
            "sentence": self.sentence,
            "leads": self.leads,
            "strength": self.strength,
            "alternatives": {k: {"text": words} | chances.get(k, {}) for k, words in self.names.items()},
            "numbers": {
                ref: {"value": value, "low95": low, "high95": high, "unit": unit}
                for ref, (value, low, high, unit) in self.figures.items()
            },
            "rests": sorted(self.rests),
        }


def _three(data: Mapping[str, Any], name: str = "probability") -> Chance:
    value, low, high = (float(data[n]) for n in (name, "low95", "high95"))
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError("no number with its interval")
    return value, low, high


def contents_of(reader: Reader, progress: Progress | None = None) -> tuple[dict[str, Any], list[str]]:
    """What an edition of a dossier as it stands keeps, and remarks on what could not be had.

    ``{"survey": stage → exchange answer, "claims": question → Claim.as_json()}``; stage "" for shots of none. What was not
    surveyed yet is surveyed.
    """
    out: dict[str, Any] = {}
    survey, remarks = _answers(reader, progress)
    claims, more = claims_to_keep(reader)
    if survey:
        out["survey"] = survey
    if claims:
        out["claims"] = claims
    return out, remarks + more


def _answers(reader: Reader, progress: Progress | None) -> tuple[dict[str, Any], list[str]]:
    from longlens.dossier.to_exchange import stages_with_marks, to_exchange
    from longlens.systems.survey_numbers import solution_of

    out: dict[str, Any] = {}
    remarks = []
    for stage in stages_with_marks(reader):
        try:
            document = to_exchange(reader, stage=stage)
            out[stage or ""] = solution_of(document, DRAWS, progress).answer()
        except LonglensError as e:
            remarks.append(f"{stage or 'shots of no stage'}: no numbers from the photographs: {e}")
    return out, remarks


def claims_to_keep(reader: Reader) -> tuple[dict[str, Any], list[str]]:
    """Question → what an edition keeps of it, and remarks on questions that cannot be weighed."""
    out: dict[str, Any] = {}
    remarks = []
    made: dict[str | None, Sources] = {}
    for q in reader.all(Question):
        try:
            sources = made.setdefault(q.stage, Sources(reader, q.stage))
            out[q.id] = Claim.of(weigh_in(reader, q, sources)).as_json()
        except LonglensError as e:
            remarks.append(f"the claim on {q.text!r} is not kept: {e}")
    return out, remarks


def claimed(reader: Reader, kept: Mapping[str, Any]) -> dict[str, Claim]:
    """Every question of a state: as its edition kept it, else weighed now."""
    out = {}
    made: dict[str | None, Sources] = {}
    for q in reader.all(Question):
        was = Claim.kept(kept.get(q.id))
        if was is None:
            was = Claim.of(weigh_in(reader, q, made.setdefault(q.stage, Sources(reader, q.stage))))
        out[q.id] = was
    return out
