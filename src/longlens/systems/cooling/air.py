"""Dry air: the standard atmosphere with offsets, and the transport properties a core needs.

Source: ISO 2533:1975, Standard Atmosphere (constants, layers, Sutherland's viscosity and the conductivity
formula); heat capacity fitted to CoolProp. Humidity is left out: moist air at 30 °C and 60 % is 1 % lighter.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

Array = Any

GAS_CONSTANT = 287.05287  # J/(kg K), ISO 2533
GRAVITY = 9.80665
EARTH_RADIUS = 6_356_766.0  # m, ISO 2533
SEA_TEMPERATURE = 288.15
SEA_PRESSURE = 101_325.0
LAPSE = -0.0065  # K/m up to 11 km geopotential
TROPOPAUSE = 11_000.0


class AirState(NamedTuple):
    """Temperature K, pressure Pa, density kg/m³."""

    temperature: Array
    pressure: Array
    density: Array


def standard_atmosphere(altitude: Array, temperature_offset: Array = 0.0) -> AirState:
    """ISO 2533 up to 20 km, with an offset on the temperature.

    Parameters
    ----------
    altitude : geometric altitude (m), −2,000 to 20,000.
    temperature_offset : added to the standard temperature (K); the pressure stays standard, the density
        follows from the gas law.
    """
    altitude = np.asarray(altitude, dtype=float)
    if np.any((altitude < -2000.0) | (altitude > 20_000.0)):
        raise ValueError("altitude must lie between -2,000 and 20,000 m")
    height = EARTH_RADIUS * altitude / (EARTH_RADIUS + altitude)
    below = np.minimum(height, TROPOPAUSE)
    temperature = SEA_TEMPERATURE + LAPSE * below
    pressure = SEA_PRESSURE * (temperature / SEA_TEMPERATURE) ** (-GRAVITY / (LAPSE * GAS_CONSTANT))
    pressure = pressure * np.exp(-GRAVITY * (height - below) / (GAS_CONSTANT * temperature))
    actual = temperature + temperature_offset
    return AirState(actual, pressure, pressure / (GAS_CONSTANT * actual))


def density(temperature: Array, pressure: Array) -> Array:
    """Gas law (kg/m³) for ``temperature`` K and ``pressure`` Pa; within 0.1 % at 1 to 3 bar."""
    return pressure / (GAS_CONSTANT * temperature)


def viscosity(temperature: Array) -> Array:
    """Dynamic viscosity (Pa s), Sutherland's formula as in ISO 2533."""
    return 1.458e-6 * temperature * np.sqrt(temperature) / (temperature + 110.4)


def conductivity(temperature: Array) -> Array:
    """Thermal conductivity (W/(m K)), the formula of ISO 2533."""
    return 2.648151e-3 * temperature * np.sqrt(temperature) / (temperature + 245.4 * 10.0 ** (-12.0 / temperature))


def heat_capacity(temperature: Array) -> Array:
    """Isobaric heat capacity (J/(kg K)), a parabola through CoolProp, 250 to 500 K, within 0.02 %."""
    centred = (temperature - 320.0) / 100.0
    return 1007.2805 + 5.3402 * centred + 4.0438 * centred**2


def prandtl(temperature: Array) -> Array:
    """Prandtl number, 0.71 at room temperature."""
    return viscosity(temperature) * heat_capacity(temperature) / conductivity(temperature)
