"""Scores of forecasts against what happened. Every function is pure and vectorised; a smaller score is better unless said.

Sources: Brier 1950 (Monthly Weather Review 78, 1–3); Murphy 1973 (Journal of Applied Meteorology 12, 595–600) for the partition;
Good 1952 for the logarithmic score; Gneiting & Raftery 2007 (JASA 102, 359–378), eq. 43, for intervals.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

Array = Any


def brier(probability: Array, happened: Array) -> Array:
    """(p − o)² for one event (...), 0 to 1: half of Brier's own sum over both outcomes."""
    p, o = np.asarray(probability, float), np.asarray(happened, float)
    return (p - o) ** 2


def brier_full(probabilities: Array, happened: Array) -> Array:
    """Brier's own score Σ_j (f_j − E_j)² over classes (..., J), 0 to 2; ``happened`` is one in the class that occurred."""
    return np.sum((np.asarray(probabilities, float) - np.asarray(happened, float)) ** 2, axis=-1)


def logarithmic(probability: Array, happened: Array) -> Array:
    """Bits of surprise: −log2 of the probability given to what happened; infinite where that was none."""
    p, o = np.asarray(probability, float), np.asarray(happened, bool)
    with np.errstate(divide="ignore"):
        return np.abs(-np.log2(np.where(o, p, 1 - p)))


def interval(low: Array, high: Array, value: Array, level: Array = 0.95) -> Array:
    """Interval score (u − l) + 2/α (l − x)⁺ + 2/α (x − u)⁺ with α = 1 − level, in the unit of the interval."""
    lo, hi, x = (np.asarray(v, float) for v in (low, high, value))
    alpha = 1 - np.asarray(level, float)
    return (hi - lo) + 2 / alpha * np.maximum(lo - x, 0) + 2 / alpha * np.maximum(x - hi, 0)


@dataclass(frozen=True)
class Partition:
    """Murphy's partition of the mean Brier score: ``score = reliability − resolution + uncertainty``."""

    score: float
    reliability: float
    resolution: float
    uncertainty: float


def partition(probability: Array, happened: Array) -> Partition:
    """Murphy's partition over the distinct probabilities that were given; exact, because nothing is put into bins."""
    p, o = np.asarray(probability, float).ravel(), np.asarray(happened, float).ravel()
    if p.size == 0:
        raise ValueError("no forecasts to score")
    values, at = np.unique(p, return_inverse=True)
    count = np.bincount(at)
    share = np.bincount(at, weights=o) / count
    base = float(np.mean(o))
    return Partition(
        float(np.mean((p - o) ** 2)),
        float(np.sum(count * (values - share) ** 2) / p.size),
        float(np.sum(count * (share - base) ** 2) / p.size),
        base * (1 - base),
    )


def skill(score: float, reference: float) -> float:
    """1 − score/reference: one is perfect, zero no better than the reference; NaN where the reference cannot be beaten."""
    return 1 - score / reference if reference > 0 else float("nan")
