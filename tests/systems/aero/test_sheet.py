"""The aero sheet: outputs, couplings, refusals."""

import copy
import json
from pathlib import Path

import numpy as np
import pytest

from longlens.errors import UnusableInput
from longlens.numbers import Normal, stated
from longlens.systems import registry
from longlens.systems.given import Given, read_file
from longlens.systems.run import run, run_all

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "aero_fulmar.json"
RAW = json.loads(EXAMPLE.read_text(encoding="utf-8"))
SHEET = registry.sheet("aero")


@pytest.fixture(scope="module")
def runs():
    return run_all(SHEET, read_file(EXAMPLE, "aero"))


def with_inputs(known=None, **change):
    inputs = {k: v for k, v in {**RAW["inputs"], **change}.items() if v is not None}
    return run(SHEET, Given(inputs, known=known or {}, scope="Fulmar E4", draws=300))


def test_every_output_names_model_source_and_limits(runs):
    told = runs[""].as_json()
    assert not told["refused"]
    for name, out in told["outputs"].items():
        assert out["model"] and out["source"] and out["limits"], name
    text = " ".join(f["text"] for f in told["findings"])
    for word in (
        "bounds of what such shapes carry",
        "touches the road",
        "stated downforce",
        "of the positions",
        "without",
    ):
        assert word in text, word


def test_axles_and_parts_add_up(runs):
    out = runs[""]
    total = out.number("downforce").draws
    assert out.number("downforce_front").draws + out.number("downforce_rear").draws == pytest.approx(total)
    assert out.number("part_downforce").draws.sum(axis=1) == pytest.approx(total[:, 9])
    assert out.number("part_drag").draws.sum(axis=1) == pytest.approx(out.number("drag").draws[:, 9])


def test_without_springs_that_give_force_grows_with_the_square_of_speed():
    hard = {f"{n}_{e}": {"value": 1e6, "unit": "N/m"} for e in ("front", "rear") for n in ("wheel_rate", "tyre_rate")}
    out = with_inputs(floor=None, **hard)
    force, speed = out.number("downforce").draws, np.asarray(out.axes["speed"])
    assert force[:, 5] / speed[5] ** 2 == pytest.approx(force[:, 2] / speed[2] ** 2, rel=0.04)


def test_a_heave_element_holds_the_car_up(runs):
    base, held = runs[""], runs["with heave element"]
    assert np.all(held.number("front_drop").draws[:, 9] <= base.number("front_drop").draws[:, 9] + 1e-6)


def test_what_stands_behind_the_front_wing_costs_front_downforce(runs):
    base, free = runs[""], runs["nothing but the wheels behind the front wing"]
    assert np.mean(free.number("lift_area_front").draws > base.number("lift_area_front").draws) > 0.95
    names = base.axes["obstacle"]
    k = names.index("crash_structure")
    assert base.number("obstacle_front").at(k).value > 0 and base.number("obstacle_drag").at(k).value > 0


def test_a_core_in_front_of_the_axle_costs_front_downforce():
    """Common practice, no source: cores in front of the axle cost front downforce."""
    more = copy.deepcopy(RAW["inputs"]["obstacles"])
    more["core"] = {"kind": "core", "area": {"value": 900, "sd": 50, "unit": "cm2"}, "of": "front_wing"}
    assert with_inputs(obstacles=more).number("lift_area_front").value < with_inputs().number("lift_area_front").value


def test_takes_rates_and_cooling_drag_from_the_other_sheets():
    rate = stated("wheel rate", Normal(123e3, 1e3), "N/m", draws=300)
    drag = stated("drag area", Normal(0.05, 0.001), "m2", draws=300)
    out = with_inputs(
        {"output:suspension.wheel_rate_front": rate, "output:cooling.drag_area": drag}, wheel_rate_front=None
    )
    assert out.number("wheel_rate_front").value == pytest.approx(123e3)
    assert out.number("cooling_drag_area").value == pytest.approx(0.05)
    named = with_inputs({"output:suspension.x": rate}, wheel_rate_front={"output": "suspension.x"})
    assert named.number("wheel_rate_front").value == pytest.approx(123e3)
    with pytest.raises(UnusableInput, match="no output"):
        with_inputs(wheel_rate_front={"output": "suspension.y"})


def test_elements_from_places():
    wings = copy.deepcopy(RAW["inputs"]["wings"])
    rear = wings["rear_wing"]
    whole = with_inputs(wings={"rear_wing": rear}).number("wing_angle").at(0).value
    x, z = -2.724, 0.85
    places, at = [[x, 0.5, z]], (x, z)
    for e in rear["elements"]:
        c, a = e["chord"]["value"] / 1e3, np.radians(e["angle"]["value"])
        at = (at[0] - c * np.cos(a), at[1] + c * np.sin(a))
        places.append([at[0], 0.5, at[1]])
    edges = [{"value": p, "sd": 0.002, "unit": "m"} for p in places]
    rear = {k: v for k, v in rear.items() if k != "elements"} | {"edges": edges}
    assert with_inputs(wings={"rear_wing": rear}).number("wing_angle").at(0).value == pytest.approx(whole, abs=0.01)


def test_refusals_name_what_is_needed():
    out = with_inputs(frontal={})
    assert "frontal: area (m²)" in out.refused["drag_area"].needs[0]
    assert "wing_use" in out.numbers
    bare = with_inputs(wings={}, floor={}, obstacles={})
    assert "wings" in bare.refused["wing_use"].needs[0]
    assert bare.number("lift_area").value == pytest.approx(-0.06 * 1.21, abs=0.05)  # the body's lift alone


def test_limits_are_told():
    low = copy.deepcopy(RAW["inputs"]["wings"])
    low["front_wing"]["height"] = {"value": 25, "sd": 3, "unit": "mm"}
    assert any(f.severity == "limit" and "chokes" in f.text for f in with_inputs(wings=low).findings)
    steep = copy.deepcopy(RAW["inputs"]["wings"])
    for e in steep["rear_wing"]["elements"]:
        e["angle"]["value"] += 25
    assert any(
        "rear wing is set beyond" in f.text and f.severity == "caution" for f in with_inputs(wings=steep).findings
    )


def test_a_slot_that_does_not_work_is_told():
    wings = copy.deepcopy(RAW["inputs"]["wings"])
    flap = wings["rear_wing"]["elements"][1]
    flap["gap"] = {"value": 8, "sd": 1, "unit": "mm"}
    assert not any("slot before" in f.text for f in with_inputs(wings=wings).findings)
    flap["gap"] = {"value": 35, "sd": 2, "unit": "mm"}
    assert any("slot before element 2 of rear wing" in f.text for f in with_inputs(wings=wings).findings)


@pytest.mark.parametrize(
    ("name", "raw", "told"),
    [
        ("wings", {"Wing!": {}}, "is no name"),
        ("wings", {"w": {"span": {"value": 1, "unit": "m"}}}, "needs"),
        ("wings", [], "must be an object"),
        ("obstacles", {"x": {"kind": "cloud", "area": {"value": 1, "unit": "m2"}}}, "not known"),
        ("obstacles", {"x": {"kind": "box", "area": {"value": 1, "unit": "m2"}, "count": 0}}, "whole number"),
        ("floor", {"length": {"value": 1, "unit": "m"}}, "needs"),
        ("frontal", {"width": {"value": 1.7, "unit": "m"}}, "needs"),
        ("body", "boat", "not known"),
    ],
)
def test_bad_input_says_where_and_what(name, raw, told):
    with pytest.raises(UnusableInput) as e:
        with_inputs(**{name: raw})
    assert told in str(e.value)


def test_what_lies_ahead_takes_from_what_stands_behind(runs):
    """The hoop's wake and the front wing's turning reach the rear wing, the wheels' wakes both pods alike."""
    out = runs[""]
    wings, streams = out.axes["wing"], out.number("wing_stream").draws
    assert np.all(streams[:, wings.index("front_wing")] == 1)
    assert np.median(streams[:, wings.index("rear_wing")]) < 0.97
    alone = with_inputs(bodies=None, upwash_error={"value": 0.051, "unit": "1"})
    k = wings.index("rear_wing")
    less, more = (np.median(o.number("wing_lift_coefficient").draws[:, k]) for o in (out, alone))
    assert less < 0.97 * more
    total = out.number("inlet_recovery").draws
    assert total[:, 0] == pytest.approx(total[:, 1])
    free = with_inputs(bodies=None).number("inlet_recovery").draws
    assert np.median(total[:, 0]) < np.median(free[:, 0])
    reached, ahead = out.axes["reached"], out.axes["lies_ahead"]
    taken = out.number("taken").draws[:, reached.index("left pod")]
    left = np.prod(1 - taken[:, [ahead.index(n) for n in ahead]], axis=1)
    assert left == pytest.approx(out.number("opening_stream").draws[:, 0], abs=1e-3)


def test_a_part_in_a_body_s_bubble_is_told_and_wider(runs):
    told = [f.text for f in runs[""].findings if f.severity == "limit"]
    assert any("left pod and right pod stand less than two widths behind front wheels" in t for t in told)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"inlet": "trumpet"}, "one of facing, nose"),
        ({"outlet": "chimney"}, "one of base, flank"),
        ({"width": {"value": 9, "unit": "m"}}, "what can be"),
        ({"like": "none"}, "no opening"),
    ],
)
def test_an_opening_that_cannot_be_is_refused_with_its_place(change, says):
    raw = copy.deepcopy(RAW["inputs"]["openings"])
    raw["left pod"] = change if "like" in change else {**raw["left pod"], **change}
    with pytest.raises(UnusableInput) as told:
        with_inputs(openings=raw)
    assert says in str(told.value) and "left pod" in str(told.value)


def test_a_body_that_cannot_be_is_refused(runs):
    raw = copy.deepcopy(RAW["inputs"]["bodies"])
    raw["roll_hoop"]["kind"] = "ghost"
    with pytest.raises(UnusableInput, match="not known"):
        with_inputs(bodies=raw)
    raw["roll_hoop"]["kind"], raw["roll_hoop"]["both_sides"] = "smooth", "yes"
    with pytest.raises(UnusableInput, match="true or false"):
        with_inputs(bodies=raw)
