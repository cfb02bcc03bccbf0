"""The running sheet: what it refuses, what variants do, stated figures judged."""

import json
from pathlib import Path

import numpy as np
import pytest

from longlens.errors import UnusableInput
from longlens.numbers import Normal, stated
from longlens.systems import registry
from longlens.systems.given import Given, read_file
from longlens.systems.run import run, run_all
from longlens.systems.stated import judge, verdicts

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "running_fulmar.json"
RAW = json.loads(EXAMPLE.read_text(encoding="utf-8"))
SHEET = registry.sheet("running")


@pytest.fixture(scope="module")
def runs():
    return run_all(SHEET, read_file(EXAMPLE, "running"))


def with_inputs(**change):
    inputs = {k: v for k, v in {**RAW["inputs"], **change}.items() if v is not None}
    return run(SHEET, Given(inputs, scope="Fulmar E4", draws=300))


def test_every_output_names_model_and_source(runs):
    told = runs[""].as_json()
    for name, out in told["outputs"].items():
        assert out["model"] and out["source"], name
        assert out["low95"] is not None
    assert set(told["refused"]) == {"gear_speed", "shaft_at_top"}
    assert any("perfect driver" in f["text"] for f in told["findings"])
    assert any("nobody should drive" in c for c in told["cautions"])


def test_variants_share_their_draws(runs):
    base, road = runs[""], runs["road tyres"]
    assert np.all(road.number("lap_time").draws > base.number("lap_time").draws)
    assert base.number("top_speed").key == road.number("top_speed").key
    assert base.number("mass_running").key == road.number("mass_running").key


def test_without_power_what_needs_it_is_refused_and_nothing_else():
    out = with_inputs(power=None)
    assert "power (kW): peak power at the shaft" in out.refused["zero_to_100"].needs
    assert "mass_running" in out.numbers


def test_mass_is_stated_summed_bounded_or_refused():
    assert with_inputs().inner["mass_how"] == "stated"
    parts = [
        {
            "name": "car",
            "mass": {"value": 400, "sd": 20, "unit": "kg"},
            "behind": {"value": 1.2, "sd": 0.1, "unit": "m"},
        },
        {
            "name": "battery",
            "mass": {"value": 150, "sd": 20, "unit": "kg"},
            "behind": {"value": 1.6, "sd": 0.1, "unit": "m"},
        },
    ]
    summed = with_inputs(weights={"parts": parts})
    assert summed.inner["mass_how"].startswith("summed")
    assert summed.number("mass_running").value == pytest.approx(632, abs=12)
    loads = {f"tyre_load_{e}": {"value": 450, "unit": "kg"} for e in ("front", "rear")}
    with pytest.raises(UnusableInput):  # a mass is no force
        with_inputs(weights=loads)
    loads = {f"tyre_load_{e}": {"value": 4.4, "unit": "kN"} for e in ("front", "rear")}
    bounded = with_inputs(weights=loads)
    mass = bounded.number("mass_running")
    assert mass.high / mass.low > 2, "a bound must be wide"
    assert any(f.severity == "caution" and "bounded" in f.text for f in bounded.findings)
    none = with_inputs(weights={})
    assert "weights: mass (kg)" in none.refused["lap_time"].needs


def test_gears_hold_the_top_speed():
    gears = {
        "shaft_speed": {"value": 12000, "unit": "rpm"}, "overall_ratio": {"value": 6.0, "unit": "1"},
        "rolling_radius": {"value": 300, "unit": "mm"},
    }  # fmt: skip
    out = with_inputs(gears=gears)
    assert out.number("gear_speed").value == pytest.approx(12000 * np.pi / 30 * 0.3 / 6)
    assert np.all(out.number("top_speed").draws <= out.number("gear_speed").draws + 1e-9)


def test_a_maker_s_figures_are_judged(runs):
    base = runs[""]
    texts = [f.text for f in base.findings if f.text.startswith("stated")]
    assert len(texts) == 2

    def verdict(value, sd=0.02):
        return judge(base, "zero_to_100", stated("claim", Normal(value, sd), "s"))

    middle = float(base.number("zero_to_100").value)
    assert verdict(middle).word == "consistent" and not verdict(middle).gives
    assert verdict(9.0).word == "modest"
    assert verdict(2.5).word == "strained"
    off = verdict(0.9)
    assert off.word == "impossible"
    assert off.gives and off.gives[0].name == "grip_rank" and off.gives[0].assumed
    assert "grip rank" in off.sentence() and "impossible" in off.sentence()


def test_a_figure_at_a_speed_is_found_on_its_curve(runs):
    claim = stated("claim", Normal(1.9, 0.05), "g0")
    found = verdicts(runs[""], {"lateral_limit_at_180_km_h": claim, "mass": claim, "lateral_limit_at_7": claim})
    assert len(found) == 1 and found[0].word == "consistent"


@pytest.mark.parametrize(
    ("name", "raw", "told"),
    [
        ("track", {"points": "x"}, "list of points"),
        ("track", {"points": [[0, 0], [1, 2]]}, "no centre line"),
        ("track", {"invented": "moon"}, "no track"),
        ("track", {"points": [[0, 0], [99, 0], [99, 99]], "smooth": -3}, "from 0 to 200"),
        ("brakes", {"front": {"diameter": {"value": 3, "unit": "m"}}}, "outside what can be"),
        ("brakes", {"front": {"diameter": {"value": 300, "unit": "mm"}, "material": "wood"}}, "not known"),
        ("gears", {"shaft_speed": {"value": 9000, "unit": "rpm"}}, "needs"),
        ("weights", {"parts": []}, "must be a list"),
        ("stated", {"top_speed": {"value": 245}}, "no unit"),
        ("tyre_class", "round", "not known"),
    ],
)  # fmt: skip
def test_bad_input_says_where_and_what(name, raw, told):
    with pytest.raises(UnusableInput) as e:
        with_inputs(**{name: raw})
    assert told in str(e.value)
