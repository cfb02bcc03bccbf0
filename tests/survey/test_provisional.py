"""A provisional place held against the simulated truth and against the full survey (tools/studies/simulated_cars)."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest

from longlens.dossier.exchange import Measure, read_exchange
from longlens.survey.answer import Solution, solve
from longlens.survey.provisional import FLATTEST, measure_provisionally, place_provisionally
from tests.survey.cars import Case, see, small, twin


def without(document: dict[str, Any], *points: str) -> dict[str, Any]:
    """The document before these points were marked."""
    out = copy.deepcopy(document)
    out["marks"] = [m for m in out["marks"] if m.get("point") not in points]
    gone = {m["id"] for m in out["measures"] if any(p in str(m) for p in points)}
    out["measures"] = [m for m in out["measures"] if m["id"] not in gone and not gone & set(m.get("ratio", ()))]
    return out


def new_points(case: Case) -> list[str]:
    """Left points of suspension that nothing but marks hold."""
    seen = [m["point"] for m in case.document["marks"] if "point" in m]
    return [p for p in case.xyz if p.startswith("left.") and (".upper." in p or ".lower." in p) and seen.count(p) >= 2][
        :3
    ]


def test_the_interval_holds_the_truth_and_is_as_wide_as_the_full_survey_s() -> None:
    """Of the coordinates of some points of four cars, and against the same marks given to the full survey."""
    held = number = 0
    ratios, off = [], []
    for seed in (20, 22, 23, 27):
        case = small(seed)
        now = read_exchange(case.document)[0]
        full = solve(now).places()
        for point in new_points(case):
            before = solve(read_exchange(without(case.document, point, twin(point)))[0])
            got = place_provisionally(before, now, point)
            if not got:
                assert "flat" in got.why
                continue
            low, high = np.percentile(got.draws, [2.5, 97.5], axis=0)
            held += int(np.sum((low <= case.xyz[point]) & (case.xyz[point] <= high)))
            number += 3
            sd = full[point].std(axis=0)
            ratios.append(got.draws.std(axis=0) / sd)
            off.append(np.abs(got.xyz - full[point].mean(axis=0)) / sd)
    assert number >= 24 and held / number > 0.85
    assert np.min(ratios) > 0.9 and np.median(ratios) < 1.3
    assert np.max(off) < 1.5  # near the full answer, in its own standard deviations


@pytest.fixture(scope="module")
def car() -> tuple[Case, Solution, str]:
    case = small(27)
    point = new_points(case)[0]
    return case, solve(read_exchange(without(case.document, point, twin(point)))[0]), point


def test_the_same_marks_give_the_same_draws(car: tuple[Case, Solution, str]) -> None:
    case, before, point = car
    now = read_exchange(case.document)[0]
    a, b = (place_provisionally(before, now, point) for _ in range(2))
    assert a and b and np.array_equal(a.draws, b.draws) and np.array_equal(a.xyz, b.xyz)
    other = copy.deepcopy(case.document)
    other["points"].append({"id": "something else"})
    c = place_provisionally(before, read_exchange(other)[0], point)
    assert c and np.array_equal(a.draws, c.draws)


def test_exact_marks_give_the_place_that_the_cameras_see(car: tuple[Case, Solution, str]) -> None:
    """Marks computed from a place by the solution's own cameras lead back to it; their misfit is nought."""
    from longlens.survey.foretold import eye_of

    case, before, point = car
    there = case.xyz[point] + [0.0, 0.0, 0.05]
    document = without(case.document, point, twin(point))
    for shot in before.net.shots[:2]:
        x, y = (float(v) for v in eye_of(before, shot).see(there))
        document["marks"].append({"shot": shot, "point": point, "x": x, "y": y, "sd_px": 2.0})
    got = place_provisionally(before, read_exchange(document)[0], point)
    assert got and np.allclose(got.xyz, there, atol=1e-6) and got.misfit < 1e-3
    one = place_provisionally(before, read_exchange(document | {"marks": document["marks"][:-1]})[0], point)
    assert not one and "one more photograph" in one.why


def test_marks_that_do_not_meet_widen_the_interval(car: tuple[Case, Solution, str]) -> None:
    case, before, point = car
    clean = place_provisionally(before, read_exchange(case.document)[0], point)
    wrong = copy.deepcopy(case.document)
    mine = [m for m in wrong["marks"] if m.get("point") in (point, twin(point))]
    mine[0]["x"] += 40
    mine[0]["y"] += 40
    got = place_provisionally(before, read_exchange(wrong)[0], point)
    assert clean and got and got.misfit > 3
    wider = got.draws.std(axis=0) / clean.draws.std(
        axis=0
    )  # where the cameras' own doubt is large, the marks add little
    assert np.max(wider) > 2 and np.min(wider) > 1


def test_its_twin_places_it_and_a_plane_needs_one_mark_only(car: tuple[Case, Solution, str]) -> None:
    case, _, point = car
    other = twin(point)
    base = without(case.document, point)
    base["points"] = [{k: v for k, v in p.items() if k not in ("mirror", "mirror_sd")} if p["id"] in (point, other) else p
                      for p in base["points"]]  # fmt: skip
    before = solve(read_exchange(base)[0])
    if other in before.net.points:
        got = place_provisionally(before, read_exchange(case.document)[0], point)
        assert got and "twin" in got.how
        assert np.allclose(got.xyz * [1, -1, 1], before.places()[other].mean(axis=0), atol=0.02)
    document = without(case.document)
    document["points"].append({"id": "keel", "on": "centre_plane"})
    there, shot = np.array([1.0, 0.0, 0.6]), case.document["shots"][0]["id"]
    x, y = (float(v) for v in see(case, shot, there))
    document["marks"].append({"shot": shot, "point": "keel", "x": x, "y": y, "sd_px": 2.0})
    keel = place_provisionally(before, read_exchange(document)[0], "keel")
    if keel:  # else the photograph is from straight ahead: too flat, and said
        assert "centre plane" in keel.how and np.all(keel.draws[:, 1] == 0)
        assert np.linalg.norm(keel.xyz - there) < 0.1
    else:
        assert "flat" in keel.why


def test_a_distance_to_it_is_joint_with_the_rest(car: tuple[Case, Solution, str]) -> None:
    case, before, point = car
    got = place_provisionally(before, read_exchange(case.document)[0], point)
    assert got
    known = next(p for p in before.net.points if p.startswith("left.") and p != point)
    value, draws = measure_provisionally(before, Measure(id="d", distance=(known, point)), {point: got}) or (
        0.0,
        np.zeros(1),
    )
    truth = float(np.linalg.norm(case.xyz[known] - case.xyz[point]))
    assert abs(value - truth) < 4 * draws.std() + 1e-3 and len(draws) == len(before.drawn.state.logf)
    assert measure_provisionally(before, Measure(id="d", diameter="x"), {point: got}) is None
    assert measure_provisionally(before, Measure(id="d", distance=(point, "nowhere")), {point: got}) is None


def test_what_cannot_be_placed_says_why(car: tuple[Case, Solution, str]) -> None:
    case, before, point = car
    now = read_exchange(case.document)[0]
    assert "no such point" in str(getattr(place_provisionally(before, now, "nowhere"), "why", ""))
    assert "has placed it" in str(getattr(place_provisionally(before, now, before.net.points[0]), "why", ""))
    unmarked = place_provisionally(before, read_exchange(without(case.document, point, twin(point)))[0], point)
    assert "not marked" in str(getattr(unmarked, "why", "")) and 0 < FLATTEST < 1
