"""The air's way: ram and fan against duct and cores; what comes out, and what it costs in drag.

A duct takes air at the inlet, with a share of the free stream's dynamic pressure, through one or more cores
(front to back) and lets it out where the body's pressure coefficient is known or assumed. Balance of total
pressure along the duct::

    (inlet_recovery − outlet_cp) q∞ + Δp_fan = ½ρ v_in² K_duct + Σ Δp_core + ½ρ_out v_out²

Cooling drag is the loss of momentum of the air taken in (Küchemann and Weber 1953; Meredith 1935 for the
gain by heating). Spillage at the inlet and the drag of the flap that makes ``outlet_cp`` are not in it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from . import air as dry_air
from .air import AirState
from .core import Prepared, air_pressure_drop

Array = Any
FAN_REFERENCE_DENSITY = 1.2


@dataclass(frozen=True)
class Fan:
    """A fan by the ends of its curve at density 1.2 kg/m³ and full speed.

    shut_off_pressure : Pa at no flow. free_flow : m³/s at no pressure. running : speed over full speed.
    The curve between is a parabola; beyond the free flow the wind drives the fan and it resists, by
    ``windmilling`` times what the parabola read on would give (flaps in the shroud lower it).
    """

    shut_off_pressure: Array
    free_flow: Array
    running: Array = 1.0
    windmilling: Array = 0.1


@dataclass(frozen=True)
class Duct:
    """One way of the air through the car.

    cores : names front to back. coverage : share of the last core's face that the first covers (only with
        two cores). inlet_area, outlet_area m². inlet_recovery : total pressure at the inlet over q∞ (1 for a
        clean inlet). outlet_cp : pressure coefficient at the outlet. loss : duct losses in heads of the inlet
        speed. shutter : open share of the inlet. outlet_angle : of the outflow to the car's axis, rad.
    """

    name: str
    cores: tuple[str, ...]
    inlet_area: Array
    outlet_area: Array
    inlet_recovery: Array = 0.9
    outlet_cp: Array = -0.15
    loss: Array = 0.3
    shutter: Array = 1.0
    fan: Fan | None = None
    coverage: Array = 1.0
    outlet_angle: Array = 0.3


def fan_pressure(fan: Fan, volume_flow: Array, density: Array) -> tuple[Array, Array]:
    """Pressure rise of a fan (Pa) and its slope (Pa s/m³) at ``volume_flow`` (m³/s)."""
    scale = fan.shut_off_pressure * density / FAN_REFERENCE_DENSITY
    part = volume_flow / fan.free_flow
    left = fan.running**2 - part * np.abs(part)
    driven = np.where(left < 0.0, fan.windmilling, 1.0)
    return scale * driven * left, -2.0 * scale * driven * np.abs(part) / fan.free_flow


@dataclass(frozen=True)
class AirTemperatures:
    """Where the air stands along one duct: before and after each core (K), from the last thermal solution."""

    before: tuple[Array, ...]
    after: tuple[Array, ...]


#: Exponent of the cores' pressure drop with the flow by which two lanes share the air (louvred fins, 1.5 to 1.7).
_LANE_EXPONENT = 1.6


def _partly_covered(duct: Duct, cores: tuple[Prepared, ...]) -> bool:
    return len(cores) == 2 and bool(np.any(np.asarray(duct.coverage) < 1.0))


def _drops(
    duct: Duct, cores: tuple[Prepared, ...], mass_flow: Array, air: AirState, along: AirTemperatures
) -> list[Array]:
    """Drop of each core; of a partly covering front core with the covered share of an even flow."""
    shares = [1.0] * len(cores)
    if _partly_covered(duct, cores):
        shares[0] = duct.coverage
    return [
        air_pressure_drop(core, share * mass_flow, before, after, air.pressure)
        for core, share, before, after in zip(cores, shares, along.before, along.after, strict=True)
    ]


def stack_drop(
    duct: Duct, cores: tuple[Prepared, ...], mass_flow: Array, air: AirState, along: AirTemperatures
) -> Array:
    """Pressure drop through the stack of cores (Pa).

    With ``coverage`` φ below one the air takes two lanes with the same drop: one through the front core and
    its part of the rear one, one through the free part of the rear core. Each drop goes with the flow to the
    power 1.6 about an even flow, which gives the share through the front core in closed form::

        s = 1 / (1 + (1−φ)/φ · (1 + Δ_front/Δ_rear)^(1/1.6))
    """
    drops = _drops(duct, cores, mass_flow, air, along)
    if not _partly_covered(duct, cores):
        return sum(drops)
    covered = np.clip(duct.coverage, 1e-3, 1.0)
    return (drops[0] + drops[1]) * (_lane_share(covered, drops) / covered) ** _LANE_EXPONENT


def _lane_share(covered: Array, drops: list[Array]) -> Array:
    return 1.0 / (1.0 + (1.0 - covered) / covered * (1.0 + drops[0] / drops[1]) ** (1.0 / _LANE_EXPONENT))


def covered_share(
    duct: Duct, cores: tuple[Prepared, ...], mass_flow: Array, air: AirState, along: AirTemperatures
) -> Array:
    """Share of the duct's air that goes through the front core; 1 unless it covers only a part."""
    if not _partly_covered(duct, cores):
        return 1.0
    flow = np.maximum(mass_flow, 1e-6)
    return _lane_share(np.clip(duct.coverage, 1e-3, 1.0), _drops(duct, cores, flow, air, along))


def solve_air_flow(
    duct: Duct,
    cores: tuple[Prepared, ...],
    speed: Array,
    air: AirState,
    along: AirTemperatures,
    start: Array | None = None,
    tolerance: float = 1e-9,
    passes: int = 8,
) -> Array:
    """Air mass flow (kg/s) that balances the duct; zero where nothing drives it.

    The balance falls with the flow, so one root exists. Newton in ln ṁ with the stack's local exponent,
    found once; from a start within a factor of three it reaches 1e-9 in about six passes.
    """
    q = 0.5 * air.density * speed * speed
    drive = (duct.inlet_recovery - duct.outlet_cp) * q
    hot = air.pressure / (dry_air.GAS_CONSTANT * along.after[-1])
    inlet = np.asarray(duct.inlet_area) * duct.shutter
    quadratic = 0.5 * (duct.loss / (air.density * inlet**2) + 1.0 / (hot * np.asarray(duct.outlet_area) ** 2))
    standing = drive + (fan_pressure(duct.fan, 0.0, air.density)[0] if duct.fan else 0.0)
    flow = start if start is not None else _first_flow(standing, quadratic, cores, air)
    flow = np.maximum(flow, 1e-6)
    nudged = stack_drop(duct, cores, 1.02 * flow, air, along)
    here = stack_drop(duct, cores, flow, air, along)
    exponent = np.log(nudged / here) / np.log(1.02)
    for k in range(passes):
        if k:
            here = stack_drop(duct, cores, flow, air, along)
        fan, fan_slope = fan_pressure(duct.fan, flow / air.density, air.density) if duct.fan else (0.0, 0.0)
        resist = quadratic * flow * flow
        error = drive + fan - resist - here
        slope = fan_slope * flow / air.density - 2.0 * resist - exponent * here  # d(error)/d ln ṁ
        step = np.clip(-error / slope, -1.2, 1.2)
        flow = flow * np.exp(step)
        if np.all((np.abs(step) < tolerance) | (standing <= 0.0)):
            break
    return np.where(standing > 0.0, flow, 0.0)


def _first_flow(standing: Array, quadratic: Array, cores: tuple[Prepared, ...], air: AirState) -> Array:
    """Start: all losses quadratic, a core taken as twenty heads of its narrowest section."""
    total = quadratic + sum(10.0 / (air.density * core.free_area**2) for core in cores)
    return np.sqrt(np.maximum(standing, 1e-6) / total)


@dataclass
class AirFlows:
    """Air mass flow (kg/s) by duct and by core, and the share of each duct's air through its front core."""

    duct: dict[str, Array] = field(default_factory=dict)
    core: dict[str, Array] = field(default_factory=dict)
    covered: dict[str, Array] = field(default_factory=dict)


@dataclass(frozen=True)
class Outflow:
    """What leaves a duct: speed m/s, temperature K, and the drag of taking it in (N)."""

    speed: Array
    temperature: Array
    drag: Array


def outflow(duct: Duct, mass_flow: Array, temperature: Array, speed: Array, air: AirState) -> Outflow:
    """Exit speed, exit temperature and cooling drag by momentum.

    D = ṁ (V − v_out cos φ) − outlet_cp q∞ A_out cos φ; heated air leaves faster, which gives back some.
    """
    hot = air.pressure / (dry_air.GAS_CONSTANT * temperature)
    leaving = mass_flow / (hot * duct.outlet_area)
    cosine = np.cos(duct.outlet_angle)
    q = 0.5 * air.density * speed * speed
    drag = mass_flow * (speed - leaving * cosine) - duct.outlet_cp * q * duct.outlet_area * cosine
    return Outflow(leaving, temperature, drag)


@dataclass(frozen=True)
class DuctCoefficients:
    """A duct's openings seen from outside; all nan at rest.

    inlet_cp : static pressure coefficient in the inlet's section. outlet_cp : at the outlet. drag_area : m². flow_ratio :
    speed in the inlet over the car's (the capture ratio A∞/A_in).
    """

    inlet_cp: Array
    outlet_cp: Array
    drag_area: Array
    flow_ratio: Array


def duct_coefficients(duct: Duct, mass_flow: Array, away: Outflow, speed: Array, air: AirState) -> DuctCoefficients:
    """What a duct does to the air around the car, for an aerodynamic balance.

    Parameters
    ----------
    mass_flow : air taken in (kg/s). away : :func:`outflow` of the same. speed : m/s.

    c_p,in = recovery − (v_in/V)²: the total pressure that reaches the inlet less its dynamic pressure there; above
    flow ratio 1 the inlet sucks (negative), below it stems the air. Drag area D/q∞ is momentum drag alone, without
    spillage (Küchemann and Weber 1953). Valid for a moving car; at rest (under 1 m/s) there is no reference: nan.
    """
    moving = np.asarray(speed) > 1.0
    reference = np.where(moving, speed, 1.0)
    inlet = mass_flow / (air.density * np.asarray(duct.inlet_area) * duct.shutter)
    ratio = np.where(moving, inlet / reference, np.nan)
    q = 0.5 * air.density * reference * reference
    return DuctCoefficients(
        duct.inlet_recovery - ratio**2,
        np.where(moving, duct.outlet_cp, np.nan) + 0.0 * ratio,
        np.where(moving, away.drag / q, np.nan),
        ratio,
    )
