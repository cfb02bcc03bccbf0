"""Straight line, braking and laps against closed forms of the physics texts; the air against ISO 2533.

Braking distance d = v²/(2 μ g) (any physics text, e.g. Halliday, Resnick and Walker); with drag d = m/(2k) ln(1 + k v²/(μ m g)),
constant power t = m v²/(2 P) (Gillespie 1992, ch. 2); circle and stadium by hand.
"""

import numpy as np
import pytest

from longlens.systems.cooling.air import standard_atmosphere
from longlens.systems.running import brakes, straight, track
from longlens.systems.running.cornering import Sides, lateral_limit
from longlens.systems.running.gears import speed_at
from longlens.systems.running.lap import drive_lap
from longlens.systems.running.straight import speeds_last

G = 9.80665
POINT = {
    "mass": 1000.0, "front_share": 0.5, "cg_height": 1e-9, "wheelbase": 2.6, "friction": 1.0, "power": 1e12, "efficiency": 1.0,
    "drive_front": 0.5, "brake_use": 1.0, "rolling": 0.0, "rotating": 1.0, "drag_area": 0.0,
}  # fmt: skip


def car(**change):
    return speeds_last({k: np.array([v]) for k, v in {**POINT, **change}.items()})


FLAT = Sides(1.5, 1.5, 0.5, 0.0)


def test_braking_distance_without_drag():
    """100 km/h, μ 0.8: 49.2 m."""
    d = straight.braking_distance(car(friction=0.8), 100 / 3.6)[0]
    assert d == pytest.approx((100 / 3.6) ** 2 / (2 * 0.8 * G), rel=1e-9)
    assert d == pytest.approx(49.2, abs=0.05)


def test_braking_distance_with_drag():
    k = 0.5 * 1.2 * 0.9
    d = straight.braking_distance(car(drag_area=0.9), 60.0)[0]
    assert d == pytest.approx(1000 / (2 * k) * np.log1p(k * 3600 / (1000 * G)), rel=1e-6)


def test_time_at_constant_power():
    """m v²/(2 P) once tyres and torque allow it; 1 s longer per second of shifts."""
    v0, v1, P = 20.0, 60.0, 100e3
    whole = straight.time_to_speed(car(power=P, friction=50.0), v1, points=4000)[0]
    low = straight.time_to_speed(car(power=P, friction=50.0), v0, points=4000)[0]
    assert whole - low == pytest.approx(1000 * (v1**2 - v0**2) / (2 * P), rel=1e-4)


def test_top_speed_is_the_cube_root():
    """P = ½ ρ C_D A v³ with no rolling resistance."""
    v = straight.top_speed(car(power=200e3, drag_area=0.7))[0, 0]
    assert v == pytest.approx((2 * 200e3 / (1.2 * 0.7)) ** (1 / 3), rel=1e-9)


def test_traction_of_one_driven_axle():
    """Gillespie 1992, eq. 2-17 form for rear drive: F = μ W b/L / (1 − μ h/L); front drive: μ W c/L / (1 + μ h/L)."""
    for driven, want in ((0.0, 0.9 * 0.46 / (1 - 0.9 * 0.2)), (1.0, 0.9 * 0.54 / (1 + 0.9 * 0.2))):
        one = car(friction=0.9, front_share=0.54, cg_height=0.52, drive_front=driven)
        assert straight.traction(one, 0.0)[0, 0] == pytest.approx(want * 1000 * G, rel=1e-9)


def test_lap_of_a_circle():
    """v = √(μ g R): time 2π √(R/(μ g))."""
    t = track.circle(60.0, 400)
    lap = drive_lap(car(), FLAT, t.curvature, t.step, t.grade, True, 1)
    assert lap.time[0] == pytest.approx(2 * np.pi * np.sqrt(60 / G), rel=2e-4)
    assert np.ptp(lap.speed) < 1e-6


def test_lap_of_a_circle_with_downforce():
    """m v²/R = μ (m g + ½ ρ C_L A v²), solved for v."""
    t = track.circle(100.0, 400)
    one = car(lift_front=1.0, lift_rear=1.0, front_share=0.5)
    lap = drive_lap(one, FLAT, t.curvature, t.step, t.grade, True, 1)
    v = np.sqrt(1000 * G / (1000 / 100 - 0.5 * 1.2 * 2.0))
    assert lap.speed.mean() == pytest.approx(v, rel=2e-3)


def test_lap_of_a_stadium():
    """Half circles at √(μ g R); straights: drive at μ g to the middle, brake at μ g: v² = v₀² + μ g L."""
    R, L = 50.0, 300.0
    t = track.stadium(R, L, 2000)
    lap = drive_lap(car(), FLAT, t.curvature, t.step, t.grade, True, 1)
    v0 = np.sqrt(G * R)
    peak = np.sqrt(v0**2 + G * L)
    assert lap.time[0] == pytest.approx(2 * np.pi * R / v0 + 2 * 2 * (peak - v0) / G, rel=3e-3)
    assert lap.speed.max() == pytest.approx(peak, rel=5e-3)
    # what the brakes take is what the straight's second half takes off
    assert lap.brake[0] == pytest.approx(2 * 1000 * (peak**2 - v0**2) / 2, rel=0.02)


def test_a_climb_from_rest_is_free_fall_turned_round():
    """A straight slope with sine s at full friction: a = μ g − g s."""
    way = np.linspace(0, 400, 801)
    points = np.column_stack([way * np.sqrt(1 - 0.1**2), 0 * way, way * 0.1])
    t = track.from_points(points, False, station=0.5)
    lap = drive_lap(car(friction=0.8), FLAT, t.curvature, t.step, t.grade, False, 1)
    assert lap.time[0] == pytest.approx(np.sqrt(2 * 400 / (0.7 * G)), rel=0.01)


def test_lateral_limit_without_load_sensitivity_is_friction():
    ay, surplus = lateral_limit(car(friction=1.1, cg_height=0.4), FLAT, np.array([0.0, 50.0]))
    assert ay == pytest.approx(1.1 * G, rel=1e-4)
    assert surplus == pytest.approx(0.0, abs=1e-9)


def test_stop_energy_and_rise():
    """1,500 kg from 100 km/h: 579 kJ; 10 kg of iron at 500 J/kg K per front disc with 70 %: 40.5 K."""
    E = brakes.stop_energy(1500.0, 100 / 3.6)
    assert pytest.approx(578.7e3, rel=1e-3) == E
    assert brakes.stop_rise(E, 0.7, 10.0, 500.0) == pytest.approx(40.5, abs=0.1)


def test_speed_in_gear():
    """7,000 1/min, overall ratio 3.5, rolling radius 0.31 m: 64.9 m/s."""
    assert speed_at(7000 * np.pi / 30, 3.5, 0.31) == pytest.approx(64.93, abs=0.01)


def test_air_of_iso_2533():
    """ISO 2533: 1.225 kg/m³ at sea level, 1.1117 kg/m³ at 1,000 m, 0.7364 kg/m³ at 5,000 m."""
    for height, density in ((0.0, 1.2250), (1000.0, 1.1117), (5000.0, 0.7364)):
        assert standard_atmosphere(height).density == pytest.approx(density, abs=6e-5)
