"""From what was read to what is solved: draws become columns (N, 1), heat is spread over the cases (N, K)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from longlens.errors import UnusableInput
from longlens.systems.aero.openings import diffuser_loss

from . import heat as relations
from .air import AirState
from .airside import Duct, Fan
from .answers import Limit
from .assumptions import WIDENING_FIELDS
from .components import (
    CorePart,
    Exchanger,
    GasCooledByLiquid,
    GasCore,
    Part,
    Passage,
    Pipe,
    Pump,
    Thermostat,
    Valve,
)
from .core import Core
from .fins import OffsetStrip
from .liquids import Coolant, Oil
from .model import Circuit, Network

Array = Any


#: Share of the full load that stands for none: losses are given at a load, and go to those at rest below it.
LEAST_LOAD = 1e-4


class Errors(NamedTuple):
    """Model errors, (N,) each: factors on the correlations."""

    louvre_j: Array
    louvre_f: Array
    strip: Array
    tube: Array
    slow_tube: Array
    tube_loss: Array
    built: Array
    built_loss: Array


def column(values: Array) -> Array:
    """(N,) draws as (N, 1); a plain float where they are all equal, which saves the work."""
    values = np.asarray(values, dtype=float)
    if values.ndim == 0 or np.ptp(values) == 0.0:
        return float(values.flat[0])
    return values[:, None]


class Load(NamedTuple):
    """Load over full load by case, as two states: a ``share`` of the time at ``high``, the rest at ``low``.

    Losses go with the square of the load, so they are averaged over the states, not taken at the mean load.
    All (N, K) or (1, K).
    """

    share: Array
    high: Array
    low: Array

    @property
    def mean(self) -> Array:
        return self.share * self.high + (1.0 - self.share) * self.low

    def average(self, law: Callable[[Array], Array]) -> Array:
        """Mean over time of what ``law`` gives at a load."""
        if np.all(self.share == 1.0):
            return law(self.high)
        return self.share * law(self.high) + (1.0 - self.share) * law(self.low)


def loads(cases: list[dict[str, Any]], air: AirState) -> Load:
    """Load of every case."""
    rows = [_load(case, float(np.mean(air.density))) for case in cases]
    count = max(np.size(value) for row in rows for value in row)
    stacked = [np.stack([np.broadcast_to(np.ravel(row[k]), (count,)) for row in rows], axis=-1) for k in range(3)]
    return Load(*stacked)


def _load(case: dict[str, Any], density: float) -> tuple[Array, Array, Array]:
    if case["drive"] == "lap":
        share = np.clip(case["full_load_share"], 0.0, 1.0)
        return share, 1.0, np.maximum(case["part_load"], LEAST_LOAD)
    if case["drive"] == "climb":
        power = relations.climb_power(
            case["mass"], case["speed"], case["grade"], case["drag_area"], case["rolling"], density
        )
        return 1.0, np.clip(power / case["full_power"], LEAST_LOAD, 1.0), 0.0
    # A spread about a small load may reach below nothing, where no machine has a loss.
    load = np.maximum(case.get("load", 1.0 if case["drive"] == "full" else 0.1), LEAST_LOAD)
    return 1.0, load, 0.0


def heats(sources: Mapping[str, dict[str, Any]], load: Load) -> dict[str, Array]:
    """Heat (W) of every source over the cases, (N, K); an engine gives two, "NAME.coolant" and "NAME.oil"."""
    result: dict[str, Array] = {}
    for name, raw in sources.items():
        given = {key: column(value) for key, value in raw.items() if key != "kind"}
        if raw["kind"] == "engine":
            result[f"{name}.coolant"] = load.average(partial(_engine, given, "coolant"))
            result[f"{name}.oil"] = load.average(partial(_engine, given, "oil"))
        else:
            result[name] = load.average(partial(_LAWS[raw["kind"]], given))
    return result


def _engine(given: dict[str, Array], way: str, load: Array) -> Array:
    found = relations.engine_heat(
        given["power"] * load, given["efficiency"], given["coolant_share"], given["oil_share"]
    )
    return found.coolant if way == "coolant" else found.oil


_LAWS: dict[str, Callable[[dict[str, Array], Array], Array]] = {
    "given": lambda g, x: g["heat"] * x,
    "machine": lambda g, x: relations.machine_loss(g["power"] * x, g["efficiency"], 1.0, x),
    "battery": lambda g, x: relations.battery_loss(g["power"] * x, g["voltage"], g["resistance"]),
    "gearbox": lambda g, x: relations.gearbox_loss(g["power"] * x, g["efficiency"]),
}


def build_core(raw: dict[str, Any], errors: Errors) -> Core:
    """A core with its model errors."""
    words = ("rows", "passes", "arrangement", "same_end")
    figures = {
        key: column(value)
        for key, value in raw.items()
        if key not in (*words, "air_fins", "inner_fins", "charge", "face")
    }
    strips = {
        key: OffsetStrip(**{k: column(v) for k, v in raw[key].items()}) if key in raw else None
        for key in ("air_fins", "inner_fins")
    }
    outside, inside = strips["air_fins"], strips["inner_fins"]
    return Core(
        **figures,
        **{word: raw[word] for word in words},
        air_fins=outside,
        inner_fins=inside,
        j_factor=column(errors.louvre_j if outside is None else errors.strip),
        f_factor=column((errors.louvre_f if outside is None else errors.strip) * errors.built_loss),
        tube_factor=column(errors.tube if inside is None else errors.strip),
        slow_tube_factor=column(errors.slow_tube),
        tube_loss_factor=column(errors.tube_loss),
        built_factor=column(errors.built),
    )


def build_network(
    cores: Mapping[str, dict[str, Any]],
    circuits: Mapping[str, dict[str, Any]],
    ducts: Mapping[str, dict[str, Any]],
    exchangers: Mapping[str, dict[str, Any]],
    heat: Mapping[str, Array],
    load: Load,
    air: AirState,
    errors: Errors,
) -> Network:
    """The network, ready to be solved. Raises UnusableInput where a name leads nowhere."""
    built = {name: build_core(raw, errors) for name, raw in cores.items()}
    used: set[str] = set()
    made = []
    for name, raw in circuits.items():
        parts = tuple(_part(part, name, built, heat, load, air, used) for part in raw["parts"])
        pressure = air.pressure + column(raw["cap_pressure"])
        made.append(Circuit(name, _liquid(raw["liquid"]), parts, pressure))
    gas = tuple(
        _gas_core(name, built[name], cores[name]["charge"], load, air) for name in cores if "charge" in cores[name]
    )
    inside = used | {core.name for core in gas}
    for name, raw in ducts.items():
        strange = [core for core in raw["cores"] if core not in cores]
        if strange:
            raise UnusableInput(
                f"duct {name} leads to {strange[0]}, which is no core",
                fix=f"describe it under cores; there are: {', '.join(cores) or 'none'}",
            )
    # A core that this variant leaves out of every circuit is not there for the air either.
    kept = {n: raw for n, raw in ducts.items() if any(c in inside for c in raw["cores"])}
    return Network(
        tuple(made),
        tuple(_duct(name, raw, inside, cores) for name, raw in kept.items()),
        tuple(
            Exchanger(n, raw["first"], raw["second"], column(raw["conductance"]), raw["arrangement"])
            for n, raw in exchangers.items()
        ),
        gas,
    )


def _liquid(raw: dict[str, Any]) -> Coolant | Oil:
    kind = raw["kind"]
    if kind == "oil":
        return Oil(column(raw["viscosity_40"]), column(raw["viscosity_100"]), column(raw["density_15"]))
    if kind == "water":
        return Coolant(0.0)
    return Coolant(np.asarray(column(raw["glycol"])), "propylene" if "propylene" in kind else "ethylene")


def _duct(name: str, raw: dict[str, Any], inside: set[str], cores: Mapping[str, dict[str, Any]]) -> Duct:
    figures = {key: column(value) for key, value in raw.items() if key not in ("cores", "fan", *WIDENING_FIELDS)}
    if "loss" not in raw:
        front = cores[raw["cores"][0]]
        ratio = np.asarray(front.get("frontal_area", front["face_area"])) / raw["inlet_area"]
        loss = diffuser_loss(ratio, raw["widening_length"], raw["inlet_area"]) * raw["widening_error"]
        figures["loss"] = column(loss + raw["bend_loss"])
    fan = Fan(**{key: column(value) for key, value in raw["fan"].items()}) if "fan" in raw else None
    # A core that this variant leaves out of every circuit is not there for the air either.
    return Duct(name, tuple(core for core in raw["cores"] if core in inside), fan=fan, **figures)


def _gas_core(name: str, core: Core, charge: dict[str, Any], load: Load, air: AirState) -> GasCore:
    flow = column(charge["air_flow"]) * load.mean
    behind = relations.compress(
        flow, air.temperature, air.pressure, column(charge["pressure_ratio"]), column(charge["efficiency"])
    )
    return GasCore(name, core, flow, behind.temperature, behind.pressure)


def _part(
    raw: dict[str, Any],
    circuit: str,
    cores: Mapping[str, Core],
    heat: Mapping[str, Array],
    load: Load,
    air: AirState,
    used: set[str],
) -> Part:
    name, start, end, kind = raw["name"], raw["from"], raw["to"], raw["kind"]
    words = (
        "name",
        "from",
        "to",
        "kind",
        "heat",
        "path",
        "place",
        "certainty",
        "one_way",
        "closes",
        "senses",
        "charge",
    )
    figures = {key: column(value) for key, value in raw.items() if key not in words}
    if kind == "core":
        if name not in cores:
            raise UnusableInput(
                f"there is no core {name!r}",
                where=f"circuit {circuit}",
                fix=f"describe it under cores; there are: {', '.join(cores) or 'none'}",
            )
        used.add(name)
        return CorePart(name, start, end, cores[name])
    if kind == "pipe":
        for key in ("outside_diameter", "wall"):
            figures.pop(key, None)
        return Pipe(name, start, end, path=raw.get("path"), **figures)
    if kind == "pump":
        return Pump(name, start, end, **figures)
    if kind == "valve":
        figures = {k: v for k, v in figures.items() if k in ("diameter", "loss", "opening")}
        return Valve(name, start, end, one_way=raw.get("one_way", False), **figures)
    if kind == "thermostat":
        figures.pop("opening", None)
        return Thermostat(name, start, end, senses=raw["senses"], closes=raw.get("closes", False), **figures)
    power = _power(raw, circuit, heat)
    if kind == "passage":
        for key in ("gas_rate", "gas_inlet", "conductance"):
            figures.pop(key, None)
        return Passage(name, start, end, power=power, **figures)
    if "charge" in raw:
        flow = column(raw["charge"]["air_flow"]) * load.mean
        behind = relations.compress(
            flow,
            air.temperature,
            air.pressure,
            column(raw["charge"]["pressure_ratio"]),
            column(raw["charge"]["efficiency"]),
        )
        figures["gas_rate"], figures["gas_inlet"] = flow * 1010.0, behind.temperature
    return GasCooledByLiquid(name, start, end, power=power, **figures)


def _power(raw: dict[str, Any], circuit: str, heat: Mapping[str, Array]) -> Array:
    total: Array = 0.0
    for source in raw["heat"]:
        if source not in heat:
            raise UnusableInput(
                f"there is no heat {source!r}",
                where=f"circuit {circuit}, {raw['name']}",
                fix=f"there are: {', '.join(heat) or 'none'}",
            )
        total = total + heat[source]
    return total


def build_limits(raw: Mapping[str, dict[str, Any]], network: Network) -> tuple[Limit, ...]:
    """Limits that exist in this network; a circuit that this variant does not have drops its limits."""
    nodes = {
        circuit.name: {end for part in circuit.parts for end in (part.start, part.end)} for circuit in network.circuits
    }
    found = []
    for name, entry in raw.items():
        # A node may have moved to another circuit of the variant: found by its name where it is unique.
        homes = [c for c, names in nodes.items() if entry["node"] in names]
        circuit = entry["circuit"] if entry["circuit"] in homes else (homes[0] if len(homes) == 1 else "")
        if not circuit:
            raise UnusableInput(
                f"the limit {name} is at {entry['circuit']}:{entry['node']}, which is no node here",
                fix=f"one of: {', '.join(sorted(n for names in nodes.values() for n in names))}",
            )
        found.append(Limit(name, circuit, entry["node"], column(entry["temperature"])))
    return tuple(found)
