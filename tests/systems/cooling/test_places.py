"""Lines and faces from a survey's points: closed forms, joint draws, trails, and what strangers may get wrong."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.errors import UnusableInput
from longlens.numbers.number import joint
from longlens.systems import registry
from longlens.systems.cooling.drawing import drawing_of
from longlens.systems.cooling.places import Face, face_measures, line_length, mirrored, read_face, read_line
from longlens.systems.cooling.variants import name_of, side_by_side
from longlens.systems.given import Given, Reading
from longlens.systems.run import run_all

N = 200
DATA = Path(__file__).parents[3] / "src" / "longlens" / "demo" / "data"


def known(**places):
    rng = np.random.default_rng(7)
    shift = rng.normal(0.0, 0.01, (N, 1, 3))  # all places move together: what is joint must cancel
    out = {}
    for name, place in places.items():
        draws = np.asarray(place, float) + shift[:, 0]
        one = joint({name: draws}, "m", records={name: f"point:{name}"}, draws=N)
        out[f"point:{name}"] = one[name]
    return out


def reading(**places):
    return Reading("file", "cores", N, known=known(**places))


def arc(angle, radius, count):
    turn = np.linspace(0.0, angle, count)
    return np.stack([radius * np.sin(turn), radius * np.cos(turn), np.zeros(count)], axis=-1)


@given(st.floats(0.05, 2.0), st.floats(0.05, 3.0), st.integers(5, 12))
def test_an_arc_through_few_points_is_long_as_the_arc(angle, radius, count):
    found = line_length(arc(angle, radius, count))
    assert found == pytest.approx(angle * radius, rel=1.2e-3)
    chords = np.sum(np.linalg.norm(np.diff(arc(angle, radius, count), axis=0), axis=-1))
    assert found >= chords * (1.0 - 1e-12)


def test_sharp_corners_are_not_rounded():
    assert line_length(np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0]])) == pytest.approx(2.0)


@given(st.floats(0.0, 1.2), st.floats(0.1, 1.0), st.floats(0.1, 0.6))
@settings(max_examples=40)
def test_a_cylinders_face_has_its_developed_area_and_its_frontal_one(half, width, height):
    """A part of a cylinder standing upright: developed width × height; seen along x the chord × height."""
    if half < 0.02:
        radius, edge = np.inf, np.stack([np.zeros(9), np.linspace(-0.5, 0.5, 9) * width, np.zeros(9)], axis=-1)
        chord = width
    else:
        radius = width / (2.0 * half)
        turn = np.linspace(-half, half, 9)
        edge = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.zeros(9)], axis=-1)
        chord = 2.0 * radius * np.sin(half)
    found = face_measures(Face(edge[None], np.array([[0.0, 0.0, height]])))
    assert found["face_area"][0] == pytest.approx(width * height, rel=1e-3)
    assert found["tube_length"][0] == pytest.approx(width, rel=1e-3)
    assert found["frontal_area"][0] == pytest.approx(chord * height, rel=1e-9)


def test_a_face_from_points_keeps_what_is_joint_and_its_trail():
    r = reading(a=(0, 0, 0), b=(0, 0.5, 0), c=(0, 0, -0.3))
    face, measures = read_face({"edge": ["a", {"point": "b"}], "side": ["a", "c"]}, r, "left.face")
    assert measures["face_area"] == pytest.approx(0.15, abs=1e-12)  # the common shift is gone
    assert face.outline.shape == (N, 4, 3)
    number = r.numbers["cores.left.face_area"]
    assert number.kind == "computed" and set(number.origin.records()) == {"point:a", "point:b", "point:c"}


def test_a_face_without_its_points_is_left_to_the_figures_under_otherwise():
    face, measures = read_face(
        {"edge": ["a", "b"], "side": ["a", "c"], "otherwise": {"face_area": 1}}, reading(a=(0, 0, 0)), "left.face"
    )
    assert face is None and measures == {}


def test_mirror_turns_y_round_and_offsets_follow():
    line = read_line(
        [{"point": "a", "mirror": True, "offset": [0.1, 0.2, 0.3]}, [5, 5, 5]], reading(a=(1, 2, 3)), "x.path"
    )
    r = reading(a=(1, 2, 3))
    plain = r.known["point:a"].draws
    assert line[:, 0] == pytest.approx(plain * [1, -1, 1] + [0.1, 0.2, 0.3])
    face = Face(np.ones((N, 2, 3)), np.ones((N, 3)))
    assert mirrored(mirrored(face)).edge == pytest.approx(face.edge)


def test_optional_places_are_left_out_and_otherwise_is_taken():
    r = reading(a=(0, 0, 0))
    line = read_line(
        [
            {"point": "a"},
            {"point": "gone", "optional": True},
            {"point": "gone", "otherwise": {"point": "a", "offset": [1, 0, 0]}},
        ],
        r,
        "x.path",
    )
    assert line.shape == (N, 2, 3)
    assert line[:, 1] - line[:, 0] == pytest.approx(np.tile([1.0, 0, 0], (N, 1)))


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        ([], "list of places"),
        ([{"point": "gone"}, [0, 0, 0]], "gone"),
        ([[0, 0, 0], [0, 0, 100]], "over 40 m"),
        ([[0, 0, 0], [1, 0]], "shape"),
        ([{"point": "a", "optional": True}, {"point": "gone", "optional": True}], "fewer than two"),
        ([{"point": "a", "mirror": 3}, [0, 0, 0]], "true or false"),
        ([{"point": "a", "offset": {"value": [1, 1, 1], "unit": "kg"}}, [0, 0, 0]], "unit"),
        ("a", "list of places"),
    ],
)
def test_bad_places_are_told_with_their_place(raw, told):
    with pytest.raises(UnusableInput) as error:
        read_line(raw, reading(a=(0, 0, 0)), "feed.path")
    assert told in str(error.value) and "feed.path" in str(error.value)


def test_otherwise_within_otherwise_comes_to_an_end():
    item = {"point": "gone"}
    for _ in range(20):
        item = {"point": "gone", "otherwise": item}
    with pytest.raises(UnusableInput, match="too often"):
        read_line([item, [0, 0, 0]], reading(), "feed.path")


# The demo's cars: their cooling inputs on their true points, 2 mm of noise -------------------------------------


def on_truth(car, stage):
    truth = json.loads((DATA / f"{car}_{stage}.truth.json").read_text())
    marked = json.loads((DATA / f"{car}_{stage}.exchange.json").read_text())
    seen = {mark.get("point") for mark in marked["marks"]}
    rng = np.random.default_rng(3)
    places = {p: v["xyz_m"] for p, v in _points(truth).items() if p in seen}
    table = {}
    for name, place in places.items():
        draws = np.asarray(place) + rng.normal(0.0, 0.002, (N, 3)) + [-1234.5, 0, 0]  # the frame is free along x
        table |= {f"point:{name}": joint({name: draws}, "m", records={name: f"point:{name}"}, draws=N)[name]}
    raw = json.loads((DATA / f"{car}.cooling.sheets.json").read_text())["cooling"]
    return truth, Given(raw["inputs"], raw["variants"], table, car, "the demo", N)


def _points(truth):
    points = truth["points"]
    return points if isinstance(points, dict) else {p["id"]: p for p in points}


@pytest.fixture(scope="module")
def fulmar():
    truth, given_ = on_truth("fulmar", "shown")
    return truth, run_all(registry.sheet("cooling"), given_)


def test_the_fulmar_answers_with_all_its_schemes(fulmar):
    truth, outcomes = fulmar
    assert [name_of(o) for o in outcomes.values()] == [
        "parallel",
        "series, left first",
        "series, right first",
        "two loops",
    ]
    area = outcomes[""].leaves["cores.left.face_area"]
    true = truth["parts"]["cores"]["left.cooler"]["area_m2"]
    assert area.low < true < area.high and area.high - area.low < 0.05 * true
    pipe = outcomes[""].leaves["circuits.return left.length"]
    assert pipe.value == pytest.approx(truth["parts"]["pipes"]["left.return_pipe"]["length_m"], rel=0.03)
    sides = side_by_side(outcomes)
    assert sum(side.best for side in sides) == pytest.approx(1.0)
    assert any(r.startswith("point:left.cooler") for r in outcomes[""].number("worst_margin").origin.records())


def test_every_scheme_is_drawn_where_it_lies_and_flows_come_from_its_solution(fulmar):
    _, outcomes = fulmar
    for outcome in outcomes.values():
        drawing = drawing_of(outcome)
        solution = outcome.inner["solved"].solution
        assert {run.name for run in drawing.runs} == set(solution.flow)
        for run in drawing.runs:
            assert run.flow.median == pytest.approx(
                float(np.median(np.abs(solution.flow[run.name][:, drawing.case]))), rel=1e-6
            )
            assert np.all(np.isfinite(run.points)) and run.points.shape[1] == 3
        assert drawing.lowest < drawing.highest < 400.0
        left = next(run for run in drawing.runs if run.name == "left")
        # it runs from the hot connector (behind, high) to the cool one (in front, low)
        assert left.points[0][0] < left.points[-1][0] and left.points[0][2] > left.points[-1][2]


def test_series_is_hotter_in_the_second_core(fulmar):
    _, outcomes = fulmar
    runs = {run.name: run for run in drawing_of(outcomes["series, left first"]).runs}
    assert runs["left"].inlet.median > runs["right"].inlet.median
    assert runs["cross to right"].inlet.median == pytest.approx(runs["left"].outlet.median, abs=0.05)


def test_readings_rest_on_the_points_and_measures_named(fulmar):
    _, outcomes = fulmar
    items = outcomes[""].inner["evidence"]
    passes = [item for item in items if item.question == "passes"]
    assert passes and all("point:left.cooler.collector_end.head" in item.rests_on for item in passes)
    plumbing = [item for item in items if item.question == "plumbing"]
    assert {item.favours for item in plumbing} >= {"parallel", "two loops"}
    json.dumps([item.as_json() for item in items])


def test_the_gannet_cools_its_charge_air():
    _, given_ = on_truth("gannet", "shown")
    outcome = run_all(registry.sheet("cooling"), given_)[""]
    charge = outcome.number("charge_out").draws
    hot = outcome.inner["solved"].network.gas_cores[0].gas_inlet
    ambient = outcome.inner["conditions"].air.temperature
    assert np.all(charge[:, 0] < hot) and np.all(charge[:, 0] > ambient)
    drawing = drawing_of(outcome)
    assert {"left charge", "right charge", "radiator"} <= {run.name for run in drawing.runs}


@pytest.mark.parametrize(("car", "stage"), [("fulmar", "test"), ("gannet", "test")])
def test_the_earlier_stages_answer_too(car, stage):
    _, given_ = on_truth(car, stage)
    outcome = run_all(registry.sheet("cooling"), Given(given_.inputs, {}, given_.known, car, "the demo", N))[""]
    assert "worst_margin" in outcome.numbers and drawing_of(outcome) is not None
