"""Sheets that hand on: outputs as inputs, links with places, and what stands in when the dossier has no such number."""

import json
from pathlib import Path

import numpy as np
import pytest

from longlens.errors import UnusableInput
from longlens.numbers import Normal, stated
from longlens.numbers.number import joint
from longlens.systems import chain, registry
from longlens.systems.given import Given, read_file, read_number
from longlens.systems.run import run
from longlens.systems.sheet import Input

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
LENGTH = Input("length", "m", "a length", "mm")


def example(area, name=None):
    return run(registry.sheet(area), read_file(EXAMPLES / (name or f"{area}_fulmar.json"), area))


@pytest.fixture(scope="module")
def aero():
    return example("aero")


def test_outputs_are_named_by_area_and_place(aero):
    out = chain.outputs_of("aero", aero)
    assert out["output:aero.drag_area"] is aero.number("drag_area")
    assert out["output:aero.part_downforce.rear_wing"].value == pytest.approx(
        aero.number("part_downforce").at(aero.axes["part"].index("rear_wing")).value
    )
    curves = [name for name in out if "downforce_front" in name]
    assert (
        curves == ["output:aero.downforce_front_curve"] and out[curves[0]].shape == out["output:aero.speed_curve"].shape
    )


def test_running_takes_the_air_s_forces_draw_by_draw(aero):
    raw = json.loads((EXAMPLES / "running_fulmar.json").read_text(encoding="utf-8"))["inputs"]
    own = {k: v for k, v in raw.items() if not k.startswith(("lift_area", "drag_area"))}
    known = chain.outputs_of("aero", aero)
    out = run(registry.sheet("running"), Given(own, known=known, scope="Fulmar E4"))
    assert out.number("drag_area").key == aero.number("drag_area").key
    # springs and air in balance: the areas change with speed as in aero
    areas = out.inner["car"].air_over
    for k in (2, 9, 12):
        v = aero.axes["speed"][k]
        q = 0.5 * aero.inner["density"][:, 0] * v**2
        lift = out.number("lift_area_front").draws * areas.at(areas.front, v)[:, 0]
        both = np.abs(aero.number("lift_area_front").draws) > 0.1
        ratio = (lift * q / aero.number("downforce_front").draws[:, k])[both]
        assert np.median(ratio) == pytest.approx(1.0, abs=1e-6)
    # a given figure stands over what is handed on
    out = run(registry.sheet("running"), Given(raw, known=known, scope="Fulmar E4"))
    assert out.number("drag_area").key != aero.number("drag_area").key


def test_cooling_hands_on_its_drag_area():
    cooling = example("cooling")
    area = chain.outputs_of("cooling", cooling)["output:cooling.drag_area"]
    assert area.unit == "m2" and -0.05 < area.value < 0.3
    k = int(np.argmax(cooling.axes["speed"]))
    q = 0.5 * float(np.median(cooling.inner["air"].density)) * cooling.axes["speed"][k] ** 2
    drag = cooling.number("cooling_drag").draws[:, :, k].sum(axis=1)
    assert np.median(area.draws) == pytest.approx(np.median(drag) / q, rel=0.02)


def test_a_sheet_that_gave_nothing_hands_on_nothing():
    empty = run(registry.sheet("cooling"), Given({}))
    assert chain.outputs_of("cooling", empty) == {}
    assert not [f for f in empty.findings if f.severity == "limit"]


def planned(areas, there):
    return [(r.area, r.asked) for r in chain.plan(areas, there)]


def test_the_plan_holds_what_is_needed_in_order():
    every = list(registry.AREAS)
    ring = [(a, False) for a in ("suspension", "aero", "cooling", "aero", "suspension")]
    assert planned(["running"], every) == [*ring, ("running", True)]
    assert planned(["cooling"], every) == [*ring[:2], ("cooling", True)]
    assert planned(["structure"], every) == [("structure", True)]
    assert planned(["running"], ["running"]) == [("running", True)]
    both = planned(["suspension", "aero"], every)
    assert both == [*ring[:3], ("aero", True), ("suspension", True)]


def test_cooling_takes_its_openings_pressures_from_aero(aero):
    raw = json.loads((EXAMPLES / "cooling_fulmar.json").read_text(encoding="utf-8"))["inputs"]
    alone = run(registry.sheet("cooling"), Given(raw, scope="Fulmar E4"))
    known = chain.outputs_of("aero", aero)
    out = run(registry.sheet("cooling"), Given(raw, known=known, scope="Fulmar E4"))
    taken = out.leaves["ducts.left pod.inlet_recovery"]
    assert taken.kind == "computed" and taken.key == aero.number("inlet_recovery").at(0).key
    assert alone.leaves["ducts.left pod.inlet_recovery"].kind == "assumed"
    # the trail leads from the flow of air to the wheel ahead of the pod
    assert any("bodies.front_wheels" in o.name for o in out.number("duct_air").origin.walk())
    # less pressure between inlet and outlet, less air, draw by draw
    case = int(np.argmax(out.axes["speed"]))

    def drive(made):
        ends = (made.leaves[f"ducts.left pod.{k}"].draws for k in ("inlet_recovery", "outlet_cp"))
        return next(ends) - next(ends)

    lower = drive(out) < drive(alone) - 0.02
    less = out.number("duct_air").draws[:, 0, case] < alone.number("duct_air").draws[:, 0, case]
    assert lower.sum() > 300 and np.mean(less[lower]) > 0.95
    told = " ".join(f.text for f in out.findings)
    assert "as the aero sheet gives them: left pod" in told
    assert "assumed: left pod" in " ".join(f.text for f in alone.findings)
    # what is given in the file stands over it
    given = json.loads(json.dumps(raw))
    given["ducts"]["left pod"]["inlet_recovery"] = {"value": 0.9, "sd": 0.01, "unit": "1"}
    out = run(registry.sheet("cooling"), Given(given, known=known, scope="Fulmar E4"))
    assert out.leaves["ducts.left pod.inlet_recovery"].kind == "stated"


def test_one_round_is_enough(aero):
    """What aero hands to cooling hangs neither on springs nor on the cooling's drag."""
    changed = {"wheel_rate_front": {"value": 30, "unit": "N/mm"}, "cooling_drag_area": {"value": 0.08, "unit": "m2"}}
    raw = json.loads((EXAMPLES / "aero_fulmar.json").read_text(encoding="utf-8"))["inputs"]
    other = run(registry.sheet("aero"), Given({**raw, **changed}, scope="Fulmar E4"))
    for name in ("inlet_recovery", "outlet_pressure"):
        assert other.number(name).key == aero.number(name).key


def test_a_place_less_another_along_an_axis():
    rng = np.random.default_rng(1)
    both = rng.normal(0, 0.5, (2000, 1, 3))
    places = {"a": np.array([-25.0, 0.8, 0.3]), "b": np.array([-27.7, 0.5, 0.85])}
    joined = joint({n: both[:, 0] + p + rng.normal(0, 0.002, (2000, 3)) for n, p in places.items()}, "m")
    known = {f"point:{n}": x for n, x in joined.items()}
    found = read_number({"point": "a", "from": "b", "along": "x"}, LENGTH, Given(known=known))
    assert found.value == pytest.approx(2.7, abs=0.001) and found.sd < 0.005, "what both share falls out"
    alone = read_number({"point": "b", "along": "z"}, LENGTH, Given(known=known))
    assert alone.sd > 0.4
    for wrong in ({"point": "a", "along": "w"}, {"point": "a", "from": "b"}, {"point": "a", "from": "c", "along": "x"}):
        with pytest.raises(UnusableInput):
            read_number(wrong, LENGTH, Given(known=known))


def test_what_stands_in_for_a_link():
    known = {"measure:there": stated("there", Normal(1.0, 0.01), "m")}
    other = {"value": 2, "sd": 0.1, "unit": "m"}
    assert read_number({"measure": "there", "otherwise": other}, LENGTH, Given(known=known)).value == 1
    assert read_number({"measure": "gone", "otherwise": other}, LENGTH, Given(known=known)).value == 2
    nested = {"measure": "gone", "otherwise": {"measure": "there"}}
    assert read_number(nested, LENGTH, Given(known=known)).value == 1
    with pytest.raises(UnusableInput, match="there is no measure"):
        read_number({"measure": "gone"}, LENGTH, Given(known=known))


def test_what_stands_in_for_a_measure_that_cannot_be():
    wanted = Input("height", "m", "a height", "mm", plausible=(0.005, 0.4))
    known = {"measure:height": stated("height", Normal(-0.012, 0.002), "m")}
    other = {"value": 38, "sd": 5, "unit": "mm", "kind": "assumed", "reason": "as on the other stage"}
    assert read_number({"measure": "height", "otherwise": other}, wanted, Given(known=known)).kind == "assumed"
    with pytest.raises(UnusableInput, match="outside what can be"):
        read_number({"measure": "height"}, wanted, Given(known=known))


def test_assess_leaves_out_an_area_whose_input_cannot_be_and_says_so(tmp_path, monkeypatch, capsys):
    import sys

    from longlens import cli
    from longlens.dossier.records import Fact, Vehicle
    from longlens.dossier.store import Dossier
    from longlens.systems.from_dossier import keep_given

    path = tmp_path / "car.longlens"
    with Dossier.create(path, Vehicle(name="Gannet")) as dossier:
        dossier.put(Fact(id="mass", value=1000.0, sd=10.0, unit="kg", source="press sheet"))
        dossier.put(Fact(id="power", value=300.0, sd=5.0, unit="kW", source="press sheet"))
        dossier.put(Fact(id="claim", of="zero to 100", value=1.0, sd=0.01, unit="s", source="press sheet"))
        keep_given(dossier, "structure", Given({"impact_speed": {"value": 900, "unit": "km/h"}}, where="x"))

    def go(*args):
        monkeypatch.setattr(sys, "argv", ["longlens", "assess", str(path), *args])
        capsys.readouterr()
        try:
            cli.main()
            status = 0
        except SystemExit as e:
            status = e.code or 0
        told = capsys.readouterr()
        return status, told.out, told.err

    status, out, err = go("structure", "running", "--json")
    told = json.loads(out)
    assert status == 0 and set(told["areas"]) == {"running"}
    assert any("structure is left out" in r for r in told["remarks"]) and "structure is left out" in err
    (verdict,) = told["stated"]
    assert verdict["verdict"] == "impossible" and verdict["would_have_to_give"][0]["assumed"]
    status, out, _ = go("running")
    assert "The maker's own figures" in out and "impossible" in out and "nobody should drive" in out
    assert go("structure")[0] == 2
