"""Runs a sheet: inputs read, steps computed or taken from the cache, outputs as numbers, findings and
refusals.

>>> from longlens.systems.given import Given
>>> from longlens.systems.sheet import Input, Output, Sheet, Step
>>> sheet = Sheet(
...     "structure", "Energy",
...     inputs=(Input("mass", "kg", "all-up mass"), Input("speed", "m/s", "impact speed")),
...     outputs=(Output("energy", "J", "kinetic energy", "E = m v²/2", "Newton"),),
...     steps=(Step("energy", lambda g: {"energy": g["mass"] * g["speed"] ** 2 / 2}),))
>>> given = Given({"mass": {"value": 780, "sd": 8, "unit": "kg"}, "speed": {"value": 54, "unit": "km/h"}})
>>> print(run(sheet, given).number("energy"))
87.7 (86.0–89.5) kJ
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from longlens.errors import NotSolvable
from longlens.numbers import display, units
from longlens.numbers.drivers import Driver, Drivers, Method
from longlens.numbers.number import Number
from longlens.numbers.trail import Origin
from longlens.systems import cache as _cache
from longlens.systems.given import Given, Read, Structured, read
from longlens.systems.sheet import CAUTION, Choice, Finding, Output, Refusal, Sheet, Step, Structure


@dataclass(frozen=True)
class Outcome:
    """What came out of one run.

    Parameters
    ----------
    inputs : name → Number, text, Structured, or None where neither given nor assumed.
    numbers : name → Number of every output that could be given.
    axes : name → SI values (k,) or texts.
    refused : name → why, of every output that could not.
    inner : what steps gave beside the outputs.
    """

    sheet: Sheet
    variant: str
    inputs: Mapping[str, Read]
    numbers: Mapping[str, Number]
    axes: Mapping[str, Any]
    refused: Mapping[str, Refusal]
    inner: Mapping[str, Any]
    findings: list[Finding] = field(default_factory=list)

    def number(self, name: str) -> Number:
        """An output, or a plain input. Raises NotSolvable when it was refused, KeyError when there is
        none."""
        if name in self.numbers:
            return self.numbers[name]
        if name in self.refused:
            refusal = self.refused[name]
            raise NotSolvable(refusal.why, needs=list(refusal.needs), where=name)
        found = self.inputs[name]
        if not isinstance(found, Number):
            raise KeyError(name)
        return found

    def get(self, name: str) -> Number | None:
        """An output or a plain input, or None where there is none."""
        if name in self.numbers:
            return self.numbers[name]
        found = self.inputs.get(name)
        return found if isinstance(found, Number) else None

    @cached_property
    def leaves(self) -> dict[str, Number]:
        """All numbers that went in, those inside structures with them."""
        out: dict[str, Number] = {}
        for name, x in self.inputs.items():
            if isinstance(x, Number):
                out[name] = x
            elif isinstance(x, Structured):
                out.update(x.numbers)
        return out

    @cached_property
    def _drivers(self) -> Drivers:
        # A curve that another sheet handed on is no cause of its own: what made it is, and stands among the plain inputs.
        return Drivers({n: x for n, x in self.leaves.items() if not (x.kind == "computed" and x.shape)})

    def drivers(self, name: str, at: Any = None, *, method: Method = "rank", count: int = 5) -> list[Driver]:
        """The inputs that drive the width of an output (of one place of a curve: ``at``), largest first."""
        output = self.number(name)
        return self._drivers.of(output if at is None else output.at(at), method)[:count]

    def as_json(self, method: Method = "rank") -> dict[str, Any]:
        """Plain types: inputs, outputs with trails and drivers, axes, findings, refusals, cautions."""
        sheet = self.sheet
        return {
            "area": sheet.area,
            "variant": self.variant,
            "inputs": {name: _input_json(sheet, name, x) for name, x in self.inputs.items()},
            "axes": {a.name: self._axis_json(a.name) for a in sheet.axes if a.name in self.axes},
            "outputs": {name: self._output_json(name, method) for name in self.numbers},
            "refused": {n: {"why": r.why, "needs": list(r.needs)} for n, r in self.refused.items()},
            "findings": [{"severity": f.severity, "text": f.text, "of": list(f.of)} for f in self.findings],
            "cautions": [CAUTION, *sheet.cautions],
        }

    def _axis_json(self, name: str) -> dict[str, Any]:
        axis, values = self.sheet.axis(name), self.axes[name]
        out: dict[str, Any] = {"meaning": axis.meaning, "values": [_plain(v) for v in values]}
        if axis.unit is not None:
            out["unit"] = axis.unit
            if axis.shown:
                out["shown"] = axis.shown
        return out

    def _output_json(self, name: str, method: Method) -> dict[str, Any]:
        declared, number = self.sheet.output(name), self.numbers[name]
        out = {
            "meaning": declared.meaning,
            **number.as_json(),
            "model": declared.model,
            "source": declared.source,
            "limits": declared.limits,
        }
        if declared.along:
            out["along"] = list(declared.along)
        else:
            out["drivers"] = [
                {"input": d.name, "share": round(d.share, 4), "se": round(d.se, 4)}
                for d in self.drivers(name, method=method)
                if d.share > 2 * d.se and d.share > 0.01
            ]
        return out


def run(sheet: Sheet, given: Given, variant: str = "", *, cache: _cache.Cache | None = _cache.SHARED) -> Outcome:
    """Run a sheet under a variant ("" is as given).

    Outputs whose inputs are not known are refused with what would be needed; the others are given. Steps
    whose inputs have not changed come from the cache.

    Raises
    ------
    UnusableInput : an input does not fit.
    """
    inputs = read(sheet, given, variant)
    state = _State(sheet, given.draws, cache)
    for x in sheet.inputs:
        state.take(x.name, inputs[x.name])
    for step in sheet.steps:
        state.do(step)
    outcome = state.outcome(variant, inputs)
    outcome.findings.extend(_all_findings(outcome, given.where))
    return outcome


def run_all(sheet: Sheet, given: Given, *, cache: _cache.Cache | None = _cache.SHARED) -> dict[str, Outcome]:
    """As given (name "") and under each variant, in order."""
    return {name: run(sheet, given, name, cache=cache) for name in ("", *given.variants)}


class _State:
    """Values, keys and origins while the steps run."""

    def __init__(self, sheet: Sheet, draws: int, cache: _cache.Cache | None) -> None:
        self.sheet, self.draws, self.cache = sheet, draws, cache
        self.values: dict[str, Any] = {}
        self.keys: dict[str, str] = {}
        self.origins: dict[str, tuple[Origin, ...]] = {}
        self.refused: dict[str, Refusal] = {}

    def take(self, name: str, x: Read) -> None:
        if isinstance(x, Number):
            self.values[name], self.keys[name], self.origins[name] = x.draws, x.key, (x.origin,)
        elif isinstance(x, Structured):
            self.values[name], self.keys[name], self.origins[name] = x.value, x.key, (x.origin,)
        elif isinstance(x, str):
            self.values[name], self.keys[name] = x, f"text:{x}"
            self.origins[name] = (Origin(f"{name} {x}", "stated"),)
        else:
            self.refused[name] = _missing(self.sheet, name)

    def do(self, step: Step) -> None:
        blocked = [self.refused[n] for n in step.needs if n in self.refused]
        if blocked:
            needs = tuple(dict.fromkeys(need for r in blocked for need in r.needs))
            why = "; ".join(dict.fromkeys(r.why for r in blocked))
            self.refused.update(dict.fromkeys(step.gives, Refusal(why, needs)))
            return
        parts = [f"{n}={self.keys[n]}" for n in step.needs]
        key = _cache.digest(self.sheet.area, step.name, str(step.version), str(self.draws), *parts)
        made = self.cache.get(key) if self.cache is not None else None
        if made is None:
            made = self._computed(step)
            if self.cache is not None:
                self.cache.put(key, made)
        origins = tuple(dict.fromkeys(o for n in step.needs for o in self.origins[n]))
        for name in step.gives:
            value = made[name]
            if isinstance(value, Refusal):
                self.refused[name] = value
            else:
                self.values[name], self.origins[name] = value, origins
                # an array is known by its content, so that a change without effect stops here
                self.keys[name] = _content(value) or f"{key}.{name}"

    def _computed(self, step: Step) -> dict[str, Any]:
        try:
            with np.errstate(divide="ignore", invalid="ignore", over="ignore", under="ignore"):
                made = step.function({n: self.values[n] for n in step.needs})
        except NotSolvable as e:
            return dict.fromkeys(step.gives, Refusal(e.what, tuple(e.needs)))
        lacking = set(step.gives) - set(made)
        if lacking:
            raise RuntimeError(f"step {step.name} did not give {', '.join(sorted(lacking))}")
        outputs = {o.name for o in self.sheet.outputs}
        axes = {a.name: a for a in self.sheet.axes}
        out: dict[str, Any] = {}
        for name in step.gives:
            value = made[name]
            if name in outputs and not isinstance(value, Refusal):
                value = self._draws(name, value)
            elif name in axes and not isinstance(value, Refusal):
                value = np.array(value, float) if axes[name].unit is not None else tuple(map(str, value))
            if isinstance(value, np.ndarray) and value.flags.owndata:
                value.flags.writeable = False
            out[name] = value
        return out

    def _draws(self, name: str, value: Any) -> Any:
        a = np.asarray(value, float)
        if a.ndim == 0 or a.shape[0] not in (1, self.draws):
            a = a[None]
        if a.shape[0] == 1:
            a = np.broadcast_to(a, (self.draws, *a.shape[1:]))
        along = self.sheet.output(name).along
        if a.ndim != 1 + len(along):
            raise RuntimeError(f"{name} has the shape {a.shape[1:]}; its axes are {along}")
        a = np.where(np.isfinite(a), a, np.nan)
        if not np.any(np.isfinite(a)):
            return Refusal(f"no draw has a value for {name}", ("inputs within the limits of the model",))
        return a

    def outcome(self, variant: str, inputs: Mapping[str, Read]) -> Outcome:
        sheet = self.sheet
        axes = {a.name: self.values[a.name] for a in sheet.axes if a.name in self.values}
        numbers = {o.name: self._number(o, axes) for o in sheet.outputs if o.name in self.values}
        refused = {o.name: self.refused[o.name] for o in sheet.outputs if o.name in self.refused}
        told = set(numbers) | set(axes) | set(inputs)
        inner = {n: v for n, v in self.values.items() if n not in told}
        return Outcome(sheet, variant, inputs, numbers, axes, refused, inner)

    def _number(self, o: Output, axes: Mapping[str, Any]) -> Number:
        draws = self.values[o.name]
        shape = tuple(len(axes[a]) for a in o.along if a in axes)
        if draws.shape[1:] != shape:
            raise RuntimeError(f"{o.name} has the shape {draws.shape[1:]}, its axes {o.along} want {shape}")
        origin = Origin(o.name, "computed", source=o.source, model=o.model, inputs=self.origins[o.name])
        return Number(draws, o.unit, origin, shown=o.shown or None)


def _missing(sheet: Sheet, name: str) -> Refusal:
    x = sheet.input(name)
    unit = "" if isinstance(x, (Choice, Structure)) else f" ({display.pretty(x.shown or x.unit) or 'no unit'})"
    return Refusal(f"{name.replace('_', ' ')} is not known", (f"{name}{unit}: {x.meaning}",))


def _content(value: Any) -> str | None:
    if isinstance(value, np.ndarray) and value.dtype.kind == "f":
        import hashlib

        h = hashlib.sha256(str(value.shape).encode())
        h.update(np.ascontiguousarray(value).tobytes())
        return h.hexdigest()[:32]
    return None


# Findings -----------------------------------------------------------------------------------------


def _all_findings(outcome: Outcome, where: str) -> Iterator[Finding]:
    yield from _outside_validity(outcome)
    yield from _lost_draws(outcome)
    yield from _without_spread(outcome)
    for function in outcome.sheet.findings:
        try:
            yield from function(outcome)
        except NotSolvable:
            # A sentence about an output that was refused: the refusal itself says what is needed.
            continue


def _outside_validity(outcome: Outcome) -> Iterator[Finding]:
    for v in outcome.sheet.validity:
        number = outcome.get(v.of)
        if number is None:
            continue
        out = outside(number, v.low, v.high)
        if out > 0.025:
            yield Finding("limit", f"{v.text}: {display.percent(out)} of the draws lie outside", (v.of,))


def _lost_draws(outcome: Outcome) -> Iterator[Finding]:
    for name, number in outcome.numbers.items():
        lost = float(np.mean(number.lost))
        if lost > 0:
            words = f"{name.replace('_', ' ')} has no value in {display.percent(lost)} of the draws"
            yield Finding("caution", words, (name,))


def _without_spread(outcome: Outcome) -> Iterator[Finding]:
    bare = [
        n
        for n, x in outcome.leaves.items()
        if x.kind in ("stated", "measured") and x.unit != "1" and np.all(np.ptp(x.draws, axis=0) == 0)
    ]
    if bare:
        listed = ", ".join(b.replace("_", " ") for b in bare)
        yield Finding("note", f"taken as exact, because no spread was given: {listed}", tuple(bare))


def outside(number: Number, low: float | None, high: float | None) -> float:
    """Share of the draws with a value that lie outside [low, high], SI; of a curve, its worst place."""
    a = number.draws.reshape(number.n, -1)
    out = np.zeros(a.shape, bool)
    if low is not None:
        out |= a < low
    if high is not None:
        out |= a > high
    fine = np.isfinite(a)
    counted = fine.sum(axis=0)
    return float(np.max((out & fine).sum(axis=0) / np.maximum(counted, 1)))


def axis_for_people(sheet: Sheet, name: str, values: Any) -> tuple[Any, str]:
    """An axis' values in its people's unit, and that unit as it is set; texts stay."""
    axis = sheet.axis(name)
    if axis.unit is None:
        return values, ""
    shown = axis.shown or axis.unit
    return units.from_si(np.asarray(values), shown), display.pretty(shown)


def _input_json(sheet: Sheet, name: str, x: Read) -> Any:
    meaning = sheet.input(name).meaning
    if isinstance(x, Number):
        return {"meaning": meaning, **x.as_json()}
    if isinstance(x, Structured):
        return {"meaning": meaning, "figures": {n: v.as_json() for n, v in x.numbers.items()}}
    if isinstance(x, str):
        return {"meaning": meaning, "text": x}
    return {"meaning": meaning, "missing": True}


def _plain(v: Any) -> Any:
    return v if isinstance(v, str) else float(v)
