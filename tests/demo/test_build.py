"""The demo's road from committed documents to briefs, on the smallest stage; the truth is read from its own file."""

from __future__ import annotations

import json
import math
from collections import OrderedDict
from pathlib import Path

import pytest

from longlens.demo import beside, build_demo, stages
from longlens.demo.gather import gather_stage
from longlens.demo.naming import part_of, system_of
from longlens.dossier.records import Fact, Mark, Shot, Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import to_exchange
from longlens.errors import NotSolvable, UnusableInput
from longlens.systems import survey_numbers
from longlens.systems.surveying import solve

CAR, STAGE = "gannet", "test"


def only_one(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(stages, "CARS", (CAR,))
    patch.setattr(stages, "stages_of", lambda car: [STAGE])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    to = tmp_path_factory.mktemp("demo") / "deep" / "out"
    seen: list[float] = []
    with pytest.MonkeyPatch.context() as patch:
        only_one(patch)
        text = build_demo(to, lambda what, part: seen.append(part))
    assert min(seen) >= 0 and max(seen) <= 1 and len(seen) > 4
    assert text == (to / "beside-the-truth.txt").read_text(encoding="utf-8")
    return to


@pytest.fixture(scope="module")
def truth() -> dict:
    return json.loads((stages.DATA / f"{CAR}_{STAGE}.truth.json").read_text(encoding="utf-8"))


def test_it_leaves_a_sound_dossier_and_a_brief(folder: Path) -> None:
    with Dossier.open(folder / f"{CAR}.longlens", readonly=True) as dossier:
        assert dossier.verify() == []
        assert dossier.count(Mark) > 60
    assert (folder / f"{CAR}-{STAGE}.html").stat().st_size > 20_000


def test_the_table_tells_the_truth(folder: Path, truth: dict) -> None:
    """Every line against what the survey of the dossier answers and the truth file, and the count at its end."""
    with Dossier.open(folder / f"{CAR}.longlens", readonly=True) as dossier:
        answer = solve(to_exchange(dossier, stage=STAGE)).answer()
    true = {m["id"]: m["true"] for m in truth["measures"]}
    lines = (folder / "beside-the-truth.txt").read_text(encoding="utf-8").splitlines()
    told = {line.split()[0]: line.split()[-1] for line in lines if line.endswith((" inside", " OUTSIDE"))}
    assert set(told) == set(answer["measures"]) and len(told) > 8
    held = 0
    for name, word in told.items():
        got = answer["measures"][name]
        inside = got["low95"] <= true[name] <= got["high95"]
        held += inside
        assert word == ("inside" if inside else "OUTSIDE"), name
    assert any(f"{held} of {len(told)} intervals hold the truth" in line for line in lines)
    # Of 14 intervals that hold 95 times in 100, fewer than 11 hold in one case of 2,000 (binomial distribution).
    assert held >= len(told) - 3


def test_a_miss_is_called_a_miss() -> None:
    def got(value: float) -> dict:
        return {"value": value, "low95": value - 0.002, "high95": value + 0.002, "sd": 0.001, "unit": "m"}

    answer = {"measures": {"near": got(0.5), "far": got(0.7)}, "suspect_marks": [
        {"shot": "s", "circle": "rim", "x": 1, "y": 1, "test": 5.0}, {"shot": "s", "circle": "rim", "x": 2, "y": 1, "test": 9.0},
    ]}  # fmt: skip
    result = stages.Result(CAR, STAGE, Path("a.longlens"), Path("a.html"), {"near": 0.501, "far": 0.71}, answer)
    text = beside.report([result], Path("out"))
    assert [line.split()[-1] for line in text.splitlines() if line.startswith(("  near", "  far"))] == [
        "inside",
        "OUTSIDE",
    ]
    assert "1 of 2 intervals hold the truth" in text and "710 mm" in text
    assert "2 suspect marks: rim on s, test value 9.0" in text


def test_the_truth_is_shown_in_the_unit_of_its_interval() -> None:
    angle = {"value": 1.0, "low95": 0.9, "high95": 1.1, "unit": "rad"}
    assert beside._true_text(math.pi / 3, angle) == "60°"
    assert beside._true_text(0.0123, {"value": 0.0125, "low95": 0.012, "high95": 0.013, "unit": "m2"}) == "123 cm²"
    assert beside._true_text(0.5, {"value": 0.5, "low95": 0.4, "high95": 0.6, "unit": "1"}) == "0.5"


def test_everything_says_that_it_is_invented(folder: Path) -> None:
    assert "invented" in (folder / "beside-the-truth.txt").read_text(encoding="utf-8").splitlines()[0]
    assert "This car is invented" in (folder / f"{CAR}-{STAGE}.html").read_text(encoding="utf-8")
    with Dossier.open(folder / f"{CAR}.longlens", readonly=True) as dossier:
        (vehicle,) = dossier.all(Vehicle)
        assert "invented" in vehicle.note and "invented" in vehicle.maker
        assert all("invented" in (s.credit or "invented") for s in dossier.all(Shot))


def test_the_dossier_holds_what_an_engineer_would_have(folder: Path, truth: dict) -> None:
    with Dossier.open(folder / f"{CAR}.longlens", readonly=True) as dossier:
        facts = {f.id: f for f in dossier.all(Fact)}
        assert facts["wheelbase"].source and facts["wheelbase"].surveyed
        assert facts["front_rim_flange@test"].stage == STAGE and facts["front_rim_flange@test"].of == "front rim flange"
        assert facts["sheet.tyre_front"].text == truth["published"]["tyre_front"]
        marks = dossier.all(Mark)
        shots = {s.id: s for s in dossier.all(Shot)}
    assert {m.system for m in marks} >= {"suspension", "running", "aero", "structure"}
    spots = {(m.shot, m.point): (m.x, m.y) for m in marks if m.form == "point"}
    lines = [m for m in marks if m.form == "line"]
    assert lines
    for line in lines:
        assert [spots[line.shot, p] for p in line.along or ()] == [tuple(xy) for xy in line.path or ()]
    for shot in truth["shots"]:
        here = shots[shot["id"]]
        assert here.licence == shot["licence"] and here.stage == STAGE and here.stance == shot["stance"]
        assert here.cropped == bool(shot["crop"])
        if not shot["licence"] or "Unclear" in shot["licence"]:
            assert here.may_show != "yes"


def test_no_camera_comes_from_the_truth(folder: Path, truth: dict) -> None:
    """Focal lengths are known from the photograph's own file at best, never as exactly as the truth has them."""
    with Dossier.open(folder / f"{CAR}.longlens", readonly=True) as dossier:
        shots = dossier.all(Shot)
    for shot in shots:
        assert shot.focal_px is None or (
            shot.photograph is not None and (shot.focal_sd_px or 0) > 0.005 * shot.focal_px
        )
        assert shot.principal_px is None


def test_again_replaces_only_what_the_demo_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import longlens.survey.answer as survey

    def unsolvable(document: object, **_: object) -> None:
        raise NotSolvable("nothing to go by", needs=["one known length"])

    monkeypatch.setenv("LONGLENS_CACHE", "off")  # neither what was solved before, nor this for those after
    monkeypatch.setattr(survey_numbers, "_solutions", OrderedDict())
    monkeypatch.setattr(survey, "solve", unsolvable)
    only_one(monkeypatch)
    for _ in range(2):
        text = build_demo(tmp_path, lambda what, part: None)
        assert "not solvable: nothing to go by" in text and "one known length" in text
    (tmp_path / f"{CAR}.longlens").unlink()
    Dossier.create(tmp_path / f"{CAR}.longlens", Vehicle(name="somebody's own")).close()
    with pytest.raises(UnusableInput, match="no dossier of the demo"):
        build_demo(tmp_path, lambda what, part: None)
    with Dossier.open(tmp_path / f"{CAR}.longlens", readonly=True) as dossier:
        assert dossier.all(Vehicle)[0].name == "somebody's own"


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(UnusableInput, match="cannot be made"):
        build_demo(tmp_path / "file" / "out", lambda what, part: None)


def test_photographs_that_are_missing_are_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, truth: dict) -> None:
    monkeypatch.setattr(stages, "PICTURES", tmp_path / "none")
    result = stages.Result(CAR, STAGE, tmp_path / "a.longlens", tmp_path / "a.html", {})
    with Dossier.create(result.dossier, Vehicle(name="Gannet")) as dossier:
        gather_stage(dossier, result, truth)
        assert dossier.verify() == []
    assert result.unphotographed == [s["id"] for s in truth["shots"]]
    assert "make demo-pictures" in beside.report([result], tmp_path)


@pytest.mark.parametrize("car", stages.CARS)
def test_both_stages_go_into_one_dossier(car: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What hangs on the shots of a stage keeps its own name, and nothing of it reaches the other stage."""
    monkeypatch.setattr(stages, "PICTURES", tmp_path / "none")
    path = tmp_path / "a.longlens"
    with Dossier.create(path, Vehicle(name=car)) as dossier:
        for stage in stages.stages_of(car):
            truth = stages.truth_of(car, stage)
            result = stages.Result(car, stage, path, path, {m["id"]: m["true"] for m in truth["measures"]})
            gather_stage(dossier, result, truth)
            raw = json.loads((stages.DATA / f"{car}_{stage}.exchange.json").read_text(encoding="utf-8"))
            document = to_exchange(dossier, stage=stage)
            assert len(document.marks) == len(raw["marks"])
            marked = {m.circle for m in document.marks if m.circle}
            assert {c for f in document.facts for c in f.diameter or ()} <= marked
            assert sorted(f.value for f in document.facts) == sorted(f["value"] for f in raw["facts"])
            assert {m.id.partition("@")[0] for m in document.measures} >= {m["id"] for m in raw["measures"]}
            assert {m.id for m in document.measures if m.id in result.truth} >= {m["id"] for m in raw["measures"]} - {
                m.id.partition("@")[0] for m in document.measures if "@" in m.id
            }
        assert dossier.verify() == []


@pytest.mark.parametrize(
    ("id", "system", "part"),
    [
        ("left.front.upper_wishbone.outer", "suspension", "left front upper wishbone"),
        ("right.rear_wing.end_plate.rear_upper", "aero", "right rear wing end plate"),
        ("left.cooler.collector_start.foot", "cooling", "left cooler collector start"),
        ("left.crash_structure.bolt_2", "structure", "left crash structure"),
        ("left.front.rim_centre@hanging", "running", "left front rim"),
        ("left.front.tyre", "running", "left front tyre"),
        ("header_tank.cap", "cooling", "header tank"),
    ],
)
def test_names(id: str, system: str, part: str) -> None:
    assert (system_of(id), part_of(id)) == (system, part)
