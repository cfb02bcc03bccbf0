"""Lines and faces from measured places: points of a survey, or places written out, read into draws.

A place is ``{"point": "left.cooler.corner.start_upper"}`` (with ``otherwise`` where the dossier may lack it), or
``[x, y, z]`` in m (ISO 8855), or any figure of that shape. ``offset`` beside it is added, for a mark that lies beside
what is meant (a pipe's bracket); ``"optional": true`` leaves a place out where the dossier does not have the point.
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
_FAR = (-30.0, 30.0)


class Face(NamedTuple):
    """A core's face: its edge along the tubes (N, n, 3) and the side across them (N, 3), m."""

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
        found = reading.number(raw, name, "m", plausible=_FAR, shape=None)
        if found.ndim != 3 or found.shape[-1] != 3 or found.shape[1] < 2:
            raise reading.wrong(name, "is no list of places", "write [[x, y, z], …], two or more")
        return found
    if not isinstance(raw, list) or not 2 <= len(raw) <= MAX_PLACES:
        raise reading.wrong(name, "is no list of places", f"write [[x, y, z], …], 2 to {MAX_PLACES} of them")
    draws, origins = _places(raw, reading, name)
    if len(draws) < 2:
        raise reading.wrong(name, "has fewer than two places that are known", "mark another point along it")
    line = np.stack(np.broadcast_arrays(*draws), axis=1)
    _record(reading, name, line, "m", "places along a line", origins)
    return line


def read_place(raw: Any, reading: Reading, name: str) -> Array:
    """Draws (N, 3) of one place."""
    draws, origins = _places([raw], reading, name)
    if not draws:
        raise reading.wrong(name, "is not known", "mark the point, or give otherwise")
    _record(reading, name, draws[0], "m", "a place", origins)
    return draws[0]


def read_face(raw: Any, reading: Reading, name: str) -> tuple[Face, dict[str, Array]]:
    """A core's face ``{"edge": [places along the tubes], "side": [place, place]}`` and its three measures.

    ``side`` goes from one long edge to the other, across the tubes; it may be marked anywhere along the face.
    """
    entry = reading.table(raw, name, ("edge", "side"))
    edge, edge_origins = _places(_listed(entry["edge"], reading, f"{name}.edge"), reading, f"{name}.edge")
    side, side_origins = _places(_listed(entry["side"], reading, f"{name}.side"), reading, f"{name}.side")
    if len(edge) < 2 or len(side) != 2:
        raise reading.wrong(
            name, "needs two places or more along its edge and two for its side", "mark the corners of the finned face"
        )
    points = np.stack(np.broadcast_arrays(*edge), axis=1)
    face = Face(points, np.broadcast_to(side[1] - side[0], points[:, 0].shape))
    measures = face_measures(face)
    origins = (*edge_origins, *side_origins)
    return face, {
        key: _record(reading, f"{name.rpartition('.')[0]}.{key}", value, unit, told, origins)
        for (key, value), unit, told in zip(measures.items(), ("m2", "m2", "m"), _TOLD, strict=True)
    }


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


def _places(raw: list[Any], reading: Reading, name: str) -> tuple[list[Array], tuple[Origin, ...]]:
    """Draws (N, 3) of the places that are known, and their origins. Kept apart: the line is one number."""
    apart = Reading(reading.where, reading.name, reading.draws, reading.scope, reading.known)
    draws: list[Array] = []
    for k, item in enumerate(raw):
        where = f"{name}[{k}]"
        offset, optional = None, False
        if isinstance(item, str):
            item = {"point": item}
        if isinstance(item, dict):
            item = dict(item)
            offset, optional = item.pop("offset", None), item.pop("optional", False)
            if optional not in (True, False):
                raise reading.wrong(f"{where}.optional", "must be true or false", "write true or false")
            if optional and f"point:{item.get('point')}" not in reading.known and "otherwise" not in item:
                continue
        elif isinstance(item, list):
            item = {"value": item, "unit": "m"}
        place = apart.number(item, where, "m", plausible=_FAR, shape=(3,))
        if offset is not None:
            place = place + apart.number(_metres(offset), f"{where}.offset", "m", plausible=(-5.0, 5.0), shape=(3,))
        draws.append(place)
    origins = tuple(number.origin for number in apart.numbers.values())
    return draws, origins


def _metres(raw: Any) -> Any:
    return {"value": raw, "unit": "m"} if isinstance(raw, list) else raw
