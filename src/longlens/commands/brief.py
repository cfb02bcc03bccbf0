"""``longlens brief`` and ``longlens rights``: one page to publish, and what may be shown on it."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, progress, say, tell


class Show(StrEnum):
    """Whether a photograph may be shown."""

    yes = "yes"
    no = "no"
    unknown = "unknown"


def brief(
    path: DossierFile,
    to: Annotated[Path | None, typer.Option("--to", help="The HTML file. Default: beside the dossier.")] = None,
    stage: Annotated[str | None, typer.Option("--stage", help="Which stage of the vehicle.")] = None,
    as_json: Json = False,
) -> None:
    """Write the brief: photographs with their marks, every number with interval and trail, warnings, limits.

    One HTML page that needs no network. A photograph without credit, licence and the word that it may be shown
    (see longlens rights) is left out and named.
    """
    from longlens.publish.brief import write_brief

    to = to or path.with_suffix(".html")
    with opened(path) as dossier, progress() as show:
        made = write_brief(dossier, to, stage=stage, progress=show)
    kept = {p.shot.id: p.withheld for p in made.withheld}
    numbers = sum(1 for line in made.lines if line.value)
    if made.unsolved is not None:
        say(f"not solvable: {made.unsolved.what}; the brief says what is missing")
    if as_json:
        emit({"file": str(to), "numbers": numbers, "pictures": len(made.pictures) - len(kept), "withheld": kept})
        return
    tell(f"{to}: {numbers} numbers, {len(made.pictures) - len(kept)} of {len(made.pictures)} photographs")
    for shot, why in kept.items():
        tell(f"    withheld: {shot}: {why}")


def rights(
    path: DossierFile,
    shots: Annotated[list[str] | None, typer.Argument(metavar="[SHOT]...", help="Default: list all.")] = None,
    show: Annotated[Show | None, typer.Option("--show", help="Whether they may be shown.")] = None,
    credit: Annotated[str | None, typer.Option("--credit", help="Whom to name.")] = None,
    licence: Annotated[str | None, typer.Option("--licence", help="Under what they may be shown.")] = None,
    as_json: Json = False,
) -> None:
    """List what may be shown, or write down credit, licence and whether some shots may be shown.

    Whether a licence or a permission covers the use is for a person to decide; nothing is taken from the file.
    """
    from longlens.dossier.records import Shot
    from longlens.errors import UnusableInput
    from longlens.publish.rights import withheld

    changes: dict[str, Any] = {"may_show": show.value if show else None, "credit": credit, "licence": licence}
    changes = {k: v for k, v in changes.items() if v is not None}
    if changes and not shots:
        raise UnusableInput("which shots?", fix="name them before the options")
    with opened(path) as dossier:
        chosen = [dossier.get(Shot, s) for s in shots or dossier.ids(Shot)]
        if changes:
            with dossier.batch("rights"):
                chosen = [dossier.change(Shot, s.id, **changes) for s in chosen]
    if as_json:
        fields = ("id", "credit", "licence", "may_show")
        emit({"shots": [{k: getattr(s, k) for k in fields} | {"withheld": withheld(s)} for s in chosen]})
        return
    for s in chosen:
        why = withheld(s)
        tell(f"{s.id}: {'withheld: ' + why if why else f'may be shown, {s.credit}, {s.licence}'}")


def attach(app: typer.Typer) -> None:
    app.command("rights")(rights)
    app.command("brief")(brief)
