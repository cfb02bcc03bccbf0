"""The brief: one self-contained HTML page with the photographs and their marks, every number with its interval and its
trail, the warnings, the method and its limits.

It needs no network, carries no script, and shows no photograph without credit, licence and the
word that it may be shown.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from longlens.dossier.exchange import ExchangeDocument, Measure
from longlens.dossier.photographs import preview
from longlens.dossier.records import Circle, Fact, Mark, Point, Shot, Stage, Vehicle
from longlens.dossier.records import Measure as MeasureRecord
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import stages_with_marks
from longlens.errors import NotSolvable, UnusableInput
from longlens.publish.names import SYSTEMS
from longlens.publish.rights import withheld
from longlens.publish.trail import Trail, Trails

if TYPE_CHECKING:
    from longlens.claims.summary import Summary
    from longlens.publish.answers import Answer
    from longlens.publish.basis import Bases
    from longlens.publish.figures import Figure

#: Longer side of the pictures in the page, pixels.
LONGEST = 1600

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Line:
    """One measure: its value as the survey's answer gives it, or why there is none, and its trail."""

    measure: Measure
    system: str
    value: dict[str, Any] | None
    refused: dict[str, Any] | None
    trail: Trail


@dataclass(frozen=True)
class Picture:
    """One shot: its JPEG as base64, or why it is withheld; its marks; the suspects among them."""

    shot: Shot
    jpeg: str
    withheld: str
    marks: tuple[Mark, ...]
    suspects: tuple[dict[str, Any], ...]


@dataclass
class Brief:
    """What goes on the page."""

    vehicle: Vehicle
    stage: Stage | None
    document: ExchangeDocument
    answer: dict[str, Any] | None
    unsolved: NotSolvable | None
    pictures: list[Picture]
    lines: list[Line]
    facts: list[Fact]
    not_asked: int = 0
    anchors: dict[str, str] = field(default_factory=dict)
    figures: list[Figure] = field(default_factory=list)
    answers: list[Answer] = field(default_factory=list)
    held: Summary | None = None

    @property
    def withheld(self) -> list[Picture]:
        return [p for p in self.pictures if p.withheld]


def write_brief(dossier: Dossier, to: Path, *, stage: str | None = None, progress: Progress | None = None) -> Brief:
    """Write the brief of one stage of a dossier's vehicle; solve it first when it was changed since the last survey.

    Parameters
    ----------
    to : the file: a name that ends in ``.pdf`` gives the PDF, any other the HTML page.
    stage : may be left out where only one stage has marks.

    Raises
    ------
    UnusableInput : several stages, or no marks at all, or the file cannot be written.

    A dossier that cannot be solved still gets its brief: pictures, facts, and what is missing.
    """
    from longlens.publish.page import page
    from longlens.publish.whole import write_whole

    tell = progress or (lambda what, part: None)
    brief = gather(dossier, stage=stage, progress=progress)
    tell("writing the brief", 0.97)
    if to.suffix.lower() == ".pdf":
        from longlens.publish.brief_pdf import brief_pdf

        write_whole(to, brief_pdf(brief))
    else:
        write_whole(to, page(brief))
    return brief


def gather(
    dossier: Dossier,
    *,
    stage: str | None = None,
    bases: Bases | None = None,
    draft: bool = False,
    progress: Progress | None = None,
) -> Brief:
    """Everything that the brief shows, from the dossier.

    Parameters
    ----------
    bases : of the dossier, where they were made already.
    draft : show plates of photographs that may not go out yet, with a mark that says so.
    """
    from longlens.publish.answers import answers
    from longlens.publish.basis import Bases
    from longlens.publish.figures import figures
    from longlens.publish.held import held_of

    tell = progress or (lambda what, part: None)
    stage = _stage(dossier, stage)
    bases = bases or Bases(dossier, lambda what, part: tell(what, 0.6 * part))
    basis = bases.of(stage) if stage else bases.of(None)
    document, answer = basis.document, basis.answer or None
    unsolved = basis.unsolved
    shown = {s.id for s in document.shots}
    marks = [m for m in dossier.all(Mark) if m.shot in shown]
    brief = Brief(
        vehicle=dossier.all(Vehicle)[0],
        stage=dossier.find(Stage, stage) if stage else None,
        document=document,
        answer=answer,
        unsolved=unsolved,
        pictures=[],
        lines=[],
        facts=[f for f in dossier.all(Fact) if stage is None or f.stage in (None, stage)],
        anchors={m.id: f"m{i}" for i, m in enumerate(marks)},
    )
    _lines(brief, dossier, marks)
    brief.figures = figures(bases, stage, draft=draft, progress=lambda what, part: tell(what, 0.6 + 0.3 * part))
    brief.answers = answers(basis) if answer else []
    brief.held = held_of(basis)
    suspects = (answer or {}).get("suspect_marks") or []
    shots = [s for s in dossier.all(Shot) if s.id in shown]
    for i, shot in enumerate(shots):
        tell(f"picture {shot.id}", 0.9 + 0.07 * i / len(shots))
        brief.pictures.append(_picture(dossier, shot, marks, suspects))
    return brief


def _stage(dossier: Dossier, stage: str | None) -> str | None:
    if stage is not None:
        dossier.get(Stage, stage)
        return stage
    stages = stages_with_marks(dossier)
    if not stages:
        raise UnusableInput(
            "no photograph has marks yet", fix="mark points on the photographs, or import an exchange document"
        )
    if len(stages) > 1:
        named = ", ".join(s or "shots of no stage" for s in stages)
        raise UnusableInput(
            f"the marked shots show more than one stage of the vehicle ({named})",
            fix=f"say which, e.g. --stage {next(s for s in reversed(stages) if s)}",
        )
    return stages[0]


def _lines(brief: Brief, dossier: Dossier, marks: list[Mark]) -> None:
    """Measures in the order of the systems. One of which nothing at all is marked in this stage is only counted."""
    trails = Trails(brief.document, marks)
    systems = {p.id: p.system or "" for p in dossier.all(Point)} | {c.id: c.system or "" for c in dossier.all(Circle)}
    own: dict[str, str] = {m.id: m.system or "" for m in dossier.all(MeasureRecord)}
    found = (brief.answer or {}).get("measures", {})
    refused = (brief.answer or {}).get("refused", {})
    for measure in brief.document.measures:
        trail = trails.of(measure)
        if not trail.marks and measure.id not in found:
            brief.not_asked += 1
            continue
        named = [systems.get(m.point or m.circle or "", "") for m in trail.marks]
        system: str = own.get(measure.id) or next((s for s in named if s), "")
        brief.lines.append(Line(measure, system, found.get(measure.id), refused.get(measure.id), trail))
    order = list(SYSTEMS)
    brief.lines.sort(key=lambda line: order.index(line.system))


def _picture(dossier: Dossier, shot: Shot, marks: list[Mark], suspects: list[dict[str, Any]]) -> Picture:
    why = withheld(shot)
    jpeg = ""
    if not why and shot.photograph is not None:
        try:
            jpeg = base64.b64encode(preview(dossier, shot.photograph, longest=LONGEST)).decode()
        except UnusableInput as error:
            why = f"the photograph cannot be read: {error.what}"
    here = tuple(m for m in marks if m.shot == shot.id)
    return Picture(shot, jpeg, why, here, tuple(s for s in suspects if s.get("shot") == shot.id))
