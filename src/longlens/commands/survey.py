"""``longlens survey``: marks to cameras, points and measures, from a dossier or an exchange file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from longlens.commands.console import CAUTION, Json, emit, opened, progress, say, table, tell

if TYPE_CHECKING:
    from longlens.dossier.exchange import ExchangeDocument
    from longlens.dossier.reading import Reader

MAGIC = b"SQLite format 3\0"


def survey(
    path: Annotated[
        Path, typer.Argument(metavar="FILE", help="A dossier or an exchange document.", show_default=False)
    ],
    stage: Annotated[str | None, typer.Option("--stage", help="Of a dossier: which stage.")] = None,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Seed of the draws.")] = 0,
    draws: Annotated[int, typer.Option("--draws", min=100, max=200_000, help="How many joint draws.")] = 2000,
    fresh: Annotated[bool, typer.Option("--fresh", help="Solve anew what was solved before.")] = False,
    as_json: Json = False,
) -> None:
    """Solve cameras, points and measures from the marks, with intervals.

    Leaves with status 3 when the marks do not determine what is asked; it then says what would.
    """
    from longlens.errors import NotSolvable, UnusableInput

    try:
        if is_database(path):
            with opened(path) as dossier:
                document = document_of(dossier, stage)
                answer = solved(document, seed, draws, fresh)
        else:
            if stage is not None:
                raise UnusableInput("an exchange document has no stages", where=path.name, fix="leave --stage out")
            from longlens.dossier.exchange import read_exchange

            document, remarks = read_exchange(path)
            say(*remarks)
            answer = solved(document, seed, draws, fresh)
    except NotSolvable as e:
        if as_json:
            emit({"solved": False, "reason": e.what, "needs": e.needs})
            raise typer.Exit(e.exit_status) from None
        raise
    if as_json:
        emit(answer)
    else:
        show_answer(document, answer)


def is_database(path: Path) -> bool:
    """True for a dossier; an unreadable file is left to the reader, whose error is clearer."""
    try:
        with path.open("rb") as f:
            return f.read(16) == MAGIC or path.suffix == ".longlens"
    except OSError:
        return path.suffix == ".longlens"


def document_of(reader: Reader, stage: str | None) -> ExchangeDocument:
    """What is surveyed together: one stage of the vehicle."""
    from longlens.dossier.to_exchange import stages_with_marks, to_exchange
    from longlens.errors import UnusableInput

    stages = stages_with_marks(reader)
    if stage is None and len(stages) > 1:
        named = ", ".join(repr(s) if s else "shots of no stage" for s in stages)
        raise UnusableInput(
            f"the marked shots show more than one stage of the vehicle ({named})",
            fix=f"say which, e.g. --stage {next(s for s in reversed(stages) if s)}",
        )
    return to_exchange(reader, stage=stage if stage is not None else (stages[0] if stages else None))


def solved(document: ExchangeDocument, seed: int = 0, draws: int = 2000, fresh: bool = False) -> dict[str, Any]:
    """The answer of exchange.md, with progress on standard error; ``fresh``: also where it was solved before."""
    from longlens.systems.surveying import solve

    with progress() as show:
        report: Callable[[str, float], None] = show
        return solve(document, seed=seed, draws=draws, progress=report, fresh=fresh).answer()


def show_answer(document: ExchangeDocument, answer: dict[str, Any]) -> None:
    """The answer as tables for people."""
    from longlens.numbers.display import format_interval

    found = answer["measures"]
    if document.measures:
        rows = []
        for measure in document.measures:
            got = found.get(measure.id)
            text = (
                format_interval(got["value"], got["low95"], got["high95"], got["unit"])
                if got
                else "not determined (see below)"
            )
            rows.append((measure.id, measure.kind.replace("_", " "), text))
        table(
            "Measures, with the interval that holds the truth 95 times in 100",
            ("measure", "what", "value"),
            rows,
        )
    _cameras(answer)
    suspects = answer.get("suspect_marks") or []
    if suspects:
        marks = [
            (
                s["shot"],
                str(s.get("point") or s.get("circle") or ""),
                f"{s['x']:.0f}, {s['y']:.0f}",
                f"{s['test']:.1f}",
            )
            for s in suspects
        ]
        table("Suspect marks: look at these again", ("shot", "mark", "x, y (px)", "test"), marks, right=(3,))
    for warning in answer.get("warnings") or []:
        tell(f"! {warning}")
    tell("", CAUTION)


def _cameras(answer: dict[str, Any]) -> None:
    from longlens.numbers.display import format_interval

    rows = []
    for name, shot in answer["shots"].items():
        half = 1.96 * (shot.get("focal_sd_px") or 0.0)
        focal = format_interval(shot["focal_px"], shot["focal_px"] - half, shot["focal_px"] + half, "px", shown="px")
        place = ", ".join(f"{v:.2f}" for v in shot["position_m"])
        residual = shot.get("residual_rms_px")
        rows.append((name, focal, place, "—" if residual is None else f"{residual:.1f}"))
    table("Cameras", ("shot", "focal length", "place x, y, z (m)", "residual (px)"), rows, right=(3,))
    if answer.get("sigma0") is not None:
        tell(
            f"σ₀ {answer['sigma0']:.2f} at redundancy {answer['redundancy']} "
            "(near 1: the marks fit as well as their standard deviations say)"
        )


def attach(app: typer.Typer) -> None:
    app.command("survey")(survey)
