"""Ride height against load: the air presses the car down, and nearer the road the air presses otherwise.

Source: equilibrium of springs and air, any text on vehicle dynamics. Limits: steady; linear springs and tyres; no bump stops.
Where pressing down wins more force than the springs give back there is no steady height; it is told, and the height is held at
its least.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array


class Settled(NamedTuple):
    """Drop of front and rear axle (m), downforce on each (N), and where no steady height was found."""

    front: Array
    rear: Array
    force_front: Array
    force_rear: Array
    restless: Array


def axle_rate(wheel_rate: ArrayLike, heave_rate: ArrayLike, tyre_rate: ArrayLike) -> Array:
    """Rate of an axle in heave (N/m): two wheel rates with the heave element, in series with two tyres."""
    body = 2 * np.asarray(wheel_rate, float) + np.asarray(heave_rate)
    tyres = 2 * np.asarray(tyre_rate, float)
    return body * tyres / (body + tyres)


def settle(
    force: Callable[[Array, Array], tuple[Array, Array]],
    rate_front: Array,
    rate_rear: Array,
    most_front: Array,
    most_rear: Array,
    passes: int = 24,
) -> Settled:
    """Drops at which springs and air balance, by damped iteration from rest.

    Parameters
    ----------
    force : drops (...) → downforce on front and rear axle (N).
    rate_front, rate_rear : N/m. most_front, most_rear : drops at which the car is held (it touches the road), m.
    """
    front = np.zeros(np.broadcast_shapes(np.shape(rate_front), np.shape(most_front)))
    rear = np.zeros_like(front)
    moved = np.full(front.shape, np.inf)
    for k in range(passes):
        one, two = force(front, rear)
        f = np.clip(one / rate_front, -0.05, most_front)
        r = np.clip(two / rate_rear, -0.05, most_rear)
        damping = 0.6 if k < 12 else 0.35
        moved = np.maximum(np.abs(f - front), np.abs(r - rear))
        front, rear = front + damping * (f - front), rear + damping * (r - rear)
    one, two = force(front, rear)
    return Settled(front, rear, one, two, np.asarray(moved > 5e-4, float))
