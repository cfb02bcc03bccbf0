"""The sheet on its example file: runs, answers, findings; and what strangers' files may get wrong."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from longlens.errors import UnusableInput
from longlens.numbers import joint
from longlens.systems import registry
from longlens.systems.given import Given, read_file
from longlens.systems.run import Outcome, run
from longlens.systems.suspension.kinematics import solve
from longlens.systems.suspension.ratios import spring_per_wheel
from longlens.systems.suspension.velocity import twists
from tests.systems.suspension.cars import ROCKER, WISHBONES, corner

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "suspension_fulmar.json"
SHEET = registry.sheet("suspension")


def given(change: Any = None, draws: int = 200) -> Given:
    g = read_file(EXAMPLE, "suspension")
    inputs = copy.deepcopy(dict(g.inputs))
    if change is not None:
        change(inputs)
    return Given(inputs, {}, scope=g.scope, where=g.where, draws=draws)


@pytest.fixture(scope="module")
def fulmar() -> Outcome:
    return run(SHEET, given())


def texts(o: Outcome) -> str:
    return " | ".join(f.text for f in o.findings)


def test_what_is_marked_is_given_and_the_rest_refused_with_its_need(fulmar: Outcome) -> None:
    for name in (
        "rocker_per_wheel_front",
        "spring_per_wheel_rear",
        "wheel_rate_front",
        "roll_share_front",
        "rod_use_front",
    ):
        assert np.isfinite(fulmar.number(name).draws).any()
    assert "no spring is marked" in fulmar.refused["spring_per_wheel_front"].why
    assert fulmar.refused["spring_per_wheel_front"].needs
    assert "diameter" in fulmar.refused["rod_use_rear"].why
    json.dumps(fulmar.as_json(), allow_nan=False)


def test_the_sheet_agrees_with_the_plain_functions() -> None:
    """Without spread the sheet's middle is the physics of the one car."""
    points = {f"left.front.{k}": {"value": list(p), "unit": "m"} for k, p in (WISHBONES | ROCKER).items()}
    inputs = {
        "hardpoints": points,
        "camber_front": {"value": -1.5, "unit": "deg"},
        "toe_front": {"value": 0.1, "unit": "deg"},
        "radius_front": {"value": 290, "unit": "mm"},
    }
    o = run(SHEET, Given(inputs, draws=100))
    ratio = spring_per_wheel(twists(solve(corner(rocker=True)))[0])
    assert o.number("spring_per_wheel_front").value == pytest.approx(float(ratio), rel=1e-12)
    assert o.number("wheel_per_spring_front").value == pytest.approx(1 / float(ratio), rel=1e-12)


def test_sentences_are_computed(fulmar: Outcome) -> None:
    said = texts(fulmar)
    assert f"the spring moves {fulmar.number('spring_per_wheel_rear')} times as far as the wheel" in said
    assert "common practice" in said
    assert "the interval comes mostly from" in said
    assert "a pushrod" in said
    assert "sets the limit" in said
    assert "double wishbone: consistent with every mark" in said


def test_a_longer_lever_moves_the_spring_farther() -> None:
    def longer(inputs: dict[str, Any]) -> None:
        h = inputs["hardpoints"]
        pivot = np.array(h["left.rear.rocker.pivot"]["value"])
        p = np.array(h["left.rear.spring.outer"]["value"])
        h["left.rear.spring.outer"]["value"] = list(pivot + 1.5 * (p - pivot))

    before, after = run(SHEET, given()), run(SHEET, given(longer))
    name = "spring_per_wheel_rear"
    assert after.number(name).value > 1.2 * before.number(name).value


def test_downforce_lowers_and_tyres_take_their_part(fulmar: Outcome) -> None:
    drop, moved = fulmar.number("downforce_drop_front"), fulmar.number("downforce_travel_front")
    assert drop.value > moved.value > 0
    k = fulmar.number("wheel_rate_front").value
    assert moved.value == pytest.approx(900 / k, rel=0.15)


def test_a_right_corner_stands_in_for_the_left_one() -> None:
    def to_the_right(inputs: dict[str, Any]) -> None:
        h = inputs["hardpoints"]
        for name in [n for n in h if n.startswith("left.rear")]:
            figure = h.pop(name)
            figure["value"][1] *= -1
            h[name.replace("left", "right")] = figure

    a, b = run(SHEET, given()), run(SHEET, given(to_the_right))
    for name in ("spring_per_wheel_rear", "camber_gain_rear", "roll_centre_rear"):
        assert b.number(name).value == pytest.approx(a.number(name).value, rel=0.05)


def test_the_surveys_points_are_taken_by_their_names() -> None:
    rng = np.random.default_rng(1)
    points = {f"left.front.{k}": np.array(p) + rng.normal(0, 0.001, (200, 3)) for k, p in (WISHBONES | ROCKER).items()}
    points["left.front.brake_duct.inlet"] = np.zeros((200, 3))  # a point of something else
    made = joint(points, "m", draws=200)
    o = run(SHEET, Given({}, known={f"point:{k}": n for k, n in made.items()}, draws=200))
    assert o.number("spring_per_wheel_front").sd > 0
    assert "hardpoints.left.front.rocker.pivot" in o.leaves


def test_unequal_rods_left_and_right_are_told() -> None:
    def stretched(inputs: dict[str, Any]) -> None:
        h = inputs["hardpoints"]
        for name in [n for n in h if n.startswith("left.front")]:
            figure = copy.deepcopy(h[name])
            figure["value"][1] *= -1
            h[name.replace("left", "right")] = figure
        h["right.front.track_rod.outer"]["value"][1] -= 25.0

    assert "track_rod.inner to track_rod.outer is" in texts(run(SHEET, given(stretched)))


def test_no_points_no_answers_but_what_is_needed() -> None:
    o = run(SHEET, Given({}, draws=100))
    assert not o.numbers
    assert any("wheel.centre" in n for n in o.refused["camber_gain_front"].needs)


def test_beyond_reach_is_told_with_the_points() -> None:
    o = run(SHEET, given(lambda i: i.update(bump={"value": 200, "unit": "mm"})))
    told = [f.text for f in o.findings if f.severity == "limit"]
    assert any("cannot meet" in t or "linkage ends" in t for t in told)
    assert any("pushrod.outer" in t or "wheel.centre" in t for t in told)


# What strangers' files may get wrong -----------------------------------------------------------------------


def refused(change: Any) -> str:
    with pytest.raises(UnusableInput) as e:
        run(SHEET, given(change))
    return str(e.value)


def test_millimetres_as_metres() -> None:
    def change(i: dict[str, Any]) -> None:
        for f in i["hardpoints"].values():
            f["unit"] = "m"

    said = refused(change)
    assert "millimetres given as metres" in said and '"mm"' in said and said.count("left.front") == 2


def test_metres_as_millimetres() -> None:
    def change(i: dict[str, Any]) -> None:
        for f in i["hardpoints"].values():
            f["value"] = [x / 1000 for x in f["value"]]
            f["sd"] /= 1000

    said = refused(change)
    assert "metres given as millimetres" in said and '"m"' in said


def test_left_and_right_swapped() -> None:
    def change(i: dict[str, Any]) -> None:
        for n, f in i["hardpoints"].items():
            if n.startswith("left.front"):
                f["value"][1] *= -1

    said = refused(change)
    assert "left.front" in said and "right.front" in said and "swapped" in said and "swap left and right" in said


def test_inner_and_outer_swapped() -> None:
    def change(i: dict[str, Any]) -> None:
        h = i["hardpoints"]
        h["left.front.track_rod.inner"], h["left.front.track_rod.outer"] = (
            h["left.front.track_rod.outer"], h["left.front.track_rod.inner"],
        )  # fmt: skip

    said = refused(change)
    assert "left.front.track_rod.outer lies inboard of left.front.track_rod.inner" in said


def test_coincident_points() -> None:
    def change(i: dict[str, Any]) -> None:
        h = i["hardpoints"]
        h["left.front.pushrod.inner"]["value"] = list(h["left.front.rocker.pivot"]["value"])

    said = refused(change)
    assert "left.front.rocker.pivot and left.front.pushrod.inner coincide" in said


def test_rods_that_cannot_meet() -> None:
    def change(i: dict[str, Any]) -> None:
        i["hardpoints"]["lengths"] = {"left.front.pushrod": {"value": 400, "sd": 1, "unit": "mm"}}

    said = refused(change)
    assert "cannot meet" in said and "pushrod.inner and pushrod.outer" in said and "correct the length" in said


def test_a_stated_length_narrows_what_hangs_on_it() -> None:
    def change(i: dict[str, Any]) -> None:
        h = i["hardpoints"]
        d = np.linalg.norm(
            np.subtract(h["left.front.track_rod.inner"]["value"], h["left.front.track_rod.outer"]["value"])
        )
        h["lengths"] = {"left.front.track_rod": {"value": float(d), "sd": 0.2, "unit": "mm"}}

    o = run(SHEET, given(change, draws=1000))
    c = o.inner["corner_front"]
    length = np.linalg.norm(c.points["track_rod.inner"] - c.points["track_rod.outer"], axis=-1)
    assert np.std(length) < 0.3e-3


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("left.front.upper_wishbone.outter", "did you mean upper_wishbone.outer"),
        ("front.upper_wishbone.outer", "which corner"),
        ("left.front.sausage", "no hardpoint is called"),
    ],
)
def test_a_name_that_no_part_has(name: str, said: str) -> None:
    assert said in refused(lambda i: i["hardpoints"].update({name: {"value": [0, 0, 0], "sd": 1, "unit": "mm"}}))


@pytest.mark.parametrize(
    "change",
    [
        lambda i: i.update(hardpoints=[1, 2]),
        lambda i: i.update(hardpoints={"left.front.wheel.centre": {"value": [1, 2], "unit": "m"}}),
        lambda i: i.update(springs={"middle": {}}),
        lambda i: i.update(springs={"front": {"spring": {"value": 1e12, "unit": "N/m"}}}),
        lambda i: i.update(rods={"front.pushrod": {"outside": {"value": 18, "unit": "mm"}, "material": "cheese"}}),
        lambda i: i.update(cases=[]),
        lambda i: i.update(cases=[{"name": "x", "braking": -2}]),
        lambda i: i.update(layout_front="swing"),
        lambda i: i["hardpoints"].update(lengths={"left.front.sausage": {"value": 1, "unit": "m"}}),
    ],
)
def test_other_faults_are_refused_with_a_place(change: Any) -> None:
    assert "suspension_fulmar.json" in refused(change)


def test_a_beam_axle_behind() -> None:
    from tests.systems.suspension.test_beam import axle

    def change(i: dict[str, Any]) -> None:
        h = i["hardpoints"]
        for name in [n for n in h if n.startswith("left.rear")]:
            h.pop(name)
        for name, p in axle().points.items():
            side, _, rest = name.partition(".")
            if side != "right":
                full = f"left.rear.{rest}" if side == "left" else f"rear.{name}"
                place = [(p[0] - 2.5) * 1e3, p[1] * 1e3, p[2] * 1e3]
                h[full] = {"value": place, "sd": 2, "unit": "mm"}

    o = run(SHEET, given(change))
    assert o.number("roll_centre_rear").value == pytest.approx(0.34, abs=0.03)
    assert o.number("spring_per_wheel_rear").value > 0.8
    # springs inboard of the wheels: less roll stiffness than k t²/2 of the wheel rate
    track = 1.5
    assert o.number("spring_roll_rear").value < 0.7 * 0.5 * o.number("wheel_rate_rear").value * track**2
    assert np.isfinite(o.number("rod_force_rear").draws).all()
    assert "no steering axis" in o.refused["caster_rear"].why


def test_other_stances_narrow_the_answer() -> None:
    rng = np.random.default_rng(3)
    still, high = solve(corner()), solve(corner(), 0.03)

    def seen(m: Any, k: str) -> np.ndarray:
        return m.point(k) + rng.normal(0, 0.002, (400, 3))

    points = {f"left.front.{k}": seen(still, k) for k in WISHBONES}
    alone = run(SHEET, Given({}, known={f"point:{k}": n for k, n in joint(points, "m", draws=400).items()}, draws=400))
    again = ("upper_wishbone.outer", "lower_wishbone.outer", "track_rod.outer", "wheel.centre")
    points |= {f"left.front.{k}@bump": seen(high, k) for k in again}
    both = run(SHEET, Given({}, known={f"point:{k}": n for k, n in joint(points, "m", draws=400).items()}, draws=400))
    name = "camber_gain_front"
    assert both.number(name).sd < 0.9 * alone.number(name).sd
    assert "solving 2 stances together" in texts(both)


def test_a_spring_that_gets_longer_in_bump_is_called_out() -> None:
    def other_side(i: dict[str, Any]) -> None:
        h = i["hardpoints"]
        pivot = np.array(h["left.rear.rocker.pivot"]["value"])
        h["left.rear.spring.inner"]["value"] = list(2 * pivot - np.array(h["left.rear.spring.inner"]["value"]))

    assert "the spring gets longer when the wheel rises" in texts(run(SHEET, given(other_side)))


def test_a_damper_apart_moves_as_its_ends_say() -> None:
    def beside(i: dict[str, Any]) -> None:
        h = i["hardpoints"]
        for k in ("outer", "inner"):
            h[f"left.rear.damper.{k}"] = copy.deepcopy(h[f"left.rear.spring.{k}"]) | {"sd": 0}
            h[f"left.rear.spring.{k}"]["sd"] = 0

    o = run(SHEET, given(beside))
    np.testing.assert_allclose(o.number("damper_per_wheel_rear").draws, o.number("spring_per_wheel_rear").draws)
    assert "damper.outer" in o.refused["damper_per_wheel_front"].needs[0]


def test_the_rims_middle_serves_where_the_wheel_centre_is_hidden() -> None:
    from longlens.systems.suspension.corner import spin_axis

    def hidden(i: dict[str, Any]) -> None:
        h = i["hardpoints"]
        spin = spin_axis(np.radians(-2.0), 0.0)  # (the points' errors are drawn anew under another name)
        for end in ("front", "rear"):
            i[f"camber_{end}"], i[f"toe_{end}"] = {"value": -2, "unit": "deg"}, {"value": 0, "unit": "deg"}
            i[f"rim_offset_{end}"] = {"value": 112, "unit": "mm"}
            figure = h.pop(f"left.{end}.wheel.centre")
            figure["value"] = [a + 112 * s for a, s in zip(figure["value"], spin, strict=True)]
            h[f"left.{end}.rim_centre"] = figure

    def same(i: dict[str, Any]) -> None:
        for end in ("front", "rear"):
            i[f"camber_{end}"], i[f"toe_{end}"] = {"value": -2, "unit": "deg"}, {"value": 0, "unit": "deg"}

    a, b = run(SHEET, given(same)), run(SHEET, given(hidden))
    for name in ("spring_per_wheel_rear", "camber_gain_front", "roll_centre_front"):
        assert b.number(name).value == pytest.approx(a.number(name).value, rel=0.03)


def test_a_hidden_joint_is_assumed_widely_and_told() -> None:
    def hidden(i: dict[str, Any]) -> None:
        i["hardpoints"].pop("left.rear.lower_wishbone.outer")

    seen, guessed = run(SHEET, given()), run(SHEET, given(hidden))
    name = "camber_gain_rear"
    assert guessed.number(name).sd > 2 * seen.number(name).sd
    low, high = np.percentile(guessed.number(name).draws, [1, 99])
    assert low < seen.number(name).value < high
    assert "assumed where such joints sit: lower wishbone outer" in texts(guessed)
    assert any("lower_wishbone.outer" in k for k in guessed.leaves)

    def too_much(i: dict[str, Any]) -> None:
        for p in ("lower_wishbone.outer", "upper_wishbone.outer", "track_rod.outer"):
            i["hardpoints"].pop(f"left.front.{p}")

    assert "lacks 3 of its points" in run(SHEET, given(too_much)).refused["camber_gain_front"].why
