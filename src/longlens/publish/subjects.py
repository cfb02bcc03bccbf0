"""What a highlight brings out on one photograph: paths in its pixels, each with its certainty and its system."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from longlens.dossier.records import Certainty, Mark
from longlens.publish.basis import Basis
from longlens.publish.drawing import Array
from longlens.publish.names import LINES, words
from longlens.publish.perspective import Camera, ring, segment
from longlens.publish.plates import Highlight

_RANK: list[str] = list(LINES)


@dataclass(frozen=True)
class Subject:
    """A path (n, 2) in pixels of the photograph."""

    path: Array
    closed: bool
    certainty: Certainty
    system: str
    across: float | None = None  # width of a pipe, px
    name: str = ""


def subjects(highlight: Highlight, shot: str, basis: Basis) -> tuple[list[Subject], list[str]]:
    """The paths of a highlight on a shot, and what could not be drawn."""
    out: list[Subject] = []
    notes: list[str] = []
    here = [m for m in basis.marks if m.shot == shot and not m.set_aside]
    by_id = {m.id: m for m in here}
    for part in highlight.parts:
        found = [s for m in here if m.part == part for s in _of_mark(m)]
        out += found
        if not found:
            notes.append(f"nothing is drawn of {part} on {shot}")
    for id in highlight.marks:
        if id in by_id:
            out += _of_mark(by_id[id], single=True)
        else:
            notes.append(f"there is no mark {id} on {shot}")
    out += _of_model(highlight, shot, basis, here, notes)
    if highlight.certainty or highlight.system:
        out = [
            Subject(
                s.path, s.closed, highlight.certainty or s.certainty, highlight.system or s.system, s.across, s.name
            )
            for s in out
        ]
    return out, notes


def worst(found: Sequence[Subject]) -> Certainty:
    """The least certain of the paths."""
    return max((s.certainty for s in found), key=_RANK.index, default="seen")


def _of_mark(mark: Mark, single: bool = False) -> list[Subject]:
    system = mark.system or ""
    if mark.form == "rim":
        edge = np.asarray(mark.edge, float)
        return [Subject(_round(edge), True, mark.certainty, system, name=mark.part)] if len(edge) > 4 else []
    if mark.form == "point":
        if not single:
            return []
        t = np.linspace(0, 2 * np.pi, 40, endpoint=False)
        r = 14.0
        path = np.stack([(mark.x or 0) + r * np.cos(t), (mark.y or 0) + r * np.sin(t)], axis=1)
        return [Subject(path, True, mark.certainty, system, name=mark.part)]
    path = np.asarray(mark.path, float)
    return [Subject(path, mark.form == "outline", mark.certainty, system, mark.width_px, mark.part)]


def _round(edge: Array) -> Array:
    """The whole ellipse through rim points."""
    import cv2

    (cx, cy), (w, h), turn = cv2.fitEllipse(edge.astype(np.float32))
    t = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    x, y = w / 2 * np.cos(t), h / 2 * np.sin(t)
    return np.stack([cx + c * x - s * y, cy + s * x + c * y], axis=1)


def _of_model(highlight: Highlight, shot: str, basis: Basis, here: Sequence[Mark], notes: list[str]) -> list[Subject]:
    if not (highlight.rods or highlight.outline or highlight.circle):
        return []
    camera = basis.camera(shot)
    if camera is None:
        notes.append(f"the survey found no camera for {shot}: nothing can be projected into it")
        return []
    marked: dict[str, Certainty] = {m.point: m.certainty for m in here if m.point}
    out = []
    for chain in highlight.rods:
        path = _projected(chain, camera, basis, notes, closed=False)
        if path is not None:
            system = highlight.system or basis.system_of(chain[0])
            out.append(Subject(path, False, _sure(chain, marked), system, name=words(chain[0])))
    if highlight.outline:
        path = _projected(highlight.outline, camera, basis, notes, closed=True)
        if path is not None:
            system = highlight.system or basis.system_of(highlight.outline[0])
            out.append(Subject(path, True, _sure(highlight.outline, marked), system))
    if highlight.circle:
        found = basis.circle(highlight.circle)
        if found is None:
            notes.append(f"the survey did not place the circle {highlight.circle}")
        else:
            path = camera.project(ring(found["centre_m"], found["axis"], found["radius_m"]))
            if np.isfinite(path).all():
                system = highlight.system or basis.system_of(highlight.circle)
                rim = any(m.circle == highlight.circle for m in here)
                out.append(Subject(path, True, "seen" if rim else "partly seen", system))
    return out


def _projected(ids: Sequence[str], camera: Camera, basis: Basis, notes: list[str], *, closed: bool) -> Array | None:
    places = [basis.point(i) for i in ids]
    missing = [i for i, p in zip(ids, places, strict=True) if p is None]
    if missing:
        notes.append(f"not placed by the survey: {', '.join(missing)}")
        return None
    X = [p for p in places if p is not None]
    ends = [*X, X[0]] if closed else X
    path = camera.project(np.vstack([segment(a, b)[:-1] for a, b in pairwise(ends)] + [ends[-1:]]))
    if not np.isfinite(path).all():
        notes.append(f"{ids[0]} lies behind the camera")
        return None
    return path


def _sure(ids: Sequence[str], marked: dict[str, Certainty]) -> Certainty:
    """Seen where every point is marked on this photograph; what is only computed into it counts as partly seen."""
    return max((marked.get(i, "partly seen") for i in ids), key=_RANK.index)
