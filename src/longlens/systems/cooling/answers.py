"""What an engineer asks of a cooling system: does it close, with how much to spare, which core is short,
and which of several plumbings is better and why. All from joint draws; sentences are made from the numbers.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from .components import CorePart, GasCooledByLiquid, Part, Passage, Pump, Thermostat, Valve
from .liquids import Coolant
from .model import Conditions, Network, Solution, node, nodes_of
from .network import solve

Array = Any
#: K: where a few hundredths of a kelvin do not show in the answer; and where differences of two solutions are taken.
NEAR, CLOSE = 1e-2, 1e-3
#: Digits after the point that a sentence may have.
MOST_DIGITS = 4


@dataclass(frozen=True)
class Limit:
    """The highest temperature (K) allowed at a node of a circuit, and what says so."""

    name: str
    circuit: str
    node: str
    temperature: Array
    source: str = ""


@dataclass(frozen=True)
class Interval:
    """Median and 95 % interval of draws."""

    median: float
    low: float
    high: float

    @staticmethod
    def of(values: Array) -> Interval:
        """From draws; nan are left out."""
        clean = np.asarray(values, dtype=float)
        clean = clean[np.isfinite(clean)]
        if clean.size == 0:
            return Interval(float("nan"), float("nan"), float("nan"))
        low, median, high = np.percentile(clean, [2.5, 50.0, 97.5])
        return Interval(float(median), float(low), float(high))

    def told(self, scale: float = 1.0, offset: float = 0.0) -> str:
        """For people: the digits that the interval supports, "3.1 (1.2 to 4.9)"; "–" where there is no value."""
        if not np.isfinite(self.median):
            return "–"
        width = abs(self.high - self.low) * scale
        digits = 0 if width == 0 or not np.isfinite(width) else max(0, 1 - int(np.floor(np.log10(width))))
        if digits > MOST_DIGITS:  # what a solver leaves open is no figure
            return "0" if abs(self.median * scale + offset) < 10.0**-MOST_DIGITS else self._rounded(scale, offset)
        return self._rounded(scale, offset, digits)

    def _rounded(self, scale: float, offset: float, digits: int = 4) -> str:
        median, low, high = (f"{value * scale + offset:.{digits}f}" for value in (self.median, self.low, self.high))
        return f"{median} ({low} to {high})".replace("-", "−")


def margins(solution: Solution, limits: tuple[Limit, ...]) -> dict[str, Array]:
    """Limit minus temperature (K) for each limit, (draws, speeds); nan where there is no steady answer."""
    return {limit.name: limit.temperature - solution.temperature[node(limit.circuit, limit.node)] for limit in limits}


def boiling_margins(network: Network, solution: Solution) -> dict[str, Array]:
    """Boiling point at the cap's pressure minus the hottest node (K), by circuit that can boil."""
    result = {}
    for circuit in network.circuits:
        if not isinstance(circuit.liquid, Coolant):
            continue
        hottest = np.fmax.reduce([solution.temperature[key] for key in nodes_of(circuit)])
        result[circuit.name] = circuit.liquid.boiling_temperature(circuit.pressure) - hottest
    return result


def worst_margin(network: Network, solution: Solution, limits: tuple[Limit, ...]) -> Array:
    """Smallest margin over limits and boiling (K), per draw and speed; −inf where no steady answer exists."""
    every = [*margins(solution, limits).values(), *boiling_margins(network, solution).values()]
    worst = np.minimum.reduce(np.broadcast_arrays(*every))
    return np.where(np.isfinite(worst) & solution.converged, worst, -np.inf)


def probability_of_closing(network: Network, solution: Solution, limits: tuple[Limit, ...]) -> np.ndarray:
    """Share of the draws that keep every limit and do not boil, by speed."""
    return np.mean(worst_margin(network, solution, limits) >= 0.0, axis=0)


# ---------------------------------------------------------------- changes


def with_heat(network: Network, factor: Array) -> Network:
    """All heat sources times ``factor``; gas coolers carry the factor on their gas flow."""

    def change(part: Part) -> Part:
        if isinstance(part, GasCooledByLiquid):
            return dataclasses.replace(part, power=part.power * factor, gas_rate=part.gas_rate * factor)
        if isinstance(part, Passage):
            return dataclasses.replace(part, power=part.power * factor)
        return part

    return _with_parts(network, change)


def with_core_area(network: Network, name: str, factor: Array) -> Network:
    """One core's face times ``factor``."""

    def change(part: Part) -> Part:
        if isinstance(part, CorePart) and part.name == name and part.core is not None:
            return CorePart(part.name, part.start, part.end, part.core.scaled(factor))
        return part

    gas = tuple(
        dataclasses.replace(core, core=core.core.scaled(factor), prepared=None) if core.name == name else core
        for core in network.gas_cores
    )
    return dataclasses.replace(_with_parts(network, change), gas_cores=gas)


def with_fans(network: Network, factor: Array) -> Network:
    """All fans turning ``factor`` times as fast."""
    ducts = tuple(
        duct
        if duct.fan is None
        else dataclasses.replace(duct, fan=dataclasses.replace(duct.fan, running=duct.fan.running * factor))
        for duct in network.ducts
    )
    return dataclasses.replace(network, ducts=ducts)


def with_pumps(network: Network, factor: Array) -> Network:
    """All pumps turning ``factor`` times as fast."""

    def change(part: Part) -> Part:
        return dataclasses.replace(part, running=part.running * factor) if isinstance(part, Pump) else part

    return _with_parts(network, change)


def with_open_thermostats(network: Network) -> Network:
    """Thermostats as they stand when hot: wide open, bypasses shut but for their leak."""

    def change(part: Part) -> Part:
        if not isinstance(part, Thermostat):
            return part
        opening = part.leak if part.closes else 1.0
        return Valve(part.name, part.start, part.end, part.diameter, part.loss, opening)

    return _with_parts(network, change)


def _with_parts(network: Network, change: Any) -> Network:
    circuits = tuple(
        dataclasses.replace(circuit, parts=tuple(change(part) for part in circuit.parts))
        for circuit in network.circuits
    )
    return dataclasses.replace(network, circuits=circuits)


def bearable_heat(
    network: Network, conditions: Conditions, limits: tuple[Limit, ...], solution: Solution, rounds: int = 2
) -> Array:
    """Factor on all heat at which the first limit is just reached, per draw and speed.

    Temperatures over ambient go nearly with the heat; two rounds of the secant take up what the properties
    change. Thermostats count as open, as they are at a limit. Boiling counts as a limit. Without heat, and
    where no answer exists, nan.
    """
    ambient = conditions.air.temperature
    if any(isinstance(part, Thermostat) for circuit in network.circuits for part in circuit.parts):
        network = with_open_thermostats(network)
        solution = solve(network, conditions, start=solution, tolerance=NEAR)
    factor: Array = _linear_factor(network, solution, limits, ambient)
    for _ in range(rounds):
        factor = np.clip(factor, 0.02, 20.0)
        solution = solve(with_heat(network, factor), conditions, start=solution, tolerance=NEAR)
        factor = factor * _linear_factor(network, solution, limits, ambient)
    return factor


def _linear_factor(network: Network, solution: Solution, limits: tuple[Limit, ...], ambient: Array) -> Array:
    factors = []
    for limit in limits:
        here = solution.temperature[node(limit.circuit, limit.node)]
        factors.append((limit.temperature - ambient) / (here - ambient))
    for circuit in network.circuits:
        hottest = np.fmax.reduce([solution.temperature[key] for key in nodes_of(circuit)])
        boiling = circuit.liquid.boiling_temperature(circuit.pressure)
        with np.errstate(divide="ignore", invalid="ignore"):
            factors.append((boiling - ambient) / (hottest - ambient))
    return np.minimum.reduce(np.broadcast_arrays(*factors))


@dataclass(frozen=True)
class Effect:
    """What one change would do to the worst margin (K), over draws."""

    change: str
    subject: str
    gain: Interval


def effects_of_changes(
    network: Network, conditions: Conditions, limits: tuple[Limit, ...], solution: Solution
) -> tuple[list[Effect], dict[str, Array]]:
    """A tenth more face for each core, a tenth more speed for all fans and for all pumps; best first.

    Give ``conditions`` of the case that matters (one speed), with its ``solution``. The second result holds
    the gains (K) as draws, by "subject: change".
    """
    base = worst_margin(network, solution, limits)
    names = [part.name for c in network.circuits for part in c.parts if isinstance(part, CorePart)]
    names += [core.name for core in network.gas_cores]
    changes = [("face area + 10 %", name, with_core_area(network, name, 1.1)) for name in sorted(names)]
    if any(duct.fan is not None for duct in network.ducts):
        changes.append(("speed + 10 %", "fans", with_fans(network, 1.1)))
    changes.append(("speed + 10 %", "pumps", with_pumps(network, 1.1)))
    found, draws = [], {}
    for change, subject, changed in changes:
        with np.errstate(invalid="ignore"):
            again = solve(changed, conditions, start=solution, tolerance=CLOSE)
            gain = worst_margin(changed, again, limits) - base
        gain = np.where(np.isfinite(gain), gain, np.nan)
        draws[f"{subject}: {change}"] = gain
        found.append(Effect(change, subject, Interval.of(gain)))
    found.sort(key=lambda effect: -effect.gain.median if np.isfinite(effect.gain.median) else 0.0)
    return found, draws


def short_core(effects: list[Effect]) -> tuple[str, str]:
    """The core whose growth helps most, and a sentence."""
    cores = [e for e in effects if e.change.startswith("face area") and np.isfinite(e.gain.median)]
    if not cores:
        return "", "no core can be said to be short: there is no steady answer"
    best = cores[0]
    told = f"{best.subject} is the short one: a tenth more face there gains {best.gain.told()} K"
    if len(cores) > 1:
        told += f", against {cores[1].gain.told()} K at {cores[1].subject}"
        if best.gain.low < cores[1].gain.median:
            told += "; the draws do not separate them clearly"
    return best.subject, told
