"""Gears and tyres: the speed at which a shaft turns so fast, and back."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array


def speed_at(shaft: ArrayLike, overall_ratio: ArrayLike, rolling_radius: ArrayLike) -> Array:
    """Road speed (m/s) at a shaft speed (rad/s): ω r/i, without slip (driven tyres slip 1 to 4 %)."""
    return np.asarray(shaft, float) * np.asarray(rolling_radius) / np.asarray(overall_ratio)


def shaft_speed(speed: ArrayLike, overall_ratio: ArrayLike, rolling_radius: ArrayLike) -> Array:
    """Shaft speed (rad/s) at a road speed (m/s)."""
    return np.asarray(speed, float) * np.asarray(overall_ratio) / np.asarray(rolling_radius)
