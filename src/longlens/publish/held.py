"""Claims and forecasts as words and pages can show them; taken from the claims floor."""

from __future__ import annotations

from dataclasses import astuple
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from longlens.claims.summary import Summary
    from longlens.dossier.store import Dossier
    from longlens.publish.basis import Basis, Shown


def held_of(basis: Basis) -> Summary | None:
    """Claims and forecasts of a dossier as they stand now, None where there are none. Kept under all records of the dossier."""
    from longlens.claims.records import Forecast, Question
    from longlens.claims.summary import ClaimLine, ForecastLine, Summary, summary
    from longlens.systems.kept_answers import answered

    dossier = basis.dossier
    if not dossier.count(Question) and not dossier.count(Forecast):
        return None

    def made() -> dict[str, Any]:
        found = summary(dossier)
        lines = {"claims": [astuple(c) for c in found.claims], "forecasts": [astuple(f) for f in found.forecasts]}
        return {**lines, "score": found.score}

    said = answered(["claims and forecasts", _records(dossier)], made)
    return Summary(
        [ClaimLine(*c) for c in said["claims"]], [ForecastLine(*f) for f in said["forecasts"]], said["score"]
    )


def _records(dossier: Dossier) -> list[list[Any]]:
    """All that claims and forecasts may rest on, the journal's state with it: a forecast says whether it still stands in it."""
    from longlens.dossier.kinds import all_kinds

    return [[dossier.chain_head], *([k.name, *map(list, dossier.raw_all(k.name))] for k in all_kinds())]


def held(basis: Basis, kind: str, id: str) -> Shown:
    """What a claim or a forecast says now. Raises LostBasis where there is none, or the evidence refutes all its answers."""
    from longlens.claims.summary import Summary
    from longlens.publish.basis import LostBasis, Shown

    found = held_of(basis) or Summary()
    if kind == "claim":
        for c in found.claims:
            if c.id == id:
                if not c.strength:
                    raise LostBasis(
                        f"the evidence speaks against every answer to {id}", fix="look at the question again"
                    )
                text = f"{c.text} ({c.strength})"
                return Shown(f"claim:{id}", id, text, text, "weighed", trail=(c.basis,))
    for f in found.forecasts if kind == "forecast" else ():
        if f.id == id:
            text = f"{f.text} (given {f.chance}; {f.outcome})"
            return Shown(f"forecast:{id}", id, text, text, "forecast", trail=(f.score,) if f.score else ())
    raise LostBasis(f"there is no {kind} {id}", fix="name another, or take it out of the text")
