"""Ride height against load: the air presses the car down, and nearer the road the air presses otherwise.

Source: equilibrium of springs and air, any text on vehicle dynamics. Springs are straight lines, or the suspension's own curve
of force over wheel travel up to its bump stops. Limits: steady; linear tyres; bump stops ten times as stiff as the springs
before them. Where pressing down wins more force than the springs give back there is no steady height; it is told, and the
height is held at its least.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array

#: Rate of a bump stop over that of the springs where it begins: common practice, no source.
STOP = 10.0
#: A height is settled when a pass moves it by less than this, m; where it still moves by RESTLESS there is none.
SETTLED, RESTLESS = 1e-6, 5e-4


class Settled(NamedTuple):
    """Drop of front and rear axle (m), downforce on each (N), where no steady height was found, and by how much springs and air
    still disagree (m; the larger of both axles)."""

    front: Array
    rear: Array
    force_front: Array
    force_rear: Array
    restless: Array
    left: Array


def axle_rate(wheel_rate: ArrayLike, heave_rate: ArrayLike, tyre_rate: ArrayLike) -> Array:
    """Rate of an axle in heave (N/m): two wheel rates with the heave element, in series with two tyres."""
    body = 2 * np.asarray(wheel_rate, float) + np.asarray(heave_rate)
    tyres = 2 * np.asarray(tyre_rate, float)
    return body * tyres / (body + tyres)


class Springs(Protocol):
    """What holds an axle up."""

    def drop(self, load: Array) -> Array:
        """Drop of the body over the road (m) under a load (N) of shape (N, V)."""

    def stopped(self, load: Array) -> np.ndarray:
        """True where the wheels have used up their bump travel."""


@dataclass(frozen=True)
class Straight:
    """An axle of one rate with its tyres, N/m (N, 1)."""

    rate: Array

    def drop(self, load: Array) -> Array:
        return load / self.rate

    def stopped(self, load: Array) -> np.ndarray:
        return np.zeros(load.shape, bool)


@dataclass(frozen=True)
class Curve:
    """An axle by its force (N, M) over wheel travel (M,) from rest, rising, N and m; and both tyres' rate (N, 1), N/m."""

    travel: Array
    force: Array
    tyres: Array

    def wheel_travel(self, load: Array) -> Array:
        """Travel (N, V) under a load; beyond bump the stop gives, below rebound the last slope goes on."""
        f, z = self.force, self.travel
        k = np.clip(np.sum(f[:, :, None] <= load[:, None, :], axis=1), 1, len(z) - 1)
        low, high = np.take_along_axis(f, k - 1, 1), np.take_along_axis(f, k, 1)
        at = z[k - 1] + (load - low) / np.maximum(high - low, 1e-9) * (z[k] - z[k - 1])
        last = (f[:, -1:] - f[:, -2:-1]) / (z[-1] - z[-2])
        return np.where(load > f[:, -1:], z[-1] + (load - f[:, -1:]) / (STOP * np.maximum(last, 1e3)), at)

    def drop(self, load: Array) -> Array:
        return self.wheel_travel(load) + load / self.tyres

    def stopped(self, load: Array) -> np.ndarray:
        return np.asarray(load > self.force[:, -1:])


def settle(
    force: Callable[[Array, Array], tuple[Array, Array]],
    front_springs: Springs,
    rear_springs: Springs,
    most_front: Array,
    most_rear: Array,
    shape: tuple[int, ...],
    passes: int = 48,
) -> Settled:
    """Drops at which springs and air balance, by damped iteration from rest.

    Parameters
    ----------
    force : drops (...) → downforce on front and rear axle (N).
    front_springs, rear_springs : load → drop. most_front, most_rear : drops at which the car is held (it touches the road), m.
    shape : of the answer, (N, V).

    It ends when no draw moves by more than :data:`SETTLED` in a pass; draws that do after all passes are told by ``left``.
    """
    front, rear = np.zeros(shape), np.zeros(shape)
    left = np.full(shape, np.inf)
    for k in range(passes):
        one, two = force(front, rear)
        f = np.clip(front_springs.drop(one), -0.05, most_front)
        r = np.clip(rear_springs.drop(two), -0.05, most_rear)
        left = np.maximum(np.abs(f - front), np.abs(r - rear))
        if np.all(left < SETTLED):
            front, rear = f, r
            break
        if k >= 24 and np.all((left < SETTLED) | (left > RESTLESS)):
            break  # those that still move will not settle
        damping = 0.6 if k < 12 else 0.35 if k < 24 else 0.2
        front, rear = front + damping * (f - front), rear + damping * (r - rear)
    one, two = force(front, rear)
    return Settled(front, rear, one, two, np.asarray(left > RESTLESS, float), left)
