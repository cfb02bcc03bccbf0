"""Solutions that the marks cannot tell apart: both are named, and the intervals hold both."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.survey.camera import look_at, project
from longlens.survey.circle import basis
from tests.survey.cars import answer, inside, small

F, SIZE = 6000.0, (6000, 4000)
PRINCIPAL = np.array([2999.5, 1999.5])
EYE = np.array([1.5, 4.0, 1.6])


@pytest.mark.parametrize("wrong", ["wheelbase", "rim"])
def test_two_facts_that_contradict_each_other_are_both_named(wrong):
    case = small(60, shots=4)
    fact = next(f for f in case.document["facts"] if f["id"] == wrong)
    fact["value"] *= 1.08
    got = answer(case.document)
    assert {f["fact"] for f in got["suspect_facts"]} == {"wheelbase", "rim"}
    assert any("cannot tell which is wrong" in w for w in got["warnings"])
    assert np.mean(inside(got, case.measures)) >= 0.9


def test_a_third_fact_decides():
    case = small(60, shots=4)
    case.document["facts"].append(
        {"id": "track", "value": case.measures["front track"], "sd": 0.002, "unit": "m", "source": "invented",
         "distance": ["left.front.wheel_centre", "right.front.wheel_centre"]}
    )  # fmt: skip
    next(f for f in case.document["facts"] if f["id"] == "wheelbase")["value"] *= 1.08
    got = answer(case.document)
    assert [f["fact"] for f in got["suspect_facts"]] == ["wheelbase"]
    assert np.mean(inside(got, case.measures)) >= 0.85


def board(rng: np.random.Generator) -> tuple[dict, dict[str, np.ndarray], dict]:
    """One photograph of nine points of known position; a document to add to, the places, and the camera."""
    R = look_at(EYE, np.array([0.0, 0.0, 0.5]))
    xyz = {f"p{i}": rng.uniform([-0.6, -0.6, 0.0], [0.6, 0.6, 1.0]) for i in range(9)}
    doc = {
        "format": "longlens-exchange", "version": 1, "vehicle": {"name": "a thing on a table"},
        "shots": [{"id": "s", "width": SIZE[0], "height": SIZE[1], "focal_px": F, "focal_sd_px": 0.002 * F}],
        "points": [{"id": p} for p in xyz], "circles": [], "marks": [], "measures": [],
        "facts": [
            {"id": f"f{p}", "value": list(map(float, x)), "sd": 0.001, "unit": "m", "source": "invented", "position": p}
            for p, x in xyz.items()
        ],
    }  # fmt: skip
    camera = {"R": R}
    for p, x in xyz.items():
        doc["marks"].append({"shot": "s", "point": p, "sd_px": 1.5, **see(R, x, rng)})
    return doc, xyz, camera


def see(R: np.ndarray, x: np.ndarray, rng: np.random.Generator, sd: float = 1.5) -> dict[str, float]:
    at = project(x, R, EYE, F, 0.0, PRINCIPAL) + rng.normal(0, sd, 2)
    return {"x": float(at[0]), "y": float(at[1])}


def test_a_ray_meets_a_length_twice():
    """A rod from a known point to one seen once: both meetings of its ray with the sphere are in the interval."""
    rng = np.random.default_rng(4)
    doc, xyz, camera = board(rng)
    ahead = (xyz["p0"] - EYE) / np.linalg.norm(xyz["p0"] - EYE)
    side = np.cross(ahead, [0, 0, 1.0])
    side /= np.linalg.norm(side)
    near, far = (xyz["p0"] + 0.30 * side + s * 0.25 * ahead for s in (-1.0, 1.0))
    doc["points"].append({"id": "end"})
    doc["marks"].append({"shot": "s", "point": "end", "sd_px": 1.5, **see(camera["R"], near, rng)})
    doc["facts"].append(
        {"id": "rod", "value": float(np.linalg.norm(near - xyz["p0"])), "sd": 0.0005, "unit": "m", "source": "invented",
         "distance": ["p0", "end"]}
    )  # fmt: skip
    doc["measures"] = [{"id": "gap", "distance": ["end", "p1"]}, {"id": "known", "distance": ["p1", "p2"]}]
    got = answer(doc)
    gap = got["measures"]["gap"]
    ends = sorted(np.linalg.norm(e - xyz["p1"]) for e in (near, far))
    assert gap["low95"] < ends[0] + 0.01 and gap["high95"] > ends[1] - 0.02
    assert any(w.startswith("end could be at two places") for w in got["warnings"])
    assert got["measures"]["known"]["sd"] < 0.003  # what does not hang on it stays narrow


def test_a_circle_seen_once_has_two_poses():
    rng = np.random.default_rng(8)
    doc, xyz, camera = board(rng)
    centre, normal, radius = np.array([0.1, 0.1, 0.4]), np.array([0.6, 0.7, 0.4]), 0.25
    normal /= np.linalg.norm(normal)
    a, b = basis(normal)
    t = np.linspace(0, 2 * np.pi, 24, endpoint=False)[:, None]
    rim = centre + radius * (np.cos(t) * a + np.sin(t) * b)
    edge = project(rim, camera["R"], EYE, F, 0.0, PRINCIPAL) + rng.normal(0, 1.0, (24, 2))
    doc["points"].append({"id": "hub"})
    doc["circles"].append({"id": "ring", "centre": "hub"})
    doc["facts"].append(
        {"id": "d", "value": 2 * radius, "sd": 0.0005, "unit": "m", "source": "invented", "diameter": ["ring"]}
    )
    doc["marks"].append({"shot": "s", "circle": "ring", "sd_px": 1.0, "edge": edge.tolist()})
    doc["measures"] = [{"id": "reach", "distance": ["hub", "p1"]}]
    got = answer(doc)
    truth = np.linalg.norm(centre - xyz["p1"])
    assert got["measures"]["reach"]["low95"] <= truth <= got["measures"]["reach"]["high95"]
    # both poses picture the circle nearly alike: if the marks do not tell them apart, that is said
    axis = np.array(got["circles"]["ring"]["axis"])
    assert abs(axis @ normal) > 0.99 or any(w.startswith("ring could be at two places") for w in got["warnings"])


def exchange(document: dict, shot: str, pair: tuple[str, str]) -> None:
    a, b = (next(m for m in document["marks"] if m["shot"] == shot and m.get("point") == p) for p in pair)
    a["x"], a["y"], b["x"], b["y"] = b["x"], b["y"], a["x"], a["y"]


def keep_only_on(document: dict, shots: set[str], pair: tuple[str, str]) -> None:
    document["marks"] = [m for m in document["marks"] if m.get("point") not in pair or m["shot"] in shots]


def both_on(document: dict) -> list[str]:
    seen = {(m["shot"], m.get("point")) for m in document["marks"]}
    return [s["id"] for s in document["shots"] if all((s["id"], p) in seen for p in PAIR)]


PAIR = ("left.front.lower.fore", "right.front.lower.fore")


def test_left_and_right_exchanged_on_one_of_two_shots_names_both():
    case = small(61, shots=4, seen=1.0)
    shots = both_on(case.document)[:2]
    keep_only_on(case.document, set(shots), PAIR)
    exchange(case.document, shots[0], PAIR)
    got = answer(case.document)
    named = {(m["shot"], m["point"]) for m in got["suspect_marks"]}
    assert named == {(s, p) for s in shots for p in PAIR}
    leg = got["measures"].get("front fore leg")
    assert leg is None or leg["low95"] <= case.measures["front fore leg"] <= leg["high95"]


def test_left_and_right_exchanged_on_the_only_shot_is_told_by_their_names():
    case = small(61, shots=4, seen=1.0)
    shot = both_on(case.document)[0]
    keep_only_on(case.document, {shot}, PAIR)
    clean = answer(case.document)
    assert not clean["suspect_marks"]
    exchange(case.document, shot, PAIR)
    got = answer(case.document)
    assert {(m["shot"], m["point"]) for m in got["suspect_marks"]} == {(shot, p) for p in PAIR}
    assert "front fore leg" not in got["measures"]
    assert "name says" in got["refused"]["front fore leg"]["reason"]
    assert got["measures"]["rear rod"]["value"] == pytest.approx(clean["measures"]["rear rod"]["value"], rel=0.02)
