"""``longlens revisions``: what moved since an edition, because of what, and the text that says so."""

from __future__ import annotations

from typing import Annotated

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, progress, say, table, tell


def revisions(
    path: DossierFile,
    since: Annotated[str, typer.Option("--since", metavar="EDITION", help="The earlier edition.", show_default=False)],
    until: Annotated[str, typer.Option("--until", metavar="EDITION", help="The later one; default: now.")] = "",
    least: Annotated[
        float, typer.Option("--least", min=0, help="Smallest move told, in halves of the earlier interval.")
    ] = 0.1,
    erratum: Annotated[
        bool, typer.Option("--erratum", help="Print a text for readers, and keep it to be edited.")
    ] = False,
    claims: Annotated[bool, typer.Option("--claims/--no-claims", help="Weigh the questions at both times.")] = True,
    as_json: Json = False,
) -> None:
    """Say which numbers and claims moved, by how much, and because of which marks, facts and photographs."""
    from longlens.claims.revisions import compare, keep_erratum

    with opened(path) as dossier, progress() as show:
        show("comparing", 0.1)
        found = compare(dossier, since, until, claims=claims)
        text = keep_erratum(dossier, found).text if erratum else ""
    if as_json:
        emit(found.as_json() | ({"erratum": text} if erratum else {}))
        return
    say(*found.remarks)
    if erratum:
        tell(text)
        return
    told = [m for m in found.numbers if m.by is None or m.by >= least]
    if told:
        rows = [
            (m.words, "" if m.by is None else f"{m.by:.1f}", "; ".join(c.words for c in m.because[:3])) for m in told
        ]
        table(f"Numbers since {since}", ("number", "moved by (half intervals)", "because of"), rows, right=(1,))
    claimed = [c for c in found.claims if c.told(least)]
    for c in claimed:
        tell(
            c.words,
            *(f"  rests on {m.words}" for m in c.numbers[:5]),
            *(f"  because of {x.words}" for x in c.because[:5]),
        )
    if not told and not claimed:
        tell(f"nothing moved by {least:g} of its half interval or more since {since}")


def attach(app: typer.Typer) -> None:
    app.command("revisions")(revisions)
