"""Every page: no fault in it, accessible (WCAG 2.1 AA as axe-core checks it), and pictures of it at two sizes.

Pictures go to the folder that LONGLENS_PICTURES names, else to a temporary one; those in docs/pictures/studio were made so and
looked at.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from longlens.demo.build import STEPS
from longlens.demo.stages import Result, stages_of
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import document_hash, to_exchange
from longlens.studio.pages import all_pages
from tests.studio.conftest import Studio, lasting_studio, lasting_tab

pytestmark = pytest.mark.browser

PAGES, FAULTS = all_pages()
SIZES = ((1280, 800), (3840, 2160))
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]


@pytest.fixture(scope="module")
def solved(tmp_path_factory: pytest.TempPathFactory, fulmar: Path) -> Iterator[Any]:
    """One studio on the Fulmar's shown car, solved, for all tests of this module: nobody here writes to it."""
    folder = tmp_path_factory.mktemp("pages")
    file = folder / "fulmar.longlens"
    file.write_bytes(fulmar.read_bytes())
    with Dossier.open(file) as dossier:
        for step in STEPS:  # what the demo's engineer tells the sheets and asks
            if step.what in ("inputs of the sheets", "questions and forecasts"):
                for stage in stages_of("fulmar"):
                    step.do(dossier, Result("fulmar", stage, file, folder / "x.html", {}), lambda *a: None)
    with lasting_studio(file) as one:
        yield one


@pytest.fixture(scope="module")
def tab(solved: Studio, browser: Any) -> Iterator[Any]:
    """One tab, after the survey was solved once in this run, so that pages have joint draws to show."""
    with lasting_tab(browser, solved, until="text=survey solved") as page:
        yield page


def test_every_page_module_loads() -> None:
    assert not FAULTS


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.path.strip("/"))
def test_a_page_is_whole_and_accessible_and_has_its_picture(
    page: Any, solved: Studio, tab: Any, tmp_path: Path
) -> None:
    wrong: list[str] = []
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    tab.set_viewport_size({"width": 1280, "height": 800})
    tab.goto(solved.base + page.path)
    tab.wait_for_function("window.socket && window.socket.connected")
    tab.wait_for_function("!document.body.innerText.includes('working …')", timeout=60_000)
    tab.wait_for_load_state("networkidle")
    tab.wait_for_timeout(300)
    folder = Path(os.environ.get("LONGLENS_PICTURES") or tmp_path)
    name = page.path.strip("/").replace("/", "-")
    for width, height in SIZES:
        tab.set_viewport_size({"width": width, "height": height})
        tab.wait_for_timeout(250)
        tab.screenshot(path=folder / f"{name}-{width}x{height}.png")
    tab.set_viewport_size({"width": 1280, "height": 800})
    assert not wrong, wrong
    assert tab.locator(".ll-refusal:has-text('made a mistake')").count() == 0, tab.locator(
        ".ll-refusal"
    ).all_inner_texts()
    assert tab.locator("h1").inner_text()
    _accessible(tab)


def _accessible(tab: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(tab, options={"runOnly": {"type": "tag", "values": RULES}}).response["violations"]
    told = [(v["id"], v["help"], [n["html"][:160] for n in v["nodes"][:3]]) for v in found]
    assert not told, json.dumps(told, indent=1)


def test_keys_lead_everywhere_and_the_help_sheet_tells_them(solved: Studio, tab: Any) -> None:
    tab.goto(solved.base + "/board")
    tab.wait_for_function("window.socket && window.socket.connected")
    tab.keyboard.press("?")
    sheet = tab.locator("dialog.ll-sheet")
    for words in ("Mark a point", "Go to Shots", "Undo", "A quarter of a pixel to the left"):
        assert words in sheet.inner_text()
    _accessible(tab)
    tab.keyboard.press("Escape")
    tab.keyboard.press("g")
    tab.keyboard.press("p")
    tab.wait_for_url("**/shots")
    tab.wait_for_function("window.socket && window.socket.connected")
    tab.keyboard.press("Control+k")
    tab.keyboard.type("board")
    _accessible(tab)
    tab.keyboard.press("Enter")
    tab.wait_for_url("**/board")


def test_an_answer_that_came_with_the_dossier_is_not_shown_and_one_solved_before_is_at_once(
    solved: Studio, tab: Any, studio: Callable[..., Studio], window: Callable[..., Any], fulmar: Path, tmp_path: Path
) -> None:
    file = tmp_path / "fulmar.longlens"
    file.write_bytes(fulmar.read_bytes())
    with Dossier.open(file) as dossier:
        measure = {"value": 43.21, "sd": 0.001, "low95": 43.209, "high95": 43.211, "unit": "m"}
        answer = {"solved": True, "sigma0": 1.0, "redundancy": 9, "shots": {}, "points": {}, "warnings": []}
        key = document_hash(to_exchange(dossier, stage="shown"))
        said = answer | {"measures": {"front_wing.span": measure}}
        dossier.keep_derived("survey answer", key, json.dumps(said).encode())  # as earlier versions kept it
    page = window(studio(file), "/numbers")
    page.wait_for_selector("text=survey solved", timeout=60_000)  # ``tab`` has waited for the same survey to be solved
    page.wait_for_function("document.body.innerText.includes(' mm')")
    assert "4321" not in page.inner_text("body").replace("\u202f", "").replace(" ", "")


def test_the_wheels_move_and_the_rods_with_them_in_the_view_and_on_the_photograph(solved: Studio, tab: Any) -> None:
    tab.goto(solved.base + "/suspension")
    tab.wait_for_selector("input[type=range]", timeout=60_000)
    tab.wait_for_load_state("networkidle")
    rods = tab.locator("figure.ll-plate svg g:has(> title:text-is('left front pushrod')) path.ink")
    assert rods.count() == 2  # in the view, and on the photograph
    still = [rods.nth(k).get_attribute("d") for k in range(2)]
    told = tab.locator("p[role=status]")
    before = told.inner_text()
    bump = tab.get_by_label("wheels up and down")
    bump.focus()
    for _ in range(30):
        tab.keyboard.press("ArrowRight")
    tab.wait_for_function("!document.body.innerText.includes('wheels up and down: 0 mm')")
    tab.wait_for_timeout(400)
    assert bump.input_value() == "15"
    moved = tab.locator("figure.ll-plate svg g:has(> title:text-is('left front pushrod')):not([style]) path.ink")
    assert all(moved.nth(k).get_attribute("d") != still[k] for k in range(2))
    assert told.inner_text() != before and "camber" in told.inner_text()
    _accessible(tab)
    tab.get_by_role("button", name="back to the car as it stands").click()
    tab.wait_for_function("document.body.innerText.includes('wheels up and down: 0 mm')")
    tab.wait_for_timeout(400)
    assert [rods.nth(k).get_attribute("d") for k in range(2)] == still
    tab.get_by_role("button", name="rear", exact=True).click()
    tab.wait_for_selector(
        "svg g > title:text-is('left rear toe link'), svg g > title:text-is('left rear track rod')", state="attached"
    )
    assert told.inner_text().startswith("rear axle")
