"""What is given to a sheet: plain JSON values from a file or a dossier, read into numbers with draws.

A figure is written as ``{"value": 650, "sd": 10, "unit": "kg", "source": "press sheet"}``. Its fields:

``value``        the figure; a list of them for a place
``unit``         any unit of the quantity; may be left out only where there is none
``sd``           one standard deviation, same unit (a difference for temperatures)
``relative_sd``  the same as a share of the value
``low``, ``high`` limits: alone they mean anywhere between, with ``value`` a triangle that peaks there
``shape``        ``uniform``, ``triangular``, ``normal`` (limits then are the 95 % bounds), ``lognormal`` (the
same),
                 ``truncated normal`` (value and sd within the limits)
``kind``         ``stated`` (default), ``measured`` or ``assumed``; assumed needs ``reason``
``source``, ``reason``   text
``id``           two figures with one id are the same fact: they draw the same
``fact``, ``measure``, ``point``   instead of a value: that number of the dossier
``output``       instead of a value: ``AREA.OUTPUT`` of a sheet that ran before on the same dossier
``along``        with ``point``: its component ``x``, ``y`` or ``z``; ``from``: less that of another point
``otherwise``    with a link: the figure to take where the dossier does not have that number, or one that cannot be
"""

from __future__ import annotations

import difflib
import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from longlens.errors import UnusableInput
from longlens.numbers import distributions as dist
from longlens.numbers import units
from longlens.numbers.distributions import Distribution
from longlens.numbers.number import DRAWS, Number
from longlens.numbers.streams import Array, stratified
from longlens.numbers.trail import Origin
from longlens.systems.sheet import Choice, Input, Sheet, Structure

MAX_BYTES = 8 * 1024 * 1024
MAX_DRAWS = 100_000
#: Of one input: figures times draws.
MAX_FIGURES = 20_000_000
_NUMBER_FIELDS = (
    *("value", "unit", "sd", "relative_sd", "low", "high", "shape", "kind"),
    *("source", "reason", "id", "fact", "measure", "point", "output", "note", "along", "from", "otherwise"),
)
_SHAPES = ("normal", "uniform", "triangular", "lognormal", "truncated normal")
_TOP = ("area", "name", "note", "draws", "inputs", "variants", "format", "version")


@dataclass(frozen=True)
class Given:
    """Raw inputs of one sheet run.

    Parameters
    ----------
    inputs : name → plain JSON value (figure, text, structure).
    variants : variant → name → value that replaces the input.
    known : numbers of a dossier, as ``fact:ID``, ``measure:ID``, ``point:ID``; of sheets run before, as
        ``output:AREA.NAME``.
    scope : keeps the stated facts of two vehicles apart.
    where : named in errors, e.g. the file.
    """

    inputs: Mapping[str, Any] = field(default_factory=dict)
    variants: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    known: Mapping[str, Number] = field(default_factory=dict)
    scope: str = ""
    where: str = ""
    draws: int = DRAWS

    def under(self, variant: str) -> Mapping[str, Any]:
        """The inputs under a variant; "" is as given."""
        if not variant:
            return self.inputs
        if variant not in self.variants:
            raise UnusableInput(
                f"there is no variant {variant!r}",
                where=self.where,
                fix=f"the variants are: {', '.join(self.variants) or 'none'}",
            )
        return {**self.inputs, **self.variants[variant]}


@dataclass
class Reading:
    """Reads figures inside a structure; what it read is kept in ``numbers`` for the trail and the drivers."""

    where: str
    name: str
    draws: int = DRAWS
    scope: str = ""
    known: Mapping[str, Number] = field(default_factory=dict)
    numbers: dict[str, Number] = field(default_factory=dict)

    def number(
        self,
        raw: Any,
        name: str,
        unit: str,
        *,
        shown: str = "",
        plausible: tuple[float, float] | None = None,
        shape: tuple[int, ...] | None = (),
        assumption: Distribution | None = None,
        reason: str = "",
    ) -> Array:
        """Draws (N, *shape) in SI of the figure ``raw``; ``name`` is its path inside the structure.

        Pass None as ``raw`` to use the assumption. Raises UnusableInput where it does not fit.
        """
        wanted = Input(f"{self.name}.{name}", unit, name, shown, assumption, reason, plausible, shape)
        if raw is None and assumption is None:
            raise self.wrong(name, "is missing", f"give it in {shown or unit}")
        found = read_number(raw, wanted, self._given()) if raw is not None else assume(wanted, self.draws)
        self.numbers[wanted.name] = found
        return found.draws

    def table(self, raw: Any, name: str, fields: tuple[str, ...], optional: tuple[str, ...] = ()) -> dict[str, Any]:
        """An object with the named fields, and no other."""
        if not isinstance(raw, dict):
            raise self.wrong(name, "must be an object {…}", "see docs/sheets.md")
        for key in raw:
            if key not in (*fields, *optional):
                raise self.wrong(name, f"has no field {key!r}", _closest(key, (*fields, *optional)))
        for key in fields:
            if key not in raw:
                raise self.wrong(name, f"needs {key!r}", "add it")
        return raw

    def wrong(self, name: str, what: str, fix: str) -> UnusableInput:
        """An error at a place inside the structure."""
        return UnusableInput(what, where=_place(self.where, self.name, name), fix=fix)

    def _given(self) -> Given:
        return Given(known=self.known, scope=self.scope, where=self.where, draws=self.draws)


@dataclass(frozen=True)
class Structured:
    """A structure as read: the value for the steps, a key of its content, and the numbers inside."""

    value: Any
    key: str
    numbers: Mapping[str, Number]
    origin: Origin


Read = Number | str | Structured | None


def read(sheet: Sheet, given: Given, variant: str = "") -> dict[str, Read]:
    """Every input of the sheet: a Number, a text, a structure, or None where neither given nor assumed.

    Raises UnusableInput for what does not fit, with the place.
    """
    raw = given.under(variant)
    names = [x.name for x in sheet.inputs]
    for name in raw:
        if name not in names:
            raise UnusableInput(
                f"the {sheet.area} sheet has no input {name!r}",
                where=_place(given.where, variant),
                fix=_closest(name, names),
            )
    return {x.name: _read_one(x, raw.get(x.name), given, sheet.area) for x in sheet.inputs}


def _read_one(x: Input | Choice | Structure, raw: Any, given: Given, area: str) -> Read:
    if isinstance(x, Input):
        if raw is not None:
            return read_number(raw, x, given)
        known = _unasked(x, given)
        if known is not None:
            return known
        return None if x.assumption is None else assume(x, given.draws, area)
    if isinstance(x, Choice):
        return x.assumption if raw is None else _read_choice(raw, x, given)
    if raw is None:
        raw = x.assumption
    return None if raw is None else _read_structure(raw, x, given)


def _unasked(x: Input, given: Given) -> Number | None:
    """A dossier's number that has the input's own name, where its unit fits."""
    for kind in ("measure", "fact"):
        found = given.known.get(f"{kind}:{x.name}")
        if (
            found is not None
            and units.same_quantity(found.unit, x.unit)
            and (x.shape is None or found.shape == x.shape)
        ):
            return _fitted(found, x, given)
    return _linked(x, given)


def _linked(x: Input, given: Given) -> Number | None:
    """What another sheet gave for it, whatever it is: a computed figure is not refused for being odd."""
    found = given.known.get(f"output:{x.linked}") if x.linked else None
    if found is None or not units.same_quantity(found.unit, x.unit) or found.n != given.draws:
        return None
    if found.shape != x.shape or not np.all(np.isfinite(found.draws)):
        return None
    return Number(found.draws, x.unit, found.origin, found.best, shown=x.shown or found.shown)


def _read_choice(raw: Any, x: Choice, given: Given) -> str:
    if isinstance(raw, dict):
        raw = raw.get("value")
    if not isinstance(raw, str):
        raise UnusableInput("must be a text", where=_place(given.where, x.name), fix=_options(x))
    if x.options and raw not in x.options:
        raise UnusableInput(f"{raw!r} is not known", where=_place(given.where, x.name), fix=_options(x))
    return raw


def _options(x: Choice) -> str:
    return f"choose one of: {', '.join(x.options)}" if x.options else x.meaning


def _read_structure(raw: Any, x: Structure, given: Given) -> Structured:
    reading = Reading(given.where, x.name, given.draws, given.scope, given.known)
    try:
        value = x.read(raw, reading)
    except (KeyError, TypeError, ValueError, AttributeError, IndexError, OverflowError) as e:
        # A reader meant for well-formed input met a stranger's file: that is the file's fault, not ours.
        raise UnusableInput(
            f"does not have the expected form ({type(e).__name__}: {e})",
            where=_place(given.where, x.name),
            fix=x.meaning,
        ) from e
    digest = hashlib.sha256(json.dumps(raw, sort_keys=True, default=str).encode())
    for name, number in reading.numbers.items():
        digest.update(f"{name}={number.key}".encode())
    origin = Origin(x.name, "stated", inputs=tuple(n.origin for n in reading.numbers.values()))
    return Structured(value, digest.hexdigest()[:32], reading.numbers, origin)


def assume(x: Input, draws: int, area: str = "") -> Number:
    """The assumption of an input as a number. Its stream is its name's: the same for every vehicle."""
    if x.assumption is None:
        raise ValueError(f"{x.name} has no assumption")
    u = stratified(f"assumed:{x.name}", draws)
    origin = Origin(x.name, "assumed", reason=x.reason)
    return Number(x.assumption.quantile(u), x.unit, origin, x.assumption.centre, shown=x.shown or None)


# Figures ------------------------------------------------------------------------------------------


def read_number(raw: Any, x: Input, given: Given) -> Number:
    """A figure as a number in the input's SI unit. Raises UnusableInput with place, fault and fix."""
    where = _place(given.where, x.name)
    if isinstance(raw, Number):
        return _fitted(raw, x, given)
    if (isinstance(raw, (int, float)) and not isinstance(raw, bool)) or isinstance(raw, list):
        raw = {"value": raw}
    if not isinstance(raw, dict):
        raise UnusableInput(f"{raw!r} is no figure", where=where, fix=_example(x))
    for key in raw:
        if key not in _NUMBER_FIELDS:
            raise UnusableInput(f"a figure has no field {key!r}", where=where, fix=_closest(key, _NUMBER_FIELDS))
    linked = [k for k in ("fact", "measure", "point", "output") if k in raw]
    if linked:
        if "otherwise" in raw and not _is_known(raw, linked[0], given):
            return read_number(raw["otherwise"], x, given)
        found = _known(raw, linked[0], where, given)
        try:
            return _fitted(found, x, given)
        except UnusableInput:
            if "otherwise" not in raw:
                raise
            return read_number(raw["otherwise"], x, given)  # measured, but so badly that it cannot be
    unit = _unit_of(raw, x, where)
    cells = _distributions(raw, where, x)
    shape = np.shape(raw["value"]) if "value" in raw else np.shape(raw["low"])
    if x.shape is not None and shape != x.shape:
        raise UnusableInput(f"has the shape {shape}, not {x.shape}", where=where, fix=_example(x))
    if len(cells) * given.draws > MAX_FIGURES:
        raise UnusableInput("is too many figures for so many draws", where=where, fix="give fewer, or fewer draws")
    return _fitted(_drawn(raw, cells, shape, unit, x, where, given), x, given)


def _is_known(raw: dict[str, Any], kind: str, given: Given) -> bool:
    keys = [f"{kind}:{raw[kind]}"] + ([f"point:{raw['from']}"] if "from" in raw else [])
    return all(key in given.known for key in keys)


def _known(raw: dict[str, Any], kind: str, where: str, given: Given) -> Number:
    def find(name: Any) -> Number:
        if f"{kind}:{name}" not in given.known:
            of_kind = [k.partition(":")[2] for k in given.known if k.startswith(kind + ":")]
            raise UnusableInput(f"there is no {kind} {name!r}", where=where, fix=_closest(str(name), of_kind))
        return given.known[f"{kind}:{name}"]

    found = find(raw[kind])
    if "along" not in raw and "from" not in raw:
        return found
    axis = {"x": 0, "y": 1, "z": 2}.get(str(raw.get("along")))
    if kind != "point" or axis is None:
        raise UnusableInput("along goes with a point", where=where, fix='write {"point": "…", "along": "x"}')
    one = found.at(axis)
    return one if "from" not in raw else one - find(raw["from"]).at(axis)


def _unit_of(raw: dict[str, Any], x: Input, where: str) -> str:
    unit = raw.get("unit")
    if unit is None:
        if x.unit != "1":
            raise UnusableInput("has no unit", where=where, fix=f'add "unit", e.g. "{x.shown or x.unit}"')
        return "1"
    try:
        fits = isinstance(unit, str) and units.same_quantity(unit, x.unit)
    except UnusableInput as e:
        raise UnusableInput(e.what, where=where, fix=f"give it in {x.shown or x.unit}") from None
    if not fits:
        raise UnusableInput(f"{unit!r} is no unit for it", where=where, fix=f"give it in {x.shown or x.unit}")
    return str(unit)


def _distributions(raw: dict[str, Any], where: str, x: Input) -> list[Distribution]:
    """One distribution per component, in the unit as typed."""
    arrays = {}
    for key in ("value", "sd", "relative_sd", "low", "high"):
        if key in raw:
            arrays[key] = _floats(raw[key], where, key)
    if "value" not in arrays and not {"low", "high"} <= set(arrays):
        raise UnusableInput("needs a value, or low and high", where=where, fix=_example(x))
    shape = raw.get("shape")
    if shape is not None and shape not in _SHAPES:
        raise UnusableInput(f"{shape!r} is no shape", where=where, fix=f"choose one of: {', '.join(_SHAPES)}")
    try:
        full = np.broadcast_arrays(*arrays.values())
        rows = zip(*(a.ravel() for a in full), strict=True)
        return [_distribution(dict(zip(arrays, map(float, row), strict=True)), shape) for row in rows]
    except ValueError as e:
        raise UnusableInput(str(e), where=where, fix=_example(x)) from None


def _distribution(f: dict[str, float], shape: str | None) -> Distribution:
    value, low, high = f.get("value"), f.get("low"), f.get("high")
    sd = f.get("sd")
    if "relative_sd" in f:
        if sd is not None or value is None:
            raise ValueError("relative_sd goes with value, and without sd")
        sd = abs(value) * f["relative_sd"]
    limits = low is not None and high is not None
    if (low is None) != (high is None):
        raise ValueError("low and high go together")
    if limits and sd is not None and shape != "truncated normal":
        raise ValueError("give either sd, or low and high (both only for a truncated normal)")
    if shape is None:
        shape = "normal" if sd is not None else ("triangular" if value is not None else "uniform") if limits else None
    if shape is None:
        assert value is not None
        return dist.Exact(value)
    if sd == 0 and value is not None:
        return dist.Exact(value)
    return _shaped(shape, value, sd, low, high)


def _shaped(shape: str, value: float | None, sd: float | None, low: float | None, high: float | None) -> Distribution:
    if shape == "truncated normal":
        if value is None or sd is None or low is None or high is None:
            raise ValueError("a truncated normal needs value, sd, low and high")
        return dist.TruncatedNormal(value, sd, low, high)
    if shape in ("normal", "lognormal") and low is not None and high is not None:
        if low > high:
            raise ValueError("low must not lie above high")
        if shape == "lognormal":
            if low <= 0:
                raise ValueError("a lognormal needs positive limits")
            return dist.LogNormal(value or math.sqrt(low * high), math.log(high / low) / (2 * dist.Z95))
        middle = (low + high) / 2 if value is None else value
        return dist.Normal(middle, (high - low) / (2 * dist.Z95))
    if shape in ("normal", "lognormal"):
        if value is None or sd is None:
            raise ValueError(f"{shape} needs value and sd, or low and high")
        if shape == "lognormal":
            if value <= 0:
                raise ValueError("a lognormal needs a positive value")
            return dist.LogNormal(value, math.sqrt(math.log1p((sd / value) ** 2)))
        return dist.Normal(value, sd)
    if low is None or high is None:
        raise ValueError(f"{shape} needs low and high")
    if shape == "triangular":
        return dist.Triangular(low, (low + high) / 2 if value is None else value, high)
    return dist.Uniform(low, high)


def _drawn(
    raw: dict[str, Any],
    cells: list[Distribution],
    shape: tuple[int, ...],
    unit: str,
    x: Input,
    where: str,
    given: Given,
) -> Number:
    kind = raw.get("kind", "stated")
    if kind not in ("stated", "measured", "assumed"):
        raise UnusableInput(f"{kind!r} is no kind of input", where=where, fix="stated, measured or assumed")
    source, reason = str(raw.get("source", "")), str(raw.get("reason", ""))
    if kind == "assumed" and not reason:
        raise UnusableInput("an assumption needs its reason", where=where, fix='add "reason"')
    identity = str(raw.get("id", x.name))
    scope = f"{given.scope}/" if given.scope and kind != "assumed" else ""
    c = units.conversion(unit)
    columns = [
        d.quantile(stratified(f"{scope}given:{identity}" + (f"[{i}]" if len(cells) > 1 else ""), given.draws))
        for i, d in enumerate(cells)
    ]
    draws = np.stack(columns, axis=-1).reshape(given.draws, *shape) * c.factor + c.offset
    best = np.reshape([d.centre for d in cells], shape) * c.factor + c.offset
    record = f"given:{identity}"
    return Number(draws, c.si, Origin(x.name, kind, record=record, source=source, reason=reason), best, shown=unit)


def _fitted(number: Number, x: Input, given: Given) -> Number:
    """The number as this input: quantity, draws, shape and plausibility checked."""
    where = _place(given.where, x.name)
    if not units.same_quantity(number.unit, x.unit):
        raise UnusableInput(f"{number.name} is in {number.unit}", where=where, fix=f"give it in {x.shown or x.unit}")
    if number.n != given.draws:
        raise UnusableInput(f"{number.name} has {number.n} draws, not {given.draws}", where=where, fix="use one number")
    if x.shape is not None and number.shape != x.shape:
        raise UnusableInput(f"{number.name} has the shape {number.shape}", where=where, fix=f"give the shape {x.shape}")
    if x.plausible is not None:
        _check_plausible(number, x, where)
    unit = x.shown or number.shown
    if number.unit == x.unit and unit == number.shown:
        return number
    return Number(number.draws, x.unit, number.origin, number.best, shown=unit)


def _check_plausible(number: Number, x: Input, where: str) -> None:
    assert x.plausible is not None
    low, high = x.plausible
    worst = [float(v) for v in np.ravel(number.value) if not low <= v <= high]
    if not worst:
        return
    shown = x.shown or x.unit
    typed = number.shown or number.unit
    as_typed = float(units.from_si(worst[0], typed))
    meant = [
        u
        for u in units.COMMON
        if u and u != typed and units.COMMON[u].si == x.unit and low <= units.to_si(as_typed, u) <= high
    ]
    a, b = (units.from_si(v, shown) for v in (low, high))
    guess = f"were {' or '.join(meant[:3])} meant?" if meant else "check value and unit"
    raise UnusableInput(
        f"{as_typed:.6g} {typed} lies outside what can be ({_short(a)} to {_short(b)} {shown})".replace(" 1 ", " "),
        where=where,
        fix=guess,
    )


def _short(x: float) -> str:
    return f"{x:.0f}" if 1e3 <= abs(x) < 1e7 else f"{x:.4g}"


def _floats(raw: Any, where: str, key: str) -> Array:
    try:
        a = np.asarray(raw, float)
    except (TypeError, ValueError):
        a = np.array(np.nan)
    if (
        a.dtype.kind != "f"
        or a.size == 0
        or a.size > 10_000
        or not np.all(np.isfinite(a))
        or isinstance(raw, (bool, str))
    ):
        raise UnusableInput(f"{key} is no finite number: {str(raw)[:60]}", where=where, fix="write it as a number")
    return a


def _example(x: Input) -> str:
    value = "…" if not x.shape else "[…]"
    return f'write it like {{"value": {value}, "sd": …, "unit": "{x.shown or x.unit}", "source": "…"}}'


def _place(*parts: str) -> str:
    return " ".join(p for p in parts if p)


def _closest(name: str, names: Any) -> str:
    names = list(names)
    near = difflib.get_close_matches(name, names, 3, 0.5)
    if near:
        return f"did you mean {' or '.join(near)}?"
    return f"there are: {', '.join(sorted(names)[:20])}" if names else "there are none"


# Files --------------------------------------------------------------------------------------------


def read_file(path: Path, area: str) -> Given:
    """The inputs in a JSON or TOML file. Raises UnusableInput with the place where it does not fit."""
    data = _parsed(path)
    where = path.name
    if not isinstance(data, dict):
        raise UnusableInput("must be an object", where=where, fix='start with {"inputs": {…}}')
    for key in data:
        if key not in _TOP:
            raise UnusableInput(f"no field {key!r} here", where=where, fix=_closest(key, _TOP))
    if data.get("area", area) != area:
        raise UnusableInput(f"is a file for {data['area']!r}", where=where, fix=f"run it with that area, not {area}")
    draws = data.get("draws", DRAWS)
    if not isinstance(draws, int) or isinstance(draws, bool) or not 100 <= draws <= MAX_DRAWS:
        raise UnusableInput("draws must be a whole number from 100 to 100000", where=where, fix="leave it out for 2000")
    inputs, variants = data.get("inputs", {}), data.get("variants", {})
    if not isinstance(inputs, dict) or not isinstance(variants, dict):
        raise UnusableInput("inputs and variants must be objects", where=where, fix='write "inputs": {…}')
    for name, overrides in variants.items():
        if not name or not isinstance(overrides, dict):
            raise UnusableInput(f"the variant {name!r} must be an object of inputs", where=where, fix="{…}")
    return Given(inputs, variants, scope=str(data.get("name", "")), where=where, draws=draws)


def _parsed(path: Path) -> Any:
    import tomllib

    try:
        if path.stat().st_size > MAX_BYTES:
            raise UnusableInput("is larger than 8 MB", where=path.name, fix="give only what the sheet needs")
        text = path.read_text("utf-8")
        if path.suffix.lower() == ".toml":
            return tomllib.loads(text)
        return json.loads(text, parse_constant=_no_constant, object_pairs_hook=_no_doubles)
    except OSError as e:
        raise UnusableInput(f"cannot be read: {e.strerror or e}", where=path.name, fix="check the path") from None
    except UnicodeDecodeError:
        raise UnusableInput("is not UTF-8 text", where=path.name, fix="save it as UTF-8") from None
    except RecursionError:
        raise UnusableInput("is nested too deeply", where=path.name, fix="flatten it") from None
    except (json.JSONDecodeError, tomllib.TOMLDecodeError) as e:
        raise UnusableInput(f"is not well formed: {e}", where=path.name, fix="correct it there") from None
    except _BadJson as e:
        raise UnusableInput(str(e), where=path.name, fix="correct it there") from None


class _BadJson(ValueError):
    pass


def _no_constant(name: str) -> Any:
    raise _BadJson(f"{name} is no number that can be used")


def _no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    out = dict(pairs)
    if len(out) != len(pairs):
        keys = [k for k, _ in pairs]
        twice = next(k for k in keys if keys.count(k) > 1)
        raise _BadJson(f"{twice!r} stands twice in one object")
    return out
