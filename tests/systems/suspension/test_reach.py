"""Toggles and ends of reach are told, per draw and position, and never cross silently."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.systems.suspension import reach
from longlens.systems.suspension.kinematics import solve
from tests.systems.suspension.cars import corner, random_corner


@pytest.mark.parametrize("layout", ["double_wishbone", "strut", "five_link"])
def test_beyond_the_end_there_is_a_reason_and_no_number(layout: str) -> None:
    m = solve(corner(layout), np.linspace(-0.6, 0.6, 61))
    assert m.reached[30]
    assert not m.reached.all()
    assert np.all(np.isnan(m.point("wheel.centre")[~m.reached]))
    assert np.all(np.isfinite(m.point("wheel.centre")[m.reached]))
    assert np.all(m.reason[~m.reached] != reach.OK)
    told = m.unreached()
    assert sum(told.values()) == pytest.approx(np.mean(~m.reached))
    assert all(" and " in text for text in told)


@pytest.mark.parametrize("layout", ["double_wishbone", "five_link"])
def test_what_is_reached_is_one_stretch_around_the_design_position(layout: str) -> None:
    m = solve(corner(layout), np.linspace(-0.6, 0.6, 241))
    inside = np.flatnonzero(m.reached)
    assert np.array_equal(inside, np.arange(inside[0], inside[-1] + 1))
    path = m.point("track_rod.outer")[inside]
    assert np.max(np.linalg.norm(np.diff(path, axis=0), axis=1)) < 0.06  # no jump to another branch


def test_the_rack_too_far_names_the_track_rod() -> None:
    m = solve(corner(), 0.0, np.array([0.0, 0.4]))
    assert m.reason[0] == reach.OK and m.reason[1] == reach.TRACK_ROD
    assert "track rod" in next(iter(m.unreached()))


def test_a_rocker_that_cannot_follow_leaves_the_upright_where_it_is() -> None:
    c = corner(rocker=True)
    m = solve(c, np.linspace(-0.15, 0.15, 31))
    stuck = m.upright_reached & ~m.reached
    if not stuck.any():
        pytest.skip("this rocker follows all the way")
    assert np.all(np.isfinite(m.point("wheel.centre")[stuck]))
    assert np.all(np.isnan(m.point("spring.outer")[stuck]))


def test_draws_and_positions_broadcast() -> None:
    rng = np.random.default_rng(3)
    cs = [random_corner(rng, "double_wishbone", sd=0.003, rocker=True) for _ in range(5)]
    one = cs[0]
    many = type(one)(
        one.layout,
        {k: np.stack([c.points[k] for c in cs]) for k in one.points},
        np.stack([c.spin for c in cs]),
        np.full(5, 0.29),
    )
    z = np.linspace(-0.05, 0.05, 7)
    m = solve(many.over_travel(), z)
    assert m.shape == (5, 7)
    for k, c in enumerate(cs):
        assert np.allclose(m.point("spring.outer")[k], solve(c, z).point("spring.outer"), atol=1e-11)
