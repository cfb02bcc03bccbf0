"""A person at the board: looks where things are, and then only moves the mouse and presses keys."""

from __future__ import annotations

import time
from typing import Any


class Hand:
    """Works one page by mouse and keyboard."""

    def __init__(self, page: Any) -> None:
        self.page = page
        page.wait_for_selector(".ll-stage[data-shown]")
        box = page.locator(".ll-stage").bounding_box()
        self.left, self.top, self.width, self.height = box["x"], box["y"], box["width"], box["height"]

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def type(self, words: str) -> None:
        self.page.keyboard.type(words)

    def where(self, x: float, y: float) -> tuple[float, float, float]:
        """Where a pixel of the photograph is on the screen now, and the scale."""
        view = "document.querySelector('.ll-board').board.view"
        script = f"([x, y]) => {{ const s = {view}.toScreen(x, y); return [s.x, s.y, {view}.scale]; }}"
        sx, sy, scale = self.page.evaluate(script, [x, y])
        return self.left + sx, self.top + sy, scale

    def near(self, x: float, y: float, scale: float = 1.0) -> tuple[float, float]:
        """Go close to a pixel with the wheel, the pointer on it; returns where it is."""
        self.press("f")
        self.page.wait_for_timeout(30)
        sx, sy, now = self.where(x, y)
        self.page.mouse.move(sx, sy)
        while now < scale:
            self.page.mouse.wheel(0, -120)
            now *= 1.25
        self.page.wait_for_timeout(40)
        sx, sy, _ = self.where(x, y)
        self.page.mouse.move(sx, sy)
        return sx, sy

    def click(self, x: float, y: float) -> None:
        """Click a pixel of the photograph, from close by."""
        self.page.mouse.click(*self.near(x, y))

    def done(self) -> str:
        """The id of the mark placed last, when the server has it."""
        node = self.page.locator(".ll-board")
        before = time.monotonic()
        while time.monotonic() - before < 20:
            found = node.get_attribute("data-done")
            if found:
                self.page.evaluate("delete document.querySelector('.ll-board').dataset.done")
                return str(found)
            self.page.wait_for_timeout(10)
        raise AssertionError("the mark did not arrive")

    def point(self, name: str, x: float, y: float) -> str:
        """Mark a point."""
        self.press("m")
        self.click(x, y)
        self.type(name)
        self.press("Enter")
        found = self.done()
        self.press("v")
        return found

    def rim(self, name: str, edge: list[list[float]]) -> str:
        """Mark a rim by points on its edge, from one place."""
        self.press("r")
        middle = [sum(p[k] for p in edge) / len(edge) for k in (0, 1)]
        self.near(middle[0], middle[1], 0.9)
        for x, y in edge:
            sx, sy, _ = self.where(x, y)
            self.page.mouse.click(sx, sy)
        self.press("Enter")
        self.type(name)
        self.press("Enter")
        found = self.done()
        self.press("v")
        return found

    def choose(self, x: float, y: float, *, also: bool = False) -> None:
        """Choose what lies there."""
        sx, sy = self.near(x, y, 0.5)
        if also:
            self.page.keyboard.down("Shift")
        self.page.mouse.click(sx, sy)
        if also:
            self.page.keyboard.up("Shift")
        self.page.wait_for_timeout(150)
