"""The survey's joint draws as numbers, each with the marks and facts that it rests on."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from longlens.dossier.exchange import ExchangeDocument
from longlens.dossier.records import Mark
from longlens.dossier.to_exchange import document_hash
from longlens.numbers.number import Number, joint
from longlens.numbers.trail import Origin

if TYPE_CHECKING:
    from longlens.survey.answer import Progress, Solution

#: Solutions kept in this process, by document and number of draws.
KEPT = 4
_solutions: OrderedDict[tuple[str, int], Solution] = OrderedDict()


def solution_of(document: ExchangeDocument, draws: int, progress: Progress | None = None) -> Solution:
    """The survey of a document; the last few are kept at hand. Raises NotSolvable as the survey does."""
    from longlens.systems.surveying import solve

    key = (document_hash(document), draws)
    found = _solutions.get(key)
    if found is None:
        found = solve(document, draws=draws, progress=progress)
    keep_solution(document, draws, found)
    return found


def keep_solution(document: ExchangeDocument, draws: int, solution: Solution) -> None:
    """Keep a document's survey that was solved elsewhere (by the studio's worker), as :func:`solution_of` does."""
    key = (document_hash(document), draws)
    _solutions[key] = solution
    _solutions.move_to_end(key)
    while len(_solutions) > KEPT:
        _solutions.popitem(last=False)


def numbers_of(solution: Solution, marks: Iterable[Mark] = ()) -> dict[str, Number]:
    """Every measure that was given, as ``measure:ID``, and every point, as ``point:ID`` (its place, vehicle axes, m).

    Besides ``measure:camber_front`` and its kin where rims were seen, and ``measure:frontal_area`` where it was outlined.

    ``marks`` are the dossier's, for the trail; without them it names shots only.
    """
    from longlens.survey.measures import points_of, unit_of

    document = solution.net.document
    facts = [
        Origin(f.id, "stated", record=f"fact:{f.id}", source=f.source)
        for f in document.facts
        if f.id not in {s.get("fact") for s in solution.suspect_facts}
    ]
    trails = _Trails(document, list(marks), facts)
    table = {m.id: m for m in document.measures}
    out: dict[str, Number] = {}
    for m in document.measures:
        if m.id in solution.values:
            best, draws = solution.values[m.id]
            points = set(points_of(m, table))
            circles = {m.diameter} if isinstance(m.diameter, str) else set()
            rests_on = trails.of(points, circles)
            out[f"measure:{m.id}"] = joint(
                {m.id: draws}, unit_of(m), best={m.id: best}, rests_on=rests_on, draws=len(draws)
            )[m.id]
    for pid, places in solution.places().items():
        rests_on = trails.of({pid}, set())
        out[f"point:{pid}"] = joint(
            {pid: places}, "m", records={pid: f"point:{pid}"}, rests_on=rests_on, draws=len(places)
        )[pid]
    from longlens.systems.suspension.rims import wheel_angles

    for name, (angles, circles) in wheel_angles(solution).items():
        if f"measure:{name}" not in out:  # a measure of that name that was asked for is its owner's
            rests_on = trails.of(set(), circles)
            out[f"measure:{name}"] = joint({name: angles}, "rad", rests_on=rests_on, draws=len(angles))[name]
    out |= _weighed_toe(solution, trails, out)
    area = _frontal_area(solution, trails.marks)
    if area is not None:
        out["measure:frontal_area"] = area
    return out


def _weighed_toe(solution: Solution, trails: _Trails, known: Mapping[str, Number]) -> dict[str, Number]:
    """Toe that the rims tell worse than the suspension's assumption: both, weighed; its trail names both."""
    from longlens.systems.suspension.rims import weighed_toe

    out = {}
    for name, (angles, circles) in weighed_toe(solution).items():
        if f"measure:{name}" not in known:
            marks = Origin(f"{name} by the rims", "measured", inputs=tuple(trails.of(set(), circles)))
            usual = Origin(
                name, "assumed", reason="about zero, ±0.15° in one standard deviation: common practice, no source"
            )
            model = "rims and assumption, weighed by their precision"
            origin = Origin(name, "computed", source="least squares", model=model, inputs=(marks, usual))
            out[f"measure:{name}"] = Number(angles, "rad", origin, shown="deg")
    return out


def _frontal_area(solution: Solution, marks: list[Mark]) -> Number | None:
    """From an outline round the car's front. One that cannot be used gives none; the aero sheet says what it needs."""
    from longlens.errors import LonglensError
    from longlens.systems.aero.frontal_area import PART, from_solution

    if not any(m.form == "outline" and m.part.strip().lower() == PART for m in marks):
        return None
    try:
        return from_solution(solution, marks)
    except LonglensError:
        return None


class _Trails:
    """Origins of the marks that place something: each once, shared by all numbers."""

    def __init__(self, document: ExchangeDocument, marks: list[Mark], facts: list[Origin]) -> None:
        self.document, self.facts, self.marks = document, facts, marks
        self.twins = {p.id: p.mirror for p in document.points if p.mirror}
        self.twins |= {b: a for a, b in list(self.twins.items())}
        self.centres = {c.id: c.centre for c in document.circles if c.centre}
        self.by_point: dict[str, list[Origin]] = {}
        self.by_circle: dict[str, list[Origin]] = {}
        shots = {s.id for s in document.shots}  # the same name may be marked on shots of another stage
        for mark in marks:
            origin = Origin(f"mark on {mark.shot}", "measured", record=f"mark:{mark.id}")
            if mark.set_aside or mark.shot not in shots:
                continue
            if mark.point is not None:
                self.by_point.setdefault(mark.point, []).append(origin)
            elif mark.circle is not None:
                self.by_circle.setdefault(mark.circle, []).append(origin)

    def of(self, points: set[str], circles: set[str]) -> list[Origin]:
        """Marks of the points, of their twins across the car and of the circles (also those about a point); then the facts."""
        points = points | {self.twins[p] for p in points if p in self.twins}
        points |= {self.centres[c] for c in circles if c in self.centres}
        circles = circles | {c for c, centre in self.centres.items() if centre in points}
        marks = [o for p in sorted(points) for o in self.by_point.get(p, ())]
        marks += [o for c in sorted(circles) for o in self.by_circle.get(c, ())]
        return marks + self.facts
