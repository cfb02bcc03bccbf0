"""The circuit as lines, openings as coefficients, variants side by side, and solutions begun from another one."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.studio import circuit_drawing as svg
from longlens.systems import registry
from longlens.systems.cooling import answers
from longlens.systems.cooling.air import standard_atmosphere
from longlens.systems.cooling.airside import Duct, duct_coefficients, outflow
from longlens.systems.cooling.comparing import Variant
from longlens.systems.cooling.components import Passage, Pipe, Pump
from longlens.systems.cooling.drawing import draw, drawing_of, heat_share, width_share
from longlens.systems.cooling.layout import Layout, node_places, part_lines
from longlens.systems.cooling.liquids import Coolant
from longlens.systems.cooling.model import Circuit
from longlens.systems.cooling.network import solve
from longlens.systems.cooling.places import Face
from longlens.systems.cooling.readings import CollectorReading, PlumbingReading, read_collectors, read_plumbing
from longlens.systems.cooling.variants import as_json, evidence, pairs, side_by_side, verdict
from longlens.systems.given import Given, read_file
from longlens.systems.run import run_all

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"
SHEET = registry.sheet("cooling")


def load(name, draws=150):
    file = read_file(EXAMPLES / name, "cooling")
    return Given(file.inputs, file.variants, scope=file.scope, where=file.where, draws=draws)


@pytest.fixture(scope="module")
def fulmar():
    return run_all(SHEET, load("cooling_fulmar.json"))


def ring(**paths):
    parts = (
        Pump("pump", "a", "b"),
        Pipe("there", "b", "c", path=paths.get("there")),
        Passage("machine", "c", "d"),
        Pipe("back", "d", "a"),
    )
    return Circuit("loop", Coolant(np.asarray(0.3)), parts)


def still(*points):
    return np.array([points], dtype=float)


# Layout ---------------------------------------------------------------------------------------------------


def test_a_part_without_a_line_lies_between_its_neighbours_and_says_so():
    layout = Layout(lines={"there": still((0, 0, 0), (1, 0, 0))}, places={"pump": still((-1, 1, 0))[:, 0]})
    found = part_lines(ring(), layout)
    assert found["there"][1] == "seen" and found["pump"][1] == "partly"
    assert {found["machine"][1], found["back"][1]} == {"inferred"}
    assert found["machine"][0][0] == pytest.approx([1, 0, 0])  # it begins where the line ends
    lines = {name: points for name, (points, _) in found.items()}
    for one, other in (("there", "machine"), ("machine", "back"), ("back", "pump"), ("pump", "there")):
        assert lines[one][-1] == pytest.approx(lines[other][0], abs=1e-9)  # the ring is closed


def test_nothing_measured_nothing_drawn():
    assert part_lines(ring(), Layout()) == {} and Layout().empty


@given(st.lists(st.floats(-2, 2), min_size=6, max_size=6), st.booleans())
@settings(max_examples=30)
def test_places_of_nodes_lie_within_the_measured_ends(values, turned):
    a, b = np.array(values[:3]), np.array(values[3:])
    line = np.array([a, b]) if not turned else np.array([b, a])
    found = node_places(ring(), {"there": line}, {})
    low, high = np.minimum(a, b) - 1e-9, np.maximum(a, b) + 1e-9
    assert all(np.all((low <= p) & (p <= high)) for p in found.values())


def test_a_core_is_turned_so_that_it_meets_its_neighbours():
    face = Face(still((0, 0, 1), (1, 0, 1)), np.array([[0.0, 0.0, -1.0]]))
    circuit = dataclasses.replace(
        ring(), parts=tuple(p if p.name != "machine" else Passage("core", "c", "d") for p in ring().parts)
    )
    for ends in (((3, 0, 0), (2, 0, 0)), ((-3, 0, 0), (-2, 0, 0))):
        lines = {"there": still(*ends), "back": still((10, 0, 0), (11, 0, 0))}
        points = part_lines(circuit, Layout(lines=lines, faces={"core": face}))["core"][0]
        gap = np.linalg.norm(points[1] - np.array(ends[1])) + np.linalg.norm(points[-2] - np.array([10, 0, 0]))
        other = np.linalg.norm(points[-2] - np.array(ends[1])) + np.linalg.norm(points[1] - np.array([10, 0, 0]))
        assert gap <= other


# Drawing --------------------------------------------------------------------------------------------------


def with_places(outcome, **lines):
    """A solved example with a few of its parts placed by hand."""
    solved = outcome.inner["solved"]
    return draw(solved, Layout(lines={k: still(*v) for k, v in lines.items()}), 2, 22.2)


def test_runs_carry_flow_and_temperatures_of_the_solution(fulmar):
    drawing = with_places(fulmar[""], **{"feed left": ((0, 1, 0), (1, 1, 0)), "return left": ((1, 1, 1), (0, 1, 1))})
    solution = fulmar[""].inner["solved"].solution
    core = next(run for run in drawing.runs if run.name == "left")
    assert core.heat.median == pytest.approx(-float(np.median(solution.heat["left"][:, 2])))
    assert core.inlet.median > core.outlet.median
    assert max(width_share(run, drawing) for run in drawing.runs) == pytest.approx(1.0)
    assert heat_share(drawing.lowest, drawing) == 0.0 and heat_share(drawing.highest, drawing) == 1.0
    assert "kg/s" in core.label() and "°C" in core.label()


def test_a_reversed_flow_turns_the_line_round(fulmar):
    solved = fulmar[""].inner["solved"]
    turned = dataclasses.replace(solved.solution, flow={k: -v for k, v in solved.solution.flow.items()})
    layout = Layout(lines={"feed left": still((0, 1, 0), (1, 1, 0))})
    there = draw(solved, layout, 1).runs
    back = draw(Variant("", solved.network, turned, solved.limits), layout, 1).runs
    one, other = (next(r for r in runs if r.name == "feed left") for runs in (there, back))
    assert one.points == pytest.approx(other.points[::-1]) and one.flow == other.flow


def test_an_outcome_without_places_has_no_drawing(fulmar):
    assert drawing_of(fulmar["series, left first"]) is None


def test_the_svg_is_well_formed_whatever_the_names_are(fulmar):
    from defusedxml.ElementTree import fromstring

    drawing = with_places(fulmar[""], **{"feed left": ((0, 1, 0), (1, 1, 0))})
    nasty = dataclasses.replace(
        drawing, runs=tuple(dataclasses.replace(r, name=f'<script>&"{r.name}') for r in drawing.runs)
    )
    for one in (drawing, nasty):
        root = fromstring(svg.plan_and_side(one, {"left.rear": np.array([0.5, 0.7, 0.3])}))
        assert root.tag.endswith("svg") and "script" not in {element.tag for element in root.iter()}


def test_palette_goes_from_cold_to_hot_and_holds_outside():
    assert svg.colour(0.0) == svg.PALETTE[0] and svg.colour(1.0) == svg.PALETTE[-1]
    assert svg.colour(-3.0) == svg.PALETTE[0] and svg.colour(float("nan")) == svg.UNKNOWN


# Openings -------------------------------------------------------------------------------------------------


@given(st.floats(0.05, 3.0), st.floats(5.0, 80.0))
@settings(max_examples=40)
def test_openings_follow_bernoulli_and_momentum(flow, speed):
    """c_p at the inlet from the continuity of an incompressible stream; drag area = drag over dynamic pressure."""
    air = standard_atmosphere(np.asarray(0.0), 0.0)
    duct = Duct("d", ("core",), 0.04, 0.06, inlet_recovery=0.9, outlet_cp=-0.2)
    away = outflow(duct, np.asarray(flow), np.asarray(330.0), np.asarray(speed), air)
    found = duct_coefficients(duct, np.asarray(flow), away, np.asarray(speed), air)
    captured = flow / (air.density * speed)  # area of the stream far ahead, m²
    assert found.flow_ratio == pytest.approx(captured / 0.04)
    assert found.inlet_cp == pytest.approx(0.9 - (captured / 0.04) ** 2)
    assert found.drag_area * 0.5 * air.density * speed**2 == pytest.approx(away.drag)


def test_a_standing_car_has_no_coefficients():
    air = standard_atmosphere(np.asarray(0.0), 0.0)
    duct = Duct("d", ("core",), 0.04, 0.06)
    away = outflow(duct, np.asarray(0.3), np.asarray(330.0), np.asarray(0.0), air)
    found = duct_coefficients(duct, np.asarray(0.3), away, np.asarray(0.0), air)
    assert all(np.isnan(v) for v in (found.inlet_cp, found.outlet_cp, found.drag_area, found.flow_ratio))


def test_outputs_over_the_moving_cases_leave_the_standing_one_out(fulmar):
    outcome = fulmar[""]
    assert len(outcome.axes["moving"]) == len(outcome.axes["speed"]) - 1
    area, drag = outcome.number("cooling_drag_area").draws, outcome.number("cooling_drag").draws[:, :, 1:]
    q = 0.5 * np.asarray(outcome.inner["air"].density).reshape(-1, 1, 1) * np.asarray(outcome.axes["moving"]) ** 2
    assert area * q == pytest.approx(drag)


# Begun from another solution ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["cooling_fulmar.json", "cooling_gannet.json"])
def test_a_solution_does_not_depend_on_where_it_was_begun(name):
    outcome = run_all(SHEET, Given(load(name, 60).inputs, {}, draws=60))[""]
    network, conditions = outcome.inner["solved"].network, outcome.inner["conditions"]
    harder = answers.with_heat(network, 1.15)
    cold = solve(harder, conditions)
    warm = solve(harder, conditions, start=outcome.inner["solved"].solution)
    both = cold.converged & warm.converged
    assert np.mean(both) > 0.98
    for key, value in cold.temperature.items():
        assert np.max(np.abs(value - warm.temperature[key])[both]) < 0.02, key
    assert np.max(warm.heat_error[both]) < 1e-9


# Side by side ---------------------------------------------------------------------------------------------


def test_shares_of_being_the_best_add_up_and_the_verdict_names_two(fulmar):
    sides = side_by_side(fulmar)
    assert sum(side.best for side in sides) == pytest.approx(1.0)
    assert [s.best for s in sides] == sorted((s.best for s in sides), reverse=True)
    told = verdict(fulmar)
    assert sides[0].name in told and told in {pair.reason for pair in pairs(fulmar)}
    json.dumps(as_json(fulmar))
    assert verdict({"": fulmar[""]}) == "" and as_json({"": fulmar[""]})["pairs"] == []


def test_a_scheme_that_closes_where_another_does_not_is_evidence_for_it(fulmar):
    items = evidence(fulmar)
    closing = {side.name: side.closing for side in side_by_side(fulmar)}
    for item in items:
        assert closing[item.favours] > closing[item.over]
        assert 1.0 <= item.low <= item.ratio <= item.high and item.question == "plumbing"


# Evidence by measured diameters ----------------------------------------------------------------------------


def test_a_taper_that_only_some_draws_show_speaks_less():
    def ratio(taper):
        found = read_collectors(CollectorReading("left", taper=taper, thick_at_connector=True))
        return found[0].ratio if found else 1.0

    sure, half, none = np.full(100, 0.6), np.where(np.arange(100) < 50, 0.6, 0.95), np.full(100, 0.97)
    assert ratio(sure) > ratio(half) > ratio(none) == 1.0


@given(st.floats(0.5, 1.2), st.floats(0.0, 0.2))
@settings(max_examples=40)
def test_diameters_favour_parallel_or_series_but_never_both(ratio, spread):
    draws = ratio + spread * np.linspace(-1, 1, 41)
    found = read_plumbing(PlumbingReading(("l", "r"), supply_diameter=0.03, branch_diameter=0.03 * draws))
    assert len(found) <= 1
    for item in found:
        share = np.mean(draws < 0.88)
        assert item.ratio >= 1.0 and item.low <= item.ratio <= item.high
        assert item.favours == ("parallel" if share * np.log(4) > (1 - share) * np.log(1.5) else "series")


def test_evidence_carries_what_was_looked_at():
    seen = CollectorReading("left", same_side=False, rests_on=("mark:m1", "point:p"))
    assert all(item.rests_on == ("mark:m1", "point:p") for item in read_collectors(seen))
