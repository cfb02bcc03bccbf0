"""The car as the survey placed it: points, rods, cores, pipes, circles and cameras, for drawings and for the model file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from longlens.dossier.records import Mark
from longlens.publish.basis import Basis
from longlens.publish.drawing import Array
from longlens.publish.perspective import Camera


@dataclass(frozen=True)
class Part:
    """A path (n, 3) m through placed points; closed for a core's outline."""

    name: str
    path: Array
    system: str
    kind: str  # rod, core, pipe
    inferred: bool = False
    width: float | None = None
    through: tuple[str, ...] = ()


@dataclass
class Model:
    """All of one stage, vehicle axes, m."""

    points: dict[str, Array] = field(default_factory=dict)
    sds: dict[str, Array] = field(default_factory=dict)
    parts: list[Part] = field(default_factory=list)
    circles: dict[str, tuple[Array, Array, float, str]] = field(default_factory=dict)  # centre, axis, radius, system
    cameras: dict[str, tuple[Camera, int, int]] = field(default_factory=dict)  # with width and height, px


_KINDS = {"line": "rod", "outline": "core", "pipe": "pipe"}


def model_of(basis: Basis, stance: str = "static") -> Model:
    """The model in one stance; points of another stance (``name@stance``) are left out. Empty when nothing is solved."""
    out = Model()
    for id, got in basis.answer.get("points", {}).items():
        name, _, other = id.partition("@")
        if not other or other == stance:
            out.points[name] = np.asarray(got["xyz_m"], float)
            out.sds[name] = np.sqrt(np.maximum(np.diag(np.asarray(got["cov_m2"], float)), 0))
    for id, got in basis.answer.get("circles", {}).items():
        name, _, other = id.partition("@")
        if not other or other == stance:
            centre, axis = np.asarray(got["centre_m"], float), np.asarray(got["axis"], float)
            out.circles[name] = (centre, axis, float(got["radius_m"]), basis.system_of(id))
    seen: dict[tuple[str, tuple[str, ...]], Part] = {}
    for mark in basis.marks:
        part = _part(mark, out.points, basis)
        if part is not None:
            key = (part.kind, tuple(sorted(part.through)))
            if key not in seen or (seen[key].inferred and not part.inferred):
                seen[key] = part
    out.parts = list(seen.values())
    sizes = {s.id: (s.width, s.height) for s in basis.document.shots}
    for shot in basis.answer.get("shots", {}):
        camera = basis.camera(shot)
        if camera is not None and shot in sizes:
            out.cameras[shot] = (camera, *sizes[shot])
    return out


def _part(mark: Mark, points: dict[str, Array], basis: Basis) -> Part | None:
    if mark.form not in _KINDS or not mark.along or mark.set_aside:
        return None
    names = tuple(p.partition("@")[0] for p in mark.along)
    if any(n not in points for n in names):
        return None
    path = np.stack([points[n] for n in names])
    width = None
    if mark.width_px and (camera := basis.camera(mark.shot)) is not None:
        width = mark.width_px / camera.pixels_per_metre(path[len(path) // 2])
    return Part(mark.part, path, mark.system or "", _KINDS[mark.form], mark.certainty == "inferred", width, names)


def extent(model: Model) -> tuple[Array, Array]:
    """Lower and upper corner of all that was placed, m."""
    places: Sequence[Array] = [*model.points.values(), *(p for part in model.parts for p in part.path)]
    if not places:
        return np.zeros(3), np.ones(3)
    stack = np.vstack(places)
    for centre, axis, radius, _ in model.circles.values():
        room = radius * np.sqrt(np.maximum(1 - (axis / np.linalg.norm(axis)) ** 2, 0))
        stack = np.vstack([stack, centre + room, centre - room])
    return stack.min(axis=0), stack.max(axis=0)
