"""Mark to number in process: one mark moved on twelve shots with some 600 marks, the quick answer against the full survey.

Each step moves another mark by a pixel or two and takes all measures with their joint draws. Wall time; on a machine that others
share it tells more of them than of the code, so the processor's own time stands beside it.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import numpy as np

from longlens.dossier.exchange import ExchangeDocument, read_exchange
from longlens.survey.answer import Solution, solve
from longlens.survey.live import Live
from longlens.survey.planner import plan
from tools.studies.simulated_cars import simulate

SHOTS, MARKS, STEPS = 12, 600, 60


def document() -> ExchangeDocument:
    """Twelve shots; marks of points left out at random until some 600 remain."""
    doc = simulate(7, shots=SHOTS, pairs=40).document
    rng = np.random.default_rng(0)
    points = [m for m in doc["marks"] if "point" in m]
    rims = [m for m in doc["marks"] if "point" not in m]
    keep = rng.permutation(len(points))[: MARKS - len(rims)]
    doc["marks"] = [points[i] for i in sorted(keep)] + rims
    return read_exchange(doc)[0]


def steps(solution: Solution, n: int) -> Iterator[tuple[float, float, bool]]:
    """(wall s, processor s, whether it was answered) of n changes one after another."""
    rng = np.random.default_rng(1)
    live, doc = Live(solution), solution.net.document
    live.warm()
    numbers = [i for i, m in enumerate(doc.marks) if m.point is not None]
    for k in range(n):
        i = int(rng.choice(numbers))
        marks = list(doc.marks)
        marks[i] = marks[i].model_copy(update={"x": marks[i].x + rng.normal(0, 1), "y": marks[i].y + rng.normal(0, 1)})
        changed = doc.model_copy(update={"marks": marks})
        wall, own = time.perf_counter(), time.process_time()
        got = live.update(changed)
        took = time.perf_counter() - wall, time.process_time() - own
        if got.solution is not None:
            doc = changed
        if k:  # the first warms the caches
            yield *took, got.solution is not None


def rows() -> list[dict[str, Any]]:
    """Rows for ``make bench``."""
    doc = document()
    began, own = time.perf_counter(), time.process_time()
    solution = solve(doc)
    full, full_own = time.perf_counter() - began, time.process_time() - own
    took = list(steps(solution, STEPS))
    wall, cpu = 1000 * np.array([t[0] for t in took]), 1000 * np.array([t[1] for t in took])
    began = time.perf_counter()
    found = plan(solution, next(iter(solution.values)))
    planned = time.perf_counter() - began
    size = f"{len(doc.shots)} shots, {len(doc.marks)} marks, {len(solution.values)} measures"
    return [
        {"what": f"mark to number, p50 ({size})", "value": float(np.percentile(wall, 50)), "unit": "ms"},
        {"what": "mark to number, p95", "value": float(np.percentile(wall, 95)), "unit": "ms"},
        {"what": "the same in processor time, p50", "value": float(np.percentile(cpu, 50)), "unit": "ms"},
        {"what": "the same in processor time, p95", "value": float(np.percentile(cpu, 95)), "unit": "ms"},
        {"what": "steps answered quickly", "value": float(np.mean([t[2] for t in took]) * 100), "unit": "%"},
        {"what": "full survey over quick answer, processor time", "value": 1000 * full_own / np.median(cpu), "unit": "times"},
        {"what": "full survey", "value": full, "unit": "s"},
        {"what": f"plan for one number ({len(found.advice)} pieces of advice)", "value": planned, "unit": "s"},
    ]  # fmt: skip
