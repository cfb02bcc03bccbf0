"""Hands on the board: a wheel, a trackpad's pinch and scroll, and two fingers on a screen, as the browser reports them."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.studio.conftest import Studio

pytestmark = pytest.mark.browser
MIDDLE = (480, 360)


def zoom(page: Any) -> float:
    """What the board says of its scale, %."""
    return float(re.search(r"([\d.]+) %", page.locator(".ll-place").inner_text())[1])  # type: ignore[index]


@pytest.fixture
def board(studio: Callable[..., Studio], window: Callable[..., Any], fulmar: Path, tmp_path: Path) -> Any:
    shutil.copy(fulmar, tmp_path / "fulmar.longlens")
    page = window(studio(tmp_path / "fulmar.longlens"), "/board?shot=s1_studio_front")
    page.wait_for_function("() => /\\d %/.test(document.querySelector('.ll-place')?.textContent || '')")
    page.wait_for_timeout(500)
    return page


def test_the_wheel_and_a_trackpads_pinch_zoom(board: Any) -> None:
    board.mouse.move(*MIDDLE)
    before = zoom(board)
    board.mouse.wheel(0, -100)
    board.wait_for_timeout(300)
    after = zoom(board)
    assert after > 1.1 * before
    board.keyboard.down("Control")  # so a browser reports a pinch on a trackpad
    board.mouse.wheel(0, -40)
    board.keyboard.up("Control")
    board.wait_for_timeout(300)
    assert zoom(board) > 1.2 * after


def test_two_fingers_on_a_screen_zoom(board: Any) -> None:
    before = zoom(board)
    cdp = board.context.new_cdp_session(board)
    cdp.send("Emulation.setTouchEmulationEnabled", {"enabled": True, "maxTouchPoints": 2})
    x, y = MIDDLE

    def fingers(kind: str, apart: float) -> None:
        points = [{"x": x - apart, "y": y, "id": 1}, {"x": x + apart, "y": y, "id": 2}]
        cdp.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [] if kind == "touchEnd" else points})

    fingers("touchStart", 40)
    for apart in (50, 65, 80, 100, 120):
        fingers("touchMove", apart)
    fingers("touchEnd", 120)
    board.wait_for_timeout(300)
    assert 2.0 < zoom(board) / before < 4.5  # fingers went from 80 to 240 pixels apart


def test_a_folder_is_dropped(
    studio: Callable[..., Studio], window: Callable[..., Any], fulmar: Path, tmp_path: Path
) -> None:
    from tests.dossier.pictures import encode, scene

    shutil.copy(fulmar, tmp_path / "fulmar.longlens")
    folder = tmp_path / "press kit"
    (folder / "more").mkdir(parents=True)
    (folder / "one.jpg").write_bytes(encode(scene(900, 600, 41)))
    (folder / "more" / "two.jpg").write_bytes(encode(scene(900, 600, 42)))
    page = window(studio(tmp_path / "fulmar.longlens"), "/shots")
    zone = page.get_by_text("Drop photographs or a folder here").bounding_box()
    page.wait_for_timeout(500)
    at = {"x": zone["x"] + 20, "y": zone["y"] + 10}
    data = {"items": [], "files": [str(folder)], "dragOperationsMask": 1}
    cdp = page.context.new_cdp_session(page)
    for kind in ("dragEnter", "dragOver", "drop"):
        cdp.send("Input.dispatchDragEvent", {"type": kind, **at, "data": data})
    page.wait_for_selector("text=one.jpg", timeout=20_000)
    page.wait_for_selector("text=two.jpg", timeout=20_000)
