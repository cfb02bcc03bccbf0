"""``longlens kept``: what is kept between runs so that it need not be worked out again, and emptying it."""

from __future__ import annotations

from typing import Annotated

import typer

from longlens.commands.console import Json, emit, tell


def kept(
    empty: Annotated[bool, typer.Option("--empty", help="Remove it all.")] = False,
    as_json: Json = False,
) -> None:
    """Say where solved surveys and worked out answers are kept, how many and how large; or remove them.

    They save time and nothing else: what is removed is worked out anew when it is asked for.
    """
    from datetime import UTC, datetime

    from longlens.systems import kept_answers, kept_surveys, user_cache

    gone = user_cache.empty() if empty else 0
    found = user_cache.kept()
    surveys, answers = (found.number.get(kind, 0) for kind in (kept_surveys.KIND, kept_answers.KIND))
    if as_json:
        used = None if found.used is None else datetime.fromtimestamp(found.used, UTC).isoformat(timespec="seconds")
        emit(
            {
                "folder": found.folder or None,
                "surveys": surveys,
                "answers": answers,
                "bytes": found.size,
                "limit_bytes": user_cache.LIMIT,
                "last_used": used,
                "removed": gone,
            }
        )
    elif not found.folder:
        tell(f"nothing is kept: {found.why}")
    elif empty:
        tell(f"{_many(gone, 'result')} removed from {found.folder}")
    else:
        size = f"{found.size / 2**20:.0f} of at most {user_cache.LIMIT // 2**20} MB"
        tell(f"{_many(surveys, 'solved survey')}, {_many(answers, 'answer')}, {size}, in {found.folder}")


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def attach(app: typer.Typer) -> None:
    app.command("kept")(kept)
