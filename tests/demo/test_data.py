"""The committed truth and marks agree with the cars, with each other and with the exchange form."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import numpy as np
import pytest

from longlens.demo import marks
from longlens.demo.shots import project, shots_of
from longlens.demo.truth import DATA, value_of
from longlens.dossier.exchange import read_exchange
from longlens.survey.camera import project as survey_project
from tests.demo.models import built

STAGES = [(c, s) for c in ("fulmar", "gannet") for s in ("test", "shown")]


@cache
def truth_of(car: str, stage: str) -> dict[str, Any]:
    return json.loads((DATA / f"{car}_{stage}.truth.json").read_text(encoding="utf-8"))


@cache
def marks_of(car: str, stage: str) -> dict[str, Any]:
    return json.loads((DATA / f"{car}_{stage}.exchange.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("car", "stage"), STAGES)
def test_exchange_documents_are_valid(car: str, stage: str) -> None:
    document, remarks = read_exchange(DATA / f"{car}_{stage}.exchange.json")
    assert not remarks
    assert document.marks and document.facts and document.measures
    assert "invented" in document.vehicle.name


@pytest.mark.parametrize(("car", "stage"), STAGES)
def test_truth_is_the_geometry(car: str, stage: str) -> None:
    model = built(car, stage)
    t = truth_of(car, stage)
    for name, p in model.points.items():
        assert np.allclose(t["points"][name]["xyz_m"], p.xyz, atol=2e-9), name
    for name, r in model.rods.items():
        assert t["parts"]["rods"][name]["length_m"] == pytest.approx(r["length_m"], abs=1e-9)


@pytest.mark.parametrize(("car", "stage"), STAGES)
def test_shots_are_those_of_the_script(car: str, stage: str) -> None:
    t = truth_of(car, stage)
    assert [s["id"] for s in t["shots"]] == [s.id for s in shots_of(car, stage)]
    for s, d in zip(t["shots"], marks_of(car, stage)["shots"], strict=True):
        assert (d["width"], d["height"]) == (s["camera"]["published"]["width"], s["camera"]["published"]["height"])


@pytest.mark.parametrize(("car", "stage"), STAGES)
def test_the_demo_camera_is_the_survey_camera(car: str, stage: str) -> None:
    t = truth_of(car, stage)
    X = np.array([p["xyz_m"] for p in t["points"].values()])
    for s in t["shots"]:
        cam, c = s["camera"], s["camera"]["published"]
        here = project(X, cam)
        there = survey_project(
            X,
            np.array(cam["rotation"]),
            np.array(cam["position_m"]),
            c["focal_px"],
            c["k1"],
            np.array(c["principal_px"]),
        )
        ok = np.isfinite(here[:, 0])
        assert np.allclose(here[ok], there[ok], atol=1e-6)


@pytest.mark.parametrize(("car", "stage"), STAGES)
def test_marks_sit_on_what_is_seen(car: str, stage: str) -> None:
    """All but the one wrong mark lie within 5 standard deviations of the truth, spread as they claim."""
    t, d = truth_of(car, stage), marks_of(car, stage)
    shots = {s["id"]: s for s in t["shots"]}
    z = []
    for m in d["marks"]:
        if "point" not in m or m.get("inferred"):
            continue
        s = shots[m["shot"]]
        assert s["seen"][m["point"]] >= 0.25
        e = (project(np.array(t["points"][m["point"]]["xyz_m"]), s["camera"]) - [m["x"], m["y"]]) / m["sd_px"]
        z.append(float(np.hypot(*e)))
    far = [v for v in z if v > 5]
    assert len(far) == 1, "one mark is wrong on purpose"
    rms = np.sqrt(np.mean(np.square([v for v in z if v <= 5])) / 2)
    assert 0.8 < rms < 1.2


@pytest.mark.parametrize(("car", "stage"), STAGES)
def test_measures_have_their_true_values(car: str, stage: str) -> None:
    t = truth_of(car, stage)
    table = {q["id"]: q for q in t["measures"]}
    assert {q["id"] for q in marks_of(car, stage)["measures"]} <= set(table)
    for q in t["measures"]:
        assert q["true"] == pytest.approx(value_of(q, t, table), rel=1e-9)


@pytest.mark.parametrize(("car", "stage"), STAGES)
def test_facts_are_within_three_of_their_deviations(car: str, stage: str) -> None:
    t = truth_of(car, stage)
    for f in t["facts"]:
        if "diameter" in f:
            true = 2 * t["circles"][f["diameter"][0]]["radius_m"]
        else:
            a, b = (np.array(t["points"][n]["xyz_m"]) for n in f["distance"])
            true = abs((b - a)["xyz".index(f["along"])])
        assert abs(true - f["value"]) < 3 * f["sd"], f["id"]


def test_noise_can_be_drawn_again_on_the_same_features() -> None:
    t = truth_of("fulmar", "shown")
    a, b = marks.exchange_of(t, seed=1), marks.exchange_of(t, seed=2)
    assert [(m["shot"], m.get("point")) for m in a["marks"]] == [(m["shot"], m.get("point")) for m in b["marks"]]
    assert a["marks"][0] != b["marks"][0]
    assert marks.exchange_of(t, seed=1) == a
    read_exchange(a)


def test_committed_marks_come_from_the_seed() -> None:
    for car, stage in STAGES:
        assert marks.exchange_of(truth_of(car, stage)) == marks_of(car, stage)


def test_outline_touches_the_rod() -> None:
    """The two lines of sight are tangents: their distance from the axis is the radius."""
    at, along, eye, r = np.array([1.0, 0.2, 0.4]), np.array([0.3, 1.0, -0.2]), np.array([4.0, 1.0, 1.0]), 0.02
    e = along / np.linalg.norm(along)
    for p in marks.outline(at, along, r, eye):
        d = (p - eye) / np.linalg.norm(p - eye)
        n = np.cross(d, e)
        assert abs((at - eye) @ n) / np.linalg.norm(n) == pytest.approx(r, abs=1e-12)
        assert (p - at) @ e == pytest.approx(0, abs=1e-12)
