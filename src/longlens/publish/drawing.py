"""One drawing, whatever it is painted with: a list of strokes, fills, words and pictures in drawing units.

y grows downwards. ``step`` orders the appearance in a film: 0 stands there from the beginning, 1, 2 … come one after
another; a film draws strokes on along their path and lets the rest of the same step fade in after them.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

import numpy as np

from longlens.publish.styles import Box
from longlens.publish.typefaces import Weight

Array = np.ndarray
#: Casing of a stroke: a dark edge below it, so that it shows on light and dark pictures.
EDGE = "#0b0d0f"


@dataclass(frozen=True)
class Stroke:
    """A line along points (n, 2)."""

    path: Array
    colour: str
    width: float
    dash: tuple[float, ...] = ()
    closed: bool = False
    edge: float = 1.6
    alpha: float = 1.0
    step: int = 0
    name: str = ""


@dataclass(frozen=True)
class Fill:
    """A filled polygon (n, 2); ``round`` rounds the corners of a box."""

    path: Array
    colour: str
    alpha: float = 1.0
    step: int = 0
    round: float = 0.0


@dataclass(frozen=True)
class Words:
    """One line of text: (x, y) is the beginning, middle or end of its baseline."""

    x: float
    y: float
    text: str
    size: float
    colour: str
    weight: Weight = "regular"
    anchor: Literal["start", "middle", "end"] = "start"
    step: int = 0
    halo: float = 0.0


class Source(Protocol):
    """Where a picture's pixels come from; they are asked for when they are needed, and not kept by the drawing."""

    @property
    def key(self) -> str:
        """Tells one picture from another."""

    @property
    def pixels(self) -> Array:
        """(h, w, 3) RGB bytes."""


@dataclass(frozen=True)
class Plain:
    """Pixels that are there already."""

    pixels: Array

    @property
    def key(self) -> str:
        return hashlib.sha256(np.ascontiguousarray(self.pixels).tobytes()).hexdigest()


@dataclass(frozen=True)
class Picture:
    """A picture, of which ``window`` (x0, y0, x1, y1 in its pixels) is shown in ``box``.

    ``lit`` holds closed paths (drawing units) that stay bright while the rest is softly darkened; with ``dim`` 0
    nothing is.
    """

    source: Source
    window: Box
    box: Box
    alt: str = ""
    lit: tuple[Array, ...] = ()
    dim: float = 0.0
    foot: float = 0.0  # part of the picture's height over which its foot fades to dark, for words on it
    step: int = 0
    border: str = ""


Item = Stroke | Fill | Words | Picture


@dataclass
class Drawing:
    """What is painted. ``mm`` is its width on paper, where it is meant for paper."""

    width: int
    height: int
    ground: str
    title: str = ""
    items: list[Item] = field(default_factory=list)
    mm: float | None = None
    notes: list[str] = field(default_factory=list)

    def add(self, *items: Item) -> None:
        self.items.extend(items)

    @property
    def steps(self) -> int:
        return max((i.step for i in self.items), default=0)

    @property
    def words(self) -> list[str]:
        return [i.text for i in self.items if isinstance(i, Words)]


def box_path(box: Box) -> Array:
    """The corners of a box, (4, 2)."""
    x0, y0, x1, y1 = box
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], float)


def rgb(colour: str) -> tuple[int, int, int]:
    """``#rrggbb`` as three numbers."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def dashes(path: Array, pattern: tuple[float, ...], closed: bool = False) -> list[Array]:
    """A path cut into its dashes: pieces (k, 2). Without a pattern the path itself."""
    p = np.asarray(path, float)
    if closed:
        p = np.vstack([p, p[:1]])
    if not pattern or len(p) < 2:
        return [p]
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])
    out: list[Array] = []
    at, k = 0.0, 0
    while at < length[-1] and len(out) < 5000:
        end = min(at + pattern[k % len(pattern)], length[-1])
        if k % 2 == 0:
            inside = (length > at) & (length < end)
            ends = [np.array([np.interp(s, length, p[:, i]) for i in (0, 1)]) for s in (at, end)]
            out.append(np.vstack([ends[0], p[inside], ends[1]]))
        at, k = end, k + 1
    return out


def arrow_head(tip: Array, back: Array, size: float) -> Array:
    """A slim triangle (3, 2) at ``tip``, coming from the side of ``back``."""
    d = np.asarray(tip, float) - np.asarray(back, float)
    n = float(np.linalg.norm(d))
    d = d / n if n > 1e-9 else np.array([1.0, 0.0])
    side = np.array([-d[1], d[0]])
    foot = np.asarray(tip, float) - d * size
    return np.stack([np.asarray(tip, float), foot + 0.36 * size * side, foot - 0.36 * size * side])


def moved(item: Any, **changes: Any) -> Any:
    """An item with some fields changed."""
    from dataclasses import replace

    return replace(item, **changes)
