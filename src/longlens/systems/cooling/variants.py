"""Runs of one file under its variants, side by side: which plumbing is better, how surely, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from longlens.systems.run import Outcome

from .answers import Interval, worst_margin
from .comparing import Pair, Variant, compare, critical_case
from .components import Pump
from .model import node
from .readings import COMMON_PRACTICE, Evidence

#: A maker builds what cools; how surely, nobody outside knows: exponents on the ratio of closing, likely, low, high.
BUILT_WHAT_COOLS = (0.5, 0.2, 1.0)


@dataclass(frozen=True)
class Side:
    """One variant's column in the table side by side, all at one case.

    closing, best : shares of the draws that keep all limits, and in which it has the most to spare of all. margin : K.
    temperature : K by limit. heat : W by core. flow : kg/s by pump. pump_power : W. bearable : heat held over assumed.
    """

    name: str
    closing: float
    best: float
    margin: Interval
    bearable: Interval
    temperature: dict[str, Interval]
    heat: dict[str, Interval]
    flow: dict[str, Interval]
    pump_power: Interval


def name_of(run: Outcome) -> str:
    """What a run is called: its variant, or for the inputs as given what they say in ``scheme``."""
    scheme = run.inputs.get("scheme")
    return run.variant or (scheme if isinstance(scheme, str) else "as given")


def solved(outcomes: Mapping[str, Outcome]) -> list[Variant]:
    """The solved variants in these runs, named; refused runs are left out."""
    found = [(name_of(run), run.inner.get("solved")) for run in outcomes.values()]
    return [replace(variant, name=name) for name, variant in found if variant is not None]


def side_by_side(outcomes: Mapping[str, Outcome], case: int | None = None) -> list[Side]:
    """Every solved variant at the case that leaves the best of them the least (or at ``case``), the best first."""
    runs = [run for run in outcomes.values() if run.inner.get("solved") is not None]
    if not runs:
        return []
    variants = solved(outcomes)
    at = critical_case(variants) if case is None else case
    spare = np.stack(np.broadcast_arrays(*[worst_margin(v.network, v.solution, v.limits)[:, at] for v in variants]))
    first = spare == np.max(spare, axis=0)  # shared where several are equal, as where none has an answer
    best = np.mean(first / np.sum(first, axis=0), axis=1)
    sides = [_side(run, v, spare[k], float(best[k]), at) for k, (run, v) in enumerate(zip(runs, variants, strict=True))]
    return sorted(sides, key=lambda side: -side.best)


def _side(run: Outcome, variant: Variant, spare: Any, best: float, at: int) -> Side:
    solution = variant.solution
    pumps = [p.name for c in variant.network.circuits for p in c.parts if isinstance(p, Pump)]
    cores = [name for duct in variant.network.ducts for name in duct.cores]
    return Side(
        variant.name,
        float(np.mean(spare >= 0.0)),
        best,
        Interval.of(np.where(np.isfinite(spare), spare, np.nan)),
        Interval.of(run.numbers["bearable"].draws[:, at]) if "bearable" in run.numbers else Interval.of([]),
        {x.name: Interval.of(solution.temperature[node(x.circuit, x.node)][:, at]) for x in variant.limits},
        {name: Interval.of(solution.heat[name][:, at]) for name in cores},
        {name: Interval.of(solution.flow[name][:, at]) for name in pumps},
        Interval.of(run.numbers["pump_power"].draws[:, at]) if "pump_power" in run.numbers else Interval.of([]),
    )


def verdict(outcomes: Mapping[str, Outcome]) -> str:
    """One sentence: which plumbing has the most to spare, how surely, and why; "" for one alone.

    It is held against the next best that the draws can tell from it (mirror images come out alike), if there is one.
    """
    sides = side_by_side(outcomes)
    if len(sides) < 2:
        return ""
    ahead = sides[0].name
    found = {frozenset((p.first, p.second)): p for p in pairs(outcomes)}
    against = [found[frozenset((ahead, side.name))] for side in sides[1:]]
    return next((p for p in against if abs(p.probability - 0.5) > 0.05), against[0]).reason


def evidence(outcomes: Mapping[str, Outcome]) -> list[Evidence]:
    """What the calculation itself says for one plumbing over another: a maker builds what cools.

    The ratio is that of the shares of the draws in which each closes at the tightest case, to a power of 0.5 (0.2 to 1),
    because the limit may be missed on purpose and nobody outside knows the case the maker designed for. Shares count
    half a draw more on both sides, so that none is zero. Pairs that close alike give nothing.
    """
    found = []
    for one, other in combinations(side_by_side(outcomes), 2):
        count = next(run.inner["count"] for run in outcomes.values() if "count" in run.inner)
        shares = [(side.closing * count + 0.5) / (count + 1.0) for side in (one, other)]
        (more, less), ratio = (one, other), shares[0] / shares[1]
        if ratio < 1.0:
            (more, less), ratio = (other, one), 1.0 / ratio
        likely, low, high = (float(f"{ratio**power:.2g}") for power in BUILT_WHAT_COOLS)
        if high >= 1.05:
            trail = sorted({r for run in outcomes.values() for r in run.numbers["worst_margin"].origin.records()})
            found.append(
                Evidence(
                    "plumbing", more.name, less.name, likely, low, high,
                    f"it closes in {more.closing:.0%} of the draws against {less.closing:.0%}",
                    "a maker builds what cools; the limit may be missed on purpose",
                    "computed from the network; how far makers keep limits: " + COMMON_PRACTICE,
                    tuple(trail), "plumbing",
                )
            )  # fmt: skip
    return found


def pairs(outcomes: Mapping[str, Outcome], case: int | None = None) -> list[Pair]:
    """Every two variants compared at the case that leaves the best of them the least (or at ``case``)."""
    variants = solved(outcomes)
    if len(variants) < 2:
        return []
    conditions = next(run.inner["conditions"] for run in outcomes.values() if "conditions" in run.inner)
    at = critical_case(variants) if case is None else case
    return [compare(one, other, conditions, at) for one, other in combinations(variants, 2)]


def as_json(outcomes: Mapping[str, Outcome]) -> dict[str, Any]:
    """Plain types, for the command line: the case, every variant's column, every pair with its probability, causes and
    sentence, the verdict, and what that says as evidence."""
    variants = solved(outcomes)
    if len(variants) < 2:
        return {"case": None, "sides": [], "pairs": [], "verdict": "", "evidence": []}
    at = critical_case(variants)
    speed = float(np.ravel(next(iter(outcomes.values())).axes["speed"])[at])
    return {
        "case": {"number": at, "speed": speed},
        "sides": [_side_json(side) for side in side_by_side(outcomes, at)],
        "verdict": verdict(outcomes),
        "evidence": [item.as_json() for item in evidence(outcomes)],
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


def _side_json(side: Side) -> dict[str, Any]:
    def table(of: dict[str, Interval], unit: str) -> dict[str, Any]:
        return {name: {**_interval(value), "unit": unit} for name, value in of.items()}

    return {
        "name": side.name,
        "closing": side.closing,
        "best": side.best,
        "margin": {**_interval(side.margin), "unit": "K"},
        "bearable": _interval(side.bearable),
        "temperature": table(side.temperature, "K"),
        "core_heat": table(side.heat, "W"),
        "pump_flow": table(side.flow, "kg/s"),
        "pump_power": {**_interval(side.pump_power), "unit": "W"},
    }


def _interval(value: Interval) -> dict[str, float | None]:
    def plain(x: float) -> float | None:
        return float(x) if np.isfinite(x) else None

    return {"value": plain(value.median), "low95": plain(value.low), "high95": plain(value.high)}
