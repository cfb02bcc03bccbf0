"""Circuits, ducts and exchangers solved together: flows, then temperatures, round and round until still.

Draws are taken in blocks, on threads.

What is exact and what is iterated: mass is exact (loop flows), the heat balance is solved as one linear
system and closes to rounding, pressure round each loop closes to 1e-10 of its falls. Iterated between them
are the liquid's properties (at the circuit's mean temperature), the air's flow and temperature, and the
thermostats. Heat capacity is taken at each circuit's mean temperature. Steady state only.
"""

from __future__ import annotations

import dataclasses
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from . import air as dry_air
from .airside import AirFlows, AirTemperatures, Duct, covered_share, outflow, solve_air_flow
from .balance import LEAK, air_node, conductances, pumping, stream_ends, temperatures
from .blocks import draws, join, leaves, pick, put_back, take
from .components import CorePart, GasCooledByLiquid, Part, Thermostat
from .core import prepare
from .findings import find
from .hydraulics import CLOSED, Loops, find_loops, solve_flows
from .liquids import Properties
from .model import Circuit, Conditions, Network, Solution, node, nodes_of, prepared_cores, where
from .structure import check
from .valves import Valve, gaps, move_valves, set_valves, start_valves

Array = Any

ABSURD = 1500.0  # K: beyond, heat has no way out and the temperature is withdrawn
BLOCK = 3000
SIFTING = 6  # rounds between which the still points are laid aside
LOOSE_ROUNDS = 2
SETTLING = 3  # rounds before the thermostats move first; then they move every second round
MAX_ROUNDS = 80
_GUESS = 345.0


def solve(
    network: Network,
    conditions: Conditions,
    *,
    tolerance: float = 1e-4,
    workers: int = 2,
    start: Solution | None = None,
) -> Solution:
    """Flows and temperatures for all draws and speeds.

    Parameters
    ----------
    tolerance : change of the temperatures (K) in the last round at which a point counts as still.
    workers : threads; the blocks are independent and NumPy lets go of the interpreter lock.
    start : solution of a network like this one (the same parts, other figures) to begin from; saves about half the time.

    Raises UnusableInput when the structure cannot be solved (see :func:`check`); all else is a finding.
    """
    findings = check(network)
    network = _ready(network)
    count = max(draws(network), draws(conditions))
    speeds = np.broadcast_shapes(*[np.shape(leaf) for leaf in leaves(conditions)] or [()])
    width = speeds[-1] if speeds else 1
    rows = max(1, BLOCK // max(width, 1))
    pieces = [slice(k, min(k + rows, count)) for k in range(0, count, rows)]

    def run(piece: slice) -> Solution:
        begin = None if start is None else take(start, count, piece)
        return _solve_block(take(network, count, piece), take(conditions, count, piece), tolerance, begin)

    if len(pieces) == 1:
        blocks = [run(pieces[0])]
    else:
        with ThreadPoolExecutor(max_workers=workers) as pool:
            blocks = list(pool.map(run, pieces))
    whole = join(blocks, [piece.stop - piece.start for piece in pieces], width)
    whole.findings = findings + find(network, whole)
    return whole


def _ready(network: Network) -> Network:
    circuits = tuple(
        dataclasses.replace(
            circuit,
            parts=tuple(part.ready() if isinstance(part, CorePart) else part for part in circuit.parts),
        )
        for circuit in network.circuits
    )
    gas = tuple(
        core if core.prepared is not None else dataclasses.replace(core, prepared=prepare(core.core))
        for core in network.gas_cores
    )
    return dataclasses.replace(network, circuits=circuits, gas_cores=gas)


@dataclass
class _State:
    """What one round hands to the next."""

    mean: dict[str, Array]
    loops: dict[str, Loops]
    loop_flows: dict[str, list[Array] | None]
    air_flow: dict[str, Array | None]
    along: dict[str, AirTemperatures]
    valves: dict[str, Valve]
    steps: dict[str, tuple[Array, Array]] = field(default_factory=dict)


@dataclass
class _Round:
    """Everything known after one round."""

    flows: dict[str, Array]
    liquids: dict[str, Properties]
    air: AirFlows
    conductance: dict[str, Array]
    temperatures: dict[str, Array]
    error: Array


def _solve_block(network: Network, conditions: Conditions, tolerance: float, start: Solution | None) -> Solution:
    """All points of a block."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        state = _start(network, conditions)
        if start is not None:
            _begin_from(network, state, start)
        return _go_on(network, conditions, state, tolerance, 0 if start is None else LOOSE_ROUNDS)


def _begin_from(network: Network, state: _State, start: Solution) -> None:
    """Flows, temperatures and thermostats of another solution as the first guess, point by point where it has one."""
    for circuit in network.circuits:
        nodes = nodes_of(circuit)
        state.mean[circuit.name] = _bounded(sum(start.temperature[key] for key in nodes) / len(nodes))
        # A loop's own chord, listed first, carries that loop's flow alone.
        state.loop_flows[circuit.name] = [
            np.asarray(start.flow[next(iter(loop))]) for loop in state.loops[circuit.name].loops
        ] or None
    for duct in network.ducts:
        state.air_flow[duct.name] = np.maximum(start.duct_flow[duct.name], 1e-3)
        state.along[duct.name] = AirTemperatures(
            tuple(_bounded(start.air_in[name]) for name in duct.cores),
            tuple(_bounded(start.air_out[name]) for name in duct.cores),
        )
    for key, valve in state.valves.items():
        sensed = np.nan_to_num(start.temperature[key], nan=float(np.max(valve.ceiling)))
        valve.set_at = np.clip(sensed, valve.floor, valve.ceiling)


def _go_on(network: Network, conditions: Conditions, state: _State, tolerance: float, rounds: int) -> Solution:
    """Rounds until still; now and then the points that are not yet still go on by themselves."""
    before: dict[str, Array] | None = None
    while True:
        rounds += 1
        # The first rounds only find the neighbourhood: closing their loops to the last digit would be lost.
        loose = rounds <= LOOSE_ROUNDS
        now = _one_round(network, conditions, state, loose)
        still = _still(before, now.temperatures, tolerance) & gaps(state.valves, now.temperatures) & (not loose)
        last = np.all(still) or rounds >= MAX_ROUNDS
        sift = rounds % SIFTING == 0 and np.mean(still) > 0.25
        result = _report(network, conditions, state, now, still, rounds) if last or sift else None
        if last and result is not None:
            return result
        if rounds >= SETTLING and rounds % 2:
            move_valves(state.valves, now.temperatures)
            if state.valves:
                state.steps = {}
        _pass_on(network, conditions, state, now)
        if result is not None:
            restless = ~np.atleast_2d(still)
            rest = _go_on(pick(network, restless), pick(conditions, restless), pick(state, restless), tolerance, rounds)
            put_back(result, rest, restless)
            return result
        before = now.temperatures


def _start(network: Network, conditions: Conditions) -> _State:
    ambient = conditions.air.temperature
    mean = {circuit.name: np.asarray(_GUESS) for circuit in network.circuits}
    along = {
        duct.name: AirTemperatures(tuple(ambient for _ in duct.cores), tuple(ambient + 15.0 for _ in duct.cores))
        for duct in network.ducts
    }
    loops = {}
    for circuit in network.circuits:
        liquid = circuit.liquid.properties(mean[circuit.name])
        resistance = {part.name: _typical_resistance(part, liquid) for part in circuit.parts}
        loops[circuit.name] = find_loops(list(circuit.parts), resistance)
    valves = start_valves(network.circuits)
    return _State(
        mean,
        loops,
        {c.name: None for c in network.circuits},
        {d.name: None for d in network.ducts},
        along,
        valves,
    )


def _typical_resistance(part: Part, liquid: Properties) -> float:
    idle = part.drop(np.zeros(1), liquid)[0]
    return float(np.median(np.abs(part.drop(np.full(1, 0.3), liquid)[0] - idle)))


def _one_round(network: Network, conditions: Conditions, state: _State, loose: bool = False) -> _Round:
    flows: dict[str, Array] = {}
    liquids: dict[str, Properties] = {}
    worst: Array = 0.0
    for circuit in network.circuits:
        liquid = circuit.liquid.properties(state.mean[circuit.name])
        liquids[circuit.name] = liquid
        loops = set_valves(circuit, state.loops[circuit.name], state.valves)
        solved = solve_flows(
            loops, dict.fromkeys(loops.parts, liquid), state.loop_flows[circuit.name], 1e-3 if loose else CLOSED
        )
        state.loop_flows[circuit.name] = solved.loop_flows or None
        flows.update(solved.parts)
        worst = np.maximum(worst, solved.error)
    air = _air_flows(network, conditions, state, 1e-3 if loose else 1e-9)
    conductance = conductances(network, state.along, flows, liquids, air)
    solved_heat = temperatures(network, conditions, state.along, flows, liquids, air, conductance)
    return _Round(flows, liquids, air, conductance, solved_heat, worst)


def _air_flows(network: Network, conditions: Conditions, state: _State, tolerance: float) -> AirFlows:
    table = prepared_cores(network)
    result = AirFlows()
    for duct in network.ducts:
        cores = tuple(table[name] for name in duct.cores)
        along = state.along[duct.name]
        flow = solve_air_flow(
            duct, cores, conditions.speed, conditions.air, along, state.air_flow[duct.name], tolerance
        )
        covered = covered_share(duct, cores, flow, conditions.air, along)
        state.air_flow[duct.name] = flow
        result.duct[duct.name], result.covered[duct.name] = flow, covered
        for k, name in enumerate(duct.cores):
            result.core[name] = flow * covered if k == 0 and len(cores) == 2 else flow
    return result


def _still(before: dict[str, Array] | None, now: dict[str, Array], tolerance: float) -> Array:
    if before is None:
        return False
    result: Array = True
    for name, value in now.items():
        change = np.abs(value - before[name])
        result = result & ((change < tolerance) | (np.abs(value) > ABSURD) | ~np.isfinite(value))
    return result


def _relaxed(state: _State, name: str, found: Array) -> Array:
    """Next mean temperature of a circuit: Aitken's extrapolation, point by point.

    Where tubes are in transition a warmer liquid conducts so much better that plain repetition would swing
    for ever between two states.
    """
    used = state.mean[name]
    step = found - used
    last = state.steps.get(name)
    factor: Array = 1.0
    if last is not None:
        before, factor_before = last
        fall = before - step
        usable = np.abs(fall) > 1e-9
        factor = np.where(usable, factor_before * before / np.where(usable, fall, 1.0), 1.0)
        factor = np.where(np.isfinite(factor), np.clip(factor, 0.2, 1.25), 1.0)
    state.steps[name] = (step, factor)
    return _bounded(used + factor * step)


def _bounded(temperature: Array) -> Array:
    return np.clip(np.nan_to_num(temperature, nan=_GUESS), 255.0, 430.0)


def _pass_on(network: Network, conditions: Conditions, state: _State, now: _Round) -> None:
    for circuit in network.circuits:
        nodes = nodes_of(circuit)
        found = _bounded(sum(now.temperatures[key] for key in nodes) / len(nodes))
        state.mean[circuit.name] = _relaxed(state, circuit.name, found)
    for duct in network.ducts:
        before, after = [], []
        for name in duct.cores:
            come, gone = _air_ends(network, conditions, state, now, duct, name)
            before.append(_bounded(come))
            after.append(_bounded(gone))
        state.along[duct.name] = AirTemperatures(tuple(before), tuple(after))


def _air_ends(
    network: Network, conditions: Conditions, state: _State, now: _Round, duct: Duct, name: str
) -> tuple[Array, Array]:
    """Air temperature before and after a core, mixed over its face."""
    index = duct.cores.index(name)
    come = conditions.air.temperature
    if index > 0:
        ahead = now.temperatures[air_node(duct.cores[index - 1])]
        come = come + now.air.covered[duct.name] * (ahead - come)
    along = state.along[duct.name]
    rate = now.air.core[name] * dry_air.heat_capacity(0.5 * (along.before[index] + along.after[index]))
    heat = _core_heat(network, now, name, come)
    return come, come + np.where(rate > 1e-6, heat / np.maximum(rate, 1e-9), 0.0)


def _core_heat(network: Network, now: _Round, name: str, come: Array) -> Array:
    value = now.conductance.get(name, 0.0)
    for gas in network.gas_cores:
        if gas.name == name:
            return value * (gas.gas_inlet - come)
    circuit, part = where(network, name)
    forward, backward = stream_ends(circuit, part, now.flows[name])
    entering = sum(now.temperatures[key] * mask for key, mask in (forward, backward) if mask is not None)
    return value * (entering - come)


# ---------------------------------------------------------------- report


def _report(
    network: Network, conditions: Conditions, state: _State, now: _Round, still: Array, rounds: int
) -> Solution:
    result = Solution(pressure_error=now.error, rounds=rounds)
    result.flow = now.flows
    sound: Array = True
    turned: Array = 0.0
    left: Array = 0.0
    for circuit in network.circuits:
        liquid = now.liquids[circuit.name]
        for part in circuit.parts:
            flow = now.flows[part.name]
            live = (
                part
                if not isinstance(part, Thermostat)
                else set_valves(circuit, state.loops[circuit.name], state.valves).parts[part.name]
            )
            result.drop[part.name] = live.drop(np.asarray(flow), liquid)[0]
            given = part.heat() + pumping(part, flow, liquid)
            result.given[part.name] = given
            turned, left = turned + np.abs(given), left + given
            _report_ends(result, circuit, part, flow, liquid, now, given)
    for duct in network.ducts:
        last: Array = conditions.air.temperature
        for name in duct.cores:
            come, gone = _air_ends(network, conditions, state, now, duct, name)
            result.air_flow[name] = now.air.core[name]
            result.air_in[name], result.air_out[name] = come, gone
            result.conductance[name] = now.conductance[name]
            result.heat[name] = _core_heat(network, now, name, come)
            last = gone
        result.duct_flow[duct.name] = now.air.duct[duct.name]
        result.outflow[duct.name] = outflow(duct, now.air.duct[duct.name], last, conditions.speed, conditions.air)
    _report_gases(network, now, result)
    _report_exchangers(network, now, result)
    result.temperature = dict(now.temperatures)
    for name, value in result.heat.items():
        if name in {e.name for e in network.exchangers} or name in {g.name for g in network.gas_cores}:
            continue
        sign = -1.0 if not isinstance(where(network, name)[1], GasCooledByLiquid) else 1.0
        left = left + sign * value
        if sign > 0:
            turned = turned + np.abs(value)
    leak = _leaks(network, conditions, now)
    result.heat_error = np.abs(left - leak) / np.maximum(turned, 1.0)
    for key, value in result.temperature.items():
        bad = ~np.isfinite(value) | (np.abs(value) > ABSURD)
        if np.any(bad):
            result.temperature[key] = np.where(bad, np.nan, value)
            sound = sound & ~bad
    for table in (result.inlet, result.outlet, result.air_out, result.air_in):
        for key, value in table.items():
            table[key] = np.where(np.abs(value) > ABSURD, np.nan, value)
    result.converged = still & (now.error < 1e-8) & sound
    return result


def _leaks(network: Network, conditions: Conditions, now: _Round) -> Array:
    total: Array = 0.0
    for circuit in network.circuits:
        first = node(circuit.name, min(part.start for part in circuit.parts))
        total = total + LEAK * (now.temperatures[first] - conditions.air.temperature)
    return total


def _report_ends(
    result: Solution, circuit: Circuit, part: Part, flow: Array, liquid: Properties, now: _Round, given: Array
) -> None:
    """Temperature going into the part and coming out of it, whichever way it flows."""
    forward, backward = stream_ends(circuit, part, flow)
    entering = sum(now.temperatures[key] * mask for key, mask in (forward, backward) if mask is not None)
    result.inlet[part.name] = entering
    if isinstance(part, GasCooledByLiquid):
        result.conductance[part.name] = now.conductance[part.name]
        result.heat[part.name] = now.conductance[part.name] * (part.gas_inlet - entering)
        given = given + result.heat[part.name]
    rate = np.abs(flow) * liquid.heat_capacity
    rise = np.where(rate > 1e-9, given / np.maximum(rate, 1e-9), 0.0)
    result.outlet[part.name] = entering + rise


def _report_gases(network: Network, now: _Round, result: Solution) -> None:
    """Temperature of the hot gas behind each charge cooler."""
    for gas in network.gas_cores:
        if gas.name in result.heat:
            rate = gas.gas_flow * dry_air.heat_capacity(gas.gas_inlet - 20.0)
            result.gas_out[gas.name] = gas.gas_inlet - result.heat[gas.name] / np.maximum(rate, 1e-9)
    for circuit in network.circuits:
        for part in circuit.parts:
            if isinstance(part, GasCooledByLiquid):
                rate = np.maximum(part.gas_rate, 1e-9)
                result.gas_out[part.name] = part.gas_inlet - result.heat[part.name] / rate


def _report_exchangers(network: Network, now: _Round, result: Solution) -> None:
    for exchanger in network.exchangers:
        value = now.conductance[exchanger.name]
        heat = value * (result.inlet[exchanger.first] - result.inlet[exchanger.second])
        result.conductance[exchanger.name] = value
        result.heat[exchanger.name] = heat
        for side, sign in ((exchanger.first, -1.0), (exchanger.second, 1.0)):
            circuit, _ = where(network, side)
            rate = np.abs(now.flows[side]) * now.liquids[circuit.name].heat_capacity
            result.outlet[side] = result.outlet[side] + sign * heat / np.maximum(rate, 1e-9)
    for circuit in network.circuits:
        for part in circuit.parts:
            if isinstance(part, CorePart) and part.name in result.heat:
                rate = np.abs(now.flows[part.name]) * now.liquids[circuit.name].heat_capacity
                result.outlet[part.name] = result.inlet[part.name] - result.heat[part.name] / np.maximum(rate, 1e-9)
