"""``longlens parts``: the vocabulary, searched; and a user's own parts, added to a dossier."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from longlens.commands.console import Json, emit, opened, table, tell

if TYPE_CHECKING:
    from longlens.dossier.vocabulary import Found, Part

#: Where a part of the user's own does not fit → the option that gave it.
OPTIONS = {
    "term": "--add",
    "what it is": "--is",
    "also called": "--also",
    "where it sits": "--where",
    "points": "--point",
}


def parts(
    words: Annotated[
        list[str] | None, typer.Argument(metavar="[SEARCH]", help="What it is called.", show_default=False)
    ] = None,
    system: Annotated[
        str | None, typer.Option("--system", help="Only parts of this system, e.g. suspension, steering, cooling.")
    ] = None,
    dossier: Annotated[
        Path | None, typer.Option("--in", metavar="DOSSIER", help="With this dossier's own parts.", show_default=False)
    ] = None,
    add: Annotated[str, typer.Option("--add", metavar="TERM", help="Add a part of your own (needs --in, --is).")] = "",
    definition: Annotated[str, typer.Option("--is", help="Of --add: one line that says what it is.")] = "",
    also: Annotated[list[str] | None, typer.Option("--also", help="Of --add: another term for it.")] = None,
    place: Annotated[
        str, typer.Option("--place", help="Of --add: corner (side and axle), side, end (front or rear), or one.")
    ] = "one",
    where: Annotated[str, typer.Option("--where", help="Of --add: where it sits.")] = "",
    points: Annotated[list[str] | None, typer.Option("--point", help="Of --add: a point worth marking.")] = None,
    as_json: Json = False,
) -> None:
    """Find parts by any of their terms, with what to mark on them; or add one of your own.

    Names of marks are composed of side, axle, part and point: left.front.upper_wishbone.outer.
    """
    if add:
        _add(dossier, add, definition, also or [], system, place, where, points or [])
        return
    from longlens.dossier import vocabulary

    _check(system)
    own: list[Part] = []
    if dossier is not None:
        with opened(dossier) as opened_dossier:
            own = vocabulary.own_parts(opened_dossier)
    found = vocabulary.search(" ".join(words or []), own=own, system=system, limit=None if not words else 20)
    if as_json:
        emit({"parts": [asdict(f.part) | {"matched": f.matched, "score": round(f.score, 3)} for f in found]})
    elif not found:
        tell("nothing like that is in the vocabulary; --add puts a part of your own into a dossier")
    elif words and (len(found) == 1 or found[0].score > 0.98):
        _show(found[0].part)
        _others(found[1:])
    else:
        table(
            f"{len(found)} parts",
            ("term", "group", "what it is", "also called"),
            [(f.part.term, _said(f.part.group), f.part.definition, ", ".join(f.part.synonyms)) for f in found],
        )


def _show(part: Part) -> None:
    """One entry in full."""
    from longlens.dossier.vocabulary import compose

    side = "left" if part.place in ("corner", "side") else ""
    end = "front" if part.place in ("corner", "end") else ""
    rows = [("also called", ", ".join(part.synonyms)), ("where", part.where)]
    rows += [("group", _said(part.group)), ("may tell (common practice)", part.tells)]
    for form, names in part.to_mark().items():
        ids = ", ".join(compose(part.id, n, side=side, end=end) for n in names)
        rows.append((f"to mark as {form}", ids))
    table(part.definition, ("term", part.term), [(a, b) for a, b in rows if b])


def _others(found: list[Found]) -> None:
    near = [f.part.term for f in found if f.score > 0.55][:6]
    if near:
        tell(f"see also: {', '.join(near)}")


def _add(
    path: Path | None,
    term: str,
    definition: str,
    also: list[str],
    system: str | None,
    place: str,
    where: str,
    points: list[str],
) -> None:
    from longlens.dossier.vocabulary import new_own_part
    from longlens.errors import UnusableInput

    if path is None:
        raise UnusableInput("a part of your own is kept in a dossier", fix="say which: --in NAME.longlens")
    with opened(path) as dossier:
        try:
            record = new_own_part(
                dossier, term, definition, synonyms=also, system=system, place=place, where=where, points=points
            )
        except UnusableInput as e:
            option = OPTIONS.get(e.where, f"--{e.where}" if e.where in ("system", "place") else "")
            raise UnusableInput(e.what, where=option or e.where, fix=e.fix or "see longlens parts --help") from None
        dossier.add(record, label=f"part {record.part().term}")
    tell(f"added {record.part().term} ({record.id})")


def _check(system: str | None) -> None:
    from longlens.dossier.vocabulary import GROUPS
    from longlens.errors import UnusableInput

    known = [*GROUPS, *dict.fromkeys(s for s in GROUPS.values() if s and s not in GROUPS), "own"]
    if system is not None and system not in known:
        raise UnusableInput(f"there is no system {system!r}", where="--system", fix=f"take one of {', '.join(known)}")


def _said(group: str) -> str:
    return group.replace("_", " ")


def attach(app: typer.Typer) -> None:
    app.command("parts")(parts)
