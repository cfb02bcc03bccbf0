"""Heat that must be carried away: engines, charge air, gearboxes, brakes, electric machines, batteries.

Shares and losses are given with a spread by the sheet; here are the plain relations.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from . import air as dry_air

Array = Any

#: Lower heating values (J/kg), handbook values: petrol 42.7, diesel 42.6, ethanol 26.8, methanol 19.9 MJ/kg.
HEATING_VALUE = {"petrol": 42.7e6, "diesel": 42.6e6, "ethanol": 26.8e6, "methanol": 19.9e6}
#: Stoichiometric air–fuel ratios by mass, same order of sources.
STOICHIOMETRIC = {"petrol": 14.6, "diesel": 14.5, "ethanol": 9.0, "methanol": 6.5}
ROTOR_GAMMA = 1.4


class EngineHeat(NamedTuple):
    """Heat by way out, W; ``fuel`` is the fuel's power, ``air_flow`` and ``fuel_flow`` kg/s."""

    fuel: Array
    coolant: Array
    oil: Array
    exhaust_and_rest: Array
    air_flow: Array
    fuel_flow: Array


def engine_heat(
    power: Array,
    efficiency: Array,
    coolant_share: Array,
    oil_share: Array,
    fuel: str = "petrol",
    lambda_: Array = 1.0,
) -> EngineHeat:
    """Heat of a combustion engine at brake power ``power`` (W).

    Parameters
    ----------
    efficiency : brake thermal efficiency, 0.2 to 0.5. coolant_share, oil_share : heat to coolant and oil over
        *brake power*. lambda_ : air over stoichiometric air.

    Heywood (Internal Combustion Engine Fundamentals, table 12.1; from memory) gives for petrol engines at
    full load 17–26 % of the fuel to the coolant against 25–28 % to the shaft, so 0.6 to 1.0 of the power,
    oil included; racing engines lie lower.
    """
    fuel_power = power / efficiency
    fuel_flow = fuel_power / HEATING_VALUE[fuel]
    coolant, oil = coolant_share * power, oil_share * power
    return EngineHeat(
        fuel_power,
        coolant,
        oil,
        fuel_power - power - coolant - oil,
        fuel_flow * STOICHIOMETRIC[fuel] * lambda_,
        fuel_flow,
    )


class ChargeAir(NamedTuple):
    """Air behind the compressor: temperature K, pressure Pa, shaft power W."""

    temperature: Array
    pressure: Array
    power: Array


def compress(
    air_flow: Array, inlet: Array, inlet_pressure: Array, pressure_ratio: Array, efficiency: Array
) -> ChargeAir:
    """Compressor of isentropic ``efficiency`` (total to total), any text on turbomachinery.

    T₂ = T₁ (1 + (π^((γ−1)/γ) − 1)/η). Give the air flow of one bank to get one bank's heat.
    """
    rise = inlet * (pressure_ratio ** ((ROTOR_GAMMA - 1.0) / ROTOR_GAMMA) - 1.0) / efficiency
    return ChargeAir(
        inlet + rise,
        inlet_pressure * pressure_ratio,
        air_flow * dry_air.heat_capacity(inlet + 0.5 * rise) * rise,
    )


def machine_loss(power: Array, efficiency: Array, speed_share: Array = 1.0, load_share: Array = 1.0) -> Array:
    """Loss (W) of an electric machine or inverter at shaft power ``power`` (W).

    ``efficiency`` holds at full load and speed. Of the loss there, 30 % goes with speed alone (iron, windage)
    and 70 % with the square of the load (copper): common practice, no source.
    """
    full = np.abs(power) * (1.0 / efficiency - 1.0) / np.maximum(load_share, 1e-6)
    return full * (0.3 * speed_share + 0.7 * load_share**2)


def battery_loss(power: Array, voltage: Array, resistance: Array) -> Array:
    """I²R loss (W) of a battery giving terminal ``power`` (W) with open-circuit ``voltage`` (V), R in Ω.

    The current solves P = (U − I R) I. Beyond the power the battery can give, U²/4R, the loss there is given.
    """
    bounded = np.minimum(power, voltage**2 / (4.0 * resistance))
    current = (voltage - np.sqrt(voltage**2 - 4.0 * resistance * bounded)) / (2.0 * resistance)
    return current**2 * resistance


def gearbox_loss(power: Array, efficiency: Array) -> Array:
    """Heat of a gearbox (W) at the power passing through it."""
    return power * (1.0 - efficiency)


def climb_power(mass: Array, speed: Array, grade: Array, drag_area: Array, rolling: Array, density: Array) -> Array:
    """Power at the wheels (W) on a steady climb: weight, rolling and drag. ``grade`` as a tangent."""
    angle = np.arctan(grade)
    force = mass * 9.80665 * (np.sin(angle) + rolling * np.cos(angle)) + 0.5 * density * drag_area * speed**2
    return force * speed
