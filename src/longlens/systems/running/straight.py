"""In a straight line: tractive force, acceleration, top speed, braking; with lift and drag.

Sources: Gillespie, Fundamentals of Vehicle Dynamics, 1992, ch. 2 and 3 (power- and traction-limited acceleration, rotating
masses, braking); Wong, Theory of Ground Vehicles. Limits: level road unless a grade is given, still air, rigid car, steady load
transfer; no wheel spin beyond the peak, no controls.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array
from longlens.systems.running.grip import GRAVITY


@dataclass(frozen=True)
class AirOver:
    """How the air's areas change with speed, because the car sinks: factors (N, S) on drag and lift areas over speeds (S,),
    m/s."""

    speed: Array
    drag: Array
    front: Array
    rear: Array

    def at(self, factor: Array, speed: ArrayLike) -> Array:
        """(N, V) of a factor at speeds (V,), (N, 1) or (N, V): linear, held at both ends."""
        v = np.atleast_2d(np.asarray(speed, float))
        x = np.clip(np.interp(v, self.speed, np.arange(self.speed.size)), 0, self.speed.size - 1 - 1e-9)
        i = np.broadcast_to(x.astype(np.intp), (factor.shape[0], v.shape[1]))
        low, high = np.take_along_axis(factor, i, 1), np.take_along_axis(factor, i + 1, 1)
        return low + (x - i) * (high - low)


@dataclass(frozen=True)
class Car:
    """What a straight line needs of the car; SI; fields broadcast, draws first, with a last axis of one for speeds.

    mass : with driver, kg. rotating : effective over true mass (1.03 to 1.15). front_share : of the weight at rest.
    cg_height, wheelbase : m. friction : peak, of the tyres. power : at the shaft, W. efficiency : shaft to wheels.
    base_force : greatest force at the wheels by torque, N (inf: none known). power_use : share of the peak power that the
    gears let the engine give on average (1: electric). drive_front : front share of the driving force.
    brake_use : share of the friction that a driver or the controls reach. rolling : coefficient.
    drag_area : C_D A, m². lift_front, lift_rear : C_L A of each axle, m², downforce positive. density : air, kg/m³.
    air_over : how these areas change with speed; None: they do not.
    """

    mass: ArrayLike
    front_share: ArrayLike
    cg_height: ArrayLike
    wheelbase: ArrayLike
    friction: ArrayLike
    power: ArrayLike
    efficiency: ArrayLike = 0.9
    base_force: ArrayLike = np.inf
    power_use: ArrayLike = 1.0
    drive_front: ArrayLike = 0.0
    brake_use: ArrayLike = 0.95
    rolling: ArrayLike = 0.013
    rotating: ArrayLike = 1.05
    drag_area: ArrayLike = 0.7
    lift_front: ArrayLike = 0.0
    lift_rear: ArrayLike = 0.0
    density: ArrayLike = 1.2
    air_over: AirOver | None = None


def _a(x: ArrayLike) -> Array:
    return np.asarray(x, float)


class Areas(NamedTuple):
    """Drag area and lift areas of both axles, m²."""

    drag: Array
    front: Array
    rear: Array


def areas(car: Car, speed: ArrayLike) -> Areas:
    """What the air has to press on at a speed (m/s)."""
    plain = Areas(_a(car.drag_area), _a(car.lift_front), _a(car.lift_rear))
    over = car.air_over
    if over is None:
        return plain
    return Areas(*(x * over.at(f, speed) for x, f in zip(plain, (over.drag, over.front, over.rear), strict=True)))


def dynamic_pressure(density: ArrayLike, speed: ArrayLike) -> Array:
    """½ ρ v², Pa."""
    return 0.5 * _a(density) * _a(speed) ** 2


def resistance(car: Car, speed: ArrayLike) -> Array:
    """Drag and rolling resistance, N."""
    q, air = dynamic_pressure(car.density, speed), areas(car, speed)
    load = _a(car.mass) * GRAVITY + q * (air.front + air.rear)
    return q * air.drag + _a(car.rolling) * load


def traction(car: Car, speed: ArrayLike) -> Array:
    """Greatest driving force by the tyres (N), with the load that driving moves to the rear and the air's.

    An axle with share s of the force F holds s F ≤ μ (W ∓ F h/L). The weaker axle sets it; front wheels that would leave the
    road set it too.
    """
    q, air = dynamic_pressure(car.density, speed), areas(car, speed)
    weight = _a(car.mass) * GRAVITY
    front = weight * _a(car.front_share) + q * air.front
    rear = weight * (1 - _a(car.front_share)) + q * air.rear
    mu, arm, s = _a(car.friction), _a(car.cg_height) / _a(car.wheelbase), _a(car.drive_front)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_front = np.where(s > 0, mu * front / (s + mu * arm), np.inf)
        left = (1 - s) - mu * arm
        by_rear = np.where((s < 1) & (left > 0), mu * rear / np.where(left > 0, left, 1.0), np.inf)
    lifting = front / arm
    return np.maximum(np.minimum(np.minimum(by_front, by_rear), lifting), 0.0)


def drive_force(car: Car, speed: ArrayLike) -> Array:
    """Driving force that the power and the torque allow (N), whatever the tyres hold."""
    v = np.maximum(_a(speed), 0.1)
    return np.minimum(_a(car.power) * _a(car.power_use) * _a(car.efficiency) / v, _a(car.base_force))


def acceleration(car: Car, speed: ArrayLike, grade: ArrayLike = 0.0) -> Array:
    """Greatest acceleration at full power (m/s²); ``grade`` is the slope's sine."""
    force = np.minimum(drive_force(car, speed), traction(car, speed)) - resistance(car, speed)
    return (force / _a(car.mass) - GRAVITY * _a(grade)) / _a(car.rotating)


def braking(car: Car, speed: ArrayLike, grade: ArrayLike = 0.0) -> Array:
    """Greatest deceleration (m/s², positive) with all wheels near their peak and the air's help."""
    q, air = dynamic_pressure(car.density, speed), areas(car, speed)
    load = _a(car.mass) * GRAVITY + q * (air.front + air.rear)
    force = _a(car.friction) * _a(car.brake_use) * load + q * air.drag
    return force / _a(car.mass) + GRAVITY * _a(grade)


def time_to_speed(car: Car, to: float, shifts: ArrayLike = 0.0, delay: ArrayLike = 0.0, points: int = 90) -> Array:
    """Time from rest to a speed (s): ∫ dv/a by Simpson's rule, plus ``shifts`` (s without drive) and ``delay``.

    NaN where the car does not reach the speed. ``car``'s fields end in an axis of one, (..., 1); the result has shape (...).
    """
    n = points + points % 2
    v = np.linspace(0.0, to, n + 1)
    a = acceleration(car, v)
    with np.errstate(divide="ignore"):
        rate = 1.0 / a
    weights = np.ones(n + 1)
    weights[1:-1:2], weights[2:-1:2] = 4.0, 2.0
    time = np.sum(rate * weights, axis=-1) * (to / n) / 3
    reached = np.all(a > 0, axis=-1)
    return np.where(reached, time, np.nan) + _a(shifts) + _a(delay)


def top_speed(car: Car, highest: float = 150.0) -> Array:
    """Speed at which the full power is used up by drag and rolling (m/s): bisection of the surplus power.

    Not limited by gears, engine speed, tyres or controls. In top gear the whole peak power is taken (``power_use`` 1): a
    maker gears a car for it, or the speed is lower. Result (..., 1) like the car's fields.
    """
    power = _a(car.power) * _a(car.efficiency)
    low = np.zeros(np.broadcast_shapes(np.shape(power), np.shape(resistance(car, 1.0))))
    high = np.full(low.shape, highest)
    for _ in range(40):
        middle = 0.5 * (low + high)
        surplus = power - resistance(car, middle) * middle
        low, high = np.where(surplus > 0, middle, low), np.where(surplus > 0, high, middle)
    return np.where(high >= highest - 1e-6, np.nan, 0.5 * (low + high))


def braking_distance(car: Car, speed: float, points: int = 40) -> Array:
    """Way from a speed to rest (m): ∫ v/a dv by Simpson's rule, without reaction time."""
    n = points + points % 2
    v = np.linspace(0.0, speed, n + 1)
    weights = np.ones(n + 1)
    weights[1:-1:2], weights[2:-1:2] = 4.0, 2.0
    return np.sum(v / braking(car, v) * weights, axis=-1) * (speed / n) / 3


def wheel_shares(car: Car, ax: ArrayLike, speed: ArrayLike) -> Array:
    """Front share of the load (1) at a longitudinal acceleration (m/s², forward positive) and speed."""
    q, air = dynamic_pressure(car.density, speed), areas(car, speed)
    weight = _a(car.mass) * GRAVITY
    moved = _a(car.mass) * _a(ax) * _a(car.cg_height) / _a(car.wheelbase)
    front = weight * _a(car.front_share) + q * air.front - moved
    return np.asarray(front / (weight + q * (air.front + air.rear)))


def speeds_last(fields: dict[str, Any], air_over: AirOver | None = None) -> Car:
    """A car from plain draws (N,), each given a last axis of one for speeds."""
    return Car(**{name: _a(x)[..., None] for name, x in fields.items()}, air_over=air_over)
