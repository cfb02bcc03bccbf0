"""What stands on each wheel: static, braking, cornering, and with downforce; quasi-static, four wheels.

Forces are in vehicle axes at the contact centre, N: x forward, y left, z up, as the road acts on the tyre.
Limits: steady; rigid body; small angles; load transfer split by roll stiffness and roll centres (Barton & Fieldhouse
2018, section 3.8); tyres share an axle's lateral and longitudinal force in proportion to their load.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension.rates import GRAVITY
from longlens.systems.suspension.vectors import Array


@dataclass(frozen=True)
class Car:
    """What the loads need of the car; every field (...) broadcasts. m, kg, N m/rad.

    ``front_share``: of the mass on the front axle at rest; ``roll_share_front``: front share of the total roll
    stiffness; ``brake_share_front``: of the braking force; ``unsprung_*``: of an axle, both wheels.
    """

    mass: ArrayLike
    wheelbase: ArrayLike
    front_share: ArrayLike
    cg_height: ArrayLike
    track_front: ArrayLike
    track_rear: ArrayLike
    roll_share_front: ArrayLike = 0.5
    roll_centre_front: ArrayLike = 0.0
    roll_centre_rear: ArrayLike = 0.0
    brake_share_front: ArrayLike = 0.6
    drive_share_front: ArrayLike = 0.0
    unsprung_front: ArrayLike = 0.0
    unsprung_rear: ArrayLike = 0.0
    unsprung_height: ArrayLike = 0.3


class WheelLoads(NamedTuple):
    """Force on each tyre at its contact centre, (..., 3), N."""

    left_front: Array
    right_front: Array
    left_rear: Array
    right_rear: Array

    def at(self, side: str, end: str) -> Array:
        return np.asarray(getattr(self, f"{side}_{end}"))


def lateral_transfer(car: Car, ay: ArrayLike) -> tuple[Array, Array]:
    """Load moved from the left to the right wheels of front and rear axle by lateral acceleration to the left, N (...).

    Three parts: roll moment by roll-stiffness share, sprung mass's force through the roll centres, unsprung masses.
    """
    moment, ms, sprung_front = _roll_moment(car, ay)
    a = np.asarray(ay, float)
    muf, mur = np.asarray(car.unsprung_front, float), np.asarray(car.unsprung_rear, float)
    rcf, rcr = np.asarray(car.roll_centre_front, float), np.asarray(car.roll_centre_rear, float)
    share, hu = np.asarray(car.roll_share_front, float), np.asarray(car.unsprung_height, float)
    f = (moment * share + ms * sprung_front * a * rcf + muf * a * hu) / np.asarray(car.track_front)
    r = (moment * (1 - share) + ms * (1 - sprung_front) * a * rcr + mur * a * hu) / np.asarray(car.track_rear)
    return f, r


def _roll_moment(car: Car, ay: ArrayLike) -> tuple[Array, Array, Array]:
    """Moment of the sprung mass about the roll axis, N m, to the right with acceleration to the left; that mass, kg;
    its front share."""
    muf, mur = np.asarray(car.unsprung_front, float), np.asarray(car.unsprung_rear, float)
    m = np.asarray(car.mass, float)
    ms = m - muf - mur
    sprung_front = (m * np.asarray(car.front_share, float) - muf) / ms
    h = (m * np.asarray(car.cg_height) - (muf + mur) * np.asarray(car.unsprung_height)) / ms
    axis = np.asarray(car.roll_centre_front) * sprung_front + np.asarray(car.roll_centre_rear) * (1 - sprung_front)
    return ms * np.asarray(ay, float) * (h - axis), ms, sprung_front


def elastic_moment(car: Car, ay: ArrayLike, load: WheelLoads, end: str) -> Array:
    """Part of the roll moment that springs and anti-roll bar of an axle carry, N m (...), signed as ``ay``.

    What the roll centre and the unsprung mass pass on twists nothing. ``load``: the wheels' loads in the same case; where a
    wheel has left the road the springs carry what its twin's load leaves of the moment.
    """
    front = end == "front"
    share = np.asarray(car.roll_share_front, float)
    elastic = _roll_moment(car, ay)[0] * (share if front else 1 - share)
    track = np.asarray(car.track_front if front else car.track_rear, float)
    would = lateral_transfer(car, ay)[0 if front else 1]
    does = 0.5 * (load.at("right", end)[..., 2] - load.at("left", end)[..., 2])
    return elastic + (does - would) * track


def wheel_loads(
    car: Car,
    ax: ArrayLike = 0.0,
    ay: ArrayLike = 0.0,
    downforce_front: ArrayLike = 0.0,
    downforce_rear: ArrayLike = 0.0,
) -> WheelLoads:
    """Forces on the four tyres, N.

    Parameters
    ----------
    ax, ay : acceleration forward and to the left, m/s² (braking: ax < 0).
    downforce_front, downforce_rear : on each axle, N.

    A wheel that would pull on the road is held at zero and its twin carries the axle (limit of steady state: the
    other axle's share is not redistributed).
    """
    m, L, h = (np.asarray(x, float) for x in (car.mass, car.wheelbase, car.cg_height))
    ax_, ay_ = np.asarray(ax, float), np.asarray(ay, float)
    long = m * ax_ * h / L
    axle_f = m * GRAVITY * np.asarray(car.front_share) - long + np.asarray(downforce_front)
    axle_r = m * GRAVITY * (1 - np.asarray(car.front_share)) + long + np.asarray(downforce_rear)
    df, dr = lateral_transfer(car, ay_)
    share = np.where(ax_ < 0, car.brake_share_front, car.drive_share_front)
    out = []
    for axle, d, sx, sy in (
        (axle_f, df, share, np.asarray(car.front_share)),
        (axle_r, dr, 1 - share, 1 - np.asarray(car.front_share)),
    ):
        axle = np.maximum(axle, 0.0)
        for sign in (-1.0, 1.0):  # turning left unloads the left wheel
            z = np.clip(0.5 * axle + sign * d, 0.0, axle)
            with np.errstate(divide="ignore", invalid="ignore"):
                part = np.where(axle > 0, z / np.where(axle > 0, axle, 1.0), 0.5)
            x, y, z = np.broadcast_arrays(m * ax_ * sx * part, m * ay_ * sy * part, z)
            out.append(np.stack([x, y, z], axis=-1))
    return WheelLoads(*out)
