"""A plate as a drawing: the photograph with what matters brought out, in one style.

The order of appearance is that of the record: highlights, arrows, dimensions, then bar, insets and chart; words and credit stand
there from the beginning.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from longlens.dossier.records import Shot
from longlens.publish import labels as look
from longlens.publish import typefaces
from longlens.publish.basis import Basis
from longlens.publish.charts import chart_height, put_chart
from longlens.publish.drawing import Array, Drawing, Fill, Picture, Source, Stroke, Words, arrow_head, box_path
from longlens.publish.labels import Label, Placed, put_labels
from longlens.publish.layout import Room
from longlens.publish.names import LINES, SYSTEMS, words
from longlens.publish.perspective import Camera, dimension_line, ring, scale_bar, segment
from longlens.publish.plates import Arrow, Dimension, Highlight, Plate, View
from longlens.publish.references import Read, read
from longlens.publish.rights import credit_line, terms, withheld
from longlens.publish.shooting import FromDossier, fitted
from longlens.publish.straight import Flat, Straightened, flat
from longlens.publish.styles import Box, Style
from longlens.publish.subjects import Subject, subjects, worst

DASHES: dict[str, tuple[float, ...]] = {"seen": (), "partly seen": (15.0, 10.0), "inferred": (2.0, 9.0)}
WHITE = "#ffffff"
FORCE = "#D55E00"
DRAFT = "#D55E00"


@dataclass
class Composed:
    """A plate made: the drawing, how its words read now, what could not be drawn, which shots it shows."""

    drawing: Drawing
    texts: list[Read] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    shots: list[str] = field(default_factory=list)
    placed: Placed = field(default_factory=Placed)
    panels: dict[str, Box] = field(default_factory=dict)  # insets and chart, by key
    window: Box | None = None
    box: Box | None = None

    @property
    def lost(self) -> list[tuple[str, str]]:
        return [x for t in self.texts for x in t.lost]

    @property
    def changed(self) -> list[tuple[str, str, str]]:
        return [x for t in self.texts for x in t.changed]


@dataclass(frozen=True)
class _Frame:
    """From pixels of a shot to drawing units."""

    shot: Shot
    window: Box
    box: Box
    camera: Camera | None
    flat: Flat | None = None

    @property
    def k(self) -> float:
        return (self.box[2] - self.box[0]) / (self.window[2] - self.window[0])

    def to(self, path: Array) -> Array:
        """Pixels to drawing units."""
        if self.flat is not None:
            path = self.flat.from_shot(path)
        return np.array(self.box[:2]) + (np.asarray(path, float) - np.array(self.window[:2])) * self.k

    def of(self, X: Array) -> Array | None:
        """Points of the car (n, 3) to drawing units; None without a camera or behind it."""
        if self.camera is None:
            return None
        p = self.camera.project(X)
        if not np.isfinite(p).all():
            return None
        p = self.to(p)
        return p if np.isfinite(p).all() else None

    def per_metre(self, X: Array) -> float:
        """Drawing units per metre at a point."""
        assert self.camera is not None
        return (self.camera.pixels_per_metre(X) if self.flat is None else self.flat.per_metre) * self.k


def compose(plate: Plate, style: Style, basis: Basis, *, draft: bool = False) -> Composed:
    """Make a plate's drawing.

    Parameters
    ----------
    draft : show photographs that may not go out yet, with a mark that says so; else they raise.

    Raises
    ------
    UnusableInput : a shot is gone, or may not be shown.
    """
    return _Composer(plate, style, basis, draft).made()


class _Composer:
    def __init__(self, plate: Plate, style: Style, basis: Basis, draft: bool) -> None:
        self.plate, self.style, self.basis, self.draft = plate, style, basis, draft
        self.drawing = Drawing(style.width, style.height, style.ground, mm=style.mm)
        self.out = Composed(self.drawing)
        self.labels: list[Label] = []
        self.kept: list[Box] = []
        self.ink: list[Array] = []
        self.step = 0
        self.sure: set[str] = set()
        self.credits: list[str] = []
        self.unclear: list[str] = []
        self.lit: list[Array] = []

    def made(self) -> Composed:
        plate, style = self.plate, self.style
        self.drawing.title = self.text(plate.title)
        frame = self._pictures()
        if frame is not None:
            for i, h in enumerate(plate.highlights):
                self._highlight(h, frame, f"highlight {i}")
            for i, a in enumerate(plate.arrows):
                self._arrow(a, frame, f"arrow {i}")
            for i, d in enumerate(plate.dimensions):
                self._dimension(d, frame, f"dimension {i}")
            self._scale_bar(frame)
            self._lighten(frame)
        elif plate.view is None:
            self._model()
        self._insets()
        self._chart()
        self._title()
        self._draft()
        x0, y0, x1, y1 = frame.box if frame else style.picture
        edge = 18.0
        room = Room((x0 + edge, y0 + edge, x1 - edge, y1 - edge), self.kept, self._ink())
        self.out.placed = put_labels(self.drawing, self.labels, room, style.size)
        self.out.notes += [f"no room for the label {name!r}" for name in self.out.placed.left_out]
        self.drawing.notes = self.out.notes
        return self.out

    def text(self, raw: str) -> str:
        if not raw:
            return ""
        got = read(raw, self.basis, self.plate.read or None)
        self.out.texts.append(got)
        return got.text

    def _ink(self) -> Array:
        if not self.ink:
            return np.empty((0, 2))
        return np.vstack([_dense(p) for p in self.ink])

    # Pictures -------------------------------------------------------------------------------------------------

    def _pictures(self) -> _Frame | None:
        plate = self.plate
        if plate.view is None:
            return None
        x0, y0, x1, y1 = self.style.picture
        if plate.beside is None:
            return self._picture(plate.view, self.style.picture)
        if self.style.aspect > 1:
            first, second = (x0, y0, (x0 + x1) / 2 - 3, y1), ((x0 + x1) / 2 + 3, y0, x1, y1)
        else:
            first, second = (x0, y0, x1, (y0 + y1) / 2 - 3), (x0, (y0 + y1) / 2 + 3, x1, y1)
        frame = self._picture(plate.view, first)
        self._picture(plate.beside, second)
        for view, box in ((plate.view, first), (plate.beside, second)):
            if view.caption:
                text = self.text(view.caption)
                size = 0.9 * self.style.size
                wide = typefaces.width(text, size, "strong") + 28
                tag = (box[0] + 18, box[1] + 18, box[0] + 18 + wide, box[1] + 18 + 1.75 * size)
                self.drawing.add(Fill(box_path(tag), look.PLATE, look.PLATE_ALPHA, round=4))
                self.drawing.add(Words(tag[0] + 14, tag[3] - 0.52 * size, text, size, WHITE, "strong"))
                self.kept.append(tag)
        return frame

    def _shot(self, id: str) -> Shot:
        from longlens.errors import UnusableInput

        shot = self.basis.dossier.get(Shot, id)
        why = withheld(shot)
        if not why and terms(shot.licence).no_changes:
            why = f"its licence ({shot.licence}) allows no changes, and a plate makes some"
        if why and not self.draft:
            fix = "write down its rights (longlens rights), or make a draft"
            raise UnusableInput(f"cannot be published: {why}", where=f"plate {self.plate.id!r}, shot {id!r}", fix=fix)
        if why:
            self.unclear.append(f"{id}: {why}")
        if id not in self.out.shots:
            self.out.shots.append(id)
            self.credits.append(credit_line(shot))
        return shot

    def _picture(self, view: View, place: Box) -> _Frame:
        shot = self._shot(view.shot)
        camera = self.basis.camera(shot.id)
        plane = self._plane(camera, place) if view is self.plate.view else None
        source: Source = FromDossier(self.basis.dossier, shot)
        if plane is not None:
            source = Straightened(self.basis.dossier, shot, plane)
            window, box = fitted(None, plane.size, place)
        else:
            keep = self._extent(shot.id) if view is self.plate.view else None
            window, box = fitted(view.window, (shot.width, shot.height), place, keep)
        foot = 0.34 if self.style.over and self.plate.beside is None else 0.3 if self.style.over else 0.0
        alt = f"Photograph {words(shot.id)}: {shot.note or 'the vehicle'}"
        self.drawing.add(Picture(source, window, box, alt, foot=foot))
        if self.out.window is None:
            self.out.window, self.out.box = window, box
        return _Frame(shot, window, box, camera, plane)

    def _plane(self, camera: Camera | None, place: Box) -> Flat | None:
        """The plane to which the photograph is straightened, None where it is not."""
        asked = self.plate.straight
        if asked is None:
            return None
        middle = self.basis.point(asked.through)
        if camera is None or middle is None:
            self.out.notes.append(f"not straightened: {asked.through} is not placed, or there is no camera")
            return None
        return flat(camera, middle, asked.side, asked.width, (place[2] - place[0]) / (place[3] - place[1]))

    def _extent(self, shot: str) -> Box | None:
        """The box round all that is brought out on a shot, pixels."""
        paths = [s.path for h in self.plate.highlights for s in subjects(h, shot, self.basis)[0]]
        paths += [np.asarray(a.path, float) for a in self.plate.arrows if a.path]
        camera = self.basis.camera(shot)
        for d in self.plate.dimensions:
            ends = dimension_ends(d.measure, self.basis)
            if camera is not None and not isinstance(ends, str):
                paths.append(camera.project(np.stack(ends)))
        stack = np.vstack(paths) if paths else np.empty((0, 2))
        stack = stack[np.isfinite(stack).all(axis=1)]
        if not len(stack):
            return None
        (x0, y0), (x1, y1) = stack.min(axis=0), stack.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    def _lighten(self, frame: _Frame) -> None:
        """The soft darkening of the rest, now that it is known what stays bright."""
        if not self.lit or self.plate.darken <= 0:
            return
        for i, item in enumerate(self.drawing.items):
            if isinstance(item, Picture) and item.box == frame.box:
                from longlens.publish.drawing import moved

                self.drawing.items[i] = moved(item, lit=tuple(self.lit), dim=self.plate.darken)
                return

    # What is brought out --------------------------------------------------------------------------------------

    def _highlight(self, h: Highlight, frame: _Frame, key: str) -> None:
        found, notes = subjects(h, frame.shot.id, self.basis)
        self.out.notes += notes
        if not found:
            return
        self.step += 1
        colour = SYSTEMS[found[0].system][1]
        for s in found:
            self._draw(s, frame)
        certainty = worst(found)
        targets = self._visible(np.vstack([_dense(frame.to(_end(s))) for s in found]), frame)
        if not len(targets):
            self.out.notes.append(f"{h.label or key} lies outside the window")
            return
        if h.label or h.line:
            aside = "" if certainty == "seen" else certainty
            self.labels.append(
                Label(
                    self.text(h.label),
                    self.text(h.line),
                    aside,
                    colour,
                    targets,
                    self.step,
                    self._by_hand(h.at),
                    key=key,
                )
            )

    def _draw(self, s: Subject, frame: _Frame) -> None:
        path = frame.to(s.path)
        colour, dash = SYSTEMS[s.system][1], DASHES[s.certainty]
        self.sure.add(s.certainty)
        self.lit.append(path)
        self.ink.append(np.vstack([path, path[:1]]) if s.closed else path)
        if s.across:
            self.drawing.add(Stroke(path, colour, max(s.across * frame.k, 5.0), edge=0, alpha=0.38, step=self.step))
        elif s.closed:
            self.drawing.add(Fill(path, colour, 0.14, self.step))
        self.drawing.add(Stroke(path, colour, 4.0, dash, s.closed, step=self.step, name=f"{s.name}: {s.certainty}"))

    def _visible(self, points: Array, frame: _Frame) -> Array:
        x0, y0, x1, y1 = frame.box
        if self.style.over:
            y1 = min(y1, self.style.words[1] + 20)
        ok = (points[:, 0] > x0 + 8) & (points[:, 0] < x1 - 8) & (points[:, 1] > y0 + 8) & (points[:, 1] < y1 - 8)
        return points[ok]

    def _by_hand(self, at: tuple[float, float] | None) -> tuple[float, float] | None:
        return None if at is None else (at[0] * self.style.width, at[1] * self.style.height)

    def _arrow(self, a: Arrow, frame: _Frame, key: str) -> None:
        path = (
            frame.of(_smooth(np.asarray(a.through, float)))
            if a.through
            else frame.to(_smooth(np.asarray(a.path, float)))
        )
        if path is None:
            self.out.notes.append(f"an arrow needs the camera of {frame.shot.id}, which the survey did not find")
            return
        self.step += 1
        colour = FORCE if a.kind == "force" else SYSTEMS[a.system or ""][1]
        width, head = (7.0, 34.0) if a.kind == "force" else (5.0, 27.0)
        body, tip = _cut_back(path, head * 0.8), path[-1]
        self.drawing.add(Stroke(body, colour, width, edge=2, step=self.step, name=a.label))
        tri = arrow_head(tip, body[-1], head)
        self.drawing.add(Stroke(tri, "#0b0d0f", 4.0, closed=True, edge=0, alpha=0.6, step=self.step))
        self.drawing.add(Fill(tri, colour, 1.0, self.step))
        self.ink += [path, tri]
        targets = self._visible(_dense(path), frame)
        if (a.label or a.line) and len(targets):
            self.labels.append(
                Label(
                    self.text(a.label),
                    self.text(a.line),
                    "",
                    colour,
                    targets,
                    self.step,
                    self._by_hand(a.at),
                    False,
                    key=key,
                )
            )

    def _dimension(self, d: Dimension, frame: _Frame, key: str) -> None:
        ends = dimension_ends(d.measure, self.basis)
        if isinstance(ends, str) or frame.camera is None:
            why = ends if isinstance(ends, str) else f"the survey found no camera for {frame.shot.id}"
            self.out.notes.append(f"dimension {d.measure}: {why}")
            return
        a, b = ends
        made = dimension_line(a, b, _away(d, a, b), 26.0 / frame.per_metre((a + b) / 2))
        line, heads = frame.of(made.line), [frame.of(h) for h in made.heads]
        outs = [frame.of(o) for o in made.out]
        if line is None or any(h is None for h in heads) or any(o is None for o in outs):
            self.out.notes.append(f"dimension {d.measure} lies behind the camera")
            return
        self.step += 1
        for o in outs:
            assert o is not None
            self.drawing.add(Stroke(o, WHITE, 1.6, edge=1.2, alpha=0.85, step=self.step))
        self.drawing.add(Stroke(line, WHITE, 2.6, edge=1.5, step=self.step, name=words(d.measure)))
        for h in heads:
            assert h is not None
            self.drawing.add(Fill(h, WHITE, 1.0, self.step))
        self.ink.append(line)
        ref = f"{{measure:{d.measure}}}"
        text = self.text(ref)
        targets = self._visible(line[len(line) // 3 : -len(line) // 3], frame)
        if len(targets):
            head = self.text(d.label) if d.label else ""
            self.labels.append(
                Label(head, text, "", WHITE, targets, self.step, self._by_hand(d.at), False, 2.5, 9.0, key)
            )

    def _scale_bar(self, frame: _Frame) -> None:
        bar = self.plate.scale_bar
        if bar is None:
            return
        place = self.basis.point(bar.through)
        if place is None or frame.camera is None:
            self.out.notes.append(f"the scale bar's point {bar.through} is not placed in {frame.shot.id}")
            return
        at = place - np.array([0, 0, bar.drop])
        at["xyz".index(bar.along)] -= bar.length / 2
        up = np.array([0.0, 0.0, 1.0]) if bar.along != "z" else np.array([1.0, 0.0, 0.0])
        thick = 11.0 / frame.per_metre(place)
        pieces = [frame.of(p) for p in scale_bar(at, bar.along, bar.length, thick, up)]
        if any(p is None for p in pieces):
            self.out.notes.append("the scale bar lies behind the camera")
            return
        self.step += 1
        shapes = [p for p in pieces if p is not None]
        for p in shapes:
            self.drawing.add(Stroke(p, "#0b0d0f", 3.0, closed=True, edge=0, step=self.step))
        for k, p in enumerate(shapes):
            self.drawing.add(Fill(p, WHITE if k % 2 == 0 else "#15181b", 1.0, self.step))
        self.ink += shapes
        size = f"{bar.length * 1000:.0f} mm"
        targets = self._visible(np.vstack(shapes), frame)
        if len(targets):
            self.labels.append(
                Label(
                    "",
                    size,
                    self.text(bar.label),
                    WHITE,
                    targets,
                    self.step,
                    self._by_hand(bar.at),
                    False,
                    2.5,
                    12.0,
                    "scale bar",
                )
            )

    # Beside the picture ---------------------------------------------------------------------------------------

    def _corner(self, corner: str, width: float, height: float) -> Box:
        x0, y0, x1, y1 = self.style.picture
        if self.style.over:
            y1 = self.style.words[1] - 6
        edge = 28.0
        left = corner.endswith("left")
        bx = x0 + edge if left else x1 - edge - width
        by = y0 + edge if corner.startswith("top") else y1 - edge - height
        box = (bx, by, bx + width, by + height)
        while any(_overlap(box, k) for k in self.kept) and box[3] < y1 + height and box[1] > y0 - height:
            move = height + 16 if corner.startswith("top") else -(height + 16)
            box = (box[0], box[1] + move, box[2], box[3] + move)
        return box

    def _panel(self, at: tuple[float, float] | None, corner: str, width: float, height: float) -> Box:
        """Where an inset or a chart stands: in its corner, or with its middle where it was put: within the picture, off
        the words and credits at its foot."""
        middle = self._by_hand(at)
        if middle is None:
            return self._corner(corner, width, height)
        px0, py0, px1, py1 = self.style.picture
        if self.style.over:
            py1 = self.style.words[1]
        x0 = min(max(middle[0] - width / 2, px0 + 6), max(px1 - 6 - width, px0 + 6))
        y0 = min(max(middle[1] - height / 2, py0 + 6), max(py1 - 6 - height, py0 + 6))
        return x0, y0, x0 + width, y0 + height

    def _insets(self) -> None:
        for i, inset in enumerate(self.plate.insets):
            width = inset.width * (self.style.picture[2] - self.style.picture[0])
            shot = self._shot(inset.view.shot)
            asked = inset.view.window or (-0.5, -0.5, shot.width - 0.5, shot.height - 0.5)
            height = width * (asked[3] - asked[1]) / (asked[2] - asked[0])
            box = self._panel(inset.at, inset.corner, width, height)
            window, box = fitted(asked, (shot.width, shot.height), box)
            self.out.panels[f"inset {i}"] = box
            self.step += 1
            self.drawing.add(
                Fill(box_path((box[0] - 4, box[1] - 4, box[2] + 4, box[3] + 4)), "#0b0d0f", 0.7, self.step, 5)
            )
            self.drawing.add(
                Picture(
                    FromDossier(self.basis.dossier, shot),
                    window,
                    box,
                    f"Closer: {inset.label}",
                    step=self.step,
                    border="#f1efea",
                )
            )
            self.kept.append((box[0] - 6, box[1] - 6, box[2] + 6, box[3] + 6))
            if inset.label:
                size = 0.85 * self.style.size
                text = typefaces.cut(self.text(inset.label), size, "strong", width - 24)
                wide = typefaces.width(text, size, "strong") + 24
                tag = (box[0] + 2, box[3] - 1.7 * size - 2, box[0] + 2 + wide, box[3] - 2)
                self.drawing.add(Fill(box_path(tag), look.PLATE, look.PLATE_ALPHA, self.step))
                self.drawing.add(Words(tag[0] + 12, tag[3] - 0.5 * size, text, size, WHITE, "strong", step=self.step))

    def _chart(self) -> None:
        chart = self.plate.chart
        if chart is None:
            return
        whole = self.style.picture
        width = chart.width * (whole[2] - whole[0])
        if self.style.name in ("square", "tall"):
            width = max(width, 0.62 * (whole[2] - whole[0]))
        size = self.style.size
        height = chart_height(chart, width, size)
        if self.plate.view is None and chart.width >= 0.9:  # it is the plate, and stands where it is
            box = (whole[0] + 90, whole[1] + 90, whole[2] - 90, min(whole[3], self.style.words[1]) - 20)
        else:
            box = self._panel(chart.at, chart.corner, width, height)
            self.out.panels["chart"] = box
        self.step += 1
        self.step, notes = put_chart(self.drawing, chart, box, self.basis, size, self.step)
        self.out.notes += notes
        self.kept.append(box)

    def _model(self) -> None:
        """A drawing from the model, seen straight from one side; only rods, cores and circles that were placed."""
        from longlens.publish.model import extent, model_of

        if self.plate.chart is not None and self.plate.chart.width >= 0.9:
            return
        model = model_of(self.basis)
        low, high = extent(model)
        across, up, sign = {"left": (0, 2, -1.0), "front": (1, 2, 1.0), "top": (0, 1, -1.0)}[self.plate.model_from]
        x0, y0, x1, y1 = self.style.picture
        if self.style.over:
            y1 = self.style.words[1] - 10
        k = 0.86 * min((x1 - x0) / max(high[across] - low[across], 1e-6), (y1 - y0) / max(high[up] - low[up], 1e-6))
        mid = (low + high) / 2

        def to(X: Array) -> Array:
            X = np.atleast_2d(X)
            return np.stack(
                [(x0 + x1) / 2 + sign * k * (X[:, across] - mid[across]), (y0 + y1) / 2 - k * (X[:, up] - mid[up])], 1
            )

        if up == 2:
            ground = to(np.array([low - 0.2, high + 0.2]))
            level = to(np.zeros((1, 3)))[0, 1]
            self.drawing.add(
                Stroke(np.array([(ground[:, 0].min(), level), (ground[:, 0].max(), level)]), "#565d63", 2.0, edge=0)
            )
        for centre, axis, radius, system in model.circles.values():
            self.drawing.add(
                Stroke(to(ring(centre, axis, radius)), SYSTEMS[system][1], 2.0, closed=True, edge=0, alpha=0.8)
            )
        for part in model.parts:
            colour = SYSTEMS[part.system][1]
            dash = DASHES["inferred"] if part.inferred else ()
            if part.kind == "core":
                self.drawing.add(Fill(to(part.path), colour, 0.18))
            self.drawing.add(Stroke(to(part.path), colour, 3.0, dash, part.kind == "core", edge=0, name=part.name))
        bar = 0.5
        a = np.array([(x0 + 60, y1 - 40), (x0 + 60 + k * bar, y1 - 40)])
        self.drawing.add(Stroke(a, WHITE, 4.0, edge=0))
        self.drawing.add(Words(a[0, 0], a[0, 1] - 14, f"{bar * 1000:.0f} mm", 0.85 * self.style.size, self.style.quiet))

    # Words ----------------------------------------------------------------------------------------------------

    def _title(self) -> None:
        s, d = self.style, self.drawing
        x0, y0, x1, y1 = s.words
        if y1 <= y0:  # its words stand beside it
            self.text(self.plate.text)
            self._key((s.picture[0] + 24, 0, s.picture[2] - 24, s.picture[3] - 20), 0.7 * s.size)
            return
        self.kept.append((s.words[0], s.words[1], s.words[2], s.height))
        size = s.size
        credit = "  |  ".join(self.credits)
        foot = [t for t in [credit] if t]
        small = 0.62 * size
        y = y1
        for line in reversed([x for t in foot for x in typefaces.wrapped(t, small, "regular", x1 - x0, 2)]):
            d.add(Words(x0, y, line, small, s.quiet))
            y -= 1.25 * small
        self._key((x0, y0, x1, y1), small)
        title = typefaces.wrapped(d.title, 1.75 * size, "strong", 0.86 * (x1 - x0) if s.over else x1 - x0, 2)
        text = typefaces.wrapped(
            self.text(self.plate.text), 1.08 * size, "regular", 0.84 * (x1 - x0) if s.over else x1 - x0, 3
        )
        if s.over:  # stands on the foot of the picture
            y -= 0.55 * size
            for line in reversed(text):
                d.add(Words(x0, y, line, 1.08 * size, s.ink))
                y -= 1.32 * size
            y -= 0.3 * size
            for line in reversed(title):
                d.add(Words(x0, y, line, 1.75 * size, s.ink, "strong"))
                y -= 1.85 * size
            return
        if self.out.box is not None and s.name != "print":
            y0 = max(self.out.box[3] + 20, y0 - 400)
        y = y0 + 1.6 * size
        for line in title:
            d.add(Words(x0, y, line, 1.75 * size, s.ink, "strong"))
            y += 1.85 * size
        y -= 0.25 * size
        for line in text:
            d.add(Words(x0, y, line, 1.08 * size, s.ink))
            y += 1.36 * size

    def _key(self, box: Box, size: float) -> None:
        """Which line means which certainty, where a plate shows more than what is seen."""
        if not self.sure - {"seen"}:
            return
        x, y = box[2], box[3]
        if not self.style.over and self.style.words[3] > self.style.words[1]:
            y -= 2.6 * size
        colour = self.style.quiet
        for certainty in reversed([c for c in LINES if c in self.sure]):
            x -= typefaces.width(certainty, size)
            self.drawing.add(Words(x, y, certainty, size, colour))
            x -= 64
            line = np.array([(x, y - 0.3 * size), (x + 52, y - 0.3 * size)])
            self.drawing.add(Stroke(line, self.style.ink, 3.0, DASHES[certainty], edge=0))
            x -= 26

    def _draft(self) -> None:
        if not self.unclear:
            return
        x0, y0, x1, _ = self.style.picture
        size = 0.95 * self.style.size
        strip = (x0, y0, x1, y0 + 1.9 * size)
        why = "; ".join(self.unclear)
        text = typefaces.cut(f"DRAFT, not cleared for publishing. {why}", size, "strong", x1 - x0 - 40)
        self.drawing.add(Fill(box_path(strip), DRAFT))
        self.drawing.add(Words((x0 + x1) / 2, strip[3] - 0.6 * size, text, size, "#000000", "strong", "middle"))
        mid = self.style.picture
        at = ((mid[0] + mid[2]) / 2, (mid[1] + mid[3]) / 2 + 70)
        self.drawing.add(Words(*at, "DRAFT", 200, "#f3b493", "strong", "middle", halo=3))
        self.kept.append(strip)


def dimension_ends(id: str, basis: Basis) -> tuple[Array, Array] | str:
    """The two points (3,) m between which a measure's dimension line runs, or why there is none."""
    measure = next((m for m in basis.document.measures if m.id == id), None)
    if measure is None:
        return "there is no such measure"
    if id not in basis.answer.get("measures", {}):
        return "the survey gives it no value"
    if measure.diameter is not None:
        found = basis.circle(measure.diameter)
        if found is None:
            return "its circle is not placed"
        centre, radius = np.asarray(found["centre_m"], float), float(found["radius_m"])
        axis = np.asarray(found["axis"], float)
        level = np.cross(axis, [0, 0, 1.0])
        level = level / np.linalg.norm(level) if np.linalg.norm(level) > 1e-6 else np.array([1.0, 0, 0])
        return centre - level * radius, centre + level * radius
    if measure.height is not None:
        p = basis.point(measure.height)
        return "its point is not placed" if p is None else (np.array([p[0], p[1], 0.0]), p)
    ids = measure.distance or measure.rise
    if ids is None:
        return "only lengths, diameters and heights are drawn as dimensions"
    p, q = (basis.point(i) for i in ids)
    if p is None or q is None:
        return "its points are not placed"
    along = "z" if measure.rise is not None else measure.along
    if along is not None:
        k = "xyz".index(along)
        q = p + np.eye(3)[k] * (q[k] - p[k])
    return p, q


def _away(d: Dimension, a: Array, b: Array) -> Array:
    if d.towards:
        sign = -1.0 if d.towards.startswith("-") else 1.0
        return sign * d.away * np.eye(3)["xyz".index(d.towards[-1])]
    mid = (a + b) / 2
    side = np.array([0.0, np.sign(mid[1]) or 1.0, 0.0])
    t = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
    return d.away * (side if abs(float(t @ side)) < 0.8 else np.array([0.0, 0.0, 1.0]))


def _end(s: Subject) -> Array:
    return np.vstack([s.path, s.path[:1]]) if s.closed else s.path


def _dense(path: Array, pitch: float = 8.0) -> Array:
    """The path with points no further apart than ``pitch``; its ends' tenth is left out where it is open."""
    p = np.asarray(path, float)
    if len(p) < 2:
        return p
    parts = []
    for a, b in pairwise(p):
        n = min(max(int(np.ceil(np.linalg.norm(b - a) / pitch)), 1), 400)
        parts.append(segment(a, b, n)[:-1])
    return np.vstack([*parts, p[-1:]])


def _smooth(p: Array) -> Array:
    """A curve through points (n, d): Catmull and Rom's."""
    if len(p) < 3:
        return segment(p[0], p[-1], 24)
    q = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    t = np.linspace(0, 1, 16, endpoint=False)[:, None]
    out = []
    for a, b, c, d in zip(q[:-3], q[1:-2], q[2:-1], q[3:], strict=True):
        out.append(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3))
    return np.vstack([*out, p[-1:]])


def _cut_back(path: Array, by: float) -> Array:
    """The path without its last ``by`` units, so that an arrow's head ends it."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    end = max(length[-1] - by, 0.3 * length[-1])
    last = np.array([np.interp(end, length, path[:, i]) for i in (0, 1)])
    return np.vstack([path[length < end], last])


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and a[2] > b[0] and a[1] < b[3] and a[3] > b[1]
