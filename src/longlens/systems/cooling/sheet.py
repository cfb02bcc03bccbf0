"""The cooling sheet: what goes in, what comes out, and the steps between."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from longlens.numbers.distributions import TruncatedNormal
from longlens.systems.run import Outcome
from longlens.systems.sheet import Axis, Choice, Finding, Input, Output, Refusal, Sheet, Step, Structure, scatter

from . import air as dry_air
from . import form
from .air import standard_atmosphere
from .airside import duct_coefficients
from .answers import (
    bearable_heat,
    boiling_margins,
    effects_of_changes,
    margins,
    short_core,
    worst_margin,
)
from .assemble import Errors, build_limits, build_network, column, heats, loads
from .assumptions import PRACTICE
from .bleeding import Line, air_pockets, check_bleed_line
from .blocks import take
from .comparing import Variant
from .components import CorePart, Pipe, Pump
from .core import collector_unevenness, prepare
from .findings import percent
from .layout import layout_of
from .model import Conditions, Network, Solution, node, nodes_of
from .network import solve
from .readings import CollectorReading, PlumbingReading, read_collectors, read_plumbing

Array = Any
NETWORK_MODEL = "mass, pressure and heat balance of all loops, steady state; core by effectiveness–NTU"
NETWORK_SOURCE = "Kays and London; Chang and Wang 1997; Chang et al. 2000; Gnielinski 1976; Colebrook 1939"
#: Pipe speeds that are usual in coolant circuits (m/s): below, air is not carried along; above, it wears and sings.
USUAL_PIPE_SPEED = (0.6, 3.0)
UNEVEN = 0.15  # spread of the tube flows above which it is told


def _step_air(g: Mapping[str, Any]) -> dict[str, Any]:
    cases = g["cases"]
    air = standard_atmosphere(np.asarray(column(g["altitude"])), column(g["temperature_offset"]))
    return {"air": air, "speed": np.array([case["speed"] for case in cases]), "load": loads(cases, air)}


def _step_network(g: Mapping[str, Any]) -> dict[str, Any]:
    errors = Errors(
        g["louvre_j_error"], g["louvre_f_error"], g["strip_error"], g["tube_error"],
        g["slow_tube_error"], g["tube_loss_error"], g["built_error"], g["built_loss_error"],
    )  # fmt: skip
    network = build_network(
        g["cores"], g["circuits"], g["ducts"], g["exchangers"], heats(g["heat"], g["load"]), g["load"], g["air"], errors
    )
    return {"network": network, "built_limits": build_limits(g["limits"], network)}


def _step_solve(g: Mapping[str, Any]) -> dict[str, Any]:
    conditions = Conditions(np.asarray(g["speed"], dtype=float)[None, :], g["air"])
    solution = solve(g["network"], conditions)
    variant = Variant("", g["network"], solution, g["built_limits"])
    # Any input with a spread has the whole number of draws; outputs are widened to it.
    return {"solved": variant, "conditions": conditions, "count": len(g["louvre_j_error"])}


def _wide(values: Array, count: int, cases: int) -> np.ndarray:
    return np.broadcast_to(np.asarray(values, dtype=float), (count, cases))


def _stack(table: Mapping[str, Array], names: list[str], count: int, cases: int) -> np.ndarray | Refusal:
    if not names:
        return Refusal("there is nothing of that kind in this network", ("a network that has one",))
    return np.stack([_wide(table[name], count, cases) for name in names], axis=1)


def _step_answers(g: Mapping[str, Any]) -> dict[str, Any]:
    variant: Variant = g["solved"]
    network, solution, limits = variant.network, variant.solution, variant.limits
    count, cases = g["count"], g["conditions"].speed.size
    worst = worst_margin(network, solution, limits)
    case = int(np.argmin(np.median(worst, axis=0)))
    shown = _wide(np.where(np.isfinite(worst), worst, np.nan), count, cases)
    bearable = _wide(bearable_heat(network, g["conditions"], limits, solution), count, cases)
    names = [limit.name for limit in limits]
    boiling = boiling_margins(network, solution)
    heat_given = sum(np.asarray(solution.given[p.name]) for c in network.circuits for p in c.parts)
    return {
        "limit": names,
        "temperature": np.stack(
            [_wide(solution.temperature[node(x.circuit, x.node)], count, cases) for x in limits], axis=1
        ),
        "margin": _stack(margins(solution, limits), names, count, cases),
        "circuit": list(boiling),
        "boiling_margin": _stack(boiling, list(boiling), count, cases),
        "worst_margin": shown,
        "closing": _wide(np.mean(worst >= 0.0, axis=0), count, cases),
        "bearable": bearable,
        "heat_total": _wide(heat_given, count, cases),
        "tightest_margin": shown[:, case],
        "tightest_bearable": bearable[:, case],
        "tightest_closing": np.full(count, float(np.mean(worst[:, case] >= 0.0))),
        "tightest_case": case,
    }


def _step_flows(g: Mapping[str, Any]) -> dict[str, Any]:
    variant: Variant = g["solved"]
    network, solution = variant.network, variant.solution
    count, cases = g["count"], g["conditions"].speed.size
    cores = [name for duct in network.ducts for name in duct.cores]
    parts = [part for circuit in network.circuits for part in circuit.parts]
    pipes = [part for part in parts if isinstance(part, Pipe)]
    pumps = [part for part in parts if isinstance(part, Pump)]
    density = {circuit.name: _density(circuit, solution) for circuit in network.circuits}
    home = {part.name: circuit.name for circuit in network.circuits for part in circuit.parts}
    face = _face_speeds(network, solution, g["air"])
    away = {duct.name: solution.outflow[duct.name] for duct in network.ducts}
    through = {
        duct.name: duct_coefficients(
            duct, solution.duct_flow[duct.name], away[duct.name], g["conditions"].speed, g["air"]
        )
        for duct in network.ducts
    }
    names = list(through)
    moving = np.ravel(g["conditions"].speed) > 1.0

    def outside(table: Mapping[str, Array]) -> np.ndarray | Refusal:
        if not np.any(moving):
            return Refusal("the car stands in every case", ("a case at speed",))
        every = _stack(table, names, count, cases)
        return every if isinstance(every, Refusal) else every[:, :, moving]

    result: dict[str, Any] = {
        "moving": np.ravel(g["conditions"].speed)[moving],
        "core_air": _stack(solution.air_flow, cores, count, cases),
        "duct_air": _stack(solution.duct_flow, names, count, cases),
        "inlet_cp": outside({n: c.inlet_cp for n, c in through.items()}),
        "outlet_cp": outside({n: c.outlet_cp for n, c in through.items()}),
        "cooling_drag_area": outside({n: c.drag_area for n, c in through.items()}),
        "part": [part.name for part in parts],
        "flow": _stack(solution.flow, [part.name for part in parts], count, cases),
        "core": cores,
        "core_heat": _stack(solution.heat, cores, count, cases),
        "face_speed": _stack(face, cores, count, cases),
        "air_out": _stack(solution.air_out, cores, count, cases),
        "duct": [duct.name for duct in network.ducts],
        "cooling_drag": _stack({n: o.drag for n, o in away.items()}, list(away), count, cases),
        "exit_speed": _stack({n: o.speed for n, o in away.items()}, list(away), count, cases),
        "exit_temperature": _stack({n: o.temperature for n, o in away.items()}, list(away), count, cases),
        "pipe": [pipe.name for pipe in pipes],
        "pipe_speed": _stack(_pipe_speeds(pipes, solution, density, home), [pipe.name for pipe in pipes], count, cases),
    }
    power = sum(
        np.maximum(-solution.drop[p.name], 0.0) * np.abs(solution.flow[p.name]) / density[home[p.name]] for p in pumps
    )
    result["charge"] = list(solution.gas_out)
    result["charge_out"] = _stack(solution.gas_out, list(solution.gas_out), count, cases)
    result["pump_power"] = _wide(power, count, cases)
    result["louvre_reynolds"] = _louvre_reynolds(network, solution)
    return result


def _pipe_speeds(
    pipes: list[Pipe], solution: Solution, density: dict[str, Array], home: dict[str, str]
) -> dict[str, Array]:
    """Speed of the liquid in each pipe (m/s), by name."""
    return {
        pipe.name: solution.flow[pipe.name] / density[home[pipe.name]] / (np.pi / 4.0 * np.asarray(pipe.diameter) ** 2)
        for pipe in pipes
    }


def _density(circuit: Any, solution: Solution) -> Array:
    mean = np.mean([solution.temperature[key] for key in nodes_of(circuit)], axis=0)
    return circuit.liquid.properties(np.where(np.isfinite(mean), mean, 345.0)).density


def _face_speeds(network: Network, solution: Solution, air: Any) -> dict[str, Array]:
    ready = {
        **{p.name: p.core for c in network.circuits for p in c.parts if hasattr(p, "core")},
        **{g.name: g.core for g in network.gas_cores},
    }
    return {name: flow / air.density / ready[name].face_area for name, flow in solution.air_flow.items()}


def _louvre_reynolds(network: Network, solution: Solution) -> dict[str, Array]:
    cores = {
        **{p.name: p.core for c in network.circuits for p in c.parts if hasattr(p, "core")},
        **{g.name: g.core for g in network.gas_cores},
    }
    found = {}
    for name, flow in solution.air_flow.items():
        core = cores[name]
        if core.air_fins is not None:
            continue
        mean = 0.5 * (solution.air_in[name] + solution.air_out[name])
        mean = np.where(np.isfinite(mean), mean, 320.0)
        found[name] = flow / prepare(core).free_area * core.louvre_pitch / dry_air.viscosity(mean)
    return found


def _step_changes(g: Mapping[str, Any]) -> dict[str, Any]:
    """Effects of changes at the tightest case alone."""
    variant: Variant = g["solved"]
    case, count = g["tightest_case"], g["count"]
    piece = slice(case, case + 1)
    network = take(variant.network, g["conditions"].speed.size, piece, axis=1)
    conditions = Conditions(g["conditions"].speed[:, piece], g["conditions"].air)
    begin = take(variant.solution, g["conditions"].speed.size, piece, axis=1)
    solution = solve(network, conditions, start=begin)
    effects, draws = effects_of_changes(network, conditions, variant.limits, solution)
    labels = [f"{effect.subject}: {effect.change}" for effect in effects]
    gains = np.stack([np.broadcast_to(draws[label][:, 0], (count,)) for label in labels], axis=-1)
    return {"change": labels, "gain": gains, "short_core": short_core(effects)}


def _step_bleeding(g: Mapping[str, Any]) -> dict[str, Any]:
    raw = g["lines"]
    lines = [Line(name, points) for name, points in raw["lines"].items()]
    pockets = air_pockets(lines, raw["outlets"])
    count = next(iter(raw["lines"].values())).shape[0]
    others = [line for line in lines if line.name not in raw["bleed"]]
    answers = [(line.name, check_bleed_line(line, others or [line])) for line in lines if line.name in raw["bleed"]]
    if not answers:
        none = np.full(count, np.nan)
        return {"pockets": pockets, "bleed": [], "bleed_drop": none, "bleed_below_top": none}

    def worst(values: list[Array]) -> Array:
        return np.max([np.broadcast_to(value, (count,)) for value in values], axis=0)

    return {
        "pockets": pockets,
        "bleed": answers,
        "bleed_drop": worst([answer.lowest_drop for _, answer in answers]),
        "bleed_below_top": worst([answer.above_start for _, answer in answers]),
    }


def _step_layout(g: Mapping[str, Any]) -> dict[str, Any]:
    return {"layout": layout_of(g["circuits"], g["cores"])}


def _step_readings(g: Mapping[str, Any]) -> dict[str, Any]:
    evidence = []
    for raw in g["readings"]["collectors"]:
        evidence += read_collectors(CollectorReading(**raw))
    for raw in g["readings"]["plumbing"]:
        evidence += read_plumbing(PlumbingReading(**raw))
    return {"evidence": evidence}


# ---------------------------------------------------------------- findings


def _say_closing(outcome: Outcome) -> Iterator[Finding]:
    margin = outcome.number("worst_margin")
    speeds = np.asarray(outcome.axes["speed"])
    names = [case["name"] for case in _cases(outcome)]
    chance = outcome.number("closing").draws[0]
    case = int(outcome.inner["tightest_case"])
    value, low, high = (float(np.asarray(x)[case]) for x in (margin.value, margin.low, margin.high))
    text = f"it closes in {chance[case]:.0%} of the draws at its tightest case, {names[case]}"
    text += f" ({speeds[case] * 3.6:.0f} km/h): {round(value)} K to spare ({round(low)} to {round(high)})"
    if chance.min() < chance.max():
        text += f"; {chance.max():.0%} at its easiest"
    yield Finding("note" if chance[case] >= 0.5 else "caution", text, ("worst_margin", "closing"))
    share = outcome.number("bearable").at(case)
    yield Finding(
        "note",
        f"at that case these cores could hold {share.value:.2f} ({share.low:.2f} to {share.high:.2f}) "
        "times the heat assumed",
        ("bearable",),
    )


def _cases(outcome: Outcome) -> list[dict[str, Any]]:
    return outcome.inputs["cases"].value  # type: ignore[union-attr]


def _say_short_core(outcome: Outcome) -> Iterator[Finding]:
    outcome.number("gain")  # a sentence about what was refused is not said
    _, told = outcome.inner["short_core"]
    yield Finding("note", told, ("gain",))


def _say_network(outcome: Outcome) -> Iterator[Finding]:
    level = {"note": "note", "warning": "caution", "problem": "caution"}
    outcome.number("flow")
    for found in outcome.inner["solved"].solution.findings:
        share = "" if found.share >= 0.995 else f" ({percent(found.share)} of the cases)"
        text = found.text if "%" in found.text else found.text + share
        yield Finding(level[found.level], text, ("flow",))  # type: ignore[arg-type]


def _say_pipes(outcome: Outcome) -> Iterator[Finding]:
    speed = outcome.number("pipe_speed")
    low, high = USUAL_PIPE_SPEED
    for k, name in enumerate(outcome.axes["pipe"]):
        middle = float(np.nanmedian(np.abs(speed.draws[:, k, :])))
        if not low <= middle <= high:
            where = "slow" if middle < low else "fast"
            yield Finding(
                "note",
                f"{middle:.1f} m/s in {name} is {where}: {low} to {high} m/s is usual ({PRACTICE})",
                ("pipe_speed",),
            )


def _say_collectors(outcome: Outcome) -> Iterator[Finding]:
    """Unevenly fed tubes, at the tightest case."""
    outcome.number("core_heat")
    variant, case = outcome.inner["solved"], int(outcome.inner["tightest_case"])
    for circuit in variant.network.circuits:
        for part in circuit.parts:
            if not isinstance(part, CorePart) or part.core is None:
                continue
            flow = np.abs(variant.solution.flow[part.name][:, case : case + 1])
            liquid = circuit.liquid.properties(np.float64(345.0))
            uneven = float(np.median(collector_unevenness(prepare(part.core), flow, liquid)))
            if uneven > UNEVEN:
                yield Finding(
                    "note",
                    f"the tubes of {part.name} are fed unevenly, ±{uneven:.0%} of the mean: its collectors are narrow "
                    "for the flow (first order, Bajura and Jones 1976); the heat model takes them as even",
                    ("core_heat",),
                )


def _say_openings(outcome: Outcome) -> Iterator[Finding]:
    """Where the pressures at the ducts' openings come from."""
    outcome.number("duct_air")
    leaves, ways = outcome.leaves, {"aero": {}, "assumed": {}}  # type: ignore[var-annotated]
    for name in outcome.axes["duct"]:
        total, out = leaves.get(f"ducts.{name}.inlet_recovery"), leaves.get(f"ducts.{name}.outlet_cp")
        way = {"computed": "aero", "assumed": "assumed"}.get(total.kind if total else "")
        if way is not None and out is not None:
            text = f"{total} of the dynamic pressure before the inlet and {out} at the outlet"
            ways[way].setdefault(text, []).append(name)

    def told(way: str) -> str:
        return "; ".join(f"{', '.join(names)}: {text}" for text, names in ways[way].items())

    if ways["aero"]:
        yield Finding("note", f"pressures at the openings as the aero sheet gives them: {told('aero')}", ("duct_air",))
    if ways["assumed"]:
        yield Finding(
            "note",
            f"pressures at the openings assumed: {told('assumed')}; the aero sheet gives them where its openings name "
            "these ducts",
            ("duct_air",),
        )


def _say_range(outcome: Outcome) -> Iterator[Finding]:
    outcome.number("core_heat")
    for name, reynolds in outcome.inner["louvre_reynolds"].items():
        moving = reynolds[reynolds > 0.0]
        if moving.size == 0:
            continue
        outside = float(np.mean((moving < 100.0) | (moving > 3000.0)))
        if outside > 0.05:
            yield Finding(
                "limit",
                f"louvre Reynolds numbers of {name} leave 100 to 3,000 in {outside:.0%} of the cases, "
                "where the fin correlation was made",
                ("core_heat",),
            )


def _say_bleeding(outcome: Outcome) -> Iterator[Finding]:
    if "pockets" not in outcome.inner:
        return
    for name, answer in outcome.inner["bleed"]:
        drop, above = (float(np.median(x)) * 1e3 for x in (answer.lowest_drop, answer.above_start))
        yield Finding(
            "note" if answer.rises_all_the_way > 0.5 else "caution",
            f"{name} rises all the way in {answer.rises_all_the_way:.0%} of the draws (largest fall {drop:.0f} mm) "
            f"and starts at the highest point in {answer.starts_highest:.0%} "
            f"(the rest reaches {abs(above):.0f} mm {'higher' if above > 0.0 else 'less high'})",
            ("bleed_drop",),
        )
    for pocket in outcome.inner["pockets"]:
        x, y, z = pocket.place
        yield Finding(
            "caution",
            f"air would stay in {pocket.line} near x {x:.2f}, y {y:.2f}, z {z:.2f} m: no way up over "
            f"{pocket.depth * 1e3:.0f} mm ({pocket.probability:.0%} of the draws)",
            ("bleed_drop",),
        )


def _say_readings(outcome: Outcome) -> Iterator[Finding]:
    for item in outcome.inner["evidence"]:
        yield Finding(
            "note",
            f"{item.subject}: {item.seen}; speaks {item.ratio:g} ({item.low:g} to {item.high:g}) to 1 for "
            f"{item.favours} over {item.over}, because {item.rule} ({item.source})",
        )


def _inputs() -> tuple[Input | Choice | Structure, ...]:
    return (
        Input("altitude", "m", "height of the place above the sea", "m", TruncatedNormal(200, 150, -100, 1500),
              "most circuits and hill climbs lie low: " + PRACTICE, (-500, 6000)),
        Input("temperature_offset", "K", "air warmer than the standard atmosphere", "K",
              TruncatedNormal(12, 6, -20, 30), "a warm day, about 25 °C at sea level: " + PRACTICE, (-60, 50)),
        Choice("scheme", "what the plumbing as given is called", {}, "as given", "no name was given"),
        Structure("cases", "driving cases: a list of speeds with load", form.read_cases),
        Structure("cores", "the cores, by name", form.read_cores),
        Structure("heat", "heat sources, by name", form.read_heat, {}, "no heat source but the parts' own"),
        Structure("circuits", "the circuits with their parts, by name", form.read_circuits),
        Structure("ducts", "the ways of the air, by name", form.read_ducts),
        Structure("exchangers", "liquid-to-liquid exchangers, by name", form.read_exchangers, {}, "none seen"),
        Structure("limits", "temperature limits, by name", form.read_limits),
        Structure("lines", "measured lines, for bleeding: lines, outlets, bleed", form.read_lines),
        Structure("readings", "what was seen of collectors and pipes", form.read_readings, {}, "nothing seen"),
        scatter("louvre_j_error", "error of the louvred fin's heat transfer", 0.15, "Chang and Wang 1997", share=0.89),
        scatter("louvre_f_error", "error of the louvred fin's friction", 0.15, "Chang et al. 2000", share=0.83),
        scatter("strip_error", "error of the offset strip fin", 0.20, "Manglik and Bergles 1995"),
        scatter("tube_error", "error of the heat transfer inside the tubes", 0.10, "Gnielinski 1976"),
        scatter("slow_tube_error", "error of the heat transfer inside the tubes below Re 4,000", 0.20,
                "laminar and transitional flow in short flat tubes: " + PRACTICE),
        scatter("tube_loss_error", "error of the pressure drop of tubes and collectors", 0.20, PRACTICE),
        scatter("built_error", "whole core against the sum of its parts, heat", 0.17,
                "Ng, Johnson and Watkins 2005: predictions of nine radiators within +24 and −10 % of test", bias=0.95),
        scatter("built_loss_error", "whole core against the sum of its parts, air pressure drop", 0.45,
                "bent fins, edges and dirt add to the clean sample; one maker's curve lay 1.3 to 1.5 above: "
                + PRACTICE, bias=1.15),
    )  # fmt: skip


def _outputs() -> tuple[Output, ...]:
    def out(name: str, unit: str, meaning: str, shown: str = "", along: tuple[str, ...] = (), /, **more: str) -> Output:
        return Output(
            name, unit, meaning, more.get("model", NETWORK_MODEL), more.get("source", NETWORK_SOURCE),
            more.get("limits", "steady state; louvre Re 100 to 3,000"), shown, along,
        )  # fmt: skip

    speed = ("speed",)
    draws = {"model": "share of the joint draws", "source": "Monte Carlo, JCGM 101:2008"}
    drag = {"model": "loss of momentum of the air taken in", "source": "Küchemann and Weber 1953",
            "limits": "without spillage"}  # fmt: skip
    openings = {
        "model": "Bernoulli from the inlet's total pressure; the outlet's as assumed",
        "source": "Küchemann and Weber 1953",
        "limits": "moving car; uniform flow in the opening",
    }
    bleed = {"model": "heights along the measured lines", "source": PRACTICE, "limits": ""}
    return (
        out("temperature", "K", "temperature at each limit's node", "°C", ("limit", "speed")),
        out("margin", "K", "limit minus temperature", "K", ("limit", "speed")),
        out("boiling_margin", "K", "boiling point at cap pressure minus the hottest node", "K", ("circuit", "speed"),
            model=NETWORK_MODEL + "; Raoult's law", source=NETWORK_SOURCE + "; Wagner and Pruß 2002"),
        out("worst_margin", "K", "smallest of all margins", "K", speed),
        out("closing", "1", "share of the draws that keep all limits", "", speed, **draws),
        out("bearable", "1", "heat that the cores could hold over the heat assumed", "", speed),
        out("heat_total", "W", "heat given to all liquids", "kW", speed),
        out("tightest_margin", "K", "smallest margin at the tightest case", "K"),
        out("tightest_bearable", "1", "bearable heat over the heat assumed, at the tightest case"),
        out("tightest_closing", "1", "share of the draws that keep all limits at the tightest case", "", (), **draws),
        out("flow", "kg/s", "mass flow through each part", "kg/s", ("part", "speed")),
        out("core_heat", "W", "heat of each core into the air", "kW", ("core", "speed")),
        out("face_speed", "m/s", "air speed before the face of each core", "m/s", ("core", "speed")),
        out("air_out", "K", "air behind each core", "°C", ("core", "speed")),
        out("pipe_speed", "m/s", "speed of the liquid in each pipe", "m/s", ("pipe", "speed")),
        out("charge_out", "K", "charge air behind each charge cooler", "°C", ("charge", "speed")),
        out("pump_power", "W", "hydraulic power of all pumps", "W", speed),
        out("core_air", "kg/s", "air through each core", "kg/s", ("core", "speed")),
        out("duct_air", "kg/s", "air taken in by each duct", "kg/s", ("duct", "speed")),
        out("inlet_cp", "1", "pressure coefficient in the inlet's section", "", ("duct", "moving"), **openings),
        out("outlet_cp", "1", "pressure coefficient at the outlet", "", ("duct", "moving"), **openings),
        out("cooling_drag_area", "m2", "drag of the cooling air over the dynamic pressure", "cm2", ("duct", "moving"),
            **drag),
        out("cooling_drag", "N", "drag by the momentum of the cooling air", "N", ("duct", "speed"), **drag),
        out("exit_speed", "m/s", "speed of the air at the outlet", "m/s", ("duct", "speed"), **drag),
        out("exit_temperature", "K", "temperature of the air at the outlet", "°C", ("duct", "speed")),
        out("gain", "K", "what each change would add to the smallest margin, at the tightest case", "K", ("change",)),
        out("bleed_drop", "m", "largest fall along the bleed line", "mm", (), **bleed),
        out("bleed_below_top", "m", "how far the top of the circuit lies above the bleed line's start", "mm", **bleed),
    )  # fmt: skip


SHEET = Sheet(
    area="cooling",
    title="Cooling: does it close, and how is it plumbed",
    inputs=_inputs(),
    outputs=_outputs(),
    axes=(
        Axis("speed", "m/s", "road speed of each case", "km/h"),
        Axis("moving", "m/s", "road speed of the cases in which the car moves", "km/h"),
        Axis("limit", None, "temperature limits"),
        Axis("circuit", None, "circuits that can boil"),
        Axis("part", None, "parts"),
        Axis("core", None, "cores"),
        Axis("pipe", None, "pipes"),
        Axis("duct", None, "ducts"),
        Axis("charge", None, "charge coolers"),
        Axis("change", None, "changes, the best first"),
    ),
    steps=(
        Step("air", _step_air, ("altitude", "temperature_offset", "cases"), ("air", "speed", "load")),
        Step(
            "network", _step_network,
            ("cores", "circuits", "ducts", "exchangers", "heat", "limits", "load", "air", "louvre_j_error",
             "louvre_f_error", "strip_error", "tube_error", "slow_tube_error", "tube_loss_error", "built_error",
             "built_loss_error"),
            ("network", "built_limits"),
        ),
        Step("solve", _step_solve, ("network", "built_limits", "air", "speed", "louvre_j_error"),
             ("solved", "conditions", "count")),
        Step("answers", _step_answers, ("solved", "conditions", "count"),
             ("limit", "temperature", "margin", "circuit", "boiling_margin", "worst_margin", "closing", "bearable",
              "heat_total", "tightest_margin", "tightest_bearable", "tightest_closing", "tightest_case")),
        Step("flows", _step_flows, ("solved", "conditions", "count", "air"),
             ("moving", "core_air", "duct_air", "inlet_cp", "outlet_cp", "cooling_drag_area",
              "part", "flow", "core", "core_heat", "face_speed", "air_out", "duct", "cooling_drag", "exit_speed",
              "exit_temperature", "pipe", "pipe_speed", "pump_power", "louvre_reynolds", "charge", "charge_out")),
        Step("changes", _step_changes, ("solved", "conditions", "count", "tightest_case"),
             ("change", "gain", "short_core")),
        Step("bleeding", _step_bleeding, ("lines",), ("bleed_drop", "bleed_below_top", "pockets", "bleed")),
        Step("layout", _step_layout, ("circuits", "cores"), ("layout",)),
        Step("readings", _step_readings, ("readings",), ("evidence",)),
    ),
    findings=(
        _say_closing, _say_short_core, _say_network, _say_pipes, _say_collectors, _say_openings, _say_range, _say_bleeding,
        _say_readings,
    ),
    cautions=(
        "Hot coolant under pressure scalds and glycol is poisonous: open no system on the strength of these numbers.",
    ),
)  # fmt: skip

__all__ = ["SHEET"]
