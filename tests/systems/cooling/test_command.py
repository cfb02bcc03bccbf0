"""``longlens calc cooling``: variants side by side, the probability that one is better, and why."""

import json
import sys
from pathlib import Path

import pytest

from longlens import cli

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "cooling_fulmar.json"


@pytest.fixture
def said(monkeypatch, capsys, tmp_path):
    """What the command prints for the example with few draws."""
    raw = json.loads(EXAMPLE.read_text("utf-8"))
    raw["draws"], raw["inputs"]["scheme"] = 100, "parallel"
    file = tmp_path / "car.json"
    file.write_text(json.dumps(raw), "utf-8")

    def go(*more):
        monkeypatch.setattr(sys, "argv", ["longlens", "calc", "cooling", str(file), *more])
        monkeypatch.setenv("COLUMNS", "220")
        status = 0
        try:
            cli.main()
        except SystemExit as stop:
            status = stop.code or 0
        assert status == 0
        return capsys.readouterr().out

    return go


def test_people_see_the_variants_side_by_side_and_why(said):
    told = said()
    table = told[told.index("Plumbing side by side") :]
    for words in (
        "parallel",
        "series, left first",
        "two loops",
        "closes, of the draws",
        "power of the pumps",
        "of the draws)",
    ):
        assert words in table
    assert "W/K" in table  # the reason is told in figures
    assert "scalds" in table and "no basis for building" in table


def test_programs_get_the_same(said):
    found = json.loads(said("--json"))
    plumbing = found["plumbing"]
    assert len(plumbing["pairs"]) == 6 and sum(side["best"] for side in plumbing["sides"]) == pytest.approx(1.0)
    assert all(0.0 <= pair["first_better"] <= 1.0 and pair["reason"] for pair in plumbing["pairs"])
    assert plumbing["verdict"] in {pair["reason"] for pair in plumbing["pairs"]}
    item = found["evidence"][0]
    assert {"favours", "over", "ratio", "low", "high", "seen", "rule", "source", "rests_on", "question"} <= set(item)
