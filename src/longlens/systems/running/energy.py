"""Energy of an electric car: at a steady speed, and how far a battery goes."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array


def energy_per_way(force: ArrayLike, efficiency: ArrayLike, auxiliary: ArrayLike, speed: ArrayLike) -> Array:
    """Energy from the battery per way (J/m): F/η + P_aux/v, steady level road."""
    return np.asarray(force) / np.asarray(efficiency) + np.asarray(auxiliary) / np.asarray(speed, float)


def range_of(capacity: ArrayLike, usable: ArrayLike, per_way: ArrayLike) -> Array:
    """Way (m) on a battery of ``capacity`` (J) of which a share is usable."""
    return np.asarray(capacity) * np.asarray(usable) / np.asarray(per_way)
