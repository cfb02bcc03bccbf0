"""What drives the width of an output, read from the draws that are there already.

Squared rank correlation sees monotonic influence; the first-order Sobol index, Var(E[y|x])/Var(y), sees any.
Both are about one input alone: with inputs that move together (points of one survey) their shares overlap and
may add up to more than one; with strong interactions, to less.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from longlens.numbers.number import Number
from longlens.numbers.streams import Array

Method = Literal["rank", "sobol"]


@dataclass(frozen=True)
class Driver:
    """One input's share of an output's variance, 0 to 1, with the standard error of that estimate."""

    name: str
    share: float
    se: float


def drivers(output: Number, inputs: Mapping[str, Number], method: Method = "rank") -> list[Driver]:
    """Inputs by their share of the output's variance, largest first.

    Inputs without spread, curves, and draws without a value are left out. An output without spread has no
    drivers.
    """
    if output.shape:
        raise ValueError("drivers are of a plain number; take one place of a curve with .at(index)")
    y = output.draws
    estimate = squared_rank_correlation if method == "rank" else first_order
    found = []
    for name, x in inputs.items():
        columns = x.draws.reshape(x.n, -1)
        for k in range(columns.shape[1]):
            column = columns[:, k]
            fine = np.isfinite(y) & np.isfinite(column)
            if fine.sum() < 50 or np.ptp(column[fine]) == 0 or np.ptp(y[fine]) == 0:
                continue
            share, se = estimate(column[fine], y[fine])
            found.append(Driver(name if columns.shape[1] == 1 else f"{name}[{k}]", share, se))
    return sorted(found, key=lambda d: -d.share)


def _ranks(x: Array) -> Array:
    from scipy.stats import rankdata

    return np.asarray(rankdata(x))


def squared_rank_correlation(x: Array, y: Array) -> tuple[float, float]:
    """Spearman's ρ², corrected for the part that chance alone gives, and its standard error; x, y (N,)."""
    n = len(x)
    rho = float(np.corrcoef(_ranks(x), _ranks(y))[0, 1])
    share = max(0.0, rho**2 - (1 - rho**2) / (n - 2))
    # Delta method on Spearman's ρ with the usual factor for ranks (Bonett and Wright 2000); at ρ = 0 the
    # square itself scatters by √2/n.
    se_rho = np.sqrt((1 + rho**2 / 2) / (n - 3)) * (1 - rho**2)
    return share, float(np.hypot(2 * abs(rho) * se_rho, np.sqrt(2) / n * (1 - rho**2)))


def first_order(x: Array, y: Array, *, classes: int | None = None) -> tuple[float, float]:
    """First-order Sobol index of ``x`` for ``y`` from given draws, and its standard error; x, y (N,).

    The correlation ratio over classes of equal probability of x (Pearson 1905; as a sensitivity estimator:
    Plischke, Borgonovo and Smith 2013), corrected for the part that chance alone gives (Kelley's ε²). The
    standard error is a jackknife over 20 groups of draws.
    Limits: needs some hundred draws; what varies faster than the classes (about 2·N^⅓ of them) is missed.
    """
    n = len(x)
    order = np.argsort(x, kind="stable")
    label = np.empty(n, np.intp)
    m = min(classes or max(4, round(2 * n ** (1 / 3))), n // 5)
    label[order] = np.arange(n) * m // n
    group = np.arange(n) % 20  # draws come in random order, so this is a random split
    count = np.zeros((20, m))
    total = np.zeros((20, m))
    square = np.zeros(20)
    np.add.at(count, (group, label), 1.0)
    yc = y - y.mean()
    np.add.at(total, (group, label), yc)
    np.add.at(square, group, yc**2)
    share = _epsilon_squared(count.sum(0), total.sum(0), square.sum())
    left_out = np.array(
        [
            _epsilon_squared(count.sum(0) - count[g], total.sum(0) - total[g], square.sum() - square[g])
            for g in range(20)
        ]
    )
    se = float(np.sqrt(19 / 20 * np.sum((left_out - left_out.mean()) ** 2)))
    return min(1.0, max(0.0, share)), se


def _epsilon_squared(count: Array, total: Array, square: float) -> float:
    n, m = count.sum(), int(np.sum(count > 0))
    within = square - np.sum(total**2 / np.maximum(count, 1))
    whole = square - total.sum() ** 2 / n
    return float(1 - (within / (n - m)) / (whole / (n - 1)))
