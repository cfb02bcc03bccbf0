"""What moved between two editions, or an edition and now: numbers, claims, and because of what.

A number's move is told in halves of its earlier interval: 1 means that the new value stands at the edge of the old 95 % interval.
A claim's is that of the probability of the alternative that led, likewise.
What it moved because of is the difference of its trail: marks, facts and shots added, changed or removed that it rests on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from longlens.claims.frozen import Chance, Claim, claimed, claims_to_keep, contents_of
from longlens.claims.records import Erratum, Evidence
from longlens.claims.weigh import percent
from longlens.dossier import exchange
from longlens.dossier.editions import Edition
from longlens.dossier.exchange import ExchangeDocument
from longlens.dossier.reading import Reader
from longlens.dossier.records import Measure
from longlens.dossier.store import Dossier
from longlens.errors import LonglensError
from longlens.numbers import display

Solve = Callable[[ExchangeDocument], dict[str, Any]]
#: Kinds whose changes can move a number or a claim.
MOVING = ("mark", "fact", "shot", "point", "circle", "measure", "evidence", "question", "sheet_input")


@dataclass(frozen=True)
class Cause:
    """One record that was added, changed or removed."""

    kind: str
    id: str
    how: str
    at: str = ""
    of: str = ""

    @property
    def words(self) -> str:
        about = f" of {self.of}" if self.of and self.of != self.id else ""
        return f"{self.kind.replace('_', ' ')} {self.id}{about} {self.how}"


@dataclass(frozen=True)
class Moved:
    """One number. ``before``, ``after``: (value, low, high) SI or None. ``by``: in halves of the earlier interval."""

    ref: str
    unit: str
    before: tuple[float, float, float] | None
    after: tuple[float, float, float] | None
    by: float | None
    because: tuple[Cause, ...] = ()
    stage: str = ""

    @property
    def words(self) -> str:
        name = self.ref.partition(":")[2]
        if self.before is None or self.after is None:
            shown = display.format_interval(*(self.after or self.before), self.unit)  # type: ignore[misc]
            return f"{name}: {'new' if self.before is None else 'no longer given'}, {shown}"
        a, b = (display.format_interval(*x, self.unit) for x in (self.before, self.after))
        return f"{name}: {a} is now {b}, {self.by:.1f} of the earlier half interval"


#: Half a range of a probability is taken as no less than this: one judged without a range would be infinitely sure.
LEAST_HALF = 0.01


@dataclass(frozen=True)
class Turned:
    """One claim before and after.

    Parameters
    ----------
    before, after : the sentences; "" where it was not asked. leads: the alternatives that led and lead.
    side, strength : whether another alternative leads; whether the words for the strength are others.
    was, now : the probability of the alternative that led before, with its range; None where an edition did not keep it.
    by : how far that moved, in halves of its earlier range.
    numbers : what it rests on that moved: measures, sheets' outputs and readings as they stood at both times.
    """

    question: str
    text: str
    before: str
    after: str
    leads: tuple[str, str]
    side: bool
    strength: bool
    because: tuple[Cause, ...] = ()
    was: Chance | None = None
    now: Chance | None = None
    by: float | None = None
    numbers: tuple[Moved, ...] = ()

    def told(self, least: float) -> bool:
        """Whether it is worth telling: it changed side or strength, or moved by ``least`` halves of its earlier range."""
        return self.side or self.strength or (self.by is not None and self.by >= least)

    @property
    def words(self) -> str:
        if not self.before:
            return f"{self.text} New: {self.after}"
        if not self.after:
            return f"{self.text} No longer asked; it said: {self.before}"
        what = "changed side" if self.side else "changed strength" if self.strength else "moved"
        far = ""
        if self.was is not None and self.now is not None:
            far = f": what led had {percent(self.was)} and has {percent(self.now)}"
        return f"{self.text} It {what}{far}. Before: {self.before} Now: {self.after}"


@dataclass
class Revision:
    """All that moved. ``until``: "" for now."""

    since: str
    until: str
    numbers: list[Moved] = field(default_factory=list)
    claims: list[Turned] = field(default_factory=list)
    causes: list[Cause] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def erratum(self, least: float = 0.5) -> str:
        """Text for readers: what was published and what holds now; numbers that moved by ``least`` or more."""
        until = self.until or "now"
        told = [m for m in self.numbers if m.before is not None and (m.by is None or m.by >= least)]
        lines = [f"Corrections to the edition {self.since} (as of {until})", ""]
        claims = [c for c in self.claims if c.told(least)]
        if not told and not claims:
            lines.append("Nothing that was published has moved by more than a small part of its interval.")
        for c in claims:
            lines += [f"- {c.words}{_with(c.numbers)}{_because(c.because)}"]
        for m in told:
            lines += [f"- {m.words}{_because(m.because)}"]
        small = sum(m.before is not None and m.after is not None for m in self.numbers) - sum(
            m.after is not None for m in told
        )
        if small > 0:
            lines += ["", f"{small} further numbers moved by less."]
        return "\n".join(lines)

    def as_json(self) -> dict[str, Any]:
        def cause(c: Cause) -> dict[str, str]:
            return {"kind": c.kind, "id": c.id, "how": c.how, "at": c.at, "of": c.of}

        return {
            "since": self.since, "until": self.until, "remarks": self.remarks, "causes": [cause(c) for c in self.causes],
            "numbers": [
                {"ref": m.ref, "stage": m.stage, "unit": m.unit, "before": m.before, "after": m.after, "by": m.by,
                 "text": m.words, "because": [cause(c) for c in m.because]} for m in self.numbers
            ],
            "claims": [
                {"id": c.question, "before": c.before, "after": c.after, "led": c.leads[0], "leads": c.leads[1], "side": c.side,
                 "strength": c.strength, "was": c.was, "now": c.now, "by": c.by,
                 "numbers": [{"ref": m.ref, "unit": m.unit, "before": m.before, "after": m.after, "by": m.by, "text": m.words}
                             for m in c.numbers],
                 "text": c.words, "because": [cause(x) for x in c.because]} for c in self.claims
            ],
        }  # fmt: skip


def compare(
    dossier: Dossier, since: str, until: str = "", *, solve: Solve | None = None, claims: bool = True
) -> Revision:
    """What moved from one edition to another, or to now.

    Answers and claims come from what the edition kept; what it did not keep is solved (``solve``, default: the survey) and
    weighed from the records of that time.

    Raises UnusableInput: there is no such edition.
    """
    first = dossier.get(Edition, since)
    last = dossier.get(Edition, until) if until else None
    old = dossier.at(first.revision)
    new: Reader = dossier.at(last.revision) if last is not None else dossier
    out = Revision(since, until)
    out.causes = causes(dossier, first.revision, last.revision if last is not None else None)
    before = _answers(old, first.contents, solve, out)
    after = _answers(new, last.contents if last is not None else {}, solve, out)
    for stage in dict.fromkeys([*before, *after]):
        out.numbers += moved(before.get(stage, {}), after.get(stage, {}), out.causes, old, new, stage)
    out.numbers.sort(key=lambda m: -(m.by if m.by is not None else 0.0))
    if claims:
        kept = first.contents.get("claims") or {}
        kept_last = (last.contents.get("claims") or {}) if last is not None else {}
        out.claims = _claims(old, new, out.causes, kept, kept_last)
    return out


def causes(dossier: Dossier, since: int, until: int | None = None) -> list[Cause]:
    """Records added, changed or removed between two revisions, each once; what was made and taken back is left out."""
    first: dict[tuple[str, str], Any] = {}
    last: dict[tuple[str, str], Any] = {}
    when: dict[tuple[str, str], str] = {}
    for e in dossier.entries_since(since):
        if e.kind in MOVING and (until is None or e.seq <= until):
            first.setdefault((e.kind, e.id), e.before)
            last[e.kind, e.id], when[e.kind, e.id] = e.after, e.step.at
    out = []
    for key, before in first.items():
        after = last[key]
        if before != after:
            how = "added" if before is None else "removed" if after is None else "changed"
            body = after or before
            of = body.get("point") or body.get("circle") or body.get("of") or body.get("name") or body.get("text") or ""
            out.append(Cause(*key, how, when[key], str(of)))
    return out


def moved(
    before: Mapping[str, Any], after: Mapping[str, Any], causes: list[Cause], old: Reader, new: Reader, stage: str = ""
) -> list[Moved]:
    """Measures of two answers compared; those that did not move are left out."""
    was, now = before.get("measures") or {}, after.get("measures") or {}
    out = []
    for id in dict.fromkeys([*was, *now]):
        a, b = (_triple(x.get(id)) for x in (was, now))
        if a == b or (a is None and b is None):
            continue
        by = _by(a, b)
        unit = (now.get(id) or was.get(id) or {}).get("unit", "1")
        out.append(Moved(f"measure:{id}", unit, a, b, by, _of(id, causes, old, new), stage))
    return out


def keep_erratum(dossier: Dossier, revision: Revision) -> Erratum:
    """Write the generated text into the dossier, where it can be edited; an edited one is not overwritten."""
    id = f"{revision.since}..{revision.until or 'now'}"
    found = dossier.find(Erratum, id)
    if found is None:
        found = Erratum(id=id, since=revision.since, until=revision.until, text=revision.erratum())
        dossier.put(found)
    return found


def _because(causes: tuple[Cause, ...]) -> str:
    if not causes:
        return ""
    told = "; ".join(c.words for c in causes[:3])
    return f" Because: {told}{f'; and {len(causes) - 3} more' if len(causes) > 3 else ''}."


def _with(numbers: tuple[Moved, ...]) -> str:
    if not numbers:
        return ""
    told = "; ".join(m.words for m in numbers[:3])
    return f" It rests on {told}{f'; and {len(numbers) - 3} more numbers' if len(numbers) > 3 else ''}."


def _by(a: Chance | None, b: Chance | None, least_half: float = 0.0) -> float | None:
    """How far b is from a, in halves of a's interval; None where one of them is not there."""
    if a is None or b is None:
        return None
    half = max((a[2] - a[1]) / 2, least_half)
    return abs(b[0] - a[0]) / half if half > 0 else float("inf") if a[0] != b[0] else 0.0


def _triple(x: Any) -> tuple[float, float, float] | None:
    if not x or x.get("value") is None:
        return None
    return float(x["value"]), float(x["low95"]), float(x["high95"])


def _of(id: str, causes: list[Cause], old: Reader, new: Reader) -> tuple[Cause, ...]:
    """Causes that the measure rests on: marks of its points first, then its own record, facts and shots; else none."""
    from longlens.survey.measures import points_of

    points: set[str] = set()
    for reader in (old, new):
        table: dict[str, exchange.Measure] = {m.id: m for m in reader.all(Measure)}
        if id in table:
            points |= set(points_of(table[id], table))
            if isinstance(table[id].diameter, str):
                points.add(str(table[id].diameter))
    direct = [
        c
        for c in causes
        if (c.kind == "mark" and c.of in points) or c.id == id or (c.kind == "point" and c.id in points)
    ]
    wide = [c for c in causes if c.kind in ("fact", "shot") and c not in direct]
    other = [c for c in causes if c.kind == "mark" and c not in direct]
    return tuple([*direct, *wide] or other[:3])


def _answers(reader: Reader, kept: Mapping[str, Any], solve: Solve | None, out: Revision) -> dict[str, Any]:
    from longlens.dossier.to_exchange import stages_with_marks, to_exchange

    found: dict[str, Any] = dict(kept.get("survey") or {})
    for stage in stages_with_marks(reader):
        if (stage or "") in found:
            continue
        try:
            found[stage or ""] = (solve or _solve)(to_exchange(reader, stage=stage))
        except LonglensError as e:
            out.remarks.append(f"{stage or 'shots of no stage'}: {e}")
    return found


def _solve(document: ExchangeDocument) -> dict[str, Any]:
    from longlens.numbers.number import DRAWS
    from longlens.systems.survey_numbers import solution_of

    return solution_of(document, DRAWS).answer()


def _claims(
    old: Reader, new: Reader, causes: list[Cause], kept: Mapping[str, Any], kept_last: Mapping[str, Any]
) -> list[Turned]:
    """Claims that came, went or moved at all, what moved most first; sides and strengths before the rest."""
    was, now = claimed(old, kept), claimed(new, kept_last)
    found = [_turned(id, was.get(id), now.get(id), causes, new) for id in dict.fromkeys([*was, *now])]
    out = [c for c in found if c.side or c.strength or c.by]
    return sorted(out, key=lambda c: (not c.side, not c.strength, -(c.by or 0.0)))


def _turned(id: str, a: Claim | None, b: Claim | None, causes: list[Cause], new: Reader) -> Turned:
    one = b or a
    assert one is not None
    side = a is not None and b is not None and a.leads != b.leads
    strength = a is None or b is None or a.strength != b.strength
    leads = (a.leads if a else "", b.leads if b else "")
    said = (a.sentence if a else "", b.sentence if b else "")
    was = a.chances.get(a.leads) if a else None
    now = b.chances.get(a.leads) if a and b else None
    numbers = _figures(a, b) if a and b else ()
    because = _rests(one, causes, new)
    return Turned(id, one.text, *said, leads, side, strength, because, was, now, _by(was, now, LEAST_HALF), numbers)


def _figures(a: Claim, b: Claim) -> tuple[Moved, ...]:
    """Numbers that a claim rested on at both times and that moved, what moved most first."""
    out = []
    for ref in a.figures.keys() & b.figures.keys():
        *old, unit = a.figures[ref]
        *new, same = b.figures[ref]
        if unit == same and old != new:
            before, after = (old[0], old[1], old[2]), (new[0], new[1], new[2])
            out.append(Moved(ref, unit, before, after, _by(before, after)))
    return tuple(sorted(out, key=lambda m: (-(m.by or 0.0), m.ref)))


def _rests(claim: Claim, causes: list[Cause], new: Reader) -> tuple[Cause, ...]:
    records = claim.rests | {
        f"evidence:{c.id}" for c in causes if c.kind == "evidence" and new.find(Evidence, c.id) is None
    }
    return tuple(c for c in causes if f"{c.kind}:{c.id}" in records)


__all__ = [
    "Cause", "Moved", "Revision", "Turned", "causes", "claims_to_keep", "compare", "contents_of", "keep_erratum", "moved"
]  # fmt: skip
