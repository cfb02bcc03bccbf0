"""The pages of aero, structure and running: filled from sheets that a dossier keeps, and forces where they belong."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from longlens.dossier.records import Fact, Vehicle
from longlens.dossier.store import Dossier
from longlens.numbers.number import Normal, joint, stated
from longlens.studio import sheet_parts as parts
from longlens.studio.pages import aero, running, structure
from longlens.systems import registry
from longlens.systems.from_dossier import keep_given
from longlens.systems.given import read_file
from longlens.systems.run import run
from tests.studio.conftest import Studio, lasting_studio, lasting_tab

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
AREAS = ("aero", "structure", "running")
PLACES = {
    "left.front.rim_centre": (-25.0, 0.87, 0.285), "left.rear.rim_centre": (-27.62, 0.87, 0.3),
    "left.crash_structure.front_upper": (-24.05, 0.046, 0.262), "left.crash_structure.front_lower": (-24.05, 0.046, 0.211),
    "left.crash_structure.rear_upper": (-24.51, 0.124, 0.386),
}  # fmt: skip


@pytest.fixture(scope="module")
def outcomes() -> dict[str, Any]:
    return {a: run(registry.sheet(a), read_file(EXAMPLES / f"{a}_fulmar.json", a)) for a in AREAS}


@pytest.fixture
def desk() -> Any:
    """What the shapes need of a desk: points in the survey's own frame, whose origin along the car is anywhere."""
    known = {f"point:{n}": joint({n: np.tile(p, (2000, 1))}, "m")[n] for n, p in PLACES.items()}
    return SimpleNamespace(numbers=lambda: known)


def ends(shape: Any) -> tuple[np.ndarray, np.ndarray]:
    xyz = np.asarray(shape.xyz)
    return xyz[0], xyz[1]


def test_wheels_are_found_and_mirrored(desk: Any) -> None:
    found = parts.wheels(desk)
    assert set(found) == {"left.front", "left.rear", "right.front", "right.rear"}
    assert found["right.front"] == pytest.approx([-25.0, -0.87, 0.285])


def test_an_arrow_is_as_long_as_its_force_and_ticks_stand_at_the_bounds() -> None:
    force = stated("force", Normal(2000.0, 200.0), "N")
    arrow, low, high = parts.force(force, (1.0, 2.0, 3.0), (0, 0, -1), 1e-3, "aero", label="words")
    tail, tip = ends(arrow)
    assert tip == pytest.approx([1, 2, 3]) and tail == pytest.approx([1, 2, 5])
    heights = [np.asarray(s.xyz)[:, 2].mean() for s in (low, high)]
    assert heights == pytest.approx([3 + force.low * 1e-3, 3 + force.high * 1e-3])
    assert low.label == "words" and not high.label
    lifted, *_ = parts.force(-force, (0.0, 0.0, 1.0), (0, 0, -1), 1e-3, "aero")
    tail, tip = ends(lifted)
    assert tail[2] < tip[2], "a force that lifts points up"
    assert parts.kilonewtons(force) == "2.0 kN (1.6–2.4)"


def test_downforce_stands_on_the_axles_and_along_the_wings(desk: Any, outcomes: dict[str, Any]) -> None:
    found = aero.shapes(desk, outcomes["aero"])
    labels = [s.label for s in found if s.label]
    assert [w.split(" ")[0] for w in labels] == ["front", "rear", "front", "rear", "drag"]
    front, rear = (ends(found[k]) for k in (0, 6))  # three shapes an arrow, two arrows an axle
    ratio = (front[0][2] - front[1][2]) / (rear[0][2] - rear[1][2])
    out = outcomes["aero"]
    want = out.number("downforce_front").at(9).value / out.number("downforce_rear").at(9).value
    assert ratio == pytest.approx(want, rel=0.01)
    areas = [np.asarray(s.xyz) for s in found if s.filled]
    assert len(areas) == 2
    for wing, xyz in zip(out.inner["tables"], areas, strict=True):
        assert xyz[:, 0] == pytest.approx(-25.0 - np.median(wing[0].behind), abs=1e-6)
        assert np.ptp(xyz[:, 1]) == pytest.approx(np.median(wing[0].span), rel=0.02)
    assert aero.shapes(SimpleNamespace(numbers=dict), out) == []


def test_loads_under_the_wheels_carry_the_car(desk: Any, outcomes: dict[str, Any]) -> None:
    found = running.shapes(desk, outcomes["running"])
    arrows = [ends(s) for s in found if len(np.asarray(s.xyz)) == 6]
    heights = {tuple(np.sign(a[1:2])): 0.0 for a, _ in arrows}
    for a, b in arrows:
        heights[tuple(np.sign(a[1:2]))] += b[2] - a[2]
    assert heights[(-1.0,)] > heights[(1.0,)], "in a left-hand corner the right wheels carry more"
    assert all(a[2] == 0 for a, _ in arrows)


def test_what_crushes_lies_at_the_front_of_the_structure(desk: Any, outcomes: dict[str, Any]) -> None:
    found = structure.shapes(desk, outcomes["structure"])
    crushed = next(np.asarray(s.xyz) for s in found if s.filled)
    share = (crushed[0, 0] - crushed[1, 0]) / (24.51 - 24.05)
    assert share == pytest.approx(np.median(outcomes["structure"].number("crush").draws) / 0.46, rel=0.01)
    assert "crushes" in next(s.label for s in found if s.filled)


# In the browser ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """A studio on a dossier without photographs that keeps the examples' inputs and a stated figure."""
    file = tmp_path_factory.mktemp("systems") / "fulmar.longlens"
    with Dossier.create(file, Vehicle(name="Fulmar E4", maker="Skerry (invented)")) as dossier:
        for area in (*AREAS, "suspension", "cooling"):
            keep_given(dossier, area, read_file(EXAMPLES / f"{area}_fulmar.json", area))
        dossier.put(Fact(id="top", of="top speed", value=320.0, sd=2.0, unit="km/h", source="invented"))
    with lasting_studio(file) as one:
        yield one


@pytest.fixture(scope="module")
def tab(shown: Studio, browser: Any) -> Iterator[Any]:
    with lasting_tab(browser, shown, height=900) as page:
        yield page


@pytest.mark.browser
@pytest.mark.parametrize(
    ("area", "words", "charts"),
    [
        ("aero", ("bounds of what such shapes carry", "what stands in the flow", "with heave element", "assumptions"), 4),
        ("aero", ("openings of the cooling ducts", "the stream that reaches each wing", "less than two widths behind"), 4),
        ("cooling", ("Where the air comes in", "pressures at the openings as the aero sheet gives them"), 3),
        ("suspension", ("Pressed down by the air", "the air lifts the wheels by"), 4),
        ("structure", ("against 40 g allowed", "The wall it would need", "weave; speaks", "proved by tests"), 1),
        ("running", ("The maker's own figures", "strained", "for it to be true", "perfect driver"), 5),
    ],
)  # fmt: skip
def test_a_page_tells_its_sheet(area: str, words: tuple[str, ...], charts: int, shown: Studio, tab: Any) -> None:
    wrong: list[str] = []
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    tab.goto(f"{shown.base}/{area}")
    tab.wait_for_function("document.body.innerText.includes('What it says')", timeout=60_000)
    tab.wait_for_function(f"document.querySelectorAll('.js-plotly-plot').length >= {charts}", timeout=30_000)
    told = tab.inner_text("body")
    for word in words:
        assert word in told, word
    assert "made a mistake" not in told and not wrong, wrong
    named = tab.locator(".ll-chart").evaluate_all("all => all.map(c => c.getAttribute('aria-label'))")
    assert all(named), "every chart says in words what it shows"
    from axe_playwright_python.sync_playwright import Axe

    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]
    found = Axe().run(tab, options={"runOnly": {"type": "tag", "values": rules}}).response["violations"]
    assert not found, json.dumps([(v["id"], [n["html"][:160] for n in v["nodes"][:3]]) for v in found], indent=1)


@pytest.mark.browser
def test_a_number_opens_its_trail(shown: Studio, tab: Any) -> None:
    tab.goto(f"{shown.base}/running")
    tab.wait_for_function("document.body.innerText.includes('What it says')", timeout=60_000)
    tab.locator("button.ll-number").first.click()
    dialog = tab.locator(".q-dialog")
    dialog.wait_for()
    assert "Gillespie" in dialog.inner_text()
    tab.keyboard.press("Escape")
