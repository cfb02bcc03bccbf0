"""Murphy 1973, Journal of Applied Meteorology 12, 595–600: the score is reliability − resolution + uncertainty, exactly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.claims import scores
from tests.published.test_brier_1950 import CAME, RAIN


def test_of_briers_ten_forecasts_by_hand() -> None:
    """Each probability was given once, but 0 four times (never rain): reliability is the score itself, resolution p(1 − p)."""
    p = scores.partition(RAIN, CAME)
    assert p.uncertainty == pytest.approx(0.3 * 0.7, abs=1e-12)
    assert p.reliability == pytest.approx(0.095, abs=1e-12) and p.resolution == pytest.approx(0.21, abs=1e-12)
    assert p.score == pytest.approx(p.reliability - p.resolution + p.uncertainty, abs=1e-12)


def test_two_groups_by_hand() -> None:
    """Said 0.8 five times and right four times; said 0.2 five times and right once: perfectly reliable."""
    p = scores.partition([0.8] * 5 + [0.2] * 5, [1, 1, 1, 1, 0, 1, 0, 0, 0, 0])
    assert p.reliability == pytest.approx(0, abs=1e-12)
    assert (p.uncertainty, p.resolution, p.score) == pytest.approx((0.25, 0.09, 0.16), abs=1e-12)


@given(st.lists(st.tuples(st.integers(0, 10), st.booleans()), min_size=1, max_size=300))
def test_it_adds_up(said: list[tuple[int, bool]]) -> None:
    p = scores.partition([s / 10 for s, _ in said], [o for _, o in said])
    assert abs(p.score - (p.reliability - p.resolution + p.uncertainty)) < 1e-12
    assert min(p.reliability, p.resolution, p.uncertainty) >= -1e-15


def test_nothing_to_score() -> None:
    with pytest.raises(ValueError, match="no forecasts"):
        scores.partition(np.array([]), np.array([]))
