"""An axle under the air's load: springs and air in balance, stops, what is handed on between suspension and aero."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.errors import UnusableInput
from longlens.systems import chain, registry
from longlens.systems.given import Given, read_file
from longlens.systems.run import run
from longlens.systems.suspension import pressed

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"
TRAVEL = np.linspace(-0.03, 0.03, 21)
SUSPENSION = json.loads((EXAMPLES / "suspension_fulmar.json").read_text(encoding="utf-8"))["inputs"]
AERO = json.loads((EXAMPLES / "aero_fulmar.json").read_text(encoding="utf-8"))["inputs"]
OWN_RATES = ("wheel_rate_front", "wheel_rate_rear")


def round_of(suspension, aero, draws=400):
    """Suspension, aero and suspension again, as the chain runs them."""
    known = {}
    out = {}
    for area, inputs in (("suspension", suspension), ("aero", aero), ("suspension", suspension)):
        out[area] = run(registry.sheet(area), Given(inputs, known=known, scope="Fulmar E4", draws=draws))
        known = known | chain.outputs_of(area, out[area])
    return out["suspension"], out["aero"], known


@pytest.fixture(scope="module")
def ring():
    return round_of(SUSPENSION, {k: v for k, v in AERO.items() if k not in OWN_RATES})


@settings(max_examples=25, deadline=None)
@given(rate=st.floats(2e4, 3e5), rise=st.floats(0, 40), load=st.floats(0, 4000), tyre=st.floats(1e5, 5e5))
def test_a_progressive_wheel_rate_by_hand(rate, rise, load, tyre):
    """k(z) = k0 (1 + c z): the force is k0 (z + c z²/2), the travel the root of that; linear between places of 3 mm."""
    curve = (rate * (1 + rise * TRAVEL))[None]
    force = pressed.force_over_travel(TRAVEL, curve)
    made = pressed.pressed(TRAVEL, force, np.array([[load]]), np.array([tyre]))
    z = load / 2 / rate if rise < 1e-6 else (np.sqrt(1 + 2 * rise * load / 2 / rate) - 1) / rise
    if z < 0.0299:
        assert not made.on_stops.any()
        assert made.travel[0, 0] == pytest.approx(z, abs=5e-5)
    elif z > 0.0301:
        assert made.on_stops.all() and made.travel[0, 0] == 0.03
    assert made.drop[0, 0] == pytest.approx(made.travel[0, 0] + load / 2 / tyre)


def test_both_sheets_find_the_same_height(ring):
    """The balance is settled inside aero on the suspension's own curve; the suspension then finds the same drop."""
    suspension, aero, _ = ring
    for end in ("front", "rear"):
        upto = len(suspension.axes[f"air_speed_{end}"])
        one = aero.number(f"{end}_drop").draws[:, :upto]
        two = suspension.number(f"speed_drop_{end}").draws
        held = np.asarray(AERO[f"ride_{end}"]["value"]) * 1e-3
        force = aero.number(f"downforce_{end}").draws[:, :upto]
        free = (aero.inner["unsettled"][:, :upto] < 1e-5) & (one < held - 0.02) & (one > -0.02)
        stopped = two > suspension.axes["travel"][-1] + force / 2 / 100e3
        assert (free & ~stopped).mean() > 0.3
        assert np.max(np.abs(one - two)[free & ~stopped]) < 1e-4


def test_camber_and_clearance_at_speed_follow_the_travel(ring):
    suspension, aero, _ = ring
    travel = suspension.number("speed_travel_front").draws
    camber, curve = suspension.number("speed_camber_front").draws, suspension.number("camber_curve_front").draws
    for k in (0, 7, 31):
        read = np.interp(travel[k], suspension.axes["travel"], curve[k])
        assert camber[k] == pytest.approx(read, abs=1e-9)
    ride = suspension.number("speed_ride_height_front").draws
    assert ride == pytest.approx(aero.number("ride_height_front").draws[:, : ride.shape[1]])
    assert np.all(np.diff(np.median(travel, axis=0)) > 0)
    assert any("at" in f.text and "camber is then" in f.text for f in suspension.findings)


def test_a_given_wheel_rate_keeps_the_curve_s_shape(ring):
    _, aero, known = ring
    raw = {k: v for k, v in AERO.items() if k not in OWN_RATES}
    soft = {"wheel_rate_front": {"value": 20, "sd": 1, "unit": "N/mm"}}
    other = run(registry.sheet("aero"), Given({**raw, **soft}, known=known, scope="Fulmar E4", draws=400))
    k = 5  # 120 km/h
    assert np.median(other.number("front_drop").draws[:, k]) > 1.2 * np.median(aero.number("front_drop").draws[:, k])


def test_a_car_on_its_stops_is_said_in_words_and_gets_no_numbers():
    soft = json.loads(json.dumps(SUSPENSION))
    soft["bump"] = {"value": 4, "unit": "mm", "kind": "assumed", "reason": "a short stop"}
    hard = {
        **AERO,
        "ride_front": {"value": 90, "sd": 4, "unit": "mm"},
        "ride_rear": {"value": 90, "sd": 4, "unit": "mm"},
    }
    suspension, aero, _ = round_of(soft, {k: v for k, v in hard.items() if k not in OWN_RATES})
    assert len(suspension.axes["air_speed_front"]) < len(aero.axes["speed"])
    told = " ".join(f.text for f in suspension.findings if f.severity == "limit")
    assert (
        "sits on its bump stops" in told
        and "4 mm, assumed" in told
        and "no travel, camber or ride height is given" in told
    )
    assert max(aero.inner["on_stops"]["front"]) > 0.5
    assert any("rests on its bump stops" in f.text for f in aero.findings)


def test_without_the_air_nothing_is_made_up():
    out = run(registry.sheet("suspension"), Given(SUSPENSION, draws=200))
    assert "aero" in " ".join(out.refused["speed_camber_front"].needs)


def test_an_air_load_from_a_file():
    air = {
        "speed": {"value": [100, 200], "unit": "km/h"},
        "downforce_front": {"value": [200, 400], "relative_sd": 0.1, "unit": "N"},
        "downforce_rear": {"value": [200, 400], "relative_sd": 0.1, "unit": "N"},
    }
    out = run(registry.sheet("suspension"), Given({**SUSPENSION, "air": air}, draws=200))
    assert "speed_ride_height_front" in out.refused and out.number("speed_travel_rear").shape == (2,)
    air["downforce_front"]["value"] = [300]
    with pytest.raises(UnusableInput, match="one figure for each speed"):
        run(registry.sheet("suspension"), Given({**SUSPENSION, "air": air}, draws=200))


def test_aero_takes_a_spring_curve_from_a_file():
    travel = {"value": [-20, 0, 20, 30], "unit": "mm"}
    one = {"travel": travel, "force": {"value": [-4000, 0, 4000, 7000], "relative_sd": 0.05, "unit": "N"},
           "rate": {"value": 100, "sd": 2, "unit": "N/mm"}}  # fmt: skip
    out = run(registry.sheet("aero"), Given({**AERO, "springing": {"front": one}}, draws=200))
    assert out.number("front_drop").shape == (14,)
    one["travel"]["value"] = [0, -20, 20, 30]
    with pytest.raises(UnusableInput, match="rising"):
        run(registry.sheet("aero"), Given({**AERO, "springing": {"front": one}}, draws=200))


def test_files_of_both_examples_still_run():
    for area in ("aero", "suspension"):
        run(registry.sheet(area), read_file(EXAMPLES / f"{area}_fulmar.json", area))


def test_springs_that_do_not_belong_together_are_told(ring):
    """The aero sheet was given a wheel rate of its own."""
    _, _, known = ring
    other = {
        **{k: v for k, v in AERO.items() if k not in OWN_RATES},
        "wheel_rate_front": {"value": 20, "sd": 1, "unit": "N/mm"},
    }
    aero = run(registry.sheet("aero"), Given(other, known=known, scope="Fulmar E4", draws=400))
    known = {**known, **chain.outputs_of("aero", aero)}
    out = run(registry.sheet("suspension"), Given(SUSPENSION, known=known, scope="Fulmar E4", draws=400))
    assert any("do not belong together" in f.text for f in out.findings)
    assert not any("front" in f.text and "do not belong together" in f.text for f in ring[0].findings)


def test_a_body_that_the_road_holds_shares_its_drop_between_spring_and_tyre():
    """Two springs in series by hand: z = D kt/(k + kt)."""
    force = 50e3 * TRAVEL[None]
    drop = np.array([[0.010, 0.024]])
    found = pressed.held_up(TRAVEL, force, drop, np.array([150e3]))
    assert found == pytest.approx(drop * 0.75, rel=1e-9)


def test_where_the_road_holds_the_car_both_sheets_agree_and_it_is_told(ring):
    suspension, aero, _ = ring
    upto = len(suspension.axes["air_speed_front"])
    held = aero.inner["held"]["front"][:, :upto]
    assert held.any()
    one, two = aero.number("front_drop").draws[:, :upto], suspension.number("speed_drop_front").draws
    assert two[held] == pytest.approx(one[held])
    assert np.all(suspension.number("speed_travel_front").draws[held] < two[held])


def test_curves_handed_on_are_no_drivers(ring):
    suspension, _, _ = ring
    names = {d.name for d in suspension.drivers("wheel_rate_front", count=50)}
    assert names and not any(n.startswith("air.") for n in names)
