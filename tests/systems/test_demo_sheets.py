"""What the demo's engineer tells aero, structure and running fits both cars, with the published facts and with what stands in
where the survey has no number."""

import json
from pathlib import Path

import pytest

from longlens.demo.gather import gather_stage
from longlens.demo.sheets import keep_sheets
from longlens.demo.stages import DATA, NOTE, Result, stages_of, truth_of
from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier
from longlens.systems import chain, registry
from longlens.systems.from_dossier import fact_numbers, given_of
from longlens.systems.run import run_all

MUST = {
    "aero": ("lift_area", "drag_area", "balance"),
    "structure": (),
    "running": ("zero_to_100", "top_speed", "lap_time", "lateral_limit_low"),
}


@pytest.mark.parametrize("car", ["fulmar", "gannet"])
def test_the_sheets_of_a_car_run_and_hand_on(car: str, tmp_path: Path) -> None:
    path = tmp_path / f"{car}.longlens"
    with Dossier.create(path, Vehicle(name=car, maker="Skerry (invented)", note=NOTE)) as dossier:
        for stage in stages_of(car):
            result = Result(car, stage, path, path, {})
            gather_stage(dossier, result, truth_of(car, stage))
            keep_sheets(dossier, result, lambda *_: None)
        known = fact_numbers(dossier, "shown", draws=300)
        for area, must in MUST.items():
            outcomes = run_all(registry.sheet(area), given_of(dossier, area, known), cache=None)
            first = outcomes[""]
            assert not set(must) & set(first.refused), first.refused
            known |= chain.outputs_of(area, first)
    kept = json.loads((DATA / f"{car}.sheets.json").read_text(encoding="utf-8"))
    assert set(MUST) <= set(kept)


@pytest.mark.parametrize("car", ["fulmar", "gannet"])
def test_every_assumption_of_the_demo_has_its_reason(car: str) -> None:
    def walk(x: object) -> None:
        if isinstance(x, dict):
            if x.get("kind") == "assumed":
                assert x.get("reason"), x
            for y in x.values():
                walk(y)
        elif isinstance(x, list):
            for y in x:
                walk(y)

    walk(json.loads((DATA / f"{car}.sheets.json").read_text(encoding="utf-8")))
