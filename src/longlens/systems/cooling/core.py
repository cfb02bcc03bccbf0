"""One heat exchanger core seen from outside: its conductances and pressure drops on both sides.

A core is described by what a photograph shows (face, depth, collectors, passes) and by what is assumed
where it cannot be seen (pitches, thicknesses). ``prepare`` turns it into constants that do not change with
flow; the functions below then cost a few array operations per operating point.

The measure of a core here is its *inlet conductance* G = Q / (T_liquid,in − T_air,in) in W/K (ε C_min in the
books): linear in temperature, so that a network of cores stays linear once the flows are known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from . import air as dry_air
from . import fins
from .effectiveness import counter_passes, crossflow_unmixed, parallel_passes
from .fins import LouvredFin, OffsetStrip
from .friction import (
    LAMINAR_END,
    TURBULENT_START,
    darcy_with_slope,
    laminar_constant_rectangle,
    laminar_nusselt_rectangle,
    nusselt,
)
from .liquids import Properties

Array = Any


@dataclass(frozen=True)
class Core:
    """A core; every number may be an array over draws. Lengths m, areas m², angles rad, W/(m K).

    face_area : developed face (along the curve when the core is bent).
    frontal_area : the same seen along the flow; None means flat and square to it.
    tube_length : length of one tube in the face, i.e. the side of the face along the tubes.
    depth : with the air. tube_pitch, tube_height (outside, in the face), tube_wall.
    fin_pitch, fin_thickness, louvre_pitch, louvre_angle, louvre_share (louvre length over fin height).
    rows : tubes one behind the other in the depth.
    passes, arrangement : "face" (the passes lie side by side and both meet fresh air), "depth_counter" or
        "depth_parallel" (behind each other, the liquid working against or with the air).
    air_fins : None for louvred fins, or an offset strip.
    inner_fins : None for plain tubes, or an offset strip inside (bar-plate, oil and charge-air cores).
    collector_diameter, connector_diameter : inside; collector_taper : end over start diameter (1 = none).
    same_end : both connectors at the same end of the collectors.
    j_factor, f_factor, tube_factor, tube_loss_factor : model error, multiplying the correlations.
    slow_tube_factor : as tube_factor, for laminar flow in plain tubes; between Re 2,300 and 4,000 the two blend.
    built_factor : model error of the whole core on its overall conductance.
    """

    face_area: Array
    tube_length: Array
    depth: Array
    frontal_area: Array | None = None
    tube_pitch: Array = 0.0095
    tube_height: Array = 0.0019
    tube_wall: Array = 0.00027
    fin_pitch: Array = 0.0014
    fin_thickness: Array = 0.0001
    louvre_pitch: Array = 0.0011
    louvre_angle: Array = 0.471
    louvre_share: Array = 0.85
    rows: int = 1
    passes: int = 1
    arrangement: str = "face"
    air_fins: OffsetStrip | None = None
    inner_fins: OffsetStrip | None = None
    fin_conductivity: Array = 190.0
    tube_conductivity: Array = 170.0
    fouling: Array = 0.0
    collector_diameter: Array = 0.030
    connector_diameter: Array = 0.025
    collector_taper: Array = 1.0
    same_end: bool = False
    j_factor: Array = 1.0
    f_factor: Array = 1.0
    tube_factor: Array = 1.0
    slow_tube_factor: Array = 1.0
    tube_loss_factor: Array = 1.0
    built_factor: Array = 1.0

    def scaled(self, area_factor: Array) -> Core:
        """The same core with its face made larger by more tubes of the same length."""
        frontal = None if self.frontal_area is None else self.frontal_area * area_factor
        return replace(self, face_area=self.face_area * area_factor, frontal_area=frontal)


@dataclass(frozen=True)
class Prepared:
    """What of a core does not depend on flow; made by :func:`prepare`."""

    core: Core
    free_area: Array  # air, narrowest section, m²
    air_area: Array  # total air-side surface, m²
    fin_share: Array  # of it, the fins
    air_diameter: Array
    j_constant: Array
    louvred: LouvredFin | None
    friction: fins.LouvredFriction | None
    turning_loss: Array
    tubes_per_pass: Array
    tube_section: Array  # of one pass, m²
    tube_diameter: Array
    tube_surface: Array  # wetted, all tubes, m²
    aspect: Array
    laminar_constant: Array
    laminar_nusselt: Array
    wall_resistance: Array
    end_loss: Array  # tube entry and exit, on the tube velocity
    collector_loss: Array  # per (kg/s)²·(1/ρ): connectors and collectors
    liquid_way: Array  # length of the liquid's way through the tubes


def prepare(core: Core) -> Prepared:
    """Work out the constants of ``core`` once per draw."""
    fin_height = core.tube_pitch - core.tube_height
    cells = core.face_area / (core.tube_pitch * core.fin_pitch)
    tubes = core.face_area / (core.tube_length * core.tube_pitch)
    air = _air_constants(core, fin_height, cells)
    return Prepared(core=core, **air, **_tube_constants(core, tubes))


def _air_constants(core: Core, fin_height: Array, cells: Array) -> dict[str, Any]:
    frontal = core.face_area if core.frontal_area is None else core.frontal_area
    # A bent or slanted face turns the flow into and out of its fins: one velocity head of the part turned.
    cosine = np.minimum(frontal / core.face_area, 1.0)
    turning = 2.0 * (1.0 - cosine**2)
    if core.air_fins is None:
        fin = LouvredFin(
            core.fin_pitch,
            fin_height,
            core.depth,
            core.fin_thickness,
            core.louvre_pitch,
            core.louvre_share * fin_height,
            core.louvre_angle,
            core.depth,
            core.tube_pitch,
        )
        fin_area = 2.0 * fin_height * core.depth * cells
        tube_area = 2.0 * (core.fin_pitch - core.fin_thickness) * core.depth * cells
        free = (core.fin_pitch - core.fin_thickness) * (fin_height - core.fin_thickness) * cells
        return {
            "free_area": free,
            "air_area": fin_area + tube_area,
            "fin_share": fin_area / (fin_area + tube_area),
            "air_diameter": 4.0 * free * core.depth / (fin_area + tube_area),
            "j_constant": fins.louvred_j_constant(fin) * core.j_factor,
            "louvred": fin,
            "friction": fins.louvred_friction(fin),
            "turning_loss": turning,
        }
    s, h, t, _ = core.air_fins
    cells = core.face_area / ((s + t) * (h + t + core.tube_height))
    fin_area = 2.0 * h * core.depth * cells
    total = fin_area + 2.0 * s * core.depth * cells
    return {
        "free_area": s * h * cells,
        "air_area": total,
        "fin_share": fin_area / total,
        "air_diameter": fins.offset_strip_hydraulic_diameter(core.air_fins),
        "j_constant": core.j_factor,
        "louvred": None,
        "friction": None,
        "turning_loss": turning,
    }


def _tube_constants(core: Core, tubes: Array) -> dict[str, Any]:
    height = core.tube_height - 2.0 * core.tube_wall
    gap = 0.002 if core.rows > 1 else 0.0
    width = (core.depth - gap * (core.rows - 1)) / core.rows - 2.0 * core.tube_wall
    per_pass = tubes * core.rows / core.passes
    aspect = height / width
    section = per_pass * height * width
    surface = 2.0 * (height + width) * core.tube_length * tubes * core.rows
    diameter = 2.0 * height * width / (height + width)
    if core.inner_fins is not None:
        s, h, t, _ = core.inner_fins
        section = section * s / (s + t)
        surface = surface * (s + h) / (s + t)
        diameter = fins.offset_strip_hydraulic_diameter(core.inner_fins)
    # The collector's own area: a branching and a joining loss of one head of the collector each (Idelchik's
    # tees scatter about that), and one and a half heads of the connector (exit into it 1, entry 0.5).
    collector_area = np.pi / 4.0 * np.asarray(core.collector_diameter) ** 2
    connector_area = np.pi / 4.0 * np.asarray(core.connector_diameter) ** 2
    return {
        "tubes_per_pass": per_pass,
        "tube_section": section,
        "tube_diameter": diameter,
        "tube_surface": surface,
        "aspect": aspect,
        "laminar_constant": laminar_constant_rectangle(aspect),
        "laminar_nusselt": laminar_nusselt_rectangle(aspect),
        "wall_resistance": core.tube_wall / (core.tube_conductivity * surface) + core.fouling / surface,
        "end_loss": 1.5,
        "collector_loss": 0.75 / connector_area**2 + core.passes / collector_area**2,
        "liquid_way": core.tube_length * core.passes,
    }


def air_conductance(prepared: Prepared, mass_flow: Array, temperature: Array) -> Array:
    """η h A on the air side (W/K).

    Parameters
    ----------
    mass_flow : air through the core (kg/s). temperature : mean air temperature (K) for the properties.
    """
    core = prepared.core
    flux = np.maximum(mass_flow, 1e-9) / prepared.free_area
    mu, cp = dry_air.viscosity(temperature), dry_air.heat_capacity(temperature)
    prandtl = mu * cp / dry_air.conductivity(temperature)
    if core.air_fins is None:
        # Below the correlation's range (Re 100) the j-curve is held: louvres then work as a duct.
        reynolds = np.maximum(flux * core.louvre_pitch / mu, 100.0)
        j = prepared.j_constant * reynolds**-0.49
        half = 0.5 * (core.tube_pitch - core.tube_height)
        thickness = core.fin_thickness
    else:
        reynolds = np.maximum(flux * prepared.air_diameter / mu, 120.0)
        j = prepared.j_constant * fins.offset_strip_j(core.air_fins, reynolds)
        half, thickness = 0.5 * core.air_fins.height, core.air_fins.thickness
    film = j * flux * cp / np.cbrt(prandtl * prandtl)
    efficiency = fins.fin_efficiency(film, core.fin_conductivity, thickness, half)
    return film * prepared.air_area * (1.0 - prepared.fin_share * (1.0 - efficiency))


def air_pressure_drop(prepared: Prepared, mass_flow: Array, inlet: Array, outlet: Array, pressure: Array) -> Array:
    """Pressure drop of the air through a core (Pa): friction, turning, and the acceleration by heating.

    The core equation of Kays and London without entry and exit terms, which Chang et al. hold in f.

    Parameters
    ----------
    mass_flow : kg/s. inlet, outlet : air temperatures (K). pressure : ambient (Pa).
    """
    core = prepared.core
    mean = 0.5 * (inlet + outlet)
    mu = dry_air.viscosity(mean)
    flux = np.maximum(mass_flow, 1e-9) / prepared.free_area
    if prepared.friction is not None:
        factor = fins.louvred_f(prepared.friction, flux * core.louvre_pitch / mu)
    else:
        assert core.air_fins is not None
        factor = fins.offset_strip_f(core.air_fins, np.maximum(flux * prepared.air_diameter / mu, 5.0))
    head = 0.5 * flux * flux * (dry_air.GAS_CONSTANT / pressure)
    sigma = prepared.free_area / core.face_area
    friction = core.f_factor * factor * (4.0 * core.depth / prepared.air_diameter) * mean
    acceleration = (1.0 + sigma**2) * (outlet - inlet)
    return head * (friction + acceleration + prepared.turning_loss * sigma**2 * inlet)


def tube_conductance(prepared: Prepared, mass_flow: Array, liquid: Properties) -> Array:
    """h A inside the tubes, with the wall in series (W/K)."""
    core = prepared.core
    flux = np.maximum(np.abs(mass_flow), 1e-9) / prepared.tube_section
    reynolds = flux * prepared.tube_diameter / liquid.viscosity
    if core.inner_fins is None:
        number = nusselt(
            reynolds,
            liquid.prandtl,
            prepared.tube_diameter / core.tube_length,
            laminar=prepared.laminar_nusselt,
        )
        film = number * liquid.conductivity / prepared.tube_diameter
        surface_efficiency: Array = 1.0
        turbulent = np.clip((reynolds - LAMINAR_END) / (TURBULENT_START - LAMINAR_END), 0.0, 1.0)
        film = film * (core.slow_tube_factor + turbulent * (core.tube_factor - core.slow_tube_factor))
    else:
        bounded = np.maximum(reynolds, 20.0)
        j = fins.offset_strip_j(core.inner_fins, bounded)
        film = j * bounded * np.cbrt(liquid.prandtl) * liquid.conductivity / prepared.tube_diameter
        film = core.tube_factor * film
        s, h, t, _ = core.inner_fins
        efficiency = fins.fin_efficiency(film, core.fin_conductivity, t, 0.5 * h)
        surface_efficiency = 1.0 - h / (h + s) * (1.0 - efficiency)
    inside = film * prepared.tube_surface * surface_efficiency
    return inside / (1.0 + inside * prepared.wall_resistance)


def tube_pressure_drop(prepared: Prepared, mass_flow: Array, liquid: Properties) -> tuple[Array, Array]:
    """Pressure drop of the liquid through the whole core (Pa) and its slope (Pa s/kg), odd in the flow."""
    core = prepared.core
    size = np.abs(mass_flow) + 1e-12
    flux = size / prepared.tube_section
    reynolds = flux * prepared.tube_diameter / liquid.viscosity
    if core.inner_fins is None:
        factor, bend = darcy_with_slope(reynolds, 0.0, prepared.laminar_constant)
    else:
        bounded = np.maximum(reynolds, 5.0)
        factor = 4.0 * fins.offset_strip_f(core.inner_fins, bounded) * np.maximum(5.0 / reynolds, 1.0)
        bend = np.where(reynolds < 5.0, -1.0, -0.6)
    head = 0.5 * flux * flux / liquid.density * core.tube_loss_factor
    friction = head * factor * prepared.liquid_way / prepared.tube_diameter
    ends = head * prepared.end_loss * core.passes + size * size * prepared.collector_loss / liquid.density
    sign = np.sign(mass_flow)
    return sign * (friction + ends), (friction * (2.0 + bend) + 2.0 * ends) / size


def inlet_conductance(
    prepared: Prepared, air_side: Array, tube_side: Array, air_rate: Array, liquid_rate: Array
) -> Array:
    """G = Q / (T_liquid,in − T_air,in) (W/K) of the whole core.

    Parameters
    ----------
    air_side, tube_side : conductances of the two sides (W/K). air_rate, liquid_rate : ṁ c_p (W/K), ≥ 0.
    """
    core = prepared.core
    overall = core.built_factor * air_side * tube_side / (air_side + tube_side)
    liquid_rate = np.maximum(np.abs(liquid_rate), 1e-9)
    air_rate = np.maximum(air_rate, 1e-9)
    n = core.passes
    if n == 1 or core.arrangement == "face":
        share = 1.0 / n
        smaller = np.minimum(air_rate * share, liquid_rate)
        larger = np.maximum(air_rate * share, liquid_rate)
        one = crossflow_unmixed(overall * share / smaller, smaller / larger) * smaller
        if n == 1:
            return one
        return liquid_rate * (1.0 - (1.0 - one / liquid_rate) ** n)
    smaller, larger = np.minimum(air_rate, liquid_rate), np.maximum(air_rate, liquid_rate)
    ratio = smaller / larger
    single = crossflow_unmixed(overall / n / smaller, ratio)
    combine = counter_passes if core.arrangement == "depth_counter" else parallel_passes
    return combine(single, ratio, n) * smaller


def collector_unevenness(prepared: Prepared, mass_flow: Array, liquid: Properties) -> Array:
    """Spread of the tube flows by the collectors: standard deviation over mean, a fraction.

    Static pressure rises along a dividing collector and falls along a joining one (Bajura and Jones 1976:
    about 0.95 and 2 heads); with both connectors at one end the two partly cancel, at opposite ends they
    add. First order: the tubes' flow goes with √Δp. A taper hardly changes this spread; what it saves is
    volume and weight.
    """
    core = prepared.core
    along = np.linspace(0.0, 1.0, 9)
    area_at = (1.0 - (1.0 - np.asarray(core.collector_taper)[..., None]) * along) ** 2
    speed = (1.0 - along) / np.maximum(area_at, 1e-6)
    recovered = 1.0 - np.minimum(speed, 1.0) ** 2
    difference = (2.0 - 0.95) if core.same_end else (2.0 + 0.95)
    spread = difference * np.std(recovered, axis=-1)
    start = np.pi / 4.0 * np.asarray(core.collector_diameter) ** 2
    head = 0.5 * (mass_flow / start) ** 2 / liquid.density
    drop = np.abs(tube_pressure_drop(prepared, mass_flow, liquid)[0]) / core.passes
    return 0.5 * spread * head / np.maximum(drop, 1e-9)
