"""What the systems' sheets answer, for the brief: single figures with their model, and the findings in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from longlens.publish.basis import Basis, LostBasis

#: Rows of one area in a brief; the rest stands in the data.
MOST = 24


@dataclass(frozen=True)
class Answer:
    """One area's answer: variant → plain types of the sheet's outcome."""

    area: str
    runs: dict[str, Any]


@dataclass(frozen=True)
class Row:
    """One figure."""

    name: str
    text: str
    model: str


def answers(basis: Basis) -> list[Answer]:
    """The answers of every area that has one for this dossier."""
    from longlens.publish.data.tables import areas_answered

    out = []
    for area in areas_answered(basis):
        try:
            runs = {k: v for k, v in basis.sheet(area).items() if isinstance(v, dict) and "outputs" in v}
        except LostBasis:
            continue
        if any(r["outputs"] for r in runs.values()):
            out.append(Answer(area, runs))
    return out


def rows(answer: Answer) -> list[Row]:
    """Single figures, each variant's after that as given; of a table only how far it reaches is left to the data."""
    out = []
    for variant, run in answer.runs.items():
        for name, got in run["outputs"].items():
            if got.get("text"):
                label = name.replace("_", " ") + (f", {variant}" if variant else "")
                out.append(Row(label, got["text"], got.get("model", "")))
    return out[:MOST]


def findings(answer: Answer) -> list[str]:
    """What the sheet says in words, the weightiest first."""
    order = {"caution": 0, "limit": 1, "note": 2}
    found = [f for run in answer.runs.values() for f in run.get("findings", [])]
    found.sort(key=lambda f: order.get(f["severity"], 3))
    return list(dict.fromkeys(f["text"] for f in found))[:8]
