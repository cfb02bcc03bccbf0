"""Forecasts: drafted, sealed, revised in the open, resolved with evidence, withdrawn, scored over all of a user's dossiers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from longlens.claims import scores
from longlens.claims.calibration import Bin, calibration
from longlens.claims.records import Forecast, ForecastDraft, Resolution, Withdrawal
from longlens.dossier.editions import Edition
from longlens.dossier.journal import now
from longlens.dossier.reading import Reader, canonical, record_text
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput


def make(dossier: Dossier, id: str, text: str, *, edition: str = "", **fields: Any) -> Forecast:
    """Make a forecast of the dossier as it stands (or as it stood in ``edition``) and seal it.

    ``fields`` as in :class:`Forecast`: ``probability``, or ``low``, ``high``, ``level``, ``unit``; ``why``, ``settles``, ``on``;
    ``revises``: the open forecast that it takes the place of. Both stay; the last one said is judged and scored.

    Raises UnusableInput: the id is taken, no such edition, nothing is said, the fields do not fit, what it revises is not open.
    """
    if not text.strip():
        raise UnusableInput("says nothing", where=f"forecast {id!r}", fix="write what will happen or be measured")
    if edition:
        frozen = dossier.get(Edition, edition)
        revision, chain = frozen.revision, frozen.chain
    else:
        revision, chain = dossier.revision, dossier.chain_head
    made = _fits(Forecast, {"id": id, "text": text, "made": now(), "by": fields.pop("by", dossier.by), "edition": edition,
                 "revision": revision, "chain": chain, **fields}, f"forecast {id!r}")  # fmt: skip
    if made.revises is not None:
        _can_be_revised(dossier, made)
    with dossier.batch(f"forecast {id}", keep=True):
        dossier.add(made)
    return made


def _can_be_revised(dossier: Dossier, by: Forecast) -> None:
    earlier, where = dossier.get(Forecast, str(by.revises)), f"forecast {by.id!r}"
    seen = next(s for s in all_of(dossier) if s.forecast.id == earlier.id)
    if seen.state != "open":
        raise UnusableInput(f"{earlier.id!r} is {seen.state} and cannot be revised", where=where, fix="make a new one")
    if (earlier.probability is None) != (by.probability is None) or earlier.unit != by.unit:
        raise UnusableInput(
            f"is not of the same kind as {earlier.id!r}",
            where=where,
            fix="an event stays an event, a range keeps its unit; else withdraw and make a new one",
        )


# Drafts ----------------------------------------------------------------------------------------------------


def new_draft(dossier: Dossier, **fields: Any) -> ForecastDraft:
    """Begin a forecast; one undo step. With ``revises`` it begins as that forecast stands."""
    taken = {*dossier.ids(Forecast), *dossier.ids(ForecastDraft)}
    id = next(f"forecast {n}" for n in range(1, 10**6) if f"forecast {n}" not in taken)
    if fields.get("revises"):
        now_said = dossier.get(Forecast, fields["revises"]).model_dump(exclude_none=True)
        fields = {k: v for k, v in now_said.items() if k in ForecastDraft.model_fields} | fields
    made: ForecastDraft = _fits(ForecastDraft, fields | {"id": id}, f"forecast {id!r}")
    with dossier.batch(f"draft of {id}"):
        dossier.add(made)
    return made


def drafts(reader: Reader) -> list[ForecastDraft]:
    """Forecasts that are being written, oldest first; those that were sealed meanwhile are not among them."""
    sealed = set(reader.ids(Forecast))
    return [d for d in reader.all(ForecastDraft) if d.id not in sealed]


def seal(dossier: Dossier, draft: str) -> Forecast:
    """Make the forecast that a draft says; the draft goes. Cannot be undone. Raises UnusableInput as :func:`make`."""
    said = dossier.get(ForecastDraft, draft)
    fields = said.model_dump(exclude_none=True, exclude={"id", "text"})
    if said.probability is not None:
        fields = {k: v for k, v in fields.items() if k not in ("low", "high", "level", "unit")}
    elif said.low is None or said.high is None:
        raise UnusableInput(
            "has neither a probability nor a range",
            where=f"forecast {draft!r}",
            fix="give a probability, or from and to",
        )
    made = make(dossier, draft, said.text, **fields)
    # In a step of its own: inside the one that stays, the draft's own steps could never be undone again.
    dossier.remove(ForecastDraft, draft, label=f"draft of {draft}, now sealed")
    return made


def resolve(
    dossier: Dossier,
    id: str,
    text: str,
    *,
    happened: bool | None = None,
    value: float | None = None,
    evidence: Sequence[str] = (),
) -> Resolution:
    """Write down what came of a forecast. A second resolution corrects the first in the open; both stay.

    Raises UnusableInput: no such forecast, withdrawn, or an event without yes or no, a quantity without a value.
    """
    forecast = dossier.get(Forecast, id)
    if dossier.find(Withdrawal, id) is not None:
        raise UnusableInput("was withdrawn", where=f"forecast {id!r}", fix="a withdrawn forecast is not resolved")
    if (forecast.probability is None) == (value is None) or (forecast.probability is None) != (happened is None):
        need = "whether it happened" if forecast.probability is not None else "the value that came out"
        raise UnusableInput(f"needs {need}, and nothing else", where=f"forecast {id!r}")
    for ref in evidence:
        kind, _, name = ref.partition(":")
        if not name or (kind != "output" and dossier.raw(kind, name) is None):
            raise UnusableInput(
                f"there is no {ref!r}", where=f"forecast {id!r}", fix="name what is in the dossier, as kind:id"
            )
    after = next((f.id for f in dossier.all(Forecast) if f.revises == id), None)
    if after is not None:
        raise UnusableInput("was revised", where=f"forecast {id!r}", fix=f"settle {after!r}, which took its place")
    before = [r for r in dossier.all(Resolution) if r.forecast == id]
    key = id if not before else f"{id}#{len(before) + 1}"
    made = _fits(Resolution, {"id": key, "forecast": id, "happened": happened, "value": value, "at": now(), "text": text,
                 "evidence": list(evidence), "revision": dossier.revision}, f"forecast {id!r}")  # fmt: skip
    with dossier.batch(f"resolve forecast {id}", keep=True):
        dossier.add(made)
    return made


def withdraw(dossier: Dossier, id: str, why: str) -> Withdrawal:
    """Take a forecast back in the open. Not after it was resolved: what came out stays in the score."""
    dossier.get(Forecast, id)
    if any(f.revises == id for f in dossier.all(Forecast)):
        raise UnusableInput("was revised", where=f"forecast {id!r}", fix="withdraw the one that took its place")
    if any(r.forecast == id for r in dossier.all(Resolution)):
        raise UnusableInput(
            "is resolved and stays in the score", where=f"forecast {id!r}", fix="correct the resolution instead"
        )
    made = _fits(Withdrawal, {"id": id, "why": why, "at": now()}, f"forecast {id!r}")
    with dossier.batch(f"withdraw forecast {id}", keep=True):
        dossier.add(made)
    return made


def _fits(model: Any, fields: dict[str, Any], where: str) -> Any:
    from pydantic import ValidationError

    try:
        return model.model_validate({k: v for k, v in fields.items() if v is not None})
    except ValidationError as e:
        first = e.errors()[0]
        place = ".".join(map(str, first["loc"]))
        raise UnusableInput(
            f"{place + ': ' if place else ''}{first['msg'].removeprefix('Value error, ')}", where=where
        ) from None


# Looking at them -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Seen:
    """A forecast with what came of it. ``car``: whose it is. ``revised_by``: the id of the one that took its place; then
    ``resolution`` is what came of that one."""

    forecast: Forecast
    car: str = ""
    resolution: Resolution | None = None
    withdrawal: Withdrawal | None = None
    corrected: int = 0
    revised_by: str = ""

    @property
    def state(self) -> str:
        """``open``, ``resolved``, ``withdrawn`` or ``revised``."""
        if self.revised_by:
            return "revised"
        return "resolved" if self.resolution else "withdrawn" if self.withdrawal else "open"

    @property
    def given(self) -> str:
        """What was said: ``70 %`` or ``between 0.51 and 0.53 m (95 %)``."""
        f = self.forecast
        if f.probability is not None:
            return f"{100 * f.probability:.0f} %"
        unit = f" {f.unit}" if f.unit else ""
        return f"between {f.low:g} and {f.high:g}{unit} ({100 * f.level:.0f} %)"

    @property
    def came(self) -> str:
        """What happened, in words."""
        r = self.resolution
        if r is None:
            return self.state
        if r.happened is not None:
            return "happened" if r.happened else "did not happen"
        f = self.forecast
        inside = f.low <= r.value <= f.high  # type: ignore[operator]
        return f"{r.value:g}{f' {f.unit}' if f.unit else ''}, {'inside' if inside else 'outside'}"

    @property
    def score(self) -> dict[str, float]:
        """Brier and logarithmic score of an event, interval score of a range; {} while open."""
        f, r = self.forecast, self.resolution
        if r is None:
            return {}
        if f.probability is not None:
            return {
                "brier": float(scores.brier(f.probability, r.happened)),
                "logarithmic": float(scores.logarithmic(f.probability, r.happened)),
            }
        return {"interval": float(scores.interval(f.low, f.high, r.value, f.level))}

    def as_json(self) -> dict[str, Any]:
        return {
            "id": self.forecast.id, "car": self.car, "text": self.forecast.text, "made": self.forecast.made,
            "edition": self.forecast.edition, "given": self.given, "probability": self.forecast.probability,
            "low": self.forecast.low, "high": self.forecast.high, "level": self.forecast.level, "unit": self.forecast.unit,
            "why": self.forecast.why, "settles": self.forecast.settles,
            "revises": self.forecast.revises or "", "revised_by": self.revised_by, "state": self.state, "came": self.came,
            "known_by": self.resolution.text if self.resolution else "",
            "evidence": list(self.resolution.evidence) if self.resolution else [],
            "withdrawn_because": self.withdrawal.why if self.withdrawal else "", "corrected": self.corrected,
            "score": self.score,
        }  # fmt: skip


def all_of(reader: Reader, car: str = "") -> list[Seen]:
    """The forecasts of one dossier, oldest first."""
    resolved: dict[str, list[Resolution]] = {}
    for r in reader.all(Resolution):
        resolved.setdefault(r.forecast, []).append(r)
    withdrawn = {w.id: w for w in reader.all(Withdrawal)}
    every = reader.all(Forecast)
    revised = {f.revises: f.id for f in every if f.revises}

    def last(id: str) -> str:
        """The end of its line; a line of a stranger's file that runs in a circle ends where it began."""
        seen = {id}
        while id in revised and revised[id] not in seen:
            id = revised[id]
            seen.add(id)
        return id

    out = []
    for f in every:
        came = resolved.get(last(f.id), [])
        gone = withdrawn.get(last(f.id))
        out.append(Seen(f, car, came[-1] if came else None, gone, max(len(came) - 1, 0), revised.get(f.id, "")))
    return out


@dataclass
class Record:
    """The score over many forecasts, of one dossier or of several.

    ``references``: mean Brier score of always saying 50 %, and of always saying how often such things happened (known only
    afterwards, so hard to beat). Of a forecast that was revised the last one said is scored; ``first_said`` is the mean Brier
    score with the first ones said in their place, None where nothing was revised. ``held``: of the ranges, how many
    held the value, and how many should have.
    """

    seen: list[Seen]
    events: int = 0
    brier: float | None = None
    logarithmic: float | None = None
    partition: scores.Partition | None = None
    bins: list[Bin] = field(default_factory=list)
    references: dict[str, float] = field(default_factory=dict)
    skill: dict[str, float] = field(default_factory=dict)
    ranges: int = 0
    held: int = 0
    should_hold: float = 0.0
    first_said: float | None = None

    def count(self, state: str) -> int:
        return sum(s.state == state for s in self.seen)

    def sentence(self) -> str:
        """The score in one or two sentences."""
        told = f"{len(self.seen)} forecasts: {self.count('resolved')} resolved, {self.count('open')} open, "
        told += f"{self.count('withdrawn')} withdrawn."
        if self.count("revised"):
            told = told.removesuffix(".") + f", {self.count('revised')} revised."
        if self.events:
            half = self.references["always 50 %"]
            told += f" Brier score {self.brier:.3f} over {_counted(self.events, 'event')} (always 50 %: {half:.3f}; 0 is best)."
        if self.first_said is not None:
            told += f" As first said: {self.first_said:.3f}."
        if self.ranges:
            told += f" {self.held} of {_counted(self.ranges, 'range')} held the value, {self.should_hold:.1f} expected."
        if 0 < self.events + self.ranges < 20:
            told += " So few forecasts say little about the forecaster."
        return told

    def as_json(self) -> dict[str, Any]:
        p = self.partition
        return {
            "sentence": self.sentence(), "forecasts": [s.as_json() for s in self.seen],
            "counts": {s: self.count(s) for s in ("open", "resolved", "withdrawn", "revised")},
            "events": self.events, "brier": self.brier, "brier_as_first_said": self.first_said, "logarithmic": self.logarithmic,
            "partition": None if p is None else asdict(p),
            "references": self.references, "skill": self.skill,
            "calibration": [
                {"low": b.low, "high": b.high, "given": b.given, "count": b.count,
                 "happened": b.happened.value, "low95": b.happened.low, "high95": b.happened.high} for b in self.bins
            ],
            "ranges": self.ranges, "held": self.held, "should_hold": self.should_hold,
        }  # fmt: skip


def _counted(n: int, word: str) -> str:
    return f"{n} {word}{'s' * (n != 1)}"


def record(seen: Iterable[Seen]) -> Record:
    """Score forecasts; open and withdrawn ones are counted and shown, and score nothing."""
    out = Record(list(seen))
    settled = [s for s in out.seen if s.resolution is not None]
    events = [s for s in settled if s.forecast.probability is not None and not s.revised_by]
    ranges = [s for s in settled if s.forecast.probability is None and not s.revised_by]
    first = [s for s in settled if s.forecast.probability is not None and not s.forecast.revises]
    if events and any(s.revised_by for s in first):
        out.first_said = float(np.mean([s.score["brier"] for s in first]))
    if events:
        p = np.array([s.forecast.probability for s in events], float)
        o = np.array([s.resolution.happened for s in events if s.resolution], float)
        out.events, out.brier = len(events), float(np.mean(scores.brier(p, o)))
        out.logarithmic = float(np.mean(scores.logarithmic(p, o)))
        out.partition, out.bins = scores.partition(p, o), calibration(p, o)
        out.references = {"always 50 %": 0.25, "base rate": float(np.mean(scores.brier(np.mean(o), o)))}
        out.skill = {k: scores.skill(out.brier, v) for k, v in out.references.items()}
    if ranges:
        out.ranges = len(ranges)
        out.held = sum("inside" in s.came for s in ranges)
        out.should_hold = float(sum(s.forecast.level for s in ranges))
    return out


# Proof -----------------------------------------------------------------------------------------------------


def problems(dossier: Dossier) -> list[str]:
    """What shows that a forecast, a resolution or a withdrawal is not what was written; with the journal's own faults.

    The journal's chain shows a changed past to whoever kept an earlier hash; each forecast keeps one.
    """
    found = dossier.verify()
    hashes = {e.seq: e.hash for e in dossier.entries_since(0)}
    for model, word in ((Forecast, "forecast"), (Resolution, "resolution"), (Withdrawal, "withdrawal")):
        for one in dossier.all(model):
            entries = dossier.history(word, one.id)
            if len(entries) != 1 or entries[0].before is not None:
                found.append(f"{word} {one.id!r}: was written {len(entries)} times")
            elif canonical(entries[0].after) != record_text(one):
                found.append(f"{word} {one.id!r}: is not what the journal says was written")
    for f in dossier.all(Forecast):
        if f.revision and hashes.get(f.revision) != f.chain:
            found.append(f"forecast {f.id!r}: the journal before it is not the one it was made in")
    return list(dict.fromkeys(found))
