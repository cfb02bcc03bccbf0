"""The exchange document, version 1: the open JSON form of what the survey needs.

SI units (m, rad unless a name ends in ``_deg``); pixels with (0, 0) at the centre of the top-left pixel, x right,
y down. Vehicle axes as in ISO 8855: x forward, y to the left, z up; the centre plane is y = 0.

Unknown fields are passed over and named (:func:`read_exchange` returns them as remarks); a field that is known but does
not fit is refused with its place and the reason.
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from longlens.errors import UnusableInput

FORMAT = "longlens-exchange"
VERSION = 1
MAX_BYTES = 64 * 1024 * 1024
MAX_ITEMS = 200_000

LENGTH_UNITS = {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "in": 0.0254, "ft": 0.3048}

Id = Annotated[str, Field(min_length=1, max_length=200)]
Text = Annotated[str, Field(max_length=10_000)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Pixel = tuple[Finite, Finite]
Axis = Literal["x", "y", "z"]


class _Record(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=False)


class Vehicle(_Record):
    """The vehicle that the photographs show."""

    name: Text


class Shot(_Record):
    """One photograph: its size in pixels, its stance, and what is known of its camera."""

    id: Id
    width: Annotated[int, Field(gt=0, le=200_000)]
    height: Annotated[int, Field(gt=0, le=200_000)]
    stance: Id = Field("static", description="Shots that share one share ride height and steer.")
    camera: Id | None = Field(None, description="Shots with the same one share focal length and k1.")
    focal_px: Positive | None = Field(None, description="Known focal length, pixels.")
    focal_sd_px: Positive | None = Field(None, description="Standard deviation of focal_px, pixels.")
    principal_px: Pixel | None = Field(None, description="Known principal point; default: the image centre.")
    principal_sd_px: Positive | None = Field(None, description="Its standard deviation; default 0.5 % of the width.")
    cropped: bool = Field(False, description="The picture was cropped: the principal point is free.")
    file: Text | None = None
    credit: Text | None = None
    licence: Text | None = None
    date: Text | None = None

    @model_validator(mode="after")
    def _priors_whole(self) -> Shot:
        if self.focal_px is not None and self.focal_sd_px is None:
            raise ValueError("focal_px needs focal_sd_px beside it: how well is the focal length known?")
        if self.focal_sd_px is not None and self.focal_px is None:
            raise ValueError("focal_sd_px stands without focal_px")
        return self


class Point(_Record):
    """A point of the car (or of the ground)."""

    id: Id
    mirror: Id | None = Field(None, description="The id of its twin across the centre plane.")
    mirror_sd: NotNegative = Field(0.0, description="How far the twins may differ, m in each coordinate.")
    on: Literal["centre_plane", "ground"] | None = None


class Circle(_Record):
    """A circle of the car: a rim, a tyre, a disc."""

    id: Id
    centre: Id | None = Field(None, description="A point id.")
    axis: Literal["lateral"] | None = Field(None, description="Parallel to y, within axis_sd_deg.")
    axis_sd_deg: NotNegative = Field(
        1.0, description="Used with axis only, degrees about x and about z; the default is a usual camber."
    )


class Fact(_Record):
    """A published figure: what it is of, its value, how well it is known, and where it came from."""

    id: Id
    value: Finite | tuple[Finite, Finite, Finite]
    sd: NotNegative
    unit: Text = "m"
    source: Text = ""
    distance: tuple[Id, Id] | None = None
    along: Axis | None = None
    diameter: list[Id] | None = Field(None, min_length=1, description="Circles that all share it.")
    position: Id | None = None

    @model_validator(mode="after")
    def _one_thing(self) -> Fact:
        given = [k for k in ("distance", "diameter", "position") if getattr(self, k) is not None]
        if len(given) != 1:
            raise ValueError("a fact is of exactly one of distance, diameter, position")
        if self.unit not in LENGTH_UNITS:
            raise ValueError(f"unit {self.unit!r} is not a length: use one of {', '.join(LENGTH_UNITS)}")
        if (self.position is not None) != isinstance(self.value, tuple):
            raise ValueError("value is [x, y, z] for a position and one number otherwise")
        if self.along is not None and self.distance is None:
            raise ValueError("along goes with distance only")
        if self.distance is not None and self.distance[0] == self.distance[1]:
            raise ValueError("a distance is between two different points")
        if not isinstance(self.value, tuple) and self.value <= 0 and self.along is None:
            raise ValueError("a length must be positive")
        return self


class Mark(_Record):
    """Where something was seen on a shot: a point, or points on a circle's rim."""

    shot: Id
    sd_px: Positive
    point: Id | None = None
    x: Finite | None = None
    y: Finite | None = None
    circle: Id | None = None
    edge: list[Pixel] | None = Field(None, min_length=1)
    inferred: bool = Field(False, description="Drawn, not fitted.")
    # Beyond version 1's own fields (optional, ours).
    certainty: Literal["seen", "partly seen", "inferred"] | None = Field(
        None, description="How well it was seen; fitted all the same unless inferred."
    )

    @model_validator(mode="after")
    def _one_form(self) -> Mark:
        if self.certainty is not None and (self.certainty == "inferred") != self.inferred:
            raise ValueError("certainty and inferred contradict each other")
        if (self.point is None) == (self.circle is None):
            raise ValueError("a mark is of a point (with x, y) or of a circle (with edge)")
        if self.point is not None and (self.x is None or self.y is None):
            raise ValueError("the mark of a point needs x and y")
        if self.circle is not None and not self.edge:
            raise ValueError("the mark of a circle needs edge: points seen on its rim")
        return self


class RodEdges(_Record):
    """Two edges of a rod or pipe seen on one picture, at a known point of its centre line."""

    at: Id = Field(description="A surveyed point on or beside the rod where the edges were marked.")
    shot: Id
    edges: tuple[Pixel, Pixel] = Field(description="One pixel on each edge, straight across the rod.")
    sd_px: Positive = 1.0
    towards: Id | None = Field(None, description="Another point on the rod's centre line: gives its direction.")


class Measure(_Record):
    """What is asked for. Exactly one kind; ``along`` goes with ``distance``."""

    id: Id
    distance: tuple[Id, Id] | None = None
    along: Axis | None = None
    angle: tuple[Id, Id, Id] | None = Field(None, description="[a, vertex, b]")
    ratio: tuple[Id, Id] | None = Field(None, description="[measure, measure]")
    diameter: Id | None = Field(None, description="A circle id.")
    area: list[Id] | None = Field(None, min_length=3, description="Planar polygon.")
    radius: list[Id] | None = Field(None, min_length=3, description="Circle through, or fitted to, the points.")
    height: Id | None = Field(None, description="Over the ground.")
    # Beyond version 1's own kinds (optional, ours).
    rod_diameter: RodEdges | None = None
    face_area: tuple[list[Id], list[Id]] | None = Field(
        None, description="Developed area of a curved face between two rails of as many points each."
    )
    rise: list[Id] | None = Field(None, min_length=2, description="Height of the last point over the first.")
    least_rise: list[Id] | None = Field(
        None,
        min_length=2,
        description="Least rise from point to point along a line: positive if it rises all the way.",
    )

    @model_validator(mode="after")
    def _one_kind(self) -> Measure:
        given = [k for k in MEASURE_KINDS if getattr(self, k) is not None]
        if len(given) != 1:
            raise ValueError(f"a measure is exactly one of {', '.join(MEASURE_KINDS)}")
        if self.along is not None and self.distance is None:
            raise ValueError("along goes with distance only")
        if self.distance is not None and self.distance[0] == self.distance[1]:
            raise ValueError("a distance is between two different points")
        if self.angle is not None and self.angle[1] in (self.angle[0], self.angle[2]):
            raise ValueError("an angle needs two points that differ from its vertex")
        if self.face_area is not None and (
            len(self.face_area[0]) != len(self.face_area[1]) or len(self.face_area[0]) < 2
        ):
            raise ValueError("face_area needs two rails of equally many points, two at least")
        return self

    @property
    def kind(self) -> str:
        return next(k for k in MEASURE_KINDS if getattr(self, k) is not None)


MEASURE_KINDS = (
    "distance",
    "angle",
    "ratio",
    "diameter",
    "area",
    "radius",
    "height",
    "rod_diameter",
    "face_area",
    "rise",
    "least_rise",
)


class EqualLength(_Record):
    """Two pairs of points with the same distance: a rod in two stances, a rigid body, a rod and its twin."""

    one: tuple[Id, Id]
    other: tuple[Id, Id]
    sd: NotNegative = Field(2e-4, description="How far the two may differ, m.")
    why: Text = ""

    @model_validator(mode="after")
    def _two_points(self) -> EqualLength:
        if self.one[0] == self.one[1] or self.other[0] == self.other[1]:
            raise ValueError("a length is between two different points")
        return self


class ExchangeDocument(_Record):
    """The whole document. References between its parts are checked."""

    format: Literal["longlens-exchange"]
    version: Literal[1]
    vehicle: Vehicle
    shots: Annotated[list[Shot], Field(max_length=MAX_ITEMS)] = []
    points: Annotated[list[Point], Field(max_length=MAX_ITEMS)] = []
    circles: Annotated[list[Circle], Field(max_length=MAX_ITEMS)] = []
    facts: Annotated[list[Fact], Field(max_length=MAX_ITEMS)] = []
    marks: Annotated[list[Mark], Field(max_length=MAX_ITEMS)] = []
    measures: Annotated[list[Measure], Field(max_length=MAX_ITEMS)] = []
    equal_lengths: Annotated[list[EqualLength], Field(max_length=MAX_ITEMS)] = []


def read_exchange(source: str | bytes | Path | dict[str, Any]) -> tuple[ExchangeDocument, list[str]]:
    """Read and check an exchange document.

    Parameters
    ----------
    source : a path, JSON text or bytes, or the parsed object.

    Returns
    -------
    The document, and remarks on fields that were passed over.

    Raises
    ------
    UnusableInput : with the place and the reason, all of them at once.
    """
    where = ""
    if isinstance(source, Path):
        where = source.name
        try:
            if source.stat().st_size > MAX_BYTES:
                raise UnusableInput(
                    f"the file is larger than {MAX_BYTES // 2**20} MB", where=where, fix="split the document"
                )
            source = source.read_bytes()
        except OSError as e:
            raise UnusableInput(f"cannot be read ({e.strerror or e})", where=str(where), fix="check the path") from None
    if isinstance(source, (str, bytes)):
        try:
            raw = json.loads(source, parse_constant=_no_constant)
        except (ValueError, RecursionError) as e:
            raise UnusableInput(f"not JSON: {e}", where=where, fix="write plain JSON (UTF-8)") from None
    else:
        raw = source
    if not isinstance(raw, dict):
        raise UnusableInput("the document must be one JSON object", where=where)
    if raw.get("format") == FORMAT and isinstance(raw.get("version"), int) and raw["version"] > VERSION:
        raise UnusableInput(
            f"version {raw['version']} is newer than this program reads ({VERSION})",
            where=where,
            fix="update longlens, or export version 1",
        )
    try:
        document = ExchangeDocument.model_validate_json(json.dumps(raw), strict=True)
    except ValidationError as e:
        lines = [f"{_place(err['loc'])}: {_reason(err)}" for err in e.errors()[:20]]
        if e.error_count() > 20:
            lines.append(f"… and {e.error_count() - 20} more")
        raise UnusableInput("\n".join(lines), where=where) from None
    problems = list(_broken_references(document))
    if problems:
        more = [f"… and {len(problems) - 20} more"] if len(problems) > 20 else []
        raise UnusableInput("\n".join(problems[:20] + more), where=where)
    return document, list(_unknown_fields(raw, ExchangeDocument, ""))


def exchange_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of the exchange document, version 1."""
    schema = ExchangeDocument.model_json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "longlens exchange document, version 1",
        **{k: v for k, v in schema.items() if k != "title"},
    }


def write_exchange(document: ExchangeDocument) -> dict[str, Any]:
    """The document as plain JSON types, defaults left out."""
    out = document.model_dump(mode="json", exclude_defaults=True, exclude_none=True)
    return {
        "format": FORMAT,
        "version": VERSION,
        "vehicle": document.vehicle.model_dump(),
        **{k: v for k, v in out.items() if k not in ("format", "version", "vehicle")},
    }


def _no_constant(text: str) -> float:
    raise ValueError(f"{text} is not a JSON number")


def _place(loc: tuple[int | str, ...]) -> str:
    out = ""
    for part in loc:
        if isinstance(part, int):
            out += f"[{part}]"
        elif part.startswith(("tuple", "float", "function", "constrained")):  # a branch of a union: no place
            continue
        else:
            out += f".{part}" if out else part
    return out or "document"


def _reason(err: Any) -> str:
    if err["type"] == "missing":
        return "this field is missing"
    if err["type"] == "value_error":
        return str(err["ctx"]["error"])
    return err["msg"][0].lower() + err["msg"][1:]


def _broken_references(doc: ExchangeDocument) -> Iterator[str]:
    for name in ("shots", "points", "circles", "facts", "measures"):
        seen: set[str] = set()
        for i, item in enumerate(getattr(doc, name)):
            if item.id in seen:
                yield f"{name}[{i}].id: {item.id!r} is used twice"
            seen.add(item.id)
    shots = {s.id for s in doc.shots}
    points = {p.id: p for p in doc.points}
    circles = {c.id for c in doc.circles}
    measures = {m.id: m for m in doc.measures}

    def missing(place: str, what: str, ids: Any, known: Any) -> Iterator[str]:
        for j, one in enumerate([ids] if isinstance(ids, str) else (ids or [])):
            if one not in known:
                near = difflib.get_close_matches(one, known, 1)
                hint = f"; did you mean {near[0]!r}?" if near else ""
                index = "" if isinstance(ids, str) else f"[{j}]"
                yield f"{place}{index}: no {what} has the id {one!r}{hint}"

    for i, p in enumerate(doc.points):
        if p.mirror is not None:
            yield from missing(f"points[{i}].mirror", "point", p.mirror, points)
            twin = points.get(p.mirror)
            if p.mirror == p.id:
                yield f"points[{i}].mirror: a point is not its own twin; say on: centre_plane instead"
            elif twin is not None and twin.mirror not in (None, p.id):
                yield f"points[{i}].mirror: {p.mirror!r} names another twin, {twin.mirror!r}"
            if p.on == "centre_plane":
                yield f"points[{i}].on: a point on the centre plane has no twin"
    named: dict[str, str] = {}
    for i, p in enumerate(doc.points):
        if p.mirror is not None:
            if p.mirror in named and named[p.mirror] != p.id:
                yield f"points[{i}].mirror: {p.mirror!r} is already the twin of {named[p.mirror]!r}"
            named[p.mirror] = p.id
    for i, c in enumerate(doc.circles):
        if c.centre is not None:
            yield from missing(f"circles[{i}].centre", "point", c.centre, points)
    for i, f in enumerate(doc.facts):
        yield from missing(f"facts[{i}].distance", "point", f.distance, points)
        yield from missing(f"facts[{i}].diameter", "circle", f.diameter, circles)
        yield from missing(f"facts[{i}].position", "point", f.position, points)
    for i, e in enumerate(doc.equal_lengths):
        yield from missing(f"equal_lengths[{i}].one", "point", e.one, points)
        yield from missing(f"equal_lengths[{i}].other", "point", e.other, points)
    for i, m in enumerate(doc.marks):
        yield from missing(f"marks[{i}].shot", "shot", m.shot, shots)
        yield from missing(f"marks[{i}].point", "point", m.point, points)
        yield from missing(f"marks[{i}].circle", "circle", m.circle, circles)
    for i, q in enumerate(doc.measures):
        for kind in ("distance", "angle", "area", "radius", "height", "rise", "least_rise"):
            yield from missing(f"measures[{i}].{kind}", "point", getattr(q, kind), points)
        yield from missing(f"measures[{i}].diameter", "circle", q.diameter, circles)
        yield from missing(f"measures[{i}].ratio", "measure", q.ratio, measures)
        if q.ratio is not None:
            for one in q.ratio:
                if one in measures and measures[one].ratio is not None:
                    yield f"measures[{i}].ratio: {one!r} is itself a ratio; use two plain measures"
        if q.rod_diameter is not None:
            yield from missing(f"measures[{i}].rod_diameter.at", "point", q.rod_diameter.at, points)
            yield from missing(f"measures[{i}].rod_diameter.shot", "shot", q.rod_diameter.shot, shots)
            yield from missing(f"measures[{i}].rod_diameter.towards", "point", q.rod_diameter.towards, points)
        for rail in q.face_area or ():
            yield from missing(f"measures[{i}].face_area", "point", rail, points)


def _unknown_fields(raw: Any, model: type[BaseModel], place: str) -> Iterator[str]:
    """Fields that this version does not know: named, not refused, since others may extend the form too."""
    lists: dict[str, type[BaseModel]] = {
        "shots": Shot, "points": Point, "circles": Circle, "facts": Fact, "marks": Mark, "measures": Measure,
        "equal_lengths": EqualLength,
    }  # fmt: skip
    for key, value in raw.items():
        here = f"{place}.{key}" if place else key
        if key not in model.model_fields:
            near = difflib.get_close_matches(key, model.model_fields, 1)
            hint = f"; did you mean {near[0]!r}?" if near else ""
            yield f"{here}: not a field of exchange version 1, passed over{hint}"
        elif model is ExchangeDocument and key in lists:
            for i, item in enumerate(value):
                yield from _unknown_fields(item, lists[key], f"{here}[{i}]")
        elif model is ExchangeDocument and key == "vehicle":
            yield from _unknown_fields(value, Vehicle, here)
