"""``longlens plan`` and its page."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.cli.conftest import Done
from tests.cli.test_parts import run_page


def test_the_page(run: Callable[..., Done], folder: Path) -> None:
    assert run_page("planning.md", run) == 1


def test_json_gives_the_camera_as_a_pose(run: Callable[..., Done], folder: Path) -> None:
    found = run("plan", "fulmar.json", "--for", "track", "--json").json
    gains = [a["gain"] for a in found["advice"]]
    assert gains == sorted(gains, reverse=True) and found["low95"] < found["value"] < found["high95"]
    camera = next(a for a in found["advice"] if a["kind"] == "camera")
    assert len(camera["position_m"]) == 3 and camera["focal_px"] > 0 and camera["shows"]
    assert found["low95"] < camera["low95"] < camera["high95"] < found["high95"]


def test_what_is_not_determined_says_what_it_needs(run: Callable[..., Done], folder: Path) -> None:
    doc = json.loads((folder / "fulmar.json").read_text())
    doc["points"].append({"id": "lonely"})
    doc["marks"].append({"shot": "s1", "point": "lonely", "x": 10, "y": 10, "sd_px": 2})
    doc["measures"].append({"id": "far", "distance": ["lonely", "nose"]})
    (folder / "more.json").write_text(json.dumps(doc))
    done = run("plan", "more.json", "--for", "far")
    assert done.status == 3 and "lonely" in done.err and done.out == ""
    assert run("plan", "more.json", "--for", "far", "--json").json["needs"]


def test_an_unknown_measure_is_told_before_the_survey_is_waited_for(run: Callable[..., Done], folder: Path) -> None:
    done = run("plan", "fulmar.json", "--for", "nonsense")
    assert done.status == 2 and "measures are: track" in done.err


def test_the_stances_are_coupled_as_in_the_survey(run: Callable[..., Done], folder: Path) -> None:
    from tools.studies.hardpoint_cars import car

    from longlens.dossier.exchange import read_exchange
    from longlens.systems.surveying import solve

    doc = car(41, shots=3, bump=0.02, bump_shots=2, rims=False).document
    ends = ["left.rear.track_rod.outer@bump", "left.rear.track_rod.inner"]
    doc["measures"] = [{"id": "rod", "distance": ends}]
    (folder / "stances.json").write_text(json.dumps(doc))
    found = run("plan", "stances.json", "--for", "rod", "--json").json
    low, high = np.quantile(solve(read_exchange(doc)[0]).draws("rod"), [0.025, 0.975])
    assert found["high95"] - found["low95"] == pytest.approx(high - low, rel=0.15)
