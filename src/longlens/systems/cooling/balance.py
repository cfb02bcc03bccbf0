"""Conductances at the present flows, and all temperatures from one linear heat balance.

Temperatures are solved as excess over ambient. A stream's heat goes to the node downstream of its part,
whichever way it flows; a trace of axial mixing keeps stagnant branches finite without losing any heat.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from . import air as dry_air
from .airside import AirFlows, AirTemperatures
from .components import CorePart, Exchanger, GasCooledByLiquid, Part, Passage, Pump
from .core import air_conductance, inlet_conductance, tube_conductance
from .effectiveness import counterflow, parallel_flow, shell_and_tube
from .elimination import System
from .liquids import Properties
from .model import Circuit, Conditions, Network, node, nodes_of, where

Array = Any

AXIAL_MIXING = 1e-6  # of the circuit's largest flow: keeps stagnant branches at a finite temperature
LEAK = 1e-8  # W/K to ambient, so that a circuit without any exit has a (huge) answer that can be recognised


def _core_air(network: Network, air: AirFlows, along: dict[str, AirTemperatures]) -> dict[str, tuple[Array, Array]]:
    """Air mass flow and mean air temperature by core."""
    result = {}
    for duct in network.ducts:
        here = along[duct.name]
        for k, name in enumerate(duct.cores):
            result[name] = (air.core[name], 0.5 * (here.before[k] + here.after[k]))
    return result


def conductances(
    network: Network,
    along: dict[str, AirTemperatures],
    flows: dict[str, Array],
    liquids: dict[str, Properties],
    air: AirFlows,
) -> dict[str, Array]:
    """Inlet conductance (W/K) of every core, gas cooler and exchanger."""
    core_air = _core_air(network, air, along)
    result: dict[str, Array] = {}
    for circuit in network.circuits:
        liquid = liquids[circuit.name]
        for part in circuit.parts:
            rate = np.abs(flows[part.name]) * liquid.heat_capacity
            if isinstance(part, CorePart) and part.name in core_air:
                result[part.name] = _core_conductance(part.prepared, core_air[part.name], flows[part.name], liquid)
            elif isinstance(part, GasCooledByLiquid):
                result[part.name] = _gas_cooler_conductance(part, flows[part.name], rate)
    for gas in network.gas_cores:
        if gas.name in core_air:
            mean = 0.5 * (gas.gas_inlet + core_air[gas.name][1])
            inside = Properties(
                dry_air.density(mean, gas.gas_pressure),
                dry_air.heat_capacity(mean),
                dry_air.viscosity(mean),
                dry_air.conductivity(mean),
            )
            result[gas.name] = _core_conductance(gas.prepared, core_air[gas.name], gas.gas_flow, inside)
    for exchanger in network.exchangers:
        result[exchanger.name] = _exchanger_conductance(network, exchanger, flows, liquids)
    return result


def _core_conductance(prepared: Any, at_air: tuple[Array, Array], flow: Array, liquid: Properties) -> Array:
    air_flow, mean = at_air
    outside = air_conductance(prepared, air_flow, mean)
    inside = tube_conductance(prepared, flow, liquid)
    rate = air_flow * dry_air.heat_capacity(mean)
    value = inlet_conductance(prepared, outside, inside, rate, np.abs(flow) * liquid.heat_capacity)
    return np.where(air_flow > 1e-6, value, 0.0)


def _gas_cooler_conductance(part: GasCooledByLiquid, flow: Array, rate: Array) -> Array:
    overall = part.conductance / (0.5 + 0.5 * _film_ratio(flow, part.reference_flow))
    small, large = np.minimum(rate, part.gas_rate), np.maximum(rate, part.gas_rate)
    small = np.maximum(small, 1e-9)
    return counterflow(overall / small, small / np.maximum(large, 1e-9)) * small


def _film_ratio(flow: Array, reference: Array) -> Array:
    return (np.maximum(np.abs(flow), 1e-6) / reference) ** -0.7


def _exchanger_conductance(
    network: Network, exchanger: Exchanger, flows: dict[str, Array], liquids: dict[str, Properties]
) -> Array:
    sides = []
    for name in (exchanger.first, exchanger.second):
        circuit, part = where(network, name)
        assert isinstance(part, Passage)
        rate = np.abs(flows[name]) * liquids[circuit.name].heat_capacity
        sides.append((np.maximum(rate, 1e-9), _film_ratio(flows[name], part.reference_flow)))
    overall = exchanger.conductance / (0.5 * sides[0][1] + 0.5 * sides[1][1])
    small, large = np.minimum(sides[0][0], sides[1][0]), np.maximum(sides[0][0], sides[1][0])
    law = {"counterflow": counterflow, "parallel_flow": parallel_flow, "shell_and_tube": shell_and_tube}
    return law[exchanger.arrangement](overall / small, small / large) * small


def air_node(core: str) -> str:
    return f"air after {core}"


def temperatures(
    network: Network,
    conditions: Conditions,
    along: dict[str, AirTemperatures],
    flows: dict[str, Array],
    liquids: dict[str, Properties],
    air: AirFlows,
    conductance: dict[str, Array],
) -> dict[str, Array]:
    """All node temperatures (K, over ambient inside) from one linear system."""
    ambient = conditions.air.temperature
    inlets = _AirInlets(network, along, air)
    nodes = [key for circuit in network.circuits for key in nodes_of(circuit)]
    system = System([*nodes, *sorted(inlets.unknown)])
    for circuit in network.circuits:
        _circuit_equations(system, network, circuit, flows, liquids, conductance, inlets, ambient)
    for exchanger in network.exchangers:
        _exchanger_equations(system, network, exchanger, flows, conductance[exchanger.name])
    inlets.equations(system, network, conductance, flows, ambient)
    excess = system.solve()
    return {name: value + ambient for name, value in excess.items()}


class _AirInlets:
    """Temperature of the air before each core, as a linear form in the unknown 'air after the core ahead'."""

    def __init__(
        self,
        network: Network,
        along: dict[str, AirTemperatures],
        air: AirFlows,
    ) -> None:
        self.ahead: dict[str, tuple[str, Array]] = {}
        self.rate: dict[str, Array] = {}
        for duct in network.ducts:
            here = along[duct.name]
            for k, name in enumerate(duct.cores):
                mean = 0.5 * (here.before[k] + here.after[k])
                self.rate[name] = air.core[name] * dry_air.heat_capacity(mean)
                if k > 0:
                    self.ahead[name] = (duct.cores[k - 1], air.covered[duct.name])
        self.unknown = {air_node(first) for first, _ in self.ahead.values()}

    def add(self, system: System, row: str, core: str, value: Array) -> None:
        """System[row] gets ``value`` times the air temperature (over ambient) before ``core``."""
        if core in self.ahead:
            first, covered = self.ahead[core]
            system.add(row, air_node(first), value * covered)

    def equations(
        self,
        system: System,
        network: Network,
        conductance: dict[str, Array],
        flows: dict[str, Array],
        ambient: Array,
    ) -> None:
        """Heat balance of the air through every core that stands before another."""
        gas = {core.name: core for core in network.gas_cores}
        for first, _ in self.ahead.values():
            row = air_node(first)
            rate = np.maximum(self.rate[first], 1e-9)
            value = conductance.get(first, 0.0)
            system.add(row, row, rate)
            self.add(system, row, first, -(rate - value))
            if first in gas:
                system.add_right(row, value * (gas[first].gas_inlet - ambient))
            else:
                circuit, part = where(network, first)
                forward, backward = stream_ends(circuit, part, flows[first])
                for key, mask in (forward, backward):
                    if mask is not None:
                        system.add(row, key, -value * mask)


def stream_ends(circuit: Circuit, part: Part, flow: Array) -> tuple[tuple[str, Array | None], tuple[str, Array | None]]:
    """Upstream node with its mask, for the flow as meant and for the flow reversed."""
    start, end = node(circuit.name, part.start), node(circuit.name, part.end)
    if np.all(flow >= 0.0):
        return (start, 1.0), (end, None)
    return (start, np.where(flow >= 0.0, 1.0, 0.0)), (end, np.where(flow < 0.0, 1.0, 0.0))


def _circuit_equations(
    system: System,
    network: Network,
    circuit: Circuit,
    flows: dict[str, Array],
    liquids: dict[str, Properties],
    conductance: dict[str, Array],
    inlets: _AirInlets,
    ambient: Array,
) -> None:
    capacity = liquids[circuit.name].heat_capacity
    largest = sum(np.abs(flows[part.name]) for part in circuit.parts) / len(circuit.parts)
    mixing = AXIAL_MIXING * (largest * capacity + 1.0)
    first = node(circuit.name, min(part.start for part in circuit.parts))
    system.add(first, first, LEAK)
    for part in circuit.parts:
        start, end = node(circuit.name, part.start), node(circuit.name, part.end)
        for one, other in ((start, end), (end, start)):
            system.add(one, one, mixing)
            system.add(one, other, -mixing)
        flow = flows[part.name]
        forward, backward = stream_ends(circuit, part, flow)
        rate = np.abs(flow) * capacity
        given = part.heat() + pumping(part, flow, liquids[circuit.name])
        for (upstream, mask), downstream in ((forward, end), (backward, start)):
            if mask is None:
                continue
            system.add(downstream, downstream, rate * mask)
            system.add(downstream, upstream, -rate * mask)
            if np.any(given):
                system.add_right(downstream, given * mask)
            if part.name in conductance:
                value = conductance[part.name] * mask
                system.add(downstream, upstream, value)
                if isinstance(part, GasCooledByLiquid):
                    system.add_right(downstream, value * (part.gas_inlet - ambient))
                else:
                    inlets.add(system, downstream, part.name, -value)


def pumping(part: Part, flow: Array, liquid: Properties) -> Array:
    """Power a pump leaves in the liquid (W): its shaft power, all of it."""
    if not isinstance(part, Pump):
        return 0.0
    return np.maximum(-part.drop(flow, liquid)[0], 0.0) * np.abs(flow) / liquid.density / part.efficiency


def _exchanger_equations(
    system: System, network: Network, exchanger: Exchanger, flows: dict[str, Array], value: Array
) -> None:
    """Heat G (T₁,in − T₂,in) leaves the first stream and enters the second."""
    ends = []
    for name in (exchanger.first, exchanger.second):
        circuit, part = where(network, name)
        forward, backward = stream_ends(circuit, part, flows[name])
        downstream = (node(circuit.name, part.end), node(circuit.name, part.start))
        ends.append([(up, mask, down) for (up, mask), down in zip((forward, backward), downstream, strict=True)])
    for mine, theirs in ((ends[0], ends[1]), (ends[1], ends[0])):
        for up, mask, down in mine:
            if mask is None:
                continue
            system.add(down, up, value * mask)
            for other, other_mask, _ in theirs:
                if other_mask is not None:
                    system.add(down, other, -value * mask * other_mask)
