"""Circles: the ellipse of edge points, and the two poses that a circle's picture allows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from skimage.measure import EllipseModel

from longlens.survey.circle import basis, circle_poses, conic_in_camera, ellipse_centre, fit_ellipse

F, PRINCIPAL = 6000.0, np.array([2999.5, 1999.5])


def rim(centre, normal, radius, n=24):
    a, b = basis(normal)
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)[:, None]
    return centre + radius * (np.cos(t) * a + np.sin(t) * b)


def seen(Xc):
    return PRINCIPAL + F * Xc[:, :2] / Xc[:, 2:]


unit = st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, -0.15)).map(
    lambda v: np.array(v) / np.linalg.norm(v)
)
places = st.tuples(st.floats(-1.5, 1.5), st.floats(-0.8, 0.8), st.floats(3, 9)).map(np.array)


@given(unit, places, st.floats(0.1, 0.4))
@settings(max_examples=60, deadline=None)
def test_one_of_both_axes_is_the_true_one(normal, centre, radius):
    assume(abs(normal @ centre) / np.linalg.norm(centre) > 0.1)  # edge-on there is no ellipse
    Q = fit_ellipse(seen(rim(centre, normal, radius)))
    assert Q is not None
    poses = circle_poses(conic_in_camera(Q, F, PRINCIPAL), radius)
    assert len(poses) == 2
    assert max(abs(n @ normal) for _, n in poses) > 1 - 1e-4
    for c, n in poses:
        assert n @ c < 0 < c[2]


@given(unit, places, st.floats(0.1, 0.4))
@settings(max_examples=60, deadline=None)
def test_both_poses_give_the_picture_and_one_is_the_truth(normal, centre, radius):
    assume(abs(normal @ centre) / np.linalg.norm(centre) > 0.1)
    Q = fit_ellipse(seen(rim(centre, normal, radius)))
    poses = circle_poses(conic_in_camera(Q, F, PRINCIPAL), radius)
    assert min(np.linalg.norm(c - centre) for c, _ in poses) < 1e-4 * np.linalg.norm(centre)
    for c, n in poses:
        x = np.c_[seen(rim(c, n, radius)), np.ones(24)]
        slope = 2 * np.linalg.norm((x @ Q)[:, :2], axis=1)
        off = np.abs(np.einsum("ni,ij,nj->n", x, Q, x)) / slope  # first-order distance from the conic, px
        assert off.max() < 0.05


def test_the_ellipse_agrees_with_scikit_image():
    """Source: ``skimage.measure.EllipseModel`` (the direct fit of Fitzgibbon et al. in Halíř & Flusser's form)."""
    rng = np.random.default_rng(3)
    xy = seen(rim(np.array([0.3, -0.2, 5.0]), np.array([0.6, 0.0, -0.8]), 0.22)) + rng.normal(0, 1.0, (24, 2))
    model = EllipseModel.from_estimate(xy)
    assert ellipse_centre(fit_ellipse(xy)) == pytest.approx(model.center, abs=1e-6)


@pytest.mark.parametrize(
    "xy",
    [
        np.zeros((4, 2)),
        np.zeros((6, 2)),
        np.c_[np.arange(8.0), 2 * np.arange(8.0)],
    ],
    ids=["four points", "all the same", "on a line"],
)
def test_no_ellipse_is_no_traceback(xy):
    Q = fit_ellipse(xy)
    assert Q is None or np.all(np.isfinite(Q))


def test_a_sphere_of_signs_is_no_circle():
    assert circle_poses(np.eye(3)) == []


@given(unit)
def test_the_basis_spans_the_circles_plane(normal):
    a, b = basis(normal)
    B = np.stack([a, b, normal])
    np.testing.assert_allclose(B @ B.T, np.eye(3), atol=1e-12)
