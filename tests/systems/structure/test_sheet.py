"""The structure sheet: rules, walls, members, sections, what was seen; invariants."""

import copy
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.errors import UnusableInput
from longlens.systems import registry
from longlens.systems.given import Given, read_file
from longlens.systems.run import run, run_all
from longlens.systems.structure import crash, sections
from longlens.systems.structure.observed import SIGNS, read_signs

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "structure_fulmar.json"
RAW = json.loads(EXAMPLE.read_text(encoding="utf-8"))
SHEET = registry.sheet("structure")
few = settings(max_examples=50, deadline=None)


@pytest.fixture(scope="module")
def runs():
    return run_all(SHEET, read_file(EXAMPLE, "structure"))


def with_inputs(**change):
    inputs = {k: v for k, v in {**RAW["inputs"], **change}.items() if v is not None}
    return run(SHEET, Given(inputs, scope="Fulmar E4", draws=300))


def test_every_output_names_model_source_and_limits(runs):
    told = runs[""].as_json()
    assert not told["refused"]
    for name, out in told["outputs"].items():
        assert out["model"] and out["source"] and out["limits"], name
    assert any("proved by tests" in c for c in told["cautions"])


def test_findings_speak_of_rules_walls_ties_and_surfaces(runs):
    text = " ".join(f.text for f in runs[""].findings)
    for word in (
        "87.8 kJ",
        "against 40 g allowed",
        "mean wall",
        "not meant to push",
        "weave; speaks 30",
        "over the first 150 mm",
    ):
        assert word in text, word


def test_a_shorter_structure_stops_harder(runs):
    base, short = runs[""], runs["shorter by a fifth"]
    assert np.all(short.number("rule_deceleration").draws > base.number("rule_deceleration").draws)
    assert np.all(short.number("wall_needed").draws > base.number("wall_needed").draws)


def test_the_rules_need_no_mass_of_the_car():
    out = with_inputs(mass=None)
    assert "rule_margin" in out.numbers
    assert "mass (kg)" in out.refused["own_energy"].needs[0]


def test_what_is_not_measured_is_refused_with_what_is_needed():
    out = with_inputs(crash={}, members={}, sections={})
    for name in ("rule_force", "wall_needed", "member_push", "part_stress"):
        assert out.refused[name].needs, name
    assert any("weave" in f.text for f in out.findings)


def test_only_named_rules_are_asked():
    c = copy.deepcopy(RAW["inputs"]["crash"]) | {"rules": ["student_300"]}
    out = with_inputs(crash=c)
    assert list(out.axes["rule"]) == ["student_300"]
    assert out.number("rule_energy").at(0).value == pytest.approx(7350)


def test_a_measured_wall_says_what_it_must_take_up():
    c = copy.deepcopy(RAW["inputs"]["crash"]) | {"wall": {"value": 3, "sd": 0.2, "unit": "mm"}}
    thin, usual = with_inputs(crash=c), with_inputs()
    assert thin.number("absorption_needed").at(0).value > usual.number("absorption_needed").at(0).value


@pytest.mark.parametrize(
    ("name", "raw", "told"),
    [
        ("crash", {"length": {"value": 0.4, "unit": "m"}}, "needs"),
        ("crash", RAW["inputs"]["crash"] | {"rules": ["none"]}, "list of rules"),
        (
            "members",
            {"x": {"outside": {"value": 20, "unit": "mm"}, "length": {"value": 1, "unit": "m"}, "material": "wood"}},
            "not known",
        ),
        ("sections", {"x": {"kind": "star"}}, "is not known"),
        ("sections", {"x": {"kind": "bar", "material": "steel", "width": {"value": 1, "unit": "mm"}}}, "needs"),
        ("seen", [{"part": "x", "seen": ["aura"]}], "without a rule"),
        ("seen", {}, "must be a list"),
    ],
)
def test_bad_input_says_where_and_what(name, raw, told):
    with pytest.raises(UnusableInput) as e:
        with_inputs(**{name: raw})
    assert told in str(e.value)


@few
@given(mass=st.floats(200, 2000), speed=st.floats(3, 30), crush=st.floats(0.1, 1.0))
def test_mean_force_times_way_is_the_energy(mass, speed, crush):
    force = mass * crash.mean_deceleration(speed, crush)
    assert force * crush == pytest.approx(crash.energy(mass, speed))


@few
@given(front=st.floats(0.2, 1.0), rear=st.floats(0.2, 1.5), length=st.floats(0.16, 1.0))
def test_the_early_share_of_an_even_wall(front, rear, length):
    share = crash.early_share(front, rear, length, 0.15)
    assert (share <= 1 + 1e-12) == (front <= rear)
    assert crash.early_share(front, rear, length, length) == pytest.approx(1.0)


@few
@given(width=st.floats(0.02, 0.2), height=st.floats(0.02, 0.2), wall=st.floats(0.0005, 0.002), scale=st.floats(0.5, 3))
def test_sections_scale(width, height, wall, scale):
    a, b = sections.box_tube(width, height, wall), sections.box_tube(width * scale, height * scale, wall * scale)
    assert b.area == pytest.approx(float(a.area) * scale**2)
    assert b.second == pytest.approx(float(a.second) * scale**4)
    assert b.torsion_modulus == pytest.approx(float(a.torsion_modulus) * scale**3)


@few
@given(outside=st.floats(0.005, 0.1), share=st.floats(0.01, 0.6))
def test_a_tube_is_less_than_its_bar(outside, share):
    tube, solid = sections.round_tube(outside, share * outside), sections.round_tube(outside, outside)
    assert tube.area <= solid.area and tube.second <= solid.second
    assert tube.torsion == pytest.approx(2 * float(tube.second))


def test_every_sign_is_marked_as_practice():
    for sign in SIGNS:
        (e,) = read_signs("part", [sign])
        assert e.source == "common practice, no source" and e.low < e.ratio < e.high and e.low > 1
