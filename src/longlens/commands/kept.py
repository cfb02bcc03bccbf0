"""``longlens kept``: the surveys that are kept between runs, and emptying them."""

from __future__ import annotations

from typing import Annotated

import typer

from longlens.commands.console import Json, emit, tell


def kept(
    empty: Annotated[bool, typer.Option("--empty", help="Remove them all.")] = False,
    as_json: Json = False,
) -> None:
    """Say where solved surveys are kept, how many and how large; or remove them.

    They save time and nothing else: what is removed is solved anew when it is asked for.
    """
    from datetime import UTC, datetime

    from longlens.systems import kept_surveys

    gone = kept_surveys.empty() if empty else 0
    found = kept_surveys.kept()
    if as_json:
        used = None if found.used is None else datetime.fromtimestamp(found.used, UTC).isoformat(timespec="seconds")
        emit(
            {
                "folder": found.folder or None,
                "surveys": found.number,
                "bytes": found.size,
                "limit_bytes": kept_surveys.LIMIT,
                "last_used": used,
                "removed": gone,
            }
        )
    elif not found.folder:
        tell(f"no surveys are kept: {found.why}")
    elif empty:
        tell(f"{_surveys(gone)} removed from {found.folder}")
    else:
        most = kept_surveys.LIMIT // 2**20
        tell(f"{_surveys(found.number)}, {found.size / 2**20:.0f} of at most {most} MB, in {found.folder}")


def _surveys(number: int) -> str:
    return f"{number} solved survey{'' if number == 1 else 's'}"


def attach(app: typer.Typer) -> None:
    app.command("kept")(kept)
