"""What a cooling system is made of for the solver, and what a solution holds.

Shapes: every number is a scalar or broadcasts with (draws, speeds).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from .air import AirState
from .airside import Duct, Outflow
from .components import CorePart, Exchanger, GasCore, Part
from .core import Prepared
from .liquids import Coolant, Oil

Array = Any


@dataclass(frozen=True)
class Circuit:
    """One liquid going round: a name, the liquid, its parts, the absolute pressure at the cap (Pa)."""

    name: str
    liquid: Coolant | Oil
    parts: tuple[Part, ...]
    pressure: Array = 2.0e5


@dataclass(frozen=True)
class Network:
    """All circuits with what couples them."""

    circuits: tuple[Circuit, ...]
    ducts: tuple[Duct, ...] = ()
    exchangers: tuple[Exchanger, ...] = ()
    gas_cores: tuple[GasCore, ...] = ()


@dataclass(frozen=True)
class Conditions:
    """Road speed (m/s) and the ambient air."""

    speed: Array
    air: AirState


@dataclass(frozen=True)
class Finding:
    """What the user should know: text, place, level ("note", "warning", "problem"), share of cases."""

    text: str
    where: str
    level: str = "warning"
    share: float = 1.0


@dataclass
class Solution:
    """Arrays over (draws, speeds), by name; nodes are ``circuit:node``.

    flow kg/s, drop Pa and given W (own heat, for a pump its shaft power) by part; temperature K by node;
    inlet and outlet K by part, whichever way it flows; heat W and conductance W/K by core, exchanger and
    gas-cooled part (into the air or the other side, positive as meant); air_flow kg/s, air_in and air_out K
    by core; duct_flow kg/s by duct; gas_out K behind each charge cooler; outflow by duct. pressure_error
    relative; heat_error relative to the heat turned over; converged per point.
    """

    flow: dict[str, Array] = field(default_factory=dict)
    given: dict[str, Array] = field(default_factory=dict)
    drop: dict[str, Array] = field(default_factory=dict)
    temperature: dict[str, Array] = field(default_factory=dict)
    inlet: dict[str, Array] = field(default_factory=dict)
    outlet: dict[str, Array] = field(default_factory=dict)
    heat: dict[str, Array] = field(default_factory=dict)
    conductance: dict[str, Array] = field(default_factory=dict)
    air_flow: dict[str, Array] = field(default_factory=dict)
    duct_flow: dict[str, Array] = field(default_factory=dict)
    gas_out: dict[str, Array] = field(default_factory=dict)
    air_in: dict[str, Array] = field(default_factory=dict)
    air_out: dict[str, Array] = field(default_factory=dict)
    pressure_error: Array = 0.0
    heat_error: Array = 0.0
    converged: Array = True
    rounds: int = 0
    findings: list[Finding] = field(default_factory=list)
    outflow: dict[str, Outflow] = field(default_factory=dict)


def node(circuit: str, name: str) -> str:
    """The key of a node."""
    return f"{circuit}:{name}"


def where(network: Network, name: str) -> tuple[Circuit, Part]:
    """The circuit and the part of that name; KeyError if there is none."""
    for circuit in network.circuits:
        for part in circuit.parts:
            if part.name == name:
                return circuit, part
    raise KeyError(name)


def prepared_cores(network: Network) -> dict[str, Prepared]:
    """Constants of every core by name; the network must be ready."""
    table: dict[str, Any] = {
        part.name: part.prepared for circuit in network.circuits for part in circuit.parts if isinstance(part, CorePart)
    }
    table.update({core.name: core.prepared for core in network.gas_cores})
    return table


def nodes_of(circuit: Circuit) -> list[str]:
    """Keys of all nodes of a circuit, sorted."""
    return sorted({node(circuit.name, end) for part in circuit.parts for end in (part.start, part.end)})
