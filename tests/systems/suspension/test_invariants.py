"""What must hold whatever the linkage: mirror, rotation, scale, virtual work, energy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from longlens.systems.suspension import forces, geometry, ratios
from longlens.systems.suspension.axes import mirror
from longlens.systems.suspension.axle import axle
from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.kinematics import Motion, solve
from longlens.systems.suspension.newton import rotation
from longlens.systems.suspension.velocity import twists
from tests.systems.suspension.cars import corner, random_corner

LAYOUTS = ["double_wishbone", "strut", "five_link"]
seeds = st.integers(0, 10_000)
few = settings(max_examples=15, deadline=None)


def sound(seed: int, layout: str, travel: object, rack: object = 0.0, rocker: bool = False) -> Motion:
    """The first random corner from this seed that reaches all positions."""
    rng = np.random.default_rng(seed)
    while True:
        m = solve(random_corner(rng, layout, rocker=rocker), travel, rack)  # type: ignore[arg-type]
        if m.reached.all():
            return m


@pytest.mark.parametrize("layout", LAYOUTS)
@given(seed=seeds, travel=st.floats(-0.05, 0.05), rack=st.floats(-0.02, 0.02))
@few
def test_rods_keep_their_lengths_and_the_upright_its_shape(layout: str, seed: int, travel: float, rack: float) -> None:
    m = sound(seed, layout, travel, rack)
    now = {name: np.linalg.norm(m.point(b) - m.point(a)) for name, a, b in _links(m)}
    for name, a, b in _links(m):
        assert now[name] == pytest.approx(np.linalg.norm(m.corner.points[b] - m.corner.points[a]), abs=1e-12)
    out = [b for _, _, b in _links(m)] + ["wheel.centre"]
    for a in out:
        for b in out:
            was = np.linalg.norm(m.corner.points[a] - m.corner.points[b])
            assert np.linalg.norm(m.point(a) - m.point(b)) == pytest.approx(was, abs=1e-12)
    assert m.point("wheel.centre")[2] == pytest.approx(m.corner.points["wheel.centre"][2] + travel, abs=2e-12)


def _links(m: Motion) -> tuple[tuple[str, str, str], ...]:
    from longlens.systems.suspension.corner import LINKS

    return LINKS[m.corner.layout]


@pytest.mark.parametrize("layout", LAYOUTS)
@given(seed=seeds, travel=st.floats(-0.04, 0.04), rack=st.floats(-0.02, 0.02))
@few
def test_the_mirror_image_moves_as_the_mirror_image(layout: str, seed: int, travel: float, rack: float) -> None:
    m = sound(seed, layout, travel, rack)
    other = solve(m.corner.reflected(), travel, -rack)
    for name in m.corner.points:
        assert np.allclose(mirror(other.point(name)), m.point(name), atol=1e-11)


@pytest.mark.parametrize("layout", LAYOUTS)
@given(seed=seeds, angle=st.floats(-3, 3), travel=st.floats(-0.04, 0.04))
@few
def test_turned_about_the_vertical_it_moves_alike(layout: str, seed: int, angle: float, travel: float) -> None:
    m = sound(seed, layout, travel)
    R = rotation(np.array([0.0, 0.0, angle]))
    c = m.corner
    turned = solve(Corner(c.layout, {k: R @ p for k, p in c.points.items()}, R @ c.spin, c.radius), travel)
    for name in c.points:
        assert np.allclose(turned.point(name), R @ m.point(name), atol=1e-11)
    assert geometry.camber(turned) == pytest.approx(geometry.camber(m), abs=1e-11)


@pytest.mark.parametrize("layout", LAYOUTS)
@given(seed=seeds, size=st.floats(0.3, 3), travel=st.floats(-0.04, 0.04))
@few
def test_twice_as_large_moves_twice_as_far(layout: str, seed: int, size: float, travel: float) -> None:
    m = sound(seed, layout, travel)
    c = m.corner
    larger = Corner(c.layout, {k: size * p for k, p in c.points.items()}, c.spin, size * c.radius)
    big = solve(larger, size * travel)
    for name in c.points:
        assert np.allclose(big.point(name), size * m.point(name), atol=1e-11)
    t, tb = twists(m)[0], twists(big)[0]
    assert geometry.roll_centre_height(big, tb) == pytest.approx(size * geometry.roll_centre_height(m, t), rel=1e-6)
    assert np.allclose(tb.omega * size, t.omega, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize("layout", LAYOUTS)
@given(seed=seeds, travel=st.floats(-0.04, 0.04))
@example(seed=2000, travel=0.0)  # close to a toggle
@few
def test_exact_rates_are_the_slopes_of_positions(layout: str, seed: int, travel: float) -> None:
    m = sound(seed, layout, travel)
    by_travel, by_rack = twists(m)
    for twist, ahead in ((by_travel, (1.0, 0.0)), (by_rack, (0.0, 1.0))):
        # Near a toggle the upright turns fast: the step shrinks with it, else the difference is of another position.
        size = max(1.0, float(np.linalg.norm(twist.omega)))
        h = 1e-5 / size
        for name in ("track_rod.outer", "wheel.centre"):
            there, back = (solve(m.corner, travel + k * h * ahead[0], k * h * ahead[1]).point(name) for k in (1, -1))
            slope = (there - back) / (2 * h)
            assert np.allclose(twist.of(name), slope, rtol=2e-5, atol=2e-6 * size)


@given(seed=seeds, travel=st.floats(-0.03, 0.03))
@few
def test_the_motion_ratio_is_the_ratio_of_forces(seed: int, travel: float) -> None:
    """Virtual work: a spring that moves i times as far as the wheel carries the wheel's load over i."""
    m = sound(seed, "double_wishbone", travel, rocker=True)
    t = twists(m)[0]
    inside = forces.corner_forces(m, np.array([0.0, 0.0, 3000.0]))
    assert inside.spring is not None
    rise = t.at(geometry.contact(m))[2]
    assert inside.spring * ratios.spring_per_wheel(t) == pytest.approx(3000.0 * rise, rel=1e-9)


@pytest.mark.parametrize(
    ("layout", "mounts", "spring"),
    [
        ("strut", {}, {}),
        (
            "strut",
            {"spring": "lower_wishbone"},
            {"spring.outer": (-0.05, 0.6, 0.18), "spring.inner": (-0.05, 0.5, 0.5)},
        ),
        ("five_link", {}, {"spring.outer": (0.0, 0.65, 0.2), "spring.inner": (0.0, 0.5, 0.6)}),
        (
            "double_wishbone",
            {"spring": "upper_wishbone"},
            {"spring.outer": (0, 0.55, 0.38), "spring.inner": (0, 0.4, 0.8)},
        ),
        ("double_wishbone", {"spring": "upright"}, {"spring.outer": (0, 0.65, 0.2), "spring.inner": (0, 0.45, 0.6)}),
    ],
)
def test_forces_balance_and_do_the_work_of_the_road(
    layout: str, mounts: dict[str, str], spring: dict[str, tuple[float, float, float]]
) -> None:
    base = corner(layout)
    c = Corner(base.layout, base.points | {k: np.array(p) for k, p in spring.items()}, base.spin, base.radius, mounts)  # type: ignore[arg-type]
    m = solve(c, np.linspace(-0.04, 0.04, 9))
    road = np.array([-1500.0, 900.0, 4000.0])
    inside = forces.corner_forces(m, road)
    assert inside.spring is not None
    assert np.allclose(sum(inside.on_chassis.values()), road, atol=1e-6)
    moment = sum(np.cross(m.point(k), f) for k, f in inside.on_chassis.items())
    assert np.allclose(moment, np.cross(geometry.contact(m), road), atol=1e-6)
    t = twists(m)[0]
    work = np.sum(t.at(geometry.contact(m)) * road, axis=-1)
    assert np.allclose(inside.spring * ratios.spring_per_wheel(t), work, rtol=1e-9)


def test_the_rocker_too_is_in_balance() -> None:
    m = solve(corner(rocker=True), np.linspace(-0.04, 0.04, 9))
    road = np.array([-1500.0, 900.0, 4000.0])
    inside = forces.corner_forces(m, road, bar_link=400.0, heave=700.0)
    # the heave element pulls on its twin, not on the chassis; the bar's link comes back through the bar's bearing
    link = 400.0 * _unit(m.point("bar_link.inner") - m.point("bar_link.outer"))
    heave = np.array([0.0, 700.0, 0.0])
    total = sum(inside.on_chassis.values())
    assert np.allclose(total, road + heave, atol=1e-6)
    moment = sum(np.cross(m.point(k), f) for k, f in inside.on_chassis.items() if k != "rocker.pivot")
    about = m.point("rocker.pivot")
    axis = np.array([1.0, 0.0, 0.0])
    spring, rod = inside.spring, inside.tension["pushrod"]
    assert spring is not None
    pulls = (
        np.cross(
            m.point("pushrod.inner") - about, rod[:, None] * _unit(m.point("pushrod.outer") - m.point("pushrod.inner"))
        )
        + np.cross(
            m.point("spring.outer") - about, spring[:, None] * _unit(m.point("spring.outer") - m.point("spring.inner"))
        )
        + np.cross(m.point("bar_link.outer") - about, link)
        + np.cross(m.point("heave.outer") - about, heave)
    )
    assert np.allclose(pulls @ axis, 0.0, atol=1e-6)
    assert np.all(np.isfinite(moment))


def _unit(v: np.ndarray) -> np.ndarray:
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def test_the_springs_energy_is_the_work_at_the_wheel() -> None:
    """∫ F dz over the travel equals the change of ½ k x² of spring, torsion bar, anti-roll bar and heave element."""
    k, kt, kb, kh = 80e3, 900.0, 400.0, 120e3
    x, w = np.polynomial.legendre.leggauss(24)
    z0, z1 = -0.03, 0.035
    z = 0.5 * (z1 + z0) + 0.5 * (z1 - z0) * x
    c = corner(rocker=True)
    ends, m = solve(c, np.array([z0, z1])), solve(c, z)
    t = twists(m)[0]
    still = ratios.spring_length(solve(c))
    height = 2 * np.abs(solve(c).point("heave.outer")[1])
    force = (
        k * (still - ratios.spring_length(m)) * ratios.spring_per_wheel(t)
        + kt * m.angles["rocker"] * ratios.rocker_per_wheel(t)
        + kb * m.angles["bar"] * ratios.bar_arm_per_wheel(t)
        + kh * (height - 2 * np.abs(m.point("heave.outer")[:, 1])) * ratios.heave_per_wheel(t)
    )
    work = 0.5 * (z1 - z0) * np.sum(w * force)
    energy = (
        0.5 * k * (still - ratios.spring_length(ends)) ** 2
        + 0.5 * kt * ends.angles["rocker"] ** 2
        + 0.5 * kb * ends.angles["bar"] ** 2
        + 0.5 * kh * (height - 2 * np.abs(ends.point("heave.outer")[:, 1])) ** 2
    )
    assert work == pytest.approx(energy[1] - energy[0], rel=1e-9)


def test_a_rolled_axle_is_the_mirror_of_one_rolled_the_other_way() -> None:
    a = axle(corner(), 0.01, np.radians([-3.0, 3.0]), np.array([0.006, -0.006]))
    assert a.camber[0][0] == pytest.approx(a.camber[1][1], abs=1e-12)
    assert a.steer[0][0] == pytest.approx(-a.steer[1][1], abs=1e-12)
    left, right = a.contacts
    for c in (left, right):  # both stand on the ground plane, which passes 10 mm higher on the centre line
        ground = geometry.contact(solve(corner()))[2] + 0.01
        assert np.allclose(np.sum(c * a.normal, axis=-1), ground * a.normal[:, 2], atol=1e-7)


def test_roll_centre_of_parallel_and_equal_wishbones_is_on_the_ground() -> None:
    """Parallel equal arms: the wheel moves without turning, on a circle: at mid travel straight up."""
    points = {
        "upper_wishbone.front_inner": (0.2, 0.3, 0.4), "upper_wishbone.rear_inner": (-0.2, 0.3, 0.4),
        "upper_wishbone.outer": (0.0, 0.7, 0.4),
        "lower_wishbone.front_inner": (0.2, 0.3, 0.15), "lower_wishbone.rear_inner": (-0.2, 0.3, 0.15),
        "lower_wishbone.outer": (0.0, 0.7, 0.15),
        "track_rod.inner": (0.1, 0.3, 0.2), "track_rod.outer": (0.1, 0.7, 0.2), "wheel.centre": (0.0, 0.75, 0.3),
    }  # fmt: skip
    c = Corner("double_wishbone", {k: np.array(p) for k, p in points.items()}, np.array([0, 1.0, 0]), np.array(0.3))
    m = solve(c, np.array([0.0, 0.04]))
    t = twists(m)[0]
    assert geometry.roll_centre_height(m, t)[0] == pytest.approx(0.0, abs=1e-12)
    assert np.allclose(geometry.camber(m), 0.0, atol=1e-12)
    # the circle has the arm's radius: dy/dz = −z/√(r² − z²)
    assert geometry.roll_centre_height(m, t)[1] == pytest.approx(
        geometry.contact(m)[1, 1] * -0.04 / np.sqrt(0.4**2 - 0.04**2), rel=1e-9
    )
    assert np.all(np.isnan(geometry.screw(t)[0][0]))


@given(seed=seeds)
@few
def test_swing_arms_end_where_the_upright_stands_still_in_their_view(seed: int) -> None:
    """In the front view the point one arm inboard, in the side view one arm behind, has no velocity up or down."""
    from longlens.systems.suspension.figures import _front_swing_arm, _side_swing_arm

    m = sound(seed, "double_wishbone", 0.0)
    t = twists(m)[0]
    at = geometry.contact(m)
    for arm, turn, axis in ((_front_swing_arm(at, t), 0, 1), (_side_swing_arm(at, t), 1, 0)):
        there = at.copy()
        there[axis] -= arm
        only = np.zeros(3)
        only[turn] = t.omega[turn]
        assert (t.at(at) + np.cross(only, there - at))[2] == pytest.approx(0.0, abs=1e-9)
