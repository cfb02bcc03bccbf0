"""The unit read off a number's text is that of the number, also where some draws have no value."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.numbers import display
from longlens.numbers.number import Number
from longlens.numbers.trail import Origin
from longlens.publish.basis import people_unit


@pytest.mark.parametrize(
    ("unit", "size", "shown"), [("s", 8.0, "s"), ("m", 0.3, "mm"), ("rad", 0.1, "°"), ("1", 0.4, None)]
)
@pytest.mark.parametrize("lost", [0, 300])
def test_the_unit_is_found(unit: str, size: float, shown: str | None, lost: int) -> None:
    draws = np.random.default_rng(4).normal(size, 0.05 * size, 2000)
    draws[:lost] = np.nan
    text = display.show(Number(draws, unit, Origin("a time", "computed")))
    assert ("no value in 15 %" in text) == bool(lost)
    assert people_unit(text) == shown
