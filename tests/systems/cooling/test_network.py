"""The network solver: mass, heat, pressure; order; dead branches; what cannot be solved is said."""

import dataclasses

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from longlens.errors import UnusableInput
from longlens.systems.cooling.air import standard_atmosphere
from longlens.systems.cooling.airside import Duct, Fan
from longlens.systems.cooling.components import (
    CorePart,
    Exchanger,
    GasCooledByLiquid,
    GasCore,
    Passage,
    Pipe,
    Pump,
    Thermostat,
    Valve,
)
from longlens.systems.cooling.core import Core, collector_unevenness, prepare
from longlens.systems.cooling.liquids import Coolant, Oil
from longlens.systems.cooling.model import Circuit, Conditions, Network
from longlens.systems.cooling.network import solve

AIR = standard_atmosphere(200.0, 12.0)
CORE = Core(face_area=0.09, tube_length=0.4, depth=0.04)


def duct(name, *cores, **more):
    return Duct(f"duct of {name}", cores or (name,), 0.03, 0.05, fan=Fan(180.0, 0.35), **more)


def at(speed):
    return Conditions(np.asarray(speed, dtype=float).reshape(1, -1), AIR)


def simple(power=8e3, extra=(), core=CORE):
    """Pump, heated machine, core, back."""
    return [
        Pump("pump", "cold", "supply", 60e3, 8e-4),
        Passage("machine", "supply", "hot", 12e3, 0.3, power=power),
        Pipe("pipe", "hot", "core in", 0.022, 1.0, loss=3.0),
        CorePart("core", "core in", "cold", core),
        *extra,
    ]


def build(parts, ducts=None, **more):
    ducts = (duct("core"),) if ducts is None else tuple(ducts)
    return Network((Circuit("water", Coolant(0.4), tuple(parts)),), ducts, **more)


def nodal_balance(network, solution):
    """Largest mass left over at any node, relative to the largest flow."""
    worst = 0.0
    for circuit in network.circuits:
        left, scale = {}, 0.0
        for part in circuit.parts:
            flow = solution.flow[part.name]
            left[part.end] = left.get(part.end, 0.0) + flow
            left[part.start] = left.get(part.start, 0.0) - flow
            scale = np.maximum(scale, np.abs(flow))
        worst = max([worst, *(float(np.max(np.abs(value) / np.maximum(scale, 1e-9))) for value in left.values())])
    return worst


def heat_balance(network, solution):
    """Recomputed here from the results alone: heat in over heat out, relative; None if there is no heat."""
    taken = sum(
        solution.heat[part.name]
        for circuit in network.circuits
        for part in circuit.parts
        if isinstance(part, CorePart) and part.name in solution.heat
    )
    given = 0.0
    for circuit in network.circuits:
        for part in circuit.parts:
            given = given + np.asarray(part.heat())
            if isinstance(part, Pump):
                # Shaft power: pressure rise × volume flow / efficiency; density here only to a per cent.
                shaft = np.maximum(-solution.drop[part.name], 0) * np.abs(solution.flow[part.name]) / 1010.0 / 0.4
                assert solution.given[part.name] == pytest.approx(shaft, rel=0.1)
                given = given + solution.given[part.name]
            if isinstance(part, GasCooledByLiquid):
                given = given + solution.heat[part.name]
    return np.max(np.abs(taken - given) / np.abs(given))


def test_one_loop_closes():
    network = build(simple())
    solution = solve(network, at([10.0, 30.0, 60.0]))
    assert solution.converged.all()
    assert nodal_balance(network, solution) < 1e-12
    assert np.max(solution.heat_error) < 1e-9
    assert np.max(solution.pressure_error) < 1e-9
    assert not solution.findings
    temperatures = solution.temperature["water:hot"][0]
    assert np.all(np.diff(temperatures) < 0.0)  # more speed, more air, cooler


def test_heat_of_the_core_is_what_the_air_took():
    solution = solve(build(simple()), at([25.0]))
    from longlens.systems.cooling.air import heat_capacity

    rise = solution.air_out["core"] - solution.air_in["core"]
    rate = solution.air_flow["core"] * heat_capacity(0.5 * (solution.air_out["core"] + solution.air_in["core"]))
    assert solution.heat["core"] == pytest.approx(rate * rise, rel=1e-5)
    liquid = Coolant(0.4).properties(solution.temperature["water:hot"] - 3.0)
    fall = solution.inlet["core"] - solution.outlet["core"]
    assert solution.heat["core"] == pytest.approx(solution.flow["core"] * liquid.heat_capacity * fall, rel=5e-3)


@pytest.mark.parametrize("arrangement", ["series", "parallel"])
def test_two_cores_agree_with_the_closed_form(arrangement):
    """With two like cores at equal air: series T_c = T_a + (1−g)²(T_h−T_a), parallel 1−g at half the flow."""
    head = [
        Pump("pump", "cold", "supply", 60e3, 8e-4),
        Passage("machine", "supply", "hot", 12e3, 0.3, power=8e3),
    ]
    if arrangement == "series":
        parts = [*head, CorePart("a", "hot", "between", CORE), CorePart("b", "between", "cold", CORE)]
    else:
        parts = [*head, CorePart("a", "hot", "cold", CORE), CorePart("b", "hot", "cold", CORE)]
    network = build(parts, [duct("a"), duct("b")])
    solution = solve(network, at([20.0]), tolerance=1e-8)
    capacity = (
        Coolant(0.4)
        .properties(np.mean([t for k, t in solution.temperature.items() if k.startswith("water")], axis=0))
        .heat_capacity
    )
    hot, cold = (solution.temperature[f"water:{n}"] - AIR.temperature for n in ("hot", "cold"))
    g = {n: solution.conductance[n] / (solution.flow[n] * capacity) for n in "ab"}
    if arrangement == "series":
        expected = hot * (1 - g["a"]) * (1 - g["b"])
    else:
        assert solution.flow["a"] == pytest.approx(solution.flow["b"], rel=1e-9)
        expected = hot * (1 - g["a"])
    assert cold == pytest.approx(expected, rel=1e-5)  # a trace of axial mixing (1e-6) stands between


# ---------------------------------------------------------------- random circuits


@st.composite
def circuits(draw):
    """A ring of parts with random shortcuts in parallel; pump, machine and core somewhere on the ring."""
    count = draw(st.integers(4, 8))
    names = [f"n{k}" for k in range(count)]
    number = st.floats(0.6, 1.7)
    kinds = draw(st.permutations(["pump", "machine", "core", *["pipe"] * (count - 3)]))
    parts = []

    def make(kind, name, start, end):
        if kind == "pump":
            return Pump(name, start, end, 50e3 * draw(number), 8e-4 * draw(number))
        if kind == "machine":
            return Passage(name, start, end, 10e3 * draw(number), 0.3, power=6e3 * draw(number))
        if kind == "core":
            return CorePart(name, start, end, dataclasses.replace(CORE, face_area=0.08 * draw(number)))
        if kind == "valve":
            return Valve(name, start, end, 0.015, opening=draw(st.sampled_from([1.0, 0.3, 0.0])))
        return Pipe(name, start, end, 0.02 * draw(number), draw(number), loss=3.0 * draw(number))

    for k, kind in enumerate(kinds):
        parts.append(make(kind, f"{kind} {k}", names[k], names[(k + 1) % count]))
    for k in range(draw(st.integers(0, 4))):
        start, end = draw(st.permutations(names))[:2]
        kind = draw(st.sampled_from(["pipe", "pipe", "core", "valve", "machine"]))
        parts.append(make(kind, f"extra {kind} {k}", start, end))
    return parts


def network_of(parts):
    cores = [part.name for part in parts if isinstance(part, CorePart)]
    return build(parts, [duct(name) for name in cores])


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(circuits(), st.randoms(use_true_random=False))
def test_random_circuits_keep_mass_heat_and_order(parts, random):
    network = network_of(parts)
    solution = solve(network, at([5.0, 40.0]), workers=1)
    assert nodal_balance(network, solution) < 1e-9
    assert np.max(solution.pressure_error) < 1e-8
    whole = solution.converged.all()
    # It converges, or says why not.
    assert whole or any(f.level == "problem" for f in solution.findings)
    if whole:
        assert np.max(solution.heat_error) < 1e-9
        assert heat_balance(network, solution) < 1e-9
    shuffled = list(parts)
    random.shuffle(shuffled)
    again = solve(network_of(shuffled), at([5.0, 40.0]), workers=1)
    for name, flow in solution.flow.items():
        assert again.flow[name] == pytest.approx(flow, rel=1e-6, abs=1e-9)
    if whole:
        for key, value in solution.temperature.items():
            assert again.temperature[key] == pytest.approx(value, abs=1e-3)


@settings(max_examples=15, deadline=None)
@given(circuits())
def test_turning_every_part_round_turns_every_flow(parts):
    """A part is not told which way it flows: reversed ends give the reversed sign, pumps apart."""
    turned = [
        part if isinstance(part, Pump) else dataclasses.replace(part, start=part.end, end=part.start) for part in parts
    ]
    one, other = (solve(network_of(p), at([20.0]), workers=1) for p in (parts, turned))
    for part in parts:
        sign = 1.0 if isinstance(part, Pump) else -1.0
        assert other.flow[part.name] == pytest.approx(sign * one.flow[part.name], rel=1e-6, abs=1e-9)
    if one.converged.all():
        for key, value in one.temperature.items():
            assert other.temperature[key] == pytest.approx(value, abs=2e-3)


# ---------------------------------------------------------------- odd ones


def test_reversed_branch_is_solved_and_told():
    """Two pumps in parallel, one far stronger: the weak one is pushed backwards."""
    parts = [*simple(), Pump("weak pump", "cold", "supply", 2e3, 4e-4)]
    network = build(parts)
    solution = solve(network, at([20.0]))
    assert solution.flow["weak pump"][0, 0] < 0.0
    assert any("backwards" in f.text and f.where == "weak pump" for f in solution.findings)
    assert np.max(solution.heat_error) < 1e-9 and nodal_balance(network, solution) < 1e-12


def test_stagnant_branch_is_finite_and_told():
    """A balanced bridge: the middle branch has no flow."""
    pipe = {"diameter": 0.02, "length": 1.0, "loss": 2.0}
    parts = [
        Pump("pump", "cold", "in", 50e3, 8e-4),
        Passage("machine", "in", "hot", 10e3, 0.3, power=5e3),
        Pipe("a1", "hot", "left", **pipe),
        Pipe("b1", "hot", "right", **pipe),
        Pipe("a2", "left", "end", **pipe),
        Pipe("b2", "right", "end", **pipe),
        Pipe("middle", "left", "right", 0.02, 0.5),
        CorePart("core", "end", "cold", CORE),
    ]
    solution = solve(build(parts), at([20.0]))
    assert solution.converged.all()
    assert abs(solution.flow["middle"][0, 0]) < 1e-6
    assert any(f.where == "middle" and "stagnant" in f.text for f in solution.findings)
    assert np.max(solution.heat_error) < 1e-9


def test_shut_valve_leaves_the_rest_alone():
    with_valve = [*simple(), Valve("bypass", "supply", "cold", 0.02, opening=0.0)]
    one, other = solve(build(simple()), at([20.0])), solve(build(with_valve), at([20.0]))
    assert other.temperature["water:hot"] == pytest.approx(one.temperature["water:hot"], abs=0.05)
    assert other.flow["core"] == pytest.approx(one.flow["core"], rel=5e-3)


def test_open_loop_names_the_place():
    parts = [part for part in simple() if part.name != "core"]
    with pytest.raises(UnusableInput, match=r"open.*pipe ends at core in"):
        solve(build(parts, ()), at([20.0]))


def test_pump_without_a_path():
    parts = [
        Pump("pump", "a", "b"),
        Pipe("p", "a", "c"), Pipe("q", "c", "d"), Pipe("r", "d", "a"), Pipe("s", "b", "e"),
        Pipe("t", "e", "f"), Pipe("u", "f", "b"),
    ]  # fmt: skip
    with pytest.raises(UnusableInput, match="pump has no way back"):
        solve(build(parts, ()), at([20.0]))


def test_core_without_air_is_found_and_the_rest_is_kept():
    extra = [CorePart("dry", "hot", "cold", CORE)]
    solution = solve(build(simple(extra=extra)), at([20.0]))
    assert solution.converged.all()
    assert any("dry gets no air" in f.text and f.level == "problem" for f in solution.findings)
    assert "dry" not in solution.heat and solution.heat["core"][0, 0] > 7e3


def test_duct_without_drive():
    still = Duct("side duct", ("core",), 0.03, 0.05)
    solution = solve(build(simple(), [still]), at([0.0, 20.0]))
    assert solution.air_flow["core"][0, 0] == 0.0
    assert not solution.converged[0, 0] and solution.converged[0, 1]
    assert any("nothing drives air" in f.text for f in solution.findings)
    assert any("nowhere to go" in f.text for f in solution.findings)
    assert np.isnan(solution.temperature["water:hot"][0, 0]) and np.isfinite(solution.temperature["water:hot"][0, 1])


def test_no_pump_no_flow():
    parts = [Passage("machine", "a", "b", power=3e3), CorePart("core", "b", "a", CORE)]
    solution = solve(build(parts), at([20.0]))
    assert "problem" in {f.level for f in solution.findings}
    assert any("no pump" in f.text for f in solution.findings)
    assert np.isnan(solution.temperature["water:b"][0, 0])


def test_boiling_is_a_finding():
    network = dataclasses.replace(build(simple(power=60e3)))
    solution = solve(network, at([10.0]))
    assert any("boil" in f.text for f in solution.findings)
    assert solution.converged.all()


def test_wrong_links():
    for broken, told in (
        (build(simple(), [duct("nothing")]), "no core"),
        (build(simple(), [duct("x", "core"), duct("y", "core")]), "two ducts"),
        (build([*simple(), Valve("pump", "a", "b")]), "more than one part"),
        (build([*simple(), Pipe("loop", "hot", "hot")]), "both ends"),
        (build([*simple(), Thermostat("stat", "hot", "cold", senses="moon")]), "no node"),
        (build(simple(), exchangers=(Exchanger("plate", "pipe", "machine", 500.0),)), "no passage"),
    ):
        with pytest.raises(UnusableInput, match=told):
            solve(broken, at([20.0]))


# ---------------------------------------------------------------- couplings


def test_thermostat_holds_the_temperature_and_balances():
    opens, full = 355.0, 365.0
    parts = [
        Pump("pump", "mixed", "supply", 60e3, 8e-4),
        Passage("engine", "supply", "out", 12e3, 0.3, power=8e3),
        Thermostat("main", "out", "core in", 0.025, 3.0, senses="out", opens_at=opens, full_at=full),
        Thermostat("bypass", "out", "mixed", 0.02, 3.0, senses="out", opens_at=opens, full_at=full, closes=True),
        CorePart("core", "core in", "mixed", CORE),
    ]
    network = build(parts)
    solution = solve(network, at(np.linspace(10, 70, 7)))
    assert solution.converged.all()
    held = solution.temperature["water:out"]
    assert np.all((held > opens - 1.0) & (held < full + 1.0))
    assert np.max(solution.heat_error) < 1e-9
    # Too much heat: fully open and above the band.
    parts[1] = dataclasses.replace(parts[1], power=45e3)
    hot = solve(build(parts), at([10.0]))
    assert hot.converged.all() and hot.temperature["water:out"][0, 0] > full


def test_oil_and_water_through_a_plate():
    oil = Circuit(
        "oil",
        Oil(),
        (
            Pump("oil pump", "sump", "gallery", 300e3, 6e-4),
            Passage("bearings", "gallery", "warm", 60e3, 0.4, power=4e3),
            Passage("plate oil", "warm", "sump", 50e3, 0.4),
        ),
        pressure=5e5,
    )
    water = Circuit("water", Coolant(0.4), (*simple(), Passage("plate water", "core in", "hot 2", 8e3, 0.4)))
    parts = [p if p.name != "core" else CorePart("core", "hot 2", "cold", CORE) for p in water.parts]
    network = Network((dataclasses.replace(water, parts=tuple(parts)), oil), (duct("core"),), (
        Exchanger("plate", "plate oil", "plate water", 400.0),
    ))  # fmt: skip
    solution = solve(network, at([20.0, 50.0]))
    assert solution.converged.all() and np.max(solution.heat_error) < 1e-9
    shaft = solution.heat["plate"][0] - 4e3  # what the oil pump's power adds
    assert np.all((shaft > 0.0) & (shaft < 1500.0))
    assert np.all(solution.temperature["oil:warm"] > solution.temperature["water:hot 2"])
    assert np.all(solution.inlet["plate oil"] > solution.outlet["plate oil"])


def test_stacked_core_sees_warm_air():
    parts = [
        Pump("pump", "cold", "supply", 60e3, 8e-4),
        Passage("machine", "supply", "hot", 12e3, 0.3, power=10e3),
        CorePart("front", "hot", "cold", CORE),
        CorePart("rear", "hot", "cold", CORE),
    ]
    stacked = build(parts, [duct("both", "front", "rear")])
    apart = build(parts, [duct("front"), duct("rear")])
    partly = build(parts, [duct("both", "front", "rear", coverage=0.4)])
    one, two, three = (solve(n, at([20.0, 50.0])) for n in (stacked, apart, partly))
    for solution in (one, two, three):
        assert solution.converged.all() and np.max(solution.heat_error) < 1e-9
    assert np.all(one.heat["rear"] < one.heat["front"])
    assert np.all(one.air_flow["front"] < two.air_flow["front"])
    assert one.air_in["rear"] == pytest.approx(one.air_out["front"], abs=1e-6)
    # Less covered: more air, and cooler air for the rear.
    assert np.all(three.air_flow["rear"] > one.air_flow["rear"])
    assert np.all(three.air_in["rear"] < one.air_in["rear"])


def test_charge_air_cooled_by_water_and_by_air():
    parts = [*simple(power=0.0), GasCooledByLiquid("charge", "cold", "hot", 9e3, 0.3, gas_inlet=430.0)]
    network = build(parts)
    solution = solve(network, at([20.0]))
    assert solution.converged.all() and np.max(solution.heat_error) < 1e-9
    assert 0.0 < solution.heat["charge"][0, 0] < 100.0 * (430.0 - AIR.temperature)
    air_core = Core(0.06, 0.3, 0.06, tube_height=0.007, tube_pitch=0.017, fin_pitch=0.0018)
    gas = GasCore("air cooler", air_core, 0.25, 420.0, 2.2e5)
    cooled = solve(build(simple(), [duct("core"), duct("air cooler")], gas_cores=(gas,)), at([20.0, 60.0]))
    heat = cooled.heat["air cooler"][0]
    assert np.all(heat > 5e3) and heat[1] > heat[0]
    assert np.all(heat < 0.25 * 1012.0 * (420.0 - AIR.temperature))


def test_draws_do_not_mix_and_blocks_do_not_matter():
    rng = np.random.default_rng(5)
    factors = rng.uniform(0.8, 1.2, (700, 1))
    core = dataclasses.replace(CORE, face_area=0.09 * factors)
    many = solve(build(simple(core=core)), at(np.linspace(5, 60, 6)))
    for k in (0, 333, 699):
        alone = solve(
            build(simple(core=dataclasses.replace(CORE, face_area=0.09 * factors[k, 0]))),
            at(np.linspace(5, 60, 6)),
        )
        assert many.temperature["water:hot"][k] == pytest.approx(alone.temperature["water:hot"][0], abs=1e-3)


# ---------------------------------------------------------------- core details


def test_more_of_everything_cools_more():
    hot = {}
    for name, core in {
        "as is": CORE,
        "larger": CORE.scaled(1.2),
        "denser": dataclasses.replace(CORE, fin_pitch=0.0012),
        "slanted": dataclasses.replace(CORE, frontal_area=0.045),
        "fouled": dataclasses.replace(CORE, fouling=2e-4),
    }.items():
        hot[name] = solve(build(simple(core=core)), at([30.0])).temperature["water:hot"][0, 0]
    assert hot["larger"] < hot["as is"] < hot["slanted"]
    assert hot["fouled"] > hot["as is"]


def test_passes_raise_the_speed_in_the_tubes_and_the_pressure():
    two = dataclasses.replace(CORE, passes=2)
    one = solve(build(simple()), at([30.0]))
    other = solve(build(simple(core=two)), at([30.0]))
    assert other.drop["core"] / other.flow["core"] ** 1.5 > 3.0 * one.drop["core"] / one.flow["core"] ** 1.5
    assert other.flow["core"] < one.flow["core"]


def test_depth_passes_against_the_air_beat_with_the_air():
    counter, along = (dataclasses.replace(CORE, passes=2, arrangement=f"depth_{w}") for w in ("counter", "parallel"))
    against, with_it = (solve(build(simple(core=c)), at([30.0])).temperature["water:hot"] for c in (counter, along))
    assert np.all(against < with_it)


def test_connectors_at_one_end_even_the_flow():
    liquid = Coolant(0.4).properties(340.0)
    narrow = dataclasses.replace(CORE, collector_diameter=0.02)
    wide = dataclasses.replace(CORE, collector_diameter=0.03)

    def spread(core, same_end):
        return float(collector_unevenness(prepare(dataclasses.replace(core, same_end=same_end)), 0.6, liquid))

    assert spread(narrow, True) < spread(narrow, False)
    assert spread(wide, False) < 0.4 * spread(narrow, False)
