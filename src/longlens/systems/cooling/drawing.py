"""A solved network as named lines in the car's space, with flow and temperature: for pages, plates and films.

Pure data, no drawing library: each :class:`Run` is one part as a polyline in m (ISO 8855), in the direction of the
flow, with the interval of its flow and of the temperatures at its ends. How sure the line is, is told by ``certainty``
(solid, dashed, dotted by the house's rule). Colours are left to the caller; :func:`heat_share` scales a temperature
to 0…1 for a palette.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from longlens.systems.given import Structured
from longlens.systems.run import Outcome

from .answers import Interval
from .comparing import Variant
from .components import GasCore, Part
from .layout import Certainty, Layout, part_lines, through_face
from .model import Solution

Array = Any
_KINDS = {
    "Pipe": "pipe",
    "Pump": "pump",
    "Valve": "valve",
    "Thermostat": "thermostat",
    "Passage": "passage",
    "CorePart": "core",
    "GasCooledByLiquid": "charge cooler",
}


@dataclass(frozen=True)
class Run:
    """One part of a circuit, to draw.

    points : (n, 3) m, in the direction of the flow. flow : kg/s, never negative. inlet, outlet : K where the flow enters
    and leaves. heat : W taken in (negative: given to the air), nan where none is known. certainty : of the line.
    """

    name: str
    circuit: str
    kind: str
    points: np.ndarray
    flow: Interval
    inlet: Interval
    outlet: Interval
    heat: Interval
    certainty: Certainty

    @property
    def still(self) -> bool:
        """No flow to speak of."""
        return not self.flow.median > 1e-4

    @property
    def temperature(self) -> float:
        """Mean of the medians at both ends, K."""
        return 0.5 * (self.inlet.median + self.outlet.median)

    def label(self) -> str:
        """``feed left: 0.31 (0.27 to 0.35) kg/s, 62 to 62 °C``."""
        told = f"{self.name}: {self.flow.told()} kg/s"
        ends = [value.median - 273.15 for value in (self.inlet, self.outlet)]
        if all(np.isfinite(ends)):
            told += f", {ends[0]:.0f} °C" if abs(ends[0] - ends[1]) < 0.5 else f", {ends[0]:.0f} to {ends[1]:.0f} °C"
        return told


@dataclass(frozen=True)
class Outline:
    """A core's face (n, 3), or a line that carries no steady flow, such as a bleed line."""

    name: str
    kind: str
    points: np.ndarray


@dataclass(frozen=True)
class Drawing:
    """All of a network at one case. ``lowest`` and ``highest``: temperatures (K) over all runs, for one palette."""

    case: int
    speed: float
    runs: tuple[Run, ...]
    outlines: tuple[Outline, ...]
    lowest: float
    highest: float


def drawing_of(outcome: Outcome, case: int | None = None) -> Drawing | None:
    """The drawing of a run of the sheet at a case (None: the tightest); None where nothing is solved or placed.

    The file's bleed lines come with it.
    """
    variant, layout = outcome.inner.get("solved"), outcome.inner.get("layout")
    if variant is None or layout is None or layout.empty:
        return None
    lines = outcome.inputs.get("lines")
    if isinstance(lines, Structured):
        others = {name: lines.value["lines"][name] for name in lines.value["bleed"]}
        layout = replace(layout, others={**layout.others, **others}, outlets=lines.value["outlets"])
    at = int(outcome.inner["tightest_case"]) if case is None else case
    return draw(variant, layout, at, float(np.ravel(outcome.axes["speed"])[at]))


def draw(variant: Variant, layout: Layout, case: int, speed: float = float("nan")) -> Drawing:
    """The solved network at case number ``case``, as lines where it was measured.

    Parameters
    ----------
    variant : solved, as the sheet keeps it in ``outcome.inner["solved"]``. layout : its ``inner["layout"]``.
    case : index into the cases. speed : m/s, only handed on.

    Parts that cannot be placed at all are left out. Limits: a line's own uncertainty is not in it; take the draws of
    the layout for that.
    """
    solution = variant.solution
    runs = []
    for circuit in variant.network.circuits:
        placed = part_lines(circuit, layout)
        for part in circuit.parts:
            if part.name in placed:
                points, certainty = placed[part.name]
                runs.append(_run(part, circuit.name, points, certainty, solution, case))
    runs += [_charge_run(gas, layout, solution, case) for gas in variant.network.gas_cores if gas.name in layout.faces]
    ends = [t.median for run in runs for t in (run.inlet, run.outlet) if np.isfinite(t.median)]
    outlines = [Outline(name, "core", np.median(face.outline, axis=0)) for name, face in layout.faces.items()]
    outlines += [Outline(name, "line", np.median(line, axis=0)) for name, line in layout.others.items()]
    low, high = (min(ends), max(ends)) if ends else (float("nan"), float("nan"))
    return Drawing(case, speed, tuple(runs), tuple(outlines), low, high)


def _run(part: Part, circuit: str, points: np.ndarray, certainty: Certainty, solution: Solution, case: int) -> Run:
    flow = _at(solution.flow[part.name], case)
    back = float(np.median(flow)) < 0.0
    given, taken = solution.given.get(part.name), solution.heat.get(part.name)
    kind = _KINDS[type(part).__name__]
    heat: Array = np.nan
    if kind in ("core",):
        heat = -_at(taken, case) if taken is not None else np.nan
    elif given is not None:
        heat = _at(given, case) + (_at(taken, case) if taken is not None else 0.0)
    return Run(
        part.name,
        circuit,
        kind,
        points[::-1] if back else points,
        Interval.of(np.abs(flow)),
        Interval.of(_at(solution.inlet[part.name], case)),
        Interval.of(_at(solution.outlet[part.name], case)),
        Interval.of(heat),
        certainty,
    )


def _charge_run(gas: GasCore, layout: Layout, solution: Solution, case: int) -> Run:
    """An air-to-air charge cooler: the charge air runs along its face's edge as it was given."""
    heat = -_at(solution.heat[gas.name], case) if gas.name in solution.heat else np.nan
    outlet = _at(solution.gas_out[gas.name], case) if gas.name in solution.gas_out else np.nan
    return Run(
        gas.name, "charge air", "charge core", np.median(through_face(layout.faces[gas.name]), axis=0),
        Interval.of(_at(gas.gas_flow, case)), Interval.of(_at(gas.gas_inlet, case)), Interval.of(outlet),
        Interval.of(heat), layout.certainty.get(gas.name, "seen"),
    )  # fmt: skip


def _at(values: Array, case: int) -> Array:
    values = np.atleast_2d(np.asarray(values, dtype=float))
    return values[:, min(case, values.shape[1] - 1)]


def heat_share(temperature: float, drawing: Drawing) -> float:
    """Where a temperature (K) lies between the drawing's lowest (0) and highest (1); 0.5 where all are alike."""
    width = drawing.highest - drawing.lowest
    if not np.isfinite(temperature) or not width > 1e-6:
        return 0.5
    return float(np.clip((temperature - drawing.lowest) / width, 0.0, 1.0))


def width_share(run: Run, drawing: Drawing) -> float:
    """Flow over the largest flow of the drawing, 0 to 1: for line widths."""
    largest = max((one.flow.median for one in drawing.runs), default=0.0)
    return float(run.flow.median / largest) if largest > 0.0 and np.isfinite(run.flow.median) else 0.0


__all__ = ["Drawing", "Outline", "Run", "draw", "drawing_of", "heat_share", "width_share"]
