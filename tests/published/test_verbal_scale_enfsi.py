"""The verbal scale of the ENFSI guideline for evaluative reporting (2015), its table (from memory)."""

from __future__ import annotations

import math

import pytest

from longlens.claims.verbal import SCALE, grade, grade_named, told
from longlens.errors import UnusableInput

TABLE = {
    "no support": (1, 2),
    "weak support": (2, 10),
    "moderate support": (10, 100),
    "moderately strong support": (100, 1000),
    "strong support": (1000, 10_000),
    "very strong support": (10_000, 1_000_000),
    "extremely strong support": (1_000_000, math.inf),
}


def test_the_table() -> None:
    assert {g.words: (g.low, g.high) for g in SCALE} == TABLE


@pytest.mark.parametrize(("words", "ends"), TABLE.items())
def test_words_and_ratios_meet(words: str, ends: tuple[float, float]) -> None:
    low, _ = ends
    assert grade(low).words == words and grade(low * 1.5).words == words
    assert grade_named(words.removesuffix(" support").upper()).words == words
    assert grade(grade_named(words).likely).words == words


def test_below_one_the_explanations_are_turned_round() -> None:
    with pytest.raises(ValueError, match="other explanation"):
        grade(0.5)


def test_a_range_over_two_grades_names_both() -> None:
    assert told(40, 5, 300) == "moderate support (ratio about 40, 5 to 300: weak to moderately strong)"
    assert told(40, 12, 90).startswith("moderate support")


def test_unknown_words() -> None:
    with pytest.raises(UnusableInput, match="not on the verbal scale"):
        grade_named("proved")
