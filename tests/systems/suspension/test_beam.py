"""The beam axle: rods keep their lengths, forces balance, the roll centre is where textbooks put it."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.systems.suspension import beam
from longlens.systems.suspension.axes import mirror

LEFT = {
    "lower_link.inner": (0.55, 0.48, 0.28), "lower_link.outer": (0.03, 0.55, 0.25),
    "spring.inner": (0.05, 0.50, 0.60), "spring.outer": (0.02, 0.52, 0.36), "wheel.centre": (0.0, 0.75, 0.32),
}  # fmt: skip


def axle(kind: str = "panhard") -> beam.BeamAxle:
    p = {f"left.{k}": np.array(v) for k, v in LEFT.items()}
    if kind == "panhard":
        p |= {"upper_link.inner": np.array((0.5, 0.0, 0.5)), "upper_link.outer": np.array((0.05, 0.0, 0.47))}
    else:
        p |= {
            "left.upper_link.inner": np.array((0.45, 0.15, 0.5)),
            "left.upper_link.outer": np.array((0.05, 0.45, 0.45)),
        }
    p |= {k.replace("left", "right"): mirror(v) for k, v in p.items() if k.startswith("left")}
    if kind == "panhard":
        p |= {"panhard_rod.inner": np.array((-0.1, 0.5, 0.34)), "panhard_rod.outer": np.array((-0.1, -0.5, 0.34))}
    return beam.BeamAxle(p, np.array([0.0, 1.0, 0.0]), np.array(0.32))


@pytest.mark.parametrize("kind", ["panhard", "four links"])
def test_rods_keep_their_lengths_in_heave_and_roll(kind: str) -> None:
    a = axle(kind)
    m = beam.solve(a, np.array([0.05, -0.04, 0.05]), np.array([0.05, -0.04, -0.05]))
    assert m.reached.all()
    for rod in a.rods:
        was = np.linalg.norm(a.points[f"{rod}.inner"] - a.points[f"{rod}.outer"])
        assert np.allclose(np.linalg.norm(m.point(f"{rod}.inner") - m.point(f"{rod}.outer"), axis=-1), was, atol=1e-11)
    left, right = m.camber
    assert left[2] == pytest.approx(-right[2], abs=1e-9)


def test_a_level_panhard_rod_puts_the_roll_centre_at_its_height() -> None:
    """Where the rod crosses the centre plane (any chassis text; common construction)."""
    a = axle()
    assert beam.solve(a).roll_centre_height() == pytest.approx(0.34, abs=0.02)


def test_forces_balance() -> None:
    a = axle()
    m = beam.solve(a, np.array([0.0, 0.03]), np.array([0.0, -0.02]))
    fl, fr = np.array([-500.0, 800.0, 3500.0]), np.array([-500.0, 600.0, 2500.0])
    f = beam.forces(m, fl, fr)
    total = np.zeros((2, 3))
    for name, force in f.items():
        d = m.point(f"{name}.outer") - m.point(f"{name}.inner")
        d /= np.linalg.norm(d, axis=-1, keepdims=True)
        total += (force if name.endswith("spring") else -force)[:, None] * d
    assert np.allclose(total, -(fl + fr), atol=1e-6)
    # level and loaded alike on both sides, the springs carry the loads by virtual work
    even = beam.forces(beam.solve(a), np.array([0, 0, 3000.0]), np.array([0, 0, 3000.0]))
    both = even["left.spring"] * beam.spring_per_wheel(beam.solve(a), "left") + even[
        "right.spring"
    ] * beam.spring_per_wheel(beam.solve(a), "right")
    assert both == pytest.approx(6000.0, rel=0.02)  # the contact turns a little with the axle's pitch


def test_roll_is_softer_at_springs_inboard_of_the_wheels() -> None:
    m = beam.solve(axle())
    assert beam.spring_per_wheel(m, "left", roll=True) < beam.spring_per_wheel(m, "left")


def test_four_rods_no_more_no_less() -> None:
    p = {k: v for k, v in axle().points.items() if not k.startswith("panhard")}
    with pytest.raises(ValueError, match="four rods"):
        beam.BeamAxle(p, np.array([0.0, 1.0, 0.0]), np.array(0.32))


BAR = {
    "bar_link.outer": (-0.10, 0.45, 0.26), "bar_link.inner": (-0.12, 0.44, 0.50), "anti_roll_bar.pivot": (0.10, 0.42, 0.52),
}  # fmt: skip


def with_bar() -> beam.BeamAxle:
    a = axle()
    more = {f"left.{k}": np.array(p) for k, p in BAR.items()} | {
        f"right.{k}": mirror(np.array(p)) for k, p in BAR.items()
    }
    return beam.BeamAxle({**a.points, **more}, a.spin, a.radius)


def test_the_bar_s_arm_turns_as_the_moved_axle_turns_it() -> None:
    """Ratio by finite roll: the arm's angle for which the link keeps its length, against the rate."""
    from scipy.optimize import brentq

    a = with_bar()
    assert beam.has_bar(a) and not beam.has_bar(axle())
    p = {k: np.array(v) for k, v in BAR.items()}
    length = np.linalg.norm(p["bar_link.outer"] - p["bar_link.inner"])
    r = p["bar_link.inner"] - p["anti_roll_bar.pivot"]

    def angle(z: float) -> float:
        outer = beam.solve(a, z, -z).point("left.bar_link.outer")

        def misfit(t: float) -> float:
            turned = np.array([r[0] * np.cos(t) + r[2] * np.sin(t), r[1], r[2] * np.cos(t) - r[0] * np.sin(t)])
            return float(np.linalg.norm(outer - p["anti_roll_bar.pivot"] - turned) - length)

        return float(brentq(misfit, -0.3, 0.3, xtol=1e-13))

    h = 1e-4
    assert beam.bar_arm_per_wheel(beam.solve(a), "left") == pytest.approx((angle(h) - angle(-h)) / (2 * h), rel=1e-5)


def test_springs_and_bar_do_the_work_of_the_road_in_roll() -> None:
    """Virtual work (any statics text): springs and bar together, wheels moving oppositely."""
    a = with_bar()
    m = beam.solve(a)
    turn = {s: float(beam.bar_arm_per_wheel(m, s)) for s in ("left", "right")}
    assert abs(turn["left"]) == pytest.approx(abs(turn["right"]), rel=0.2)
    torque = 160.0
    links = tuple(
        beam.bar_link_tension(m, s, sign * np.sign(turn[s]) * torque) for s, sign in (("left", 1.0), ("right", -1.0))
    )
    fl, fr = np.array([0.0, 700.0, 3600.0]), np.array([0.0, 500.0, 2400.0])
    f, plain = beam.forces(m, fl, fr, links), beam.forces(m, fl, fr)
    w, u = m.twist(1.0, -1.0)
    road = sum(
        np.sum(force * (u + np.cross(w, m.point(f"{s}.wheel.centre") - [0, 0, 0.32] - m.place)))
        for s, force in (("left", fl), ("right", fr))
    )
    inner = sum(
        f[f"{s}.spring"] * beam.spring_per_wheel(m, s, roll=True) * way for s, way in (("left", 1.0), ("right", -1.0))
    )
    bar = torque * (abs(turn["left"]) + abs(turn["right"]))
    assert inner + bar == pytest.approx(road, rel=1e-9)
    assert f["left.spring"] < plain["left.spring"] and f["right.spring"] > plain["right.spring"]


def test_the_sheet_gives_a_beam_axle_s_bar() -> None:
    from longlens.systems import registry
    from longlens.systems.given import Given
    from longlens.systems.run import run

    hard = {f"rear.{k}": {"value": list(v), "sd": 0.002, "unit": "m"} for k, v in axle().points.items() if "." not in k}
    for name, p in with_bar().points.items():
        side, _, rest = name.partition(".")
        full = f"{side}.rear.{rest}" if side in ("left", "right") else f"rear.{name}"
        if side != "right":
            hard[full] = {"value": [float(x) for x in p], "sd": 0.002, "unit": "m"}
    inputs = {
        "hardpoints": hard, "mass": {"value": 1100, "unit": "kg"}, "cg_height": {"value": 550, "sd": 10, "unit": "mm"},
        "springs": {"rear": {
            "spring": {"value": 60, "sd": 3, "unit": "N/mm"}, "anti_roll_bar": {"value": 900, "sd": 50, "unit": "N*m/rad"},
        }},
    }  # fmt: skip
    out = run(registry.sheet("suspension"), Given(inputs, draws=200))
    assert 1e3 < out.number("bar_roll_rear").value < 1e5
    torque = out.number("bar_torque_rear")
    names = out.axes["rod_rear"]
    assert "bar_link" in names and "anti_roll_bar.pivot" in out.axes["chassis_point_rear"]
    link = out.number("rod_force_rear").draws[:, names.index("bar_link")]
    cornering = int(np.argmax(np.abs(np.median(torque.draws, axis=0))))
    assert np.all(link[:, cornering] < -100)  # the outer wheel's link, above its arm's end on the axle, is pushed
