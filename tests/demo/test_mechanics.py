"""The invented cars' linkages: rods keep their lengths wherever the wheel goes."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.demo import fulmar, gannet
from longlens.demo.mechanics import Corner, CornerState, solve, vec
from longlens.errors import NotSolvable
from tests.demo.models import built

CORNERS = [
    pytest.param(
        car.corners(stage)[end], id=f"{car.__name__.rsplit('.', 1)[1]}-{stage}-{'front' if end == 0 else 'rear'}"
    )
    for car in (fulmar, gannet)
    for stage in ("test", "shown")
    for end in (0, 1)
]


def lengths(c: Corner, s: CornerState, rack: float) -> list[tuple[str, float, float]]:
    """Name, design length, present length of every rigid distance of a corner."""
    j = s.joints
    tie = c.tie_inner + vec(0, rack, 0)
    pairs = [
        ("upper front leg", c.upper_front, c.upper_outer, j["upper_front"], j["upper_outer"]),
        ("upper rear leg", c.upper_rear, c.upper_outer, j["upper_rear"], j["upper_outer"]),
        ("lower front leg", c.lower_front, c.lower_outer, j["lower_front"], j["lower_outer"]),
        ("lower rear leg", c.lower_rear, c.lower_outer, j["lower_rear"], j["lower_outer"]),
        ("track rod", c.tie_inner, c.tie_outer, tie, j["tie_outer"]),
        ("kingpin", c.upper_outer, c.lower_outer, j["upper_outer"], j["lower_outer"]),
        ("steering arm", c.lower_outer, c.tie_outer, j["lower_outer"], j["tie_outer"]),
        ("hub", c.upper_outer, c.wheel_centre, j["upper_outer"], j["wheel_centre"]),
        ("rod", c.rod_outer, c.rod_inner, j["rod_outer"], j["rod_inner"]),
        ("rod lever", c.rocker_pivot, c.rod_inner, j["rocker_pivot"], j["rod_inner"]),
    ]
    for name, p in c.lever.items():
        pairs.append((f"lever {name}", c.rocker_pivot, p, j["rocker_pivot"], j[f"lever_{name}"]))
        pairs.append((f"rocker {name}", c.rod_inner, p, j["rod_inner"], j[f"lever_{name}"]))
    if c.bar_arm is not None:
        assert c.bar_pivot is not None
        pairs.append(("bar link", c.lever["bar"], c.bar_arm, j["lever_bar"], j["bar_arm"]))
        pairs.append(("bar arm", c.bar_pivot, c.bar_arm, j["bar_pivot"], j["bar_arm"]))
    return [(n, float(np.linalg.norm(a - b)), float(np.linalg.norm(p - q))) for n, a, b, p, q in pairs]


@pytest.mark.parametrize("corner", CORNERS)
@settings(max_examples=12, deadline=None)
@given(bump=st.floats(-0.045, 0.03), rack=st.floats(-0.03, 0.03))
def test_rods_keep_their_lengths(corner: Corner, bump: float, rack: float) -> None:
    state = solve(corner, bump, rack)
    for name, design, now in lengths(corner, state, rack):
        assert now == pytest.approx(design, abs=1e-9), name
    assert state.joints["wheel_centre"][2] == pytest.approx(corner.wheel_centre[2] + bump, abs=1e-9)


@pytest.mark.parametrize("corner", CORNERS)
def test_at_rest_nothing_moves(corner: Corner) -> None:
    state = solve(corner)
    assert np.allclose(state.joints["rod_inner"], corner.rod_inner, atol=1e-12)
    assert state.rocker_angle == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("corner", CORNERS)
def test_bump_turns_the_rocker_and_steer_turns_the_wheel(corner: Corner) -> None:
    assert abs(solve(corner, 0.02).rocker_angle) > 0.05
    assert abs(solve(corner, 0, 0.02).wheel_axis[0]) > 0.05


@pytest.mark.parametrize("corner", CORNERS[:1])
def test_out_of_reach_is_said(corner: Corner) -> None:
    with pytest.raises(NotSolvable):
        solve(corner, 0.6)


@pytest.mark.parametrize(("car", "rods"), [(fulmar, ("pushrod", "track_rod")), (gannet, ("pullrod", "track_rod"))])
def test_the_models_rods_are_as_long_in_every_stance(car: ModuleType, rods: tuple[str, ...]) -> None:
    name_of_car = car.__name__.rsplit(".", 1)[1]
    static = built(name_of_car, "shown").rods
    for stance in car.STANCES:
        now = built(name_of_car, "shown", stance).rods
        for side in ("left", "right"):
            for rod in rods:
                name = f"{side}.front.{rod}"
                assert now[name]["length_m"] == pytest.approx(static[name]["length_m"], abs=1e-9), (stance, name)
