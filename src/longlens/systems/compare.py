"""Variants side by side: the difference of an output between two runs, draw by draw, and which is likelier
greater."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from longlens.numbers import display
from longlens.numbers.interval import Share
from longlens.numbers.number import Number, beats
from longlens.systems.run import Outcome


@dataclass(frozen=True)
class Comparison:
    """One plain output under two variants; ``difference`` is second minus first, ``greater`` the probability
    that the second is the greater."""

    output: str
    first: str
    second: str
    difference: Number
    greater: Share

    def sentence(self) -> str:
        """In words: ``as against in series, 60 % likely greater: heat by 1.2 (−0.4 to 2.8) kW``."""
        names = [name or "as given" for name in (self.first, self.second)]
        what = self.output.replace("_", " ")
        p = self.greater
        if p.value >= 0.5:
            return f"{what}: {names[1]} is the greater with {display.chance(p)}, by {self.difference}"
        return f"{what}: {names[1]} is the smaller with {display.chance(p.opposite)}, by {-self.difference}"

    def as_json(self) -> dict[str, Any]:
        """Plain types."""
        p = self.greater
        return {
            "output": self.output, "first": self.first, "second": self.second,
            "difference": self.difference.as_json(),
            "second_greater": {"probability": p.value, "low95": p.low, "high95": p.high, "text":
            display.chance(p)},
        }  # fmt: skip


def compare(first: Outcome, second: Outcome, output: str) -> Comparison:
    """Compare a plain output of two runs of one sheet, which share their draws. A curve: take one place
    first.

    Raises NotSolvable where either was refused.
    """
    a, b = first.number(output), second.number(output)
    return Comparison(output, first.variant, second.variant, (b - a).named(f"difference of {output}"), beats(b, a))


def compare_all(outcomes: dict[str, Outcome]) -> list[Comparison]:
    """Each variant against the first run, for every plain output that both give."""
    runs = list(outcomes.values())
    first = runs[0]
    plain = [n for n, x in first.numbers.items() if not x.shape]
    return [compare(first, other, n) for other in runs[1:] for n in plain if n in other.numbers]
