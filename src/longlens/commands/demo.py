"""``longlens demo``: the invented car, from its photographs to a first brief."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from longlens.commands.console import Json, emit, progress, tell


def demo(
    to: Annotated[Path, typer.Option("--to", help="Folder for the results.")] = Path("demo-out"),
    as_json: Json = False,
) -> None:
    """Build the demo dossier of an invented car, survey it, and write a first brief."""
    from importlib import import_module

    with progress() as show:
        made: Any = import_module("longlens.demo").build_demo(to, show)
    if as_json:
        emit({"folder": str(to), "result": made if isinstance(made, (dict, list)) else None})
    elif isinstance(made, str):
        tell(made)
    else:
        tell(f"{to}: the demo is ready")


def attach(app: typer.Typer) -> None:
    app.command("demo")(demo)
