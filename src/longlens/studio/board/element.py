"""The board as an element of a page: states go in, intents come out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui.element import Element

from longlens.studio.board.keys import KEYS


class PhotoBoard(Element, component="board.js"):
    """``intent(what)`` is called with each thing the person does: ``{"do": "place", …}``.

    Parameters
    ----------
    version : of the scripts, part of their address.
    """

    def __init__(self, intent: Callable[[dict[str, Any]], Any], ready: Callable[[], Any], version: str) -> None:
        super().__init__()
        self._props["keys"] = KEYS
        self._props["version"] = version
        self.on("intent", lambda e: intent(e.args if isinstance(e.args, dict) else {}))
        self.on("ready", lambda: ready())

    def show(self, **state: Any) -> None:
        """Show a part of the state: photo, marks, names, selected, guides, proposals, go, offer, say."""
        self.run_method("show", state)
