"""The studio's pages: each module here with a ``PAGE`` is one (see docs/studio-pages.md)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from longlens.studio.desk import Desk


@dataclass(frozen=True)
class Page:
    """One page.

    Parameters
    ----------
    path : its address, e.g. ``/numbers``.
    title : the word in the navigation.
    build : called with the desk to fill the page; plain or async.
    key : the letter that goes there after ``g``.
    order : its place in the navigation; pages of one hundred stand together.
    about : one line for the command search and the help sheet.
    wide : the page takes the whole window instead of a column.
    listed : it stands in the navigation.
    needs_dossier : without an open dossier the start page is shown instead.
    """

    path: str
    title: str
    build: Callable[[Desk], Any]
    key: str = ""
    order: int = 900
    about: str = ""
    wide: bool = False
    listed: bool = True
    needs_dossier: bool = True


def all_pages() -> tuple[list[Page], list[str]]:
    """The pages in order, and a line for each module that could not be loaded."""
    found: list[Page] = []
    faults: list[str] = []
    for module in sorted(m.name for m in iter_modules(__path__)):
        try:
            page = getattr(import_module(f"{__name__}.{module}"), "PAGE", None)
        except Exception as e:  # one broken page must not take the others along
            faults.append(f"the page {module} could not be loaded ({type(e).__name__}: {e})")
            continue
        if isinstance(page, Page):
            found.append(page)
    return sorted(found, key=lambda p: (p.order, p.title)), faults
