"""Intervals and shares, taken from draws."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.numbers.streams import Array

#: Lower and upper probability of every interval that is shown.
LOW, HIGH = 0.025, 0.975


@dataclass(frozen=True)
class Interval:
    """Central value and 95 % bounds; each a float, or an array for a number that is a curve."""

    value: Any
    low: Any
    high: Any


def quantiles(draws: Array, probabilities: tuple[float, ...]) -> Array:
    """Quantiles over axis 0, leaving out draws that are not finite; NaN where none is. Shape (len, ...)."""
    draws = np.asarray(draws, float)
    if np.all(np.isfinite(draws)):
        return np.quantile(draws, probabilities, axis=0)
    kept = np.where(np.isfinite(draws), draws, np.nan)
    dead = np.all(np.isnan(kept), axis=0)
    if np.all(dead):
        return np.full((len(probabilities), *draws.shape[1:]), np.nan)
    out = np.nanquantile(np.where(dead, 0.0, kept), probabilities, axis=0)
    return np.where(dead, np.nan, out)


def of_draws(draws: Array) -> Interval:
    """Median and the 2.5 % and 97.5 % quantiles over axis 0."""
    value, low, high = quantiles(draws, (0.5, LOW, HIGH))
    if np.ndim(value) == 0:
        return Interval(float(value), float(low), float(high))
    return Interval(value, low, high)


@dataclass(frozen=True)
class Share:
    """A probability estimated from draws, with the 95 % bounds that the number of draws allows (Wilson
    1927)."""

    value: float
    low: float
    high: float

    @property
    def opposite(self) -> Share:
        """The probability of the contrary."""
        return Share(1 - self.value, 1 - self.high, 1 - self.low)


def share(hits: Any, n: int | None = None) -> Share:
    """Share of true entries (or of ``hits`` among ``n``)."""
    if n is None:
        hits = np.asarray(hits, float)
        n, hits = hits.size, float(hits.sum())
    if n == 0:
        return Share(math.nan, 0.0, 1.0)
    p, z2 = hits / n, 1.959963984540054**2
    middle = (p + z2 / (2 * n)) / (1 + z2 / n)
    half = math.sqrt(z2 * (p * (1 - p) / n + z2 / (4 * n * n))) / (1 + z2 / n)
    return Share(p, max(0.0, middle - half), min(1.0, middle + half))
