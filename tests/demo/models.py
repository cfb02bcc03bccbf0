"""The cars' models, built once for all tests of a process: a build takes seconds."""

from __future__ import annotations

from functools import cache
from importlib import import_module

from longlens.demo.model import Model


@cache
def built(car: str, stage: str, stance: str = "static") -> Model:
    """The model of a car (``"fulmar"`` or ``"gannet"``) without its solids, which no test asks for and which are large."""
    model: Model = import_module(f"longlens.demo.{car}").build(stage, stance)
    model.parts.clear()
    return model
