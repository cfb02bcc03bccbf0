"""The table of common units against pint, and what falls through to pint."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.errors import UnusableInput
from longlens.numbers import units


@pytest.mark.parametrize("unit", sorted(u for u in units.COMMON if u))
def test_the_table_agrees_with_pint(unit):
    by_pint = units._by_pint(unit)
    ours = units.COMMON[unit]
    assert ours.factor == pytest.approx(by_pint.factor, rel=1e-12)
    assert ours.offset == pytest.approx(by_pint.offset, abs=1e-9)
    assert units.same_quantity(ours.si, by_pint.si)


@given(st.sampled_from(sorted(units.COMMON)), st.floats(-1e6, 1e6))
def test_there_and_back(unit, value):
    assert units.from_si(units.to_si(value, unit), unit) == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("typed", "si", "one"),
    [("W/m²/K", "W/m2/K", 1.0), ("cm²", "m2", 1e-4), ("N·m", "N*m", 1.0), ("furlong", "m", 201.168),
     ("kW/m^2", "kg/s3", 1e3), ("dm3/min", "m3/s", 1e-3 / 60), ("kN/mm", "N/m", 1e6),
     ("kNm/rad", "N*m/rad", 1e3)],
)  # fmt: skip
def test_other_spellings_and_units(typed, si, one):
    assert units.conversion(typed).factor == pytest.approx(one, rel=1e-5)
    assert units.same_quantity(units.si_unit(typed), si)


@pytest.mark.parametrize("bad", ["wheel", "Nm2", "m m m(", "__import__('os')", "mm; rm", "9**9**9", "kg/", "a" * 500])
def test_what_is_no_unit_is_refused(bad):
    with pytest.raises(UnusableInput, match="is no unit"):
        units.conversion(bad)


def test_angles_and_plain_numbers_are_told_apart():
    assert not units.same_quantity("deg", "1")
    assert not units.same_quantity("rad/s", "Hz")
    assert not units.same_quantity("N*m/rad", "J")
    assert units.same_quantity("N*m", "J")
    with pytest.raises(UnusableInput, match="no unit of the quantity"):
        units.to_si(3, "kg", "m")


@pytest.mark.parametrize(
    ("a", "b", "power", "want"),
    [("N", "m", 1, "J"), ("m", "s", -1, "m/s"), ("N", "m2", -1, "Pa"), ("m", "m", -1, "1"), ("m", "1", 1, "m"),
     ("1", "m2", 0.5, "m"), ("J", "s", -1, "W"), ("kg/s", "kg/m3", -1, "m3/s")],
)  # fmt: skip
def test_products(a, b, power, want):
    assert units.product(a, b, float(power)) == want


def test_arrays_and_temperatures():
    assert units.to_si(np.array([0.0, 100.0]), "°C") == pytest.approx([273.15, 373.15])
    assert units.from_si(300.0, "°C") == pytest.approx(26.85)
