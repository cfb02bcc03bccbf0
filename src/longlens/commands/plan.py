"""``longlens plan``: which further mark, fact or photograph narrows a number most."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from longlens.commands.console import CAUTION, Json, emit, opened, progress, say, table, tell
from longlens.commands.survey import document_of, is_database

if TYPE_CHECKING:
    from longlens.dossier.exchange import ExchangeDocument
    from longlens.survey.planner import Advice, Plan


def plan(
    path: Annotated[
        Path, typer.Argument(metavar="FILE", help="A dossier or an exchange document.", show_default=False)
    ],
    measure: Annotated[str, typer.Option("--for", metavar="MEASURE", help="The number to narrow.", show_default=False)],
    stage: Annotated[str | None, typer.Option("--stage", help="Of a dossier: which stage.")] = None,
    most: Annotated[int, typer.Option("--most", min=1, max=50, help="Of each kind of advice, at most.")] = 4,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Seed of the draws.")] = 0,
    as_json: Json = False,
) -> None:
    """Say what would narrow a number most, and by how much: a mark, a fact, a photograph from a position.

    Leaves with status 3 when the number is not determined; it then says what would make it so.
    """
    from longlens.survey.planner import plan as made
    from longlens.systems.surveying import solve

    document = _document(path, stage)
    _check(document, measure)
    with progress() as show:
        report: Callable[[str, float], None] = show
        solution = solve(document, seed=seed, progress=report)
    found = made(solution, measure, most=most)
    if as_json:
        emit(_as_json(found))
    elif not found.needs:
        _show(found)
    if found.needs:
        if not as_json:
            say(f"{measure} is not determined", *(f"  needs {need}" for need in found.needs))
        raise typer.Exit(3)


def _document(path: Path, stage: str | None) -> ExchangeDocument:
    from longlens.errors import UnusableInput

    if is_database(path):
        with opened(path) as dossier:
            return document_of(dossier, stage)
    if stage is not None:
        raise UnusableInput("an exchange document has no stages", where=path.name, fix="leave --stage out")
    from longlens.dossier.exchange import read_exchange

    document, remarks = read_exchange(path)
    say(*remarks)
    return document


def _check(document: ExchangeDocument, measure: str) -> None:
    """Before the survey is waited for."""
    from longlens.errors import UnusableInput

    names = [m.id for m in document.measures]
    if measure not in names:
        near = ", ".join(names[:8]) + (" …" if len(names) > 8 else "")
        raise UnusableInput(
            f"there is no measure {measure!r}", where="--for", fix=f"measures are: {near or 'none yet'}"
        )


def _show(found: Plan) -> None:
    from longlens.numbers.display import format_interval

    unit = found.unit
    now = format_interval(found.value, found.low, found.high, unit)
    if not found.advice:
        tell(f"{found.number}: {now}; nothing tried would narrow it by a hundredth")
        return
    rows = [(a.words, _told(a, found), f"{100 * a.gain:.0f} %") for a in found.advice]
    table(f"{found.number}: {now}", ("what would help", "then about", "narrower by"), rows, right=(2,))
    tell("", CAUTION)


def _told(a: Advice, found: Plan) -> str:
    from longlens.numbers.display import format_interval

    return format_interval(found.value, a.low, a.high, found.unit)


def _as_json(found: Plan) -> dict[str, Any]:
    return {
        "measure": found.number,
        "unit": found.unit,
        "value": found.value,
        "low95": found.low,
        "high95": found.high,
        "needs": found.needs,
        "advice": [_one(a) for a in found.advice],
        "caution": CAUTION,
    }


def _one(a: Advice) -> dict[str, Any]:
    out: dict[str, Any] = {"kind": a.kind, "words": a.words, "low95": a.low, "high95": a.high, "gain": round(a.gain, 4)}
    out |= {k: v for k, v in (("shot", a.shot), ("point", a.point), ("fact", a.fact)) if v}
    if a.pose is not None:
        out["position_m"] = a.pose.position.tolist()
        out["rotation"] = a.pose.rotation.tolist()
        out |= {"focal_px": a.pose.focal_px, "width": a.pose.width, "height": a.pose.height, "shows": list(a.shows)}
    return out


def attach(app: typer.Typer) -> None:
    app.command("plan")(plan)
