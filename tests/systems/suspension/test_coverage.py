"""From marks to figures: a few surveyed cars whose points are a true linkage. The study that counts many is
``tools/studies/suspension_coverage.py``; its figures stand in docs/suspension.md."""

from __future__ import annotations

import numpy as np
import pytest
from tools.studies.hardpoint_cars import NAMES, car
from tools.studies.suspension_coverage import Result, one_car, summary, two_stances


@pytest.fixture(scope="module")
def results() -> list[Result]:
    return [one_car(seed, draws=500, shots=4) for seed in (5101, 5102, 5103)]


def test_intervals_hold_the_truth_of_surveyed_cars(results: list[Result]) -> None:
    rows = [row for r in results for row in r.rows["alone"]]
    assert {row.name for row in rows} == set(NAMES) and len(rows) == 2 * 4 * len(results)
    z = np.array([(row.value - row.truth) / row.sd for row in rows])
    # 24 figures of 3 cars, in part correlated: by chance fewer than 19 inside has odds of 1 in 1,000 or less
    assert sum(row.inside for row in rows) >= 19
    assert np.max(np.abs(z)) < 5 and 0.4 < np.sqrt(np.mean(z**2)) < 1.7
    assert summary(results, "alone")[-1][0] == "all four"


def test_intervals_are_worth_having(results: list[Result]) -> None:
    """Marks of 1.5–3 px on four photographs say a motion ratio to some per cent, not to tens."""
    sd = [row.sd / row.truth for r in results for row in r.rows["alone"] if row.name == "spring_per_wheel"]
    assert np.median(sd) < 0.05


def test_two_stances_coupled_are_narrower_than_apart() -> None:
    found = two_stances(6001, draws=500)
    assert not found.failed
    wide = {w: np.array([row.sd for row in rows]) for w, rows in found.rows.items()}
    assert np.median(wide["coupled"] / wide["apart"]) < 1.0
    assert np.median(wide["joined"] / wide["apart"]) < 1.0
    moved = [k for k in found.sd["apart"] if k.endswith("@bump") and k in found.sd["coupled"]]
    assert np.median([found.sd["coupled"][k] / found.sd["apart"][k] for k in moved]) < 0.95


def test_the_study_is_the_same_car_for_the_same_seed() -> None:
    a, b = car(7, shots=2), car(7, shots=2)
    assert a.document == b.document and a.truth == b.truth
    assert np.allclose(a.corners["front"].points["wheel.centre"][2], a.xyz["left.front.wheel_centre"][2])
