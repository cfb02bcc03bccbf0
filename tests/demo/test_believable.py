"""The cars would work: springs are pressed in bump, no rod runs through another, toe hardly moves with the wheel.

The limits are common practice, no source, unless a line says otherwise.
"""

from __future__ import annotations

import itertools
from types import ModuleType

import numpy as np
import pytest

from longlens.demo import fulmar, gannet
from longlens.demo.mechanics import Corner, solve
from tests.demo.models import built

ENDS = ("front", "rear")
CASES = [(car, stage) for car in (fulmar, gannet) for stage in ("test", "shown")]
SPRINGS = {
    (fulmar, "rear"): fulmar.SPRING_CHASSIS,
    (gannet, "front"): gannet.SPRING_FRONT,
    (gannet, "rear"): gannet.SPRING_REAR,
}


@pytest.mark.parametrize(("car", "stage"), CASES)
def test_springs_shorten_in_bump(car: ModuleType, stage: str) -> None:
    """By 0.5 to 1.2 of the wheel's travel, all the way from rebound to bump."""
    for end, corner in zip(ENDS, car.corners(stage), strict=True):
        if (car, end) not in SPRINGS:
            continue
        bumps = np.linspace(-0.03, 0.03, 13)
        length = [np.linalg.norm(solve(corner, b).joints["lever_spring"] - SPRINGS[car, end]) for b in bumps]
        ratio = -np.diff(length) / np.diff(bumps)
        assert np.all((ratio > 0.5) & (ratio < 1.2)), (end, ratio)


@pytest.mark.parametrize("stage", ["test", "shown"])
def test_the_heave_element_shortens_when_both_wheels_rise(stage: str) -> None:
    front = fulmar.corners(stage)[0]
    joint = [solve(front, b).joints["lever_heave"][1] for b in (-0.02, 0.0, 0.02)]  # its twin is the mirror image
    assert joint[0] > joint[1] > joint[2] > 0


@pytest.mark.parametrize(("car", "stage"), CASES)
def test_the_bar_is_twisted_in_roll_and_not_in_heave(car: ModuleType, stage: str) -> None:
    """Both arms turn alike in heave; in roll one goes up and one down, by some tenths of a degree per millimetre."""
    front = car.corners(stage)[0]
    up, down = (solve(front, b).bar_angle for b in (0.01, -0.01))
    assert up * down < 0
    assert 0.05 < np.degrees(abs(up - down)) / 20 < 0.6


@pytest.mark.parametrize(("car", "stage"), CASES)
def test_bump_steer_is_small(car: ModuleType, stage: str) -> None:
    """Within ±3 deg/m at ride height."""

    def toe(c: Corner, bump: float) -> float:
        axis = solve(c, bump).wheel_axis
        return float(np.degrees(np.arctan2(axis[0], axis[1])))

    for corner in car.corners(stage):
        assert abs(toe(corner, 0.002) - toe(corner, -0.002)) / 0.004 < 3


@pytest.mark.parametrize(("car", "stage"), CASES)
def test_no_rod_runs_through_another(car: ModuleType, stage: str) -> None:
    """Axes of rods without a common joint keep their half diameters apart, in every stance of the shown car."""
    t = np.linspace(0, 1, 60)[:, None]
    name = car.__name__.rsplit(".", 1)[1]
    for stance in car.STANCES if stage == "shown" else ("static",):
        rods = {k: r for k, r in built(name, stage, stance).rods.items() if not k.startswith("right.")}
        lines = {k: np.array(r["xyz_m"][0]) + t * np.subtract(r["xyz_m"][1], r["xyz_m"][0]) for k, r in rods.items()}
        for a, b in itertools.combinations(rods, 2):
            if set(rods[a]["ends"]) & set(rods[b]["ends"]):
                continue
            gap = np.linalg.norm(lines[a][:, None] - lines[b][None], axis=-1).min()
            need = (np.max(rods[a]["diameter_m"]) + np.max(rods[b]["diameter_m"])) / 2
            assert gap > need, (stance, a, b, gap, need)
