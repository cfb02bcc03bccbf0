"""Which layout the marks show, what contradicts it, and what carries what."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.systems.suspension.identify import actuation, as_five_link, carried_by, identify
from longlens.systems.suspension.kinematics import solve
from tests.systems.suspension.cars import BASE, ROCKER, WISHBONES, corner


@pytest.mark.parametrize("layout", list(BASE))
def test_each_layout_is_told_by_its_points(layout: str) -> None:
    found = identify(BASE[layout])
    assert found[0].layout == layout and found[0].consistent and found[0].complete
    assert all(not c.consistent for c in found[1:] if c.layout != "double_wishbone" or layout != "five_link")


def test_few_marks_leave_several_layouts_open() -> None:
    few = {k: p for k, p in WISHBONES.items() if k.startswith(("lower", "wheel"))}
    open_ = [c.layout for c in identify(few) if c.consistent]
    assert {"double_wishbone", "strut"} <= set(open_)
    first = identify(few)[0]
    assert first.missing and "not seen yet" in first.sentence()


def test_a_mark_that_contradicts_is_named() -> None:
    points = WISHBONES | {"strut.top": (0.0, 0.6, 0.8)}
    c = next(c for c in identify(points) if c.layout == "double_wishbone")
    assert c.strange == ("strut.top",) and "strut.top" in c.sentence()


def test_places_contradict_too_by_their_draws() -> None:
    rng = np.random.default_rng(1)
    draws = {k: np.array(p) + rng.normal(0, 0.002, (500, 3)) for k, p in WISHBONES.items()}
    draws["upper_wishbone.outer"], draws["lower_wishbone.outer"] = (
        draws["lower_wishbone.outer"],
        draws["upper_wishbone.outer"],
    )
    c = next(c for c in identify(draws) if c.layout == "double_wishbone")
    assert not c.consistent
    assert c.contradictions[0].points == ("upper_wishbone.outer", "lower_wishbone.outer")


def test_two_links_that_meet_are_a_wishbone() -> None:
    as_links = as_five_link(WISHBONES)
    found = {c.layout: c for c in identify(as_links)}
    assert found["five_link"].complete and found["double_wishbone"].complete and found["double_wishbone"].consistent


def test_a_double_wishbone_solved_as_five_links_moves_alike() -> None:
    c = corner()
    five = type(c)("five_link", as_five_link(c.points), c.spin, c.radius)
    z = np.linspace(-0.05, 0.05, 11)
    for rack in (0.0, 0.012):
        assert np.allclose(
            solve(five, z, rack).point("track_rod.outer"), solve(c, z, rack).point("track_rod.outer"), atol=1e-10
        )


def test_what_carries_the_pushrod() -> None:
    assert carried_by(WISHBONES | ROCKER, "pushrod.outer") == {"lower_wishbone": 1.0}
    assert carried_by(WISHBONES | {"pushrod.outer": (0.0, 0.6, 0.38)}, "pushrod.outer") == {"upper_wishbone": 1.0}
    assert carried_by(WISHBONES | {"pushrod.outer": (0.0, 0.66, 0.28)}, "pushrod.outer") == {"upright": 1.0}


def test_push_or_pull() -> None:
    assert actuation(ROCKER) == {"pushrod": 1.0}
    assert actuation({"pullrod.outer": (0, 0.6, 0.4), "pullrod.inner": (0, 0.2, 0.15)}) == {"pullrod": 1.0}
    assert actuation({"strut.top": (0, 0.6, 0.8)}) == {"direct": 1.0}
