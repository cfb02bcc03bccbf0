"""``longlens add``: photographs into the dossier."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, progress, say, tell

if TYPE_CHECKING:
    from longlens.dossier.photographs import Arrival


def add(
    path: DossierFile,
    photographs: Annotated[
        list[Path],
        typer.Argument(help="Photographs, or folders of them.", show_default=False),
    ],
    stage: Annotated[str | None, typer.Option("--stage", help="Stage of the vehicle that they show.")] = None,
    stance: Annotated[str, typer.Option("--stance", help="Ride height and steer that they share.")] = "static",
    source: Annotated[str, typer.Option("--source", help="Where they were published.")] = "",
    as_json: Json = False,
) -> None:
    """Take photographs into the dossier, as one step. A bad file is named; the others come in.

    Leaves with status 2 when any file was refused.
    """
    from longlens.dossier.photographs import add_photographs

    files = _files(photographs)
    with opened(path) as dossier, progress(len(files)) as show:
        arrivals = add_photographs(
            dossier,
            files,
            stage=stage,
            stance=stance,
            source=source,
            progress=lambda done, name: show(name, done),
        )
    _report(arrivals, as_json)
    if any(a.outcome == "refused" for a in arrivals):
        raise typer.Exit(2)


def _files(given: list[Path]) -> list[Path]:
    out: list[Path] = []
    for one in given:
        if one.is_dir():
            out += sorted(p for p in one.iterdir() if p.is_file() and not p.name.startswith("."))
        else:
            out.append(one)
    return out


def _report(arrivals: list[Arrival], as_json: bool) -> None:
    if as_json:
        emit({"photographs": [asdict(a) for a in arrivals]})
    for arrival in arrivals:
        if arrival.outcome == "refused":
            say(arrival.line)
        elif not as_json:
            tell(arrival.line, *(f"    {remark}" for remark in arrival.remarks))


def attach(app: typer.Typer) -> None:
    app.command("add")(add)
