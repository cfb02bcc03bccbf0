"""Keeping the words true: what has changed since they were read, what has lost its basis, and that somebody has read them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from longlens.publish.basis import Bases
from longlens.publish.plates import Plate, Sequence
from longlens.publish.references import as_read, read


@dataclass(frozen=True)
class ToRead:
    """A text that somebody must look at. ``now`` is empty where the basis is lost, ``why`` then says so."""

    kind: str
    id: str
    reference: str
    before: str
    now: str
    why: str = ""

    @property
    def stops(self) -> bool:
        return bool(self.why)

    @property
    def line(self) -> str:
        where = f"{self.kind} {self.id}: {{{self.reference}}}"
        return (
            f"{where} has lost its basis: {self.why}" if self.why else f"{where} was {self.before}, is now {self.now}"
        )


def texts_of(plate: Plate) -> Iterator[str]:
    """Every text of a plate that may hold references; the numbers of its dimensions and charts with them."""
    yield from (plate.title, plate.text)
    for view in (plate.view, plate.beside):
        if view is not None:
            yield view.caption
    for h in plate.highlights:
        yield from (h.label, h.line)
    for a in plate.arrows:
        yield from (a.label, a.line)
    for d in plate.dimensions:
        yield from (d.label, f"{{measure:{d.measure}}}")
    yield from (i.label for i in plate.insets)
    if plate.scale_bar is not None:
        yield plate.scale_bar.label
    if plate.chart is not None:
        yield from (f"{{{s.of}}}" for s in plate.chart.series)


def to_read(bases: Bases, plates: list[Plate] | None = None) -> list[ToRead]:
    """What somebody must look at before publishing (lost) or should read again (changed)."""
    out: list[ToRead] = []
    wanted = bases.dossier.all(Plate) if plates is None else plates
    for plate in wanted:
        for text in texts_of(plate):
            out += _found("plate", plate.id, text, bases, plate.stage, plate.read)
    names = {p.id: p for p in bases.dossier.all(Plate)}
    for sequence in bases.dossier.all(Sequence):
        for stop in sequence.stops:
            plate_of = names.get(stop.plate)
            if plate_of is not None and (plates is None or plate_of in wanted):
                out += _found("sequence", sequence.id, stop.narration, bases, plate_of.stage, sequence.read)
    return list(dict.fromkeys(out))


def _found(kind: str, id: str, text: str, bases: Bases, stage: str | None, known: dict[str, str]) -> list[ToRead]:
    if "{" not in text:
        return []
    got = read(text, bases.of(stage), known)
    return [ToRead(kind, id, ref, known.get(ref, ""), "", why) for ref, why in got.lost] + [
        ToRead(kind, id, ref, old, new) for ref, old, new in got.changed
    ]


def mark_read(bases: Bases) -> int:
    """Write down that all words were read with their numbers as they stand now; returns how many records changed."""
    dossier = bases.dossier
    changed = 0
    plates = {p.id: p for p in dossier.all(Plate)}
    with dossier.batch("words read again"):
        for plate in plates.values():
            now = as_read(texts_of(plate), bases.of(plate.stage))
            if now != plate.read:
                dossier.change(Plate, plate.id, read=now)
                changed += 1
        for sequence in dossier.all(Sequence):
            found: dict[str, str] = {}
            for stop in sequence.stops:
                if stop.plate in plates:
                    found |= as_read([stop.narration], bases.of(plates[stop.plate].stage))
            if found != sequence.read:
                dossier.change(Sequence, sequence.id, read=found)
                changed += 1
    return changed
