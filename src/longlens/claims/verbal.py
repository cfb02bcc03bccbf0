"""Likelihood ratios in words and words as likelihood ratios.

The table is that of the ENFSI guideline for evaluative reporting in forensic science (European Network of Forensic Science
Institutes, 2015, guidance note on the verbal scale; from memory). The words grade how much more probable the findings are if one
explanation is true than if the other is. They say nothing of how probable the explanation is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from longlens.errors import UnusableInput

GUIDELINE = "ENFSI guideline for evaluative reporting in forensic science (2015)"


@dataclass(frozen=True)
class Grade:
    """One line of the table: words for likelihood ratios from ``low`` up to ``high``."""

    words: str
    low: float
    high: float

    @property
    def likely(self) -> float:
        """The ratio in the middle, on a scale of logarithms; of the open end ten times its beginning."""
        return self.low * 10 if math.isinf(self.high) else math.sqrt(self.low * self.high)

    @property
    def top(self) -> float:
        """Upper end as used in calculations."""
        return self.low * 100 if math.isinf(self.high) else self.high


SCALE: tuple[Grade, ...] = (
    Grade("no support", 1.0, 2.0),
    Grade("weak support", 2.0, 10.0),
    Grade("moderate support", 10.0, 100.0),
    Grade("moderately strong support", 100.0, 1_000.0),
    Grade("strong support", 1_000.0, 10_000.0),
    Grade("very strong support", 10_000.0, 1_000_000.0),
    Grade("extremely strong support", 1_000_000.0, math.inf),
)


def grade(ratio: float) -> Grade:
    """The grade of a ratio of at least one (below one: turn the two explanations round first)."""
    if not ratio >= 1 - 1e-12:
        raise ValueError(f"a ratio below one ({ratio:g}) is support for the other explanation")
    return next(g for g in reversed(SCALE) if ratio >= g.low or g is SCALE[0])


def grade_named(words: str) -> Grade:
    """The grade of that name; "support" may be left out. Raises UnusableInput."""
    plain = " ".join(words.lower().split()).removesuffix(" support")
    for g in SCALE:
        if g.words.removesuffix(" support") == plain:
            return g
    raise UnusableInput(
        f"{words!r} is not on the verbal scale", fix="choose from: " + ", ".join(g.words for g in SCALE)
    )


def told(ratio: float, low: float, high: float) -> str:
    """``moderate support (ratio about 40, 12 to 130)``; where the range leaves a grade, both ends are named."""
    ends = [grade(max(x, 1.0)).words for x in (low, high)]
    words = grade(max(ratio, 1.0)).words
    if ends[0] != ends[1]:
        first, last = (w.removesuffix(" support") for w in ends)
        return f"{words} (ratio about {figure(ratio)}, {figure(low)} to {figure(high)}: {first} to {last})"
    return f"{words} (ratio about {figure(ratio)}, {figure(low)} to {figure(high)})"


def figure(x: float) -> str:
    """A ratio with two figures, as nobody knows more."""
    if not math.isfinite(x):
        return "beyond any figure"
    if x >= 1e6:
        return f"{x / 1e6:.2g} million" if x < 1e9 else "over a thousand million"
    text = f"{float(f'{x:.2g}'):,.10g}"
    return text.replace(",", "\u202f") if x < 1e6 else text
