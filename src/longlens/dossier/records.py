"""The records of a dossier: what is known about one vehicle and the photographs of it.

Units are SI and pixels exactly as in :mod:`longlens.dossier.exchange`, whose models these extend: every field
of the exchange form keeps its name here, and what the exchange form has no room for stands beside it. Marks
refer to the upright picture (EXIF orientation applied).
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from longlens.dossier import exchange
from longlens.dossier.exchange import Axis, Finite, Id, NotNegative, Pixel, Positive, Text
from longlens.dossier.kinds import Record, register

Certainty = Literal["seen", "partly seen", "inferred"]
System = Literal["suspension", "cooling", "aero", "structure", "running"]
VEHICLE_ID = "vehicle"


class Vehicle(Record):
    """The one vehicle of the dossier."""

    id: Id = VEHICLE_ID
    name: Text
    maker: Text = ""
    note: Text = ""


class Stage(Record):
    """One stage of the vehicle: test car, show car, production. What is surveyed together is of one stage."""

    name: Text = ""
    order: int = Field(0, description="Earlier stages have the smaller number.")
    date: Text = ""
    note: Text = ""


class Stance(Record):
    """Shots that share one stance share ride height and steer."""

    name: Text = ""
    note: Text = Field("", description="What tells it apart: on its wheels at rest, in a corner, jacked up …")


class Photograph(Record):
    """A photograph file as it came in; ``id`` is the SHA-256 of its bytes, which the dossier keeps."""

    media_type: Text
    size_bytes: Annotated[int, Field(ge=1)]
    stored_width: Annotated[int, Field(ge=1)]
    stored_height: Annotated[int, Field(ge=1)]
    orientation: Annotated[int, Field(ge=1, le=8)] = 1
    width: Annotated[int, Field(ge=1, description="Of the upright picture.")]
    height: Annotated[int, Field(ge=1, description="Of the upright picture.")]
    name: Text = ""
    likeness: Text = Field("", description="Perceptual hash, hexadecimal.")
    likeness_flipped: Text = Field("", description="The same of the picture flipped left to right.")
    metadata: dict[str, Text] = Field(
        default_factory=dict, description="What the file says of itself (EXIF, IPTC, XMP)."
    )
    remarks: list[Text] = Field(default_factory=list)


class Shot(exchange.Shot, Record):
    """One photograph put to use: its camera, its stage and stance, and the right to show it.

    ``cropped``, ``focal_px`` and ``principal_px`` are the priors of the survey, filled from the file's
    metadata when the photograph comes in (:mod:`longlens.dossier.focal`) and open to change.
    """

    photograph: Id | None = None
    name: Text = ""
    stage: Id | None = None
    focal_reason: Text = Field("", description="Where the prior on the focal length came from, or why there is none.")
    source: Text = Field("", description="Where it was published.")
    creator: Text = ""
    copyright: Text = ""
    may_show: Literal["yes", "no", "unknown"] = "unknown"
    copy_of: Id | None = Field(None, description="The shot of which this looks like a resized or recompressed copy.")
    note: Text = ""


class Point(exchange.Point, Record):
    """A point of the car, with the name of the part that it belongs to."""

    part: Text = ""
    system: System | None = None
    carried_by: Literal["body", "wheel"] | None = Field(
        None, description="Sprung points are the same in every stance; wheel-side points are not."
    )
    stance: Id | None = Field(None, description="The stance in which a wheel-side point has this place.")
    note: Text = ""


class Circle(exchange.Circle, Record):
    """A circle of the car: a rim, a tyre, a disc."""

    part: Text = ""
    system: System | None = None
    note: Text = ""


class Mark(Record):
    """What was drawn on a shot, in pixels of the upright picture.

    ``form`` says what it is: ``point`` (x, y of a point), ``rim`` (points on a circle's edge), or a drawing
    that names a part without being surveyed: ``line``, ``outline`` (closed) and ``pipe`` (a path with a
    width).
    """

    shot: Id
    form: Literal["point", "rim", "line", "outline", "pipe"]
    certainty: Certainty = "seen"
    sd_px: Positive = 2.0
    point: Id | None = None
    x: Finite | None = None
    y: Finite | None = None
    circle: Id | None = None
    edge: list[Pixel] | None = Field(None, min_length=1)
    path: list[Pixel] | None = Field(None, min_length=2, max_length=100_000)
    width_px: Positive | None = Field(None, description="Of a pipe: across it.")
    along: list[Id] | None = Field(None, description="Points that a line, outline or pipe passes through, in order.")
    part: Text = ""
    system: System | None = None
    set_aside: bool = Field(False, description="Kept, but not given to the survey (a suspect mark).")
    note: Text = ""

    @model_validator(mode="after")
    def _form_whole(self) -> Mark:
        needed = _FORM_FIELDS[self.form]
        for name in ("point", "x", "y", "circle", "edge", "path", "width_px"):
            given = getattr(self, name) is not None
            if name in needed and not given:
                raise ValueError(f"a mark of the form {self.form!r} needs {name}")
            if given and name not in needed:
                raise ValueError(f"a mark of the form {self.form!r} has no {name}")
        if self.form == "outline" and self.path is not None and len(self.path) < 3:
            raise ValueError("an outline needs three corners at least")
        return self


_FORM_FIELDS = {
    "point": ("point", "x", "y"),
    "rim": ("circle", "edge"),
    "line": ("path",),
    "outline": ("path",),
    "pipe": ("path", "width_px"),
}


class Fact(Record):
    """A published figure, or an assumption with its reason.

    A length between points, a diameter or a position goes to the survey. Any other figure (power, mass, a
    tyre designation as text) is kept for the floors above, with ``of`` saying what it is.
    """

    of: Text = Field("", description="What it is: wheelbase, mass, power, tyre size front …")
    basis: Literal["stated", "assumed"] = "stated"
    value: Finite | tuple[Finite, Finite, Finite] | None = None
    sd: NotNegative | None = None
    unit: Text = "m"
    text: Text = Field("", description="As published, word for word.")
    source: Text = ""
    date: Text = ""
    reason: Text = Field("", description="Of an assumption: why it is fair.")
    stage: Id | None = Field(None, description="Holds for this stage only.")
    distance: tuple[Id, Id] | None = None
    along: Axis | None = None
    diameter: list[Id] | None = Field(None, min_length=1)
    position: Id | None = None

    @property
    def surveyed(self) -> bool:
        """True when it is of something the survey places."""
        return self.distance is not None or self.diameter is not None or self.position is not None

    @model_validator(mode="after")
    def _whole(self) -> Fact:
        if self.surveyed:
            exchange.Fact.model_validate(self.exchange_fields())
        elif self.along is not None:
            raise ValueError("along goes with distance only")
        elif isinstance(self.value, tuple):
            raise ValueError("value is [x, y, z] for a position only")
        elif self.value is None and not self.text:
            raise ValueError("a fact needs a value or a text")
        if self.basis == "assumed" and not self.reason:
            raise ValueError("an assumption needs its reason")
        return self

    def exchange_fields(self) -> dict[str, Any]:
        """The fields that the exchange form has for it."""
        return self.model_dump(include=set(exchange.Fact.model_fields), exclude_none=True)


class Measure(exchange.Measure, Record):
    """What is asked for; exactly one kind, as in the exchange form."""

    part: Text = ""
    system: System | None = None
    note: Text = ""


register("vehicle", Vehicle)
register("stage", Stage)
register("stance", Stance)
register("photograph", Photograph)
# A stance is named freely, as in the exchange form: a Stance record only describes it.
register(
    "shot",
    Shot,
    links={"photograph": "photograph", "stage": "stage", "copy_of": "shot"},
    empties={"photograph": (), "stage": (), "copy_of": ()},
)
register("point", Point, links={"mirror": "point"}, empties={"mirror": ()})
register("circle", Circle, links={"centre": "point"}, empties={"centre": ()})
register(
    "mark",
    Mark,
    links={"shot": "shot", "point": "point", "circle": "circle", "along": "point"},
    empties={"along": ()},
)
register(
    "fact",
    Fact,
    links={"distance": "point", "diameter": "circle", "position": "point", "stage": "stage"},
    empties={"distance": ("along",), "diameter": (), "position": ()},  # the published figure itself stays
)
register(
    "measure",
    Measure,
    links={
        **dict.fromkeys(("distance", "angle", "area", "radius", "height", "rise", "least_rise", "face_area"), "point"),
        "diameter": "circle",
        "ratio": "measure",
        "rod_diameter.at": "point",
        "rod_diameter.towards": "point",
        "rod_diameter.shot": "shot",
    },
)
