"""Seeded streams: the same fact gives the same draws everywhere, whatever the order of asking.

A stream is named by the identity of what is drawn (a record's id, an input's name), never by its value: when
a figure is corrected, its draws move but keep their ranks, and a before–after comparison is free of sampling
noise.
"""

from __future__ import annotations

import hashlib

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Number of joint draws unless told otherwise.
DRAWS = 2000


def generator(identity: str) -> np.random.Generator:
    """The random generator of one identity (Philox, seeded by SHA-256 of the text)."""
    digest = hashlib.sha256(identity.encode()).digest()
    return np.random.Generator(np.random.Philox(key=int.from_bytes(digest[:16], "little")))


def stratified(identity: str, n: int = DRAWS) -> Array:
    """``n`` probabilities in (0, 1), one in each of ``n`` equal strata, in random order.

    One column of a Latin hypercube (McKay, Beckman and Conover 1979): one number's own quantiles are met
    almost exactly, while two identities stay independent as for plain random draws. ``n`` is part of the
    stream: draws of different lengths share nothing.
    """
    rng = generator(f"{identity}\x00{n}")
    return (rng.permutation(n) + rng.random(n)) / n


def resample(weights: Array, n: int, identity: str) -> NDArray[np.intp]:
    """Row numbers of ``n`` equally weighted draws from weighted ones, by systematic resampling.

    Take these rows in every array of the same survey, once: that keeps the draws joint. The rows come
    shuffled, so that their order carries nothing.

    Raises
    ------
    ValueError : weights negative, not finite, or all zero.
    """
    w = np.asarray(weights, float)
    if w.ndim != 1 or not np.all(np.isfinite(w)) or np.any(w < 0) or w.sum() <= 0:
        raise ValueError("weights must be finite, not negative, and not all zero")
    rng = generator(f"resample\x00{identity}")
    steps = (np.arange(n) + rng.random()) / n
    ends = np.cumsum(w)
    rows = np.searchsorted(ends / ends[-1], steps, side="right")
    return rng.permutation(np.minimum(rows, len(w) - 1))


def effective_draws(weights: Array) -> float:
    """Kish's effective number of draws, (Σw)²/Σw²."""
    w = np.asarray(weights, float)
    return float(w.sum() ** 2 / np.sum(w * w))
