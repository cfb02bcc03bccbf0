"""``longlens publish``: plates, brief, data and film into a folder, with a manifest."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from longlens.commands.console import CAUTION, DossierFile, Json, emit, opened, progress, say, tell


class Part(StrEnum):
    """What can be published."""

    plates = "plates"
    brief = "brief"
    data = "data"
    film = "film"


class Format(StrEnum):
    """In what a plate is written."""

    png = "png"
    svg = "svg"
    pdf = "pdf"


class Shape(StrEnum):
    """The shape of a plate."""

    wide = "wide"
    square = "square"
    tall = "tall"
    print = "print"


def publish(
    path: DossierFile,
    to: Annotated[Path, typer.Option("--to", help="Folder for the edition.")] = Path("edition"),
    only: Annotated[
        list[Part] | None, typer.Option("--only", help="Only these; may be repeated. Default: plates, brief, data.")
    ] = None,
    shape: Annotated[
        list[Shape] | None, typer.Option("--shape", help="Shape of the plates; may be repeated. Default: wide.")
    ] = None,
    form: Annotated[
        list[Format] | None, typer.Option("--as", help="Format of the plates; may be repeated. Default: png.")
    ] = None,
    scale: Annotated[
        float, typer.Option("--scale", min=0.25, max=4, help="Size of the plates; 2 is 4K for wide.")
    ] = 1.0,
    stage: Annotated[list[str] | None, typer.Option("--stage", help="Only these stages of the vehicle.")] = None,
    plate: Annotated[list[str] | None, typer.Option("--plate", help="Only these plates.")] = None,
    draft: Annotated[
        bool, typer.Option("--draft", help="Publish nothing: make drafts, marked as such, whatever the rights.")
    ] = False,
    earns: Annotated[bool, typer.Option("--earns-money", help="Licences against commercial use then stop it.")] = False,
    reread: Annotated[
        bool, typer.Option("--words-are-read", help="First write down that all words were read with their numbers.")
    ] = False,
    check: Annotated[bool, typer.Option("--check", help="Only check the folder against its manifest.")] = False,
    as_json: Json = False,
) -> None:
    """Publish plates, brief and data into a folder, with a manifest of hashes.

    Photographs without credit, licence and the word that they may be shown stop it, and so do words that name a number which has
    lost its basis. Numbers that changed since the words were last read are listed.
    """
    if check:
        _check(to, as_json)
        return
    from longlens.publish.basis import Bases
    from longlens.publish.edition import Wish
    from longlens.publish.edition import publish as make
    from longlens.publish.reading import mark_read

    wish = Wish(
        only=tuple(p.value for p in only or (Part.plates, Part.brief, Part.data)),
        styles=tuple(s.value for s in shape or (Shape.wide,)),
        formats=tuple(f.value for f in form or (Format.png,)),
        scale=scale,
        stages=tuple(stage or ()),
        plates=tuple(plate or ()),
        draft=draft,
        commercial=earns,
    )
    with opened(path) as dossier, progress() as show:
        if reread:
            mark_read(Bases(dossier, show))
        made = make(dossier, to, wish, show)
    for hurdle in made.hurdles:
        say(f"{hurdle.shot}: {hurdle.why}")
    for line in made.to_read:
        say(f"read again: {line.line}")
    say(*made.notes)
    names = [str(f.relative_to(to)) for f in made.files]
    if as_json:
        again = [
            {"kind": r.kind, "id": r.id, "reference": r.reference, "before": r.before, "now": r.now}
            for r in made.to_read
        ]
        emit({"folder": str(to), "files": names, "read_again": again, "draft": draft, "caution": CAUTION})
        return
    tell(f"{to}: {len(names)} files" + (", a draft" if draft else ""))
    for name in names if len(names) <= 40 else [*names[:38], f"and {len(names) - 38} more"]:
        tell(f"    {name}")


def _check(to: Path, as_json: bool) -> None:
    from longlens.publish.data.manifest import check_edition

    wrong = check_edition(to)
    if as_json:
        emit({"folder": str(to), "wrong": wrong})
    else:
        tell(*wrong or [f"{to}: every file is as it was published"])
    if wrong:
        raise typer.Exit(2)


def attach(app: typer.Typer) -> None:
    app.command("publish")(publish)
