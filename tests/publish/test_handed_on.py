"""What a published number of one sheet takes from the others."""

from pathlib import Path

import pytest

from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier
from longlens.publish.basis import Basis
from longlens.systems import chain, registry
from longlens.systems.from_dossier import given_of, keep_given
from longlens.systems.given import read_file
from longlens.systems.run import run

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


def test_a_published_lap_rests_on_the_same_air_as_the_assessed_one(tmp_path: Path) -> None:
    path = tmp_path / "car.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4", maker="Skerry (invented)")) as dossier:
        for area in ("aero", "running"):
            given = read_file(EXAMPLES / f"{area}_fulmar.json", area)
            own = {k: v for k, v in given.inputs.items() if not k.startswith(("lift_area", "drag_area"))}
            keep_given(dossier, area, type(given)(own, where=given.where))
        basis = Basis(dossier)
        told = basis.sheet("running")[""]
        known, remarks = chain.handed_on("running", {}, lambda a, k: given_of(dossier, a, k))
        there = run(registry.sheet("running"), given_of(dossier, "running", known))
        assert told["inputs"]["drag_area"]["kind"] == "computed" and not remarks
        assert told["outputs"]["lap_time"]["value"] == pytest.approx(float(there.number("lap_time").value))
