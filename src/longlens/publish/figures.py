"""Plates as figures of a brief: composed and painted once, as JPEG, with the words that go beside them."""

from __future__ import annotations

from dataclasses import dataclass

from longlens.publish.basis import Bases, Progress
from longlens.publish.compose import compose
from longlens.publish.plates import Plate
from longlens.publish.styles import STYLES

SCALE = 0.75


@dataclass(frozen=True)
class Figure:
    """One plate, without letters on its foot: title and text stand beside it."""

    plate: Plate
    title: str
    text: str
    jpeg: bytes
    width: int
    height: int
    alt: str
    credit: str


def figures(bases: Bases, stage: str | None, *, draft: bool = False, progress: Progress | None = None) -> list[Figure]:
    """The plates of a stage, in their order. A plate whose photograph may not go out is left out, unless it is a draft."""
    from longlens.errors import UnusableInput

    out = []
    plates = [p for p in bases.dossier.all(Plate) if p.stage == stage or stage is None]
    for i, plate in enumerate(plates):
        if progress is not None:
            progress(f"plate {plate.id}", i / len(plates))
        try:
            out.append(figure(bases, plate, draft=draft))
        except UnusableInput:
            if draft:
                raise
    return out


def figure(bases: Bases, plate: Plate, *, draft: bool = False) -> Figure:
    """One plate as a figure."""
    import cv2

    from longlens.dossier.records import Shot
    from longlens.publish.film.scenes import Scene, linkage, still
    from longlens.publish.raster import paint
    from longlens.publish.references import read
    from longlens.publish.rights import credit_line

    basis = bases.of(plate.stage)
    made = compose(plate, STYLES["figure"], basis, draft=draft)
    moving = linkage(plate, made, basis)
    drawing = still(Scene(plate.id, "", made.drawing, 5.0, moving=moving)) if moving else made.drawing
    pixels = paint(drawing, SCALE)
    ok, data = cv2.imencode(".jpg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 84])
    assert ok
    shots = [bases.dossier.get(Shot, s) for s in made.shots]
    alt = f"Plate {made.drawing.title}. " + "; ".join(w for w in made.drawing.words if w)
    credit = "; ".join(dict.fromkeys(credit_line(s) for s in shots))
    text = read(plate.text, basis).text
    return Figure(plate, made.drawing.title, text, data.tobytes(), pixels.shape[1], pixels.shape[0], alt, credit)
