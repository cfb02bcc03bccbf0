"""The page Publish: labels put by hand keep their place; in the browser a plate is dragged and the sequence run through."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.plates import Plate
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
    slider.evaluate("e => { e.value = 9; e.dispatchEvent(new Event('input', {bubbles: true})) }")
    page.wait_for_function("document.querySelector('.ll-stage img').alt.startsWith('0:09')", timeout=120_000)
    assert not any(json.dumps("Traceback")[1:-1] in line for line in one.said().splitlines())
