"""Heat of a stop and of a sequence of stops in the discs.

Sources: Gillespie 1992, ch. 3; Limpert, Brake Design and Safety (lumped disc). Limits: the whole heat goes evenly into the discs'
ring; no glow, no pad, no conduction to the hub: an upper bound for one stop, a band for many.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array


class DiscMaterial(NamedTuple):
    """Density kg/m³, heat capacity J/(kg K), the temperature K that pads and disc bear for long, and the source."""

    density: float
    heat_capacity: float
    bears: float
    source: str


MATERIALS: Mapping[str, DiscMaterial] = {
    "iron": DiscMaterial(
        7200.0, 500.0, 900.0, "grey iron, Limpert (from memory); pads fade from 400 to 650 °C: common practice"
    ),
    "carbon": DiscMaterial(1750.0, 1300.0, 1300.0, "carbon–carbon at working heat: common practice, no source"),
    "ceramic": DiscMaterial(2350.0, 1000.0, 1150.0, "carbon-fibre silicon carbide: common practice, no source"),
}


def disc_mass(outside: ArrayLike, ring: ArrayLike, thickness: ArrayLike, solid: ArrayLike, density: ArrayLike) -> Array:
    """Mass of the friction ring (kg): π (R² − (R − ring)²) t ρ · solid share (vents taken out)."""
    R = np.asarray(outside, float) / 2
    r = np.maximum(R - np.asarray(ring), 0.0)
    return np.pi * (R**2 - r**2) * np.asarray(thickness) * np.asarray(density) * np.asarray(solid)


def stop_energy(mass: ArrayLike, start: ArrayLike, end: ArrayLike = 0.0) -> Array:
    """Kinetic energy given up (J): m (v₁² − v₂²)/2; drag and rotating masses left out, which oppose each other."""
    return np.asarray(mass) * (np.asarray(start, float) ** 2 - np.asarray(end, float) ** 2) / 2


def stop_rise(energy: ArrayLike, share: ArrayLike, disc_mass: ArrayLike, heat_capacity: ArrayLike) -> Array:
    """Rise of one disc of an axle's two (K): its share of the heat over m c."""
    return np.asarray(energy) * np.asarray(share) / 2 / (np.asarray(disc_mass) * np.asarray(heat_capacity))


def sequence_peak(rise: ArrayLike, interval: ArrayLike, time_constant: ArrayLike) -> Array:
    """Rise above ambient just after a stop in an endless even sequence (K): ΔT/(1 − exp(−t/τ)).

    ``interval`` s between stops, ``time_constant`` τ = m c/(h A), s. One stop alone: t → ∞.
    """
    return np.asarray(rise) / -np.expm1(-np.asarray(interval) / np.asarray(time_constant))


def brake_torque(mass: ArrayLike, deceleration: ArrayLike, radius: ArrayLike, share: ArrayLike) -> Array:
    """Torque on one wheel of an axle (N m): m a r share/2."""
    return np.asarray(mass) * np.asarray(deceleration) * np.asarray(radius) * np.asarray(share) / 2
