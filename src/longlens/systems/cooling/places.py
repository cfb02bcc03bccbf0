"""Lines and faces from measured places: points of a survey, or places written out, read into draws.

A place is ``{"point": "left.cooler.corner.start_upper"}``, or any figure of three in vehicle axes (ISO 8855), or plain
``[x, y, z]`` in m. Beside a point may stand

``offset``    added to it: a mark that lies beside what is meant (a pipe's bracket), or a place judged from there
``mirror``    true: the place across the centre plane (y turned round), before the offset
``otherwise`` another place, taken where the dossier does not have the point
``optional``  true: left out where the dossier does not have the point

The survey's frame is free along x where no mark fixes it: a place that no photograph shows is better given from a point
near it than by figures of its own.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from longlens.numbers.number import Number
from longlens.numbers.trail import Origin
from longlens.systems.given import Reading

Array = Any
#: Points on one line; a line drawn by hand has tens, a stranger's file may have more.
MAX_PLACES = 400
#: m: no line in a car is longer; places may lie anywhere, for a survey's frame is free along x.
_LONGEST = 40.0


class Face(NamedTuple):
    """A core's face: one edge along the tubes (N, n, 3) and the way from there to the other edge (N, 3), m."""

    edge: Array
    across: Array

    @property
    def outline(self) -> Array:
        """Corners and edge points all round, (N, 2n, 3)."""
        other = self.edge + self.across[:, None, :]
        return np.concatenate([self.edge, other[:, ::-1]], axis=1)


def line_length(points: Array) -> Array:
    """Length of a line through ``points`` (…, n, 3), m: chords, each lengthened to the arc that its turning shows.

    A smooth line turning by θ at each inner point is longer than its chords by about θ²/24 each; corners sharper
    than 60° are taken as corners. On a quarter circle of five points the error is under 0.1 % (chords: 0.6 %).
    """
    step = np.diff(points, axis=-2)
    chord = np.linalg.norm(step, axis=-1)
    if step.shape[-2] < 2:
        return np.sum(chord, axis=-1)
    unit = step / np.maximum(chord, 1e-12)[..., None]
    cosine = np.clip(np.sum(unit[..., :-1, :] * unit[..., 1:, :], axis=-1), -1.0, 1.0)
    turn = np.arccos(cosine)
    turn = np.where(turn > np.pi / 3.0, 0.0, turn)
    own = np.concatenate([turn[..., :1], 0.5 * (turn[..., :-1] + turn[..., 1:]), turn[..., -1:]], axis=-1)
    return np.sum(chord * (1.0 + own**2 / 24.0), axis=-1)


def face_measures(face: Face) -> dict[str, Array]:
    """Developed area, area seen along x (the flow), and length along the tubes: m², m², m, each (N,).

    The face is ruled: its edge moved along the side across. Seen from the front it covers the sum of its strips'
    projections, each with the sign that its neighbours have, so that a folded face is not counted twice.
    """
    length = line_length(face.edge)
    step = np.diff(face.edge, axis=-2)
    normal = np.cross(step, face.across[:, None, :])
    chords = np.sum(np.linalg.norm(normal, axis=-1), axis=-1)
    straight = np.maximum(np.sum(np.linalg.norm(step, axis=-1), axis=-1), 1e-12)
    frontal = np.abs(np.sum(normal[..., 0], axis=-1))
    return {"face_area": chords * length / straight, "frontal_area": frontal, "tube_length": length}


def read_line(raw: Any, reading: Reading, name: str) -> Array:
    """Draws (N, n, 3) of a line; what it rests on is kept with the reading."""
    if isinstance(raw, dict):  # one figure that holds them all
        found = reading.number(raw, name, "m", shape=None)
        if found.ndim != 3 or found.shape[-1] != 3 or found.shape[1] < 2:
            raise reading.wrong(name, "is no list of places", "write [[x, y, z], …], two or more")
        _check_extent(found, reading, name)
        return found
    if not isinstance(raw, list) or not 2 <= len(raw) <= MAX_PLACES:
        raise reading.wrong(name, "is no list of places", f"write [[x, y, z], …], 2 to {MAX_PLACES} of them")
    draws, origins = _places(raw, reading, name)
    if len(draws) < 2:
        raise reading.wrong(name, "has fewer than two places that are known", "mark another point along it")
    line = np.stack(np.broadcast_arrays(*draws), axis=1)
    _check_extent(line, reading, name)
    _record(reading, name, line, "m", "places along a line", origins)
    return line


def _check_extent(line: Array, reading: Reading, name: str) -> None:
    middle = np.median(line, axis=0)
    if np.max(np.ptp(middle, axis=0)) > _LONGEST:
        raise reading.wrong(name, f"is over {_LONGEST:.0f} m long", "check its unit; plain places are in m")


def read_place(raw: Any, reading: Reading, name: str) -> Array:
    """Draws (N, 3) of one place."""
    draws, origins = _places([raw], reading, name)
    if not draws:
        raise reading.wrong(name, "is not known", "mark the point, or give otherwise")
    _record(reading, name, draws[0], "m", "a place", origins)
    return draws[0]


def read_face(raw: Any, reading: Reading, name: str) -> tuple[Face | None, dict[str, Array]]:
    """A core's face ``{"edge": [places along the tubes], "side": [place, place]}`` and its three measures.

    ``side`` goes from that edge to the other, across the tubes; it may be marked anywhere along the face. Where the
    dossier lacks the points, the figures under ``otherwise`` are the caller's to read: the face then is None.
    """
    entry = reading.table(raw, name, ("edge", "side"), ("otherwise",))
    if "otherwise" in entry and not all(_known(item, reading) for key in ("edge", "side") for item in entry[key]):
        return None, {}
    edge, edge_origins = _places(_listed(entry["edge"], reading, f"{name}.edge"), reading, f"{name}.edge")
    side, side_origins = _places(_listed(entry["side"], reading, f"{name}.side"), reading, f"{name}.side")
    if len(edge) < 2 or len(side) != 2:
        raise reading.wrong(
            name, "needs two places or more along its edge and two for its side", "mark the corners of the finned face"
        )
    points = np.stack(np.broadcast_arrays(*edge), axis=1)
    face = Face(points, np.broadcast_to(side[1] - side[0], points[:, 0].shape))
    measures = face_measures(face)
    origins = tuple(dict.fromkeys((*edge_origins, *side_origins)))
    return face, {
        key: _record(reading, f"{name.rpartition('.')[0]}.{key}", value, unit, told, origins)
        for (key, value), unit, told in zip(measures.items(), ("m2", "m2", "m"), _TOLD, strict=True)
    }


def mirrored(face: Face) -> Face:
    """The same face across the centre plane."""
    turned = np.array([1.0, -1.0, 1.0])
    return Face(face.edge * turned, face.across * turned)


_TOLD = (
    "developed area between the face's edges",
    "the face as seen along the car",
    "length of the face's edge along the tubes",
)


def derived_length(reading: Reading, name: str, line: Array, of: str) -> Array:
    """Length of a line read before under ``of``, kept with its trail."""
    found = reading.numbers.get(f"{reading.name}.{of}")
    inputs = () if found is None else (found.origin,)
    return _record(reading, name, line_length(line), "m", "length along the measured line", inputs)


def _record(
    reading: Reading, name: str, draws: Array, unit: str, model: str, origins: tuple[Origin, ...]
) -> np.ndarray:
    kind = "computed" if origins else "stated"
    full = f"{reading.name}.{name}"
    values = np.ascontiguousarray(np.broadcast_to(draws, (reading.draws, *np.shape(draws)[1:])), dtype=float)
    reading.numbers[full] = Number(values, unit, Origin(full, kind, model=model, inputs=origins))  # type: ignore[arg-type]
    return values


def _listed(raw: Any, reading: Reading, name: str) -> list[Any]:
    if not isinstance(raw, list) or not 1 < len(raw) <= MAX_PLACES:
        raise reading.wrong(name, "must be a list of places", '[{"point": "…"}, {"point": "…"}]')
    return raw


def _known(item: Any, reading: Reading) -> bool:
    """Can the place be had from the dossier (or is it a figure)? Those that may be left out count as had."""
    if isinstance(item, str):
        item = {"point": item}
    if not isinstance(item, dict) or "point" not in item:
        return True
    return f"point:{item['point']}" in reading.known or "otherwise" in item or item.get("optional") is True


def _places(raw: list[Any], reading: Reading, name: str) -> tuple[list[Array], tuple[Origin, ...]]:
    """Draws (N, 3) of the places that are known, and their origins. Kept apart: the line is one number."""
    apart = Reading(reading.where, reading.name, reading.draws, reading.scope, reading.known)
    draws = [_place(item, apart, f"{name}[{k}]") for k, item in enumerate(raw)]
    origins = tuple(number.origin for number in apart.numbers.values())
    return [place for place in draws if place is not None], origins


_BESIDE = ("offset", "mirror", "optional")


def _place(item: Any, reading: Reading, where: str, depth: int = 0) -> Array | None:
    if depth > 8:
        raise reading.wrong(where, "has otherwise within otherwise too often", "give fewer")
    if isinstance(item, str):
        item = {"point": item}
    if isinstance(item, list):
        item = {"value": item, "unit": "m"}
    if not isinstance(item, dict) or "point" not in item:
        return reading.number(item, where, "m", shape=(3,))
    beside = {key: item[key] for key in _BESIDE if key in item}
    for key in ("mirror", "optional"):
        if beside.get(key, False) not in (True, False):
            raise reading.wrong(f"{where}.{key}", "must be true or false", "write true or false")
    if f"point:{item['point']}" not in reading.known:
        if "otherwise" in item:
            return _place(item["otherwise"], reading, where, depth + 1)
        if beside.get("optional"):
            return None
    plain = {key: value for key, value in item.items() if key not in (*_BESIDE, "otherwise")}
    place = reading.number(plain, where, "m", shape=(3,))
    if beside.get("mirror"):
        place = place * np.array([1.0, -1.0, 1.0])
    if "offset" in beside:
        offset = beside["offset"]
        offset = {"value": offset, "unit": "m"} if isinstance(offset, list) else offset
        place = place + reading.number(offset, f"{where}.offset", "m", plausible=(-10.0, 10.0), shape=(3,))
    return place
