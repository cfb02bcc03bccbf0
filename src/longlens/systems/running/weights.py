"""Mass and its distribution: stated, summed from parts, or bounded by what the tyres may carry."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array
from longlens.systems.running.grip import GRAVITY

#: Load index → kg per tyre, some entries of the standard's table.
_LOAD_BASE = {70: 335, 75: 387, 80: 450, 85: 515, 90: 600, 95: 690, 100: 800, 105: 925, 110: 1060}


def load_of_index(index: ArrayLike) -> Array:
    """Load (N) that a tyre of this load index may carry (ETRTO / ISO 4000-1 table, from memory; geometric between its
    entries, within 1 %). Valid from 70 to 110; NaN outside."""
    i = np.asarray(index, float)
    keys = np.array(sorted(_LOAD_BASE), float)
    value = np.exp(np.interp(i, keys, np.log([_LOAD_BASE[int(k)] for k in keys])))
    return np.where((i >= keys[0]) & (i <= keys[-1]), value, np.nan) * GRAVITY


def mass_from_tyres(load_front: ArrayLike, load_rear: ArrayLike, use: ArrayLike) -> Array:
    """Mass (kg) that uses a share ``use`` of what the four tyres may carry: a bound, no estimate.

    Light sporting cars stand on 25 to 55 % of it, family cars at full load on up to 95 %: common practice, no source.
    """
    return np.asarray(use) * 2 * (np.asarray(load_front) + np.asarray(load_rear)) / GRAVITY


class Summed(NamedTuple):
    """Mass kg and the place of its centre along the car, m behind the front axle."""

    mass: Array
    behind: Array


def sum_parts(masses: Sequence[ArrayLike], behind: Sequence[ArrayLike]) -> Summed:
    """Mass and centre of parts, each with its distance behind the front axle (m)."""
    total = sum(np.asarray(m, float) for m in masses)
    moment = sum(np.asarray(m, float) * np.asarray(x, float) for m, x in zip(masses, behind, strict=True))
    return Summed(np.asarray(total), np.asarray(moment / total))


def with_payload(
    mass: ArrayLike, front_share: ArrayLike, payload: ArrayLike, behind: ArrayLike, wheelbase: ArrayLike
) -> tuple[Array, Array]:
    """Mass (kg) and front share with a payload (kg) whose centre lies ``behind`` the front axle (m)."""
    m, p = np.asarray(mass, float), np.asarray(payload, float)
    front = m * np.asarray(front_share) + p * (1 - np.asarray(behind) / np.asarray(wheelbase))
    return m + p, front / (m + p)
