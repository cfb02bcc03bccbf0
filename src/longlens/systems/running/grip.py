"""What a class of tyre holds on the road: bands of peak friction, load sensitivity and rolling resistance.

A photograph shows the tyre's name and tread, hence its class; it does not show the compound, the surface or the day. The
bands are wide on purpose.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.distributions import TruncatedNormal
from longlens.numbers.streams import Array

GRAVITY = 9.80665


@dataclass(frozen=True)
class TyreClass:
    """Peak friction coefficient of a class on dry asphalt unless named wet, and where the band comes from."""

    name: str
    meaning: str
    friction: TruncatedNormal
    source: str


CLASSES: Mapping[str, TyreClass] = {
    c.name: c
    for c in (
        TyreClass(
            "road_1970s", "crossply and early radial road tyres", TruncatedNormal(0.80, 0.05, 0.65, 0.95),
            "Gillespie 1992, ch. 10: peak about 0.8 to 0.9 on dry asphalt (from memory)",
        ),
        TyreClass(
            "road", "road tyres of today", TruncatedNormal(0.95, 0.06, 0.75, 1.15),
            "Wong, Theory of Ground Vehicles: peak 0.8 to 0.9 on dry asphalt (from memory); braking tests of today reach "
            "1.0 to 1.1: common practice, no source",
        ),
        TyreClass(
            "sport", "sporting road tyres", TruncatedNormal(1.08, 0.07, 0.90, 1.30),
            "skid pads of sporting cars, 0.95 to 1.15 g: common practice, no source",
        ),
        TyreClass(
            "semi_slick", "road-legal tyres for the track, few grooves", TruncatedNormal(1.22, 0.09, 1.0, 1.5),
            "1.1 to 1.4 g without downforce: common practice, no source",
        ),
        TyreClass(
            "slick", "treadless racing tyres, warm", TruncatedNormal(1.50, 0.13, 1.15, 1.9),
            "Milliken and Milliken 1995: racing tyres 1.3 to 1.8 (from memory)",
        ),
        TyreClass(
            "wet", "road tyres on a wet road", TruncatedNormal(0.62, 0.09, 0.35, 0.85),
            "Wong, Theory of Ground Vehicles: wet asphalt 0.5 to 0.7 (from memory)",
        ),
    )
}  # fmt: skip


def peak_friction(tyre_class: str, rank: ArrayLike) -> Array:
    """Peak friction coefficient of the class at a rank in (0, 1) of its band. KeyError for an unknown class."""
    return CLASSES[tyre_class].friction.quantile(np.clip(np.asarray(rank, float), 1e-6, 1 - 1e-6))


def axle_grip(
    friction: ArrayLike, nominal: ArrayLike, left: ArrayLike, right: ArrayLike, sensitivity: ArrayLike
) -> Array:
    """Greatest horizontal force of an axle (N) from the loads on its two tyres.

    μ(F) = μ₀ (F/F₀)^−k: friction falls as the load on a tyre grows (Milliken and Milliken 1995, ch. 2: load sensitivity).

    Parameters
    ----------
    friction : μ₀ at the load ``nominal`` F₀ (N) of one tyre.
    left, right : loads (N), not below zero.
    sensitivity : k, 0 for Coulomb friction; measured tyres 0.03 to 0.2.

    Limits: loads from a fifth to four times the nominal one.
    """
    k = np.asarray(sensitivity, float)
    one, two, F0 = (np.maximum(np.asarray(x, float), 0.0) for x in (left, right, nominal))
    return np.asarray(friction) * F0**k * (one ** (1 - k) + two ** (1 - k))
