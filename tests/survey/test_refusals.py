"""What cannot be answered is said in the user's words, with what would make it so; the rest is given."""

from __future__ import annotations

import numpy as np
import pytest
from tools.studies.simulated_cars import simulate

from longlens.errors import NotSolvable

from .cars import answer, inside, small


def refused(document: dict) -> NotSolvable:
    with pytest.raises(NotSolvable) as caught:
        answer(document)
    assert caught.value.what and caught.value.needs
    for need in caught.value.needs:  # plain words: none of the trade's inside
        assert not any(w in need.lower() for w in ("singular", "matrix", "rank", "jacobian", "null", "eigen", "datum"))
    return caught.value


def test_no_photograph():
    assert "photograph" in refused({"format": "longlens-exchange", "version": 1, "vehicle": {"name": "x"}}).needs[0]


def test_no_marks():
    doc = small(3).document
    doc["marks"] = []
    assert "marks" in refused(doc).needs[0]


def test_only_inferred_marks():
    doc = small(3).document
    for m in doc["marks"]:
        m["inferred"] = True
    assert "marks" in refused(doc).needs[0]


def test_one_shot_with_two_marks():
    doc = small(3, shots=1).document
    doc["marks"] = [m for m in doc["marks"] if "point" in m][:2]
    assert any("s1" in n for n in refused(doc).needs)


@pytest.mark.parametrize("seed", [1053, 1057])
def test_a_camera_that_sinks_into_the_ground_is_no_answer(seed: int) -> None:
    """Points of the ground then fit any mark, having run into the lens: heights were once given 79 standard deviations off."""
    case = simulate(seed, shots=1)
    got = answer(case.document)
    assert any("sinks into it" in w for w in got["warnings"])
    assert not {"front height", "rear height"} & set(got["measures"])
    assert all(inside(got, case.measures))


def test_two_shots_that_share_nothing():
    doc = small(3, shots=2, circles=False, facts=("wheelbase",)).document
    doc["points"] = [{"id": f"{s}.{p['id']}"} for s in ("s1", "s2") for p in doc["points"]]
    for m in doc["marks"]:
        m["point"] = f"{m['shot']}.{m['point']}"
    doc["facts"][0]["distance"] = [f"s1.{p}" for p in doc["facts"][0]["distance"]]
    doc["measures"] = [{"id": "d", "distance": ["s1.left.front.rod.inner", "s1.left.front.rod.outer"]}]
    refused(doc)


def test_no_length_gives_shape_alone():
    case = small(4, shots=4)
    case.document["facts"] = []
    got = answer(case.document)
    assert got["measures"] and {m["unit"] for m in got["measures"].values()} <= {"rad", "1"}
    assert got["refused"]["front rod"]["needs"] == ["one known length"]
    assert any("no known length" in w for w in got["warnings"])


def test_lengths_alone_without_a_known_one():
    doc = small(4, shots=4).document
    doc["facts"] = []
    doc["measures"] = [q for q in doc["measures"] if "distance" in q]
    assert "one known length" in refused(doc).needs


def test_a_weak_shot_is_left_out_and_named_and_the_others_go_on():
    case = small(4, shots=4)
    keep = [m for m in case.document["marks"] if m["shot"] == "s4" and "point" in m][:2]
    case.document["marks"] = [m for m in case.document["marks"] if m["shot"] != "s4"] + keep
    got = answer(case.document)
    assert set(got["shots"]) == {"s1", "s2", "s3"}
    assert any("s4" in w and "two more marks" in w for w in got["warnings"])
    assert sum(inside(got, case.measures)) >= 0.7 * len(got["measures"])


def test_a_measure_of_a_point_marked_once_is_refused_by_name():
    case = small(3)
    doc = case.document
    first = next(m for m in doc["marks"] if m.get("point", "").startswith("left.front.rod.inner"))
    ends = ("left.front.rod.inner", "right.front.rod.inner")
    doc["marks"] = [m for m in doc["marks"] if m.get("point") not in ends] + [first]
    got = answer(doc)
    reason = got["refused"]["front rod"]
    assert "front.rod.inner" in reason["reason"] and "another photograph" in reason["needs"][0]
    assert "ratio" in got["refused"] and "rear rod" in got["measures"]


def test_a_height_without_ground_is_refused_and_lengths_are_not():
    case = small(0, shots=4, ground=False, seen=0.95)
    case.document["measures"].append({"id": "h", "height": "left.front.upper.outer"})
    got = answer(case.document)
    assert "ground" in got["refused"]["h"]["needs"][0]
    assert got["measures"]


def test_a_circle_of_unknown_size_seen_once_has_no_diameter():
    case = small(0, shots=4, facts=("wheelbase",))
    doc = case.document
    seen = [m for m in doc["marks"] if "circle" in m]
    assert seen
    one = seen[0]["circle"]
    doc["circles"].append({"id": "disc"})
    doc["marks"].append({"shot": seen[0]["shot"], "circle": "disc", "edge": seen[0]["edge"], "sd_px": 2.0})
    doc["measures"].append({"id": "disc", "diameter": "disc"})
    got = answer(doc)
    assert one and "disc" in got["refused"]["disc"]["reason"] and got["refused"]["disc"]["needs"]


def test_marks_that_mean_nothing_do_not_give_a_car():
    doc = small(3).document
    rng = np.random.default_rng(0)
    for m in doc["marks"]:
        if "point" in m:
            m["x"], m["y"] = (float(v) for v in rng.uniform(0, [6000, 4000]))
    words = said(doc)
    assert (
        "worse than their stated errors" in words or "scatter" in words or "contradict" in words or "no start" in words
    )


def said(document: dict) -> str:
    """Everything that is said, whether it is solved or not."""
    try:
        return " ".join(answer(document)["warnings"])
    except NotSolvable as e:
        return f"{e.what} {e.needs}"
