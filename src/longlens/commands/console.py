"""What every command shares: where words go, tables and JSON, opening the dossier, the caution.

Results go to standard output, everything else (progress, remarks, errors) to standard error.
"""

from __future__ import annotations

import json
import math
import sys
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from longlens.dossier.store import Dossier
    from longlens.errors import NotSolvable

CAUTION = (
    "Estimates from photographs are for understanding and discussion. "
    "They are no basis for building, repairing, certifying or driving a vehicle: "
    "for that, the maker's data, local rules and licensed engineers decide."
)
BY = "command line"

Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
DossierFile = Annotated[Path, typer.Argument(metavar="DOSSIER", help="A .longlens file.", show_default=False)]


def say(*lines: str) -> None:
    """Words for the person at the terminal, to standard error."""
    for line in lines:
        print(plain(line), file=sys.stderr)


def emit(data: Any) -> None:
    """JSON to standard output. A number without value is null, never NaN."""
    utf8 = (sys.stdout.encoding or "").lower().replace("-", "") == "utf8"
    print(json.dumps(_finite(data), indent=2, ensure_ascii=not utf8, allow_nan=False))


def table(title: str, columns: Sequence[str], rows: Iterable[Sequence[str]], *, right: Sequence[int] = ()) -> None:
    """A table to standard output; ``right`` are the columns set to the right."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    made = Table()
    for i, column in enumerate(columns):
        made.add_column(column, justify="right" if i in right else "left", overflow="fold")
    for row in rows:
        made.add_row(*(Text(plain(cell)) for cell in row))
    console = Console()
    if not console.is_terminal:  # a file or a pipe has no edge to fold at
        console = Console(width=200)
    console.print(Text(plain(title), style="bold"))
    console.print(made)


def not_solvable(error: NotSolvable) -> list[str]:
    """What is missing, in lines."""
    return [f"not solvable: {error.what}", *(f"  needs {need}" for need in error.needs)]


def tell(*lines: str) -> None:
    """Plain lines of the result, to standard output."""
    for line in lines:
        print(plain(line))


def plain(text: str) -> str:
    """Text from a file as text: nothing in it may steer the terminal."""
    return "".join(c if c == "\n" or unicodedata.category(c)[0] != "C" else "\ufffd" for c in text)


@contextmanager
def opened(path: Path) -> Iterator[Dossier]:
    """The dossier, closed afterwards."""
    from longlens.dossier.store import Dossier

    with Dossier.open(path, by=BY) as dossier:
        yield dossier


@contextmanager
def progress(total: float | None = None) -> Iterator[Callable[[str, float], None]]:
    """A progress bar on standard error; call it with what is done and how far (to ``total``, or 1)."""
    from rich.console import Console
    from rich.progress import Progress
    from rich.text import Text

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("", total=total or 1.0)

        def show(what: str, done: float) -> None:
            bar.update(task, description=Text(plain(what)).plain.replace("[", "\\["), completed=done)

        yield show


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(k): _finite(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(v) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
