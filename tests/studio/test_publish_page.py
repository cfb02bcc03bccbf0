"""The page Publish: labels put by hand keep their place; in the browser a plate is dragged and the sequence run through."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import TimeoutError

from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.plates import Highlight, Plate
from longlens.studio.highlights import LONGEST, add_highlight, change_highlight, order_highlight, remove_highlight
from longlens.studio.pages.publish import free_labels, put_label
from tests.publish.conftest import _published_car, car, opened  # noqa: F401
from tests.studio.conftest import Studio


def test_a_label_keeps_the_place_it_was_put(opened: Callable[[], Dossier]) -> None:  # noqa: F811
    from longlens.publish.basis import Bases
    from longlens.publish.compose import compose
    from longlens.publish.styles import STYLES

    d = opened()
    plate = put_label(put_label(d.get(Plate, "track"), "dimension 0", (0.7, 0.3)), "highlight 1", (0.25, 0.4))
    made = compose(plate, STYLES["wide"], Bases(d).of(None))
    for key, (x, y) in (("dimension 0", (0.7, 0.3)), ("highlight 1", (0.25, 0.4))):
        x0, y0, x1, y1 = made.placed.boxes[key]
        assert (x0 + x1) / 2 == pytest.approx(1920 * x) and (y0 + y1) / 2 == pytest.approx(1080 * y)
    freed = free_labels(plate)
    assert freed.dimensions[0].at is None and freed.highlights[1].at is None
    with pytest.raises(UnusableInput, match="no label"):
        put_label(plate, "highlight 9", (0, 0))
    with pytest.raises(UnusableInput, match="no label"):
        put_label(plate, "__class__ 0", (0, 0))


def test_highlights_are_added_named_put_in_order_and_removed() -> None:
    plate = Plate(id="p", title="Front")
    for name in ("a", "b", "c"):
        plate = add_highlight(plate, Highlight(marks=[name], label=name))
    with pytest.raises(UnusableInput, match="already"):
        add_highlight(plate, Highlight(marks=["b"], label="other words"))
    with pytest.raises(UnusableInput, match="nothing to bring out"):
        add_highlight(plate, Highlight(label="words alone"))
    assert [h.label for h in order_highlight(plate, 0, 1).highlights] == ["b", "a", "c"]
    assert order_highlight(plate, 0, -5) == plate and [h.label for h in order_highlight(plate, 0, 9).highlights] == [
        "b",
        "c",
        "a",
    ]
    named = change_highlight(plate, 1, label="wishbone", line="{measure:track}", system="suspension")
    assert (named.highlights[1].label, named.highlights[1].marks) == ("wishbone", ["b"]) and named.highlights[
        0
    ] == plate.highlights[0]
    assert change_highlight(named, 1, system=None).highlights[1].system is None
    assert [h.label for h in remove_highlight(plate, 1).highlights] == ["a", "c"]
    for wrong in (
        lambda: remove_highlight(plate, 3),
        lambda: change_highlight(plate, -1, label="x"),
        lambda: change_highlight(plate, 0, label="x" * (LONGEST + 1)),
        lambda: change_highlight(plate, 0, system="no such"),
        lambda: add_highlight(plate.model_copy(update={"highlights": plate.highlights * 30}), Highlight(marks=["z"])),
    ):
        with pytest.raises(UnusableInput):
            wrong()


def test_insets_and_charts_keep_the_place_they_were_put(opened: Callable[[], Dossier]) -> None:  # noqa: F811
    from longlens.publish.basis import Bases
    from longlens.publish.compose import compose
    from longlens.publish.drawing import Picture
    from longlens.publish.plates import Chart, Series
    from longlens.publish.styles import STYLES

    d = opened()
    chart = Chart(series=[Series(of="measure:track")], width=0.3)
    plate = d.get(Plate, "side").model_copy(update={"chart": chart})
    before = compose(plate, STYLES["wide"], Bases(d).of(None)).panels
    assert set(before) == {"inset 0", "chart"}
    put = put_label(put_label(plate, "inset 0", (0.3, 0.35)), "chart", (1.0, 0.0))
    made = compose(put, STYLES["wide"], Bases(d).of(None))
    x0, y0, x1, y1 = made.panels["inset 0"]
    assert (x0 + x1) / 2 == pytest.approx(1920 * 0.3) and (y0 + y1) / 2 == pytest.approx(1080 * 0.35)
    pictures = [i.box for i in made.drawing.items if isinstance(i, Picture)]
    assert (x0, y0, x1, y1) in pictures
    _, cy0, cx1, _ = made.panels["chart"]  # put at the corner itself it stays in the frame
    assert cx1 < 1920 and cy0 > 0 and cx1 > 1900 and cy0 < 20
    for lx0, ly0, lx1, ly1 in made.placed.boxes.values():  # labels make room
        for bx0, by0, bx1, by1 in made.panels.values():
            assert lx1 <= bx0 or lx0 >= bx1 or ly1 <= by0 or ly0 >= by1
    low = compose(put_label(put, "inset 0", (0.5, 1.0)), STYLES["wide"], Bases(d).of(None)).panels["inset 0"]
    assert low[3] < STYLES["wide"].words[1]  # words and credits stay bare
    assert compose(free_labels(put), STYLES["wide"], Bases(d).of(None)).panels == before
    for key in ("inset 1", "inset x"):
        with pytest.raises(UnusableInput, match="no label"):
            put_label(plate, key, (0, 0))
    with pytest.raises(UnusableInput, match="no label"):
        put_label(d.get(Plate, "track"), "chart", (0, 0))


def kept(car: Path, plate: str, read: Callable[[Plate], Any], wanted: Callable[[Any], bool], page: Any) -> Any:  # noqa: F811
    """What a plate's record holds, waited for: on a busy machine it takes its time."""
    at = None
    for _ in range(300):
        page.wait_for_timeout(200)
        with Dossier.open(car, readonly=True) as d:
            at = read(d.get(Plate, plate))
        if wanted(at):
            break
    return at


@pytest.mark.browser
def test_insets_and_charts_are_moved_in_the_browser(
    studio: Callable[..., Studio],
    window: Callable[..., Any],
    car: Path,  # noqa: F811
) -> None:
    from longlens.publish.plates import Chart, Series

    with Dossier.open(car) as d:
        d.change(Plate, "side", chart=Chart(series=[Series(of="measure:track")], width=0.3, corner="top left"))
    one = studio(car)
    page = window(one, "/publish")
    page.get_by_role("button", name="From the side").click()
    grip = page.locator('.ll-grip[data-key="inset 0"]')
    grip.wait_for(timeout=120_000)
    box, room = grip.bounding_box(), page.locator(".ll-stage").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(room["x"] + 0.6 * room["width"], room["y"] + 0.5 * room["height"], steps=4)
    page.mouse.up()
    at = kept(car, "side", lambda p: p.insets[0].at, lambda a: a is not None, page)
    assert at == (pytest.approx(0.6, abs=0.03), pytest.approx(0.5, abs=0.04))
    page.wait_for_function(  # painted anew
        """() => document.querySelector('.ll-grip[data-key="inset 0"]')?.style.left.endsWith('%')""", timeout=120_000
    )
    chart = page.locator('.ll-grip[data-key="chart"]')
    chart.wait_for(timeout=120_000)
    assert "Chart" in chart.get_attribute("aria-label")
    chart.focus()
    was = chart.bounding_box()
    chart.press("Shift+ArrowRight")
    at = kept(car, "side", lambda p: p.chart and p.chart.at, lambda a: a is not None, page)
    now = (was["x"] + was["width"] / 2 - room["x"]) / room["width"] + 0.05
    assert at is not None and at[0] == pytest.approx(now, abs=0.02)
    with Dossier.open(car) as d:  # each move is one step, and is undone as one
        d.undo()
        side = d.get(Plate, "side")
        assert side.chart is not None and side.chart.at is None and side.insets[0].at is not None
    assert not any(json.dumps("Traceback")[1:-1] in line for line in one.said().splitlines())


@pytest.mark.browser
def test_a_highlight_is_made_by_keys_alone(
    studio: Callable[..., Studio],
    window: Callable[..., Any],
    car: Path,  # noqa: F811
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    with Dossier.open(car) as d:
        d.change(Plate, "track", highlights=[])
    one = studio(car)
    page = window(one, "/publish")
    page.locator('.ll-grip[data-key="dimension 0"]').wait_for(timeout=120_000)

    def lit(wanted: Callable[[list[Highlight]], bool]) -> list[Highlight]:
        return list(kept(car, "track", lambda p: p.highlights, wanted, page))

    page.keyboard.press("Shift+H")
    page.wait_for_function("document.activeElement.getAttribute('aria-label') == 'New highlight: what kind'")
    page.keyboard.press("Tab")
    assert "which" in page.evaluate("document.activeElement.getAttribute('aria-label')")
    page.get_by_role("button", name="Add this highlight").press("Enter")
    page.get_by_text("nothing is chosen").wait_for()
    which = page.get_by_label("New highlight: which")
    which.press("ArrowDown")  # the first that is offered
    page.wait_for_function("document.querySelector('[aria-label=\"New highlight: label\"]').value != ''")
    page.get_by_label("New highlight: label").fill("<b>seen</b>")
    page.get_by_role("button", name="Add this highlight").press("Enter")
    (first,) = lit(lambda h: len(h) == 1)
    assert first.marks and first.label == "<b>seen</b>" and first.at is None
    name = page.get_by_label("Label of highlight 1")
    name.fill("The bolt")
    name.press("Tab")
    assert lit(lambda h: h[0].label == "The bolt")[0].marks == first.marks
    grip = page.locator('.ll-grip[data-key="highlight 0"]')
    grip.wait_for(timeout=120_000)
    page.wait_for_function("document.querySelector('.ll-grip[data-key=\"highlight 0\"]').ariaLabel != ''")
    grip.focus()
    for _ in range(3):
        page.keyboard.press("Shift+ArrowUp")
        page.wait_for_timeout(60)
    assert lit(lambda h: h[0].at is not None)[0].label == "The bolt"
    page.wait_for_function(  # painted anew, and the focus is back at what was moved
        """() => { const g = document.activeElement; return g.dataset.key === 'highlight 0' && g.style.left.endsWith('%'); }""",
        timeout=120_000,
    )
    page.wait_for_function("!document.querySelector('.q-notification')", timeout=20000)
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]})
    assert found.violations_count == 0, found.generate_report()
    page.keyboard.press("Delete")
    assert lit(lambda h: not h) == []
    with Dossier.open(car) as d:  # each was one step
        d.undo()
        assert d.get(Plate, "track").highlights[0].at is not None
        d.undo()
        assert d.get(Plate, "track").highlights[0].at is None
    assert not any(json.dumps("Traceback")[1:-1] in line for line in one.said().splitlines())


@pytest.mark.browser
def test_dragging_in_the_browser(studio: Callable[..., Studio], window: Callable[..., Any], car: Path) -> None:  # noqa: F811
    one = studio(car)
    page = window(one, "/publish")
    grip = page.locator('.ll-grip[data-key="dimension 0"]')
    grip.wait_for(timeout=120_000)
    box = grip.bounding_box()
    room = page.locator(".ll-stage").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(room["x"] + 0.25 * room["width"], room["y"] + 0.3 * room["height"], steps=4)
    page.mouse.up()
    at = None
    for _ in range(300):  # on a busy machine it takes its time
        page.wait_for_timeout(200)
        with Dossier.open(car, readonly=True) as d:
            at = d.get(Plate, "track").dimensions[0].at
        if at is not None:
            break
    assert at is not None and at[0] == pytest.approx(0.25, abs=0.03) and at[1] == pytest.approx(0.3, abs=0.04)
    slider = page.locator(".ll-scrub")
    slider.wait_for(timeout=120_000)
    page.wait_for_function(  # the plate is painted anew before the line is touched: the last wish counts
        """() => document.querySelector('.ll-grip[data-key="dimension 0"]')?.style.left.endsWith('%')""",
        timeout=120_000,
    )
    for _ in range(8):  # a plate that comes late takes the frame's place; then the line is moved again
        slider.evaluate("e => { e.value = 9; e.dispatchEvent(new Event('input', {bubbles: true})) }")
        with contextlib.suppress(TimeoutError):
            page.wait_for_function("document.querySelector('.ll-stage img')?.alt.startsWith('0:09')", timeout=15_000)
            break
    assert page.locator(".ll-stage img").get_attribute("alt").startswith("0:09")
    assert not any(json.dumps("Traceback")[1:-1] in line for line in one.said().splitlines())
