"""Coolants and oils: density, heat capacity, viscosity, conductivity and boiling, as smooth functions.

Coolant properties are low-order fits to CoolProp (``liquid_tables``), because a network solution for
thousands of draws needs them hundreds of thousands of times. Between 0 and 100 °C and up to 60 % glycol the
fits stay within the figures printed by ``make bench``; above 100 °C CoolProp's mixtures end and the fits are
read on (the trade runs coolant to about 130 °C under pressure), which adds error that is not tabulated.

Oil properties follow the usual petroleum rules: ASTM D341 for the viscosity through two points, and the
Cragoe relations (Bureau of Standards, Misc. Publ. 97, 1929; from memory) for heat capacity and conductivity.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from . import liquid_tables as tables

Array = Any
ZERO_CELSIUS = 273.15
MOLAR_MASS = {"water": 18.015268e-3, "ethylene": 62.068e-3, "propylene": 76.095e-3}  # kg/mol


@dataclass(frozen=True)
class Properties:
    """Properties of one liquid at given temperatures; arrays broadcast together.

    density kg/m³, heat_capacity J/(kg K), viscosity Pa s, conductivity W/(m K).
    """

    density: Array
    heat_capacity: Array
    viscosity: Array
    conductivity: Array

    @property
    def prandtl(self) -> Array:
        return self.viscosity * self.heat_capacity / self.conductivity


def _horner(coefficients: list[Array], tau: Array) -> Array:
    total = coefficients[-1]
    for coefficient in coefficients[-2::-1]:
        total = total * tau + coefficient
    return total


@dataclass(frozen=True)
class Coolant:
    """Water with glycol.

    Parameters
    ----------
    glycol : mass fraction of glycol, 0 to 0.6, any shape (one per draw, say).
    kind : "ethylene" or "propylene".

    Limits: 253 to 373 K as fitted, to about 403 K read on. Water alone uses CoolProp's water to 420 K.
    """

    glycol: Array = 0.5
    kind: str = "ethylene"
    _rows: dict[str, list[Array]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        fraction = np.asarray(self.glycol, dtype=float)
        if np.any((fraction < 0.0) | (fraction > 0.6)) or not np.all(np.isfinite(fraction)):
            raise ValueError("the glycol mass fraction must lie between 0 and 0.6")
        if self.kind not in ("ethylene", "propylene"):
            raise ValueError("the glycol must be 'ethylene' or 'propylene'")
        object.__setattr__(self, "_rows", self._collapse(fraction))

    def _collapse(self, fraction: Array) -> dict[str, list[Array]]:
        """Polynomials in temperature alone, once the mixture is known."""
        if np.all(fraction == 0.0):
            return {name: [np.float64(c) for c in row] for name, row in tables.WATER.items()}
        table = tables.ETHYLENE_GLYCOL if self.kind == "ethylene" else tables.PROPYLENE_GLYCOL
        xi = (fraction - tables.X_REF) / tables.X_SPAN
        return {name: [_horner(list(row), xi) for row in rows] for name, rows in table.items()}

    def properties(self, temperature: Array) -> Properties:
        """Properties at ``temperature`` (K), broadcast with the mixture."""
        tau = (temperature - tables.T_REF) / tables.T_SPAN
        inverse = 10.0 * (tables.T_REF / temperature - 1.0)
        rows = self._rows
        return Properties(
            density=_horner(rows["density"], tau),
            heat_capacity=_horner(rows["heat_capacity"], tau),
            viscosity=np.exp(_horner(rows["log_viscosity"], inverse)),
            conductivity=_horner(rows["conductivity"], tau),
        )

    def vapour_pressure(self, temperature: Array) -> Array:
        """Pressure (Pa) at which the mixture boils at ``temperature`` (K), by Raoult's law.

        The glycol's own vapour pressure is under 3 % of the water's here and is left out. Raoult's law
        puts 50 % ethylene glycol by mass at 107 °C under 101.3 kPa, as coolant handbooks do.
        """
        mass_fraction = np.asarray(self.glycol, dtype=float)
        glycol_moles = mass_fraction / MOLAR_MASS[self.kind]
        water_moles = (1.0 - mass_fraction) / MOLAR_MASS["water"]
        return water_vapour_pressure(temperature) * water_moles / (water_moles + glycol_moles)

    def boiling_temperature(self, pressure: Array) -> Array:
        """Temperature (K) at which the mixture boils under absolute ``pressure`` (Pa)."""
        return _boiling(self.vapour_pressure, pressure)


def water_vapour_pressure(temperature: Array) -> Array:
    """Vapour pressure of water (Pa), 273 to 473 K, by Wagner and Pruß (IAPWS, 2002)."""
    theta = 1.0 - np.asarray(temperature, dtype=float) / 647.096
    series = (
        -7.85951783 * theta
        + 1.84408259 * theta**1.5
        - 11.7866497 * theta**3
        + 22.6807411 * theta**3.5
        - 15.9618719 * theta**4
        + 1.80122502 * theta**7.5
    )
    return 22.064e6 * np.exp(647.096 / temperature * series)


def _boiling(vapour_pressure: Any, pressure: Array) -> Array:
    """Newton on ln p against 1/T, which is close to a straight line: four steps reach a microkelvin."""
    temperature = np.full(np.shape(pressure), 380.0)
    for _ in range(6):
        step = 1e-3
        here = np.log(vapour_pressure(temperature))
        slope = (np.log(vapour_pressure(temperature + step)) - here) / step
        temperature = temperature + (np.log(pressure) - here) / slope
    return temperature


@dataclass(frozen=True)
class Oil:
    """Engine, gearbox or dielectric oil of a mineral or polyalphaolefin kind.

    Parameters
    ----------
    viscosity_40, viscosity_100 : kinematic viscosity at 40 and 100 °C (m²/s), ASTM D341 between.
    density_15 : density at 15 °C (kg/m³).

    Limits: 0 to 150 °C, viscosity above 2 mm²/s.
    """

    viscosity_40: Array = 68e-6
    viscosity_100: Array = 11e-6
    density_15: Array = 860.0

    def properties(self, temperature: Array) -> Properties:
        """Properties at ``temperature`` (K)."""
        celsius = temperature - ZERO_CELSIUS
        gravity = self.density_15 / 999.0
        density = self.density_15 - 0.65 * (celsius - 15.0)
        return Properties(
            density=density,
            heat_capacity=(1685.0 + 3.39 * celsius) / np.sqrt(gravity),
            viscosity=density * self._kinematic(temperature),
            conductivity=0.117 * (1.0 - 0.00054 * celsius) / gravity,
        )

    def _kinematic(self, temperature: Array) -> Array:
        """ASTM D341: log log (ν + 0.7) is straight against log T, ν in mm²/s."""
        low = np.log10(np.log10(1e6 * np.asarray(self.viscosity_40) + 0.7))
        high = np.log10(np.log10(1e6 * np.asarray(self.viscosity_100) + 0.7))
        slope = (high - low) / np.log10(373.15 / 313.15)
        line = low + slope * np.log10(np.asarray(temperature) / 313.15)
        return 1e-6 * (10.0 ** (10.0**line) - 0.7)

    def vapour_pressure(self, temperature: Array) -> Array:
        """An oil does not boil at these temperatures; it ages. Zero."""
        return np.zeros(np.shape(temperature))

    def boiling_temperature(self, pressure: Array) -> Array:
        """None below 150 °C; infinity, so that no finding is raised."""
        return np.full(np.shape(pressure), np.inf)
