"""Bayes' rule against published worked examples (from memory)."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.claims import bayes


def after(prior: list[float], *likelihoods: list[float]) -> np.ndarray:
    return np.asarray(bayes.posterior(prior, np.log(np.array(likelihoods)).sum(axis=0)))


def test_mammography() -> None:
    """Eddy 1982, in Kahneman, Slovic & Tversky, p. 252: 1 %, 79.2 % and 9.6 % give 7.7 %."""
    assert after([0.01, 0.99], [0.792, 0.096])[0] == pytest.approx(0.077, abs=5e-4)


def test_the_taxi() -> None:
    """Bar-Hillel 1980, Acta Psychologica 44: 15 % of the cabs are blue, the witness is right in 80 %: 41 %."""
    assert after([0.15, 0.85], [0.8, 0.2])[0] == pytest.approx(0.41, abs=0.005)


def test_three_doors() -> None:
    """Selvin 1975, The American Statistician 29: one chosen, another opened by one who knows: 1/3 and 2/3."""
    np.testing.assert_allclose(after([1 / 3, 1 / 3, 1 / 3], [0.5, 1.0, 1e-300]), [1 / 3, 2 / 3, 0], atol=1e-12)


def test_evidence_adds_up_in_bans() -> None:
    """Good 1950: weights of independent evidence add up as logarithms; a factor of ten is one ban (Turing)."""
    weights = np.log(np.array([[10.0, 1.0], [2.0, 1.0]]))
    total = bayes.ratio(weights.sum(axis=0), 0, 1)
    assert np.log10(total) == pytest.approx(1 + 0.30103, abs=1e-5)
    assert after([0.5, 0.5], [10, 1], [2, 1])[0] == pytest.approx(20 / 21)


def test_two_witnesses_of_the_taxi() -> None:
    """The same cab and two independent witnesses who agree: odds 15/85 × 4 × 4."""
    odds = 15 / 85 * 16
    assert after([0.15, 0.85], [0.8, 0.2], [0.8, 0.2])[0] == pytest.approx(odds / (1 + odds), abs=1e-12)


def test_entropy_of_english_coins() -> None:
    """Shannon 1948, figure 7: a fair coin is one bit; p = 0.11 is half a bit."""
    assert bayes.entropy([0.5, 0.5]) == pytest.approx(1.0)
    assert bayes.entropy([0.11, 0.89]) == pytest.approx(0.5, abs=1e-3)


def test_capacity_of_the_binary_symmetric_channel() -> None:
    """Shannon 1948: an observation wrong in one case of ten tells 1 − H(0.1) = 0.531 bits about a fair question."""
    assert bayes.expected_information([0.5, 0.5], [[0.9, 0.1], [0.1, 0.9]]) == pytest.approx(0.5310, abs=1e-4)
