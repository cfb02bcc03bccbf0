"""What a dossier keeps of claims: questions with their alternatives, evidence, forecasts and drafts of them, errata.

A question may be edited at any time. A forecast, its resolution and its withdrawal are written once. What evidence rests on is
named by ``kind:id`` (``mark:…``, ``measure:…``, ``fact:…``): when that is removed the item stays, is told to have lost its basis,
and does not count until somebody has looked at it.
"""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from longlens.claims.bayes import SUM_TOLERANCE
from longlens.claims.verbal import grade_named
from longlens.dossier.exchange import Finite, Id, NotNegative, Positive, Text
from longlens.dossier.kinds import Record, register
from longlens.errors import UnusableInput

Probability = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Ref = Annotated[str, Field(pattern=r"^[a-z_]+:.+", max_length=400)]


class Part(BaseModel):
    """Base of what stands inside a record."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Alternative(Part):
    """One answer to a question. ``rest``: it stands for whatever nobody thought of ("something else")."""

    id: Id
    text: Text
    prior: Probability
    why: Text = Field(description="One sentence: why this prior.")
    rest: bool = False

    @model_validator(mode="after")
    def _justified(self) -> Alternative:
        if not self.why.strip():
            raise ValueError(f"the prior of {self.id!r} needs a sentence that says why")
        return self


class Sight(Part):
    """One thing that an observation could show, with its probability under each alternative."""

    text: Text
    chances: dict[str, Probability]


class Look(Part):
    """An observation that has not been made: what it could show, with the points of the car that must be seen for it (``at``)."""

    id: Id
    text: Text
    sights: list[Sight] = []
    at: list[Id] = []
    why: Text = ""


class Question(Record):
    """A question about the car, with two or more alternatives that exclude each other."""

    text: Text
    alternatives: list[Alternative] = Field(min_length=2, max_length=12)
    stage: Id | None = Field(None, description="The stage that is asked about; none: the latest.")
    looks: list[Look] = Field(default_factory=list)
    note: Text = ""

    @model_validator(mode="after")
    def _adds_up(self) -> Question:
        ids = [a.id for a in self.alternatives]
        if len(set(ids)) < len(ids):
            raise ValueError("two alternatives have the same id")
        if sum(a.rest for a in self.alternatives) > 1:
            raise ValueError("only one alternative can stand for something else")
        total = math.fsum(a.prior for a in self.alternatives)
        if abs(total - 1) > SUM_TOLERANCE:
            raise ValueError(f"the priors add up to {total:.3g}, not to 1")
        for look in self.looks:
            for sight in look.sights:
                _known(
                    set(sight.chances) == set(ids), f"{look.id}: {sight.text!r} needs a chance under each alternative"
                )
            for a in ids if look.sights else ():
                s = math.fsum(x.chances[a] for x in look.sights)
                _known(
                    abs(s - 1) <= SUM_TOLERANCE,
                    f"{look.id}: what could be seen under {a!r} adds up to {s:.3g}, not to 1",
                )
        return self

    @property
    def ids(self) -> list[str]:
        return [a.id for a in self.alternatives]


class Judgement(Part):
    """How much more probable the finding is under ``favours`` than under ``over`` (default: all the others).

    Either ``words`` of the verbal scale, or ``ratio`` with its range. Alternatives in neither list stand in the middle.
    """

    favours: list[Id] = Field(min_length=1)
    over: list[Id] = []
    words: Text = ""
    ratio: Positive | None = None
    low: Positive | None = None
    high: Positive | None = None
    why: Text = ""

    @model_validator(mode="after")
    def _whole(self) -> Judgement:
        if set(self.favours) & set(self.over):
            raise ValueError("an alternative cannot be favoured over itself")
        if bool(self.words) == (self.ratio is not None):
            raise ValueError("give either words of the verbal scale, or a ratio")
        if self.words:
            try:
                grade_named(self.words)
            except UnusableInput as e:
                raise ValueError(str(e)) from None
        elif not (self.low or self.ratio or 0) <= (self.ratio or 0) <= (self.high or self.ratio or 0):
            raise ValueError("the ratio must lie between low and high")
        return self

    @property
    def range(self) -> tuple[float, float, float]:
        """Ratio, low, high."""
        if self.words:
            g = grade_named(self.words)
            return g.likely, g.low, g.top
        assert self.ratio is not None
        return self.ratio, self.low or self.ratio, self.high or self.ratio


class Prediction(Part):
    """What an alternative predicts of a number: a figure with its spread, or an output of a sheet under a variant."""

    value: Finite | None = None
    sd: Positive | None = None
    unit: Text = "1"
    area: Text = ""
    variant: Text = ""
    output: Text = ""
    at: int | None = Field(None, description="Of a curve: its place.")
    why: Text = ""

    @model_validator(mode="after")
    def _one(self) -> Prediction:
        if (self.value is not None) == bool(self.output):
            raise ValueError("a prediction is either a value with its sd, or an output of a sheet")
        if self.value is not None and self.sd is None:
            raise ValueError("a predicted value needs its sd: no model is exact")
        if self.output and not self.area:
            raise ValueError("say which sheet (area) gives the output")
        return self


class Evidence(Record):
    """One item of evidence on one question.

    ``kind``: ``observation`` (judged, tied to marks), ``measure`` or ``fact`` (a number that alternatives predict, or judged),
    ``output`` (a computed output, judged or predicted), ``reading`` (an item of a sheet's own evidence, with its ratio).
    """

    question: Id
    kind: Literal["observation", "measure", "fact", "output", "reading"]
    text: Text
    on: list[Ref] = Field(default_factory=list, description="Records that it rests on, as kind:id.")
    of: Ref | None = Field(None, description="The number that was measured: measure:ID, fact:ID, output:AREA.NAME.")
    judged: Judgement | None = None
    predicted: dict[str, Prediction] = Field(default_factory=dict)
    model_sd: NotNegative = Field(0.0, description="A further model error, in the unit (SI) of the number.")
    area: Text = Field("", description="Of a reading: the sheet.")
    reading: Text = Field("", description="Of a reading: SUBJECT|FAVOURS|OVER as the sheet says.")
    means: dict[str, list[Id]] = Field(
        default_factory=dict, description="Of a reading: the sheet's words → alternatives here."
    )
    group: Text = Field("", description="Items of one group count once.")
    apart: Text = Field("", description="Why it is independent of items that rest on the same mark.")
    counts: bool = True
    note: Text = ""

    @model_validator(mode="after")
    def _weighable(self) -> Evidence:
        ways = [self.judged is not None, bool(self.predicted), bool(self.reading)]
        if sum(ways) != 1:
            raise ValueError("evidence is either judged, or predicted by the alternatives, or a sheet's reading")
        if self.predicted and self.of is None:
            raise ValueError("say which number the predictions are of")
        if self.reading and (not self.area or self.reading.count("|") != 2):
            raise ValueError("a reading needs its area and SUBJECT|FAVOURS|OVER")
        if self.kind == "observation" and not self.on:
            raise ValueError("an observation needs the marks that it rests on")
        return self


class Forecast(Record):
    """A forecast, sealed when it is made: an event with a probability, or a quantity with an interval."""

    text: Text
    made: Text = Field(description="UTC, ISO 8601.")
    by: Text = ""
    probability: Probability | None = None
    low: Finite | None = None
    high: Finite | None = None
    level: Annotated[float, Field(gt=0, lt=1)] = 0.95
    unit: Text = ""
    why: Text = ""
    settles: Text = Field("", description="What will settle it, and by when.")
    edition: Text = Field("", description="The edition it was published in.")
    revises: Id | None = Field(None, description="The earlier forecast that it takes the place of, in the open.")
    revision: Annotated[int, Field(ge=0)] = Field(description="The journal's last entry when it was made.")
    chain: Text = Field(description="The hash of that entry.")
    on: list[Ref] = Field(default_factory=list)

    @model_validator(mode="after")
    def _one(self) -> Forecast:
        if (self.probability is None) == (self.low is None or self.high is None):
            raise ValueError("a forecast is either an event with a probability, or a quantity with low and high")
        if self.low is not None and self.high is not None and not self.low < self.high:
            raise ValueError("low must lie below high")
        return self


class ForecastDraft(Record):
    """A forecast that is being written: not sealed, all of it can be changed and undone. ``id``: of the one to come."""

    text: Text = ""
    probability: Probability | None = None
    low: Finite | None = None
    high: Finite | None = None
    level: Annotated[float, Field(gt=0, lt=1)] = 0.95
    unit: Text = ""
    why: Text = ""
    settles: Text = ""
    revises: Id | None = None
    on: list[Ref] = Field(default_factory=list)


class Resolution(Record):
    """What came of a forecast, with the evidence for it. ``id`` is the forecast's, with ``#2`` and so on when it is corrected."""

    forecast: Id
    happened: bool | None = None
    value: Finite | None = None
    at: Text
    evidence: list[Ref] = Field(default_factory=list)
    text: Text = Field(min_length=1, description="How it is known.")
    revision: Annotated[int, Field(ge=0)] = 0


class Withdrawal(Record):
    """A forecast taken back in the open, before it was resolved. ``id`` is the forecast's."""

    why: Text = Field(min_length=1)
    at: Text


class Erratum(Record):
    """What is said about what moved between two editions; generated first, then the user's to edit."""

    since: Text
    until: Text = ""
    text: Text


def _known(fine: bool, words: str) -> None:
    if not fine:
        raise ValueError(words)


register("question", Question)
register("evidence", Evidence, links={"question": "question"})
register("forecast", Forecast, append_only=True)
register("forecast_draft", ForecastDraft)
register("resolution", Resolution, append_only=True)
register("withdrawal", Withdrawal, append_only=True)
register("erratum", Erratum)
