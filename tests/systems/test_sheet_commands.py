"""``longlens calc`` and ``longlens assess`` on a small invented sheet, through the installed command's own entry."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest

from longlens import cli
from longlens.numbers import Normal
from longlens.systems import registry
from longlens.systems.sheet import Axis, Choice, Finding, Input, Output, Sheet, Step
from tests.cli import little_car


def weigh(g):
    speed = np.linspace(0, 40, 9)
    share = {"front": 0.45, "rear": 0.40}[g["engine"]]
    transfer = g["mass"] * 9.81 * 0.6 * g["height"] / g["track"]
    return {"transfer": transfer, "front": transfer * share, "speed": speed, "drag": 0.5 * g["mass"][:, None] * speed}


def say(outcome):
    yield Finding("note", f"the outer wheels take {outcome.number('transfer')} from the inner ones", ("transfer",))


SHEET = Sheet(
    area="running",
    title="Load transfer",
    inputs=(
        Input("track", "m", "distance of the wheel centres across the car", shown="mm", plausible=(0.8, 2.5)),
        Input("mass", "kg", "all-up mass", plausible=(100, 4000)),
        Input("height", "m", "height of the centre of mass", shown="mm", plausible=(0.1, 1.2),
              assumption=Normal(0.3, 0.03), reason="low single-seaters, common practice, no source"),
        Choice("engine", "where it sits", {"front": "before the cockpit", "rear": "behind it"}, "rear", "as seen"),
    ),
    axes=(Axis("speed", "m/s", "road speed", shown="km/h"),),
    outputs=(
        Output("transfer", "N", "load transfer at 0.6 g", "m a h / t", "any text"),
        Output("front", "N", "its front part", "share", "any text"),
        Output("drag", "N", "a curve", "invented", "none", along=("speed",)),
    ),
    steps=(Step("weigh", weigh),),
    findings=(say,),
)  # fmt: skip


@pytest.fixture(autouse=True)
def _only_this_sheet(monkeypatch):
    real = registry.sheet
    monkeypatch.setattr(registry, "sheet", lambda area: SHEET if area == "running" else real(area))
    monkeypatch.setattr(registry, "areas", lambda: ["running"])


@pytest.fixture
def command(monkeypatch, capsys, tmp_path):
    monkeypatch.chdir(tmp_path)

    def go(*args):
        monkeypatch.setattr(sys, "argv", ["longlens", *map(str, args)])
        capsys.readouterr()
        try:
            cli.main()
            status = 0
        except SystemExit as e:
            status = e.code or 0
        told = capsys.readouterr()
        return status, told.out, told.err

    return go


GIVEN = {
    "name": "Fulmar E4",
    "inputs": {
        "track": {"value": 1440, "sd": 2, "unit": "mm", "source": "measured"},
        "mass": {"value": 650, "sd": 10, "unit": "kg", "source": "press sheet"},
    },
    "variants": {"engine in front": {"engine": "front"}},
}


def written(data, name="car.json"):
    Path(name).write_text(json.dumps(data) if not isinstance(data, str) else data)
    return name


def test_calc_gives_outputs_variants_and_comparisons(command):
    status, out, _ = command("calc", "running", written(GIVEN), "--json")
    told = json.loads(out)
    assert status == 0
    want = 650 * 9.81 * 0.6 * 0.3 / 1.44
    assert told["outputs"]["transfer"]["value"] == pytest.approx(want, rel=0.01)
    assert told["outputs"]["transfer"]["drivers"][0]["input"] == "height"
    assert told["outputs"]["drag"]["along"] == ["speed"] and len(told["axes"]["speed"]["values"]) == 9
    assert set(told["variants"]) == {"engine in front"}
    front = {c["output"]: c for c in told["comparisons"]}["front"]
    assert front["second_greater"]["probability"] == 1 and front["second_greater"]["text"].startswith("over 99")
    assert told["findings"][0]["text"].startswith("the outer wheels take")


def test_calc_for_people_names_intervals_assumptions_and_the_caution(command):
    status, out, _ = command("calc", "running", written(GIVEN))
    assert status == 0
    for word in ("Load transfer", "low single-seaters", "driven by", "km/h", "engine in front is the greater",
                 "licensed engineers", " N from the inner ones"):  # fmt: skip
        assert word in out, word
    assert command("calc", "running", "car.json", "--sobol")[0] == 0


def test_calc_reads_toml_and_runs_one_variant(command):
    text = """
    [inputs.track]
    low = 1.43
    high = 1.45
    unit = "m"
    [inputs.mass]
    value = 650
    sd = 10
    unit = "kg"
    [variants.light.mass]
    value = 600
    sd = 10
    unit = "kg"
    """
    status, out, _ = command("calc", "running", written(text, "car.toml"), "--variant", "light", "--json")
    assert status == 0 and json.loads(out)["variant"] == "light"
    assert json.loads(out)["inputs"]["mass"]["value"] == 600


@pytest.mark.parametrize(
    ("area", "data", "status", "told"),
    [
        ("gearbox", GIVEN, 2, "there is no area"),
        ("running", "{", 2, "not well formed"),
        ("running", "[]", 2, "must be an object"),
        ("running", '{"inputs": {"mass": 1, "mass": 2}}', 2, "stands twice"),
        ("running", '{"inputs": {"mass": {"value": NaN, "unit": "kg"}}}', 2, "NaN"),
        ("running", "[" * 100_000, 2, "nested too deeply"),
        ("running", {"input": {}}, 2, "did you mean inputs"),
        ("running", {"inputs": []}, 2, "must be objects"),
        ("running", {"area": "aero", "inputs": {}}, 2, "is a file for"),
        ("running", {"inputs": {}, "draws": 3}, 2, "draws must be"),
        ("running", {"inputs": {}, "variants": {"x": 3}}, 2, "the variant 'x'"),
        ("running", {"inputs": {"track": {"value": 1.44, "unit": "mm"}}}, 2, "were m meant"),
        ("running", {"inputs": {}, "variants": {"x": {"trak": 3}}}, 2, "did you mean track"),
        ("running", {"inputs": {}}, 3, ""),
    ],
)
def test_calc_errors(command, area, data, status, told):
    got, out, err = command("calc", area, written(data))
    assert got == status
    assert told in err and "Traceback" not in err
    if status == 3:
        assert "needs track (mm): distance of the wheel centres" in out


def test_calc_of_a_missing_huge_or_binary_file(command):
    assert "cannot be read" in command("calc", "running", "none.json")[2]
    Path("big.json").write_bytes(b" " * (9 * 1024 * 1024))
    assert "larger than 8 MB" in command("calc", "running", "big.json")[2]
    Path("bytes.json").write_bytes(b"\xff\xfe\x00")
    assert "not UTF-8" in command("calc", "running", "bytes.json")[2]


@pytest.fixture(scope="module")
def car(tmp_path_factory):
    """A dossier of the little car, with a fact that is no length and tyres."""
    from longlens.dossier.records import Fact, Vehicle
    from longlens.dossier.store import Dossier

    folder = tmp_path_factory.mktemp("car")
    (folder / "x.json").write_text(json.dumps(little_car.document()))
    from longlens.dossier.exchange import read_exchange
    from longlens.dossier.from_exchange import from_exchange

    document, _ = read_exchange(folder / "x.json")
    path = folder / "car.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4")) as dossier:
        from_exchange(dossier, document)
        dossier.put(Fact(id="weight", of="mass", value=650.0, sd=10.0, unit="kg", source="press sheet"))
        dossier.put(Fact(id="front tyre", of="tyre size front", text="245/640-18", source="press sheet"))
    return path


def test_assess_takes_measures_and_facts_by_name(command, car):
    status, out, _ = command("assess", car, "running", "--json")
    told = json.loads(out)["areas"]["running"]
    assert status == 0
    track = told["inputs"]["track"]
    assert track["kind"] == "measured" and abs(track["value"] - little_car.TRACK) < 4 * track["sd"]
    assert told["inputs"]["mass"]["kind"] == "stated"
    records = told["outputs"]["transfer"]["trail"]["records"]
    assert {"measure:track", "fact:wheelbase", "fact:weight"} <= set(records)
    assert sum(r.startswith("mark:") for r in records) == 8  # two hubs on four photographs


def test_assess_keeps_inputs_in_the_dossier_as_one_step(command, car):
    data = {
        "inputs": {"height": {"value": 280, "sd": 5, "unit": "mm"}},
        "variants": {"tall": {"height": {"value": 400, "unit": "mm"}}},
    }
    status, out, _ = command("assess", car, "running", "--with", written(data), "--keep", "--json")
    assert status == 0 and json.loads(out)["areas"]["running"]["inputs"]["height"]["value"] == pytest.approx(0.28)
    status, out, _ = command("assess", car, "running", "--json")
    told = json.loads(out)["areas"]["running"]
    assert told["inputs"]["height"]["value"] == pytest.approx(0.28) and set(told["variants"]) == {"tall"}
    assert command("undo", car)[0] == 0
    told = json.loads(command("assess", car, "--json")[1])["areas"]["running"]
    assert told["inputs"]["height"]["kind"] == "assumed"


def test_assess_with_places_and_tyres_of_the_dossier(car):
    from longlens.dossier.store import Dossier
    from longlens.systems.from_dossier import known_numbers

    with Dossier.open(car) as dossier:
        known, remarks = known_numbers(dossier)
    assert not remarks
    assert known["point:left.rocker"].shape == (3,)
    assert known["fact:front tyre.overall_diameter"].value == pytest.approx(0.64)
    assert known["fact:mass"] is known["fact:weight"]
    # the marks pull left and right together: what is common to both falls out of the track
    left, right = known["point:left.front.hub"].at(1), known["point:right.front.hub"].at(1)
    assert (left - right).sd == pytest.approx(known["measure:track"].sd, rel=0.05)


def test_assess_without_photographs_says_so_and_goes_on(command, tmp_path):
    assert command("new", "bare.longlens", "--name", "Gannet")[0] in (0, 2)
    from longlens.dossier.records import Fact, Vehicle
    from longlens.dossier.store import Dossier

    with Dossier.create(Path("facts.longlens"), Vehicle(name="Gannet")) as dossier:
        dossier.put(Fact(id="mass", value=1200.0, sd=20.0, unit="kg", source="press sheet"))
    status, out, _ = command("assess", "facts.longlens")
    assert status == 3 and "needs track (mm)" in out


def test_assess_errors(command, car):
    assert command("assess", "none.longlens")[0] == 2
    status, _, err = command("assess", car, "running", "--keep")
    assert status == 2 and "--with" in err
    status, _, err = command("assess", car, "gearbox")
    assert status == 2 and "there is no area" in err
