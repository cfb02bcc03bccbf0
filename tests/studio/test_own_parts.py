"""The user's own parts on the board; and a dossier that a stranger filled with markup runs none of it, on any page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from longlens.claims import forecasts
from longlens.claims.records import Evidence, Question
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Shot, Stage, Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.vocabulary import OwnPart, own_parts
from longlens.publish.plates import Highlight, Plate, View
from longlens.studio.board.names import MOST_NAMES, of_vocabulary
from longlens.studio.desk import Desk
from tests.dossier.pictures import encode, scene

BAD = "<img src=x onerror='window.ran=1'>"
WORSE = '"\'> onmouseover="window.ran=2" :title="window.ran=3" x=<script>window.ran=4</script>'


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "fulmar.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4")) as dossier:
        add_photographs(dossier, [("front.jpg", encode(scene(600, 400, 1)))])
    return path


def parts_of(file: Path) -> list[Any]:
    with Dossier.open(file, readonly=True) as dossier:
        return own_parts(dossier)


@pytest.mark.browser
def test_a_part_is_added_while_something_is_named(
    studio: Callable[..., Any], window: Callable[..., Any], file: Path
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = window(studio(file), "/board")
    page.wait_for_function("document.querySelector('.ll-board')?.board?.vocabulary.length > 200", timeout=20000)
    page.keyboard.press("m")
    page.locator(".ll-stage").click(position={"x": 300, "y": 250})
    page.keyboard.type("left heat shield")
    page.keyboard.press("Control+Enter")
    name = page.get_by_label("name", exact=True)
    name.wait_for()
    page.wait_for_function("document.activeElement.getAttribute('aria-label') == 'name'")
    assert name.input_value() == "heat shield"
    page.keyboard.press("Control+a")
    page.keyboard.type(BAD)
    page.get_by_label("what it is, in one line").fill(BAD)
    page.get_by_role("button", name="Add it").click()
    page.get_by_text("cannot stand in a name").wait_for()
    name.fill("anti-roll bar")
    page.get_by_role("button", name="Add it").click()
    page.get_by_text("the vocabulary has it already").wait_for()
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]})
    assert found.violations_count == 0, found.generate_report()
    name.fill("Heat shield")
    page.get_by_label("system", exact=True).select_option("cooling")
    page.get_by_label("there is one").select_option("side")
    page.get_by_role("button", name="Add it").click()
    first = page.locator("#ll-names [role=option]").first  # offered at once, where the naming was left
    page.wait_for_function("document.querySelector('#ll-names [role=option]').innerText.startsWith('left heat shield')")
    assert BAD in first.inner_text()
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelector('.ll-board').dataset.marks == '1'")
    with Dossier.open(file, readonly=True) as dossier:
        (mark,) = dossier.all(Mark)
        assert mark.point == "left.heat_shield" and mark.system == "cooling"
    assert [p.id for p in parts_of(file)] == ["heat_shield"]
    page.keyboard.press("Shift+A")
    page.get_by_role("button", name="Change heat shield").click()
    page.get_by_role("button", name="Keep the changes").wait_for()
    page.get_by_label("what it is, in one line").fill("Foil over the exhaust.")
    page.get_by_role("button", name="Keep the changes").click()
    page.wait_for_function("!document.querySelector('.q-dialog')")
    assert parts_of(file)[0].definition == "Foil over the exhaust."
    page.keyboard.press("Shift+A")
    page.get_by_role("button", name="Remove heat shield").click()
    page.get_by_text("undo brings it back. 1 marks keep its name").wait_for()
    page.keyboard.press("Escape")
    page.wait_for_function("!document.querySelector('.q-dialog')")
    assert parts_of(file) == []
    page.keyboard.press("Control+z")
    page.get_by_text("taken back: remove part heat shield").wait_for()
    assert [p.id for p in parts_of(file)] == ["heat_shield"]
    assert page.evaluate("window.ran") is None


def hostile(file: Path) -> Path:
    """A dossier in which every text that a stranger can write is markup."""
    with Dossier.open(file) as dossier:
        shot = dossier.all(Shot)[0]
        dossier.change(Vehicle, "vehicle", name=BAD, maker=WORSE, note=BAD)
        dossier.put(Stage(id=WORSE, name=BAD))
        dossier.change(Shot, shot.id, name=BAD, credit=WORSE, licence=BAD, note=WORSE, source=BAD, stage=WORSE)
        dossier.put(
            shot.model_copy(
                update={"id": WORSE, "photograph": 'x" onerror="window.ran=5', "stage": WORSE, "name": WORSE}
            )
        )
        for id in (BAD, WORSE):
            dossier.put(Point(id=id, part=id))
            dossier.put(Circle(id=id))
            dossier.put(Mark(id=id, shot=shot.id, form="point", point=id, x=100 + len(id), y=90))
            dossier.put(
                Mark(
                    id="r" + id,
                    shot=shot.id,
                    form="rim",
                    circle=id,
                    edge=[(9, 9), (30, 9), (30, 30), (9, 30), (12, 33)],
                )
            )
            dossier.put(Mark(id="l" + id, shot=shot.id, form="line", part=id, path=[(9, 9), (40, 40)]))
            dossier.put(Fact(id=id, of=id, value=1, sd=0.1, unit="m", source=id))
        dossier.put(Measure(id=WORSE, distance=(BAD, WORSE)))
        part = OwnPart(id="heat_shield", definition=BAD, synonyms=[WORSE, BAD], where=BAD, tells=BAD)
        dossier.put(part)
        for n in range(60):
            dossier.put(
                part.model_copy(update={"id": f"part_{n}", "points": [f"p{k}" for k in range(100)], "place": "corner"})
            )
        ways = [{"id": i, "text": i, "prior": 0.5, "why": i} for i in (BAD, WORSE)]
        look = {
            "id": BAD,
            "text": WORSE,
            "sights": [{"text": t, "chances": {BAD: 0.5, WORSE: 0.5}} for t in (BAD, WORSE)],
        }
        dossier.put(Question.model_validate({"id": BAD, "text": WORSE, "alternatives": ways, "looks": [look]}))
        judged = {"favours": [BAD], "ratio": 3.0, "why": WORSE}
        item = {"id": WORSE, "question": BAD, "kind": "observation", "text": BAD, "on": [f"mark:{BAD}"]}
        dossier.put(Evidence.model_validate(item | {"judged": judged, "group": BAD, "apart": WORSE}))
        forecasts.make(dossier, WORSE, BAD, probability=0.5, why=WORSE, settles=BAD, on=[f"question:{BAD}"])
        shown = [Highlight(marks=[BAD], label=WORSE, line=BAD), Highlight(marks=[WORSE], label=BAD)]
        dossier.put(
            Plate(id=WORSE, title=BAD, text=WORSE, stage=WORSE, view=View(shot=shot.id, caption=BAD), highlights=shown)
        )
    return file.rename(file.with_name("a' onmouseover='window.ran=6' b=\" :c=\"window.ran=7.longlens"))


@pytest.mark.browser
def test_a_dossier_of_a_stranger_runs_no_script(
    studio: Callable[..., Any], window: Callable[..., Any], file: Path
) -> None:
    page = window(studio(hostile(file)), "/board")
    for path in ("board", "shots", "survey", "numbers", "claims", "forecasts", "publish", "straight", "cooling"):
        page.goto(page.url.split("/", 3)[0] + "//" + page.url.split("/", 3)[2] + "/" + path)
        page.wait_for_function("window.socket && window.socket.connected")
        page.wait_for_timeout(700)
        page.locator(".ll-car").hover(force=True)
        assert page.evaluate("window.ran") is None, path
        strange = "[...document.querySelectorAll('*')].filter(e => [...e.attributes].some(a => /^(on|:)/.test(a.name))).length"
        assert page.evaluate(strange) == 0, path
    page.goto(page.url.rsplit("/", 1)[0] + "/claims")
    page.get_by_role("button", name="Add evidence").first.click()
    page.wait_for_timeout(700)
    assert page.evaluate("window.ran") is None


def test_a_stranger_cannot_flood_the_names(file: Path) -> None:
    desk = Desk()
    desk.open(hostile(file))
    own = [n for n in of_vocabulary(desk) if n.get("own")]
    assert len(own) <= 61 * MOST_NAMES * 4 and all(len(n.get("about", "")) <= 300 for n in own)
    assert sum(n["id"].startswith("left.front.part_0") for n in own) <= MOST_NAMES
    desk.close()
