"""The parts of a circuit, and how pressure falls along each.

Every part has a name and two ends (node names). ``drop`` gives the fall of pressure from start to end (Pa)
and its slope (Pa s/kg) for a mass flow in kg/s, positive from start to end; it rises with the flow for every
part, pumps included, so that a network has one solution.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .core import Core, Prepared, prepare, tube_pressure_drop
from .friction import darcy_with_slope
from .liquids import Properties

Array = Any
#: Valves never close to a mathematical nothing; below this opening the branch counts as shut.
LEAST_OPENING = 1e-3
BACKFLOW_LOSS = 1e6


@dataclass(frozen=True)
class Part:
    """Base: a name and two ends."""

    name: str
    start: str
    end: str

    def drop(self, flow: Array, liquid: Properties) -> tuple[Array, Array]:
        raise NotImplementedError

    def heat(self) -> Array:
        """Heat given to the liquid (W)."""
        return 0.0


def _minor(loss: Array, diameter: Array, flow: Array, liquid: Properties) -> tuple[Array, Array]:
    """K ½ρv², turning linear where the flow creeps (Re under about 60) so that its slope never vanishes."""
    area = np.pi / 4.0 * np.asarray(diameter) ** 2
    factor = loss / (2.0 * liquid.density * area**2)
    creep = 50.0 * np.asarray(diameter) * liquid.viscosity
    size = np.sqrt(flow * flow + creep * creep)
    return factor * flow * size, factor * (size + flow * flow / size)


@dataclass(frozen=True)
class Pipe(Part):
    """A pipe or hose: inside diameter (m), length (m), loss of bends and fittings (heads), roughness (m).

    ``path`` may hold the centre line as measured (points × 3, or draws × points × 3), for bleeding.
    """

    diameter: Array = 0.025
    length: Array = 1.0
    loss: Array = 0.0
    roughness: Array = 5e-6
    path: Array | None = field(default=None, compare=False)

    def drop(self, flow: Array, liquid: Properties) -> tuple[Array, Array]:
        diameter = np.asarray(self.diameter)
        area = np.pi / 4.0 * diameter**2
        size = np.abs(flow) + 1e-12
        reynolds = size * diameter / (area * liquid.viscosity)
        factor, bend = darcy_with_slope(reynolds, self.roughness / diameter)
        head = size * size / (2.0 * liquid.density * area**2)
        friction = head * factor * self.length / diameter
        minor = head * self.loss
        slope = (friction * (2.0 + bend) + 2.0 * minor) / size
        return np.sign(flow) * (friction + minor), slope


@dataclass(frozen=True)
class Pump(Part):
    """A centrifugal pump by the ends of its curve for water (1,000 kg/m³).

    shut_off_pressure (Pa), free_flow (m³/s), running (speed over the speed of the curve), droop (share of the
    fall that is straight; the rest is a parabola), efficiency (its losses heat the liquid).
    """

    shut_off_pressure: Array = 50e3
    free_flow: Array = 1e-3
    running: Array = 1.0
    droop: Array = 0.1
    efficiency: Array = 0.4

    def drop(self, flow: Array, liquid: Properties) -> tuple[Array, Array]:
        scale = self.shut_off_pressure * liquid.density / 1000.0
        per_mass = 1.0 / (liquid.density * self.free_flow)
        part = flow * per_mass
        bent = 1.0 - np.asarray(self.droop)
        running = np.maximum(self.running, 1e-3)
        fall = scale * (self.droop * running * part + bent * part * np.abs(part) - self.running**2)
        return fall, scale * per_mass * (self.droop * running + 2.0 * bent * np.abs(part))


@dataclass(frozen=True)
class Valve(Part):
    """A valve or restrictor: bore (m), loss when open (heads), opening 0 to 1, one way or both."""

    diameter: Array = 0.025
    loss: Array = 3.0
    opening: Array = 1.0
    one_way: bool = False

    def drop(self, flow: Array, liquid: Properties) -> tuple[Array, Array]:
        loss = self.loss / np.maximum(self.opening, LEAST_OPENING) ** 2
        if self.one_way:
            loss = np.where(np.asarray(flow) < 0.0, loss * BACKFLOW_LOSS, loss)
        return _minor(loss, self.diameter, flow, liquid)


@dataclass(frozen=True)
class Thermostat(Valve):
    """A valve that opens with the temperature at node ``senses``: from ``opens_at`` to ``full_at`` (K).

    ``closes`` turns it round (the bypass side of a three-way thermostat). ``leak`` is its least opening.
    """

    senses: str = ""
    opens_at: Array = 355.0
    full_at: Array = 367.0
    closes: bool = False
    leak: Array = 0.02

    def wanted(self, temperature: Array) -> Array:
        """Opening that the wax wants at ``temperature`` (K); S-shaped between the two ends."""
        part = np.clip((temperature - self.opens_at) / (self.full_at - self.opens_at), 0.0, 1.0)
        part = part * part * (3.0 - 2.0 * part)
        if self.closes:
            part = 1.0 - part
        return self.leak + (1.0 - self.leak) * part


@dataclass(frozen=True)
class Passage(Part):
    """A part known by one point of its resistance: a jacket, a machine, an inverter, an exchanger's side.

    reference_drop (Pa) at reference_flow (kg/s); exponent 1 (laminar) to 2. ``power`` (W) heats the liquid.
    """

    reference_drop: Array = 10e3
    reference_flow: Array = 0.5
    exponent: Array = 1.8
    power: Array = 0.0

    def drop(self, flow: Array, liquid: Properties) -> tuple[Array, Array]:
        part = flow / self.reference_flow
        small = 1e-6
        size2 = part * part + small * small
        rise = size2 ** (0.5 * (np.asarray(self.exponent) - 1.0))
        slope = rise * (1.0 + (np.asarray(self.exponent) - 1.0) * part * part / size2)
        return self.reference_drop * part * rise, self.reference_drop / self.reference_flow * slope

    def heat(self) -> Array:
        return self.power


@dataclass(frozen=True)
class CorePart(Part):
    """A liquid-to-air core in a circuit; its air comes from the duct that names it."""

    core: Core | None = None
    prepared: Prepared | None = None

    def ready(self) -> CorePart:
        """The same with its constants worked out."""
        if self.prepared is not None:
            return self
        assert self.core is not None
        return CorePart(self.name, self.start, self.end, self.core, prepare(self.core))

    def drop(self, flow: Array, liquid: Properties) -> tuple[Array, Array]:
        assert self.prepared is not None
        return tube_pressure_drop(self.prepared, flow, liquid)


@dataclass(frozen=True)
class GasCooledByLiquid(Passage):
    """The liquid side of an air-to-water charge cooler: hot gas of given flow and temperature.

    gas_rate : ṁ c_p of the gas (W/K). gas_inlet : its temperature (K). conductance : UA (W/K) at the
    reference flow of the liquid; the liquid's half of the resistance follows its flow to the power 0.7.
    """

    gas_rate: Array = 100.0
    gas_inlet: Array = 400.0
    conductance: Array = 300.0


@dataclass(frozen=True)
class Exchanger:
    """Two liquids through one plate or shell exchanger: names of its two sides, each a :class:`Passage`.

    conductance : UA (W/K) with both sides at their reference flows; each side's half of the resistance goes
    with its flow to the power −0.7. arrangement : "counterflow", "parallel_flow" or "shell_and_tube".
    """

    name: str
    first: str
    second: str
    conductance: Array
    arrangement: str = "counterflow"


@dataclass(frozen=True)
class GasCore:
    """An air-to-air charge cooler in a duct: hot gas of given flow (kg/s), inlet K and pressure Pa."""

    name: str
    core: Core
    gas_flow: Array
    gas_inlet: Array
    gas_pressure: Array
    prepared: Prepared | None = None
