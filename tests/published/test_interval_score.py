"""Gneiting & Raftery 2007, JASA 102, 359–378, eq. 43: S = (u − l) + 2/α (l − x)⁺ + 2/α (x − u)⁺, and that it is proper."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from longlens.claims import scores


@pytest.mark.parametrize(
    ("x", "level", "want"),
    [
        (0.5, 0.95, 1.0),
        (1.0, 0.95, 1.0),
        (1.1, 0.95, 1 + 2 / 0.05 * 0.1),
        (-0.2, 0.9, 1 + 2 / 0.1 * 0.2),
        (3.0, 0.5, 1 + 2 / 0.5 * 2),
    ],
)
def test_the_formula(x: float, level: float, want: float) -> None:
    assert scores.interval(0.0, 1.0, x, level) == pytest.approx(want, abs=1e-12)


def test_it_is_proper() -> None:
    """The expected score is least at the true quantiles (their section 6.2), here of the standard normal, by quadrature."""
    x = norm.ppf((np.arange(20000) + 0.5) / 20000)
    half = np.linspace(1.2, 2.8, 161)
    mean = np.array([np.mean(scores.interval(-h, h, x, 0.95)) for h in half])
    assert half[np.argmin(mean)] == pytest.approx(norm.ppf(0.975), abs=0.011)


def test_the_logarithmic_score_is_proper_and_counts_bits() -> None:
    """Good 1952: expected surprise is least when the true probability is given; one half is one bit."""
    p = np.linspace(0.01, 0.99, 99)
    mean = 0.3 * scores.logarithmic(p, True) + 0.7 * scores.logarithmic(p, False)
    assert p[np.argmin(mean)] == pytest.approx(0.3) and scores.logarithmic(0.5, False) == 1
    assert np.isinf(scores.logarithmic(0.0, True)) and scores.logarithmic(1.0, True) == 0
