"""Finned surfaces: Colburn factor j and Fanning friction factor f by published correlations.

Each correlation states what share of its authors' data lies within which band; that scatter is given here as
one standard deviation of a log-normal factor and travels through every answer as model error.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

Array = Any

#: Chang and Wang (1997): 89 % of 768 points within ±15 %.
LOUVRE_J_SD = 0.093
#: Chang, Hsu, Lin and Wang (2000): 83 % of 1,109 points within ±15 %.
LOUVRE_F_SD = 0.109
#: Manglik and Bergles (1995): all data within ±20 %, taken as two standard deviations.
OFFSET_STRIP_SD = 0.10

_BLEND_FROM, _BLEND_TO = 125.0, 195.0
_LN_INV_03 = -np.log(0.3)


class LouvredFin(NamedTuple):
    """Corrugated louvred fin between flat tubes; lengths in m, angle in rad, any broadcastable shapes.

    fin_pitch F_p (one fin and its gap), fin_height F_l (between the tubes), fin_depth F_d (with the air),
    fin_thickness δ, louvre_pitch L_p, louvre_length L_l, louvre_angle θ, tube_depth T_d, tube_pitch T_p.
    """

    fin_pitch: Array
    fin_height: Array
    fin_depth: Array
    fin_thickness: Array
    louvre_pitch: Array
    louvre_length: Array
    louvre_angle: Array
    tube_depth: Array
    tube_pitch: Array


def louvred_j_constant(fin: LouvredFin) -> Array:
    """The constant c of j = c · Re_Lp^−0.49, Chang and Wang (1997), eq. 9, corrugated louvred fins.

    Valid for 100 < Re_Lp < 3,000 (Reynolds number on louvre pitch and velocity in the narrowest section).
    """
    p = fin.louvre_pitch
    angle = np.degrees(fin.louvre_angle) / 90.0
    return (
        angle**0.27
        * (fin.fin_pitch / p) ** -0.14
        * (fin.fin_height / p) ** -0.29
        * (fin.tube_depth / p) ** -0.23
        * (fin.louvre_length / p) ** 0.68
        * (fin.tube_pitch / p) ** -0.28
        * (fin.fin_thickness / p) ** -0.05
    )


def louvred_j(fin: LouvredFin, reynolds: Array) -> Array:
    """Colburn factor j = St Pr^(2/3) of a louvred fin; see :func:`louvred_j_constant`."""
    return louvred_j_constant(fin) * np.asarray(reynolds) ** -0.49


class LouvredFriction(NamedTuple):
    """What of Chang et al. (2000) does not depend on the Reynolds number, worked out once per core."""

    low: Array
    low_exponent: Array
    high: Array
    high_exponent: Array


def louvred_friction(fin: LouvredFin) -> LouvredFriction:
    """Constants of the friction correlation of Chang, Hsu, Lin and Wang (2000), as amended in 2006."""
    pitch_ratio = fin.fin_pitch / fin.louvre_pitch
    thin = fin.fin_thickness / fin.fin_pitch
    degrees = np.degrees(fin.louvre_angle)
    tube_height = fin.tube_pitch - fin.fin_height
    diameter = louvred_hydraulic_diameter(fin) / fin.louvre_pitch
    low = (
        14.39
        * np.log(1.0 + pitch_ratio) ** 3.04
        * np.log(thin**0.48 + 0.9) ** -1.435
        * diameter**-3.01
        * (fin.fin_pitch / fin.louvre_length) ** -0.308
        * (fin.fin_depth / fin.louvre_length) ** -0.308
        * np.exp(-0.1167 * fin.tube_pitch / tube_height)
        * degrees**0.35
    )
    high = (
        4.97
        * np.log(thin**0.5 + 0.9) ** -0.527
        * diameter**-2.966
        * (fin.fin_pitch / fin.louvre_length) ** (-0.7931 * fin.tube_pitch / fin.fin_height)
        * (fin.tube_pitch / tube_height) ** -0.0446
        * np.log(1.2 + (1.0 / pitch_ratio) ** 1.4) ** -3.553
        * degrees**-0.477
    )
    return LouvredFriction(low, -0.805 * fin.fin_pitch / fin.fin_height, high, 0.6049 - 1.064 / degrees**0.2)


def louvred_hydraulic_diameter(fin: LouvredFin) -> Array:
    """Four times the free section over the wetted edge of one fin cell (m)."""
    gap = fin.fin_pitch - fin.fin_thickness
    height = fin.fin_height - fin.fin_thickness
    return 2.0 * gap * height / (gap + height)


def louvred_f(constants: LouvredFriction, reynolds: Array) -> Array:
    """Fanning friction factor at Re on the louvre pitch, 10 < Re < 5,000.

    The published branches differ by about a third where they meet at Re 150; they are blended over 125 to
    195, wide enough that the pressure drop always rises with the flow. Below Re 10 f goes with 1/Re.
    """
    reynolds = np.asarray(reynolds, dtype=float)
    low_re = np.clip(reynolds, 10.0, 200.0)
    high_re = np.maximum(reynolds, 100.0)
    log_low, log_high = np.log(low_re), np.log(high_re)
    high = constants.high * np.exp(constants.high_exponent * log_high) * (log_high - _LN_INV_03) ** -2.966
    if np.all(reynolds >= _BLEND_TO):
        return high
    low = constants.low * np.exp(constants.low_exponent * log_low) * (log_low - np.log(2.0)) ** -3.01
    weight = np.clip((log_high - np.log(_BLEND_FROM)) / np.log(_BLEND_TO / _BLEND_FROM), 0.0, 1.0)
    # Under Re 10 the flow creeps: f ∝ 1/Re keeps Δp linear in the flow.
    creeping = np.minimum(reynolds / 10.0, 1.0)
    return (low + weight * (high - low)) / np.maximum(creeping, 1e-9)


class OffsetStrip(NamedTuple):
    """Rectangular offset strip fin: free spacing s, free height h, thickness t, strip length l (all m)."""

    spacing: Array
    height: Array
    thickness: Array
    strip_length: Array


def offset_strip_hydraulic_diameter(fin: OffsetStrip) -> Array:
    """Hydraulic diameter as Manglik and Bergles define it (m)."""
    s, h, t, length = fin
    return 4.0 * s * h * length / (2.0 * (s * length + h * length + t * h) + t * s)


def offset_strip_j(fin: OffsetStrip, reynolds: Array) -> Array:
    """Colburn factor, Manglik and Bergles (1995), 120 < Re_Dh < 10,000, made for gases and Pr up to 15."""
    s, h, t, length = fin
    a, d, g = s / h, t / length, t / s
    tail = 1.0 + 5.269e-5 * reynolds**1.340 * a**0.504 * d**0.456 * g**-1.055
    return 0.6522 * reynolds**-0.5403 * a**-0.1541 * d**0.1499 * g**-0.0678 * tail**0.1


def offset_strip_f(fin: OffsetStrip, reynolds: Array) -> Array:
    """Fanning friction factor, Manglik and Bergles (1995), 120 < Re_Dh < 10,000."""
    s, h, t, length = fin
    a, d, g = s / h, t / length, t / s
    tail = 1.0 + 7.669e-8 * reynolds**4.429 * a**0.920 * d**3.767 * g**0.236
    return 9.6243 * reynolds**-0.7422 * a**-0.1856 * d**0.3053 * g**-0.2659 * tail**0.1


def fin_efficiency(film: Array, fin_conductivity: Array, thickness: Array, half_height: Array) -> Array:
    """Efficiency of a straight fin whose far end is a plane of symmetry (tanh(mL)/(mL)).

    Parameters
    ----------
    film : W/(m² K). fin_conductivity : W/(m K). thickness, half_height : m.
    """
    reach = np.sqrt(2.0 * film / (fin_conductivity * thickness)) * half_height
    reach = np.maximum(reach, 1e-9)
    return np.tanh(reach) / reach
