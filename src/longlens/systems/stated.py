"""A maker's own figure against what a sheet computes: consistent, strained, or impossible within the bounds.

The verdict says how far the two overlap, and which assumption would have to give, and by how much, for the figure to be true.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from longlens.numbers import display
from longlens.numbers.number import Number
from longlens.systems.given import Reading
from longlens.systems.run import Outcome
from longlens.systems.sheet import Finding

Word = Literal["consistent", "modest", "strained", "impossible"]
#: Below this two-sided tail a figure is strained.
STRAINED = 0.05
#: No draw on the far side, and the nearest one away by more than this share of the 95 % width: beyond what draws can tell.
CLEAR = 0.05
#: Share of the draws nearest to the figure from which it is read what would have to give.
NEAREST = 0.02
#: Figures of what a car can do: +1 where more is harder, −1 where less is harder. A maker may be modest.
HARDER = {
    "top_speed": 1, "zero_to_100": -1, "zero_to_200": -1, "zero_to_60_mph": -1, "braking_distance_100": -1,
    "lateral_limit_low": 1, "range": 1,
}  # fmt: skip
#: By which name a published figure may stand for an output.
ALSO = {
    "zero_to_100": ("0_100_km_h", "acceleration_0_100_km_h"), "top_speed": ("maximum_speed",), "lap_time": ("lap",),
    "braking_distance_100": ("braking_100_0_km_h",), "downforce": ("total_downforce",),
}  # fmt: skip
_AT = re.compile(r"^(?P<what>[a-z_]+?)_at_(?P<speed>\d+)(?:_km_h)?$")


@dataclass(frozen=True)
class Giving:
    """An input that would have to give: where it would have to stand (SI) and where it stands now."""

    name: str
    now: tuple[float, float]
    then: float
    unit: str
    shown: str
    assumed: bool

    def words(self) -> str:
        """``power 318 instead of 300 to 340 kW``."""
        from longlens.numbers import units

        shown = self.shown or display.people_unit(self.unit, abs(self.then))
        try:
            then, low, high = (float(units.from_si(v, shown)) for v in (self.then, *self.now))
        except Exception:
            shown, then, low, high = self.unit, self.then, *self.now
        set_as = display.pretty(shown)
        name = self.name.replace("_", " ").replace(".", " ")
        return f"{name} near {then:.3g} where {low:.3g} to {high:.3g}{' ' + set_as if set_as else ''} was taken"


@dataclass(frozen=True)
class Verdict:
    """One stated figure against one output.

    ``chance`` is the two-sided tail of computed minus stated (1: in the middle), ``gives`` what would have to give, the
    likeliest first; empty where nothing has to.
    """

    output: str
    word: Word
    stated: Number
    computed: Number
    chance: float
    gives: tuple[Giving, ...] = ()

    def sentence(self) -> str:
        """In words, with both figures."""
        name = self.output.replace("_", " ")
        text = f"stated {name} {self.stated} against {self.computed} computed: {_WORDS[self.word]}"
        if self.gives:
            text += "; for it to be true, " + ", or ".join(g.words() for g in self.gives)
        return text

    def as_json(self) -> dict[str, Any]:
        """Plain types."""
        return {
            "output": self.output, "verdict": self.word, "stated": self.stated.as_json(),
            "computed": self.computed.as_json(), "chance": self.chance, "sentence": self.sentence(),
            "would_have_to_give": [
                {"input": g.name, "near": g.then, "taken": list(g.now), "unit": g.unit, "assumed": g.assumed}
                for g in self.gives
            ],
        }  # fmt: skip


_WORDS = {
    "consistent": "consistent",
    "modest": "consistent, and modest: more could be had",
    "strained": "strained",
    "impossible": "impossible within the bounds",
}


def read_stated(raw: Any, reading: Reading) -> dict[str, tuple[Any, str]]:
    """Figures by output name, or by ``NAME_at_SPEED`` (km/h) for a curve; read when the output's unit is known."""
    if not isinstance(raw, dict):
        raise reading.wrong("", "must be an object {…}", 'write {"top_speed": {"value": 245, "unit": "km/h"}}')
    from longlens.numbers import units

    out = {}
    for name, figure in raw.items():
        unit = figure.get("unit") if isinstance(figure, dict) else None
        if unit is None:
            raise reading.wrong(str(name), "has no unit", 'write {"value": …, "unit": "km/h", "source": "…"}')
        si = units.conversion(str(unit)).si
        out[str(name)] = (reading.number(figure, str(name), si, shown=str(unit)), si)
    return out


def judge(outcome: Outcome, output: str, stated: Number, at: Any = None) -> Verdict:
    """Hold a stated figure against an output (one place of a curve: ``at``).

    Raises NotSolvable where the output was refused.
    """
    computed = outcome.number(output) if at is None else outcome.number(output).at(at)
    both = np.isfinite(computed.draws) & np.isfinite(stated.draws)
    if not np.any(both):
        from longlens.errors import NotSolvable

        raise NotSolvable(f"{output} has no value", needs=["inputs within the limits of the model"])
    gap = (computed.draws - stated.draws)[both]
    above, below = float(np.mean(gap > 0)), float(np.mean(gap < 0))
    chance = min(1.0, 2 * min(above, below) + (1 - above - below))
    harder = HARDER.get(output, 0)
    if chance >= STRAINED:
        word: Word = "consistent"
    elif harder and (above if harder > 0 else below) > 0.5:
        word = "modest"
    elif chance == 0 and _clear(gap):
        word = "impossible"
    else:
        word = "strained"
    gives = _gives(outcome, gap, both) if word in ("strained", "impossible") else ()
    shown = computed.shown or stated.shown
    one = Number(computed.draws, computed.unit, computed.origin, computed.best, shown=shown)
    two = Number(stated.draws, stated.unit, stated.origin, stated.best, shown=shown)
    return Verdict(output if at is None else f"{output} at that speed", word, two, one, chance, gives)


def _clear(gap: Any) -> bool:
    low, high = np.quantile(gap, [0.025, 0.975])
    return float(np.min(np.abs(gap))) > CLEAR * max(high - low, 1e-12)


def _gives(outcome: Outcome, gap: Any, both: Any) -> tuple[Giving, ...]:
    """The inputs that stand furthest from their middle in the draws that come nearest to the figure."""
    count = max(12, int(NEAREST * gap.size))
    near = np.argsort(np.abs(gap))[:count]
    rows = []
    for name, x in outcome.leaves.items():
        if x.shape or x.n != both.size:
            continue
        draws = x.draws[both]
        spread = float(np.std(draws))
        if spread <= 0 or not np.isfinite(spread):
            continue
        shift = (float(np.mean(draws[near])) - float(np.mean(draws))) / spread
        if abs(shift) * np.sqrt(count) > 4:
            low, high = (float(v) for v in np.quantile(draws, [0.025, 0.975]))
            then = float(np.mean(draws[near]))
            rows.append((abs(shift), Giving(name, (low, high), then, x.unit, x.shown or "", x.kind == "assumed")))
    rows.sort(key=lambda r: -r[0])
    return tuple(g for _, g in rows[:2])


def verdicts(outcome: Outcome, figures: Mapping[str, Number]) -> list[Verdict]:
    """Every figure that is of an output of this run, by its name or by one that it is known by."""
    out = []
    for name, number in figures.items():
        found = _place(outcome, name)
        if found is None:
            continue
        output, at = found
        made = outcome.numbers[output]
        from longlens.numbers import units

        if units.same_quantity(made.unit, number.unit) and number.n == made.n and not number.shape:
            out.append(judge(outcome, output, number, at))
    return out


def _place(outcome: Outcome, name: str) -> tuple[str, int | None] | None:
    for output, number in outcome.numbers.items():
        if name in (output, *ALSO.get(output, ())) and not number.shape:
            return output, None
    at = _AT.match(name)
    if at is None:
        return None
    for output in outcome.numbers:
        if at["what"] in (output, *ALSO.get(output, ())) and outcome.sheet.output(output).along == ("speed",):
            speeds = np.asarray(outcome.axes["speed"])
            k = int(np.argmin(np.abs(speeds - float(at["speed"]) / 3.6)))
            if abs(speeds[k] * 3.6 - float(at["speed"])) < 2.5:
                return output, k
    return None


def facts_of(known: Mapping[str, Number]) -> dict[str, Number]:
    """The stated figures of a dossier by what they are of."""
    return {key.removeprefix("fact:"): n for key, n in known.items() if key.startswith("fact:") and n.kind == "stated"}


def say(outcome: Outcome) -> Iterator[Finding]:
    """Findings on the figures given with the sheet's input ``stated``."""
    given = outcome.inputs.get("stated")
    value = getattr(given, "value", None) or {}
    leaves = getattr(given, "numbers", {})
    figures = {name: leaves[f"stated.{name}"] for name in value if f"stated.{name}" in leaves}
    for v in verdicts(outcome, figures):
        severity = "note" if v.word in ("consistent", "modest") else "caution"
        yield Finding(severity, v.sentence(), (v.output.removesuffix(" at that speed"),))  # type: ignore[arg-type]
