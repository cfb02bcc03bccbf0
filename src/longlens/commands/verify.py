"""``longlens verify``: is the file what it was written as?"""

from __future__ import annotations

from typing import Annotated

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, say, tell


def verify(
    path: DossierFile,
    head: Annotated[str | None, typer.Option("--hash", help="A hash noted earlier: it must be in the chain.")] = None,
    as_json: Json = False,
) -> None:
    """Check the file for damage, walk the journal's chain of hashes, hold sealed forecasts against it, and name records that
    point to nothing.

    Leaves with status 2 when anything is wrong.
    """
    from longlens.claims.forecasts import problems
    from longlens.dossier.links import dangling

    with opened(path) as dossier:
        found = problems(dossier)
        loose = [] if found else dangling(dossier)
        if head is not None and not found and not any(e.hash == head for e in dossier.entries_since(0)):
            found.append(f"the hash {head} is not in the journal: its past was written anew")
        revision, chain = dossier.revision, dossier.chain_head
    if as_json:
        emit({"sound": not found and not loose, "problems": found, "loose_ends": loose, "revision": revision,
              "chain_head": chain})  # fmt: skip
    say(*(f"{path.name}: {line}" for line in [*found, *loose]))
    if found or loose:
        raise typer.Exit(2)
    if not as_json:
        tell(f"{path.name}: sound; {revision} journal entries, hash {chain}")


def attach(app: typer.Typer) -> None:
    app.command("verify")(verify)
