"""What is shown, as records of the dossier: plates, and the sequence that puts them in order with its narration.

Lengths on a picture are pixels of the upright photograph; places of labels are parts of the plate (0 to 1). Texts may
hold live references such as ``{measure:left.wheelbase}`` (see :mod:`longlens.publish.references`).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from longlens.dossier.exchange import Axis, Finite, Id, Positive, Text
from longlens.dossier.kinds import Record, register
from longlens.dossier.records import Certainty, System

Part01 = Annotated[float, Field(ge=0, le=1)]
Place = tuple[Part01, Part01]
Corner = Literal["top left", "top right", "bottom left", "bottom right"]


class Inner(BaseModel):
    """Part of a record: frozen, unknown fields refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class View(Inner):
    """A photograph and the window of it that is shown; the style's shape decides how much more is seen round it."""

    shot: Id
    window: tuple[Finite, Finite, Finite, Finite] | None = Field(
        None, description="x0, y0, x1, y1 in pixels; default: the whole photograph."
    )
    caption: Text = ""

    @model_validator(mode="after")
    def _has_size(self) -> View:
        if self.window is not None and not (self.window[2] > self.window[0] and self.window[3] > self.window[1]):
            raise ValueError("a window is x0, y0, x1, y1 with x1 > x0 and y1 > y0")
        return self


class Highlight(Inner):
    """Something brought out: the drawings of a part, chosen marks, or rods and outlines between placed points."""

    parts: list[Text] = Field(default_factory=list, description="Names of parts: every drawing of them on the shot.")
    marks: list[Id] = Field(default_factory=list)
    rods: list[list[Id]] = Field(
        default_factory=list, description="Chains of two points or more, projected by the survey: rods, pipes."
    )
    outline: list[Id] = Field(default_factory=list, description="Points round an outline, projected by the survey.")
    circle: Id | None = Field(None, description="A circle of the survey, projected.")
    label: Text = ""
    line: Text = Field("", description="Second line of the label, such as a number.")
    system: System | None = None
    certainty: Certainty | None = Field(None, description="Default: the worst of what it shows.")
    at: Place | None = Field(None, description="Where its label's middle stands; default: placed by itself.")

    @model_validator(mode="after")
    def _chains(self) -> Highlight:
        if any(len(chain) < 2 for chain in self.rods) or 0 < len(self.outline) < 3:
            raise ValueError("a rod goes through two points or more, an outline round three or more")
        return self


class Dimension(Inner):
    """A dimension line in perspective, on the car."""

    measure: Id = Field(description="A distance, diameter or height of the survey.")
    away: Finite = Field(0.06, description="How far beside the points it runs, m.")
    towards: Literal["x", "-x", "y", "-y", "z", "-z"] | None = Field(
        None, description="In which direction of the car it is drawn out; default: away from the car's middle."
    )
    label: Text = Field("", description="Default: the measure's words.")
    at: Place | None = None


class Arrow(Inner):
    """An arrow of flow or of force, along points of the picture or of the car."""

    kind: Literal["flow", "force"] = "flow"
    path: list[tuple[Finite, Finite]] = Field(default_factory=list, description="Pixels.")
    through: list[tuple[Finite, Finite, Finite]] = Field(default_factory=list, description="Vehicle axes, m.")
    system: System | None = None
    label: Text = ""
    line: Text = ""
    at: Place | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Arrow:
        if (len(self.path) >= 2) == (len(self.through) >= 2):
            raise ValueError("an arrow has two points or more, either on the picture (path) or on the car (through)")
        return self


class ScaleBar(Inner):
    """A bar of known length, lying in the plane meant."""

    through: Id = Field(description="A point that the bar's plane goes through.")
    along: Axis = "x"
    length: Positive = Field(0.5, description="m")
    drop: Finite = Field(0.0, description="How far under the point it lies, m.")
    label: Text = Field("", description="Names the plane.")
    at: Place | None = None


class Inset(Inner):
    """A closer look at part of a photograph."""

    view: View
    corner: Corner = "top right"
    width: Annotated[float, Field(gt=0.05, le=0.6)] = 0.28
    label: Text = ""
    at: Place | None = Field(None, description="Where its middle stands, instead of the corner.")


class Series(Inner):
    """One curve or bar of a chart: an output of a sheet, or any number."""

    of: Text = Field(description="A reference without braces, such as cooling:heat or measure:left.wheelbase.")
    label: Text = ""
    system: System | None = None


class Chart(Inner):
    """A chart that builds up: bars with intervals, or curves with bands."""

    kind: Literal["bars", "curves"] = "bars"
    series: list[Series] = Field(min_length=1, max_length=12)
    axis: Text = Field("", description="Words under a curve's axis; default: the sheet's.")
    unit: Text = Field("", description="People's unit; default: chosen by size.")
    corner: Corner = "top right"
    width: Annotated[float, Field(gt=0.15, le=1)] = 0.42
    at: Place | None = Field(None, description="Where its middle stands, instead of the corner.")


class Linkage(Inner):
    """The suspension moving in perspective over the photograph."""

    end: Literal["front", "rear"] = "front"
    side: Literal["left", "right", "both"] = "both"
    travel: Positive = Field(0.03, description="Wheel travel up and down, m.")


class Straight(Inner):
    """The photograph straightened to a plane of the car, seen square on."""

    through: Id = Field(description="A point in the plane, and the picture's middle.")
    side: Literal["left", "right", "front", "rear", "top"] = "left"
    width: Positive = Field(1.0, description="How much of the plane is shown, m.")


class Plate(Record):
    """One picture for an audience."""

    title: Text
    text: Text = Field("", description="A line under the title; light on words.")
    stage: Id | None = None
    view: View | None = Field(None, description="None: a drawing from the model.")
    beside: View | None = Field(None, description="A second photograph beside the first.")
    model_from: Literal["left", "front", "top"] = Field("left", description="Of a drawing: the side it is seen from.")
    straight: Straight | None = Field(None, description="Show the photograph straightened, where the survey can.")
    highlights: list[Highlight] = Field(default_factory=list)
    dimensions: list[Dimension] = Field(default_factory=list)
    arrows: list[Arrow] = Field(default_factory=list)
    scale_bar: ScaleBar | None = None
    insets: list[Inset] = Field(default_factory=list)
    chart: Chart | None = None
    linkage: Linkage | None = None
    darken: Part01 = Field(0.45, description="How much the rest is darkened.")
    read: dict[str, Text] = Field(
        default_factory=dict, description="Reference → its text when the words were last read."
    )


class Stop(Inner):
    """One plate's turn in a sequence."""

    plate: Id
    narration: Text = ""
    chapter: Text = Field("", description="A chapter begins here.")
    start: View | None = Field(None, description="Where the eye comes from; default: the whole photograph.")
    seconds: Positive | None = Field(None, description="Default: from the narration at the speaking rate.")
    cue: Annotated[float, Field(ge=0)] | None = Field(None, description="When its words begin in the voice file, s.")


class Sequence(Record):
    """Plates in order, with what is said to them."""

    title: Text
    subtitle: Text = ""
    stops: list[Stop] = Field(min_length=1)
    words_per_minute: Annotated[float, Field(ge=60, le=260)] = 145.0
    voice: Id | None = Field(None, description="SHA-256 of a sound file kept in the dossier.")
    credits: Text = ""
    read: dict[str, Text] = Field(default_factory=dict)


register("plate", Plate, links={"view.shot": "shot", "beside.shot": "shot", "stage": "stage"},
         empties={"view.shot": ("view",), "beside.shot": ("beside",), "stage": ()})  # fmt: skip
register("sequence", Sequence, links={"stops.plate": "plate"})
