"""What lays the frame, and what the document says of cameras, stances and twins."""

from __future__ import annotations

import copy

import numpy as np
import pytest

from longlens.errors import NotSolvable

from .cars import answer, inside, off, see, small, without_frame


def test_a_frame_left_free_is_named_and_lengths_are_given_all_the_same():
    case = small(0, shots=4, seen=0.95)
    got = answer(without_frame(case))
    text = next(w for w in got["warnings"] if w.startswith("datum chosen"))
    for motion in (
        "moved along x",
        "moved along y",
        "moved along z",
        "turned about x",
        "turned about y",
        "turned about z",
    ):
        assert motion in text
    assert np.mean(inside(got, case.measures)) >= 0.7 and len(got["measures"]) >= 6
    assert not any("height" in k for k in got["measures"])
    assert "ground" in " ".join(got["refused"]["front height"]["needs"])


def test_a_length_along_an_axis_is_refused_where_the_axes_are_free():
    case = small(0, shots=4, seen=1.0)
    doc = without_frame(case)
    doc["circles"] = []
    doc["facts"] = [f for f in doc["facts"] if "distance" in f]
    doc["marks"] = [m for m in doc["marks"] if "point" in m]
    ends = ["left.front.wheel_centre", "right.front.wheel_centre"]
    doc["measures"] = [{"id": "across", "distance": ends, "along": "y"}, {"id": "straight", "distance": ends}]
    got = answer(doc)
    assert "straight" in got["measures"]
    assert "which way it points" in got["refused"]["across"]["reason"] and got["refused"]["across"]["needs"]


def test_a_fact_along_an_axis_gives_the_scale():
    case = small(5, shots=4)
    ends = ["left.front.wheel_centre", "right.rear.wheel_centre"]
    true = np.abs(case.xyz[ends[0]] - case.xyz[ends[1]])
    case.document["facts"] = [
        {
            "id": "wheelbase",
            "value": float(true[0]),
            "sd": 0.002,
            "unit": "m",
            "source": "",
            "distance": ends,
            "along": "x",
        }
    ]
    case.document["measures"] += [{"id": f"along {a}", "distance": ends, "along": a} for a in "xyz"]
    truth = case.measures | {f"along {a}": float(v) for a, v in zip("xyz", true, strict=True)}
    got = answer(case.document)
    assert got["measures"]["along x"]["value"] == pytest.approx(true[0], abs=0.006)
    assert np.mean(inside(got, truth)) >= 0.8


def test_known_positions_keep_their_frame():
    case = small(13, facts=("positions",))
    got = answer(case.document)
    places = got["points"]
    given = [f["position"] for f in case.document["facts"]]
    assert max(np.linalg.norm(np.array(places[k]["xyz_m"]) - case.xyz[k]) for k in given if k in places) < 0.015
    wide = [
        np.linalg.norm(np.array(p["xyz_m"]) - case.xyz[k]) / np.sqrt(np.trace(p["cov_m2"])) for k, p in places.items()
    ]
    assert np.median(wide) < 1.5
    assert not any("datum chosen" in w for w in got["warnings"])


def test_positions_whose_zero_is_not_the_ground_are_understood(monkeypatch):
    monkeypatch.setattr("longlens.survey.start.MOST_SECONDS", 1.5)  # it searches on, since at first nothing fits well
    case = small(13, shots=4, facts=("positions",))
    for f in case.document["facts"]:
        f["value"][2] += 0.25
    got = answer(case.document)
    assert any("z = 0.2" in w for w in got["warnings"])
    heights = [k for k in got["measures"] if "height" in k]
    assert heights and all(abs(got["measures"][k]["value"] - case.measures[k]) < 0.02 for k in heights)


def test_shots_of_one_camera_share_their_lens():
    case = small(21, one_camera=True)
    got = answer(case.document)
    focal = [s["focal_px"] for s in got["shots"].values()]
    assert np.ptp(focal) == pytest.approx(0, abs=1e-6 * focal[0])
    assert abs(focal[0] - case.cameras["s1"]["f"]) < 4 * got["shots"]["s1"]["focal_sd_px"]


def test_a_cropped_picture_gives_its_principal_point():
    case = small(22, shots=4, pairs=14, cropped=True)
    got = answer(case.document)
    for sid, s in got["shots"].items():
        miss = np.array(s["principal_px"]) - case.cameras[sid]["principal"]
        assert np.all(np.abs(miss) < 4 * np.array(s["principal_sd_px"]))
    assert np.median(np.abs(off(got, case.measures))) < 1.5


def test_a_known_focal_length_narrows_the_answer():
    case = small(23)
    free = answer(case.document)
    told = copy.deepcopy(case.document)
    for s in told["shots"]:
        s |= {"focal_px": case.cameras[s["id"]]["f"], "focal_sd_px": 0.001 * case.cameras[s["id"]]["f"]}
    got = answer(told)
    both = [k for k in got["measures"] if k in free["measures"]]
    assert np.mean([np.log(got["measures"][k]["sd"] / free["measures"][k]["sd"]) for k in both]) < 0
    assert np.mean(inside(got, case.measures)) >= 0.7


def test_cameras_that_look_the_same_way_are_told():
    """Two pictures taken side by side with parallel axes cannot tell the focal length."""
    case = small(24, shots=2, seen=1.0, circles=False, ground=False, facts=("wheelbase",))
    doc = without_frame(case)
    a, b = case.cameras["s1"], case.cameras["s2"]
    b["R"], b["C"], b["f"] = a["R"], a["C"] + a["R"][0] * 0.6, a["f"]
    b["k1"], b["principal"] = a["k1"], a["principal"]
    rng = np.random.default_rng(0)
    doc["marks"] = [
        {"shot": s, "point": k, "x": float(x), "y": float(y), "sd_px": 0.5}
        for s in ("s1", "s2")
        for k in case.xyz
        for x, y in [see(case, s, case.xyz[k]) + rng.normal(0, 0.5, 2)]
    ]
    try:
        words = " ".join(answer(doc)["warnings"])
    except NotSolvable as e:
        words = f"{e} {e.needs}"
    assert "focal length" in words


def test_twins_that_may_differ_come_out_apart():
    case = small(12, shots=4, mirror_sd=0.004)
    got = answer(case.document)
    apart = []
    for k, p in got["points"].items():
        if k.startswith("left.") and "right." + k[5:] in got["points"]:
            q = np.array(got["points"]["right." + k[5:]]["xyz_m"]) * [1, -1, 1]
            apart.append(np.linalg.norm(q - p["xyz_m"]))
    assert 1e-4 < np.median(apart) < 0.02
    assert np.mean(inside(got, case.measures)) >= 0.7


def test_exact_twins_are_each_others_reflection():
    got = answer(small(3).document)
    for k, p in got["points"].items():
        if k.startswith("left.") and "right." + k[5:] in got["points"]:
            q = got["points"]["right." + k[5:]]["xyz_m"]
            assert np.array(q) * [1, -1, 1] == pytest.approx(np.array(p["xyz_m"]), abs=1e-12)


def lowered(seed: int = 30):
    """Two shots of another stance, where the ground lies 40 mm nearer to the body and wheel-side points have moved."""
    case = small(seed, shots=5, pairs=14, seen=0.9)
    doc, rng = case.document, np.random.default_rng(seed)
    wheel_side = [k for k in case.xyz if k.endswith(("outer", "wheel_centre"))]
    low = {"s4", "s5"}
    for s in doc["shots"]:
        if s["id"] in low:
            s["stance"] = "lowered"
    doc["marks"] = [
        m
        for m in doc["marks"]
        if m["shot"] not in low
        or ("point" in m and m["point"] not in wheel_side and not m["point"].startswith("ground"))
    ]
    true = {}
    for k in wheel_side:
        true[f"{k}@lowered"] = case.xyz[k] + [0, 0, 0.04]
    for k in range(4):
        true[f"patch{k}"] = np.array([[-2.4, -0.9, 0.04], [0.3, 0.9, 0.04], [0.4, -0.9, 0.04], [-2.3, 0.9, 0.04]][k])
    for k, xyz in true.items():
        record = {"id": k, "on": "ground"} if k.startswith("patch") else {"id": k}
        if k.startswith("left."):
            record["mirror"] = "right." + k[5:]
        doc["points"].append(record)
        for s in sorted(low):
            x, y = see(case, s, xyz) + rng.normal(0, 2, 2)
            if 0 <= x < 6000 and 0 <= y < 4000:
                doc["marks"].append({"shot": s, "point": k, "x": float(x), "y": float(y), "sd_px": 2.0})
    return case, true


def test_wheel_side_points_of_another_stance_are_other_points():
    case, true = lowered()
    a, b = "left.front.lower.fore", "left.front.lower.outer@lowered"
    case.document["measures"].append({"id": "moved leg", "distance": [a, b]})
    truth = case.measures | {"moved leg": float(np.linalg.norm(case.xyz[a] - true[b]))}
    got = answer(case.document)
    assert np.mean(inside(got, truth)) >= 0.8
    assert not got["suspect_marks"]
    rise = [
        got["points"][k]["xyz_m"][2] - got["points"][k.split("@")[0]]["xyz_m"][2]
        for k in got["points"]
        if k.endswith("@lowered") and k.split("@")[0] in got["points"]
    ]
    assert np.median(rise) == pytest.approx(0.04, abs=0.01)


def test_the_ground_of_another_stance_is_another_plane():
    case, true = lowered()
    got = answer(case.document)
    z = [got["points"][k]["xyz_m"][2] for k in true if k.startswith("patch") and k in got["points"]]
    assert len(z) >= 3 and np.median(z) == pytest.approx(0.04, abs=0.02)
    for k in got["points"]:
        if k.startswith("ground"):
            assert got["points"][k]["xyz_m"][2] == pytest.approx(0, abs=1e-9)
