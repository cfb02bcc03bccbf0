"""The camera: its picture, the way back, and its derivatives. OpenCV's projection is held against it in tests/published."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.survey.camera import (
    cross_matrix,
    image,
    image_with_derivatives,
    look_at,
    project,
    rays,
    rotation,
)

part = st.floats(-1, 1)
vector = st.tuples(part, part, part).map(np.array)


@given(vector.map(lambda v: 3 * v))
def test_a_rotation_vector_gives_a_rotation_about_itself(w):
    R = rotation(w)
    np.testing.assert_allclose(R @ R.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(R) == pytest.approx(1)
    assert R @ w == pytest.approx(w, abs=1e-12)
    assert np.trace(R) == pytest.approx(1 + 2 * np.cos(np.linalg.norm(w)), abs=1e-9)


@given(vector, vector)
def test_the_cross_matrix_is_the_cross_product(a, b):
    assert cross_matrix(a) @ b == pytest.approx(np.cross(a, b), abs=1e-15)


@given(vector, st.floats(2000, 12000), st.floats(-0.03, 0.03), st.tuples(st.floats(-300, 300), st.floats(-300, 300)))
def test_rays_undo_the_picture(offset, f, kappa, shift):
    Xc = np.array([0.0, 0.0, 5.0]) + offset * [1.2, 0.8, 1.0]
    rho, pp = 3605.0, np.array([2999.5, 1999.5]) + shift
    x = image(Xc, np.float64(f), np.float64(kappa), np.float64(rho), pp)
    if np.linalg.norm(x - pp) > 1.3 * rho:  # beyond the picture the barrel folds
        return
    d = rays(x[None], f, kappa, rho, pp)[0]
    assert d[:2] == pytest.approx(Xc[:2] / Xc[2], abs=1e-9)


@given(vector, st.floats(-0.03, 0.03))
@settings(max_examples=50)
def test_derivatives_are_those_of_the_picture(offset, kappa):
    Xc, logf, rho, pp = np.array([0.0, 0.0, 4.0]) + offset, np.log(6000.0), np.float64(3605.0), np.zeros(2)

    def see(Xc, logf, kappa):
        return image(Xc, np.exp(logf), np.float64(kappa), rho, pp)

    x, dXc, dlogf, dkappa = image_with_derivatives(Xc, np.exp(logf), np.float64(kappa), rho, pp)
    h = 1e-6
    by_place = np.stack([(see(Xc + h * e, logf, kappa) - see(Xc - h * e, logf, kappa)) / (2 * h) for e in np.eye(3)], 1)
    assert x == pytest.approx(see(Xc, logf, kappa))
    assert dXc == pytest.approx(by_place, abs=1e-3)
    assert dlogf == pytest.approx((see(Xc, logf + h, kappa) - see(Xc, logf - h, kappa)) / (2 * h), abs=1e-3)
    assert dkappa == pytest.approx((see(Xc, logf, kappa + h) - see(Xc, logf, kappa - h)) / (2 * h), abs=1e-3)


def test_what_lies_behind_the_camera_has_no_picture():
    R = look_at(np.array([5.0, 0, 1]), np.zeros(3))
    x = project(np.array([[0.0, 0, 0], [9.0, 0, 1]]), R, np.array([5.0, 0, 1]), 5000.0, 0.0, np.array([2999.5, 1999.5]))
    assert np.isfinite(x[0]).all() and np.isnan(x[1]).all()


def test_pixels_go_right_and_down():
    place = np.array(
        [5.0, 0.0, 1.0]
    )  # in front of the car, looking back at it: the car's left is on the picture's right
    R = look_at(place, np.array([0.0, 0.0, 1.0]))
    middle, left, above = project(
        np.array([[0.0, 0, 1], [0, 1, 1], [0, 0, 2]]), R, place, 5000.0, 0.0, np.array([100.0, 50.0])
    )
    assert middle == pytest.approx([100, 50])
    assert left == pytest.approx([1100, 50])
    assert above == pytest.approx([100, -950])
