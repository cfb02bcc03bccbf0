"""What must not matter does not matter: frame, side, unit, order, and what else is asked."""

from __future__ import annotations

import copy

import numpy as np
import pytest

from longlens.survey.camera import rotation

from .cars import answer, small, twin, without_frame


@pytest.fixture(scope="module")
def plain():
    case = small(3)
    return case, answer(case.document)


def same(a: dict, b: dict, power: float = 0.0, scale: float = 1.0) -> None:
    """The same measures: values to the adjustment's precision, or the scatter of a median of draws; widths to theirs."""
    assert set(a["measures"]) == set(b["measures"])
    assert a["draws"]["method"] == b["draws"]["method"]
    near = 0.03 if a["draws"]["method"] == "gaussian" else 0.2
    for k, m in a["measures"].items():
        s = scale**power if m["unit"] == "m" else 1.0
        assert b["measures"][k]["value"] == pytest.approx(s * m["value"], abs=near * s * m["sd"]), k
        assert b["measures"][k]["sd"] == pytest.approx(s * m["sd"], rel=0.12), k


def test_order_of_everything_does_not_matter(plain):
    case, a = plain
    turned = copy.deepcopy(case.document)
    for key in ("marks", "points", "shots", "circles", "facts"):
        turned[key].reverse()
    same(a, answer(turned))


def test_a_car_seen_in_the_mirror_has_the_same_shape(plain):
    """Pictures flipped left to right, and left called right: the mirrored car."""
    case, a = plain
    doc = copy.deepcopy(case.document)
    width = {s["id"]: s["width"] for s in doc["shots"]}
    for m in doc["marks"]:
        w = width[m["shot"]] - 1
        if "point" in m:
            m["point"], m["x"] = twin(m["point"]), w - m["x"]
        else:
            m["circle"], m["edge"] = twin(m["circle"]), [[w - x, y] for x, y in m["edge"]]
    for f in doc["facts"]:
        for key in ("distance", "diameter"):
            if key in f:
                f[key] = [twin(p) for p in f[key]]
    for q in doc["measures"]:
        for key in ("distance", "angle"):
            if key in q:
                q[key] = [twin(p) for p in q[key]]
        for key in ("height", "diameter"):
            if key in q:
                q[key] = twin(q[key])
    same(a, answer(doc))


@pytest.mark.parametrize("scale", [0.1, 3.0])
def test_a_scaled_car_has_the_same_shape(plain, scale):
    case, a = plain
    doc = copy.deepcopy(case.document)
    for f in doc["facts"]:
        f["value"] *= scale
        f["sd"] *= scale
    same(a, answer(doc), 1, scale)


def test_the_unit_of_a_fact_does_not_matter(plain):
    case, a = plain
    doc = copy.deepcopy(case.document)
    for f, (unit, size) in zip(doc["facts"], [("mm", 1e-3), ("in", 0.0254)], strict=True):
        f["value"] /= size
        f["sd"] /= size
        f["unit"] = unit
    same(a, answer(doc))


def test_what_else_is_asked_does_not_matter(plain):
    case, a = plain
    doc = copy.deepcopy(case.document)
    doc["measures"] = [q for q in doc["measures"] if q["id"] == "rear rod"]
    b = answer(doc)
    assert b["measures"]["rear rod"] == pytest.approx(a["measures"]["rear rod"])


def test_the_size_of_the_picture_does_not_matter(plain):
    """All pixels halved: the same car."""
    case, a = plain
    doc = copy.deepcopy(case.document)
    for s in doc["shots"]:
        s["width"] //= 2
        s["height"] //= 2
    for m in doc["marks"]:  # pixel (0, 0) is the middle of the first pixel
        m["sd_px"] /= 2
        if "point" in m:
            m["x"], m["y"] = (m["x"] + 0.5) / 2 - 0.5, (m["y"] + 0.5) / 2 - 0.5
        else:
            m["edge"] = [[(x + 0.5) / 2 - 0.5, (y + 0.5) / 2 - 0.5] for x, y in m["edge"]]
    same(a, answer(doc))


@pytest.mark.parametrize("turn", [1.1, np.pi])
def test_positions_in_a_moved_frame_give_the_same_shape(turn):
    """The car put elsewhere and turned about z: places follow, lengths and angles stay."""
    case = small(13, facts=("positions",))
    doc = without_frame(case)
    doc["measures"] = [q for q in doc["measures"] if "height" not in q]
    a = answer(doc)
    Q, t = rotation(np.array([0, 0, turn])), np.array([3.0, -2.0, 0.0])
    moved = copy.deepcopy(doc)
    for f in moved["facts"]:
        f["value"] = (Q @ f["value"] + t).tolist()
    b = answer(moved)
    same(a, b)
    for k, p in a["points"].items():
        wide = 0.05 * np.sqrt(np.trace(p["cov_m2"])) + 1e-6
        assert np.linalg.norm(Q @ p["xyz_m"] + t - b["points"][k]["xyz_m"]) < wide


def test_more_marks_do_not_widen_intervals_in_expectation():
    ratios = []
    for seed in range(3):
        case = small(seed)
        whole = answer(case.document)["measures"]
        rng = np.random.default_rng(seed)
        fewer = copy.deepcopy(case.document)
        fewer["marks"] = [m for m in fewer["marks"] if rng.random() < 0.8 or "circle" in m]
        part = answer(fewer)["measures"]
        ratios += [np.log(part[k]["sd"] / m["sd"]) for k, m in whole.items() if k in part]
    assert np.mean(ratios) > 0
    assert np.mean(np.array(ratios) > -0.05) > 0.8  # σ0 is not used while it may be chance


def test_a_point_marked_once_is_left_out_and_named_and_changes_nothing(plain):
    case, a = plain
    doc = copy.deepcopy(case.document)
    doc["points"].append({"id": "lone"})
    doc["marks"].append({"shot": "s1", "point": "lone", "x": 3000.0, "y": 2000.0, "sd_px": 2.0})
    b = answer(doc)
    same(a, b)
    assert "lone" not in b["points"] and any("lone" in w for w in b["warnings"])
