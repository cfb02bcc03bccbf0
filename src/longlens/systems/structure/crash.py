"""Crash structures: energy, mean force and deceleration against class rules, and the wall they would need.

Sources: mechanics (m v²/2 = F s); the rules' own texts; Lu and Yu, Energy Absorption of Structures and Materials, 2003, and
Jacob, Fellers, Simunovic and Starbuck, J. Composite Materials 36, 2002 (specific energy absorption). Limits: crushing along
the axis, front to back; buckling sideways, joints and triggers decide in life and are not seen. An estimate is no proof of
safety.
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
class Rule:
    """A class' frontal test. mass kg, speed m/s; the mean deceleration allowed, and the deceleration up to a crush (m) and up to
    an energy (J), in g, None where there is no such limit; what bounds the rest: the peak, or else the 60 g on the dummy's chest;
    ``first_is_mean``: the first limit is of the mean, not the peak."""

    name: str
    meaning: str
    mass: float
    speed: float
    mean_g: float
    first_crush: float | None
    first_g: float | None
    energy: float | None
    energy_g: float | None
    rest_g: float
    first_is_mean: bool
    source: str

    @property
    def impact(self) -> float:
        """Kinetic energy, J."""
        return 0.5 * self.mass * self.speed**2


RULES: Mapping[str, Rule] = {
    r.name: r
    for r in (
        Rule("single_seater_780", "fast single-seaters", 780.0, 15.0, 40.0, 0.150, 10.0, 60e3, 20.0, 60.0, False,
             "world federation's technical regulations for its first single-seater class, article 16.2 (read)"),
        Rule("single_seater_650", "smaller single-seaters", 650.0, 12.0, 25.0, 0.150, 5.0, None, None, 60.0, True,
             "world federation's technical regulations for a junior single-seater class, frontal test (read)"),
        Rule("student_300", "student single-seaters", 300.0, 7.0, 20.0, None, None, None, None, 40.0, False,
             "student formula rules 2021, F.8.7.2: 300 kg, 7 m/s, mean 20 g, peak 40 g, 7,350 J (read)"),
    )
}  # fmt: skip


def energy(mass: ArrayLike, speed: ArrayLike) -> Array:
    """Kinetic energy (J)."""
    return 0.5 * np.asarray(mass, float) * np.asarray(speed, float) ** 2


def mean_deceleration(speed: ArrayLike, crush: ArrayLike) -> Array:
    """Mean over the way (m/s²): v²/(2 s)."""
    return np.asarray(speed, float) ** 2 / (2 * np.asarray(crush, float))


def least_crush(rule: Rule) -> float:
    """Least crush length (m) that the rule allows: each stage at its limit, the rest at what bounds it, and the mean over all of
    it within the rule."""
    left, way = rule.impact, 0.0
    if rule.first_crush is not None and rule.first_g is not None:
        force = rule.mass * GRAVITY * rule.first_g
        way = min(rule.first_crush, left / force)
        left -= force * way
    if rule.energy is not None and rule.energy_g is not None:
        part = max(min(rule.energy - (rule.impact - left), left), 0.0)
        way, left = way + part / (rule.mass * GRAVITY * rule.energy_g), left - part
    way += left / (rule.mass * GRAVITY * rule.rest_g)
    return max(way, rule.speed**2 / (2 * GRAVITY * rule.mean_g))


@dataclass(frozen=True)
class Absorber:
    """What a material takes up when crushed: J/kg, density kg/m³, usual walls m, and where from."""

    name: str
    absorbs: TruncatedNormal
    density: float
    usual: tuple[float, float]
    source: str


ABSORBERS: Mapping[str, Absorber] = {
    a.name: a
    for a in (
        Absorber("carbon", TruncatedNormal(50e3, 13e3, 20e3, 95e3), 1550.0, (1.8e-3, 6e-3),
                 "tubes of carbon and epoxy 50 to 100 kJ/kg, tapered structures 30 to 60: Jacob et al. 2002 (from memory)"),
        Absorber("aluminium", TruncatedNormal(22e3, 5e3, 10e3, 36e3), 2700.0, (1.2e-3, 4e-3),
                 "thin-walled sections 15 to 30 kJ/kg: Lu and Yu 2003 (from memory)"),
        Absorber("steel", TruncatedNormal(14e3, 4e3, 5e3, 25e3), 7850.0, (0.7e-3, 2.5e-3),
                 "thin-walled sections 8 to 20 kJ/kg: Lu and Yu 2003 (from memory)"),
    )
}  # fmt: skip


def perimeter(width: ArrayLike, height: ArrayLike, roundness: ArrayLike) -> Array:
    """Perimeter (m) of a rounded box: between an ellipse (1) and a rectangle (0); Ramanujan's formula for the ellipse."""
    a, b = np.asarray(width, float) / 2, np.asarray(height, float) / 2
    h = ((a - b) / (a + b)) ** 2
    ellipse = np.pi * (a + b) * (1 + 3 * h / (10 + np.sqrt(4 - 3 * h)))
    r = np.asarray(roundness, float)
    return r * ellipse + (1 - r) * 4 * (a + b)


def wall_needed(
    impact: ArrayLike, absorbs: ArrayLike, density: ArrayLike, around: ArrayLike, crush: ArrayLike
) -> Array:
    """Mean wall thickness (m) that takes up the energy: E/(SEA ρ P s)."""
    return np.asarray(impact, float) / (
        np.asarray(absorbs) * np.asarray(density) * np.asarray(around) * np.asarray(crush)
    )


def absorption_needed(
    impact: ArrayLike, wall: ArrayLike, density: ArrayLike, around: ArrayLike, crush: ArrayLike
) -> Array:
    """Specific energy absorption (J/kg) that a wall would need: E/(ρ P t s)."""
    mass = np.asarray(density, float) * np.asarray(around) * np.asarray(wall) * np.asarray(crush)
    return np.asarray(impact, float) / mass


def early_share(front: ArrayLike, rear: ArrayLike, crush: ArrayLike, way: float) -> Array:
    """Force over the first ``way`` (m) over the mean force, for an even wall whose perimeter grows evenly from ``front`` to
    ``rear`` along the crushed length."""
    f, r, s = (np.asarray(x, float) for x in (front, rear, crush))
    part = np.minimum(way / s, 1.0)
    return (f + (r - f) * part / 2) / ((f + r) / 2)
