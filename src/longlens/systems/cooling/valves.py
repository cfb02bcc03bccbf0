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


def move_valves(valves: dict[str, Valve], temperatures: dict[str, Array]) -> Array:
    """Set every thermostat's temperature anew; True where it agrees with what it senses."""
    agreed: Array = True
    for key, valve in valves.items():
        sensed = np.clip(temperatures[key], valve.floor, valve.ceiling)
        gap = sensed - valve.set_at
        done = np.abs(gap) < 1e-3
        agreed = agreed & done
        # The sensed temperature falls as the valve opens: the root lies above where the gap is positive.
        low: Array = np.where(gap > 0.0, np.maximum(valve.low, valve.set_at), valve.low)
        high: Array = np.where(gap < 0.0, np.minimum(valve.high, valve.set_at), valve.high)
        if valve.last is None:
            slope: Array = -3.0
        else:
            moved, gap_before = valve.set_at - valve.last[0], valve.last[1]
            slope = np.where(np.abs(moved) > 1e-9, (gap - gap_before) / moved, -3.0)
        slope = np.clip(slope, -1e4, -1.0)
        proposal = valve.set_at - gap / slope
        # Rounds move the temperatures too, so the bracket is given a little room.
        room = 0.02 * (high - low) + 1e-3
        inside = (proposal > low - room) & (proposal < high + room)
        proposal = np.where(inside, proposal, 0.5 * (low + high))
        valve.last = (valve.set_at, gap)
        valve.low, valve.high = low - 0.1 * room, high + 0.1 * room
        valve.set_at = np.where(done, valve.set_at, np.clip(proposal, valve.floor, valve.ceiling))
    return agreed
