"""An axle pressed down by the air: wheel travel, drop of the body, camber and ride height over speed.

Source: equilibrium of springs and load, any text on vehicle dynamics. Limits: equal travel of both wheels, straight ahead,
steady; up to the bump travel looked at, where the wheels are taken to rest on their stops (a stop gives; what it gives is left
out).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from longlens.systems.suspension.vectors import Array

#: Above this share of the draws on the stops an axle is said to sit there, and nothing more is given.
SITS = 0.5


def force_over_travel(travel: Array, rate_curve: Array) -> Array:
    """Force of a wheel over its travel from ride height, N (N, M): the wheel rate (N, M) over travel (M,) integrated."""
    still = int(np.argmin(np.abs(travel)))
    steps = 0.5 * (rate_curve[:, 1:] + rate_curve[:, :-1]) * np.diff(travel)
    force = np.concatenate([np.zeros((len(rate_curve), 1)), np.cumsum(steps, axis=1)], axis=1)
    return force - force[:, still : still + 1]


class Pressed(NamedTuple):
    """Wheel travel (m, bump positive), drop of the body with the tyres (m), True where the bump travel is used up; (N, V)."""

    travel: Array
    drop: Array
    on_stops: Array


def pressed(travel: Array, force: Array, load: Array, tyre_rate: Array) -> Pressed:
    """What loads (N, V) on an axle do to it.

    Parameters
    ----------
    travel : (M,) of a wheel from rest, m. force : (N, M) of one wheel, rising, N. load : of the axle over that at rest, N.
    tyre_rate : (N,) of one tyre, N/m.

    Linear between the places; held at both ends of the travel.
    """
    f = np.maximum.accumulate(force, axis=1)
    half = 0.5 * load
    k = np.clip(np.sum(f[:, :, None] <= half[:, None, :], axis=1), 1, len(travel) - 1)
    low, high = np.take_along_axis(f, k - 1, 1), np.take_along_axis(f, k, 1)
    at = travel[k - 1] + (half - low) / np.maximum(high - low, 1e-9) * (travel[k] - travel[k - 1])
    moved = np.clip(at, travel[0], travel[-1])
    return Pressed(moved, moved + half / np.asarray(tyre_rate)[:, None], half > f[:, -1:])


def held_up(travel: Array, force: Array, drop: Array, tyre_rate: Array) -> Array:
    """Wheel travel (N, V) of a body that the road holds at a drop (N, V), m: springs and tyre share the drop between them.

    The tyre gives by the springs' force alone; the road takes the rest of the load. Arguments as of :func:`pressed`.
    """
    whole = np.maximum.accumulate(travel + force / np.asarray(tyre_rate)[:, None], axis=1)
    k = np.clip(np.sum(whole[:, :, None] <= drop[:, None, :], axis=1), 1, len(travel) - 1)
    low, high = np.take_along_axis(whole, k - 1, 1), np.take_along_axis(whole, k, 1)
    at = travel[k - 1] + (drop - low) / np.maximum(high - low, 1e-12) * (travel[k] - travel[k - 1])
    return np.clip(at, travel[0], travel[-1])


def at_travel(travel: Array, curve: Array, where: Array) -> Array:
    """A curve (N, M) over travel (M,) at places (N, V), linear."""
    k = np.clip(np.searchsorted(travel, where) - 1, 0, len(travel) - 2)
    share = (where - travel[k]) / (travel[k + 1] - travel[k])
    one, two = np.take_along_axis(curve, k, 1), np.take_along_axis(curve, k + 1, 1)
    return one + share * (two - one)


def over_speed(
    air: Mapping[str, Any], end: str, travel: Array, rate_curve: Array, tyre_rate: Array, curves: Mapping[str, Array]
) -> dict[str, Any]:
    """Everything over the speeds up to which the axle does not sit on its stops.

    ``curves``: name → (N, M) over travel, read off at the travel found. ``apart``: how far the drop at which the air was settled
    lies from this one, in the middle of the draws, m. ``stopped``, ``held``: share of the draws on the stops, and of those that
    the road holds up, at each of all speeds.
    """
    speed, load = np.asarray(air["speed"], float), air[f"downforce_{end}"]
    force = force_over_travel(travel, rate_curve)
    made = pressed(travel, force, load, tyre_rate)
    drop, told = air.get(f"{end}_drop"), air.get(f"{end}_held")
    held = np.zeros(load.shape, bool)
    if drop is not None and told is not None and np.any(told > 0.5):
        held = told > 0.5
        moved = np.where(held, held_up(travel, force, drop, tyre_rate), made.travel)
        made = Pressed(moved, np.where(held, drop, made.drop), made.on_stops & ~held)
    stopped = np.mean(made.on_stops, axis=0)
    sits = np.flatnonzero(stopped > SITS)
    upto = int(sits[0]) if len(sits) else len(speed)
    out: dict[str, Any] = {
        "speed": speed[:upto],
        "every_speed": speed,
        "stopped": stopped,
        "travel": made.travel[:, :upto],
    }
    out["drop"] = made.drop[:, :upto]
    # the body goes down with the tyres; where the air's own ride height is known it is the same drop from that height
    ride = air.get(f"ride_height_{end}")
    out["ride_height"] = None if ride is None else ride[:, :upto]
    out["apart"] = None if drop is None else np.median(np.abs(drop - made.drop), axis=0)[:upto]
    out["held"] = np.mean(held, axis=0)
    return out | {name: at_travel(travel, curve, out["travel"]) for name, curve in curves.items()}
