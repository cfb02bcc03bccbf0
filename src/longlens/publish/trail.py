"""What a measure rests on: the marks that place its own points and circles, and the facts that give the scale.

In a joint adjustment every mark bears on every number a little, through the cameras. The trail names those that a
reader would check first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from longlens.dossier.exchange import ExchangeDocument, Measure
from longlens.dossier.records import Mark


@dataclass(frozen=True)
class Trail:
    """Marks in the order of the shots, and edges marked across a rod (shot ids)."""

    marks: tuple[Mark, ...]
    edges: tuple[str, ...] = ()

    @property
    def shots(self) -> list[str]:
        return list(dict.fromkeys([*(m.shot for m in self.marks), *self.edges]))


class Trails:
    """The trails of one document's measures, from the marks of the dossier."""

    def __init__(self, document: ExchangeDocument, marks: Sequence[Mark]) -> None:
        self.document = document
        self.table = {m.id: m for m in document.measures}
        self.centre = {c.id: c.centre for c in document.circles if c.centre}
        self.twin = {p.id: p.mirror for p in document.points if p.mirror}
        self.twin |= {b: a for a, b in list(self.twin.items())}
        self.rim_of = {point: circle for circle, point in self.centre.items()}
        order = {s.id: i for i, s in enumerate(document.shots)}
        fitted = [m for m in marks if m.shot in order and not m.set_aside and m.certainty != "inferred"]
        self.marks = sorted((m for m in fitted if m.point or m.circle), key=lambda m: order[m.shot])

    def of(self, measure: Measure) -> Trail:
        """The marks of a measure's points, of their twins across the car, and of its circles."""
        from longlens.survey.measures import points_of

        parts = [self.table[k] for k in measure.ratio] if measure.ratio is not None else [measure]
        circles = {p.diameter for p in parts if p.diameter is not None}
        points = set(points_of(measure, self.table)) | {self.centre[c] for c in circles if c in self.centre}
        points |= {self.twin[p] for p in points if p in self.twin}
        circles |= {self.rim_of[p] for p in points if p in self.rim_of}
        marks = tuple(m for m in self.marks if m.point in points or m.circle in circles)
        return Trail(marks, tuple(p.rod_diameter.shot for p in parts if p.rod_diameter is not None))
