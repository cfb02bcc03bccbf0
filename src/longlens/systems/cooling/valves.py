"""Thermostats: the temperature at which each is set must be the one it senses."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from .components import Thermostat
from .hydraulics import Loops
from .model import Circuit, node

Array = Any


@dataclass
class Valve:
    """Temperature at which the thermostats of one sensed node are set, with the bracket of the root."""

    set_at: Array
    low: Array
    high: Array
    last: tuple[Array, Array] | None = None
    floor: Array = 0.0
    ceiling: Array = 0.0
    halved: Array = False


def start_valves(circuits: tuple[Circuit, ...]) -> dict[str, Valve]:
    """One setting for each sensed node, at first fully open."""
    valves: dict[str, Valve] = {}
    for circuit in circuits:
        for part in circuit.parts:
            if not isinstance(part, Thermostat):
                continue
            key = node(circuit.name, part.senses)
            floor, ceiling = np.asarray(part.opens_at) - 2.0, np.asarray(part.full_at) + 2.0
            if key in valves:
                old = valves[key]
                floor, ceiling = np.minimum(floor, old.floor), np.maximum(ceiling, old.ceiling)
            valves[key] = Valve(ceiling, floor, ceiling, None, floor, ceiling)
    return valves


def set_valves(circuit: Circuit, loops: Loops, valves: dict[str, Valve]) -> Loops:
    """The circuit's loops with every thermostat opened as its set temperature wants."""
    changed = {
        part.name: dataclasses.replace(part, opening=part.wanted(valves[node(circuit.name, part.senses)].set_at))
        for part in circuit.parts
        if isinstance(part, Thermostat)
    }
    if not changed:
        return loops
    return dataclasses.replace(loops, parts={**loops.parts, **changed})


#: Slopes that a secant may have: the sensed temperature falls, at most steeply, as the setting rises.
_SLOPES = (-300.0, -1.0)
_AGREED = 1e-3  # K


def gaps(valves: dict[str, Valve], temperatures: dict[str, Array]) -> Array:
    """True where every thermostat is set at the temperature it senses (or at an end, with it beyond)."""
    agreed: Array = True
    for key, valve in valves.items():
        agreed = agreed & (np.abs(_gap(valve, temperatures[key])) < _AGREED)
    return agreed


def _gap(valve: Valve, sensed: Array) -> Array:
    return np.clip(sensed, valve.floor, valve.ceiling) - valve.set_at


def move_valves(valves: dict[str, Valve], temperatures: dict[str, Array]) -> None:
    """Set every thermostat's temperature anew, the rest of the system having settled to the last setting.

    A secant inside a bracket; where a secant did not halve the gap, the bracket is halved next.
    """
    for key, valve in valves.items():
        here, gap = valve.set_at, _gap(valve, temperatures[key])
        moved, before = (here - valve.last[0], valve.last[1]) if valve.last else (np.inf, np.inf)
        # The sensed temperature falls as the valve opens: the root lies above where the gap is positive.
        low: Array = np.where(gap > 0.0, np.maximum(valve.low, here), valve.low)
        high: Array = np.where(gap < 0.0, np.minimum(valve.high, here), valve.high)
        # What had not quite settled may have closed the bracket on the wrong side: open it again.
        wrong = (np.abs(gap) > _AGREED) & (high - low < 0.1 * np.abs(gap))
        low, high = np.where(wrong, valve.floor, low), np.where(wrong, valve.ceiling, high)
        steady = np.isfinite(moved) & (np.abs(moved) > 1e-7)
        slope = np.where(steady, (gap - before) / np.where(steady, moved, 1.0), -3.0)
        secant = here - gap / np.clip(slope, *_SLOPES)
        slow = np.isfinite(before) & (np.abs(gap) > 0.5 * np.abs(before)) & ~np.asarray(valve.halved)
        halve = (slow | (secant < low) | (secant > high)) & ~wrong
        wanted = np.where(halve, 0.5 * (low + high), np.clip(secant, low, high))
        valve.last, valve.low, valve.high, valve.halved = (here, gap), low, high, halve
        valve.set_at = np.where(np.abs(gap) < _AGREED, here, wanted)
