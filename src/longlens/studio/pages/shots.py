"""The photographs: brought in, described, told apart."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from nicegui import ui

from longlens.studio.frame import live, text
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk


def build(desk: Desk) -> None:
    def listed() -> None:
        for shot in desk.shots("all"):
            with ui.element("p"):
                ui.link(shot.name or shot.id, f"/board?shot={quote(shot.id, safe='')}")
                text("span", f" {shot.width} × {shot.height}", "ll-quiet")

    live(desk, listed, kinds={"shot"}, solution=False)


PAGE = Page("/shots", "Shots", build, key="p", order=110, about="Photographs, their sources and rights")
