"""The server: loopback only, behind its guard, one desk for all tabs."""

from __future__ import annotations

import asyncio
import os
import socket
import sys
from collections.abc import Callable
from pathlib import Path

from longlens.errors import UnusableInput
from longlens.studio.desk import Desk
from longlens.studio.guard import ENTER, Guard, new_token
from longlens.studio.memory import give_back

HOST = "127.0.0.1"


def serve(
    path: Path | None,
    *,
    port: int = 0,
    browser: bool = True,
    ready: Callable[[str], None] = print,
    folder: Path | None = None,
) -> None:
    """Run the studio until it is stopped.

    Parameters
    ----------
    path : the dossier to open; None shows the start page.
    port : 0 takes a free one.
    browser : open the address in the person's browser.
    ready : called with the address when the server answers.
    folder : where the start page looks for dossiers and puts new ones.

    Raises
    ------
    UnusableInput : the dossier cannot be opened, or the port is taken.
    """
    give_back()
    desk = Desk()
    if folder is not None:
        desk.folder = folder
    if path is not None:
        desk.open(path)
    port = _free_port(port)
    token = new_token()
    address = f"http://{HOST}:{port}{ENTER}{token}"

    from nicegui import app, ui

    from longlens.studio import routes

    app._exception_handlers[:] = [_told]
    app.on_startup(lambda: _started(desk, address, browser, ready))
    app.on_shutdown(desk.close)
    routes.attach(desk)
    app.add_middleware(Guard, token=token, port=port)
    ui.run(
        host=HOST,
        port=port,
        title="longlens",
        favicon=_ICON,
        dark=True,
        language="en-US",
        tailwind=False,
        reload=False,
        show=False,
        show_welcome_message=False,
        reconnect_timeout=15.0,
        binding_refresh_interval=None,
        uvicorn_logging_level="critical",
        access_log=False,
        ws_max_size=16 * 2**20,
    )


def _started(desk: Desk, address: str, browser: bool, ready: Callable[[str], None]) -> None:
    from nicegui import background_tasks

    background_tasks.create(desk.run(), name="looking for changes")
    asyncio.get_running_loop().call_later(0.1, ready, address)
    if browser:
        import webbrowser

        asyncio.get_running_loop().run_in_executor(None, webbrowser.open, address)


def _free_port(port: int) -> int:
    with socket.socket() as s:
        s.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            s.bind((HOST, port))
        except OSError as e:
            raise UnusableInput(f"the port {port} cannot be had ({e.strerror})", fix="leave --port out") from None
        return s.getsockname()[1]


def _told(error: Exception) -> None:
    """What no page could tell: one line in the terminal."""
    print(f"longlens studio: {type(error).__name__}: {error}", file=sys.stderr)
    if os.environ.get("LONGLENS_TRACE"):
        import traceback

        traceback.print_exception(error)


#: A dimension line: ticks at both ends.
_ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><rect width="32" height="32" fill="#15181b"/>'
    '<path d="M5 8v16M27 8v16M5 16h22" stroke="#e8e6e1" stroke-width="3" fill="none"/>'
    '<circle cx="13" cy="16" r="4" fill="#e8e6e1"/></svg>'
)
