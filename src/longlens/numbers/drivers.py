"""What drives the width of an output, read from the draws that are there already.

Squared rank correlation sees monotonic influence; the first-order Sobol index, Var(E[y|x])/Var(y), sees any.
Both are about one input alone: with inputs that move together (points of one survey) their shares overlap and
may add up to more than one; with strong interactions, to less.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
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


class Drivers:
    """The drivers of any number of outputs from one set of inputs; the inputs are ranked once.

    Inputs without spread are left out; of a place each coordinate counts by itself, as ``name.x`` (of a curve, each
    value as ``name[i]``).
    """

    def __init__(self, inputs: Mapping[str, Number]) -> None:
        self.names: list[str] = []
        columns: list[Array] = []
        for name, x in inputs.items():
            flat = x.draws.reshape(x.n, -1)
            for i in range(flat.shape[1]):
                if np.all(np.isfinite(flat[:, i])) and np.ptp(flat[:, i]) > 0:
                    self.names.append(name + _component(x.shape, i))
                    columns.append(flat[:, i])
        self._columns = np.column_stack(columns) if columns else np.zeros((0, 0))

    @cached_property
    def _ranked(self) -> Array:
        return _ranks(self._columns)

    def of(self, output: Number, method: Method = "rank") -> list[Driver]:
        """Inputs by their share of the output's variance, largest first; none for an output without spread.

        Draws in which the output has no value are left out.
        """
        if output.shape:
            raise ValueError("drivers are of a plain number; take one place of a curve with .at(index)")
        y = output.draws
        fine = np.isfinite(y)
        n = int(fine.sum())
        if not self.names or n < 50 or np.ptp(y[fine]) <= 1e-12 * abs(np.mean(y[fine])):
            return []
        if method == "rank":
            x = self._ranked if n == len(y) else _ranks(self._columns[fine])
            shares = _rank_shares(x, _ranks(y[fine]))
        else:
            shares = [first_order(self._columns[fine, i], y[fine]) for i in range(len(self.names))]
        found = [Driver(name, share, se) for name, (share, se) in zip(self.names, shares, strict=True)]
        return sorted(found, key=lambda d: -d.share)


def _component(shape: tuple[int, ...], i: int) -> str:
    if shape == ():
        return ""
    return f".{'xyz'[i]}" if shape == (3,) else f"[{i}]"


def drivers(output: Number, inputs: Mapping[str, Number], method: Method = "rank") -> list[Driver]:
    """The drivers of one output: see :class:`Drivers`."""
    return Drivers(inputs).of(output, method)


def _ranks(x: Array) -> Array:
    """Ranks over axis 0, ties at their mean. By hand: scipy.stats takes a second to load."""
    flat = x.reshape(len(x), -1)
    out = np.empty(flat.shape)
    for i in range(flat.shape[1]):
        _, place, count = np.unique(flat[:, i], return_inverse=True, return_counts=True)
        out[:, i] = (np.cumsum(count) - (count - 1) / 2)[place]
    return out.reshape(x.shape)


def squared_rank_correlation(x: Array, y: Array) -> tuple[float, float]:
    """Spearman's ρ², corrected for the part that chance alone gives, and its standard error; x, y (N,)."""
    return _rank_shares(_ranks(x)[:, None], _ranks(y))[0]


def _rank_shares(x: Array, y: Array) -> list[tuple[float, float]]:
    """The same from ranks: x (N, p), y (N,)."""
    n = len(y)
    xc, yc = x - x.mean(axis=0), y - y.mean()
    with np.errstate(invalid="ignore", divide="ignore"):
        rho = np.nan_to_num(yc @ xc / np.sqrt(np.sum(xc**2, axis=0) * np.sum(yc**2)))
    rest = 1 - rho**2
    share = np.maximum(0.0, rho**2 - rest / (n - 2))
    # Delta method on Spearman's rho with the usual factor for ranks (Bonett and Wright 2000); at rho = 0 the
    # square itself scatters by √2/n.
    se_rho = np.sqrt((1 + rho**2 / 2) / (n - 3)) * rest
    se = np.hypot(2 * np.abs(rho) * se_rho, np.sqrt(2) / n * rest)
    return list(zip(share.tolist(), se.tolist(), strict=True))


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
