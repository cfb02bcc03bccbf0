"""Stiffness of torsion bars, coil springs and anti-roll bars from what can be measured on them.

Sources: torsion of round tubes and bending of cantilevers (Roark; Shigley); coil spring G d⁴/(8 n D³) (Shigley;
Barton & Fieldhouse 2018, p. 213). Limits: linear, small twist, arms and bearings otherwise rigid, no bushes: a real
installation is softer (common practice: by 5–20 %, no source).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension.rates import in_series
from longlens.systems.suspension.vectors import Array


def polar_moment(outside: ArrayLike, inside: ArrayLike = 0.0) -> Array:
    """Torsion constant of a round tube, m⁴: π (D⁴ − d⁴)/32."""
    return np.pi * (np.asarray(outside, float) ** 4 - np.asarray(inside, float) ** 4) / 32


def torsion_rate(shear_modulus: ArrayLike, length: ArrayLike, outside: ArrayLike, inside: ArrayLike = 0.0) -> Array:
    """Torque per twist of a round bar or tube, N m/rad: G J/L."""
    return np.asarray(shear_modulus, float) * polar_moment(outside, inside) / np.asarray(length, float)


def torsion_stress(torque: ArrayLike, outside: ArrayLike, inside: ArrayLike = 0.0) -> Array:
    """Shear stress at the surface, Pa: T D/(2 J)."""
    return np.asarray(torque, float) * np.asarray(outside, float) / (2 * polar_moment(outside, inside))


def coil_rate(shear_modulus: ArrayLike, wire: ArrayLike, mean_diameter: ArrayLike, active_coils: ArrayLike) -> Array:
    """Rate of a round-wire coil spring, N/m: G d⁴/(8 n D³)."""
    d, D = np.asarray(wire, float), np.asarray(mean_diameter, float)
    return np.asarray(shear_modulus, float) * d**4 / (8 * np.asarray(active_coils, float) * D**3)


def blade_rate(
    youngs_modulus: ArrayLike, length: ArrayLike, width: ArrayLike, thickness: ArrayLike, angle: ArrayLike = 0.0
) -> Array:
    """Tip rate of a flat blade as an arm, N/m: 3 E I(ψ)/l³.

    ``angle`` ψ, rad: 0 with the blade on edge (load across its width, stiff), π/2 flat (load across its thickness,
    soft). I(ψ) = I_edge cos²ψ + I_flat sin²ψ, for a tip free to move only along the load.
    """
    w, t, psi = np.asarray(width, float), np.asarray(thickness, float), np.asarray(angle, float)
    second = t * w**3 / 12 * np.cos(psi) ** 2 + w * t**3 / 12 * np.sin(psi) ** 2
    return 3 * np.asarray(youngs_modulus, float) * second / np.asarray(length, float) ** 3


def u_bar_rate(torsion: ArrayLike, arm: ArrayLike, arm_tip_rate: ArrayLike = np.inf) -> Array:
    """Torque per twist between the arms of a U-bar, N m/rad: tube and two arms in series.

    Parameters
    ----------
    torsion : of the tube between its arms, N m/rad.
    arm : lever from the bar's axis to the link, m.
    arm_tip_rate : bending rate of one arm at its tip, N/m (:func:`blade_rate`); infinite: stiff arms.
    """
    bending = np.asarray(arm_tip_rate, float) * np.asarray(arm, float) ** 2
    return in_series(torsion, bending, bending)


def t_bar_rate(torsion: ArrayLike, half_width: ArrayLike, blade_tip_rate: ArrayLike = np.inf) -> Array:
    """Torque per turn of a T-bar's head against its foot, N m/rad: stem in torsion and two blades in bending, in
    series.

    In roll one link pushes and the other pulls on the head, ``half_width`` from the stem: the blades bend together,
    so they act as one pair 2 k h². In heave the head tips and the stem is not twisted: a T-bar does not stiffen heave.
    """
    pair = 2 * np.asarray(blade_tip_rate, float) * np.asarray(half_width, float) ** 2
    return in_series(torsion, pair)


def roll_stiffness_of_t_bar(rate: ArrayLike, head_per_wheel: ArrayLike, track: ArrayLike) -> Array:
    """Roll stiffness from a T-bar, N m/rad: its head turns by head_per_wheel · t φ/2 when the wheels move ± t φ/2.

    ``head_per_wheel``: turn of the head per travel of the left wheel with the right one opposite, rad/m.
    """
    return np.asarray(rate) * (0.5 * np.asarray(head_per_wheel) * np.asarray(track)) ** 2
