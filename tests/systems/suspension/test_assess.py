"""``longlens assess DOSSIER suspension``: from marks in a dossier, two stances and all, to sentences."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from tools.studies.hardpoint_cars import car
from typer.testing import CliRunner

from longlens.cli import app
from longlens.dossier.exchange import read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier
from longlens.systems.from_dossier import keep_given
from longlens.systems.given import Given


def test_marks_to_sentences_on_the_command_line(tmp_path: Path) -> None:
    case = car(7303, shots=3, bump=0.02, bump_shots=2, rims=False)
    file = tmp_path / "linkage.longlens"
    with Dossier.create(file, Vehicle(name="invented linkage", maker="nobody")) as dossier:
        from_exchange(dossier, read_exchange(case.document)[0])
        inputs = {"radius_front": {"value": 1e3 * float(case.corners["front"].radius), "sd": 3, "unit": "mm"}}
        keep_given(dossier, "suspension", Given(inputs, {}, where="this test"))
    done = CliRunner().invoke(app, ["assess", str(file), "suspension", "--json"])
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    text = json.dumps(told, ensure_ascii=False)
    assert "times as far as the wheel at ride height" in text
    assert "the interval comes mostly from" in text and "common practice" in text
    ratio = _find(told, "spring_per_wheel_front")
    low, high = ratio["low95"], ratio["high95"]
    assert low < high and abs(np.mean([low, high]) - case.truth["spring_per_wheel_front"]) < 1.5 * (high - low)


def _find(tree: object, name: str) -> dict:
    """The object under a key of that name, or that names itself so, wherever it stands."""
    if isinstance(tree, dict):
        if isinstance(tree.get(name), dict):
            return tree[name]
        if tree.get("name") == name:
            return tree
        tree = list(tree.values())
    if isinstance(tree, list):
        for branch in tree:
            try:
                return _find(branch, name)
            except LookupError:
                continue
    raise LookupError(name)


@pytest.mark.parametrize("words", ["times as far", "roll centre"])
def test_the_tables_are_for_people(tmp_path: Path, words: str) -> None:
    example = Path(__file__).parents[3] / "docs" / "examples" / "suspension_fulmar.json"
    done = CliRunner().invoke(app, ["calc", "suspension", str(example)])
    assert done.exit_code == 0 and words in " ".join(done.output.split())
