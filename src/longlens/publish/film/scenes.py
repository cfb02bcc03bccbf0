"""From a sequence to scenes: every stop with its drawing, its words and its time; a title before, the credits after."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence as Many
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np

from longlens.dossier.records import Shot, Vehicle
from longlens.errors import UnusableInput
from longlens.publish import typefaces
from longlens.publish.basis import Bases, Basis
from longlens.publish.compose import Composed, compose
from longlens.publish.drawing import Array, Drawing, Picture, Words, moved
from longlens.publish.film.timing import AFTER_WORDS, BEFORE_WORDS, Plan, least_seconds, spoken_seconds
from longlens.publish.names import SYSTEMS
from longlens.publish.page import CAUTION
from longlens.publish.perspective import Camera
from longlens.publish.plates import Plate, Sequence
from longlens.publish.references import Read, read
from longlens.publish.rights import credit_line
from longlens.publish.shooting import fitted
from longlens.publish.styles import STYLES, Box, Style

TITLE_SECONDS, CREDITS_SECONDS = 4.0, 7.0


@dataclass(frozen=True)
class Moving:
    """A linkage that moves over the photograph: polylines (positions, n, 2) in drawing units, over one swing."""

    paths: tuple[Array, ...]
    colour: str
    period: float = 3.2


@dataclass
class Scene:
    """One scene of the film. ``begins`` is its place in the film, s."""

    name: str
    chapter: str
    drawing: Drawing
    seconds: float
    words: Read = field(default_factory=lambda: Read("", ""))
    start: Box | None = None  # window from which the eye comes
    begins: float = 0.0
    moving: Moving | None = None
    poster: bool = False

    @property
    def plan(self) -> Plan:
        return Plan(self.seconds, self.start is not None, self.drawing.steps + (1 if self.moving else 0))

    def digest(self) -> str:
        """Hash of all that its frames depend on."""
        h = hashlib.sha256(f"{self.seconds:.6f}|{self.start}|{self.drawing.width}|{self.drawing.ground}".encode())
        for item in self.drawing.items:
            h.update(type(item).__name__.encode())
            for f in fields(item):
                _feed(h, getattr(item, f.name))
        if self.moving is not None:
            _feed(h, self.moving.paths)
            h.update(f"{self.moving.colour}{self.moving.period}".encode())
        return h.hexdigest()


def _feed(h: Any, value: Any) -> None:
    if isinstance(value, np.ndarray):
        h.update(str(value.shape).encode())
        h.update(np.ascontiguousarray(value).tobytes())
    elif hasattr(value, "pixels"):
        h.update(value.key.encode())
    elif isinstance(value, tuple | list):
        for one in value:
            _feed(h, one)
    else:
        h.update(repr(value).encode())


@dataclass
class Film:
    """All scenes of a sequence in one style, and what was found about their words."""

    sequence: Sequence
    style: Style
    scenes: list[Scene]
    composed: list[Composed]
    voice_starts: float = 0.0

    @property
    def seconds(self) -> float:
        return sum(s.seconds for s in self.scenes)

    @property
    def lost(self) -> list[tuple[str, str]]:
        found = [x for c in self.composed for x in c.lost] + [x for s in self.scenes for x in s.words.lost]
        return list(dict.fromkeys(found))

    @property
    def changed(self) -> list[tuple[str, str, str]]:
        found = [x for c in self.composed for x in c.changed] + [x for s in self.scenes for x in s.words.changed]
        return list(dict.fromkeys(found))

    @property
    def notes(self) -> list[str]:
        return [f"{s.name}: {n}" for s, c in zip(self.scenes[1:], self.composed, strict=False) for n in c.notes]


def film_of(
    bases: Bases, sequence: Sequence, *, style: str = "wide", draft: bool = False, voice: float | None = None
) -> Film:
    """The scenes of a sequence.

    Parameters
    ----------
    style : shape of the film.
    draft : see :func:`longlens.publish.compose.compose`.
    voice : length of the voice file, s; scenes then follow the stops' cues.
    """
    shape = STYLES[style]
    film = Film(sequence, shape, [], [])
    for k, stop in enumerate(sequence.stops):
        plate = bases.dossier.get(Plate, stop.plate)
        basis = bases.of(plate.stage)
        made = compose(plate, shape, basis, draft=draft)
        words = read(stop.narration, basis, sequence.read or None)
        moving = linkage(plate, made, basis)
        start = _start(plate, made, basis, stop.start.window if stop.start else None)
        steps = made.drawing.steps + (2 if moving else 0)
        spoken = (
            spoken_seconds(words.spoken, sequence.words_per_minute) + BEFORE_WORDS + AFTER_WORDS if words.text else 0.0
        )
        seconds = stop.seconds or max(spoken, least_seconds(steps, start is not None))
        if voice is not None:
            seconds = _by_cues(sequence, k, voice)
        film.scenes.append(
            Scene(plate.id, stop.chapter or made.drawing.title, made.drawing, seconds, words, start, 0.0, moving)
        )
        film.composed.append(made)
    _cards(film, bases, draft)
    at = 0.0
    for scene in film.scenes:
        scene.begins = at
        at += scene.seconds
    film.voice_starts = TITLE_SECONDS + BEFORE_WORDS - (sequence.stops[0].cue or 0.0)
    return film


def _by_cues(sequence: Sequence, k: int, voice: float) -> float:
    cues = [s.cue for s in sequence.stops]
    if any(c is None for c in cues):
        raise UnusableInput(
            "a voice needs a cue time for every stop", where=f"sequence {sequence.id!r}", fix="give them all"
        )
    given = [c for c in cues if c is not None]
    after = given[k + 1] if k + 1 < len(given) else voice + BEFORE_WORDS + AFTER_WORDS
    if after <= given[k]:
        raise UnusableInput(
            f"the cue of stop {k + 2} ({after:g} s) does not come after that of stop {k + 1}",
            where=f"sequence {sequence.id!r}", fix="put the cues in order, within the voice file",
        )  # fmt: skip
    return after - given[k]


def _start(plate: Plate, made: Composed, basis: Basis, asked: Box | None) -> Box | None:
    """The window from which the eye comes, of the same shape as where it goes; None where it stays."""
    if (
        plate.view is None
        or plate.beside is not None
        or plate.straight is not None
        or made.window is None
        or made.box is None
    ):
        return None
    shot = basis.dossier.get(Shot, plate.view.shot)
    window, _ = fitted(asked, (shot.width, shot.height), made.box)
    x0, y0, x1, y1 = made.window
    if abs((window[2] - window[0]) / (x1 - x0) - 1) < 0.04:  # it is there already: come a little closer at the start
        m = 0.05
        w, h = x1 - x0, y1 - y0
        return x0 + m * w, y0 + m * h, x1 - m * w, y1 - m * h
    return window


def linkage(plate: Plate, made: Composed, basis: Basis) -> Moving | None:
    """The suspension's polylines projected over the photograph, up and down once; None where there is none."""
    if (
        plate.linkage is None
        or plate.view is None
        or plate.straight is not None
        or made.window is None
        or made.box is None
    ):
        return None
    camera = basis.camera(plate.view.shot)
    found = basis.linkage(plate.linkage.end, plate.linkage.travel)
    if camera is None or not found:
        made.notes.append(
            "the linkage cannot be moved: " + ("no camera" if camera is None else "the hardpoints do not carry it")
        )
        return None
    sides = ("left", "right") if plate.linkage.side == "both" else (plate.linkage.side,)
    paths = []
    for name, points in found:
        if name.endswith(".tyre"):
            continue  # what moves is the linkage; a circle over a tyre that stands still would only puzzle
        if name.split(".")[0] in ("left", "right") and name.split(".")[0] not in sides:
            continue
        flat = _projected(points, camera, made.window, made.box)
        if np.isfinite(flat).all():
            paths.append(flat)
    return Moving(tuple(paths), SYSTEMS["suspension"][1]) if paths else None


def _projected(points: Array, camera: Camera, window: Box, box: Box) -> Array:
    k = (box[2] - box[0]) / (window[2] - window[0])
    return np.array(box[:2]) + (camera.project(points) - np.array(window[:2])) * k


# Title and credits ----------------------------------------------------------------------------------------------


def _cards(film: Film, bases: Bases, draft: bool) -> None:
    style, sequence = film.style, film.sequence
    vehicle = bases.dossier.all(Vehicle)[0]
    title = Drawing(style.width, style.height, style.ground, sequence.title)
    first = next((i for s in film.scenes for i in s.drawing.items if isinstance(i, Picture)), None)
    if first is not None:
        h, w = first.source.pixels.shape[:2]
        whole = (0.0, 0.0, float(style.width), float(style.height))
        window, box = fitted(None, (w, h), whole, (w * 0.3, h * 0.3, w * 0.7, h * 0.7))
        nothing = (np.array([(-90.0, -90.0), (-80.0, -90.0), (-80.0, -80.0)]),)
        title.add(Picture(first.source, window, box, lit=nothing, dim=0.55))
    mid, size = 0.5 * style.height, style.size
    lines = typefaces.wrapped(sequence.title, 2.9 * size, "strong", 0.84 * style.width, 3)
    y = mid - 1.6 * size * (len(lines) - 1)
    for line in lines:
        title.add(Words(0.08 * style.width, y, line, 2.9 * size, "#ffffff", "strong", halo=2))
        y += 3.1 * size
    for line in typefaces.wrapped(sequence.subtitle, 1.3 * size, "regular", 0.84 * style.width, 3):
        title.add(Words(0.08 * style.width, y - 0.8 * size, line, 1.3 * size, style.ink, halo=2))
        y += 1.6 * size
    for line in typefaces.wrapped(vehicle.note, 0.85 * size, "regular", 0.84 * style.width, 3):
        title.add(Words(0.08 * style.width, y + 0.4 * size, line, 0.85 * size, style.quiet, halo=2))
        y += 1.15 * size
    credits = _credits(film, bases)
    film.scenes.insert(0, Scene("title", sequence.title, title, TITLE_SECONDS, poster=True))
    film.scenes.append(Scene("credits", "Credits", credits, CREDITS_SECONDS))


def _credits(film: Film, bases: Bases) -> Drawing:
    style, size = film.style, film.style.size
    out = Drawing(style.width, style.height, style.ground, "Credits")
    x, y, room = 0.08 * style.width, 0.14 * style.height, 0.84 * style.width
    out.add(Words(x, y, "Credits", 1.75 * size, style.ink, "strong"))
    y += 1.9 * size
    shots = list(dict.fromkeys(s for c in film.composed for s in c.shots))
    rows: dict[str, list[str]] = {}
    for id in shots:
        shot = bases.dossier.get(Shot, id)
        rows.setdefault(credit_line(shot), []).append(shot.id)
    texts = [f"{line} ({len(ids)} photograph{'s' if len(ids) > 1 else ''})" for line, ids in rows.items()]
    texts += [t for t in [film.sequence.credits] if t]
    for line in typefaces.wrapped("\n".join(texts), 0.92 * size, "regular", room, 16):
        out.add(Words(x, y, line, 0.92 * size, style.ink))
        y += 1.4 * size
    y = max(y + size, 0.72 * style.height)
    for line in typefaces.wrapped(CAUTION, 0.86 * size, "regular", room, 6):
        out.add(Words(x, y, line, 0.86 * size, style.quiet))
        y += 1.25 * size
    return out


def still(scene: Scene) -> Drawing:
    """The scene's last picture as a drawing: the linkage at rest, and lightly at both ends of its travel."""
    if scene.moving is None:
        return scene.drawing
    from longlens.publish.drawing import Stroke

    out = Drawing(
        scene.drawing.width, scene.drawing.height, scene.drawing.ground, scene.drawing.title, mm=scene.drawing.mm
    )
    labels_from = next((i for i, x in enumerate(scene.drawing.items) if not isinstance(x, Picture)), 0)
    out.items = [moved(i) for i in scene.drawing.items]
    ghosts: Many[tuple[int, float]] = ((0, 0.4), (-1, 0.4), (len(scene.moving.paths[0]) // 2, 1.0))
    strokes = [
        Stroke(p[k], scene.moving.colour, 3.0, edge=1.2 if alpha == 1 else 0, alpha=alpha, step=1)
        for k, alpha in ghosts
        for p in scene.moving.paths
    ]
    out.items[labels_from:labels_from] = strokes
    return out
