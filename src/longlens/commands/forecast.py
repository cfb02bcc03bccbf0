"""``longlens forecast``: made and sealed, resolved with evidence, withdrawn in the open, scored."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, table, tell

Which = Annotated[str, typer.Argument(metavar="FORECAST", help="The forecast's id.", show_default=False)]
Evidence = Annotated[list[str] | None, typer.Option("--evidence", metavar="KIND:ID", help="What it rests on.")]


def make(
    path: DossierFile,
    which: Which,
    text: Annotated[str, typer.Argument(help="What is forecast.", show_default=False)],
    chance: Annotated[str, typer.Option("--chance", help="Of an event: 0.7 or 70%.")] = "",
    low: Annotated[float | None, typer.Option("--low", help="Of a range.")] = None,
    high: Annotated[float | None, typer.Option("--high", help="Of a range.")] = None,
    level: Annotated[float, typer.Option("--level", help="Probability that the range holds the value.")] = 0.95,
    unit: Annotated[str, typer.Option("--unit", help="Of a range.")] = "",
    why: Annotated[str, typer.Option("--why", help="What it rests on, in words.")] = "",
    settles: Annotated[str, typer.Option("--settles", help="What will settle it, and by when.")] = "",
    edition: Annotated[str, typer.Option("--edition", help="The edition it was published in.")] = "",
    on: Evidence = None,
    revises: Annotated[
        str | None, typer.Option("--revises", metavar="FORECAST", help="The open one it replaces.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Make a forecast and seal it: it cannot be altered, only withdrawn in the open."""
    from longlens.claims import forecasts

    with opened(path) as dossier:
        forecasts.make(
            dossier, which, text, edition=edition, probability=_chance(chance), low=low, high=high, level=level, unit=unit,
            why=why, settles=settles, on=on or [], revises=revises,
        )  # fmt: skip
        seen = next(s for s in forecasts.all_of(dossier) if s.forecast.id == which)
    if as_json:
        emit(seen.as_json())
    else:
        tell(f"sealed: {text} {seen.given}")


def resolve(
    path: DossierFile,
    which: Which,
    text: Annotated[str, typer.Argument(help="How it is known.", show_default=False)],
    happened: Annotated[bool | None, typer.Option("--happened/--did-not", help="Of an event.")] = None,
    value: Annotated[float | None, typer.Option("--value", help="Of a range, in its unit.")] = None,
    evidence: Evidence = None,
    as_json: Json = False,
) -> None:
    """Write down what came of a forecast; a second time corrects the first in the open."""
    from longlens.claims import forecasts

    with opened(path) as dossier:
        forecasts.resolve(dossier, which, text, happened=happened, value=value, evidence=evidence or [])
        seen = next(s for s in forecasts.all_of(dossier) if s.forecast.id == which)
    if as_json:
        emit(seen.as_json())
    else:
        score = ", ".join(f"{name} {x:.3g}" for name, x in seen.score.items())
        tell(f"{seen.forecast.text} {seen.given}: {seen.came} ({score})")


def withdraw(
    path: DossierFile,
    which: Which,
    why: Annotated[str, typer.Argument(help="Why it is taken back.", show_default=False)],
    as_json: Json = False,
) -> None:
    """Take a forecast back in the open; it stays in the list."""
    from longlens.claims import forecasts

    with opened(path) as dossier:
        forecasts.withdraw(dossier, which, why)
    if as_json:
        emit({"id": which, "withdrawn_because": why})
    else:
        tell(f"{which} is withdrawn: {why}")


def list_(
    paths: Annotated[
        list[Path], typer.Argument(metavar="DOSSIER…", help="One or more .longlens files.", show_default=False)
    ],
    as_json: Json = False,
) -> None:
    """List forecasts of one or more dossiers with what came of them, and the score over all."""
    from longlens.claims.forecasts import Seen, all_of, record

    seen: list[Seen] = []
    for path in paths:
        with opened(path) as dossier:
            seen += all_of(dossier, dossier.vehicle.name)
    found = record(seen)
    if as_json:
        emit(found.as_json())
        return
    if not seen:
        tell("no forecasts yet")
        return
    rows = [
        (s.car, s.forecast.id, s.forecast.made[:10], s.forecast.text, s.given, s.came,
         ", ".join(f"{name} {x:.3g}" for name, x in s.score.items())) for s in seen
    ]  # fmt: skip
    table("Forecasts", ("car", "id", "made", "forecast", "given", "came", "score"), rows)
    tell(found.sentence())
    for b in found.bins:
        share = f"{100 * b.happened.value:.0f} % happened ({100 * b.happened.low:.0f} to {100 * b.happened.high:.0f})"
        tell(f"given {100 * b.given:.0f} % on average, {b.count} times: {share}")


def check(path: DossierFile, as_json: Json = False) -> None:
    """Check that no forecast, resolution or withdrawal was altered after it was written."""
    from longlens.claims.forecasts import problems
    from longlens.claims.records import Forecast

    with opened(path) as dossier:
        found = problems(dossier)
        count = dossier.count(Forecast)
    if as_json:
        emit({"forecasts": count, "problems": found})
    else:
        tell(*(found or [f"{count} forecasts stand as they were written"]))
    if found:
        raise typer.Exit(2)


def _chance(text: str) -> float | None:
    from longlens.errors import UnusableInput

    if not text:
        return None
    try:
        value = float(text.strip().removesuffix("%").strip()) / (100 if "%" in text else 1)
    except ValueError:
        raise UnusableInput(f"{text!r} is no probability", where="--chance", fix="write 0.7 or 70%") from None
    if not 0 <= value <= 1:
        raise UnusableInput(f"{text} is not between 0 and 1", where="--chance", fix="write 0.7 or 70%")
    return value


def attach(app: typer.Typer) -> None:
    group = typer.Typer(help="Say beforehand, and be scored.", no_args_is_help=True)
    for name, do in (("make", make), ("resolve", resolve), ("withdraw", withdraw), ("list", list_), ("check", check)):
        group.command(name)(do)
    app.add_typer(group, name="forecast")
