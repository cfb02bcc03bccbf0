"""Heat relations, bleeding along measured lines, and readings of collectors and pipes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.systems.cooling import heat
from longlens.systems.cooling.bleeding import Line, air_pockets, check_bleed_line
from longlens.systems.cooling.readings import (
    COMMON_PRACTICE,
    CollectorReading,
    PlumbingReading,
    read_collectors,
    read_plumbing,
)


def test_engine_heat_adds_up():
    found = heat.engine_heat(300e3, 0.33, 0.55, 0.12)
    assert found.coolant == pytest.approx(165e3) and found.oil == pytest.approx(36e3)
    assert found.fuel == pytest.approx(300e3 + found.coolant + found.oil + found.exhaust_and_rest)
    assert found.air_flow / found.fuel_flow == pytest.approx(14.6)


def test_compressor_by_hand():
    # T1 300 K, π 2, η 0.75, γ 1.4: T2 = 300 (1 + (2^0.2857 − 1)/0.75) = 387.6 K.
    behind = heat.compress(0.3, 300.0, 1e5, 2.0, 0.75)
    assert behind.temperature == pytest.approx(387.6, abs=0.1)
    assert behind.pressure == pytest.approx(2e5)
    assert behind.power == pytest.approx(0.3 * 1008.0 * 87.6, rel=0.01)


def test_battery_loss():
    # 100 kW from 400 V and 0.05 Ω: I = (400 − √(160000 − 20000))/0.1 = 258.3 A, I²R = 3,336 W.
    assert heat.battery_loss(100e3, 400.0, 0.05) == pytest.approx(3336.0, rel=1e-3)
    assert heat.battery_loss(0.0, 400.0, 0.05) == 0.0
    # More than it can give: the loss at its greatest power, U²/4R each inside and out.
    assert heat.battery_loss(1e9, 400.0, 0.05) == pytest.approx(400.0**2 / (4 * 0.05))


@settings(max_examples=50)
@given(st.floats(1e3, 5e5), st.floats(0.8, 0.99), st.floats(0.0, 1.0))
def test_machine_loss_is_the_efficiency_at_full_load_and_falls_below(power, efficiency, load):
    full = heat.machine_loss(power, efficiency)
    assert full == pytest.approx(power * (1 / efficiency - 1))
    assert heat.machine_loss(power * max(load, 1e-3), efficiency, 1.0, max(load, 1e-3)) <= full * 1.0000001


def test_climb_power():
    # 1,000 kg at 20 m/s up 10 %: sin 0.0995 → 19,516 W of weight; rolling 0.01 → 1,952 W; drag ½·1.2·0.7·400·20 =
    # 3,360 W.
    assert heat.climb_power(1000.0, 20.0, 0.10, 0.7, 0.01, 1.2) == pytest.approx(19_516 + 1_952 + 3_360, rel=2e-3)


RISING = Line("bleed", np.array([[0, 0, 0.50], [0.2, 0, 0.55], [0.4, 0, 0.70]]))
SAGGING = Line("bleed", np.array([[0, 0, 0.50], [0.2, 0, 0.45], [0.4, 0, 0.70]]))
CORE_SIDE = Line("collector", np.array([[0, 0, 0.10], [0, 0, 0.50]]))
HUMP = Line("return", np.array([[0, 0, 0.50], [-0.3, 0, 0.62], [-0.6, 0, 0.20]]))
TANK = np.array([[0.4, 0, 0.70]])


def test_a_good_bleed_line():
    answer = check_bleed_line(RISING, [CORE_SIDE])
    assert answer.starts_highest == 1.0 and answer.rises_all_the_way == 1.0
    assert air_pockets([RISING, CORE_SIDE], TANK) == []


def test_a_sag_and_a_hump_are_found():
    answer = check_bleed_line(SAGGING, [CORE_SIDE, HUMP])
    assert answer.rises_all_the_way == 0.0
    assert answer.lowest_drop == pytest.approx([0.05])
    assert answer.above_start == pytest.approx([0.12])
    pockets = air_pockets([SAGGING, CORE_SIDE, HUMP], TANK)
    assert {p.line for p in pockets} >= {"return"}
    hump = next(p for p in pockets if p.line == "return")
    # From 0.62 the air must go down to 0.45 to reach the tank.
    assert hump.depth == pytest.approx(0.17, abs=1e-9)


def test_uncertain_heights_give_a_probability():
    rng = np.random.default_rng(2)
    points = np.repeat(SAGGING.points[None], 4000, axis=0)
    points[:, 1, 2] = 0.50 + 0.01 * rng.standard_normal(4000)
    answer = check_bleed_line(Line("bleed", points), [CORE_SIDE])
    assert answer.rises_all_the_way == pytest.approx(0.5, abs=0.03)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=3, max_size=7), st.floats(-2.0, 2.0))
def test_lifting_everything_changes_nothing(heights, lift):
    points = np.array([[0.3 * k, 0.0, z] for k, z in enumerate(heights)])
    up = np.array([0.0, 0.0, lift])
    raised = points + up
    outlet = points[-1:]
    one = air_pockets([Line("l", points)], outlet)
    other = air_pockets([Line("l", raised)], outlet + up)
    assert [(p.line, round(p.depth, 6)) for p in one] == [(p.line, round(p.depth, 6)) for p in other]


def test_readings_say_what_practice_says():
    items = read_collectors(CollectorReading("left", same_side=True, step=True, inlet_high=True))
    assert {i.favours for i in items} == {"even number of passes", "top feed"}
    assert all(i.source == COMMON_PRACTICE and i.low <= i.ratio <= i.high for i in items)
    single = read_collectors(CollectorReading("left", same_side=False, taper=0.6, thick_at_connector=True))
    assert all(i.favours == "single pass" for i in single) and len(single) == 2
    hidden = read_collectors(CollectorReading("left", taper=0.6, thick_at_connector=False))
    assert hidden[0].favours == "connector elsewhere (hidden)"


def test_what_was_not_seen_says_nothing():
    assert read_collectors(CollectorReading("left")) == []
    assert read_plumbing(PlumbingReading(("left", "right"))) == []


def test_plumbing_readings():
    series = read_plumbing(PlumbingReading(("l", "r"), pipes_between=1, supply_diameter=0.028, branch_diameter=0.028))
    assert {i.favours for i in series} == {"series"}
    parallel = read_plumbing(PlumbingReading(("l", "r"), tees=2, supply_diameter=0.028, branch_diameter=0.02))
    assert {i.favours for i in parallel} == {"parallel"}
    apart = read_plumbing(PlumbingReading(("l", "r"), pipes_between=0, pumps=2, tanks=2))
    # without a pipe from core to core only series is spoken against; pumps and tanks speak for two loops
    assert {(i.favours, i.over) for i in apart} == {
        ("two loops", "series"),
        ("parallel", "series"),
        ("two loops", "one loop"),
    }
