"""The numbers page and the survey page: rows and exports, geometry of the scene, and both in the browser."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.dossier.exchange import read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier
from longlens.numbers.number import Normal, joint, stated
from longlens.numbers.trail import Origin
from longlens.studio import number_list as nl
from longlens.studio.space import LEAST, REACH, REGION3, ellipsoid, eye_for, field_of_view, ring_of
from longlens.survey.camera import look_at, project
from tests.cli.little_car import document
from tests.studio.conftest import CHROMIUM, WHY, Studio

# Rows and exports -------------------------------------------------------------------------------------------


def rows() -> list[nl.Row]:
    rng = np.random.default_rng(0)
    track = joint({"track": rng.normal(1.44, 0.002, 2000)}, "m")["track"]
    base = joint({"wheelbase": rng.normal(2.5, 0.001, 2000)}, "m")["wheelbase"]
    place = joint({"nose": rng.normal([1.9, 0, 0.3], 0.003, (2000, 3))}, "m")["nose"]
    power = stated("power", Normal(240e3, 5e3), "W", source="maker's sheet")
    return [
        nl.Row("measure:track", "front.track", "measures", "suspension", track),
        nl.Row("measure:wheelbase", "wheelbase", "measures", "", base),
        nl.Row("measure:gap", "left.gap_1", "measures", "aero", None, "not determined: the marks hardly determine it"),
        nl.Row("fact:power", "power", "facts", "", power),
        nl.Row("point:nose", "nose", "points", "structure", place),
    ]


def names(found: list[nl.Row]) -> list[str]:
    return [r.name for r in found]


def test_rows_are_found_by_words_groups_and_kinds() -> None:
    every = rows()
    assert names(nl.chosen(every, group="measures")) == ["front.track", "left.gap_1", "wheelbase"]
    assert names(nl.chosen(every, text="track front")) == ["front.track"]
    assert names(nl.chosen(every, text="suspension")) == ["front.track"]
    assert names(nl.chosen(every, kind="stated")) == ["power"]
    assert names(nl.chosen(every, kind="not determined")) == ["left.gap_1"]
    assert nl.chosen(every, text="nothing like it") == []


def test_rows_are_sorted_by_how_well_they_are_known() -> None:
    measures = nl.chosen(rows(), group="measures", sort="width")
    assert names(measures) == ["wheelbase", "front.track", "left.gap_1"]
    assert names(nl.chosen(rows(), group="measures", sort="value", falling=True))[0] == "wheelbase"


def test_csv_reads_back_in_si() -> None:
    every = rows()
    lines = list(csv.DictReader(io.StringIO(nl.as_csv(every))))
    assert [line["name"] for line in lines] == [
        "front.track", "wheelbase", "left.gap_1", "power", "nose x", "nose y", "nose z",
    ]  # fmt: skip
    track = lines[0]
    assert float(track["value"]) == float(every[0].number.interval.value) and track["unit"] == "m"
    assert float(track["low95"]) < float(track["value"]) < float(track["high95"])
    assert lines[2]["value"] == "" and lines[2]["kind"] == "not determined"


def test_a_name_is_no_formula_in_a_spreadsheet() -> None:
    bad = nl.Row("measure:x", "=1+1", "measures", "", rows()[0].number)
    assert next(csv.DictReader(io.StringIO(nl.as_csv([bad]))))["name"] == "'=1+1"


def test_text_has_the_interval_and_the_caution() -> None:
    told = nl.as_text(rows()[:1])
    assert re.search(r"front track +1440\.?\d* \(143\d.*–144\d.*\) mm +measured", told)
    assert "understanding and discussion" in told


@given(st.text(max_size=40))
def test_latex_leaves_no_command_in_a_name(name: str) -> None:
    """LaTeX's ten special characters (Lamport 1994, 2.1) stand escaped or in math."""
    made = nl.tex(name)
    bare = re.sub(r"\\textbackslash\{\}|\\textasciitilde\{\}|\\textasciicircum\{\}|\\dots\{\}", "", made)
    bare = re.sub(r"\\[&%$#_{}]", "", bare)
    bare = re.sub(r"\$(?:-|\^2|\^3|\^\\circ|\\cdot|\\pm)\$|\\,", "", bare)
    assert not re.search(r"[\\&%$#_{}~^]", bare)


def test_latex_is_one_tabular() -> None:
    made = nl.as_latex(rows())
    assert made.count(r"\begin{tabular}") == made.count(r"\end{tabular}") == 1
    assert made.count(r"\\") == len(rows()) + 1


def test_a_trail_ends_at_marks_and_facts() -> None:
    mark = Origin("mark on s1", "measured", record="mark:m1")
    fact = Origin("wheelbase", "stated", record="fact:wheelbase", source="x")
    middle = Origin("a", "computed", inputs=(mark, fact))
    top = Origin("b", "computed", inputs=(middle, mark))
    assert nl.rests_on(top) == (["m1"], ["wheelbase"])


# Geometry of the scene --------------------------------------------------------------------------------------


def test_an_ellipsoid_holds_95_of_100_draws() -> None:
    rng = np.random.default_rng(2)
    A = rng.normal(size=(3, 3)) * [0.03, 0.01, 0.02]
    cov = A @ A.T + 1e-5 * np.eye(3)
    e = ellipsoid(np.array([1.0, 2.0, 3.0]), cov)
    draws = rng.multivariate_normal([1.0, 2.0, 3.0], cov, 20_000)
    inside = np.sum((((draws - e.centre) @ e.axes) / e.half) ** 2, axis=1) < 1
    assert inside.mean() == pytest.approx(0.95, abs=0.01)
    assert np.linalg.det(e.axes) == pytest.approx(1)
    assert pytest.approx(7.815, abs=1e-3) == REGION3**2  # χ² table, three degrees of freedom, 95 %


def test_an_ellipsoid_is_never_too_thin_to_see() -> None:
    assert ellipsoid(np.zeros(3), np.zeros((3, 3))).half == pytest.approx([LEAST] * 3)


def test_a_field_of_view_is_what_the_camera_sees() -> None:
    C = np.array([4.0, 2.0, 1.0])
    R = look_at(C, np.zeros(3))
    corners = field_of_view(C, R, 5000.0, 6000, 4000)
    pixels = project(corners, R, C, 5000.0, 0.0, np.array([2999.5, 1999.5]))
    wanted = np.array([[0, 0], [6000, 0], [6000, 4000], [0, 4000]]) - 0.5
    np.testing.assert_allclose(pixels, wanted, atol=1e-6)
    assert np.linalg.norm(corners[0] - C) == pytest.approx(REACH)


def test_a_ring_lies_on_its_circle() -> None:
    n = np.array([0.1, 0.98, 0.05])
    ring = ring_of([1.0, 2.0, 3.0], n, 0.3)
    d = ring - [1.0, 2.0, 3.0]
    np.testing.assert_allclose(np.linalg.norm(d, axis=1), 0.3)
    np.testing.assert_allclose(d @ n, 0, atol=1e-12)
    np.testing.assert_allclose(ring[0], ring[-1], atol=1e-12)


@pytest.mark.parametrize(("view", "axis"), [("top", 2), ("side", 1), ("front", 0)])
def test_views_look_along_their_axis(view: Any, axis: int) -> None:
    eye, at, up = eye_for(view, np.array([-3.0, -1, 0]), np.array([1.0, 1, 1]))
    d = (eye - at) / np.linalg.norm(eye - at)
    assert d[axis] == pytest.approx(1) and abs(up @ d) < 1e-9


# In the browser ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def car(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """A studio on a small car whose survey takes a second."""
    if CHROMIUM is None:
        pytest.skip(WHY)
    folder = tmp_path_factory.mktemp("car")
    file = folder / "car.longlens"
    body = document()
    body["points"].append({"id": "lonely"})
    body["marks"].append({"shot": "s1", "point": "lonely", "x": 10, "y": 10, "sd_px": 2})
    body["measures"].append({"id": "far", "distance": ["lonely", "nose"]})
    with Dossier.create(file, Vehicle(name="Fulmar E4")) as dossier:
        from_exchange(dossier, read_exchange(body)[0])
    one = Studio(file, folder)
    one.start()
    yield one
    one.kill()


@pytest.mark.browser
def test_numbers_are_found_sorted_followed_and_copied(car: Studio, browser: Any) -> None:
    context = browser.new_context(
        viewport={"width": 1280, "height": 800}, permissions=["clipboard-read", "clipboard-write"]
    )
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(car.address)
    page.goto(car.base + "/numbers")
    page.wait_for_selector("text=survey solved", timeout=120_000)
    page.wait_for_selector("table.ll-numbers tbody tr >> nth=1")
    body = page.locator("table.ll-numbers tbody")
    assert "not determined" in body.inner_text() and "track" in body.inner_text()

    page.keyboard.press("/")
    page.keyboard.type("track")
    page.wait_for_function("document.querySelectorAll('table.ll-numbers tbody tr').length === 1")
    page.get_by_role("button", name=re.compile("show the .* marks of track")).click()
    page.wait_for_selector("role=dialog >> text=/marks/")
    assert page.locator("role=dialog >> a[href^='/board?mark=']").count() > 1
    page.keyboard.press("Escape")
    page.wait_for_selector("role=dialog", state="detached")

    page.get_by_role("button", name="Copy as LaTeX").click()
    page.wait_for_selector("text=copied 1 number as LaTeX")
    assert r"\begin{tabular}" in page.evaluate("navigator.clipboard.readText()")
    page.locator("input[aria-label='Find']").fill("")
    page.get_by_role("button", name="Places of points").click()
    page.wait_for_function("document.querySelectorAll('table.ll-numbers tbody tr').length > 10")
    page.get_by_role("button", name="half width").click()
    page.wait_for_selector("th[aria-sort=ascending] >> text=half width")
    widths = page.locator("table.ll-numbers td.ll-right").all_inner_texts()
    found = [float(w.split()[0]) for w in widths]
    assert found == sorted(found)
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save CSV").click()
    assert Path(saved.value.path()).read_text(encoding="utf-8").startswith("name,group")
    assert not wrong
    context.close()


@pytest.mark.browser
def test_the_survey_in_space_and_what_would_help(car: Studio, browser: Any) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(car.address)
    page.goto(car.base + "/survey")
    page.wait_for_selector("text=survey solved", timeout=120_000)
    page.wait_for_selector("#now", timeout=60_000)
    text = page.locator("body").inner_text()
    assert "4 photographs and" in text and "Not determined" in text and "lonely" in text
    page.get_by_role("button", name="From the top").click()
    page.keyboard.press("3")
    page.wait_for_selector("canvas")
    advice = page.locator(".ll-advice li")
    assert advice.count() >= 1 and "narrower" in advice.first.inner_text()
    photograph = page.get_by_role("button", name=re.compile("^show in space")).first
    photograph.click()
    page.wait_for_selector("text=What the facts contribute")
    page.wait_for_selector("table caption >> text=/variance that comes from each fact/", timeout=60_000)
    assert "wheelbase" in page.locator("table", has_text="of all numbers").inner_text()
    picker = page.locator("input[aria-label='Which number']")
    picker.click()
    page.locator(".q-menu >> text=far").click()
    page.wait_for_selector("text=far is not determined. It needs:")
    assert not wrong
    context.close()


# Straight on ------------------------------------------------------------------------------------------------


def test_a_straightened_picture_is_sent_no_larger_than_it_needs_to_be() -> None:
    from longlens.studio.pages.straight import SHOWN, _encoded

    address, scale = _encoded(np.zeros((1000, 3600, 3), np.uint8))
    assert address.startswith("data:image/jpeg;base64,") and scale == pytest.approx(SHOWN / 3600, rel=1e-3)
    assert _encoded(np.zeros((50, 60), np.uint8))[1] == 1.0


@pytest.mark.browser
def test_straight_on_says_what_it_lacks(car: Studio, browser: Any) -> None:
    """The small car has no photographs in its dossier."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.goto(car.address)
    page.wait_for_selector("text=survey solved", timeout=120_000)
    page.goto(car.base + "/straight")
    page.wait_for_selector("text=None of the solved shots has its photograph in the dossier.")
    context.close()
