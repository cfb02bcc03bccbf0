"""The anti-roll bar in the load cases: torque, links, and what they do to the part they sit on."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from longlens.systems import registry
from longlens.systems.given import Given, read_file
from longlens.systems.run import run
from longlens.systems.suspension import figures, forces, geometry, ratios, rods
from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.figures import RollSprings
from longlens.systems.suspension.kinematics import solve
from longlens.systems.suspension.readings import LoadCase, RodSize
from longlens.systems.suspension.velocity import twists
from longlens.systems.suspension.wheel_loads import Car, elastic_moment, lateral_transfer, wheel_loads
from tests.systems.suspension.cars import corner

EXAMPLE = Path(__file__).parents[3] / "docs" / "examples" / "suspension_fulmar.json"
SHEET = registry.sheet("suspension")
CAR = Car(900.0, 2.6, 0.5, 0.42, 1.5, 1.5, 0.55, 0.03, 0.03, unsprung_front=60.0, unsprung_rear=60.0)

#: Arms parallel and equal, so that the wheel rises without turning; spring and link stand upright, in the vertical
#: plane through the ball joints: link at half the arm, spring at its joint. The bar lies across, its arm 0.20 m long.
PLANAR = {
    "upper_wishbone.front_inner": (0.2, 0.3, 0.40), "upper_wishbone.rear_inner": (-0.2, 0.3, 0.40),
    "upper_wishbone.outer": (0.0, 0.7, 0.40),
    "lower_wishbone.front_inner": (0.2, 0.3, 0.15), "lower_wishbone.rear_inner": (-0.2, 0.3, 0.15),
    "lower_wishbone.outer": (0.0, 0.7, 0.15),
    "track_rod.inner": (0.1, 0.3, 0.2), "track_rod.outer": (0.1, 0.7, 0.2), "wheel.centre": (0.0, 0.75, 0.3),
    "spring.outer": (0.0, 0.7, 0.15), "spring.inner": (0.0, 0.7, 0.60),
    "bar_link.outer": (0.0, 0.5, 0.15), "bar_link.inner": (0.0, 0.5, 0.35), "anti_roll_bar.pivot": (0.2, 0.5, 0.35),
}  # fmt: skip


def planar() -> Corner:
    """One draw of the planar corner."""
    points = {k: np.array([p]) for k, p in PLANAR.items()}
    return Corner("double_wishbone", points, np.array([[0.0, 1.0, 0.0]]), np.array([0.3]))


@pytest.mark.parametrize("mount", ["rocker", "lower_wishbone", "upper_wishbone", "upright"])
def test_spring_and_bar_together_do_the_work_of_the_road(mount: str) -> None:
    """Virtual work (any statics text): F_spring · di + T_bar · dθ = F_road · dz, wherever the link sits."""
    base = corner(rocker=True, bar_link=mount)
    points = dict(base.points)
    if mount != "rocker":
        at = {"lower_wishbone": (0.05, 0.60, 0.17), "upper_wishbone": (0.0, 0.55, 0.39), "upright": (0.05, 0.68, 0.25)}
        points["bar_link.outer"] = np.array(at[mount])
        points["bar_link.inner"] = np.array(at[mount]) + np.array([0.02, -0.03, 0.16])
        points["anti_roll_bar.pivot"] = points["bar_link.inner"] + np.array([0.2, 0.02, 0.01])
        points["heave.outer"] = np.array(base.points["heave.outer"])
    c = Corner(base.layout, points, base.spin, base.radius, {"bar_link": mount})
    m = solve(c, np.linspace(-0.02, 0.02, 5))
    t = twists(m)[0]
    torque = 140.0 * np.sign(ratios.bar_arm_per_wheel(t))
    road = np.array([-900.0, 2100.0, 3600.0])
    inside = forces.corner_forces(m, road, bar_link=forces.bar_link_tension(m, torque))
    assert inside.spring is not None
    inner_work = inside.spring * ratios.spring_per_wheel(t) + torque * ratios.bar_arm_per_wheel(t)
    assert np.allclose(inner_work, np.sum(t.at(geometry.contact(m)) * road, axis=-1), rtol=1e-9)
    without = forces.corner_forces(m, road)
    assert without.spring is not None and np.all(inside.spring < without.spring)  # the bar takes its part


def test_a_planar_axle_by_hand() -> None:
    """Elastic moment M on springs and bar K_s + K_b: φ = M/(K_s + K_b), z = t φ/2, link travel z/2, arm turns z/2a each
    way, T = k · 2 · (z/2a), link T/a in compression outside; at the wheel the bar carries half of that."""
    c, t, a, k = planar(), 1.5, 0.2, 900.0
    m = solve(c)
    assert ratios.bar_arm_per_wheel(twists(m)[0]) == pytest.approx(0.5 / a, rel=1e-9)
    bar_roll = k * (0.5 / a * t) ** 2
    stiffness = 52_000.0 + bar_roll
    parts = RollSprings(np.array([stiffness]), np.array([bar_roll / (0.5 / a * t)]))
    case = LoadCase("cornering", 0.0, 8.0)
    names, found = figures.rod_loads(c, [case], CAR, "front", parts)
    load = wheel_loads(CAR, 0.0, -8.0)
    # roll centre 30 mm up: what it passes, and the unsprung mass 0.3 m up, twist nothing
    sprung, unsprung = 780.0, 60.0
    h = (900 * 0.42 - 120 * 0.3) / sprung
    moment = sprung * 8.0 * (h - 0.03) * 0.55
    transfer = (moment + 390 * 8.0 * 0.03 + unsprung * 8.0 * 0.3) / t
    assert load.left_front[2] - load.right_front[2] == pytest.approx(2 * transfer)
    torque = k * 2 * (0.5 * (t / 2) * (moment / stiffness) / a)
    assert found["_bar_torque"][0, 0] == pytest.approx(torque, rel=1e-9)
    link = found["rod_force"][0, names.index("bar_link"), 0]
    assert link == pytest.approx(-torque / a, rel=1e-9)
    # spring at the ball joint, so ratio 1: it carries the wheel's load less the bar's half
    assert found["_spring_force"][0, 0] == pytest.approx(load.left_front[2] - 0.5 * torque / a, rel=1e-9)
    # the wishbone's inner joints take what is left of the link's push upright: half of it, up on the chassis
    on = forces.corner_forces(m, np.array([0.0, 0.0, 3000.0]), bar_link=-torque / a).on_chassis
    off = forces.corner_forces(m, np.array([0.0, 0.0, 3000.0])).on_chassis
    inner = ("lower_wishbone.front_inner", "lower_wishbone.rear_inner")
    assert sum(float(on[p][0, 2] - off[p][0, 2]) for p in inner) == pytest.approx(-0.5 * torque / a, rel=1e-9)


def test_the_bars_energy_is_its_work_at_both_wheels() -> None:
    """½ k θ² of the bar equals ½ Σ ΔF z over both wheels, ΔF being what the springs are spared at the wheel."""
    c, k, t = planar(), 900.0, 1.5
    by_wheel = np.abs(ratios.bar_arm_per_wheel(twists(solve(c))[0]))
    roll_rate = k * (by_wheel * t) ** 2
    parts = RollSprings(52_000.0 + roll_rate, roll_rate / (by_wheel * t))
    case = [LoadCase("cornering", 0.0, 8.0)]
    _, with_bar = figures.rod_loads(c, case, CAR, "front", parts)
    _, without = figures.rod_loads(c, case, CAR, "front")
    torque = with_bar["_bar_torque"][0, 0]
    spared = without["_spring_force"][0, 0] - with_bar["_spring_force"][0, 0]  # ratio 1: also at the wheel
    z = 0.5 * t * torque / float(parts.torque_per_roll[0])
    assert 0.5 * torque**2 / k == pytest.approx(0.5 * (spared * z + -spared * -z), rel=1e-9)
    assert without["_bar_torque"] is None


def test_with_roll_centres_on_the_ground_the_springs_carry_all_of_the_transfer() -> None:
    light = Car(900.0, 2.6, 0.5, 0.42, 1.5, 1.5, 0.55)
    load = wheel_loads(light, 0.0, -6.0)
    for end, share in (("front", 0.55), ("rear", 0.45)):
        moment = elastic_moment(light, -6.0, load, end)
        assert moment == pytest.approx(-900 * 6.0 * 0.42 * share)
        assert moment == pytest.approx(1.5 * lateral_transfer(light, -6.0)[0 if end == "front" else 1])
    lifted = wheel_loads(light, 0.0, -30.0)  # the inner wheels are off the road: half the axle's load is all there is
    assert elastic_moment(light, -30.0, lifted, "front") == pytest.approx(-0.5 * 1.5 * lifted.left_front[2])


def test_the_pushed_link_decides() -> None:
    size = RodSize(np.array([8e-3]), np.array([1e-3]), np.array([205e9]), np.array([700e6]), "steel")
    pull = np.array([[[4000.0]]])
    made = figures.use(planar(), pull, ["bar_link"], {"front.bar_link": size}, "front")
    assert isinstance(made, tuple)
    section = rods.tube(8e-3, 1e-3)
    assert made[1][0, 0, 0] == pytest.approx(4000.0 / rods.critical_load(205e9, 700e6, section, 0.2))


def given(change: Any = None) -> Given:
    g = read_file(EXAMPLE, "suspension")
    inputs = copy.deepcopy(dict(g.inputs))
    if change is not None:
        change(inputs)
    return Given(inputs, {}, scope=g.scope, where=g.where, draws=100)


def test_the_sheet_has_the_bar_in_its_cases() -> None:
    def sized(i: dict[str, Any]) -> None:
        i["rods"]["front.bar_link"] = {"outside": {"value": 9, "sd": 0.3, "unit": "mm"}, "material": "steel"}

    o = run(SHEET, given(sized))
    cases = list(o.axes["case"])
    torque = np.median(o.number("bar_torque_front").draws, axis=0)
    assert torque[cases.index("standing")] == pytest.approx(0.0, abs=1e-9)
    assert np.max(torque) > 10.0
    assert "bar_link" in o.axes["rod_front"] and "bar_link" in o.axes["sized_rod_front"]
    assert any("anti-roll bar is twisted" in f.text and "in compression" in f.text for f in o.findings)


def test_without_the_bars_rate_the_sheet_says_that_it_is_left_out() -> None:
    o = run(SHEET, given(lambda i: i["springs"]["front"].pop("anti_roll_bar")))
    assert "rate is not known" in o.refused["bar_torque_front"].why
    assert "bar_link" not in o.axes["rod_front"]
    assert any("without an anti-roll bar's" in f.text for f in o.findings)


def test_the_bar_s_bearing_closes_the_balance_of_the_corner() -> None:
    """What the chassis gets is what the road and the driveshaft put in, once the bar's bearing is counted."""
    c = corner(rocker=True, bar_link="rocker")
    m = solve(c, np.array([0.0, 0.015]))
    road = np.array([-900.0, 2100.0, 3600.0])
    link = forces.bar_link_tension(m, 140.0 * np.sign(ratios.bar_arm_per_wheel(twists(m)[0])))
    found = forces.corner_forces(m, road, bar_link=link)
    total = sum(f for f in found.on_chassis.values())
    assert np.allclose(total, road, atol=1e-6)
    assert np.linalg.norm(found.on_chassis[forces.BEARING], axis=-1) == pytest.approx(np.abs(link), rel=1e-12)


def test_a_stem_across_the_links_has_no_bearing_of_one_side() -> None:
    c = planar()
    assert forces.bar_has_bearing(c)
    along = Corner(c.layout, {**c.points, "anti_roll_bar.axis": np.array([[0.6, 0.5, 0.35]])}, c.spin, c.radius)
    assert not forces.bar_has_bearing(along)
