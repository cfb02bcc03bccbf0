"""What a dossier keeps for the sheets: inputs that are no measure or fact of their own, and the variants."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, JsonValue

from longlens.dossier.exchange import Text
from longlens.dossier.kinds import Record, register

Area = Literal["suspension", "cooling", "aero", "structure", "running"]


class SheetInput(Record):
    """One input of one area's sheet, in the form of :mod:`longlens.systems.given`; under a variant it overrides."""

    area: Area
    input: Text
    variant: Text = ""
    value: JsonValue = Field(description="A figure, a text or a structure; may name a fact, a measure or a point.")
    note: Text = ""


def id_of(area: str, variant: str, name: str) -> str:
    """The record's id: one input has one value under one variant."""
    return f"{area}/{variant}/{name}" if variant else f"{area}/{name}"


def sheet_input(area: Any, name: str, value: Any, variant: str = "") -> SheetInput:
    """The record of one input."""
    return SheetInput(id=id_of(area, variant, name), area=area, input=name, variant=variant, value=value)


register(
    "sheet_input",
    SheetInput,
    links={"value.fact": "fact", "value.measure": "measure", "value.point": "point"},
)
