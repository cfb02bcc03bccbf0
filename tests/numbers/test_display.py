import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.numbers import Normal, display, stated
from longlens.numbers.interval import Share


@pytest.mark.parametrize(
    ("value", "low", "high", "unit", "want"),
    [
        (0.4496, 0.4473, 0.4520, "m", "449.6 (447–452) mm"),  # the example of the exchange document
        (1.7, 1.5, 1.9, "1", "1.70 (1.5–1.9)"),
        (0.02, -0.01, 0.05, "rad", "1.1 (−0.6 to 2.9)°"),
        (-0.0052, -0.0061, -0.0043, "rad", "−0.30 (−0.35 to −0.25)°"),
        (85_000, 79_000, 91_500, "W", "85 (79–92) kW"),
        (12.3, 12.1, 12.5, "m", "12.30 (12.1–12.5) m"),
        (2.5, 2.49, 2.51, "m", "2500 (2490–2510) mm"),
        (0.145, 0.141, 0.149, "m2", "0.145 (0.141–0.149) m²"),
        (0.0145, 0.0141, 0.0149, "m2", "145 (141–149) cm²"),
        (1e-3, 0.9e-3, 1.1e-3, "m3/s", "60 (54–66) l/min"),
        (353.16, 351.15, 355.15, "K", "353.2 (351–355) K"),
        (0.0, -0.0, 0.0, "m", "0 mm"),
        (0.4064, 0.4064, 0.4064, "m", "406.4 mm"),
        (12_345.0, 12_000.0, 12_700.0, "kg", "12\u202f300 (12\u202f000–12\u202f700) kg"),
        (math.nan, 1.0, 2.0, "m", "no value"),
    ],
)
def test_texts(value, low, high, unit, want):
    assert display.format_interval(value, low, high, unit) == want


def test_a_unit_that_was_asked_for():
    assert display.format_interval(353.15, 350.15, 356.15, "K", shown="°C") == "80 (77–83) °C"
    assert display.format_interval(300.0, 290.0, 310.0, "px", shown="px") == "300 (290–310) px"
    with pytest.raises(ValueError, match="no unit of"):
        display.format_interval(1, 0, 2, "m", shown="kg")


def _number(text):
    return float(text.replace(display.MINUS, "-").replace(display.THIN, ""))


@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e5), st.floats(0.2, 5))
def test_rounding_never_hides_the_interval(value, half, skew):
    low, high = value - half, value + half * skew
    text, a, b = display.texts(value, low, high)
    width = high - low
    if not a:  # less spread than the figure can show
        assert width < 1e-8 * abs(value)
        return
    assert abs(_number(text) - value) <= width / 2 / 6 * 1.001 + 1e-9 * abs(value)
    assert abs(_number(a) - low) <= width / 8 * 1.001 + 1e-9 * abs(value)
    assert abs(_number(b) - high) <= width / 8 * 1.001 + 1e-9 * abs(value)
    assert _number(a) < _number(b)
    # no more digits than the interval supports: its half width has at most two digits in the bounds' last place
    places = len(a.partition(".")[2]) if "." in a else 0
    if places:
        assert width / 2 * 10**places <= 20 * 1.001


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e5))
def test_minus_signs_are_true_and_ranges_unambiguous(value, half):
    text = display.format_interval(value, value - half, value + half, "W")
    assert "-" not in text
    if display.MINUS in text.partition("(")[2]:
        assert " to " in text
    assert not re.search(rf"{display.MINUS}0(\.0*)?(?![\d.])", text)


def test_numbers_and_curves():
    x = stated("wheelbase", Normal(2.5, 0.005), "m")
    assert str(x) == "2.500 (2.490–2.510) m"  # shown in the unit in which it was stated
    assert f"{x:mm}" == "2500 (2490–2510) mm"
    curve = x.__class__(x.draws[:, None] * np.array([1.0, 2.0]), "m", x.origin)
    assert str(curve).startswith("from 2500 (2490–2510) mm to 5.000")


def test_lost_draws_are_told():
    x = stated("x", Normal(0.1, 0.001), "m")
    draws = x.draws.copy()
    draws[:60] = np.nan
    assert str(x.__class__(draws, "m", x.origin)).endswith("no value in 3.0 % of the draws")


@pytest.mark.parametrize(
    ("p", "want"),
    [(0.5, "50 %"), (0.037, "3.7 %"), (0.0002, "under 0.1 %"), (0.9999, "over 99.9 %"), (0, "0 %"), (1, "100 %")],
)
def test_percent(p, want):
    assert display.percent(p) == want


def test_chance_never_claims_certainty():
    assert display.chance(Share(1.0, 0.998, 1.0)) == "over 99.8 %"
    assert display.chance(Share(0.0, 0.0, 0.002)) == "under 0.2 %"
    assert display.chance(Share(0.63, 0.6, 0.65)) == "63 %"


def test_spoken():
    assert display.spoken(0.4496, 0.4473, 0.4520, "m") == "about 450 millimetres, between 447 and 452"
    assert (
        display.spoken(-0.0052, -0.0061, -0.0043, "rad")
        == "about minus 0.30 degrees, between minus 0.35 and minus 0.25"
    )
    assert display.spoken(12_345.0, 12_000.0, 12_700.0, "kg") == "about 12300 kilograms, between 12000 and 12700"
