"""What a rod can carry: yield in tension, Euler's and Johnson's columns in compression; materials.

Source: Shigley, *Mechanical Engineering Design* (columns with pinned ends, Johnson's parabola below the slenderness at
which half the yield stress buckles). Limits: straight, centrally loaded, ends pinned, wall thick enough not to dimple;
joints, threads and bonds are not looked at and often set the limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension.vectors import Array


@dataclass(frozen=True)
class Material:
    """A rod's material: Young's modulus and the stress at which it stops being elastic, Pa, each with a relative
    standard deviation that stands for not knowing which grade it is; and where the values come from."""

    name: str
    youngs: float
    youngs_spread: float
    strength: float
    strength_spread: float
    shear: float
    density: float
    source: str


MATERIALS: Mapping[str, Material] = {
    m.name: m
    for m in (
        Material(
            "steel", 205e9, 0.015, 700e6, 0.20, 80e9, 7850.0,
            "E, G, density: Shigley, table of common materials (from memory); yield 460–1000 MPa for the chromium-"
            "molybdenum tube used for rods: common practice, no source",
        ),
        Material(
            "titanium", 114e9, 0.03, 870e6, 0.05, 43e9, 4430.0,
            "Ti-6Al-4V annealed bar, yield 828 MPa at least, E 110–119 GPa: published data sheets (from memory)",
        ),
        Material(
            "carbon", 95e9, 0.20, 450e6, 0.25, 15e9, 1580.0,
            "tube with most fibres along it, compressive strength of the laminate: common practice, no source",
        ),
        Material(
            "aluminium", 71e9, 0.02, 450e6, 0.12, 27e9, 2800.0,
            "strong wrought alloys (7000 series): Shigley (E, from memory); yield: common practice, no source",
        ),
    )
}  # fmt: skip


class Section(NamedTuple):
    """Area, m², and second moment, m⁴, of a round tube."""

    area: Array
    second: Array

    @property
    def radius_of_gyration(self) -> Array:
        return np.sqrt(self.second / self.area)


def tube(outside: ArrayLike, wall: ArrayLike) -> Section:
    """Section of a round tube, m; a wall of half the diameter or more is a solid bar."""
    D = np.asarray(outside, float)
    d = np.maximum(D - 2 * np.asarray(wall, float), 0.0)
    return Section(np.pi / 4 * (D**2 - d**2), np.pi / 64 * (D**4 - d**4))


def euler_load(youngs: ArrayLike, second: ArrayLike, length: ArrayLike, fixity: ArrayLike = 1.0) -> Array:
    """Euler's critical load, N: C π² E I/L²; C = 1 for pinned ends."""
    return np.asarray(fixity) * np.pi**2 * np.asarray(youngs) * np.asarray(second) / np.asarray(length) ** 2


def critical_load(
    youngs: ArrayLike, strength: ArrayLike, section: Section, length: ArrayLike, fixity: ArrayLike = 1.0
) -> Array:
    """Compressive load at which a column fails, N: Euler's where slender, Johnson's parabola where stout.

    They meet at Euler's stress = half the yield stress. Johnson: S A [1 − S (L/r)²/(4 C π² E)].
    """
    euler = euler_load(youngs, section.second, length, fixity)
    squash = np.asarray(strength) * section.area
    with np.errstate(divide="ignore"):
        johnson = squash * (1 - squash / (4 * euler))
    return np.where(euler < 0.5 * squash, euler, johnson)


def utilisation(
    tension: ArrayLike, youngs: ArrayLike, strength: ArrayLike, section: Section, length: ArrayLike
) -> Array:
    """Share of its strength that a rod uses, 1: |force| over yield load in tension, over critical load in
    compression."""
    f = np.asarray(tension, float)
    return np.where(
        f >= 0,
        f / (np.asarray(strength) * section.area),
        -f / critical_load(youngs, strength, section, length),
    )


def buckles_first(youngs: ArrayLike, strength: ArrayLike, section: Section, length: ArrayLike) -> Array:
    """True where the rod in compression is slender: Euler's load decides, not the material's strength."""
    return euler_load(youngs, section.second, length) < 0.5 * np.asarray(strength) * section.area
