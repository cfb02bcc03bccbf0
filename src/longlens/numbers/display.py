"""Numbers for people: the right unit, the digits that the interval supports, true minus signs.

>>> format_interval(0.4496, 0.4473, 0.4520, "m")
'449.6 (447–452) mm'
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from longlens.numbers import units

if TYPE_CHECKING:
    from longlens.numbers.interval import Share
    from longlens.numbers.number import Number

MINUS, THIN = "\u2212", "\u202f"

#: SI unit → ((from this size on, people's unit), …), largest first.
_PEOPLE: dict[str, tuple[tuple[float, str], ...]] = {
    "m": ((1e4, "km"), (5.0, "m"), (0.0, "mm")),
    "m2": ((0.1, "m²"), (1e-3, "cm²"), (0.0, "mm²")),
    "m3": ((1.0, "m³"), (1e-4, "l"), (0.0, "cm³")),
    "rad": ((0.0, "°"),),
    "m/s": ((0.0, "m/s"),),
    "kg": ((0.1, "kg"), (0.0, "g")),
    "kg/s": ((0.1, "kg/s"), (0.0, "g/s")),
    "m3/s": ((0.01, "m³/s"), (0.0, "l/min")),
    "N": ((1e4, "kN"), (0.0, "N")),
    "N/m": ((1e3, "N/mm"), (0.0, "N/m")),
    "Pa": ((1e9, "GPa"), (1e6, "MPa"), (1e4, "kPa"), (0.0, "Pa")),
    "J": ((1e6, "MJ"), (1e3, "kJ"), (0.0, "J")),
    "W": ((1e6, "MW"), (1e3, "kW"), (0.0, "W")),
    "N*m": ((0.0, "Nm"),),
    "N*m/rad": ((0.0, "Nm/rad"),),
    "J/kg": ((1e3, "kJ/kg"), (0.0, "J/kg")),
    "rad/s": ((0.0, "rad/s"),),
    "kg/m3": ((0.0, "kg/m³"),),
    "m/s2": ((0.0, "m/s²"),),
    "1": ((0.0, ""),),
}
_PRETTY = {
    "m2": "m²",
    "m3": "m³",
    "cm2": "cm²",
    "mm2": "mm²",
    "deg": "°",
    "1": "",
    "degC": "°C",
    "rpm": "1/min",
    "g0": "g",
}


def people_unit(si: str, size: float) -> str:
    """The unit in which people read a quantity of that size (SI). Temperatures stay in kelvin unless told,
    because a difference must not become a temperature."""
    for least, unit in _PEOPLE.get(si, ()):
        if abs(size) >= least:
            return unit
    return pretty(si)


def pretty(unit: str) -> str:
    """A unit as it is set: m² rather than m2."""
    if unit in _PRETTY:
        return _PRETTY[unit]
    for plain, nice in (("m2", "m²"), ("m3", "m³"), ("s2", "s²"), ("*", "·")):
        unit = unit.replace(plain, nice)
    return unit


def format_interval(value: float, low: float, high: float, unit: str, *, shown: str | None = None) -> str:
    """``449.6 (447–452) mm`` from SI.

    Parameters
    ----------
    value, low, high : in the SI unit ``unit`` (or in any unit, with ``shown`` the same).
    shown : the people's unit; None: chosen by size.

    The bounds keep the digits in which the half width is 2 to 20 steps; the value one digit more where the
    half width is under 5 steps, so that rounding never moves it by more than a tenth of the half width.
    """
    shown, v, lo, hi = _shown(value, low, high, unit, shown)
    return _joined(*texts(v, lo, hi), shown)


def bare(value: float, low: float, high: float, unit: str, shown: str) -> str:
    """The same without the unit, for a table whose head names it."""
    _, v, lo, hi = _shown(value, low, high, unit, shown)
    return _joined(*texts(v, lo, hi), "")


def texts(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Value and bounds rounded together, as texts; bounds are empty for a number without spread."""
    if not all(map(math.isfinite, (value, low, high))):
        return "no value", "", ""
    half = (high - low) / 2
    if half <= 0 or half < 1e-9 * abs(value):
        return _exact_text(value), "", ""
    places, finer = _places(half)
    return _text(value, finer), _text(low, places), _text(high, places)


def _shown(value: float, low: float, high: float, unit: str, shown: str | None) -> tuple[str, float, float, float]:
    if shown is None:
        size = max((abs(x) for x in (value, low, high) if math.isfinite(x)), default=0.0)
        shown = people_unit(unit, size if unit != "rad" else 1.0)
    if shown == unit:
        return pretty(shown), value, low, high
    if units.same_quantity(shown, unit):
        # the bounds come in SI; a unit that is itself no SI unit is first read as such
        to_si = [units.to_si(x, unit) for x in (value, low, high)]
        v, a, b = (units.from_si(x, shown) for x in to_si)
        return pretty(shown), v, a, b
    raise ValueError(f"{shown} is no unit of {unit}")


def _places(half: float) -> tuple[int, int]:
    """Decimal places of the bounds and of the value."""
    places = -math.floor(math.log10(half / 2) + 1e-9)
    steps = half * 10.0**places
    return places, places + (1 if steps < 3 else 0)


def _text(x: float, places: int) -> str:
    text = f"{round(x, places):.{max(places, 0)}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    sign, digits = (MINUS, text[1:]) if text.startswith("-") else ("", text)
    whole, _, rest = digits.partition(".")
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", THIN)
    return sign + whole + (f".{rest}" if rest else "")


def _exact_text(x: float) -> str:
    text = f"{x:.6g}"
    return _text(x, 0 if "e" in text else len(text.partition(".")[2]))


def _joined(value: str, low: str, high: str, unit: str) -> str:
    tail = f" {unit}" if unit and unit != "°" else unit
    if not low:
        return f"{value}{tail}" if value != "no value" else value
    dash = " to " if MINUS in low + high else "–"
    return f"{value} ({low}{dash}{high}){tail}"


def show(number: Number, shown: str | None = None) -> str:
    """A plain number as text; a curve by its range. Says when some draws have no value."""
    shown = shown or number.shown
    if number.shape:
        i = number.interval
        if not np.any(np.isfinite(i.value)):
            return "no value"
        ends = []
        for k in (int(np.nanargmin(i.value)), int(np.nanargmax(i.value))):
            value, low, high = (float(np.ravel(x)[k]) for x in (i.value, i.low, i.high))
            ends.append(format_interval(value, low, high, number.unit, shown=shown))
        return f"from {ends[0]} to {ends[1]}"
    i = number.interval
    text = format_interval(i.value, i.low, i.high, number.unit, shown=shown)
    return f"{text}; no value in {percent(number.lost)} of the draws" if 0 < number.lost < 1 else text


def percent(p: float) -> str:
    """A share in per cent, without claiming certainty: under 0.1 % and over 99.9 % say so."""
    if not math.isfinite(p):
        return "no value"
    if p <= 0 or p >= 1:
        return f"{round(100 * min(max(p, 0), 1))} %"
    if p < 1e-3:
        return "under 0.1 %"
    if p > 0.999:
        return "over 99.9 %"
    return f"{100 * p:.1f} %" if p < 0.1 or p > 0.9 else f"{100 * p:.0f} %"


def chance(p: Share) -> str:
    """A probability from draws; where all or none of them agree, as far as their number allows to say."""
    if p.value >= 1:
        return f"over {100 * p.low:.1f} %"
    if p.value <= 0:
        return f"under {100 * p.high:.1f} %"
    return percent(p.value)


_SPOKEN = {
    "mm": "millimetres",
    "m": "metres",
    "km": "kilometres",
    "cm²": "square centimetres",
    "m²": "square metres",
    "mm²": "square millimetres",
    "m³": "cubic metres",
    "l": "litres",
    "°": "degrees",
    "°C": "degrees Celsius",
    "K": "kelvin",
    "kW": "kilowatts",
    "W": "watts",
    "MW": "megawatts",
    "N": "newtons",
    "kN": "kilonewtons",
    "N/mm": "newtons per millimetre",
    "kg": "kilograms",
    "g": "grams",
    "km/h": "kilometres per hour",
    "m/s": "metres per second",
    "l/min": "litres per minute",
    "kPa": "kilopascals",
    "bar": "bar",
    "MPa": "megapascals",
    "Hz": "hertz",
    "%": "per cent",
    "Nm": "newton metres",
    "kJ": "kilojoules",
    "MJ": "megajoules",
    "s": "seconds",
}


def spoken(value: float, low: float, high: float, unit: str, *, shown: str | None = None) -> str:
    """For a voice: ``about 450 millimetres, between 447 and 452``."""
    shown, v, lo, hi = _shown(value, low, high, unit, shown)
    text, a, b = texts(v, lo, hi)
    word = _SPOKEN.get(shown, shown)
    if not a:
        return " ".join(filter(None, [_said(text), word]))
    rough = _text(v, _places((hi - lo) / 2)[0])
    return f"about {_said(rough)}{' ' + word if word else ''}, between {_said(a)} and {_said(b)}"


def _said(text: str) -> str:
    return text.replace(MINUS, "minus ").replace(THIN, "")
