"""Brier 1950, Monthly Weather Review 78, 1–3: the ten forecasts of rain of his table 1 (from memory), which score 0.19."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.claims import scores

RAIN = np.array([0.7, 0.9, 0.8, 0.4, 0.2, 0, 0, 0, 0, 0.1])
CAME = np.array([0, 1, 1, 1, 0, 0, 0, 0, 0, 0])


def test_his_own_score() -> None:
    both = np.stack([RAIN, 1 - RAIN], axis=-1), np.stack([CAME, 1 - CAME], axis=-1)
    assert np.mean(scores.brier_full(*both)) == pytest.approx(0.19, abs=1e-12)


def test_for_two_classes_the_usual_one_is_half_of_it() -> None:
    assert np.mean(scores.brier(RAIN, CAME)) == pytest.approx(0.095, abs=1e-12)


def test_the_best_and_the_worst() -> None:
    assert scores.brier_full([1, 0], [1, 0]) == 0 and scores.brier_full([1, 0], [0, 1]) == 2
