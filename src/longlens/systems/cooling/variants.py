"""Runs of one file under its variants, side by side: which plumbing is better, how surely, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np

from longlens.systems.run import Outcome

from .answers import Interval
from .comparing import Pair, Variant, compare, critical_case


def solved(outcomes: Mapping[str, Outcome]) -> list[Variant]:
    """The solved variants in these runs, named; refused runs are left out."""
    found = [(name or "as given", run.inner.get("solved")) for name, run in outcomes.items()]
    return [replace(variant, name=name) for name, variant in found if variant is not None]


def pairs(outcomes: Mapping[str, Outcome], case: int | None = None) -> list[Pair]:
    """Every two variants compared at the case that leaves the best of them the least (or at ``case``)."""
    variants = solved(outcomes)
    if len(variants) < 2:
        return []
    conditions = next(run.inner["conditions"] for run in outcomes.values() if "conditions" in run.inner)
    at = critical_case(variants) if case is None else case
    return [compare(one, other, conditions, at) for one, other in combinations(variants, 2)]


def as_json(outcomes: Mapping[str, Outcome]) -> dict[str, Any]:
    """Plain types, for the command line: the case, every pair with its probability, causes and sentence."""
    variants = solved(outcomes)
    if len(variants) < 2:
        return {"case": None, "pairs": []}
    at = critical_case(variants)
    speed = float(np.ravel(next(iter(outcomes.values())).axes["speed"])[at])
    return {
        "case": {"number": at, "speed": speed},
        "pairs": [
            {
                "first": pair.first,
                "second": pair.second,
                "first_better": pair.probability,
                "gain": _interval(pair.gain),
                "causes": {name: _interval(value) for name, value in pair.causes.items()},
                "reason": pair.reason,
                "unit": "K",
            }
            for pair in pairs(outcomes, at)
        ],
    }


def _interval(value: Interval) -> dict[str, float | None]:
    def plain(x: float) -> float | None:
        return float(x) if np.isfinite(x) else None

    return {"value": plain(value.median), "low95": plain(value.low), "high95": plain(value.high)}
