"""Running: the lap of 2,000 draws against draw by draw, and all five sheets on the demo's dossier.

The dossier is made from the committed marks of the shown Fulmar and surveyed once (not timed); then every sheet is run as given,
with an empty cache, the later ones taking what the earlier ones give. Draw by draw: the same functions on a few single draws,
scaled by count.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from longlens.numbers.number import DRAWS, Number

ALONE = 12  # single draws timed


def rows() -> list[dict[str, Any]]:
    """Rows for the bench's table."""
    return [*lap_rows(), *sheet_rows()]


def lap_rows() -> list[dict[str, Any]]:
    """The lap in one batch and draw by draw, turn about."""
    from longlens.systems.running import track
    from longlens.systems.running.cornering import Sides
    from longlens.systems.running.lap import drive_lap
    from longlens.systems.running.straight import Car

    rng = np.random.default_rng(1)

    def about(value: float, sd: float) -> np.ndarray:
        return value * np.exp(sd * rng.standard_normal((DRAWS, 1)))

    fields = {
        "mass": about(700, 0.02), "front_share": about(0.43, 0.02), "cg_height": about(0.3, 0.06), "wheelbase": about(2.62,
             0.002),
        "friction": about(1.45, 0.07), "power": about(320e3, 0.01), "efficiency": about(0.9, 0.03), "drag_area": about(1.1, 0.1),
        "lift_front": about(1.0, 0.2), "lift_rear": about(1.3, 0.2),
    }  # fmt: skip
    sides = Sides(1.52, 1.475, 0.5, 0.08)
    line = track.invented("ring")

    def drive(take: Any, draws: int) -> Any:
        car = Car(**{k: v[take] for k, v in fields.items()})
        return drive_lap(car, sides, line.curvature, line.step, line.grade, line.closed, draws)

    drive(slice(0, 2), 2)
    batch, single, apart, cpu = [], [], [], []
    for _ in range(3):
        began, began_cpu = time.perf_counter(), time.process_time()
        whole = drive(slice(None), DRAWS)
        batch.append(time.perf_counter() - began)
        cpu.append(time.process_time() - began_cpu)
        began = time.perf_counter()
        picked = rng.integers(0, DRAWS, ALONE)
        for k in picked:
            apart.append(abs(drive(slice(k, k + 1), 1).time[0] - whole.time[k]))
        single.append((time.perf_counter() - began) * DRAWS / ALONE)
    one, many = float(np.median(batch)), float(np.median(single))
    what = f"lap of {line.length:.0f} m, {line.way.size} stations, {DRAWS} draws"
    return [
        {"what": f"{what}, wall", "value": one, "unit": "s"},
        {"what": "the same, processor time", "value": float(np.median(cpu)), "unit": "s"},
        {"what": f"the same draw by draw ({3 * ALONE} timed, scaled by count)", "value": many, "unit": "s"},
        {"what": "ratio", "value": many / one, "unit": "×"},
        {"what": "largest difference of a lap time, batch against single", "value": max(apart), "unit": "s"},
    ]


def demo_numbers(folder: Path, car: str = "fulmar", stage: str = "shown") -> tuple[Any, dict[str, Number]]:
    """An open dossier of the demo's car with its marks and the sheets' inputs, and its numbers."""
    from longlens.demo.build import STEPS
    from longlens.demo.stages import Result, truth_of
    from longlens.dossier.records import Vehicle
    from longlens.dossier.store import Dossier
    from longlens.systems.from_dossier import known_numbers

    path = folder / f"{car}.longlens"
    dossier = Dossier.create(path, Vehicle(name=car), by="bench")
    truth = truth_of(car, stage)
    result = Result(car, stage, path, folder / "x.html", {m["id"]: m["true"] for m in truth["measures"]})
    for step in STEPS:
        if step.what in ("photographs and marks", "inputs of the sheets"):
            step.do(dossier, result, lambda *_: None)
    known, _ = known_numbers(dossier, stage)
    return dossier, known


def sheet_rows() -> list[dict[str, Any]]:
    """All five sheets on the demo's dossier as they hand on to each other, from an empty cache, three times; the median."""
    from longlens.systems import chain, registry
    from longlens.systems.cache import Cache
    from longlens.systems.from_dossier import given_of
    from longlens.systems.run import run

    with tempfile.TemporaryDirectory() as folder:
        dossier, known = demo_numbers(Path(folder))
        with dossier:
            givens = {area: given_of(dossier, area, known) for area in registry.areas()}
    took: dict[str, list[float]] = {area: [] for area in givens}
    cpu, outputs = [], 0
    for turn in range(3):
        cache, handed, began, outputs = Cache(), dict(known), time.process_time(), 0
        for each_time in took.values():
            each_time.append(0.0)
        for step in chain.plan(givens, registry.areas()):
            area, given = step.area, givens[step.area]
            start = time.perf_counter()
            here = type(given)(given.inputs, given.variants, handed, given.scope, given.where, given.draws)
            outcome = run(registry.sheet(area), here, cache=cache)
            handed |= chain.outputs_of(area, outcome)
            took[area][turn] += time.perf_counter() - start
            outputs += len(outcome.numbers) if step.asked else 0
        cpu.append(time.process_time() - began)
    each = {area: float(np.median(t)) for area, t in took.items()}
    out = [{"what": f"sheet {area}, {DRAWS} draws, wall", "value": t, "unit": "s"} for area, t in each.items()]
    out.append(
        {
            "what": f"all five sheets on the shown Fulmar ({outputs} outputs), wall",
            "value": sum(each.values()),
            "unit": "s",
        }
    )
    out.append({"what": "the same, processor time", "value": float(np.median(cpu)), "unit": "s"})
    return out


if __name__ == "__main__":
    for row in rows():
        print(f"{row['what']:85s} {row['value']:12.4g} {row['unit']}")
