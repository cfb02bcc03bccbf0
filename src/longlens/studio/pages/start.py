"""Open a dossier, make a new one, or look at the demo."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import TYPE_CHECKING

from nicegui import ui

from longlens.dossier.photographs import safe_name
from longlens.errors import UnusableInput
from longlens.studio.frame import CAUTION, say, text
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk


def build(desk: Desk) -> None:
    with ui.element("div").classes("ll-two"):
        with ui.element("section").props('aria-labelledby="there"'):
            text("h2", "Dossiers in this folder").props('id="there"')
            _list(desk)
        with ui.element("section").props('aria-labelledby="new"'):
            text("h2", "A new dossier").props('id="new"')
            _new(desk)
            text("h2", "The demo")
            text(
                "p",
                "An invented car, from its photographs to its numbers. It shows on real marks what the studio does.",
            )
            _demo(desk)
    text("p", CAUTION, "ll-quiet")


def _list(desk: Desk) -> None:
    found = sorted(desk.folder.glob("*.longlens"))
    if not found:
        text("p", "None yet.", "ll-quiet")
    with ui.element("ul").classes("ll-files"):
        for path in found:
            with ui.element("li"):
                button = text("button", path.stem, "ll-button").props('type="button"')
                button.on("click", lambda path=path: _open(desk, path))
    text("p", f"Folder: {desk.folder.name or desk.folder}", "ll-quiet")


def _new(desk: Desk) -> None:
    with ui.element("form").classes("ll-form").props('onsubmit="return false"'):
        name = ui.input("Name of the vehicle").props("outlined dense autofocus")
        maker = ui.input("Maker").props("outlined dense")
        make = text("button", "Make it", "ll-button").props('type="submit"')

    def create() -> None:
        called = (name.value or "").strip()
        if not called:
            raise UnusableInput("the vehicle has no name yet", fix="write it into the field")
        desk.create(desk.folder / f"{safe_name(called)}.longlens", called, (maker.value or "").strip())
        ui.navigate.to("/")

    make.on("click", create)


def _demo(desk: Desk) -> None:
    path = desk.folder / "demo-out" / "fulmar.longlens"
    bar = ui.html("", sanitize=False).props('role="status"')
    row = ui.element("div").classes("ll-row")
    with row:
        button = text("button", "Open the demo", "ll-button").props('type="button"')
        tour = text("button", "Open it with a tour", "ll-button").props('type="button"')

    async def run(led: bool) -> None:
        if not path.exists():
            button.props("disabled")
            tour.props("disabled")
            loop = asyncio.get_running_loop()

            def tell(word: str, part: float) -> None:
                loop.call_soon_threadsafe(
                    bar.set_content, f'<progress max="1" value="{part:.3f}" aria-label="demo"></progress>'
                )

            await asyncio.to_thread(_build, path.parent, tell)
        if led:
            await ui.run_javascript("localStorage.setItem('longlens-tour', '0')")
        _open(desk, path)

    button.on("click", lambda: run(False))
    tour.on("click", lambda: run(True))


def _build(folder: Path, tell: object) -> None:
    from importlib import import_module

    import_module("longlens.demo").build_demo(folder, tell)


def _open(desk: Desk, path: Path) -> None:
    desk.open(path)
    say(f"opened {path.name}")
    ui.navigate.to("/")


PAGE = Page("/start", "Start", build, key="a", order=0, about="Open or make a dossier", needs_dossier=False)
