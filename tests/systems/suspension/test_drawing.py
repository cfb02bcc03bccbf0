"""The linkage as lines: rods keep their lengths, sides mirror, names are the marks' own."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.systems.suspension.axes import mirror
from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.drawing import KINDS, Segment, middle, segments
from longlens.systems.suspension.kinematics import solve
from tests.systems.suspension.cars import corner
from tests.systems.suspension.test_beam import axle

DEG = np.pi / 180


def by_name(made: list[Segment]) -> dict[str, np.ndarray]:
    assert len({s.name for s in made}) == len(made)
    assert {s.kind for s in made} <= set(KINDS)
    return {s.name: s.points for s in made}


def lengths(points: np.ndarray) -> np.ndarray:
    return np.linalg.norm(np.diff(points, axis=-2), axis=-1)


@pytest.mark.parametrize("layout", ["double_wishbone", "strut", "five_link"])
def test_every_part_keeps_its_shape_over_travel_roll_and_rack(layout: str) -> None:
    c = corner(layout, rocker=layout == "double_wishbone")
    still = by_name(segments(c))
    travel = np.linspace(-0.02, 0.02, 5)
    moved = by_name(segments(c, travel, roll=1 * DEG, rack=0.005))
    assert moved.keys() == still.keys()
    for name, points in moved.items():
        assert points.shape == (5, *still[name].shape)
        assert np.all(np.isfinite(points))
        if not name.endswith((".spring", ".strut", "heave_element", "anti_roll_bar")):
            np.testing.assert_allclose(lengths(points), np.broadcast_to(lengths(still[name]), lengths(points).shape))
    if layout == "double_wishbone":
        spring = lengths(moved["left.front.spring"])[:, 0]
        assert np.ptp(spring) > 0.005


def test_wheels_go_where_the_linkage_takes_them_and_the_right_is_the_mirror_image() -> None:
    c = corner(rocker=True)
    made = by_name(segments(c, 0.02))
    m = solve(c, 0.02)
    np.testing.assert_allclose(made["left.front.track_rod"][1], m.point("track_rod.outer"))
    for name, points in made.items():
        if name.startswith("left."):
            np.testing.assert_allclose(made[name.replace("left", "right")], mirror(points), atol=1e-12)


def test_roll_lifts_the_right_wheel_against_the_body_and_steer_turns_both_wheels_one_way() -> None:
    c = corner()
    rolled = by_name(segments(c, roll=1 * DEG))
    middle_of = {s: rolled[f"{s}.front.tyre"][:-1].mean(axis=0)[2] for s in ("left", "right")}
    assert middle_of["right"] - middle_of["left"] == pytest.approx(2 * 0.720 * np.tan(1 * DEG), rel=1e-6)
    steered = by_name(segments(c, rack=0.01))
    ahead = [steered[f"{s}.front.tyre"][0] - steered[f"{s}.front.tyre"][24] for s in ("left", "right")]
    turned = [np.arctan2(d[1], d[0]) for d in ahead]
    assert abs(turned[0]) > 1 * DEG and turned[0] * turned[1] > 0


def test_the_tyre_touches_the_contact_centre() -> None:
    from longlens.systems.suspension.geometry import contact

    c = corner()
    ring = by_name(segments(c, 0.01))["left.front.tyre"]
    assert np.min(np.linalg.norm(ring - contact(solve(c, 0.01)), axis=-1)) < 1e-9


def test_out_of_reach_is_nan_and_nothing_else() -> None:
    made = by_name(segments(corner(rocker=True), np.array([0.0, 0.9])))
    for points in made.values():
        assert np.all(np.isfinite(points[0]))
    assert np.all(np.isnan(made["left.front.tyre"][1]))


def test_the_middle_of_the_draws_is_one_car() -> None:
    c = corner(rocker=True)
    rng = np.random.default_rng(0)
    drawn = Corner(
        c.layout,
        {k: p + rng.normal(0, 1e-3, (4000, 3)) for k, p in c.points.items()},
        np.broadcast_to(c.spin, (4000, 3)),
        np.full(4000, 0.29),
        c.mounts,
    )
    one = middle(drawn)
    assert one.points["track_rod.outer"].shape == (3,)
    np.testing.assert_allclose(one.points["track_rod.outer"], c.points["track_rod.outer"], atol=1e-4)
    assert segments(one)


@pytest.mark.parametrize("kind", ["panhard", "four links"])
def test_a_beam_axle_is_drawn_too(kind: str) -> None:
    made = by_name(segments(axle(kind), np.array([-0.02, 0.0, 0.02]), end="rear"))
    assert lengths(made["rear.beam"]) == pytest.approx(1.5)
    rod = "rear.panhard_rod" if kind == "panhard" else "left.rear.upper_link"
    assert np.ptp(lengths(made[rod])) < 1e-9


def test_one_side_only() -> None:
    made = by_name(segments(corner(rocker=True), sides=("left",)))
    assert all(n.startswith("left.") for n in made)
