"""The command line.

Exit status: 0 done, 2 unusable input, 3 not solvable, 1 our fault (no traceback is shown).
"""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from longlens.commands import (
    add,
    brief,
    calc,
    demo,
    edition,
    exchange,
    film,
    forecast,
    history,
    kept,
    new,
    numbers,
    parts,
    plan,
    publish,
    questions,
    revisions,
    studio,
    survey,
    verify,
)

# The order is that of `longlens --help`: the road from photographs to numbers, then the journal.
COMMANDS = (
    new,
    add,
    parts,
    exchange,
    survey,
    numbers,
    plan,
    calc,
    questions,
    forecast,
    revisions,
    studio,
    brief,
    publish,
    film,
    history,
    edition,
    verify,
    kept,
    demo,
)

app = typer.Typer(
    name="longlens",
    help="From marks on published photographs of a car to millimetres with honest intervals.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
)
for _command in COMMANDS:
    _command.attach(app)


def _version(wanted: bool) -> None:
    if wanted:
        from longlens import __version__

        print(f"longlens {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run a command and leave with its exit status."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter is no reason to stop
    try:
        app(prog_name="longlens")
    except KeyboardInterrupt:
        sys.exit(130)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # whoever read has left: nothing more to say, even at exit
        sys.exit(1)
    except Exception as e:
        sys.exit(_explain(e))


def _explain(error: Exception) -> int:
    from longlens.commands.console import not_solvable, say
    from longlens.errors import LonglensError, NotSolvable

    if isinstance(error, NotSolvable):
        say(*not_solvable(error))
        return error.exit_status
    if isinstance(error, LonglensError):
        say(str(error))
        return error.exit_status
    say(
        f"longlens made a mistake ({type(error).__name__}: {error})",
        "Set LONGLENS_TRACE=1 and run it again for the details to report.",
    )
    if os.environ.get("LONGLENS_TRACE"):
        import traceback

        traceback.print_exception(error)
    return 1
