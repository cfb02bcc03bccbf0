"""How a label looks: a dark plate with a bar in the system's colour, a strong line and a line of figures."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from longlens.publish import typefaces
from longlens.publish.drawing import Array, Drawing, Fill, Stroke, Words, box_path
from longlens.publish.layout import Room, Wish, leader, place
from longlens.publish.styles import Box

PLATE = "#101316"
PLATE_ALPHA = 0.86
WHITE = "#ffffff"
SOFT = "#cfd3d6"
#: Widest label, as a part of the frame.
WIDEST = 0.36


@dataclass(frozen=True)
class Label:
    """What a label says, and to what it leads; ``middle`` in drawing units where it was put by hand."""

    head: str
    line: str
    aside: str
    colour: str
    targets: Array
    step: int
    middle: tuple[float, float] | None = None
    dot: bool = True
    near: float = 1.0
    off: float = 46.0
    key: str = ""


@dataclass(frozen=True)
class _Set:
    """A label set in lines at one size."""

    rows: list[tuple[str, float, typefaces.Weight, str]]
    width: float
    height: float
    pad: float = 11.0


@dataclass
class Placed:
    """Where labels came to stand, by their key; and the heads of those that found no place."""

    boxes: dict[str, Box] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)


def put_labels(drawing: Drawing, labels: list[Label], room: Room, size: float) -> Placed:
    """Place labels and draw them with their leaders. Where there is little room the letters become smaller first."""
    widest = (room.frame[2] - room.frame[0]) * WIDEST
    boxes: list[Box | None] = []
    sets: list[_Set] = []
    for k in (1.0, 0.88, 0.76):
        sets = [_set(x, size * k, widest) for x in labels]
        wishes = [
            Wish(s.width, s.height, x.targets, x.middle, x.near, x.off) for s, x in zip(sets, labels, strict=True)
        ]
        boxes = place(wishes, room)
        if all(b is not None for b in boxes):
            break
    placed = Placed()
    for label, box in zip(labels, boxes, strict=True):
        if box is None:
            placed.left_out.append(label.head or label.line)
            continue
        placed.boxes[label.key or label.head] = box
        _draw_leader(drawing, label, box)
    for label, made, box in zip(labels, sets, boxes, strict=True):
        if box is not None:
            _draw(drawing, label, made, box)
    return placed


def _set(label: Label, size: float, widest: float) -> _Set:
    room = widest - 2 * 11.0 - 5
    rows: list[tuple[str, float, typefaces.Weight, str]] = []
    rows += [(t, size, "strong", WHITE) for t in typefaces.wrapped(label.head, size, "strong", room, 2)]
    rows += [(t, 0.94 * size, "regular", WHITE) for t in typefaces.wrapped(label.line, 0.94 * size, "regular", room, 2)]
    rows += [(t, 0.8 * size, "regular", SOFT) for t in typefaces.wrapped(label.aside, 0.8 * size, "regular", room, 1)]
    width = max((typefaces.width(t, s, w) for t, s, w, _ in rows), default=0.0)
    return _Set(rows, width + 2 * 11.0 + 5, sum(1.22 * s for _, s, _, _ in rows) + 11.0)


def _draw_leader(drawing: Drawing, label: Label, box: Box) -> None:
    a, b = leader(box, label.targets)
    if np.hypot(*(a - b)) > 14:
        drawing.add(Stroke(np.stack([a, b]), label.colour, 2.0, edge=1.3, step=label.step))
    if label.dot:
        t = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        for r, colour in ((6.5, PLATE), (4.5, label.colour)):
            drawing.add(Fill(b + r * np.stack([np.cos(t), np.sin(t)], axis=1), colour, step=label.step))


def _draw(drawing: Drawing, label: Label, made: _Set, box: Box) -> None:
    x0, y0, _, y1 = box
    drawing.add(Fill(box_path(box), PLATE, PLATE_ALPHA, label.step, round=4))
    drawing.add(Fill(box_path((x0, y0, x0 + 5, y1)), label.colour, 1.0, label.step))
    y = y0 + 5.5
    for text, size, weight, colour in made.rows:
        y += 1.22 * size
        drawing.add(Words(x0 + 5 + made.pad, y - 0.3 * size, text, size, colour, weight, step=label.step))
