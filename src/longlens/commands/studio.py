"""``longlens studio``: the studio in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from longlens.commands.console import CAUTION, say


def studio(
    path: Annotated[
        Path | None, typer.Argument(metavar="[DOSSIER]", help="A .longlens file.", show_default=False)
    ] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port to listen on; 0: a free one.")] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the browser.")] = True,
) -> None:
    """Open the studio in the browser: photo board, survey, numbers.

    It answers on this machine only, at the address that it prints. Every change is in the dossier as soon as it
    is made; stop it with Ctrl+C whenever you like.
    """
    from longlens.studio.serve import serve

    def ready(address: str) -> None:
        print(address, flush=True)
        say("The studio is open at this address, for this machine only. Ctrl+C ends it.", CAUTION)

    serve(path, port=port, browser=browser, ready=ready)


def attach(app: typer.Typer) -> None:
    app.command("studio")(studio)
