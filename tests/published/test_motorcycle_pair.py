"""A real photograph of a real vehicle, marked by hand: the *Motorcycle* pair with its calibration and depth
map.

Source: Scharstein et al. 2014, High-resolution stereo datasets with subpixel-accurate ground truth; shipped
in the scikit-image wheel (`skimage.data.stereo_motorcycle`). The marks, and how they were made, are in
`data/motorcycle_marks.json`; the documents are built by `tools/check_real/motorcycle.py`. The vehicle comes
out at two thirds of any real one's size: only shape is checked, with the scale taken from the depth map.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tools.check_real import marking, motorcycle, others, pictures, results

pytestmark = pytest.mark.published


@pytest.fixture(scope="module")
def pair():
    found = pictures.motorcycle()
    if found is None:
        pytest.skip("scikit-image is not installed")
    return found


def test_the_committed_truth_is_that_of_the_shipped_map(pair):
    for p in motorcycle.marks()["points"].values():
        assert marking.disparity_at(pair["disparity"], p["left"]) == pytest.approx(
            (p["disparity"], p["disparity_sd"], p["disparity_n"]), abs=1e-3
        )


def test_the_marks_are_as_good_as_they_claim(pair):
    """Marks of the right picture against the map, in units of the claimed scatter of a difference of two marks."""
    points = motorcycle.marks()["points"].values()
    for key, sd in (("right_read", motorcycle.SD_READ), ("right_matched", motorcycle.SD_OUTLINE)):
        off = [[p["left"][0] - p[key][0] - p["disparity"], p["left"][1] - p[key][1]] for p in points if key in p]
        assert np.sqrt(np.mean(np.square(off))) < np.sqrt(2) * sd


@pytest.mark.parametrize("kind", ["read", "matched"])
@pytest.mark.parametrize(("facts", "error", "half_width"), [("length", 0.056, 0.27), ("positions", 0.015, 0.07)])
def test_lengths_of_the_pair(kind, facts, error, half_width):
    """Focal length to 2 %, cameras unknown; the trial's median error and width (issue: 5.6 % ± 27 %, 1.5 % ± 7 %)."""
    document = motorcycle.pair(kind, facts)
    answer = results.survey(document)
    assert answer["solved"], answer
    rows = results.lengths(answer, results.vehicle_length)
    s = results.summary(rows)
    assert s.count >= 12
    assert s.count == len(document["measures"])
    assert s.inside >= 0.9 * s.count
    assert s.median_error <= error
    assert s.median_half_width <= half_width
    assert not answer["suspect_marks"]


@pytest.mark.parametrize("kind", ["read", "matched"])
def test_one_cropped_picture_gives_the_camera(kind):
    answer = results.survey(motorcycle.single(kind))
    truth = motorcycle.right_camera()
    assert answer["solved"], answer
    assert results.focal(answer, "right", truth["focal_px"]).inside
    shot = answer["shots"]["right"]
    # the answer's own form carries no spread for these two; a plain bundle here gave 20 and 28 px, 20, 140
    # and 20 mm
    assert shot["principal_px"] == pytest.approx(truth["principal_px"], abs=40)
    assert shot["position_m"] == pytest.approx(truth["position_m"], abs=0.15)
    assert shot["focal_sd_px"] < 0.1 * truth["focal_px"]


def test_wheels_as_circles_of_unknown_tilt():
    answer = results.survey(motorcycle.pair("matched", "positions", circles=True))
    assert answer["solved"], answer
    rows = results.diameters(answer)
    assert len(rows) == 3
    assert all(r.inside for r in rows), rows
    assert max(r.half_width for r in rows) < 0.05
    lengths = results.summary(results.lengths(answer, results.vehicle_length))
    assert lengths.inside >= 0.9 * lengths.count


def test_rim_and_disc_of_one_wheel_share_their_axis():
    """The truth used above is sound: two circles of one wheel, fitted apart, stand parallel within a degree."""
    rim, disc, rear = (motorcycle.true_circle(n) for n in ("front_rim", "front_disc", "rear_rim"))
    assert np.degrees(np.arccos(rim["axis"] @ disc["axis"])) < 1.0
    assert np.degrees(np.arccos(rim["axis"] @ rear["axis"])) > 30  # the front wheel is steered
    assert max(c["rms_px"] for c in (rim, disc, rear)) < motorcycle.SD_EDGE


def test_two_parallel_cameras_cannot_tell_the_focal_length():
    answer = results.survey(motorcycle.pair(focal="free"))
    said = " ".join(answer.get("warnings", [])) + answer.get("reason", "")
    assert "focal" in said.lower()
    # what is given all the same must hold: no length may claim more than the pair knows
    if answer["solved"]:
        rows = results.lengths(answer, results.vehicle_length)
        assert sum(r.inside for r in rows) >= 0.9 * len(rows)


def test_boxes_on_a_shelf_from_the_same_pair():
    document = others.garage()
    answer = results.survey(document)
    assert answer["solved"], answer
    s = results.summary(results.lengths(answer, results.garage_length))
    assert s.count == len(document["measures"])
    assert s.inside >= 0.9 * s.count
    assert s.median_error < 0.03


@pytest.mark.parametrize(("facts", "sd"), [("length", 0.02), ("positions", 0.02)])
def test_a_focal_length_that_the_pair_cannot_tell_keeps_its_prior(facts, sd):
    """Draws must span what is not known: cameras that look the same way add nothing to the 2 % stated.

    The one figure, stated on both shots of one camera, counts once. A plain bundle adjusted anew at nine focal lengths held
    fixed shows the same: over ±4 % of f its χ² stays at 4.19, so nothing but the prior can narrow it.
    """
    answer = results.survey(motorcycle.pair("matched", facts))
    shot = answer["shots"]["left"]
    assert shot["focal_sd_px"] / shot["focal_px"] == pytest.approx(sd, rel=0.15)
