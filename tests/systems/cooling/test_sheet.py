"""The sheet on its example files: runs, answers, findings; and what strangers' files may get wrong."""

import copy
import json
from pathlib import Path

import numpy as np
import pytest

from longlens.errors import UnusableInput
from longlens.numbers import Number
from longlens.systems import registry
from longlens.systems.cooling.variants import as_json, pairs, solved
from longlens.systems.given import Given, read_file
from longlens.systems.run import run, run_all

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"
SHEET = registry.sheet("cooling")


def load(name, draws=200):
    given = read_file(EXAMPLES / name, "cooling")
    return Given(given.inputs, given.variants, scope=given.scope, where=given.where, draws=draws)


@pytest.fixture(scope="module")
def fulmar():
    return run_all(SHEET, load("cooling_fulmar.json"))


@pytest.fixture(scope="module")
def gannet():
    return run_all(SHEET, load("cooling_gannet.json"))


def texts(outcome):
    return " | ".join(finding.text for finding in outcome.findings)


def test_every_output_is_given(fulmar):
    for outcome in fulmar.values():
        assert set(outcome.refused) == {"charge_out"}  # the car has no charge cooler
        for name, number in outcome.numbers.items():
            assert isinstance(number, Number), name
            shape = tuple(len(outcome.axes[axis]) for axis in SHEET.output(name).along)
            assert number.shape == shape, name
        json.dumps(outcome.as_json())


def test_heat_and_mass_close_in_every_variant(fulmar, gannet):
    for outcome in [*fulmar.values(), *gannet.values()]:
        solution = outcome.inner["solved"].solution
        sound = solution.converged
        assert np.mean(sound) > 0.995
        assert np.max(solution.heat_error[sound]) < 1e-9
        assert np.max(solution.pressure_error[sound]) < 1e-8


def test_heat_of_the_cores_is_the_heat_given(fulmar):
    for outcome in fulmar.values():
        taken = outcome.number("core_heat").draws.sum(axis=1)
        assert taken == pytest.approx(outcome.number("heat_total").draws, rel=1e-6)


def test_four_schemes_side_by_side(fulmar):
    found = pairs(fulmar)
    assert len(found) == 6
    assert {v.name for v in solved(fulmar)} == {"as given", "series, left first", "series, right first", "two loops"}
    for pair in found:
        assert 0.0 <= pair.probability <= 1.0
        assert pair.first in pair.reason and pair.second in pair.reason
    like = next(p for p in found if {p.first, p.second} == {"series, left first", "series, right first"})
    assert abs(like.gain.median) < 0.1  # like cores, like ducts: the order hardly matters
    told = as_json(fulmar)
    json.dumps(told)
    assert told["case"]["speed"] > 0.0 and len(told["pairs"]) == 6


def test_findings_are_made_of_the_numbers(fulmar):
    outcome = fulmar[""]
    told = texts(outcome)
    chance = outcome.number("tightest_closing").value
    assert f"it closes in {chance:.0%} of the draws" in told
    assert "is the short one" in told
    assert "bleed line rises all the way in 0% of the draws" in told
    assert "air would stay in return left" in told
    assert "common practice, no source" in told


def test_uncertainty_has_drivers_and_model_error_is_among_the_inputs(fulmar):
    outcome = fulmar[""]
    names = [driver.name for driver in outcome.drivers("tightest_margin", count=30)]
    assert "temperature_offset" in names and "built_error" in names
    assert outcome.number("core_heat").origin.as_json()


def test_more_power_closes_less():
    given = load("cooling_fulmar.json")
    inputs = copy.deepcopy(dict(given.inputs))
    inputs["heat"]["motor"]["power"]["value"] = 450
    harder = run(SHEET, Given(inputs, scope=given.scope, draws=200))
    base = run(SHEET, Given(given.inputs, scope=given.scope, draws=200))
    assert harder.number("tightest_closing").value < base.number("tightest_closing").value
    # The share of the assumed heat that can be held falls, the heat itself stays about the same.
    assert harder.number("tightest_bearable").value < base.number("tightest_bearable").value


def test_charge_air(gannet):
    outcome = gannet[""]
    charge = outcome.number("charge_out").draws
    assert list(outcome.axes["charge"]) == ["left charge", "right charge"]
    ambient = 288.15 + 0.0
    moving = np.asarray(outcome.axes["speed"]) > 20.0
    assert np.all(charge[:, :, moving] > ambient - 15.0) and np.all(np.median(charge[:, :, moving], axis=0) < 360.0)
    apart = gannet["charge coolers beside the radiators"]
    behind, beside = (o.number("face_speed").value for o in (outcome, apart))
    assert behind.shape == beside.shape
    # The radiator behind a charge cooler breathes warmer air than one beside it.
    hot = [o.inner["solved"].solution.air_in["left"][:, 2] for o in (outcome, apart)]
    assert np.all(hot[0] > hot[1])


def test_lines_not_given_are_refused_alone(gannet):
    outcome = gannet[""]
    assert set(outcome.refused) == {"bleed_drop", "bleed_below_top"}


def test_thermostat_holds_at_idle(gannet):
    outcome = gannet[""]
    k = list(outcome.axes["limit"]).index("coolant out of the engine")
    idle = outcome.number("temperature").draws[:, k, 0]
    assert np.all(idle < 273.15 + 96.0)


def test_same_file_same_answer():
    one, other = (run(SHEET, load("cooling_fulmar.json"), cache=None) for _ in range(2))
    assert np.array_equal(one.number("margin").draws, other.number("margin").draws)


def broken(change, name="cooling_fulmar.json"):
    given = load(name)
    inputs = copy.deepcopy(dict(given.inputs))
    change(inputs)
    return Given(inputs, scope=given.scope, where="file", draws=200)


def _drop_part(inputs, name):
    parts = inputs["circuits"]["coolant"]["parts"]
    parts[:] = [part for part in parts if part["name"] != name]


CASES = {
    "open loop": (lambda i: _drop_part(i, "return left"), r"open.*left out"),
    "millimetres as metres": (
        lambda i: i["cores"]["left"].update(depth={"value": 42, "unit": "m"}),
        r"outside what can be.*mm",
    ),
    "wrong quantity": (lambda i: i["cores"]["left"].update(depth={"value": 42, "unit": "kg"}), r"kg"),
    "unknown field": (lambda i: i["cores"]["left"].update(dept={"value": 1, "unit": "m"}), r"dept"),
    "unknown kind": (lambda i: i["circuits"]["coolant"]["parts"][0].update(kind="magic"), r"magic"),
    "no such core": (lambda i: i["ducts"]["left pod"].update(cores=["moon"]), r"moon|core"),
    "no such heat": (lambda i: i["circuits"]["coolant"]["parts"][1].update(heat=["sun"]), r"sun"),
    "limit nowhere": (lambda i: i["limits"]["battery inlet"].update(node="mars"), r"mars"),
    "no limit": (lambda i: i.update(limits={}), r"at least one limit"),
    "cases not a list": (lambda i: i.update(cases={"speed": 3}), r"list of cases"),
    "speed with spread": (
        lambda i: i["cases"][0].update(speed={"value": 10, "sd": 1, "unit": "km/h"}),
        r"spread",
    ),
    "climb without mass": (lambda i: i["cases"][0].update(drive="climb"), r"is missing"),
    "pipe without bore": (
        lambda i: i["circuits"]["coolant"]["parts"][4].pop("outside_diameter"),
        r"diameter",
    ),
    "wall too thick": (
        lambda i: i["circuits"]["coolant"]["parts"][4].update(wall={"value": 9.9, "sd": 1, "unit": "mm"}),
        r"no bore",
    ),
    "glycol 80 %": (
        lambda i: i["circuits"]["coolant"]["liquid"].update(glycol={"value": 80, "unit": "%"}),
        r"outside what can be",
    ),
    "like nobody": (lambda i: i["cores"]["right"].update(like="nobody"), r"nobody"),
    "bleed line unknown": (lambda i: i["lines"].update(bleed="none"), r"no line"),
    "colon in a name": (lambda i: i["circuits"]["coolant"]["parts"][0].update(name="a:b"), r"colon"),
    "parts missing": (lambda i: i["circuits"]["coolant"].update(parts=[]), r"list of parts"),
    "text for a figure": (lambda i: i["ducts"]["left pod"].update(inlet_area="large"), r"no figure"),
    "core as a list": (lambda i: i.update(cores=[1, 2]), r"object"),
    "truth as text": (lambda i: i["cores"]["left"].update(same_end="yes"), r"true or false"),
}


@pytest.mark.parametrize("name", CASES)
def test_bad_files_say_where_and_what(name):
    change, told = CASES[name]
    with pytest.raises(UnusableInput, match=told) as caught:
        run(SHEET, broken(change), cache=None)
    assert caught.value.what


def test_a_core_that_no_duct_feeds_is_found_not_fatal():
    outcome = run(SHEET, broken(lambda i: i["ducts"].pop("right pod")), cache=None)
    assert "right gets no air" in texts(outcome)
    assert (
        outcome.number("tightest_margin").value
        < run(SHEET, load("cooling_fulmar.json")).number("tightest_margin").value
    )


def test_boiling_is_told():
    def hot(inputs):
        inputs["heat"]["motor"]["power"]["value"] = 1500
        inputs["limits"]["battery inlet"]["temperature"]["value"] = 150

    outcome = run(SHEET, broken(hot), cache=None)
    assert "would boil at its cap pressure" in texts(outcome)
    assert outcome.number("tightest_closing").value < 0.2


def test_no_duct_at_all_still_answers_what_it_can():
    outcome = run(SHEET, broken(lambda i: i.update(ducts={})), cache=None)
    assert "gets no air" in texts(outcome) and "nowhere to go" in texts(outcome)
    assert outcome.number("tightest_closing").value == 0.0


def test_the_smallest_file_of_the_docs_runs(tmp_path):
    text = (EXAMPLES.parent / "cooling.md").read_text("utf-8")
    path = tmp_path / "one.json"
    path.write_text(text.split("```json")[1].split("```")[0], "utf-8")
    outcome = run(SHEET, read_file(path, "cooling"))
    assert np.isfinite(outcome.number("tightest_margin").value)
    assert set(outcome.refused) == {"bleed_drop", "bleed_below_top", "charge_out", "pipe_speed"}
