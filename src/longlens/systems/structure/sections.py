"""Bending and torsion of simple sections.

Sources: Shigley, Mechanical Engineering Design (bending; torsion of round, thin closed and thin open sections); Roark. Limits:
linear, straight, no stress concentration, no warping held back, walls that do not buckle.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array


class Section(NamedTuple):
    """Area m²; second moment m⁴ and the distance of the outermost fibre m, for bending over its height; torsion constant m⁴ and
    torsion modulus m³ (torque over greatest shear stress)."""

    area: Array
    second: Array
    outermost: Array
    torsion: Array
    torsion_modulus: Array


def round_tube(outside: ArrayLike, wall: ArrayLike) -> Section:
    """Round tube; a wall of half the diameter or more is a solid bar."""
    D = np.asarray(outside, float)
    d = np.maximum(D - 2 * np.asarray(wall, float), 0.0)
    second = np.pi / 64 * (D**4 - d**4)
    return Section(np.pi / 4 * (D**2 - d**2), second, D / 2, 2 * second, 4 * second / D)


def box_tube(width: ArrayLike, height: ArrayLike, wall: ArrayLike) -> Section:
    """Rectangular tube with a thin even wall: Bredt, J = 4 A_m² t/L_m, T/τ = 2 A_m t; wall under a tenth of the smaller side."""
    b, h, t = (np.asarray(x, float) for x in (width, height, wall))
    second = (b * h**3 - (b - 2 * t) * (h - 2 * t) ** 3) / 12
    inside, around = (b - t) * (h - t), 2 * (b - t + h - t)
    return Section(b * h - (b - 2 * t) * (h - 2 * t), second, h / 2, 4 * inside**2 * t / around, 2 * inside * t)


def bar(width: ArrayLike, height: ArrayLike) -> Section:
    """Solid rectangle; torsion by Roark's approximation, within 4 % (Shigley's T = τ a b²/(3 + 1.8 b/a))."""
    b, h = np.asarray(width, float), np.asarray(height, float)
    long, short = np.maximum(b, h), np.minimum(b, h)
    ratio = short / long
    torsion = long * short**3 * (1 / 3 - 0.21 * ratio * (1 - ratio**4 / 12))
    return Section(b * h, b * h**3 / 12, h / 2, torsion, long * short**2 / (3 + 1.8 * ratio))


def i_section(width: ArrayLike, height: ArrayLike, web: ArrayLike, flange: ArrayLike) -> Section:
    """I-section of even flanges; torsion as of thin open strips, J = Σ L t³/3 (no warping held)."""
    b, h, w, f = (np.asarray(x, float) for x in (width, height, web, flange))
    deep = h - 2 * f
    second = (b * h**3 - (b - w) * deep**3) / 12
    torsion = (2 * b * f**3 + deep * w**3) / 3
    return Section(2 * b * f + deep * w, second, h / 2, torsion, torsion / np.maximum(w, f))


def bending_stress(moment: ArrayLike, section: Section) -> Array:
    """Stress at the outermost fibre (Pa): M c/I."""
    return np.asarray(moment, float) * section.outermost / section.second


def torsion_stress(torque: ArrayLike, section: Section) -> Array:
    """Greatest shear stress (Pa)."""
    return np.asarray(torque, float) / section.torsion_modulus


def twist(torque: ArrayLike, length: ArrayLike, shear_modulus: ArrayLike, section: Section) -> Array:
    """Twist (rad): T L/(G J)."""
    return np.asarray(torque, float) * np.asarray(length) / (np.asarray(shear_modulus) * section.torsion)


def equivalent(bending: ArrayLike, shear: ArrayLike) -> Array:
    """Equivalent stress (Pa) of von Mises: √(σ² + 3 τ²)."""
    return np.sqrt(np.asarray(bending, float) ** 2 + 3 * np.asarray(shear, float) ** 2)
