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
