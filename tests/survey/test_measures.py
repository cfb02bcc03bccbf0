"""Measures on points whose geometry is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.survey.camera import rotation
from longlens.survey.measures import angle, area, circle_radius, distance, face_area, rod_diameter

part = st.floats(-2, 2)
vector = st.tuples(part, part, part).map(np.array)


@given(vector, vector)
def test_turning_and_shifting_changes_no_measure(w, t):
    rng = np.random.default_rng(0)
    p = rng.normal(0, 1, (6, 3))
    q = p @ rotation(w).T + t
    flat = np.c_[rng.normal(0, 1, (3, 2)), np.zeros(3)]
    turned = flat @ rotation(w).T + t
    assert distance(q[0], q[1]) == pytest.approx(distance(p[0], p[1]))
    assert angle(q[0], q[1], q[2]) == pytest.approx(angle(p[0], p[1], p[2]))
    assert area(turned) == pytest.approx(area(flat))
    assert circle_radius(turned) == pytest.approx(circle_radius(flat), rel=1e-6)
    assert face_area(q[:3], q[3:]) == pytest.approx(face_area(p[:3], p[3:]))


def test_distance_along_an_axis_has_no_sign():
    a, b = np.array([0.0, 1, 2]), np.array([3.0, -4, 2])
    assert [float(distance(a, b, k)) for k in (0, 1, 2)] == [3, 5, 0]
    assert distance(a, b) == pytest.approx(np.sqrt(34))


@pytest.mark.parametrize("degrees", [0.0, 1e-5, 30.0, 90.0, 179.99999, 180.0])
def test_angles_are_exact_near_both_ends(degrees):
    t = np.radians(degrees)
    a, b = np.array([2.0, 0, 0]), 3 * np.array([np.cos(t), np.sin(t), 0])
    assert np.degrees(angle(a, np.zeros(3), b)) == pytest.approx(degrees, abs=1e-9)


def test_area_of_an_outline_that_is_not_convex():
    arrow = np.array([[0.0, 0, 0], [2, 0, 0], [2, 2, 0], [1, 0.5, 0], [0, 2, 0]])  # a square less a triangle
    assert area(arrow) == pytest.approx(4 - 1.5)
    assert area(arrow[::-1]) == pytest.approx(4 - 1.5)


@given(st.floats(0.05, 3), st.floats(60, 350), st.integers(3, 9))
def test_the_radius_of_an_arc_is_that_of_its_circle(r, span, n):
    t = np.radians(np.linspace(0, span, n))
    p = r * np.c_[np.cos(t), np.sin(t), np.zeros(n)] @ rotation(np.array([0.3, -1.0, 0.5])).T + [4, 5, 6]
    assert circle_radius(p) == pytest.approx(r, rel=1e-6)


def test_a_fitted_radius_averages_the_noise():
    rng = np.random.default_rng(1)
    t = np.linspace(0, np.pi, 12)
    noise = rng.normal(0, 1e-3, (500, 12, 3))
    r = circle_radius(0.3 * np.c_[np.cos(t), np.sin(t), 0 * t] + noise)
    assert r.shape == (500,)
    assert np.mean(r) == pytest.approx(0.3, abs=3e-4)
    assert np.std(r) < 1e-3


@pytest.mark.parametrize("steps", [4, 9, 18])
def test_the_area_of_a_quarter_cylinder_within_its_stated_error(steps):
    """The documented limit: a bend below 10° from strip to strip is short by less than 0.4 %."""
    t = np.linspace(0, np.pi / 2, steps + 1)
    rail = np.c_[0.2 * np.cos(t), 0 * t, 0.2 * np.sin(t)]
    got, true = face_area(rail, rail + np.array([0, 0.5, 0])), 0.5 * 0.2 * np.pi / 2
    chord = 2 * np.sin(t[1] / 2) / t[1]
    assert got == pytest.approx(true * chord, rel=1e-9)
    if steps >= 9:
        assert 0 <= 1 - got / true < 0.004


@given(
    st.floats(0.003, 0.06),
    st.floats(1.0, 8.0),
    st.floats(-0.3, 0.3),
    st.floats(-0.3, 0.3),
    st.floats(30, 90),
    st.floats(0, 180),
    st.booleans(),
)
def test_the_diameter_of_a_rod_from_its_outline(r, depth, x, y, slant, roll, told):
    """The outline of a cylinder seen from the eye is two planes that touch it, computed here from the tangent points."""
    at = depth * np.array([x, y, 1.0])
    eye = at / np.linalg.norm(at)
    side = np.cross(eye, [0.0, 1.0, 0.0])
    side = rotation(np.radians(roll) * eye) @ (side / np.linalg.norm(side))
    t = np.cos(np.radians(slant)) * eye + np.sin(np.radians(slant)) * side
    foot = at - (at @ t) * t  # of the perpendicular from the eye to the rod's axis
    D = np.linalg.norm(foot)
    u, v = foot / D, np.cross(t, foot / D)
    touch = [foot - r * (r / D) * u + s * r * np.sqrt(1 - (r / D) ** 2) * v for s in (1, -1)]
    for p in touch:  # it touches: the plane through the eye and the line is square to the radius there
        assert p @ (p - foot) == pytest.approx(0, abs=1e-12)
    edges = [p + (at @ t) * t for p in touch]  # seen straight across the rod at the known point
    got = rod_diameter(at, *edges, along=t if told else None)
    if told:
        assert got == pytest.approx(2 * r, rel=1e-9)
    else:  # without its direction the rod is taken as square to the line of sight
        if slant > 89.99:
            assert got == pytest.approx(2 * r, rel=1e-4)


def test_a_slanted_rod_is_still_good_without_its_direction_on_both_edges():
    """Points of the edges anywhere along them give the same diameter, once the rod's direction is told."""
    t, at, r = np.array([0.8, 0.0, 0.6]), np.array([0.2, 0.1, 4.0]), 0.012
    foot = at - (at @ t) * t
    D = np.linalg.norm(foot)
    u, v = foot / D, np.cross(t, foot / D)
    edge = [foot - r * (r / D) * u + s * r * np.sqrt(1 - (r / D) ** 2) * v for s in (1, -1)]
    for a, b in ((0.0, 0.0), (0.3, -0.2), (-0.1, 0.4)):
        assert rod_diameter(at, edge[0] + a * t, edge[1] + b * t, along=t) == pytest.approx(2 * r, rel=1e-9)
