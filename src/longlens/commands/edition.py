"""``longlens edition``: freezing what is published, and looking back at it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, table, tell
from longlens.errors import LonglensError

if TYPE_CHECKING:
    from longlens.dossier.store import Dossier


def freeze(
    path: DossierFile,
    name: Annotated[str, typer.Argument(help="The edition's name.", show_default=False)],
    note: Annotated[str, typer.Option("--note", help="What it was published as.")] = "",
    as_json: Json = False,
) -> None:
    """Freeze the present state under a name, with the survey's numbers where they are up to date and the claims that do not
    need them."""
    from longlens.dossier import editions

    with opened(path) as dossier:
        made = editions.freeze(dossier, name, note=note, contents=_answers(dossier) | _claims(dossier))
    if as_json:
        emit(made.model_dump(mode="json"))
    else:
        with_numbers = "with" if "survey" in made.contents else "without"
        tell(
            f"edition {name}: state {made.revision} frozen, {with_numbers} the survey's numbers",
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


def _answers(dossier: Dossier) -> dict[str, Any]:
    """The answers that are up to date, by stage ("" for shots of none)."""
    from longlens.dossier.answers import kept_answer
    from longlens.dossier.to_exchange import stages_with_marks, to_exchange

    out: dict[str, Any] = {}
    for stage in stages_with_marks(dossier):
        answer = kept_answer(dossier, to_exchange(dossier, stage=stage))
        if answer is not None:
            out[stage or ""] = answer
    return {"survey": out} if out else {}


def _claims(dossier: Dossier) -> dict[str, Any]:
    """The questions weighed, where that needs no survey solved anew."""
    from longlens.claims.records import Question

    if not dossier.count(Question):
        return {}
    from longlens.claims.revisions import claims_to_keep

    try:
        found = claims_to_keep(dossier)
    except LonglensError:  # freezing never fails for a question that cannot be weighed; revisions tell why
        return {}
    return {"claims": found} if found else {}


def attach(app: typer.Typer) -> None:
    group = typer.Typer(help="Freeze what is published, and look back at it.", no_args_is_help=True)
    group.command("freeze")(freeze)
    group.command("list")(list_)
    app.add_typer(group, name="edition")
