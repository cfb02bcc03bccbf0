"""What published words and pictures rest on: the numbers, facts, sheets' answers and cameras of one stage of a dossier.

Nothing is solved twice: surveys and the sheets' answers are kept in the user's own cache under a hash of all they hang on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from longlens.dossier.exchange import ExchangeDocument
from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import document_hash, stages_with_marks, to_exchange
from longlens.errors import LonglensError, NotSolvable, UnusableInput
from longlens.numbers import display
from longlens.numbers.number import DRAWS
from longlens.publish.names import words
from longlens.publish.perspective import Camera
from longlens.publish.trail import Trails

Progress = Callable[[str, float], None]


class LostBasis(LonglensError):
    """A number, fact or claim that words refer to has no basis any more."""

    exit_status = 2


@dataclass(frozen=True)
class Shown:
    """One number as it is shown: to read, to say, with what it rests on. SI; ``low`` and ``high`` hold 95 %."""

    ref: str
    name: str
    text: str
    spoken: str
    kind: str
    system: str = ""
    unit: str = ""
    value: float | None = None
    low: float | None = None
    high: float | None = None
    trail: tuple[str, ...] = ()
    source: str = ""


@dataclass
class Basis:
    """The numbers of one stage. Made once for a whole edition; the dossier must not change meanwhile."""

    dossier: Dossier
    stage: str | None = None
    progress: Progress | None = None
    unsolved: NotSolvable | None = None
    _sheets: dict[str, dict[str, Any]] = field(default_factory=dict)

    @cached_property
    def document(self) -> ExchangeDocument:
        return to_exchange(self.dossier, stage=self.stage)

    @cached_property
    def answer(self) -> dict[str, Any]:
        """The survey's answer; {} when the marks do not determine it (``unsolved`` then says why)."""
        from longlens.systems.survey_numbers import solution_of

        try:
            return solution_of(self.document, DRAWS, self.progress).answer()
        except NotSolvable as error:
            self.unsolved = error
            return {}

    # Places ---------------------------------------------------------------------------------------------------

    def camera(self, shot: str) -> Camera | None:
        """The camera that the survey found for a shot."""
        got = self.answer.get("shots", {}).get(shot)
        return Camera.of_answer(got) if got else None

    def point(self, id: str) -> np.ndarray | None:
        """A point's place, vehicle axes, m."""
        got = self.answer.get("points", {}).get(id)
        return np.asarray(got["xyz_m"], float) if got else None

    def circle(self, id: str) -> dict[str, Any] | None:
        return self.answer.get("circles", {}).get(id)

    @cached_property
    def marks(self) -> list[Mark]:
        return self.dossier.all(Mark)

    @cached_property
    def _systems(self) -> dict[str, str]:
        out: dict[str, str] = {p.id: p.system or "" for p in self.dossier.all(Point)}
        out |= {c.id: c.system or "" for c in self.dossier.all(Circle)}
        return out | {f"measure:{m.id}": m.system or "" for m in self.dossier.all(Measure)}

    def system_of(self, id: str) -> str:
        """The system of a point or circle, "" where none was given."""
        return self._systems.get(id, "")

    # Numbers --------------------------------------------------------------------------------------------------

    def number(self, ref: str) -> Shown:
        """What a reference stands for: ``measure:ID``, ``fact:ID``, ``AREA:OUTPUT``, ``AREA/VARIANT:OUTPUT``,
        ``claim:ID`` or ``forecast:ID``. Raises LostBasis."""
        head, _, rest = ref.partition(":")
        area, _, variant = head.partition("/")
        if head == "measure":
            return self._measure(rest)
        if head == "fact":
            return self._fact(rest)
        if head in ("claim", "forecast"):
            from longlens.publish.held import held

            return held(self, head, rest)
        from longlens.systems.registry import AREAS

        if area in AREAS:
            return self._output(area, variant, rest)
        raise LostBasis(
            f"{{{ref}}} names nothing known", fix="begin it with measure:, fact:, claim:, forecast: or an area"
        )

    def _measure(self, id: str) -> Shown:
        ref = f"measure:{id}"
        got = self.answer.get("measures", {}).get(id)
        if got is None:
            why = self.answer.get("refused", {}).get(id, {}).get("reason")
            why = why or (
                "the survey cannot be solved" if self.unsolved else "it is not asked for, or no longer marked"
            )
            raise LostBasis(
                f"the measure {id} has no value: {why}", fix="mark what it needs, or take it out of the text"
            )
        args = (got["value"], got["low95"], got["high95"], got["unit"])
        text, said = display.format_interval(*args), display.spoken(*args)
        lines = self._trail(id)
        return Shown(ref, words(id), text, said, "measured", self._systems.get(ref, "") or self._by_points(id),
                     got["unit"], got["value"], got["low95"], got["high95"], lines)  # fmt: skip

    @cached_property
    def trails(self) -> Trails:
        return Trails(self.document, self.marks)

    @cached_property
    def _measures(self) -> dict[str, Any]:
        return {m.id: m for m in self.document.measures}

    def _trail(self, id: str) -> tuple[str, ...]:
        measure = self._measures.get(id)
        if measure is None:
            return ()
        trail = self.trails.of(measure)
        return tuple(
            f"{words(m.point or m.circle or '')} on {m.shot}"
            + (
                f" at ({m.x:.0f}, {m.y:.0f}) ± {m.sd_px:g} px"
                if m.form == "point"
                else f", {len(m.edge or [])} rim points"
            )
            for m in trail.marks
        )

    def _by_points(self, id: str) -> str:
        measure = self._measures.get(id)
        if measure is None:
            return ""
        named = (self._systems.get(m.point or m.circle or "", "") for m in self.trails.of(measure).marks)
        return next((s for s in named if s), "")

    def _fact(self, id: str) -> Shown:
        fact = self.dossier.find(Fact, id)
        if fact is None:
            raise LostBasis(f"there is no fact {id} any more", fix="name another, or take it out of the text")
        name, source = fact.of or words(fact.id), fact.reason if fact.basis == "assumed" else fact.source
        lines = (f"{fact.basis}: {source or 'no source given'}",)
        if not isinstance(fact.value, float | int):
            text = fact.text or ", ".join(f"{v:g}" for v in fact.value or ()) + f" {fact.unit}"
            return Shown(f"fact:{id}", name, text, text, fact.basis, trail=lines, source=source)
        half = 1.96 * (fact.sd or 0.0)
        args = (fact.value, fact.value - half, fact.value + half, fact.unit)
        shown = None if fact.unit == "m" else fact.unit
        text = display.format_interval(*args, shown=shown)
        said = display.spoken(*args, shown=shown)
        return Shown(f"fact:{id}", name, text, said, fact.basis, "", fact.unit, *args[:3], lines, source)

    # Sheets ---------------------------------------------------------------------------------------------------

    def sheet(self, area: str) -> dict[str, Any]:
        """variant → the sheet's answer as plain types (see Outcome.as_json), under "" as given.

        Raises LostBasis where the area has no sheet, or its inputs do not fit.
        """
        if area not in self._sheets:
            self._sheets[area] = self._kept_sheet(area)
        return self._sheets[area]

    def _kept_sheet(self, area: str) -> dict[str, Any]:
        from longlens.systems import chain
        from longlens.systems.kept_answers import answered
        from longlens.systems.records import SheetInput

        areas = {area, *chain.before(area)}  # what they hand on is part of the answer
        inputs = sorted(r.model_dump_json() for r in self.dossier.all(SheetInput) if r.area in areas)
        read = sorted(r.model_dump_json() for kind in (Vehicle, Fact, Mark) for r in self.dossier.all(kind))
        parts = ["sheet", area, self.stage, document_hash(self.document), inputs, read]
        return answered(parts, lambda: self._run_sheet(area))

    def _run_sheet(self, area: str) -> dict[str, Any]:
        from longlens.systems import chain
        from longlens.systems.from_dossier import given_of, known_numbers
        from longlens.systems.registry import sheet
        from longlens.systems.run import run_all

        try:
            known, _ = known_numbers(self.dossier, self.stage)
            known, _ = chain.handed_on(area, known, lambda a, k: given_of(self.dossier, a, k))
            runs = run_all(sheet(area), given_of(self.dossier, area, known))
        except (UnusableInput, NotSolvable) as error:
            raise LostBasis(f"the {area} sheet gives no answer: {error.what}", fix=error.args[0]) from None
        out: dict[str, Any] = {name: run.as_json() for name, run in runs.items()}
        if area == "suspension":
            out["linkage"] = _linkage(runs[""].inner)
            if not out["linkage"]:
                out["linkage"] = self._linkage_by_rims(known)
        return out

    def _linkage_by_rims(self, known: dict[str, Any]) -> dict[str, Any]:
        """For the picture alone: a wheel whose centre is not placed turns about the centre of its rim's face instead."""
        from longlens.systems.from_dossier import given_of
        from longlens.systems.registry import sheet
        from longlens.systems.run import run

        more = dict(known)
        for corner in ("left.front", "right.front", "left.rear", "right.rear"):
            face = known.get(f"point:{corner}.rim_centre")
            if face is not None:
                more.setdefault(f"point:{corner}.wheel.centre", face)
        try:
            return _linkage(run(sheet("suspension"), given_of(self.dossier, "suspension", more)).inner)
        except (UnusableInput, NotSolvable):
            return {}

    def linkage(self, end: str, travel: float) -> list[tuple[str, np.ndarray]]:
        """Name and places (positions, n, 3) m of an axle's parts from full droop to full bump; [] where there is none."""
        try:
            kept = self.sheet("suspension").get("linkage", {})
        except LostBasis:
            return []
        found = kept.get(end)
        if not found:
            return []
        z = np.asarray(found["travel_m"], float)
        inside = np.abs(z) <= travel + 1e-9
        return [(name, np.asarray(p, float)[inside]) for name, p in found["parts"].items()]

    def _output(self, area: str, variant: str, name: str) -> Shown:
        runs = self.sheet(area)
        ref = f"{area}/{variant}:{name}" if variant else f"{area}:{name}"
        run = runs.get(variant)
        if run is None or "outputs" not in run:
            raise LostBasis(f"the {area} sheet has no variant {variant!r}", fix=f"there are: {', '.join(runs)}")
        got = run["outputs"].get(name)
        if got is None:
            why = run["refused"].get(name, {}).get("why", "it has no such output")
            raise LostBasis(f"{ref} has no value: {why}", fix="give what it needs, or take it out of the text")
        label = name.replace("_", " ") + (f" ({variant})" if variant else "")
        rests = got["trail"].get("rests_on") or []
        lines = (f"{got['model']} ({got['source']})" if got.get("source") else got["model"], *rests)
        if isinstance(got["value"], list):
            return Shown(ref, label, f"a curve of {label}", label, "computed", area, got["unit"], trail=lines)
        text = got.get("text", "")
        shown = people_unit(text)
        said = text
        if None not in (got["value"], got["low95"], got["high95"]):
            try:
                said = display.spoken(got["value"], got["low95"], got["high95"], got["unit"], shown=shown)
            except ValueError:
                said = display.spoken(got["value"], got["low95"], got["high95"], got["unit"])
        return Shown(
            ref, label, text, said, "computed", area, got["unit"], got["value"], got["low95"], got["high95"], lines
        )


def _linkage(inner: Any) -> dict[str, Any]:
    """The middle car's axles as polylines over wheel travel, plain types; positions that cannot be reached are left out."""
    from longlens.systems.suspension.drawing import models, segments

    travel = np.linspace(-0.06, 0.06, 49)
    out: dict[str, Any] = {}
    for end, model in models(inner).items():
        parts = {s.name: s.points for s in segments(model, travel, end=end)}
        ok = np.all([np.isfinite(p).all(axis=(1, 2)) for p in parts.values()], axis=0)
        if ok.sum() > 2:
            out[end] = {
                "travel_m": travel[ok].tolist(),
                "parts": {k: p[ok].round(5).tolist() for k, p in parts.items()},
            }
    return out


def people_unit(text: str) -> str | None:
    """The unit at the end of a number's text, None where it has none; what is said of draws without a value comes after it."""
    text = text.partition(";")[0]
    tail = text.rpartition(" ")[2] if " " in text else ""
    tail = "°" if text.endswith("°") else tail
    return tail if tail and not tail[0].isdigit() and not tail.endswith(")") else None


class Bases:
    """A basis for each stage, made when first asked for."""

    def __init__(self, dossier: Dossier, progress: Progress | None = None) -> None:
        self.dossier, self.progress = dossier, progress
        self._made: dict[str | None, Basis] = {}

    def of(self, stage: str | None) -> Basis:
        """The basis of a stage; None: the latest stage with marks."""
        if stage is None:
            stages = stages_with_marks(self.dossier)
            stage = next((s for s in reversed(stages) if s is not None), None)
        if stage not in self._made:
            self._made[stage] = Basis(self.dossier, stage, self.progress)
        return self._made[stage]
