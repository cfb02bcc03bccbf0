"""The pages of aero, structure and running name every input, and the commands they show run."""

import re
import shlex
import sys
from pathlib import Path

import pytest

from longlens import cli
from longlens.systems import registry

ROOT = Path(__file__).parents[3]


def status():
    try:
        cli.main()
    except SystemExit as e:
        return e.code
    return 0


@pytest.mark.parametrize("area", ["aero", "structure", "running"])
def test_every_input_is_on_the_page(area):
    text = (ROOT / "docs" / f"{area}.md").read_text(encoding="utf-8")
    for x in registry.sheet(area).inputs:
        other = x.name.removesuffix("_rear") + "_front" if x.name.endswith("_rear") else x.name
        assert f"`{x.name}`" in text or f"`{other}`" in text, x.name


@pytest.mark.parametrize("area", ["aero", "structure", "running"])
def test_the_commands_on_the_page_run(area, monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    text = (ROOT / "docs" / f"{area}.md").read_text(encoding="utf-8")
    commands = re.findall(r"^\$ longlens (.*)$", text, re.M)
    assert commands
    for command in commands:
        monkeypatch.setattr(sys, "argv", ["longlens", *shlex.split(command), "--json"])
        capsys.readouterr()
        assert not status(), command
        assert '"outputs"' in capsys.readouterr().out


def test_a_track_from_a_file_changes_the_lap(monkeypatch, capsys):
    import json

    monkeypatch.chdir(ROOT)
    laps = []
    for more in ([], ["--track", "docs/examples/track_ring.csv"]):
        monkeypatch.setattr(
            sys, "argv", ["longlens", "calc", "running", "docs/examples/running_fulmar.json", "--json", *more]
        )
        capsys.readouterr()
        assert not status()
        laps.append(json.loads(capsys.readouterr().out)["outputs"]["lap_time"]["value"])
    assert laps[1] > laps[0] * 1.1
