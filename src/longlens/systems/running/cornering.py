"""The lateral limit over speed: each axle with its load transfer, by the roll shares of the suspension.

Source: Milliken and Milliken 1995, ch. 18 (load transfer), ch. 2 (load sensitivity). Limits: steady state, level road, small
angles; roll centres lumped into the roll share; no compliance, no tyre temperatures, perfect driver.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array
from longlens.systems.running.grip import GRAVITY, axle_grip
from longlens.systems.running.straight import Car, areas, dynamic_pressure


@dataclass(frozen=True)
class Sides:
    """What the lateral limit needs beside :class:`~longlens.systems.running.straight.Car`.

    track_front, track_rear : m. roll_share_front : front share of the load moved across. sensitivity : exponent of the
    friction's fall with load.
    """

    track_front: ArrayLike
    track_rear: ArrayLike
    roll_share_front: ArrayLike = 0.5
    sensitivity: ArrayLike = 0.08


def axle_limits(car: Car, sides: Sides, speed: ArrayLike, ay: ArrayLike) -> tuple[Array, Array]:
    """Lateral acceleration that the front and the rear axle could each hold (m/s²) with the loads that ``ay`` makes."""
    q, air = dynamic_pressure(car.density, speed), areas(car, speed)
    m, share, h = np.asarray(car.mass, float), np.asarray(car.front_share), np.asarray(car.cg_height)
    roll = np.asarray(sides.roll_share_front)
    found = []
    for part, lift, moved, track in (
        (share, air.front, roll, sides.track_front),
        (1 - share, air.rear, 1 - roll, sides.track_rear),
    ):
        rest = m * GRAVITY * part
        axle = np.maximum(rest + q * np.asarray(lift), 0.0)
        across = np.minimum(m * np.asarray(ay) * h * moved / np.asarray(track), 0.5 * axle)
        force = axle_grip(car.friction, 0.5 * rest, 0.5 * axle - across, 0.5 * axle + across, sides.sensitivity)
        found.append(force / (m * part))
    return found[0], found[1]


def lateral_limit(car: Car, sides: Sides, speed: ArrayLike, passes: int = 14) -> tuple[Array, Array]:
    """Greatest lateral acceleration (m/s²) and the front axle's surplus over the rear's (1; positive: the rear gives way
    first), by averaged iteration on the loads, which falls within 1e-4 of its limit in the passes given."""
    ay = np.asarray(car.friction) * GRAVITY * np.ones(np.shape(speed))
    front = rear = ay
    for _ in range(passes):
        front, rear = axle_limits(car, sides, speed, ay)
        ay = 0.5 * (ay + np.minimum(front, rear))
    return ay, front / rear - 1.0
