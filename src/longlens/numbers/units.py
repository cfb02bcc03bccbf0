"""Units, at the edge only: what people type and read against the SI that the arrays hold.

Common units of the trade are looked up in a table; anything else goes to pint, which is loaded only then.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

from longlens.errors import UnusableInput


class Conversion(NamedTuple):
    """``SI value = value · factor + offset``, in the SI unit ``si``."""

    si: str
    factor: float
    offset: float = 0.0


_DEG = 0.017453292519943295
_G = 9.80665
_LB = 0.45359237

#: unit as typed → its SI unit. Checked against pint, entry by entry, in the tests.
COMMON: dict[str, Conversion] = {
    "1": Conversion("1", 1.0),
    "": Conversion("1", 1.0),
    "%": Conversion("1", 0.01),
    "m": Conversion("m", 1.0),
    "mm": Conversion("m", 1e-3),
    "cm": Conversion("m", 1e-2),
    "km": Conversion("m", 1e3),
    "in": Conversion("m", 0.0254),
    "ft": Conversion("m", 0.3048),
    "m2": Conversion("m2", 1.0),
    "cm2": Conversion("m2", 1e-4),
    "mm2": Conversion("m2", 1e-6),
    "m3": Conversion("m3", 1.0),
    "l": Conversion("m3", 1e-3),
    "cm3": Conversion("m3", 1e-6),
    "rad": Conversion("rad", 1.0),
    "deg": Conversion("rad", _DEG),
    "°": Conversion("rad", _DEG),
    "s": Conversion("s", 1.0),
    "min": Conversion("s", 60.0),
    "h": Conversion("s", 3600.0),
    "Hz": Conversion("Hz", 1.0),
    "rad/s": Conversion("rad/s", 1.0),
    "1/min": Conversion("rad/s", 0.10471975511965977),
    "rpm": Conversion("rad/s", 0.10471975511965977),
    "m/s": Conversion("m/s", 1.0),
    "km/h": Conversion("m/s", 1 / 3.6),
    "mph": Conversion("m/s", 0.44704),
    "m/s2": Conversion("m/s2", 1.0),
    "g": Conversion("kg", 1e-3),
    "kg": Conversion("kg", 1.0),
    "t": Conversion("kg", 1e3),
    "lb": Conversion("kg", _LB),
    "kg/s": Conversion("kg/s", 1.0),
    "kg/h": Conversion("kg/s", 1 / 3600),
    "g/s": Conversion("kg/s", 1e-3),
    "m3/s": Conversion("m3/s", 1.0),
    "l/s": Conversion("m3/s", 1e-3),
    "l/min": Conversion("m3/s", 1e-3 / 60),
    "m3/h": Conversion("m3/s", 1 / 3600),
    "kg/m3": Conversion("kg/m3", 1.0),
    "N": Conversion("N", 1.0),
    "kN": Conversion("N", 1e3),
    "N/m": Conversion("N/m", 1.0),
    "N/mm": Conversion("N/m", 1e3),
    "Nm": Conversion("N*m", 1.0),
    "N*m": Conversion("N*m", 1.0),
    "N*m/rad": Conversion("N*m/rad", 1.0),
    "Nm/rad": Conversion("N*m/rad", 1.0),
    "Nm/deg": Conversion("N*m/rad", 1 / _DEG),
    "N*s/m": Conversion("N*s/m", 1.0),
    "Pa": Conversion("Pa", 1.0),
    "kPa": Conversion("Pa", 1e3),
    "MPa": Conversion("Pa", 1e6),
    "GPa": Conversion("Pa", 1e9),
    "bar": Conversion("Pa", 1e5),
    "mbar": Conversion("Pa", 1e2),
    "hPa": Conversion("Pa", 1e2),
    "psi": Conversion("Pa", 6894.757293168361),
    "J": Conversion("J", 1.0),
    "kJ": Conversion("J", 1e3),
    "MJ": Conversion("J", 1e6),
    "kWh": Conversion("J", 3.6e6),
    "W": Conversion("W", 1.0),
    "kW": Conversion("W", 1e3),
    "MW": Conversion("W", 1e6),
    "PS": Conversion("W", 75 * _G),
    "hp": Conversion("W", 550 * 0.3048 * _LB * _G),
    "W/K": Conversion("W/K", 1.0),
    "W/m2/K": Conversion("W/m2/K", 1.0),
    "W/m/K": Conversion("W/m/K", 1.0),
    "J/kg": Conversion("J/kg", 1.0),
    "kJ/kg": Conversion("J/kg", 1e3),
    "J/kg/K": Conversion("J/kg/K", 1.0),
    "kJ/kg/K": Conversion("J/kg/K", 1e3),
    "K": Conversion("K", 1.0),
    "°C": Conversion("K", 1.0, 273.15),
    "degC": Conversion("K", 1.0, 273.15),
    "rad/m": Conversion("rad/m", 1.0),
    "deg/m": Conversion("rad/m", _DEG),
    "deg/mm": Conversion("rad/m", _DEG * 1e3),
    "kg/kWh": Conversion("kg/J", 1 / 3.6e6),
    "g/kWh": Conversion("kg/J", 1e-3 / 3.6e6),
}

_SPELLINGS = {
    "²": "2",
    "³": "3",
    "·": "*",
    "⋅": "*",
    "−": "-",
    "^": "",
    "**": "",
    "Ω": "ohm",
    "″": "in",
    '"': "in",
}
#: How pint wants what the table calls otherwise.
_FOR_PINT = {
    "°": "deg",
    "°C": "degC",
    "Nm": "N*m",
    "": "1",
    "rpm": "rpm",
    "1/min": "rpm",
    "PS": "metric_horsepower",
}


def _plain(unit: str) -> str:
    text = unit.strip().replace(" ", "")
    for spelling, plain in _SPELLINGS.items():
        text = text.replace(spelling, plain)
    return text


@lru_cache(maxsize=1)
def registry() -> Any:
    """The pint registry, made on first use."""
    import pint

    return pint.UnitRegistry(cache_folder=None)


@lru_cache(maxsize=4096)
def conversion(unit: str) -> Conversion:
    """How a unit becomes SI. Raises UnusableInput for a unit that nobody knows."""
    text = _plain(unit)
    found = COMMON.get(text)
    return found if found is not None else _by_pint(text)


def _by_pint(text: str) -> Conversion:
    import re

    ureg = registry()
    # pint would read Nm as nanometre
    expression = re.sub(r"(?<![A-Za-z])(k?N)m(?![A-Za-z])", r"(\1*m)", _FOR_PINT.get(text, text))
    # "m2" and "kg/m3" read as powers; pint wants "m**2".
    expression = re.sub(r"([A-Za-z])([2-9])(?![0-9.])", r"\1**\2", expression)
    if not re.fullmatch(r"[A-Za-zµμ°%0-9_*/().\-]{1,60}", expression):
        raise UnusableInput(f"{text!r} is no unit", fix="write it like mm, N/mm, kW, l/min, °C")
    try:
        unit = ureg.Unit(expression) if expression != "1" else ureg.Unit("dimensionless")
        base = ureg.get_base_units(unit)[1]
        zero = ureg.Quantity(0.0, unit).to(base).magnitude
        one = ureg.Quantity(1.0, unit).to(base).magnitude
    except Exception:
        raise UnusableInput(f"{text!r} is no unit", fix="write it like mm, N/mm, kW, l/min, °C") from None
    return Conversion(_named(base), float(one - zero), float(zero))


@lru_cache(maxsize=1)
def _si_names() -> dict[Any, str]:
    """Base units → the plain SI name. Joule goes before newton metre: a torque must be named by who means
    it."""
    ureg = registry()
    names: dict[Any, str] = {}
    preferred = ["1", "m", "m2", "m3", "s", "kg", "K", "N", "J", "W", "Pa", "Hz", "rad/s"]
    for name in preferred + sorted({c.si for c in COMMON.values()}):
        names.setdefault(_base_of(ureg, name), name)
    names[ureg.Unit("radian")] = "rad"
    return names


def _base_of(ureg: Any, name: str) -> Any:
    import re

    if name == "1":
        return ureg.Unit("dimensionless")
    text = re.sub(r"([A-Za-z])([2-9])(?![0-9.])", r"\1**\2", name)
    return ureg.get_base_units(ureg.Unit(text))[1]


def _named(base: Any) -> str:
    name = _si_names().get(base)
    if name is not None:
        return name
    import re

    return re.sub(r"\*\*", "", f"{base:~C}")


def si_unit(unit: str) -> str:
    """The plain name of the SI unit of the same quantity."""
    return conversion(unit).si


def same_quantity(a: str, b: str) -> bool:
    """Can a value in one unit be given in the other? Angles and plain numbers are told apart."""
    ca, cb = conversion(a).si, conversion(b).si
    if ca == cb:
        return True
    ureg = registry()
    # The containers are compared, not the units: pint holds that a radian equals one.
    return bool(_base_of(ureg, ca)._units == _base_of(ureg, cb)._units)


def to_si(value: Any, unit: str, expected: str | None = None) -> Any:
    """A value (number or array) in SI; with ``expected``, refuses a unit of another quantity."""
    if expected is not None and not same_quantity(unit, expected):
        raise UnusableInput(f"{unit!r} is no unit of the quantity measured in {expected}", fix=f"give it in {expected}")
    c = conversion(unit)
    return value * c.factor + c.offset


def from_si(value: Any, unit: str) -> Any:
    """An SI value (number or array) in a people's unit."""
    c = conversion(unit)
    return (value - c.offset) / c.factor


@lru_cache(maxsize=4096)
def product(a: str, b: str, power: float = 1.0) -> str:
    """SI unit of ``a · b**power``."""
    if b in ("1", "") or power == 0:
        return a
    if a in ("1", "") and power == 1:
        return b
    if a == b and power == -1:
        return "1"
    ureg = registry()
    unit = _pint_unit(ureg, a) * _pint_unit(ureg, b) ** power
    return _named(ureg.get_base_units(unit)[1])


def _pint_unit(ureg: Any, name: str) -> Any:
    return ureg.Unit("dimensionless") if name in ("1", "") else _base_of(ureg, _FOR_PINT.get(name, name))
