"""Where the parts of a network lie: measured lines and faces, and straight links where nothing was measured.

A node lies where the measured ends that meet there lie; a node without one lies between its neighbours. A part
without a line of its own is drawn straight between its nodes, and marked as inferred.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from .model import Circuit, node
from .places import Face

Array = Any
Certainty = Literal["seen", "partly", "inferred"]
_ROUNDS = 200


@dataclass(frozen=True)
class Layout:
    """Measured places of one network, draws on axis 0, m in vehicle axes (ISO 8855).

    lines : by part, (N, n, 3) along the flow as meant. places : by part, (N, 3). faces : by core. others : lines of no
    part (bleed lines), by name. outlets : where air may leave, (k, 3). certainty : by part, where it was told.
    """

    lines: Mapping[str, Array] = field(default_factory=dict)
    places: Mapping[str, Array] = field(default_factory=dict)
    faces: Mapping[str, Face] = field(default_factory=dict)
    others: Mapping[str, Array] = field(default_factory=dict)
    outlets: Array | None = None
    certainty: Mapping[str, Certainty] = field(default_factory=dict)

    @property
    def empty(self) -> bool:
        """Nothing was measured: nothing can be drawn in its place."""
        return not (self.lines or self.places or self.faces)


def layout_of(circuits: Mapping[str, Mapping[str, Any]], cores: Mapping[str, Mapping[str, Any]]) -> Layout:
    """The layout that a file's ``circuits`` and ``cores`` hold, as read by ``form``."""
    parts = [part for raw in circuits.values() for part in raw["parts"]]
    faces = {name: raw["face"] for name, raw in cores.items() if "face" in raw}
    own = {part["name"]: part["path"] for part in parts if "path" in part}
    places = {part["name"]: part["place"] for part in parts if "place" in part}
    told = {part["name"]: part["certainty"] for part in parts if "certainty" in part}
    return Layout(own, places, faces, certainty=told)


def through_face(face: Face) -> Array:
    """A line through the middle of a face along its tubes, (N, n, 3)."""
    return face.edge + 0.5 * face.across[:, None, :]


def part_lines(circuit: Circuit, layout: Layout) -> dict[str, tuple[np.ndarray, Certainty]]:
    """Median line (n, 3) of every part of a circuit that can be placed, along the flow as meant, and how sure it is.

    seen : measured all along. partly : one end, or a place only. inferred : between its neighbours. A core without a line
    of its own runs along the middle of its face, turned so that it meets its neighbours.
    """
    middles = {name: np.median(line, axis=0) for name, line in layout.lines.items()}
    faces = {
        part.name: np.median(through_face(layout.faces[part.name]), axis=0)
        for part in circuit.parts
        if part.name in layout.faces and part.name not in middles
    }
    places = {name: np.median(place, axis=0) for name, place in layout.places.items()}
    nodes = node_places(circuit, middles, places | {name: np.mean(line, axis=0) for name, line in faces.items()})
    found: dict[str, tuple[np.ndarray, Certainty]] = {}
    for part in circuit.parts:
        start, end = nodes.get(node(circuit.name, part.start)), nodes.get(node(circuit.name, part.end))
        told = layout.certainty.get(part.name)
        if part.name in middles or part.name in faces:
            line = middles[part.name] if part.name in middles else _turned(faces[part.name], start, end)
            ends = [p for p in (start, *line, end) if p is not None]
            found[part.name] = (_without_repeats(ends), told or "seen")
        elif part.name in places:
            ends = [p for p in (start, places[part.name], end) if p is not None]
            found[part.name] = (_without_repeats(ends), told or "partly")
        elif start is not None and end is not None:
            found[part.name] = (np.array([start, end]), told or "inferred")
    return found


def _turned(line: np.ndarray, start: np.ndarray | None, end: np.ndarray | None) -> np.ndarray:
    """The line, or the line turned round, whichever way is the shorter between its neighbours."""

    def way(points: np.ndarray) -> float:
        from_start = 0.0 if start is None else float(np.linalg.norm(points[0] - start))
        to_end = 0.0 if end is None else float(np.linalg.norm(points[-1] - end))
        return from_start + to_end

    return line if way(line) <= way(line[::-1]) else line[::-1]


def node_places(
    circuit: Circuit, lines: Mapping[str, np.ndarray], places: Mapping[str, np.ndarray]
) -> dict[str, np.ndarray]:
    """Median place of every node: the mean of the measured ends there, else between its neighbours."""
    ends: dict[str, list[np.ndarray]] = {}
    neighbours: dict[str, list[str | np.ndarray]] = {}
    for part in circuit.parts:
        start, end = node(circuit.name, part.start), node(circuit.name, part.end)
        if part.name in lines:
            ends.setdefault(start, []).append(lines[part.name][0])
            ends.setdefault(end, []).append(lines[part.name][-1])
        elif part.name in places:
            for one in (start, end):
                neighbours.setdefault(one, []).append(places[part.name])
        else:
            neighbours.setdefault(start, []).append(end)
            neighbours.setdefault(end, []).append(start)
    fixed = {key: np.mean(list_, axis=0) for key, list_ in ends.items()}
    return fixed | _relaxed({k: v for k, v in neighbours.items() if k not in fixed}, fixed)


def _relaxed(free: Mapping[str, list[str | np.ndarray]], fixed: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Each free node at the mean of its neighbours, from those that are known outward; unreachable ones are left out."""
    known: dict[str, np.ndarray] = {}
    for _ in range(_ROUNDS):
        before = dict(known)
        for key, around in free.items():
            near = [p if isinstance(p, np.ndarray) else known.get(p, fixed.get(p)) for p in around]
            there = [p for p in near if p is not None]
            if there:
                known[key] = np.mean(there, axis=0)
        if before.keys() == known.keys() and all(np.linalg.norm(known[k] - before[k]) < 1e-4 for k in known):
            break
    return known


def _without_repeats(points: list[np.ndarray]) -> np.ndarray:
    kept = [points[0]]
    for point in points[1:]:
        if np.linalg.norm(point - kept[-1]) > 1e-3:
            kept.append(point)
    if len(kept) == 1:
        kept.append(kept[0])
    return np.array(kept)
