"""Floor, tunnels, diffuser and splitter: an area-ratio model with the ride height.

The air between floor and road runs from the inlet to the narrowest place (the throat), where it is fastest, and is slowed in the
diffuser to the pressure behind the car. With C_e the pressure coefficient there, R the area ratio and η the diffuser's share of
the ideal recovery, C_t = (C_e − k)/(1 − k), k = η (1 − 1/R²). Air that leaks in at the sides takes part of it away.

Sources: Cooper, Bertenyi, Dutil, Syms and Sovran, SAE 980030 (diffuser as a pump, area ratio); Reneau, Johnston and Kline 1967
(recovery and stall of straight diffusers; both from memory). Limits: area ratio over 1; beyond the ratio and the angle where
diffusers stall the gain stays; ride heights over 8 mm; a bound, not a prediction.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array

#: Diffuser angle up to which the recovery holds, and at which a third is left (rad): common practice, no source.
HOLDS_TO, GONE_AT = np.radians(14.0), np.radians(30.0)
LEAST_GAP = 0.004  # m of air left between the boundary layer and the road


class Floor(NamedTuple):
    """Downforce coefficient times area of floor and of diffuser (m²), pressure coefficient at the throat, area ratio, and
    the angle of the diffuser's roof (rad)."""

    flat: Array
    diffuser: Array
    throat: Array
    ratio: Array
    angle: Array


def displacement(way: ArrayLike, speed: ArrayLike, viscosity: ArrayLike = 1.5e-5) -> Array:
    """Displacement thickness of a turbulent layer on a plate (m): 0.048 x Re^−1/5 (Schlichting, from memory), Re over 5e5."""
    x = np.asarray(way, float)
    return 0.048 * x / np.maximum(np.asarray(speed, float) * x / np.asarray(viscosity), 1e4) ** 0.2


def floor_lift(
    flat_length: ArrayLike,
    width: ArrayLike,
    inlet_height: ArrayLike,
    throat_height: ArrayLike,
    diffuser_length: ArrayLike,
    diffuser_width: ArrayLike,
    exit_height: ArrayLike,
    recovery: ArrayLike,
    most_ratio: ArrayLike,
    base_pressure: ArrayLike,
    sealing: ArrayLike,
    speed: ArrayLike,
) -> Floor:
    """Downforce of floor and diffuser.

    Parameters
    ----------
    flat_length, width : of the floor ahead of the throat, m. inlet_height, throat_height, exit_height : over the road, m.
    diffuser_length, diffuser_width : m; no diffuser: exit height equal to the throat's.
    recovery : η, 0 to 0.9. most_ratio : area ratio beyond which nothing more is won. base_pressure : C_e behind the car.
    sealing : share of the ideal suction that is left by leaks at the sides, 0 to 1. speed : m/s, for the boundary layer.
    """
    L, W, hi, ht, Ld, Wd, he = (
        np.asarray(x, float)
        for x in (flat_length, width, inlet_height, throat_height, diffuser_length, diffuser_width, exit_height)
    )
    layer = displacement(L, speed)
    open_throat = np.maximum(ht - layer, LEAST_GAP)
    ratio = np.maximum((he - 0.5 * layer) / open_throat, 1.0)
    used = _up_to(ratio, np.asarray(most_ratio, float))
    angle = np.arctan2(np.maximum(he - ht, 0.0), Ld)
    eta = np.asarray(recovery) * _left_by_angle(angle)
    k = eta * (1 - 1 / used**2)
    Ce = np.asarray(base_pressure, float)
    Ct = (Ce - k) / (1 - k)
    # ahead of the throat the gap narrows from the inlet's height: mean of 1/h² over a straight line is 1/(h_i h_t)
    narrow = np.maximum(hi, open_throat)
    flat = 1 - (1 - Ct) * open_throat / narrow
    mean = 1 - (1 - Ct) * (1 - eta * (1 - 1 / used))
    # a throat that the layer fills passes no air
    passed = np.clip((ht - layer) / (2 * layer + 1e-9), 0.0, 1.0)
    seal = np.asarray(sealing) * passed
    return Floor(-flat * L * W * seal, -mean * Ld * Wd * seal, Ct * seal, ratio, angle)


def _up_to(ratio: Array, most: Array) -> Array:
    """The ratio, rounded off towards the most that helps."""
    r, m = ratio - 1, np.maximum(most - 1, 1e-6)
    return 1 + r / (1 + (r / m) ** 4) ** 0.25


def _left_by_angle(angle: Array) -> Array:
    return np.interp(angle, [0.0, HOLDS_TO, GONE_AT, np.pi / 2], [1.0, 1.0, 0.34, 0.2])


def splitter_lift(length: ArrayLike, width: ArrayLike, pressure: ArrayLike) -> Array:
    """Downforce coefficient times area (m²): plan area times the difference of pressure between top and bottom (0.3 to 1.0 of the
    dynamic pressure near the stagnation line: common practice, no source)."""
    return np.asarray(length, float) * np.asarray(width) * np.asarray(pressure)
