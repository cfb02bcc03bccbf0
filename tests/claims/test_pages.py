"""The pages Questions and Forecasts, worked by keyboard and mouse in a browser; and the picture of belief by itself."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from longlens.claims import forecasts
from longlens.claims.put import put
from longlens.claims.records import Evidence, Forecast, Question, Resolution
from longlens.dossier import editions
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Fact, Mark, Point, Shot, Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import LonglensError
from longlens.studio import belief
from longlens.studio.evidence import crop_of, sides_fields, sides_of
from longlens.systems.records import sheet_input
from tests.claims.test_weigh import data, judged, question, weighed
from tests.dossier.pictures import encode, scene
from tests.studio.conftest import browser, studio, window  # noqa: F401  (fixtures)


def test_the_layers_are_as_wide_as_belief() -> None:
    w = weighed(question((0.5, 0.3, 0.2)), [judged("x", "a", 3), judged("y", "b", 10)])
    svg = belief.picture(w)
    widths = np.array([float(x) for x in re.findall(r'<rect x="[\d.]+" y="\d+" width="([\d.]+)"', svg)]).reshape(3, 3)
    assert widths.sum(axis=1) == pytest.approx([1000] * 3, abs=0.2)
    assert widths / 1000 == pytest.approx(w.path, abs=2e-4)
    assert "A 50 %" in svg and "after: y" in svg and len(set(re.findall(r"url\(#belief\d\)", svg))) == 3
    assert belief.told(w).startswith("Probability of b, item by item: 30 %")


def test_words_of_a_stranger_are_text_in_the_picture() -> None:
    w = weighed(question(), [judged("<script>", "a", 3)])
    assert "<script>" not in belief.picture(w)
    assert crop_of(Mark(id="m", shot="s", form="point", point="p", x=1, y=1), None) == ""


def test_sides_of_a_judgement_there_and_back() -> None:
    q = question((0.4, 0.4, 0.2))
    sides = sides_of(q, judged("x", "a", 3).judged)  # type: ignore[arg-type]
    assert sides_fields(sides) == {"favours": ["a"], "over": ["b", "c"]}
    assert sides_fields(sides | {"c": "in between"}) == {"favours": ["a"], "over": ["b"]}
    with pytest.raises(LonglensError, match="tells explanations apart"):
        sides_fields(dict.fromkeys("abc", "more probable"))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "fulmar.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4")) as dossier:
        add_photographs(dossier, [("front.jpg", encode(scene(600, 400, 1)))])
        shot = dossier.all(Shot)[0].id
        dossier.put(Point(id="pump"))
        dossier.put(Mark(id="m1", shot=shot, form="point", point="pump", x=300, y=200))
        dossier.put(Mark(id="m2", shot=shot, form="point", point="pump", x=320, y=210))
        dossier.put(Fact(id="mass", of="mass", value=620, sd=5, unit="kg", source="press sheet"))
        editions.freeze(dossier, "first look")
        given = data()
        given["evidence"][0]["judged"] = {"favours": ["a"], "ratio": 4, "low": 2, "high": 8}
        put(dossier, given)
        forecasts.make(dossier, "f1", "There is one pump.", probability=0.7)
    return path


def text_of(page: Any) -> str:
    return str(page.inner_text("body"))


def until(page: Any, words: str) -> None:
    page.wait_for_function("w => document.body.innerText.includes(w)", arg=words, timeout=20000)


@pytest.mark.browser
def test_a_question_in_the_browser(studio: Callable[..., Any], window: Callable[..., Any], file: Path) -> None:  # noqa: F811
    from axe_playwright_python.sync_playwright import Axe

    page = window(studio(file), "/claims")
    until(page, "What would change the answer")
    assert "Which?" in text_of(page) and page.locator(".ll-crops image").count() == 1
    assert page.locator(".ll-crops a").get_attribute("href") == "/board?mark=m1"
    box = page.get_by_label("ratio of one pump")
    box.fill("7")
    box.press("Tab")
    until(page, "7 times as probable")
    with Dossier.open(file, readonly=True) as dossier:
        assert dossier.get(Evidence, "one pump").judged.ratio == 7  # type: ignore[union-attr]
    box = page.get_by_label("ratio of one pump")
    box.fill("20")  # outside its range
    box.press("Tab")
    until(page, "between low and high")
    page.get_by_text("Change the question and its explanations").click()
    page.get_by_label("prior of a").fill("90")
    page.get_by_text("Keep explanations").click()
    until(page, "add up to 1.5")
    page.get_by_text("Ask a new question").last.click()
    until(page, "How does it work?")
    with Dossier.open(file, readonly=True) as dossier:
        assert len(dossier.all(Question)) == 2
    gone = "!document.querySelector('.q-notification')"  # fading words have no contrast
    page.wait_for_function(gone, timeout=20000)
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]})
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.browser
def test_evidence_is_filled_in_in_the_browser(
    studio: Callable[..., Any],  # noqa: F811
    window: Callable[..., Any],  # noqa: F811
    file: Path,
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    look = {"id": "l", "text": "Look in.", "sights": [
        {"text": t, "chances": {"a": p, "b": 1 - p, "c": 0.5}} for t, p in (("one", 0.9), ("two", 0.1))]}  # fmt: skip
    with Dossier.open(file) as dossier:
        dossier.change(Question, "q", looks=[look])

    def kept(id: str) -> Evidence:
        with Dossier.open(file, readonly=True) as dossier:
            return dossier.get(Evidence, id)

    page = window(studio(file), "/claims")
    until(page, "What would change the answer")
    page.get_by_role("button", name="Marks it rests on: one pump").click()
    marks = page.get_by_role("group", name="Marks of one pump").get_by_role("button")
    marks.nth(1).wait_for()
    assert marks.count() == 2 and "mark m2" in str(marks.first.get_attribute("aria-label"))  # the newest first
    marks.first.click()
    page.wait_for_function("document.querySelectorAll('.ll-crops a').length == 2", timeout=20000)
    assert kept("one pump").on == ["mark:m1", "mark:m2"]
    page.get_by_role("button", name="Explanations it speaks for: one pump").click()
    page.evaluate("document.querySelector('.ll-evidence').dataset.old = 1")
    page.get_by_label("c, one pump").select_option("in between")
    anew = "!document.querySelector('[data-old]') && document.querySelectorAll('.ll-evidence').length == 2"
    page.wait_for_function(anew, timeout=20000)  # what is pressed before the page is filled anew is lost
    assert kept("one pump").judged.over == ["b"]  # type: ignore[union-attr]
    page.get_by_role("button", name="Add evidence: Which?").click()
    page.get_by_label("New evidence: what was seen").fill("a second hose")
    page.get_by_text("Keep this evidence").click()
    until(page, "needs the marks")
    page.get_by_role("group", name="Marks of the new evidence").get_by_role("button").first.click()
    page.get_by_label("a, new evidence").select_option("less probable")
    page.get_by_label("b, new evidence").select_option("more probable")
    page.get_by_label("New evidence: strength in words").select_option("moderate support")
    page.get_by_label("New evidence: why this strength").fill("hoses are seldom for show")
    page.get_by_text("Keep this evidence").click()
    page.wait_for_function("document.querySelectorAll('.ll-evidence').length == 3", timeout=20000)
    new = kept("q/evidence 1")
    assert new.on == ["mark:m2"] and new.judged is not None and new.judged.favours == ["b"]
    assert new.judged.words == "moderate support" and new.judged.over == ["a", "c"] and new.judged.why
    page.get_by_text("Change the question and its explanations").click()
    page.get_by_text("Add an explanation").click()
    until(page, "another explanation")
    with Dossier.open(file, readonly=True) as dossier:
        (one,) = dossier.get(Question, "q").looks
    assert one.sights[0].chances == {"a": 0.9, "b": pytest.approx(0.1), "c": 0.5, "explanation 1": 0.5}
    page.wait_for_function("!document.querySelector('.q-notification')", timeout=20000)
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]})
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.browser
def test_predictions_and_readings_in_the_browser(
    studio: Callable[..., Any],  # noqa: F811
    window: Callable[..., Any],  # noqa: F811
    file: Path,
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    with Dossier.open(file) as dossier:
        dossier.put(sheet_input("structure", "seen", [{"part": "crash structure", "seen": ["weave"]}]))
    page = window(studio(file), "/claims")
    until(page, "What would change the answer")
    page.get_by_role("button", name="Add evidence: Which?").click()
    page.get_by_role("button", name="A number that explanations predict").click()
    page.get_by_label("New evidence: what was found").fill("the sheet says 620 kg")
    page.get_by_role("button", name="Keep this evidence").click()
    until(page, "no number is chosen")
    page.get_by_label("New evidence: the number that was measured").select_option("fact:mass")
    page.get_by_label("New evidence: value predicted by a").fill("six hundred")
    page.get_by_label("New evidence: sd predicted by a").fill("10")
    page.get_by_label("New evidence: b predicts").select_option("nothing (a wide spread)")
    page.get_by_label("New evidence: c predicts").select_option("nothing (a wide spread)")
    page.get_by_role("button", name="Keep this evidence").click()
    until(page, "value of a: 'six hundred' is no number")
    page.get_by_label("New evidence: value predicted by a").fill("615")
    page.get_by_role("button", name="Keep this evidence").click()
    until(page, "computed: density of 620")
    with Dossier.open(file, readonly=True) as dossier:
        new = dossier.get(Evidence, "q/evidence 1")
    assert new.kind == "fact" and new.of == "fact:mass" and set(new.predicted) == {"a"}
    assert (new.predicted["a"].value, new.predicted["a"].sd, new.predicted["a"].unit) == (615, 10, "kg")

    page.get_by_role("button", name="Add evidence: Which?").click()
    page.get_by_role("button", name="What a sheet says by itself").click()
    reading = page.get_by_role("button", name="weave structure, crash structure")
    reading.click()
    page.get_by_label("laminate of woven carbon or its imitation stands for a, new evidence").check()
    page.get_by_role("button", name="Keep this evidence").click()
    until(page, "nothing here stands for “metal”")
    page.get_by_label("metal stands for b, new evidence").check()
    page.get_by_role("button", name="Keep this evidence").click()
    until(page, "structure sheet: weave")
    with Dossier.open(file, readonly=True) as dossier:
        taken = next(e for e in dossier.all(Evidence) if e.kind == "reading")
    assert taken.means == {"laminate of woven carbon or its imitation": ["a"], "metal": ["b"]}
    page.keyboard.press("Control+z")
    page.wait_for_function("!document.body.innerText.includes('structure sheet: weave')", timeout=20000)
    page.wait_for_function("!document.querySelector('.q-notification')", timeout=20000)
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]})
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.browser
def test_focus_words_and_place_outlive_a_change(
    studio: Callable[..., Any],  # noqa: F811
    window: Callable[..., Any],  # noqa: F811
    file: Path,
) -> None:
    page = window(studio(file), "/claims", 1000, 500)
    until(page, "What would change the answer")
    box = page.get_by_label("ratio of one pump")
    box.scroll_into_view_if_needed()
    at = page.evaluate("scrollY")
    page.evaluate("document.querySelector('.ll-evidence').dataset.old = 1")
    box.fill("7")
    page.keyboard.press("Tab")
    page.keyboard.type("12")  # half written when the page is filled anew
    page.wait_for_function("!document.querySelector('[data-old]')", timeout=20000)
    now = "[document.activeElement.getAttribute('aria-label'), document.activeElement.value]"
    assert at > 100 and page.evaluate("scrollY") == at
    assert page.evaluate(now) == ["high of one pump", "12"]
    page.keyboard.press("Tab")  # and is sent when it is left
    until(page, "2 to 12")
    with Dossier.open(file, readonly=True) as dossier:
        assert dossier.get(Evidence, "one pump").judged.range == (7, 2, 12)  # type: ignore[union-attr]
    page.get_by_role("button", name="Remove the evidence one pump").press("Enter")
    page.wait_for_function("document.activeElement.getAttribute('aria-label') == 'Which?'", timeout=20000)


@pytest.mark.browser
def test_forecasts_in_the_browser(studio: Callable[..., Any], window: Callable[..., Any], file: Path) -> None:  # noqa: F811
    from axe_playwright_python.sync_playwright import Axe

    page = window(studio(file), "/forecasts")
    until(page, "There is one pump.")
    page.get_by_role("button", name="State a forecast").click()
    page.get_by_label("What will happen, forecast 1").fill("A second pump is shown.")
    page.get_by_label("Probability (%), forecast 1").fill("170")
    page.get_by_label("Why, forecast 1").click()
    until(page, "170 is no probability")
    assert page.get_by_label("Probability (%), forecast 1").get_attribute("aria-invalid") == "true"
    page.get_by_label("Probability (%), forecast 1").fill("30")
    page.get_by_label("How and by when it will be judged").fill("a car with its floor off, by May")
    page.keyboard.press("Tab")
    page.wait_for_function("!document.querySelector('.ll-trouble').innerText")

    def drafted() -> list[Any]:
        with Dossier.open(file, readonly=True) as dossier:
            return [(d.probability, d.settles) for d in forecasts.drafts(dossier)]

    assert drafted() == [(0.3, "a car with its floor off, by May")]
    page.get_by_role("heading", name="Forecasts").click()  # out of the field: ctrl+z there is the field's own
    page.keyboard.press("Control+z")
    page.wait_for_function("document.querySelector('[aria-label^=\"How and by when\"]').value == ''")
    assert drafted() == [(0.3, "")]
    page.get_by_label("Seal forecast 1").click()
    until(page, "no forecast was altered")
    page.wait_for_function("document.querySelectorAll('.ll-sheetlet').length == 0")
    page.get_by_label("Revise forecast 1").click()
    page.get_by_label("Probability (%), forecast 2").fill("20")
    page.get_by_label("Seal forecast 2").click()
    until(page, "forecast 2 took its place")
    page.get_by_label("Judge f1").click()
    page.get_by_text("It happened").click()
    until(page, "at least 1 character")
    page.get_by_label("How it is known").fill("seen from behind")
    page.get_by_text("It happened").click()
    until(page, "seen from behind")
    page.wait_for_function("!document.querySelector('.q-dialog')")
    with Dossier.open(file, readonly=True) as dossier:
        assert dossier.get(Resolution, "f1").happened is True and dossier.count(Forecast) == 3
        assert dossier.get(Forecast, "forecast 2").revises == "forecast 1"
        assert forecasts.problems(dossier) == []
    assert "no forecast was altered" in text_of(page)
    page.wait_for_timeout(300)
    gone = "!document.querySelector('.q-notification')"  # fading words have no contrast
    page.wait_for_function(gone, timeout=20000)
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]})
    assert found.violations_count == 0, found.generate_report()
