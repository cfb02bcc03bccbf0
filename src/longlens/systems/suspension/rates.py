"""Spring and bar rates at the wheel, ride frequencies, roll stiffness, and the ride height under downforce."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension.vectors import Array

GRAVITY = 9.80665


def wheel_rate(rate: ArrayLike, ratio: ArrayLike, force: ArrayLike = 0.0, ratio_slope: ArrayLike = 0.0) -> Array:
    """Rate at the wheel, N/m: k i² + F di/dz.

    Parameters
    ----------
    rate : of the element, N/m (or N m/rad).
    ratio : its travel per wheel travel i, 1 (or rad/m), positive in compression.
    force : what it carries, N (or N m), positive in compression.
    ratio_slope : di/dz, 1/m (or rad/m²). Without force and slope: the usual small-motion k i².
    """
    return np.asarray(rate) * np.asarray(ratio) ** 2 + np.asarray(force) * np.asarray(ratio_slope)


def in_series(*rates: ArrayLike) -> Array:
    """Rate of springs in series (suspension and tyre: the ride rate), N/m."""
    return 1.0 / sum(1.0 / np.asarray(k, float) for k in rates)  # type: ignore[return-value]


def frequency(rate: ArrayLike, mass: ArrayLike) -> Array:
    """Undamped natural frequency of one mass on a spring, Hz."""
    return np.sqrt(np.asarray(rate, float) / np.asarray(mass, float)) / (2 * np.pi)


class Modes(NamedTuple):
    """Undamped natural frequencies of the two-mass model, Hz, and body amplitude per wheel amplitude in each."""

    body: Array
    wheel_hop: Array
    body_shape: Array
    hop_shape: Array


def two_mass_modes(sprung: ArrayLike, unsprung: ArrayLike, wheel_rate: ArrayLike, tyre_rate: ArrayLike) -> Modes:
    """The two modes of sprung over unsprung mass over tyre, exact.

    ω² are the roots of ms mu ω⁴ − [ms (k + kt) + mu k] ω² + k kt = 0. Source: any vehicle-dynamics text (Gillespie
    1992). Limits: one corner alone, no damping, linear springs.
    """
    ms, mu, k, kt = (np.asarray(x, float) for x in (sprung, unsprung, wheel_rate, tyre_rate))
    b = (ms * (k + kt) + mu * k) / (ms * mu)
    c = k * kt / (ms * mu)
    high = 0.5 * (b + np.sqrt(b * b - 4 * c))
    low = c / high  # the small root without cancellation
    with np.errstate(divide="ignore"):
        shapes = [k / (k - ms * w2) for w2 in (low, high)]
    return Modes(np.sqrt(low) / (2 * np.pi), np.sqrt(high) / (2 * np.pi), shapes[0], shapes[1])


def roll_stiffness_of_springs(wheel_rate: ArrayLike, track: ArrayLike) -> Array:
    """Roll stiffness of an axle with equal springs left and right, N m/rad: k t²/2."""
    return 0.5 * np.asarray(wheel_rate) * np.asarray(track) ** 2


def roll_stiffness_of_bar(bar_rate: ArrayLike, arm_per_wheel: ArrayLike, track: ArrayLike) -> Array:
    """Roll stiffness from an anti-roll bar, N m/rad: k (t dθ/dz)².

    ``bar_rate`` in N m per rad of twist between its two arms; ``arm_per_wheel`` in rad/m: in roll φ the wheels move
    ±t φ/2, each arm turns by half of t φ dθ/dz, and the twist is the whole.
    """
    return np.asarray(bar_rate) * (np.asarray(arm_per_wheel) * np.asarray(track)) ** 2


def roll_stiffness_of_beam(wheel_rate: ArrayLike, spring_base: ArrayLike) -> Array:
    """Roll stiffness of a beam axle on two springs ``spring_base`` apart, N m/rad: k s²/2, not k t²/2."""
    return 0.5 * np.asarray(wheel_rate) * np.asarray(spring_base) ** 2


def with_tyres(roll_stiffness: ArrayLike, tyre_rate: ArrayLike, track: ArrayLike) -> Array:
    """Roll stiffness of an axle in series with its tyres, N m/rad."""
    return in_series(roll_stiffness, 0.5 * np.asarray(tyre_rate) * np.asarray(track) ** 2)


def roll_gradient(sprung_mass: ArrayLike, arm: ArrayLike, roll_stiffness: ArrayLike) -> Array:
    """Roll per lateral acceleration, rad/(m/s²): m d / (K − m g d).

    ``arm``: height of the sprung mass's centre over the roll axis, m. Barton & Fieldhouse 2018, eq. 3.18; small angles.
    """
    m, d = np.asarray(sprung_mass, float), np.asarray(arm, float)
    return m * d / (np.asarray(roll_stiffness, float) - m * GRAVITY * d)


def wheel_force_curve(
    element_rate: ArrayLike, compression: ArrayLike, ratio: ArrayLike, static_load: ArrayLike, at: int
) -> Array:
    """Vertical force of one spring at the wheel over a grid of travel, N (..., M).

    Parameters
    ----------
    element_rate : N/m, (...) or (..., 1).
    compression : of the spring from its static length at each travel, m (..., M).
    ratio : spring per wheel, (..., M).
    static_load : what the spring carries at the wheel at grid index ``at``, N.
    """
    i = np.asarray(ratio, float)
    k = np.asarray(element_rate, float)
    preload = np.asarray(static_load, float) / i[..., at : at + 1]
    return (preload + k * np.asarray(compression, float)) * i


def travel_at_load(travel: ArrayLike, force: ArrayLike, load: ArrayLike) -> Array:
    """Wheel travel at which a rising force curve (..., M) carries ``load`` (...), m; NaN beyond the curve's ends.

    Linear between grid points: with 61 positions over 120 mm the error is under 2 µm for usual progression.
    """
    z, f = np.asarray(travel, float), np.asarray(force, float)
    want = np.asarray(load, float)[..., None]
    k = np.clip(np.sum(f <= want, axis=-1, keepdims=True), 1, f.shape[-1] - 1)
    z = np.broadcast_to(z, f.shape)
    f0, f1, z0, z1 = (np.take_along_axis(x, j, -1) for x, j in ((f, k - 1), (f, k), (z, k - 1), (z, k)))
    with np.errstate(divide="ignore", invalid="ignore"):
        out = (z0 + (want - f0) / (f1 - f0) * (z1 - z0))[..., 0]
    inside = (want[..., 0] >= f[..., 0]) & (want[..., 0] <= f[..., -1])
    return np.where(inside, out, np.nan)
