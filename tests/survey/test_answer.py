"""The answer: every field of the contract, no NaN, every kind of measure."""

from __future__ import annotations

import json

import numpy as np
import pytest

from longlens.survey.measures import area, circle_radius, face_area

from .cars import answer, inside, see, small


@pytest.fixture(scope="module")
def asked():
    """A car of which every kind of measure is asked."""
    case = small(51, shots=5, pairs=14, seen=0.95)
    doc, xyz, truth = case.document, case.xyz, dict(case.measures)
    three = [f"left.front.lower.{k}" for k in ("fore", "outer", "aft")]
    rails = (three, [f"left.front.upper.{k}" for k in ("fore", "outer", "aft")])
    line = ["left.front.lower.outer", "left.front.upper.outer", "left.front.rod.inner"]
    doc["measures"] += [
        {"id": "area", "area": three},
        {"id": "radius", "radius": three},
        {"id": "face", "face_area": list(rails)},
        {"id": "rise", "rise": line},
        {"id": "least rise", "least_rise": line},
    ]
    doc["measures"] += [{"id": f"along {a}", "distance": line[:2], "along": a} for a in "xyz"]
    p, z = np.array([xyz[k] for k in three]), np.array([xyz[k][2] for k in line])
    truth |= {
        "area": float(area(p)),
        "radius": float(circle_radius(p)),
        "face": float(face_area(p, np.array([xyz[k] for k in rails[1]]))),
        "rise": float(z[-1] - z[0]),
        "least rise": float(np.diff(z).min()),
    }
    truth |= {f"along {a}": float(v) for a, v in zip("xyz", np.abs(xyz[line[0]] - xyz[line[1]]), strict=True)}
    a, b, r = xyz["left.front.rod.inner"], xyz["left.front.rod.outer"], 0.012
    shot = max(case.cameras, key=lambda s: case.cameras[s]["C"][1])
    eye, t, at = case.cameras[shot]["C"], (b - a) / np.linalg.norm(b - a), a
    foot = (
        at - eye - ((at - eye) @ t) * t
    )  # from the eye square to the rod's axis: planes through the eye touch the rod
    D = np.linalg.norm(foot)
    u, v = foot / D, np.cross(t, foot / D)
    edge = [
        eye + foot - r * (r / D) * u + s * r * np.sqrt(1 - (r / D) ** 2) * v + ((at - eye) @ t) * t for s in (1, -1)
    ]
    px = see(case, shot, np.array(edge)).tolist()
    rod = {"at": "left.front.rod.inner", "towards": "left.front.rod.outer", "shot": shot, "edges": px, "sd_px": 0.5}
    doc["measures"].append({"id": "rod diameter", "rod_diameter": rod})
    truth["rod diameter"] = 2 * r
    return case, truth, answer(doc)


def test_every_kind_of_measure_is_answered_in_its_unit(asked):
    case, truth, got = asked
    assert set(got["measures"]) == {q["id"] for q in case.document["measures"]}
    unit = {"area": "m2", "face": "m2", "ratio": "1", "front angle": "rad", "rear angle": "rad"}
    for k, m in got["measures"].items():
        assert m["unit"] == unit.get(k, "m")
        assert m["low95"] <= m["value"] <= m["high95"] and m["sd"] > 0
        assert abs(m["value"] - truth[k]) < 4.5 * m["sd"], k
    assert np.mean(inside(got, truth)) >= 0.75


def test_the_rod_on_one_picture_has_its_diameter(asked):
    _, _, got = asked
    m = got["measures"]["rod diameter"]
    assert m["value"] == pytest.approx(0.024, abs=3 * m["sd"])
    assert m["sd"] < 0.002


def test_the_answer_is_json_with_every_field_of_the_contract(asked):
    case, _, got = asked
    assert json.loads(json.dumps(got, allow_nan=False)) == got
    assert got["solved"] is True and isinstance(got["redundancy"], int) and 0.5 < got["sigma0"] < 1.5
    assert {"sigma0", "redundancy", "shots", "points", "measures", "suspect_marks", "warnings"} <= set(got)
    for s in got["shots"].values():
        assert {"focal_px", "focal_sd_px", "k1", "principal_px", "position_m", "residual_rms_px"} <= set(s)
        assert len(s["principal_px"]) == 2 and len(s["position_m"]) == 3 and s["residual_rms_px"] > 0
    for p in got["points"].values():
        C = np.array(p["cov_m2"])
        assert len(p["xyz_m"]) == 3 and C.shape == (3, 3) and np.allclose(C, C.T)
        assert np.linalg.eigvalsh(C).min() > -1e-12
    assert set(got["shots"]) == {s["id"] for s in case.document["shots"]}


def test_cameras_come_out_where_they_stood(asked):
    case, _, got = asked
    shift = np.mean([np.array(p["xyz_m"]) - case.xyz[k] for k, p in got["points"].items()], axis=0)
    for sid, s in got["shots"].items():
        miss = np.array(s["position_m"]) - shift * [1, 0, 0] - case.cameras[sid]["C"]  # x is free
        assert np.linalg.norm(miss) < 4 * np.linalg.norm(s["position_sd_m"]) + 0.01
        assert abs(s["focal_px"] - case.cameras[sid]["f"]) < 4 * s["focal_sd_px"]


def test_points_scatter_about_the_truth_as_their_covariance_says(asked):
    case, _, got = asked
    shift = np.mean([np.array(p["xyz_m"]) - case.xyz[k] for k, p in got["points"].items()], axis=0) * [1, 0, 0]
    d2 = []
    for k, p in got["points"].items():
        w, V = np.linalg.eigh(np.array(p["cov_m2"]))
        z = V.T @ (np.array(p["xyz_m"]) - shift - case.xyz[k])
        d2 += [float(v * v / e) for v, e in zip(z, w, strict=True) if e > 1e-12]
    assert 0.3 < np.mean(d2) < 2.5  # one car: its points hang together


def test_the_same_document_gives_the_same_answer(asked):
    case, _, got = asked
    assert answer(case.document) == got
