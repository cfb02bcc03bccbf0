"""A real camera and known boards: pictures in Debian's `opencv-doc`, against OpenCV's calibration of the
same corners.

Source: opencv-doc 4.6.0+dfsg-12 (`left*.jpg`, `right*.jpg`, `choriginal.jpg`, `singlemarkersoriginal.jpg`);
the corners are committed in `data/` with how they were found. Documents: `tools/check_real/chessboards.py`
and `others.py`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tools.check_real import chessboards, others, pictures, results

pytestmark = pytest.mark.published

LEFT = [("left", n) for n in chessboards.SOME]


def test_the_committed_corners_are_those_of_the_pictures():
    import cv2

    image = pictures.opencv_doc("left01")
    if image is None:
        pytest.skip("Debian's opencv-doc is not installed")
    grey = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
    found, corners = cv2.findChessboardCorners(grey, (9, 6))
    corners = cv2.cornerSubPix(grey, corners, (5, 5), (-1, -1), (3, 100, 1e-4)).reshape(-1, 2)
    assert found
    assert corners == pytest.approx(np.array(chessboards.corners()["shots"]["left01"]), abs=0.05)


def test_straightened_shots_agree_with_opencv():
    """Corners straightened by OpenCV's lens: both sides see the same pinhole. All corners are free in space."""
    marks, theirs = chessboards.straightened(LEFT)
    answer = results.survey(chessboards.document(LEFT, {"left": theirs["principal_px"]}, marks=marks))
    assert answer["solved"], answer
    assert results.focal(answer, "left01", theirs["focal_px"]).inside
    assert answer["shots"]["left01"]["focal_sd_px"] < 3
    assert abs(answer["shots"]["left01"]["k1"]) < 0.01
    rows = results.lengths(answer, chessboards.true_length)
    assert len(rows) == 12 and sum(r.inside for r in rows) >= 11
    angle = answer["measures"]["corner angle"]
    assert angle["low95"] <= np.pi / 2 <= angle["high95"]


def test_a_strong_lens_agrees_with_opencv():
    """The pictures as they are: 15 % barrel in the corners, fifteen times the exchange document's usual lens.

    OpenCV with the same single radial term, but told the board. Told nothing of the board, a lens that one
    term does not describe (OpenCV's second is 0.10) bends it a little; a plain bundle here was off by 0.6 %
    in the focal length for it.
    """
    theirs = chessboards.opencv_calibration(LEFT)
    answer = results.survey(chessboards.document(LEFT, {"left": theirs["principal_px"]}))
    assert answer["solved"], answer
    shot = answer["shots"]["left01"]
    assert shot["focal_px"] == pytest.approx(theirs["focal_px"], rel=0.01)
    assert shot["k1"] == pytest.approx(theirs["k1"], rel=0.03)
    rows = results.lengths(answer, chessboards.true_length)
    assert sum(r.inside for r in rows) >= 0.9 * len(rows)


@pytest.mark.parametrize("number", ["01", "04", "08"])
def test_a_mirrored_board_in_one_picture(number):
    answer = results.survey(chessboards.mirrored(("left", number)))
    assert answer["solved"], answer
    rows = results.lengths(answer, chessboards.true_length)
    assert len(rows) == 12
    assert sum(r.inside for r in rows) >= 11


def test_a_board_on_a_table_in_one_picture():
    answer = results.survey(others.board())
    theirs = others.board_by_opencv()
    assert answer["solved"], answer
    assert results.focal(answer, "board", theirs["focal_px"]).inside
    assert answer["shots"]["board"]["position_m"] == pytest.approx(theirs["position_m"], abs=0.02)
    rows = results.lengths(answer, results.board_length)
    assert len(rows) == 12 and sum(r.inside for r in rows) >= 11


def test_markers_of_one_size_on_a_sheet():
    answer = results.survey(others.markers())
    assert answer["solved"], answer
    rows = results.lengths(answer, others.marker_length)
    assert len(rows) == 18
    assert sum(r.inside for r in rows) >= 16


def test_a_slipped_corner_is_named():
    marks, theirs = chessboards.straightened(LEFT)
    document = chessboards.document(LEFT[:5], {"left": theirs["principal_px"]}, marks=marks)
    wrong = next(m for m in document["marks"] if m["shot"] == "left04" and m["point"] == "r2c3")
    wrong["x"] += 6.0
    answer = results.survey(document)
    assert [(s["shot"], s["point"]) for s in answer["suspect_marks"]] == [("left04", "r2c3")]
    rows = results.lengths(answer, chessboards.true_length)
    assert sum(r.inside for r in rows) >= 0.9 * len(rows)


def test_two_cameras_of_one_rig():
    """Left and right cameras, each with its own focal length, on the same board."""
    both = [(s, n) for n in chessboards.SOME[:6] for s in ("left", "right")]
    marks, focal, principal = {}, {}, {}
    for side in ("left", "right"):
        straight, theirs = chessboards.straightened([t for t in both if t[0] == side])
        marks |= straight
        focal[side], principal[side] = theirs["focal_px"], theirs["principal_px"]
    answer = results.survey(chessboards.document(both, principal, marks=marks))
    assert answer["solved"], answer
    for side in ("left", "right"):
        assert answer["shots"][f"{side}01"]["focal_px"] == pytest.approx(focal[side], rel=0.01)
    rows = results.lengths(answer, chessboards.true_length)
    assert sum(r.inside for r in rows) >= 0.9 * len(rows)
