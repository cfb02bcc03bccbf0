"""A whole session by mouse and keyboard on the demo's photographs: from an empty dossier to numbers, with a power cut.

The marks are those of the demo's engineer, the truth is the renderer's own geometry (see docs/demo.md).
"""

from __future__ import annotations

import csv
import json
import re
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from longlens.demo.stages import DATA, PICTURES
from longlens.dossier.records import Mark, Shot
from longlens.dossier.store import Dossier
from tests.studio.conftest import Studio
from tests.studio.hand import Hand

pytestmark = pytest.mark.browser

SHOTS = {"s1_studio_front": "fulmar_shown_s1_studio_front", "s2_studio_side": "fulmar_shown_s2_studio_side"}
POINTS = (
    "left.front_wing.end_plate.front",
    "left.front_wing.end_plate.rear_upper",
    "left.front.hub_nut",
    "left.rear.hub_nut",
    "nose_cover.badge",
    "left.mirror.outer_end",
    "right.mirror.inner_end",
    "left.rear_wing.end_plate.front_upper",
)
RIMS = ("left.front.rim", "left.rear.rim")


def marks() -> dict[str, dict[str, Any]]:
    """What the demo's engineer marked: shot → name → x, y or edge points."""
    out: dict[str, dict[str, Any]] = {}
    document = json.loads((DATA / "fulmar_shown.exchange.json").read_text())
    for m in document["marks"]:
        place = m["edge"] if "edge" in m else [m["x"], m["y"]]
        out.setdefault(m["shot"], {})[m.get("point") or m["circle"]] = place
    return out


def truth(measure: str) -> float:
    told = json.loads((DATA / "fulmar_shown.truth.json").read_text())
    return next(m["true"] for m in told["measures"] if m["id"] == measure)


def some(edge: list[list[float]], n: int = 7) -> list[list[float]]:
    return [edge[i * len(edge) // n] for i in range(n)]


def state(page: Any, of: str, value: str, sd: str, source: str) -> None:
    """Fill the form for a published figure."""
    page.get_by_text("State a published figure").click()
    page.get_by_label("Of what").select_option(label=of)
    page.get_by_label("Value, mm").fill(value)
    page.get_by_label("± (sd), mm").fill(sd)
    page.get_by_label("Source", exact=True).fill(source)
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_selector("text=kept; the survey takes it up")


def test_from_an_empty_dossier_to_numbers_through_a_power_cut(
    studio: Callable[..., Studio], window: Callable[..., Any], tmp_path: Path
) -> None:
    running = studio()
    page = window(running)
    page.get_by_label("Name of the vehicle").fill("Fulmar E4")
    page.get_by_role("button", name="Make it").click()
    page.wait_for_url("**/board")

    page.wait_for_function("window.socket && window.socket.connected")
    page.get_by_role("link", name="Shots").click()
    page.get_by_label("Stage of these").fill("shown")
    page.set_input_files("input[type=file]", [str(PICTURES / f"{name}.jpg") for name in SHOTS.values()])
    page.wait_for_selector("text=taken in:")
    assert page.locator(".ll-shots tbody tr").count() == 2
    # the demo's pictures carry no credit of their own, or it shows: give both one, at once
    page.get_by_label("Tick all", exact=True).click()
    page.wait_for_selector("text=2 shots ticked")
    credit = page.locator("input[aria-label^='Credit of']").first
    credit.fill("Skerry Cars press office (invented)")
    credit.press("Tab")
    page.wait_for_selector("text=written for 2 shots")

    file = next(tmp_path.glob("*.longlens"))
    names = {short: _shot_named(file, long) for short, long in SHOTS.items()}
    all_marks = marks()
    first, second = SHOTS
    page.goto(f"{running.base}/board?shot={names[first]}")
    hand = Hand(page)
    for name in POINTS:
        hand.point(name, *all_marks[first][name])

    # the power goes; what was marked is there again, and the last mark can still be taken back and done again
    running.kill()
    running.file = file
    running.start()
    with Dossier.open(file, readonly=True) as dossier:
        assert {m.point for m in dossier.all(Mark)} == set(POINTS)
    page = window(running, f"/board?shot={names[first]}")
    hand = Hand(page)
    assert page.locator(".ll-over .ll-layer-point > g").count() == len(POINTS)
    hand.press("Control+z")
    page.wait_for_function(f"document.querySelector('.ll-board').dataset.marks == {len(POINTS) - 1}")
    hand.press("Control+Shift+z")
    page.wait_for_function(f"document.querySelector('.ll-board').dataset.marks == {len(POINTS)}")

    for name in RIMS:
        hand.rim(name, some(all_marks[first][name]))
    hand.press(".")
    page.wait_for_selector(f".ll-stage[data-shown='{names[second]}']")
    for name in POINTS:
        hand.point(name, *all_marks[second][name])
    for name in RIMS:
        hand.rim(name, some(all_marks[second][name]))

    # what was published: two rims' diameter, the wheelbase; what is asked: the length of the wing's end plate
    ends = [all_marks[second][name][0] for name in RIMS]
    hand.press("Escape")
    hand.choose(*ends[0])
    hand.choose(*ends[1], also=True)
    state(page, "diameter", "415.6", "1.2", "rim 8 J x 15")
    state(page, "length along the car", "2625", "2", "maker's sheet")
    hand.press("Escape")
    hand.choose(*all_marks[second][POINTS[0]])
    hand.choose(*all_marks[second][POINTS[1]], also=True)
    page.get_by_role("button", name="Ask the length, straight").click()

    page.wait_for_selector("text=survey solved", timeout=120_000)
    page.reload()
    page.wait_for_selector("[data-measure] b", timeout=20_000)
    told = page.locator("[data-measure] .ll-number").first.get_attribute("aria-label")
    value, low, high = (float(t) for t in re.findall(r"\d+(?:\.\d+)?", told.partition(":")[2])[:3])
    true = 1e3 * truth("left.front_wing.plate_length")
    assert low - 1 <= true <= high + 1 and low < value < high, told  # the shown bounds are rounded

    # the numbers leave the studio: the same one, in a file
    Hand(page).press("g", "n")
    page.wait_for_url("**/numbers")
    page.wait_for_selector("text=plate front to", timeout=60_000)
    with page.expect_download() as arriving:
        page.get_by_role("button", name="Save CSV").click()
    rows = list(csv.DictReader(arriving.value.path().read_text(encoding="utf-8").splitlines()))
    (row,) = [r for r in rows if "plate" in r["name"]]
    assert float(row["low95"]) <= true / 1e3 <= float(row["high95"]) and row["unit"] == "m", row


def _shot_named(file: Path, name: str) -> str:
    with Dossier.open(file, readonly=True) as dossier:
        return next(s.id for s in dossier.all(Shot) if s.name == name)


def test_a_second_tab_and_another_process_are_seen_within_a_second(
    studio: Callable[..., Studio], window: Callable[..., Any], fulmar: Path, tmp_path: Path
) -> None:
    file = tmp_path / "fulmar.longlens"
    file.write_bytes(fulmar.read_bytes())
    running = studio(file)
    one = window(running, "/board?shot=s1_studio_front")
    two = window(running, "/board?shot=s1_studio_front")
    hand = Hand(one)
    Hand(two)
    count = "document.querySelector('.ll-board').dataset.marks"
    before = int(two.evaluate(count))
    hand.point("a thing without a name of the trade", 400, 400)
    two.wait_for_function(f"{count} == {before + 1}", timeout=1000)
    with Dossier.open(file, by="another program") as dossier:
        dossier.remove(Mark, "s1_studio_front:point:a_thing_without_a_name_of_the_trade")
    one.wait_for_function(f"{count} == {before}", timeout=1500)
    two.wait_for_function(f"{count} == {before}", timeout=500)
    hand.press("Control+z")  # undo takes back what the other program did, too
    two.wait_for_function(f"{count} == {before + 1}", timeout=1000)


def huge_png(side: int = 100_000) -> bytes:
    """A PNG that says it is enormous (and is a few bytes): W3C PNG, IHDR and a little data."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    )


def test_what_is_no_photograph_or_too_large_is_refused_in_words(
    studio: Callable[..., Studio], window: Callable[..., Any], fulmar: Path, tmp_path: Path
) -> None:
    file = tmp_path / "fulmar.longlens"
    file.write_bytes(fulmar.read_bytes())
    running = studio(file)
    (tmp_path / "huge.png").write_bytes(huge_png())
    (tmp_path / "page.jpg").write_text("<html>no picture</html>")
    page = window(running, "/shots")
    page.set_input_files("input[type=file]", [str(tmp_path / "huge.png"), str(tmp_path / "page.jpg")])
    page.wait_for_selector("text=not taken:")
    said = page.locator(".ll-arrivals").inner_text()
    assert "100000 × 100000 pixels: more than 250 megapixels" in said
    assert "not a photograph but a web page" in said
    assert "Traceback" not in running.said() + page.content()
    with Dossier.open(file, readonly=True) as dossier:
        assert not any(s.name in ("huge", "page") for s in dossier.all(Shot))
