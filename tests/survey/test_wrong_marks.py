"""Wrong marks and wrong facts are found, named with their test value, and their effect is told."""

from __future__ import annotations

import copy

import numpy as np
import pytest
from tools.studies.coverage import plant

from .cars import answer, inside, small


def named(got: dict) -> set[tuple[str, str]]:
    return {(s["shot"], s.get("point", s.get("circle"))) for s in got["suspect_marks"]}


@pytest.mark.parametrize(("kind", "seed"), [("slip", 40), ("swap", 41), ("other", 42)])
def test_a_planted_wrong_mark_is_named_and_the_measures_hold(kind, seed):
    case = small(seed, shots=5, seen=0.9)
    planted = plant(case, kind, np.random.default_rng(seed))
    got = answer(case.document)
    assert set(planted) <= named(got)
    worst = got["suspect_marks"][0]
    assert worst["test"] > 3.5 and {"shot", "x", "y", "test"} <= set(worst)
    assert any(w.startswith("setting") for w in got["warnings"])
    assert np.mean(inside(got, case.measures)) >= 0.7
    if kind == "swap":
        assert any("swapped" in w for w in got["warnings"])


def test_what_a_wrong_mark_did_to_a_measure_is_said():
    case = small(43, shots=5, seen=0.95)
    mark = next(m for m in case.document["marks"] if m.get("point") == "left.front.rod.inner")
    clean = answer(case.document)["measures"]["front rod"]
    mark["x"] += 60
    got = answer(case.document)
    assert (mark["shot"], mark["point"]) in named(got)
    effect = next(w for w in got["warnings"] if w.startswith("setting"))
    assert " moved: " in effect and " from " in effect and " to " in effect
    assert got["measures"]["front rod"]["value"] == pytest.approx(clean["value"], abs=2 * clean["sd"])


def test_one_wrong_point_on_a_rim_is_named_by_its_circle():
    case = small(0, shots=4)
    mark = next(m for m in case.document["marks"] if "circle" in m)
    mark["edge"][2] = [mark["edge"][2][0] + 40, mark["edge"][2][1] + 40]
    assert (mark["shot"], mark["circle"]) in named(answer(case.document))


@pytest.mark.parametrize("by", [1.05, 0.97])
def test_a_fact_that_contradicts_the_pictures_is_named(by):
    case = small(9, shots=4)
    ends = ["left.front.wheel_centre", "right.front.wheel_centre"]
    case.document["facts"].append(
        {
            "id": "misprint",
            "value": case.measures["front track"] * by,
            "sd": 0.002,
            "unit": "m",
            "source": "",
            "distance": ends,
        }
    )
    got = answer(case.document)
    assert [f["fact"] for f in got["suspect_facts"]] == ["misprint"]
    assert any("misprint" in w and "contradicts" in w for w in got["warnings"])
    assert np.mean(inside(got, case.measures)) >= 0.7


def test_two_facts_that_contradict_each_other_are_not_both_believed():
    """Nothing but each other: one cannot tell which, but it must be said."""
    case = small(9, shots=4, circles=False, facts=("wheelbase",))
    fact = copy.deepcopy(case.document["facts"][0]) | {"id": "other", "value": case.document["facts"][0]["value"] * 1.1}
    case.document["facts"].append(fact)
    got = answer(case.document)
    assert got["suspect_facts"] or got["sigma0"] > 1.5


def test_inferred_marks_are_drawn_not_fitted():
    case = small(8)
    plain = answer(case.document)
    mark = copy.deepcopy(next(m for m in case.document["marks"] if "point" in m)) | {"inferred": True}
    mark["x"] += 500
    case.document["marks"].append(mark)
    got = answer(case.document)
    assert got["measures"] == plain["measures"] and got["suspect_marks"] == plain["suspect_marks"]


def test_marks_twice_as_rough_as_stated_widen_every_interval():
    case = small(11, shots=5, seen=0.95)
    rng = np.random.default_rng(0)
    plain = answer(case.document)
    for m in case.document["marks"]:
        if "point" in m:
            m["x"] += float(rng.normal(0, 1.2 * m["sd_px"]))
            m["y"] += float(rng.normal(0, 1.2 * m["sd_px"]))
    got = answer(case.document)
    assert got["sigma0"] > 1.25
    assert any("widened" in w for w in got["warnings"])
    both = [k for k in got["measures"] if k in plain["measures"]]
    assert np.mean([np.log(got["measures"][k]["sd"] / plain["measures"][k]["sd"]) for k in both]) > np.log(1.2)
