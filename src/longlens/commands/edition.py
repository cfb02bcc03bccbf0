"""``longlens edition``: freezing what is published, and looking back at it."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, progress, say, table, tell


def freeze(
    path: DossierFile,
    name: Annotated[str, typer.Argument(help="The edition's name.", show_default=False)],
    note: Annotated[str, typer.Option("--note", help="What it was published as.")] = "",
    as_json: Json = False,
) -> None:
    """Freeze the present state under a name, with the survey's numbers and the claims as they weigh now."""
    from longlens.claims.frozen import contents_of
    from longlens.dossier import editions
    from longlens.errors import UnusableInput

    with opened(path) as dossier:
        if dossier.find(editions.Edition, name) is not None:  # before the survey is waited for
            raise UnusableInput(f"there is an edition {name!r} already", fix="freeze under another name")
        with progress() as show:
            contents, remarks = contents_of(dossier, show)
        made = editions.freeze(dossier, name, note=note, contents=contents)
    say(*remarks)
    if as_json:
        emit(made.model_dump(mode="json"))
    else:
        with_numbers = "with" if "survey" in made.contents else "without"
        claims = len(made.contents.get("claims", {}))
        and_claims = f" and {claims} claim{'' if claims == 1 else 's'}" if claims else ""
        tell(
            f"edition {name}: state {made.revision} frozen, {with_numbers} the survey's numbers{and_claims}",
            f"hash {made.chain}",
        )


def list_(path: DossierFile, as_json: Json = False) -> None:
    """List the editions, and how much was changed since each."""
    from longlens.dossier import editions

    with opened(path) as dossier:
        rows: list[dict[str, Any]] = [
            {
                "name": e.id,
                "at": e.at,
                "revision": e.revision,
                "hash": e.chain,
                "note": e.note,
                "changed_since": len(
                    {(c.kind, c.id) for c in editions.changes_since(dossier, e.id)} - {("edition", e.id)}
                ),
            }
            for e in editions.editions(dossier)
        ]
    if as_json:
        emit({"editions": rows})
    elif not rows:
        tell("no editions yet")
    else:
        table(
            "Editions",
            ("edition", "frozen (UTC)", "state", "records changed since", "note"),
            [(r["name"], r["at"], str(r["revision"]), str(r["changed_since"]), r["note"]) for r in rows],
            right=(2, 3),
        )


def attach(app: typer.Typer) -> None:
    group = typer.Typer(help="Freeze what is published, and look back at it.", no_args_is_help=True)
    group.command("freeze")(freeze)
    group.command("list")(list_)
    app.add_typer(group, name="edition")
