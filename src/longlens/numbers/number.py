"""The currency: a quantity in SI, as joint draws, with a kind and a trail.

>>> wheelbase = stated("wheelbase", Normal(2.5, 0.005), "m", source="press sheet")
>>> halves = wheelbase / 2
>>> str(halves), halves.kind
('1250 (1245–1255) mm', 'computed')

Draw ``k`` of every number of one survey belongs to the same car, so arithmetic keeps correlations by itself.
"""

from __future__ import annotations

import hashlib
import math
import numbers as _abc
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from longlens.numbers import interval as _interval
from longlens.numbers import units
from longlens.numbers.distributions import Distribution, Exact, Normal
from longlens.numbers.interval import Interval, Share
from longlens.numbers.streams import DRAWS, Array, resample, stratified
from longlens.numbers.trail import Kind, Origin

__all__ = ["DRAWS", "Exact", "Normal", "Number", "assumed", "beats", "exact", "joint", "lift", "stated"]


@dataclass(frozen=True, eq=False)
class Number:
    """A quantity with joint draws.

    Parameters
    ----------
    draws : (N,) or (N, ...) SI; axis 0 counts the draws, further axes make a curve, a place or a table.
        A draw without a value is NaN (an end of travel, no solution).
    unit : SI unit, e.g. ``m``, ``rad``, ``W/K``, ``1``.
    origin : where it comes from.
    best : the best estimate where one exists besides the draws (a published figure, a least-squares value).
    shown : the unit in which people read it; None: chosen by size.
    """

    draws: Array
    unit: str
    origin: Origin
    best: Any = None
    shown: str | None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        draws = np.array(self.draws, float)
        if draws.ndim == 0 or draws.shape[0] == 0:
            raise ValueError("a number needs draws along its first axis")
        draws.flags.writeable = False
        object.__setattr__(self, "draws", draws)

    # What it is -------------------------------------------------------------------------------------------

    @property
    def name(self) -> str:
        return self.origin.name

    @property
    def kind(self) -> Kind:
        return self.origin.kind

    @property
    def n(self) -> int:
        """How many draws."""
        return self.draws.shape[0]

    @property
    def shape(self) -> tuple[int, ...]:
        """Without the axis of draws: () for a plain quantity."""
        return self.draws.shape[1:]

    @cached_property
    def key(self) -> str:
        """Hash of unit and draws: equal keys mean that any result computed from them is equal."""
        digest = hashlib.sha256(f"{self.unit}{self.draws.shape}".encode())
        digest.update(np.ascontiguousarray(self.draws).tobytes())
        return digest.hexdigest()[:32]

    # What the draws say -----------------------------------------------------------------------------------

    @cached_property
    def interval(self) -> Interval:
        """Value (best estimate, else the median) and the 95 % bounds, SI."""
        found = _interval.of_draws(self.draws)
        if self.best is None:
            return found
        best = float(self.best) if np.ndim(self.best) == 0 and not self.shape else np.asarray(self.best)
        return Interval(best, found.low, found.high)

    @property
    def value(self) -> Any:
        """Best estimate, or the median of the draws; SI."""
        return self.interval.value

    @property
    def low(self) -> Any:
        return self.interval.low

    @property
    def high(self) -> Any:
        return self.interval.high

    @cached_property
    def sd(self) -> Any:
        """Standard deviation of the finite draws, SI."""
        fine = np.isfinite(self.draws)
        count = fine.sum(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.sum(self.draws, axis=0, where=fine) / count
            out = np.sqrt(np.sum((self.draws - mean) ** 2, axis=0, where=fine) / np.maximum(count - 1, 1))
        out = np.where(count > 0, out, np.nan)
        return float(out) if np.ndim(out) == 0 else out

    @cached_property
    def lost(self) -> Any:
        """Share of draws without a value."""
        out = np.mean(~np.isfinite(self.draws), axis=0)
        return float(out) if np.ndim(out) == 0 else out

    def __str__(self) -> str:
        from longlens.numbers import display

        return display.show(self)

    def __repr__(self) -> str:
        return f"<Number {self.name!r}: {self if not self.shape else self.shape}>"

    def __format__(self, spec: str) -> str:
        if not spec:
            return str(self)
        from longlens.numbers import display

        return display.show(self, spec)

    def named(self, name: str, *, shown: str | None = None) -> Number:
        """The same number under a name of its own, with its origin below."""
        origin = Origin(name, self.kind, reason=self.origin.reason, source=self.origin.source, inputs=(self.origin,))
        return Number(self.draws, self.unit, origin, self.best, shown=shown or self.shown)

    def at(self, index: Any, name: str = "") -> Number:
        """One place of a curve, or one component of a place."""
        best = None if self.best is None else np.asarray(self.best)[index]
        origin = Origin(name or f"{self.name}[{index}]", self.kind, reason=self.origin.reason, inputs=(self.origin,))
        return Number(self.draws[(slice(None), *np.index_exp[index])], self.unit, origin, best, shown=self.shown)

    def as_json(self) -> dict[str, Any]:
        """Value, sd and bounds in SI with unit, kind, trail, and the text for people. NaN becomes null."""
        from longlens.numbers import display

        i = self.interval
        out: dict[str, Any] = {
            "value": _plain(i.value), "sd": _plain(self.sd), "low95": _plain(i.low), "high95": _plain(i.high),
            "unit": self.unit, "kind": self.kind, "trail": self.origin.as_json(),
        }  # fmt: skip
        if not self.shape:
            out["text"] = display.show(self)
        if np.any(self.lost):
            out["lost"] = _plain(self.lost)
        return out

    # Arithmetic -------------------------------------------------------------------------------------------

    def _with(self, other: Any, op: Callable[[Any, Any], Any], sign: str, unit: str, swap: bool = False) -> Number:
        number = _as_number(other, self.n)
        a, b = (number, self) if swap else (self, number)
        draws = op(*_aligned(a, b))
        inputs = tuple(x.origin for x in (a, b) if x.origin.name)
        named = f"{_label(a)} {sign} {_label(b)}"
        return Number(draws, unit, Origin(named, "computed", inputs=inputs))

    def _alike(self, other: Any, what: str) -> str:
        unit = other.unit if isinstance(other, Number) else "1"
        if unit != self.unit and not units.same_quantity(unit, self.unit):
            raise ValueError(f"cannot {what} {unit} and {self.unit}")
        return self.unit

    def __add__(self, other: Any) -> Number:
        return self._with(other, np.add, "+", self._alike(other, "add"))

    def __radd__(self, other: Any) -> Number:
        if isinstance(other, (int, float)) and other == 0:  # lets sum() start
            return self
        return self._with(other, np.add, "+", self._alike(other, "add"), swap=True)

    def __sub__(self, other: Any) -> Number:
        return self._with(other, np.subtract, "−", self._alike(other, "subtract"))

    def __rsub__(self, other: Any) -> Number:
        return self._with(other, np.subtract, "−", self._alike(other, "subtract"), swap=True)

    def __mul__(self, other: Any) -> Number:
        return self._with(other, np.multiply, "×", units.product(self.unit, _unit(other)))

    def __rmul__(self, other: Any) -> Number:
        return self._with(other, np.multiply, "×", units.product(_unit(other), self.unit), swap=True)

    def __truediv__(self, other: Any) -> Number:
        with np.errstate(divide="ignore", invalid="ignore"):
            return self._with(other, np.divide, "/", units.product(self.unit, _unit(other), -1.0))

    def __rtruediv__(self, other: Any) -> Number:
        with np.errstate(divide="ignore", invalid="ignore"):
            return self._with(other, np.divide, "/", units.product(_unit(other), self.unit, -1.0), swap=True)

    def __pow__(self, power: float) -> Number:
        if isinstance(power, Number):
            raise TypeError("a power must be a plain number")
        with np.errstate(divide="ignore", invalid="ignore"):
            return self._with(float(power), np.power, "to the power", units.product("1", self.unit, float(power)))

    def __neg__(self) -> Number:
        origin = Origin(f"−{self.name}", self.kind, reason=self.origin.reason, inputs=(self.origin,))
        return Number(-self.draws, self.unit, origin, None if self.best is None else -self.best, shown=self.shown)

    def __abs__(self) -> Number:
        return Number(np.abs(self.draws), self.unit, Origin(f"|{self.name}|", "computed", inputs=(self.origin,)))

    def sqrt(self) -> Number:
        return self**0.5


def _unit(x: Any) -> str:
    return x.unit if isinstance(x, Number) else "1"


def _label(x: Number) -> str:
    """Its name inside an expression; a long one is left to the trail."""
    if not x.name:
        return f"{x.draws.flat[0]:g}"
    if len(x.name) > 40:
        return "(…)"
    return f"({x.name})" if " " in x.name and x.kind == "computed" and not x.name.startswith("(") else x.name


def _as_number(x: Any, n: int) -> Number:
    if isinstance(x, Number):
        return x
    if isinstance(x, _abc.Real):
        return Number(np.full(n, float(x)), "1", Origin("", "stated"))
    raise TypeError(f"cannot compute with a Number and {type(x).__name__}")


def _aligned(*numbers: Number) -> list[Array]:
    """Draws with curves broadcast against plain numbers: (N,) meets (N, k) as (N, 1)."""
    counts = {x.n for x in numbers}
    if len(counts) > 1:
        raise ValueError(f"these numbers have different numbers of draws: {sorted(counts)}")
    depth = max(len(x.shape) for x in numbers)
    return [x.draws.reshape(x.n, *(1,) * (depth - len(x.shape)), *x.shape) for x in numbers]


def _plain(x: Any) -> Any:
    """Floats and lists; None for what is not finite."""
    if np.ndim(x) == 0:
        return float(x) if math.isfinite(x) else None
    return [_plain(one) for one in x]


# Making numbers
# -----------------------------------------------------------------------------------------------


def stated(
    name: str,
    distribution: Distribution | float,
    unit: str,
    *,
    source: str = "",
    record: str = "",
    identity: str = "",
    scope: str = "",
    draws: int = DRAWS,
) -> Number:
    """A published figure.

    Parameters
    ----------
    distribution : in ``unit``; a plain float is taken as exact.
    unit : any unit; the number is kept in SI and shown in this one.
    identity : names its stream; default the record's id, else the name. Two numbers of one identity move
        together.
    scope : put before the identity, to keep the facts of two vehicles apart.
    """
    origin = Origin(name, "stated", record=record, source=source)
    return _drawn(origin, distribution, unit, identity or record or name, scope, draws)


def assumed(
    name: str,
    distribution: Distribution | float,
    unit: str,
    *,
    reason: str,
    record: str = "",
    identity: str = "",
    scope: str = "",
    draws: int = DRAWS,
) -> Number:
    """An assumption with its reason; else as :func:`stated`. Its stream has no scope unless given: the same
    model error is the same for two cars, and falls out of their comparison."""
    origin = Origin(name, "assumed", record=record, reason=reason)
    return _drawn(origin, distribution, unit, identity or record or name, scope, draws)


def _drawn(origin: Origin, d: Distribution | float, unit: str, identity: str, scope: str, n: int) -> Number:
    distribution: Distribution = Exact(float(d)) if isinstance(d, (int, float)) else d
    c = units.conversion(unit)
    u = stratified(f"{scope}/{identity}" if scope else identity, n)
    draws = distribution.quantile(u) * c.factor + c.offset
    return Number(draws, c.si, origin, distribution.centre * c.factor + c.offset, shown=unit)


def exact(name: str, value: float, unit: str = "1", *, source: str = "", draws: int = DRAWS) -> Number:
    """A number without spread: a count, a definition, a setting."""
    return stated(name, Exact(value), unit, source=source, draws=draws)


def joint(
    arrays: Mapping[str, Array],
    unit: str | Mapping[str, str],
    *,
    kind: Kind = "measured",
    source: str = "",
    records: Mapping[str, str] | None = None,
    rests_on: Sequence[Origin] = (),
    best: Mapping[str, Any] | None = None,
    weights: Array | None = None,
    draws: int = DRAWS,
    identity: str = "",
) -> dict[str, Number]:
    """Numbers that belong together, row by row: the draws of one survey.

    Parameters
    ----------
    arrays : name → (M,) or (M, ...) draws in ``unit``, row k of all from one car.
    records : name → record id; default ``measure:NAME``.
    rests_on : origins of what the survey used (marks, facts).
    weights : (M,) importance weights. With them, or where M differs from ``draws``, rows are resampled once,
        for all.
    identity : names the stream of that resampling.
    """
    lengths = {np.shape(a)[0] for a in arrays.values()}
    if len(lengths) > 1:
        raise ValueError(f"joint draws must have one length, not {sorted(lengths)}")
    rows: Any = slice(None)
    if lengths:
        (m,) = lengths
        if weights is not None or m != draws:
            rows = resample(np.ones(m) if weights is None else weights, draws, identity)
    out = {}
    for name, a in arrays.items():
        c = units.conversion(unit if isinstance(unit, str) else unit[name])
        record = (records or {}).get(name, f"measure:{name}" if kind == "measured" else "")
        origin = Origin(name, kind, record=record, source=source, inputs=tuple(rests_on))
        b = None if best is None or name not in best else np.asarray(best[name]) * c.factor + c.offset
        out[name] = Number(np.asarray(a, float)[rows] * c.factor + c.offset, c.si, origin, b)
    return out


# Physics on numbers
# -------------------------------------------------------------------------------------------


def lift(
    function: Callable[..., Any],
    *numbers: Number | float,
    unit: str | Sequence[str],
    name: str | Sequence[str] = "",
    model: str = "",
    source: str = "",
) -> Any:
    """Push all draws through a plain vectorised function.

    Parameters
    ----------
    function : takes one SI array per number, returns an array with the draws along axis 0, or a tuple of
        such.
    unit, name : of the result, SI; a sequence of each when the function returns a tuple.
    model : the relation in words, for the trail; default the function's name.

    Returns a Number, or a tuple of them.
    """
    n = next((x.n for x in numbers if isinstance(x, Number)), DRAWS)
    made = [_as_number(x, n) for x in numbers]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        result = function(*_aligned(*made))
    inputs = tuple(x.origin for x in made if x.origin.name)
    label = getattr(function, "__name__", "result")

    def one(draws: Any, u: str, called: str) -> Number:
        c = units.conversion(u)
        if c.factor != 1 or c.offset:
            raise ValueError(f"a physics function gives SI; {u!r} is not")
        draws = np.asarray(draws, float)
        if draws.ndim == 0 or draws.shape[0] not in (1, n):
            raise ValueError(f"{label} gave an array of shape {draws.shape} for {n} draws")
        full = np.broadcast_to(draws, (n, *draws.shape[1:]))
        return Number(full, c.si, Origin(called, "computed", source=source, model=model or label, inputs=inputs))

    if not isinstance(result, tuple):
        return one(result, str(unit), str(name) or label)
    names = [f"{label}[{i}]" for i in range(len(result))] if isinstance(name, str) else list(name)
    given = [unit] * len(result) if isinstance(unit, str) else list(unit)
    return tuple(one(r, u, c) for r, u, c in zip(result, given, names, strict=True))


def beats(a: Number, b: Number) -> Share:
    """Probability that ``a`` is greater than ``b``, draw by draw (a tie counts half), with the bounds that
    the number of draws allows. Pairs without a value are left out."""
    if a.unit != b.unit and not units.same_quantity(a.unit, b.unit):
        raise ValueError(f"cannot compare {a.unit} and {b.unit}")
    x, y = _aligned(a, b)
    fine = np.isfinite(x) & np.isfinite(y)
    hits = np.where(x > y, 1.0, np.where(x == y, 0.5, 0.0))[fine]
    return _interval.share(hits)
