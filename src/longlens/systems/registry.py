"""Finds the sheets by area; each is loaded on first use only."""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec

from longlens.errors import UnusableInput
from longlens.systems.sheet import Sheet

AREAS = ("suspension", "cooling", "aero", "structure", "running")


def sheet(area: str) -> Sheet:
    """The sheet of an area: ``SHEET`` of ``longlens.systems.<area>.sheet``."""
    if area not in AREAS:
        raise UnusableInput(f"there is no area {area!r}", fix=f"choose one of: {', '.join(AREAS)}")
    if not available(area):
        raise UnusableInput(f"the {area} sheet is not part of this version", fix=f"there are: {', '.join(areas())}")
    found = import_module(f"longlens.systems.{area}.sheet").SHEET
    assert isinstance(found, Sheet) and found.area == area
    return found


def available(area: str) -> bool:
    """Is there a sheet for the area in this version?"""
    try:
        return find_spec(f"longlens.systems.{area}.sheet") is not None
    except ModuleNotFoundError:
        return False


def areas() -> list[str]:
    """Areas with a sheet, in their order."""
    return [a for a in AREAS if available(a)]
