"""Turns of phrase that the sheets' sentences share: names as they are said, and what an interval mostly comes from."""

from __future__ import annotations

from collections.abc import Sequence

from longlens.numbers import display
from longlens.systems.run import Outcome

#: An input that drives less than this part of an output's width is not worth naming.
WORTH = 0.08


def plain(name: str) -> str:
    """A name as it is said."""
    return name.replace("_", " ")


def listed(names: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def mostly_from(outcome: Outcome, name: str, said: str) -> str:
    """``said`` interval comes mostly from …, with the shares; "" where no input drives enough of it."""
    found = [d for d in outcome.drivers(name, count=3) if d.share > WORTH]
    told = ", ".join(f"{plain(d.name)} ({display.percent(d.share)})" for d in found)
    return f"{said} interval comes mostly from {told}" if told else ""
