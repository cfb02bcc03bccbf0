"""The photo board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from longlens.studio.elements import photograph
from longlens.studio.frame import live, text
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk


def build(desk: Desk) -> None:
    def shown() -> None:
        shots = desk.shots()
        if not shots:
            text("p", "No photographs yet.")
        for shot in shots[:1]:
            photograph(desk, shot.id)

    live(desk, shown, kinds={"shot"})


PAGE = Page("/board", "Board", build, key="b", order=100, about="Mark photographs")
