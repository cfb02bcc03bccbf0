"""Addresses of the studio: its pages, its own files, and the photographs of the open dossier."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import HTTPException
from fastapi.responses import RedirectResponse, Response
from nicegui import app, ui

from longlens.errors import LonglensError
from longlens.studio import frame, pictures
from longlens.studio.desk import Desk
from longlens.studio.pages import Page, all_pages


def attach(desk: Desk) -> None:
    """Give the server all its addresses."""
    pages, frame.faults[:] = all_pages()
    for page in pages:
        _page(desk, page, pages)
    app.add_static_files(f"/assets/{frame.VERSION}", frame.ASSETS, max_cache_age=31536000)
    _photographs(desk)

    @app.get("/vocabulary.json")
    def vocabulary() -> list[dict[str, object]]:
        from longlens.studio.board.names import of_vocabulary

        return of_vocabulary(desk)

    @app.get("/")
    def home() -> RedirectResponse:
        first = next((p.path for p in pages if p.listed and p.needs_dossier == desk.is_open), "/start")
        return RedirectResponse(first, 303)


def _page(desk: Desk, page: Page, pages: list[Page]) -> None:
    async def build() -> None:
        await frame.show(desk, page, pages)

    ui.page(page.path, title=f"{page.title} · longlens", response_timeout=20.0)(build)


def _photographs(desk: Desk) -> None:
    # Named by the hash of their bytes: the same address is the same picture for ever, and no name from a file is in it.
    @app.get("/photograph/{photograph}/{longest}.jpg")
    def scaled(photograph: str, longest: int) -> Response:
        return _picture(lambda: pictures.scaled(desk.dossier, photograph, longest))

    @app.get("/photograph/{photograph}/{level}/{column}/{row}.jpg")
    def tile(photograph: str, level: int, column: int, row: int) -> Response:
        return _picture(lambda: pictures.tile(desk.dossier, photograph, level, column, row))


def _picture(make: Callable[[], bytes]) -> Response:
    try:
        body = make()
    except LonglensError as e:
        raise HTTPException(404, str(e)) from None
    return Response(body, media_type="image/jpeg", headers={"cache-control": "private, max-age=31536000, immutable"})
