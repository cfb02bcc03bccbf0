"""Friction and heat transfer inside pipes and tubes, and minor losses.

All friction factors are Darcy's (Δp = f L/D ρ v²/2). Turbulent: Colebrook (1939), solved to about 1e-5.
Laminar ducts: Shah and London (1978). Heat transfer: Gnielinski (1976; transition 2013) and Hausen's entry
term, as in the VDI Heat Atlas (from memory). Minor losses: Rennels and Hudson (2012) bends, as in ``fluids``.
"""

from __future__ import annotations

from typing import Any

import numpy as np

Array = Any

LAMINAR_END = 2300.0
TURBULENT_START = 4000.0
_LOG_SPAN = np.log(TURBULENT_START / LAMINAR_END)
#: One standard deviation of Gnielinski's correlation: he gives ±10 % for most data (taken as two deviations).
GNIELINSKI_SD = 0.05


def colebrook(reynolds: Array, relative_roughness: Array) -> Array:
    """Darcy friction factor of a turbulent pipe, Re from 2,300 to 1e8, ε/D up to 0.05.

    Haaland's explicit formula (1983) and one Newton step on Colebrook's equation: within 2e-5 of the root.
    """
    return _turbulent(reynolds, relative_roughness)[0]


def _turbulent(reynolds: Array, relative_roughness: Array) -> tuple[Array, Array]:
    """Friction factor and d ln f / d ln Re on Colebrook's curve."""
    rough = relative_roughness / 3.7
    x = -1.8 * np.log10(rough**1.11 + 6.9 / reynolds)
    reach = 2.51 / reynolds
    argument = rough + reach * x
    step = 2.0 / np.log(10.0) * reach / argument
    x = x - (x + 2.0 * np.log10(argument)) / (1.0 + step)
    # Differentiating x + 2 log10(rough + 2.51 x / Re) = 0 gives dx/dlnRe = s x / (1 + s).
    return 1.0 / (x * x), -2.0 * step / (1.0 + step)


def darcy(reynolds: Array, relative_roughness: Array = 0.0, laminar_constant: Array = 64.0) -> Array:
    """Darcy friction factor at any Re > 0.

    Laminar ``laminar_constant``/Re below 2,300, Colebrook above 4,000, a smooth blend in ln Re between.

    Parameters
    ----------
    reynolds, relative_roughness, laminar_constant : any broadcastable shapes. The constant is 64 for a round
        pipe and :func:`laminar_constant_rectangle` for a flat tube.
    """
    return darcy_with_slope(reynolds, relative_roughness, laminar_constant)[0]


def darcy_with_slope(
    reynolds: Array, relative_roughness: Array = 0.0, laminar_constant: Array = 64.0
) -> tuple[Array, Array]:
    """Darcy friction factor and d ln f / d ln Re (for Newton; the blend's own slope is included)."""
    bounded = np.maximum(reynolds, 1e-6)
    turbulent, slope = _turbulent(np.maximum(bounded, LAMINAR_END), relative_roughness)
    laminar = laminar_constant / bounded
    share = np.clip(np.log(bounded / LAMINAR_END) / _LOG_SPAN, 0.0, 1.0)
    weight = share * share * (3.0 - 2.0 * share)
    growth = 6.0 * share * (1.0 - share) / _LOG_SPAN
    factor = laminar + weight * (turbulent - laminar)
    derivative = -laminar * (1.0 - weight) + turbulent * slope * weight + growth * (turbulent - laminar)
    return factor, derivative / factor


def laminar_constant_rectangle(aspect: Array) -> Array:
    """f·Re (Darcy) of developed laminar flow in a rectangle, ``aspect`` = short/long side, 0 to 1.

    Shah and London (1978): 56.91 for a square, 96 between plates.
    """
    a = aspect
    return 96.0 * (1 - 1.3553 * a + 1.9467 * a**2 - 1.7012 * a**3 + 0.9564 * a**4 - 0.2537 * a**5)


def laminar_nusselt_rectangle(aspect: Array) -> Array:
    """Developed laminar Nusselt number at uniform wall temperature in a rectangle (Shah and London 1978).

    2.98 for a square, 7.54 between plates.
    """
    a = aspect
    return 7.541 * (1 - 2.610 * a + 4.970 * a**2 - 5.119 * a**3 + 2.702 * a**4 - 0.548 * a**5)


def gnielinski(reynolds: Array, prandtl: Array, darcy_factor: Array) -> Array:
    """Nusselt number of developed turbulent flow, 3,000 < Re < 5e6, 0.5 < Pr < 2,000 (Gnielinski 1976)."""
    eighth = darcy_factor / 8.0
    lift = np.sqrt(eighth) * (np.cbrt(prandtl * prandtl) - 1.0)
    return eighth * (reynolds - 1000.0) * prandtl / (1.0 + 12.7 * lift)


def nusselt(reynolds: Array, prandtl: Array, diameter_over_length: Array, laminar: Array = 3.66) -> Array:
    """Mean Nusselt number of a smooth duct of given length at any Re > 0.

    Laminar below 2,300 with Hausen's entry term, Gnielinski with the entry factor 1 + (D/L)^(2/3) above
    4,000, Gnielinski's (2013) straight line in Re between.

    Parameters
    ----------
    diameter_over_length : hydraulic diameter over length. laminar : developed laminar Nusselt number, 3.66
        for a round pipe, :func:`laminar_nusselt_rectangle` for a flat tube.
    """
    low = _hausen(np.minimum(reynolds, LAMINAR_END), prandtl, diameter_over_length, laminar)
    if np.all(reynolds <= LAMINAR_END):
        return low
    high_re = np.maximum(reynolds, TURBULENT_START)
    smooth = 1.0 / (1.8 * np.log10(high_re) - 1.5) ** 2  # Konakov's smooth-pipe factor, as Gnielinski uses
    entry = np.cbrt(diameter_over_length * diameter_over_length)
    high = gnielinski(high_re, prandtl, smooth) * (1.0 + entry)
    share = np.clip((reynolds - LAMINAR_END) / (TURBULENT_START - LAMINAR_END), 0.0, 1.0)
    return low + share * (high - low)


def _hausen(reynolds: Array, prandtl: Array, diameter_over_length: Array, developed: Array) -> Array:
    graetz = reynolds * prandtl * diameter_over_length
    return developed + 0.0668 * graetz / (1.0 + 0.04 * np.cbrt(graetz * graetz))


def bend_loss(angle: Array, radius_over_diameter: Array, darcy_factor: Array = 0.02) -> Array:
    """Loss coefficient of a round bend (Rennels and Hudson 2012, as ``fluids.bend_rounded``).

    Parameters
    ----------
    angle : rad, 0 to π. radius_over_diameter : centreline radius over inside diameter, at least 0.5.
    """
    half = np.sin(np.asarray(angle) / 2.0)
    root = np.sqrt(half)
    return (
        darcy_factor * angle * radius_over_diameter
        + (0.10 + 2.4 * darcy_factor) * half
        + 6.6 * darcy_factor * (root + half) / radius_over_diameter ** (4.0 * np.asarray(angle) / np.pi)
    )


def sudden_change_loss(area_ratio: Array, contraction: bool) -> Array:
    """Loss coefficient on the smaller area: Borda–Carnot (1−r)² widening, 0.5 (1−r) narrowing.

    ``area_ratio`` = small/large, 0 to 1. Idelchik's and Crane's plain forms.
    """
    return 0.5 * (1.0 - area_ratio) if contraction else (1.0 - area_ratio) ** 2
