"""What a stated or assumed number may be, as distributions that give their quantiles.

Each one is frozen, checked on making, and has ``quantile(u)`` for probabilities in (0, 1), vectorised. Units
are those of its parameters; :meth:`scaled` moves it to other units.
"""

from __future__ import annotations

import math
from dataclasses import Field, dataclass, fields
from typing import Any, Protocol, Self

import numpy as np

from longlens.numbers.streams import Array

#: Standard normal quantile of 97.5 %.
Z95 = 1.959963984540054


class Distribution(Protocol):
    """A one-dimensional distribution given by its quantile function."""

    def quantile(self, u: Array) -> Array: ...
    def scaled(self, factor: float, offset: float = 0.0) -> Distribution: ...
    @property
    def centre(self) -> float: ...


def _ndtri(u: Array) -> Array:
    from scipy.special import ndtri

    return np.asarray(ndtri(u))


def _fields(distribution: Any) -> tuple[Field[Any], ...]:
    return fields(distribution)


class _Checked:
    """Refuses parameters that are not finite numbers."""

    def __post_init__(self) -> None:
        for f in _fields(self):
            value = getattr(self, f.name)
            if not math.isfinite(value):
                raise ValueError(f"{f.name} must be a finite number, not {value}")
        self._check()

    def _check(self) -> None: ...


@dataclass(frozen=True)
class Exact(_Checked):
    """A number without spread: a count, a definition."""

    value: float

    def quantile(self, u: Array) -> Array:
        return np.full(np.shape(u), float(self.value))

    def scaled(self, factor: float, offset: float = 0.0) -> Self:
        return type(self)(self.value * factor + offset)

    @property
    def centre(self) -> float:
        return self.value


@dataclass(frozen=True)
class Normal(_Checked):
    """Gaussian with mean and standard deviation."""

    mean: float
    sd: float

    def _check(self) -> None:
        if self.sd < 0:
            raise ValueError("a standard deviation cannot be negative")

    def quantile(self, u: Array) -> Array:
        return self.mean + self.sd * _ndtri(u)

    def scaled(self, factor: float, offset: float = 0.0) -> Self:
        return type(self)(self.mean * factor + offset, self.sd * abs(factor))

    @property
    def centre(self) -> float:
        return self.mean


@dataclass(frozen=True)
class Uniform(_Checked):
    """Rectangular between two limits: what to assume when only limits are known (JCGM 101:2008, 6.4.2)."""

    low: float
    high: float

    def _check(self) -> None:
        if not self.low <= self.high:
            raise ValueError(f"low ({self.low:g}) must not lie above high ({self.high:g})")

    def quantile(self, u: Array) -> Array:
        return self.low + (self.high - self.low) * np.asarray(u)

    def scaled(self, factor: float, offset: float = 0.0) -> Self:
        a, b = self.low * factor + offset, self.high * factor + offset
        return type(self)(min(a, b), max(a, b))

    @property
    def centre(self) -> float:
        return (self.low + self.high) / 2


@dataclass(frozen=True)
class Triangular(_Checked):
    """Triangle between two limits with its peak at ``mode``: limits and a likeliest value are known."""

    low: float
    mode: float
    high: float

    def _check(self) -> None:
        if not self.low <= self.mode <= self.high:
            raise ValueError(f"{self.mode:g} must lie between {self.low:g} and {self.high:g}")

    def quantile(self, u: Array) -> Array:
        u = np.asarray(u, float)
        width = self.high - self.low
        if width == 0:
            return np.full(u.shape, self.low)
        left = self.mode - self.low
        rising = self.low + np.sqrt(u * width * left)
        falling = self.high - np.sqrt((1 - u) * width * (self.high - self.mode))
        return np.where(u * width < left, rising, falling)

    def scaled(self, factor: float, offset: float = 0.0) -> Self:
        a, b = self.low * factor + offset, self.high * factor + offset
        return type(self)(min(a, b), self.mode * factor + offset, max(a, b))

    @property
    def centre(self) -> float:
        return self.mode


@dataclass(frozen=True)
class LogNormal(_Checked):
    """Positive, with a median and the standard deviation of its natural logarithm."""

    median: float
    log_sd: float

    def _check(self) -> None:
        if self.median <= 0:
            raise ValueError("the median of a lognormal must be positive")
        if self.log_sd < 0:
            raise ValueError("a standard deviation cannot be negative")

    def quantile(self, u: Array) -> Array:
        return self.median * np.exp(self.log_sd * _ndtri(u))

    def scaled(self, factor: float, offset: float = 0.0) -> Self:
        if offset or factor <= 0:
            raise ValueError("a lognormal can only be scaled by a positive factor")
        return type(self)(self.median * factor, self.log_sd)

    @property
    def centre(self) -> float:
        return self.median


@dataclass(frozen=True)
class TruncatedNormal(_Checked):
    """Gaussian cut off outside [low, high]: a spread that must not cross a physical bound."""

    mean: float
    sd: float
    low: float
    high: float

    def _check(self) -> None:
        if self.sd <= 0:
            raise ValueError("a truncated normal needs a positive standard deviation")
        if not self.low < self.high:
            raise ValueError(f"low ({self.low:g}) must lie below high ({self.high:g})")
        if not self.low - 6 * self.sd < self.mean < self.high + 6 * self.sd:
            raise ValueError("the mean lies more than six standard deviations outside the bounds")

    def quantile(self, u: Array) -> Array:
        from scipy.special import ndtr

        a, b = (self.low - self.mean) / self.sd, (self.high - self.mean) / self.sd
        # The upper tail loses digits in 1 - p; mirror it so that the cut part is always the small side.
        if a > 0:
            pa, pb = ndtr(-a), ndtr(-b)
            z = -_ndtri(pa + np.asarray(u) * (pb - pa))
        else:
            pa, pb = ndtr(a), ndtr(b)
            z = _ndtri(pa + np.asarray(u) * (pb - pa))
        return np.clip(self.mean + self.sd * z, self.low, self.high)

    def scaled(self, factor: float, offset: float = 0.0) -> Self:
        a, b = self.low * factor + offset, self.high * factor + offset
        return type(self)(self.mean * factor + offset, self.sd * abs(factor), min(a, b), max(a, b))

    @property
    def centre(self) -> float:
        return min(max(self.mean, self.low), self.high)


def relative(value: float, spread: float) -> Normal:
    """Gaussian about ``value`` with a relative standard deviation (0.03: 3 %)."""
    return Normal(value, abs(value) * spread)


def within(value: float, half_width: float, share: float = 0.95) -> Normal:
    """Gaussian that holds ``share`` of its draws within ``value`` ± ``half_width``."""
    if not 0 < share < 1:
        raise ValueError("share must lie between 0 and 1")
    return Normal(value, half_width / _z_of(share))


def model_factor(scatter: float, share: float = 0.95, bias: float = 1.0) -> LogNormal:
    """The factor by which a correlation errs: multiply its result by draws of this.

    Parameters
    ----------
    scatter : published relative scatter (0.15 for "within ±15 %").
    share : share of the data within that scatter, as the source says; 0.95 when it does not say.
    bias : median of measured over predicted, 1 when unknown.

    Lognormal, so that over- and underestimates by the same factor are equally likely and no result changes
    sign.
    """
    if scatter < 0:
        raise ValueError("a scatter cannot be negative")
    if not 0 < share < 1:
        raise ValueError("share must lie between 0 and 1")
    return LogNormal(bias, math.log1p(scatter) / _z_of(share))


def _z_of(share: float) -> float:
    return float(_ndtri(np.asarray((1 + share) / 2)))


_IN_WORDS = {
    "Exact": "exactly {value}",
    "Normal": "{mean} ± {sd} (one standard deviation)",
    "Uniform": "anywhere from {low} to {high}",
    "Triangular": "{low} to {high}, likeliest {mode}",
    "LogNormal": "{median}, give or take a factor of {factor} (one standard deviation)",
    "TruncatedNormal": "{mean} ± {sd}, within {low} to {high}",
}


def in_words(distribution: Distribution) -> str:
    """A distribution in a few words, without a unit."""
    name = type(distribution).__name__
    values = {f.name: f"{getattr(distribution, f.name):.4g}" for f in _fields(distribution)}
    if isinstance(distribution, LogNormal):
        values["factor"] = f"{math.exp(distribution.log_sd):.3g}"
    return _IN_WORDS[name].format(**values)
