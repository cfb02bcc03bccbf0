"""Answers: closing, bearable heat, effects, comparing with reasons."""

import dataclasses

import numpy as np
import pytest

from longlens.systems.cooling import answers
from longlens.systems.cooling.air import standard_atmosphere
from longlens.systems.cooling.airside import Duct, Fan
from longlens.systems.cooling.comparing import Variant, closing, compare, critical_case, pump_power
from longlens.systems.cooling.components import CorePart, Passage, Pipe, Pump, Thermostat
from longlens.systems.cooling.core import Core
from longlens.systems.cooling.liquids import Coolant
from longlens.systems.cooling.model import Circuit, Conditions, Network
from longlens.systems.cooling.network import solve

N = 200
RNG = np.random.default_rng(3)
AIR = standard_atmosphere(200.0, 12.0)
AT = Conditions(np.array([[10.0, 30.0, 55.0]]), AIR)


def spread(value, sd):
    return value * np.exp(sd * RNG.standard_normal((N, 1)))


CORE = Core(
    face_area=spread(0.08, 0.02), tube_length=0.4, depth=0.04, j_factor=spread(1.0, 0.09), f_factor=spread(1.0, 0.2)
)
HEAT = spread(9e3, 0.08)


def network(kind):
    head = [Pump("pump", "cold", "supply", 70e3, 9e-4), Passage("machine", "supply", "hot", 12e3, 0.4, power=HEAT)]
    pipe = {"diameter": 0.022, "length": 1.0, "loss": 2.0}
    if kind == "parallel":
        rest = [
            Pipe("p1", "hot", "a in", **pipe),
            CorePart("a", "a in", "cold", CORE),
            Pipe("p2", "hot", "b in", **pipe),
            CorePart("b", "b in", "cold", CORE),
        ]
    else:
        first, second = ("a", "b") if kind == "series" else ("b", "a")
        rest = [
            Pipe("p1", "hot", "first in", **pipe),
            CorePart(first, "first in", "between", CORE),
            Pipe("p2", "between", "second in", **pipe),
            CorePart(second, "second in", "cold", CORE),
        ]
    ducts = tuple(Duct(f"duct {n}", (n,), 0.03, 0.045, fan=Fan(180.0, 0.35)) for n in "ab")
    return Network((Circuit("water", Coolant(0.4), tuple(head + rest)),), ducts)


LIMITS = (answers.Limit("supply", "water", "supply", np.asarray(337.0)),)
VARIANTS = {k: Variant(k, network(k), solve(network(k), AT), LIMITS) for k in ("parallel", "series", "turned")}


def test_probability_of_closing_counts_draws():
    one = VARIANTS["parallel"]
    margin = 337.0 - one.solution.temperature["water:supply"]
    assert closing(one) == pytest.approx(np.mean(margin >= 0.0, axis=0))
    assert np.all(np.diff(closing(one)) >= 0.0)


def test_boiling_takes_the_margin_even_where_limits_hold():
    one = VARIANTS["parallel"]
    low = dataclasses.replace(one.network, circuits=(dataclasses.replace(one.network.circuits[0], pressure=4e3),))
    hot = answers.worst_margin(low, one.solution, LIMITS)
    assert np.all(hot < answers.worst_margin(one.network, one.solution, LIMITS))


def test_bearable_heat_just_reaches_the_limit():
    one = VARIANTS["parallel"]
    factor = answers.bearable_heat(one.network, AT, LIMITS, one.solution)
    again = solve(answers.with_heat(one.network, factor), AT)
    assert again.temperature["water:supply"] == pytest.approx(337.0, abs=0.1)
    assert np.all((factor > 1.0) == (one.solution.temperature["water:supply"] < 337.0))


def test_bearable_heat_opens_the_thermostat():
    parts = [
        Pump("pump", "mixed", "supply", 60e3, 8e-4),
        Passage("engine", "supply", "out", 12e3, 0.3, power=6e3),
        Thermostat("main", "out", "in", 0.025, 3.0, senses="out", opens_at=350.0, full_at=358.0),
        Thermostat("bypass", "out", "mixed", 0.02, 3.0, senses="out", opens_at=350.0, full_at=358.0, closes=True),
        CorePart("a", "in", "mixed", dataclasses.replace(CORE, face_area=0.08, j_factor=1.0, f_factor=1.0)),
    ]
    net = Network((Circuit("water", Coolant(0.4), tuple(parts)),), (Duct("d", ("a",), 0.03, 0.05),))
    limits = (answers.Limit("out", "water", "out", 375.0),)
    solution = solve(net, AT)
    factor = answers.bearable_heat(net, AT, limits, solution)
    again = solve(answers.with_heat(net, factor), AT)
    assert again.temperature["water:out"] == pytest.approx(375.0, abs=0.3)


def test_effects_have_the_signs_of_physics():
    one = VARIANTS["parallel"]
    case = Conditions(AT.speed[:, :1], AIR)
    effects, draws = answers.effects_of_changes(one.network, case, LIMITS, solve(one.network, case))
    by_name = {(e.subject, e.change): e.gain.median for e in effects}
    assert by_name["a", "face area + 10 %"] > 0.0 and by_name["fans", "speed + 10 %"] > 0.0
    assert [e.gain.median for e in effects] == sorted((e.gain.median for e in effects), reverse=True)
    assert all(d.shape == (N, 1) for d in draws.values())
    name, told = answers.short_core(effects)
    assert name in ("a", "b") and "do not separate" in told


def test_causes_add_up_to_the_gain_in_every_draw():
    from longlens.systems.cooling.comparing import _causes

    for one, other in (("parallel", "series"), ("series", "turned")):
        causes, _ = _causes(VARIANTS[one], VARIANTS[other], AT, 0)
        a, b = (VARIANTS[k].solution.temperature["water:supply"][:, 0] for k in (one, other))
        assert sum(causes.values()) == pytest.approx(b - a, abs=1e-3)


def test_series_either_way_round_is_alike_for_like_cores():
    pair = compare(VARIANTS["series"], VARIANTS["turned"], AT, 0)
    assert abs(pair.gain.median) < 1e-6
    assert "alike" in pair.reason


def test_the_reason_is_read_from_the_numbers():
    case = critical_case(list(VARIANTS.values()))
    assert case == 0
    pair = compare(VARIANTS["parallel"], VARIANTS["series"], AT, case)
    flows = {k: np.median(np.abs(VARIANTS[k].solution.flow["a"][:, case])) for k in ("parallel", "series")}
    assert flows["parallel"] < 0.7 * flows["series"]
    # In parallel both cores stand hotter over the air; in series each passes more per kelvin.
    assert pair.causes["where the cores sit"].median > 0.5
    assert pair.causes["what the cores pass"].median < -0.5
    assert f"{flows['series']:.2f}" in pair.reason and f"{flows['parallel']:.2f}" in pair.reason
    back = compare(VARIANTS["series"], VARIANTS["parallel"], AT, case)
    assert back.probability == pytest.approx(1.0 - pair.probability, abs=1e-9)
    assert back.gain.median == pytest.approx(-pair.gain.median)


def test_a_variant_that_does_not_work_is_said_so():
    one = VARIANTS["parallel"]
    dead = dataclasses.replace(one.network, ducts=(Duct("none", ("a",), 0.03, 0.04), one.network.ducts[1]))
    still = Conditions(np.array([[0.0]]), AIR)
    sealed = dataclasses.replace(dead, ducts=tuple(dataclasses.replace(d, fan=None) for d in dead.ducts))
    variants = [Variant(n, k, solve(k, still), LIMITS) for n, k in (("whole", one.network), ("sealed", sealed))]
    pair = compare(variants[0], variants[1], still, 0)
    assert pair.probability == 1.0
    assert "no steady answer" in pair.reason


def test_pump_power_is_pressure_times_volume():
    one = VARIANTS["parallel"]
    power = pump_power(one)
    assert np.all((power > 5.0) & (power < 60.0))


def test_intervals_for_people():
    told = answers.Interval(3.14159, 1.234, 4.987).told()
    assert told == "3 (1 to 5)" or told == "3.1 (1.2 to 5.0)"
