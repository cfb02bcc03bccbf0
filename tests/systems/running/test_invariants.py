"""What must hold for any car: more power is never slower, more grip never longer to stop, scaling, monotony."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.errors import UnusableInput
from longlens.systems.running import straight, track, weights
from longlens.systems.running.brakes import sequence_peak
from longlens.systems.running.cornering import Sides, lateral_limit
from longlens.systems.running.grip import axle_grip
from longlens.systems.running.lap import drive_lap
from longlens.systems.running.straight import speeds_last

positive = st.floats(0.6, 1.6)


def car(**fields):
    base = {
        "mass": 900.0, "front_share": 0.46, "cg_height": 0.35, "wheelbase": 2.5, "friction": 1.2, "power": 200e3,
        "efficiency": 0.9, "drag_area": 0.8, "lift_front": 0.3, "lift_rear": 0.5,
    }  # fmt: skip
    return speeds_last({k: np.atleast_1d(v).astype(float) for k, v in {**base, **fields}.items()})


@settings(max_examples=60, deadline=None)
@given(power=st.floats(30e3, 600e3), more=st.floats(1.0, 1.5), mu=positive, share=st.floats(0.35, 0.65))
def test_more_power_is_never_slower(power, more, mu, share):
    a, b = (car(power=p, friction=mu, front_share=share) for p in (power, power * more))
    assert straight.time_to_speed(b, 25.0) <= straight.time_to_speed(a, 25.0) + 1e-12
    assert straight.top_speed(b) >= straight.top_speed(a)


@settings(max_examples=60, deadline=None)
@given(mu=positive, more=st.floats(1.0, 1.3), speed=st.floats(5, 70))
def test_more_grip_stops_sooner_and_corners_harder(mu, more, speed):
    a, b = car(friction=mu), car(friction=mu * more)
    assert straight.braking_distance(b, speed) <= straight.braking_distance(a, speed)
    sides = Sides(1.5, 1.5, 0.5, 0.1)
    assert lateral_limit(b, sides, speed)[0] >= lateral_limit(a, sides, speed)[0] - 1e-6


@settings(max_examples=60, deadline=None)
@given(left=st.floats(0, 8000), right=st.floats(0, 8000), k=st.floats(0, 0.3))
def test_moving_load_across_never_helps(left, right, k):
    even = axle_grip(1.2, 2500.0, (left + right) / 2, (left + right) / 2, k)
    assert axle_grip(1.2, 2500.0, left, right, k) <= even * (1 + 1e-12) + 1e-9
    assert axle_grip(1.2, 2500.0, left, right, 0.0) == pytest.approx(1.2 * (left + right))


@settings(max_examples=30, deadline=None)
@given(speed=st.floats(1, 80), sensitivity=st.floats(0, 0.2), roll=st.floats(0.2, 0.8))
def test_the_lateral_limit_is_a_fixed_point(speed, sensitivity, roll):
    from longlens.systems.running.cornering import axle_limits

    one, sides = car(), Sides(1.5, 1.45, roll, sensitivity)
    ay, _ = lateral_limit(one, sides, speed)
    front, rear = axle_limits(one, sides, speed, ay)
    assert np.minimum(front, rear) == pytest.approx(ay, rel=2e-4)


@settings(max_examples=40, deadline=None)
@given(rise=st.floats(1, 400), interval=st.floats(1, 1000), tau=st.floats(10, 400))
def test_a_sequence_is_hotter_than_one_stop(rise, interval, tau):
    peak = sequence_peak(rise, interval, tau)
    assert peak >= rise
    # the geometric sum of what is left of every earlier stop
    assert peak == pytest.approx(sum(rise * np.exp(-k * interval / tau) for k in range(40000)), rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(scale=st.floats(0.5, 3.0), mu=positive)
def test_laps_scale_with_the_root_of_size(scale, mu):
    """With friction alone every length times s takes √s the time."""
    point = {"mass": 1.0, "front_share": 0.5, "cg_height": 1e-9, "wheelbase": 2.0, "friction": mu,
             "power": 1e15, "efficiency": 1.0, "drive_front": 0.5, "brake_use": 1.0, "rolling": 0.0, "rotating": 1.0,
                  "drag_area": 0.0}  # fmt: skip
    one = speeds_last({k: np.array([float(v)]) for k, v in point.items()})
    times = []
    for s in (1.0, scale):
        t = track.stadium(30.0 * s, 90.0 * s, 300)
        times.append(drive_lap(one, Sides(1.5, 1.5, 0.5, 0.0), t.curvature, t.step, t.grade, True, 1, 300.0).time[0])
    assert times[1] == pytest.approx(times[0] * np.sqrt(scale), rel=0.01)


def test_a_lap_keeps_every_limit():
    rng = np.random.default_rng(4)
    n = 50
    one = car(mass=rng.normal(900, 30, n), friction=rng.normal(1.2, 0.1, n), power=rng.normal(2e5, 1e4, n))
    sides = Sides(1.5, 1.5, 0.5, 0.08)
    t = track.invented("ring")
    lap = drive_lap(one, sides, t.curvature, t.step, t.grade, True, n)
    limit = np.stack([lateral_limit(one, sides, v[:, None])[0][:, 0] for v in lap.speed.T], axis=1)
    assert np.all(lap.speed**2 * np.abs(t.curvature) <= limit * 1.02)
    ahead = np.roll(lap.speed, -1, axis=1)
    along = (ahead**2 - lap.speed**2) / (2 * t.step)
    most = straight.acceleration(one, lap.speed)
    least = -straight.braking(one, ahead) - 0.2
    assert np.all(along <= most * 1.02 + 0.1)
    assert np.all(along >= least * 1.02)


@settings(max_examples=40, deadline=None)
@given(radius=st.floats(20, 300), turn=st.floats(0, 6.28), dx=st.floats(-500, 500))
def test_curvature_of_a_circle_anywhere(radius, turn, dx):
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False) + turn
    t = track.from_points(radius * np.column_stack([np.cos(angle), np.sin(angle)]) + dx, True)
    assert t.curvature == pytest.approx(1 / radius, rel=0.01)
    assert t.length == pytest.approx(2 * np.pi * radius, rel=0.01)


@pytest.mark.parametrize(
    "points",
    [[[0, 0], [1, 1]], [[0, 0], [0, 0], [5, 5]], [[0, 0], [1, 0], [1, 1]], [[0, 0], [1e9, 0], [0, 1e9]],
     [[0, 0, 0, 0]] * 9, [[0, float("nan")], [9, 9], [90, 0]]],
)  # fmt: skip
def test_bad_centre_lines_are_refused(points):
    with pytest.raises(UnusableInput):
        track.from_points(points, True)


def test_centre_line_file(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("x;y\n# remark\n0;0\n100;0\n100;100\n0;100\n")
    assert track.read_csv(path) == [[0, 0], [100, 0], [100, 100], [0, 100]]
    for bad in ("x,y\n1,2\nq,w\n", "", "1,2\n1,2,3\n", "1\n2\n"):
        path.write_text(bad)
        with pytest.raises(UnusableInput):
            track.read_csv(path)


def test_mass_bounds_and_payload():
    assert weights.load_of_index(91) == pytest.approx(615 * 9.80665, rel=0.01)  # ETRTO: 91 is 615 kg
    assert np.isnan(weights.load_of_index(30))
    assert weights.mass_from_tyres(5000.0, 5000.0, 0.5) == pytest.approx(1019.7, abs=0.1)
    mass, front = weights.with_payload(1000.0, 0.5, 0.0, 1.0, 2.5)
    assert (mass, front) == (1000.0, 0.5)
    mass, front = weights.with_payload(1000.0, 0.5, 100.0, 1.25, 2.5)
    assert front == pytest.approx(0.5)
    summed = weights.sum_parts([300.0, 500.0], [0.0, 2.0])
    assert summed.mass == 800 and summed.behind == pytest.approx(1.25)
