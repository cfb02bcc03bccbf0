"""The cooling page in a browser: a circuit placed by hand, drawn, told, and asked under other plumbing and speeds."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier
from longlens.systems.from_dossier import keep_given
from longlens.systems.given import read_file
from tests.studio.test_pages import _accessible

pytestmark = pytest.mark.browser
EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "cooling_fulmar.json"
#: m: where the example's parts lie.
PLACES = {
    "pump": [-0.75, 0.0, 0.1],
    "battery": [-0.4, 0.0, 0.2],
    "inverter": [-0.45, 0.05, 0.4],
    "motor": [-1.2, 0.0, 0.3],
}
PATHS = {
    "feed left": [[-0.7, 0.05, 0.3], [-0.3, 0.3, 0.42], [0.0, 0.45, 0.42]],
    "left": [[0.0, 0.45, 0.42], [0.35, 0.65, 0.3], [0.45, 0.68, 0.15]],
    "return left": [[0.45, 0.68, 0.15], [0.0, 0.6, 0.08], [-0.7, 0.1, 0.1]],
}


def placed(tmp_path: Path) -> Path:
    raw = json.loads(EXAMPLE.read_text())
    raw["inputs"]["scheme"] = "parallel"
    both = [raw["inputs"], *raw["variants"].values()]
    for part in (p for one in both for circuit in one["circuits"].values() for p in circuit["parts"]):
        name = part["name"].replace("right", "left")
        turned = [1, -1, 1] if "right" in part["name"] else [1, 1, 1]
        if name in PATHS:
            part["path"] = [[v * t for v, t in zip(p, turned, strict=True)] for p in PATHS[name]]
            part.pop("length", None)
        elif name in PLACES:
            part["place"] = PLACES[name]
    source, file = tmp_path / "placed.json", tmp_path / "car.longlens"
    source.write_text(json.dumps(raw))
    with Dossier.create(file, Vehicle(name="Fulmar E4", maker="Skerry (invented)")) as dossier:
        keep_given(dossier, "cooling", read_file(source, "cooling"))
    return file


def chosen(page: Any, label: str, option: str) -> None:
    page.get_by_role("combobox", name=label).click()
    page.get_by_role("option", name=option, exact=True).click()


def test_the_circuit_is_drawn_told_and_asked_again(tmp_path: Path, studio: Any, window: Any) -> None:
    page = window(studio(placed(tmp_path)), "/cooling")
    page.wait_for_selector("svg.cd", timeout=120_000)
    body = page.inner_text("body")
    assert "Does it close? Parallel" in body and "common practice, no source" in body
    assert "scalds" in body and "no basis for building" in body
    assert page.locator("svg.cd .cd-badge").count() >= 10
    table = page.get_by_role("region", name="medians with their 95 % intervals").inner_text()
    assert "feed left" in table and "seen" in table

    def words() -> str:
        return page.get_by_role("region", name="medians with their 95 % intervals").inner_text()

    before = words()
    chosen(page, "case", "hill at 160 km/h")
    page.wait_for_function("t => !document.body.innerText.includes(t)", arg=before.splitlines()[3], timeout=20_000)
    chosen(page, "plumbing", "two loops")
    page.wait_for_selector("td:has-text('drive loop')", timeout=20_000)
    assert "battery pump" in words()
    side = page.get_by_role("region", name="plumbing side by side").inner_text()
    assert "two loops" in side and "parallel" in side and "power of the pumps" in side
    page.wait_for_timeout(300)
    _accessible(page)


def test_a_dossier_without_a_network_is_told_what_to_give(tmp_path: Path, studio: Any, window: Any) -> None:
    file = tmp_path / "bare.longlens"
    Dossier.create(file, Vehicle(name="Fulmar E4", maker="Skerry (invented)")).close()
    page = window(studio(file), "/cooling")
    page.wait_for_selector("text=There is no network to solve yet", timeout=60_000)
    assert "circuits" in page.inner_text("body")
