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


def gaussian(mean: Array, covariance: Array, identity: str, n: int = DRAWS) -> Array:
    """Joint Gaussian draws (n, d) whose own mean and covariance are exactly those given.

    Moments are matched, so that whatever is linear in them comes out without sampling noise. A singular covariance is
    fine; ``n`` must exceed its rank.

    Raises
    ------
    ValueError : not symmetric, or clearly not positive semidefinite.
    """
    mean, covariance = np.atleast_1d(np.asarray(mean, float)), np.atleast_2d(np.asarray(covariance, float))
    if covariance.shape != (mean.size, mean.size) or not np.allclose(covariance, covariance.T):
        raise ValueError("the covariance must be symmetric and fit the mean")
    # scaled to a correlation first, so that metres and radians lose nothing against each other
    scale = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    unit = np.where(scale > 0, scale, 1.0)
    values, vectors = np.linalg.eigh(covariance / np.outer(unit, unit))
    if values.size and values[0] < -1e-8 * max(values[-1], 1.0):
        raise ValueError("the covariance is not positive semidefinite")
    kept = values > 1e-14 * max(values[-1], 0.0)
    if not np.any(kept):
        return np.tile(mean, (n, 1))
    from scipy.special import ndtri

    rank = int(kept.sum())
    if n <= rank:
        raise ValueError(f"{n} draws cannot have a covariance of rank {rank}")
    z = np.column_stack([ndtri(stratified(f"gaussian:{identity}:{i}", n)) for i in range(rank)])
    z -= z.mean(axis=0)
    z = np.linalg.solve(np.linalg.cholesky(z.T @ z / (n - 1)), z.T).T
    return mean + z @ (vectors[:, kept] * np.sqrt(values[kept])).T * unit


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
