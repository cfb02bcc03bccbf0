"""Calibration: of what was given so many per cent, how much happened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.numbers.interval import Share, share

Array = Any


@dataclass(frozen=True)
class Bin:
    """Forecasts of about one probability: their mean, how many, the share that happened with its 95 % range (Wilson 1927)."""

    low: float
    high: float
    given: float
    count: int
    happened: Share


def calibration(probability: Array, happened: Array, edges: Array = (0, 0.2, 0.4, 0.6, 0.8, 1)) -> list[Bin]:
    """Bins [a, b), the last closed; those without forecasts are left out."""
    p, o = np.asarray(probability, float).ravel(), np.asarray(happened, bool).ravel()
    cuts = np.asarray(edges, float)
    at = np.clip(np.searchsorted(cuts, p, side="right") - 1, 0, len(cuts) - 2)
    return [
        Bin(float(cuts[k]), float(cuts[k + 1]), float(p[at == k].mean()), int(np.sum(at == k)), share(o[at == k]))
        for k in range(len(cuts) - 1)
        if np.any(at == k)
    ]
