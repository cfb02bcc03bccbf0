"""Plumbing variants side by side on the same draws: temperatures, which is better, and why, in one sentence.

For the loop of the tightest limit, with H the excess of the hottest node over ambient, Q the heat given to
the loop and S = Σ G_i θ_i over its cores (G inlet conductance, θ_i the core's own temperature difference over
H): H = Q/S. The limit lies below the hottest node by the rise d through what heats it. So the difference of
two variants in the limited temperature splits, exactly, into four causes: heat in the loop, where the cores
sit (θ), what they pass per kelvin (G), and the rise along the loop (d).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .answers import Interval, Limit, margins, probability_of_closing, worst_margin
from .components import CorePart, Pump
from .model import Circuit, Conditions, Network, Solution, node, nodes_of

Array = Any
#: K: differences below are real in the model, and lost in any car's day.
TOO_LITTLE = 1.0
#: K: within what the solver leaves open.
NOTHING = 1e-2


@dataclass(frozen=True)
class Variant:
    """One way of plumbing, solved."""

    name: str
    network: Network
    solution: Solution
    limits: tuple[Limit, ...]


@dataclass(frozen=True)
class Pair:
    """Two variants compared at one case (its index): probability that ``first`` has the larger worst margin, and why."""

    first: str
    second: str
    probability: float
    gain: Interval
    causes: dict[str, Interval]
    reason: str
    case: int = 0


def critical_case(variants: list[Variant]) -> int:
    """Index of the speed at which the best variant has the least to spare."""
    medians = [np.median(worst_margin(v.network, v.solution, v.limits), axis=0) for v in variants]
    return int(np.argmin(np.max(medians, axis=0)))


def compare(first: Variant, second: Variant, conditions: Conditions, case: int) -> Pair:
    """Compare two variants at speed number ``case``; draw k of one meets draw k of the other."""
    mine = worst_margin(first.network, first.solution, first.limits)[:, case]
    theirs = worst_margin(second.network, second.solution, second.limits)[:, case]
    with np.errstate(invalid="ignore"):
        gain = mine - theirs
    better = float(np.mean((gain > 0.0) + 0.5 * (gain == 0.0)))
    causes, sides = _causes(first, second, conditions, case)
    interval = Interval.of(np.where(np.isfinite(gain), gain, np.nan))
    told = {name: Interval.of(values) for name, values in causes.items()}
    return Pair(
        first.name,
        second.name,
        better,
        interval,
        told,
        _sentence(first, second, better, interval, told, sides),
        case,
    )


@dataclass(frozen=True)
class _Side:
    """The loop of the tightest limit of one variant, at one case."""

    limit: Limit
    circuit: Circuit
    heat: Array
    excess: Array  # H
    placing: dict[str, Array]  # θ by core
    passing: dict[str, Array]  # G by core
    difference: dict[str, Array]  # K over its air, by core
    flow: dict[str, Array]
    pump_flow: Array
    rise: Array  # d


def _tightest(variant: Variant, case: int) -> Limit:
    found = margins(variant.solution, variant.limits)
    middles = {name: Interval.of(margin[:, case]).median for name, margin in found.items()}
    return min(variant.limits, key=lambda limit: middles[limit.name] if np.isfinite(middles[limit.name]) else -np.inf)


def _side(variant: Variant, conditions: Conditions, case: int) -> _Side:
    limit = _tightest(variant, case)
    circuit = next(c for c in variant.network.circuits if c.name == limit.circuit)
    solution = variant.solution
    ambient = np.broadcast_to(conditions.air.temperature, solution.temperature[nodes_of(circuit)[0]].shape)[:, case]
    hottest = np.fmax.reduce([solution.temperature[key][:, case] for key in nodes_of(circuit)])
    excess = hottest - ambient
    difference = _ways_out(variant, circuit, case)
    cores = list(difference)
    passing = {n: solution.conductance[n][:, case] for n in cores}
    return _Side(
        limit=limit,
        circuit=circuit,
        heat=sum(passing[n] * difference[n] for n in cores) if cores else np.zeros_like(excess),
        excess=excess,
        placing={n: difference[n] / excess for n in cores},
        passing=passing,
        difference=difference,
        flow={n: np.abs(solution.flow[_part_of(variant, n, circuit)][:, case]) for n in cores},
        pump_flow=sum(solution.flow[p.name][:, case] for p in circuit.parts if isinstance(p, Pump)),
        rise=hottest - solution.temperature[node(limit.circuit, limit.node)][:, case],
    )


def _ways_out(variant: Variant, circuit: Circuit, case: int) -> dict[str, Array]:
    """Temperature difference (K) over which each way takes heat out of the circuit: cores, then exchangers."""
    solution = variant.solution
    names = {part.name for part in circuit.parts}
    found = {
        part.name: solution.inlet[part.name][:, case] - solution.air_in[part.name][:, case]
        for part in circuit.parts
        if isinstance(part, CorePart) and part.name in solution.heat
    }
    for exchanger in variant.network.exchangers:
        first, second = solution.inlet[exchanger.first][:, case], solution.inlet[exchanger.second][:, case]
        for mine, gap in ((exchanger.first, first - second), (exchanger.second, second - first)):
            if mine in names and np.nanmedian(gap) > 0.0:
                found[exchanger.name] = gap
    return found


def _part_of(variant: Variant, way: str, circuit: Circuit) -> str:
    """The circuit's part that a way out belongs to: itself, or its side of an exchanger."""
    names = {part.name for part in circuit.parts}
    for exchanger in variant.network.exchangers:
        if exchanger.name == way:
            return exchanger.first if exchanger.first in names else exchanger.second
    return way


def _log_mean(a: Array, b: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log(a / b)
        return np.where(np.abs(ratio) < 1e-9, a, (a - b) / ratio)


def _causes(
    first: Variant, second: Variant, conditions: Conditions, case: int
) -> tuple[dict[str, Array], tuple[_Side, _Side]]:
    """Gain of the first over the second in the tightest limited temperature (K), by cause; sums exactly."""
    a, b = _side(first, conditions, case), _side(second, conditions, case)
    if not a.passing or not b.passing:
        return {}, (a, b)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_excess = _log_mean(a.excess, b.excess)
        heat = -mean_excess * np.log(a.heat / b.heat)
        names = sorted({*a.passing, *b.passing})
        zero = np.zeros_like(a.excess)
        total_a = sum(a.passing[n] * a.placing[n] for n in a.passing)
        total_b = sum(b.passing[n] * b.placing[n] for n in b.passing)
        scale = mean_excess / _log_mean(total_a, total_b)
        placing, passing = zero, zero
        for n in names:
            ga, gb = a.passing.get(n, zero), b.passing.get(n, zero)
            ta, tb = a.placing.get(n, zero), b.placing.get(n, zero)
            placing = placing + 0.5 * (ga + gb) * (ta - tb)
            passing = passing + 0.5 * (ta + tb) * (ga - gb)
        if set(a.passing) != set(b.passing):
            # With other cores in the loop the two cannot be told apart: one cause, not two.
            placing, passing = zero, placing + passing
        allowed = np.asarray(a.limit.temperature, dtype=float) - np.asarray(b.limit.temperature, dtype=float)
        if allowed.ndim == 2:
            allowed = allowed[:, 0] if allowed.shape[1] == 1 else allowed[:, case]
    causes = {
        "heat in the loop": heat,
        "where the cores sit": scale * placing,
        "what the cores pass": scale * passing,
        "rise along the loop": a.rise - b.rise,
        "the limit itself": allowed + zero,
    }
    return causes, (a, b)


def _sentence(
    first: Variant,
    second: Variant,
    better: float,
    gain: Interval,
    causes: dict[str, Interval],
    sides: tuple[_Side, _Side],
) -> str:
    if not np.isfinite(gain.median):
        return f"{first.name} and {second.name} cannot be compared: one of them has no steady answer"
    if max(abs(gain.low), abs(gain.high)) < NOTHING:
        return f"{first.name} and {second.name} come out alike: the same at the tightest limit, {sides[0].limit.name}"
    ahead, behind = (first, second) if gain.median >= 0.0 else (second, first)
    sign = 1.0 if gain.median >= 0.0 else -1.0
    a, b = sides if sign > 0 else (sides[1], sides[0])
    chance = better if sign > 0 else 1.0 - better
    size = gain if sign > 0 else Interval(-gain.median, -gain.high, -gain.low)
    alike = 0.3 < better < 0.7
    if alike:
        text = (
            f"{ahead.name} and {behind.name} come out alike ({size.told()} K apart, {ahead.name} ahead in {chance:.0%} "
        )
        text += "of the draws)"
    else:
        text = f"{ahead.name} has {size.told()} K more to spare than {behind.name} ({chance:.0%} of the draws)"
        if size.high < TOO_LITTLE:
            text += ", too little to matter"
    ranked = sorted(
        ((sign * value.median, name) for name, value in causes.items() if np.isfinite(value.median)),
        key=lambda item: -abs(item[0]),
    )
    least = max(0.1, 0.1 * abs(ranked[0][0])) if ranked else 0.0
    told = [(amount, name) for amount, name in ranked if abs(amount) > least]
    if not told:
        return text + ": nothing tells them apart"
    helping = [_cause(name, amount, a, b) for amount, name in told if amount > 0.0]
    hindering = [_cause(name, amount, a, b) for amount, name in told if amount < 0.0]
    if helping:
        text += ": " + " and ".join(helping)
    if hindering:
        text += (", but " if alike and helping else ", while ") + " and ".join(hindering)
    return text


def _list(values: dict[str, Array], scale: float = 1.0, digits: int = 0) -> str:
    return " and ".join(f"{np.nanmedian(value) * scale:.{digits}f}" for _, value in sorted(values.items()))


def _count(side: _Side) -> str:
    return "one core passes" if len(side.passing) == 1 else f"{len(side.passing)} cores pass"


def _cause(name: str, amount: float, a: _Side, b: _Side) -> str:
    kelvin = f"({amount:+.1f} K)".replace("-", "−")
    if name == "where the cores sit":
        over_air = f"{_list(a.difference)} K over what cools them instead of {_list(b.difference)} K"
        return f"its cores stand {over_air} {kelvin}"
    if name == "what the cores pass":
        if set(a.passing) != set(b.passing):
            return (
                f"its {_count(a)} {_list(a.passing)} W/K at {_list(a.difference)} K over what cools it, against "
                f"{_list(b.passing)} W/K at {_list(b.difference)} K {kelvin}"
            )
        more = "more" if amount > 0.0 else "less"
        return (
            f"its cores pass {more} per kelvin, {_list(a.passing)} against {_list(b.passing)} W/K, "
            f"with {_list(a.flow, digits=2)} against {_list(b.flow, digits=2)} kg/s through them {kelvin}"
        )
    if name == "rise along the loop":
        return (
            f"{np.nanmedian(a.pump_flow):.2f} against {np.nanmedian(b.pump_flow):.2f} kg/s go round, so that "
            f"the limit lies {np.nanmedian(a.rise):.1f} against {np.nanmedian(b.rise):.1f} K under the "
            f"hottest node {kelvin}"
        )
    if name == "heat in the loop":
        return (
            f"its tightest loop carries {np.nanmedian(a.heat) / 1e3:.1f} against "
            f"{np.nanmedian(b.heat) / 1e3:.1f} kW {kelvin}"
        )
    return f"its tightest limit is {a.limit.name}, not {b.limit.name} {kelvin}"


def pump_power(variant: Variant) -> Array:
    """Hydraulic power of all pumps (W), (draws, speeds): pressure rise times volume flow."""
    total: Array = 0.0
    for circuit in variant.network.circuits:
        for part in circuit.parts:
            if isinstance(part, Pump):
                # Density cancels against the drop's own; 1,020 kg/m³ serves to within 5 % for coolants.
                total = total + np.maximum(-variant.solution.drop[part.name], 0.0) * (
                    variant.solution.flow[part.name] / 1020.0
                )
    return total


def closing(variant: Variant) -> np.ndarray:
    """Probability of closing by speed."""
    return probability_of_closing(variant.network, variant.solution, variant.limits)


__all__ = [
    "Pair",
    "Variant",
    "closing",
    "compare",
    "critical_case",
    "pump_power",
]
