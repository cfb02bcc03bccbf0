"""The stages of the invented cars that are committed, and what the demo's steps share about each."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from longlens.dossier.records import Stage
from longlens.errors import NotSolvable

DATA = Path(__file__).parent / "data"
PICTURES = Path(__file__).parent / "pictures"
NOTE = (
    "This car is invented, and so are its maker, its photographs, its figures and everybody named here. "
    "The photographs were rendered by a computer from a made-up car."
)
CARS = ("fulmar", "gannet")
STAGES = {"test": Stage(id="test", name="test car", order=1), "shown": Stage(id="shown", name="shown car", order=2)}

Progress = Callable[[str, float], None]


@dataclass
class Result:
    """One stage: its survey's answer, or why there is none, and the true values of its measures."""

    car: str
    stage: str
    dossier: Path
    brief: Path
    truth: dict[str, float]
    answer: dict[str, Any] | None = None
    unsolved: NotSolvable | None = None
    asked: list[str] = field(default_factory=list)
    unphotographed: list[str] = field(default_factory=list)

    def rows(self) -> Iterator[tuple[str, dict[str, Any], float, bool]]:
        """Measure, its answer, the truth, and whether the interval holds it."""
        for name, got in ((self.answer or {}).get("measures") or {}).items():
            if name in self.truth:
                true = self.truth[name]
                yield name, got, true, got["low95"] <= true <= got["high95"]


def stages_of(car: str) -> list[str]:
    """The stages of a car for which data are committed, earliest first."""
    return [s for s in STAGES if (DATA / f"{car}_{s}.exchange.json").exists()]


def truth_of(car: str, stage: str) -> dict[str, Any]:
    """The truth file of a stage: for the maker's sheet, the credits, and the comparison at the end."""
    return json.loads((DATA / f"{car}_{stage}.truth.json").read_text(encoding="utf-8"))
