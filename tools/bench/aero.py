"""Aero: wings and ride heights of 2,000 draws in one batch against draw by draw with the same functions."""

from __future__ import annotations

import time
from typing import Any

import numpy as np

from longlens.numbers.number import DRAWS

ALONE = 40


def rows() -> list[dict[str, Any]]:
    """Rows for the bench's table."""
    from longlens.systems.aero.wings import Element, Errors, Wing, loads

    rng = np.random.default_rng(2)

    def about(value: float, sd: float) -> np.ndarray:
        return value * np.exp(sd * rng.standard_normal(DRAWS))

    span, height, plate = about(1.6, 0.005), about(0.085, 0.08), about(0.2, 0.05)
    parts = [
        (about(c, 0.05), np.radians(about(a, 0.1)), about(0.075, 0.3))
        for c, a in ((0.23, 4), (0.1, 19), (0.08, 30), (0.06, 41))
    ]

    def wing(take: Any) -> Wing:
        elements = tuple(Element(str(k), c[take], a[take], m[take]) for k, (c, a, m) in enumerate(parts))
        return Wing("wing", span[take], height[take], np.zeros(1), plate[take], elements)

    loads(wing(slice(0, 2)), Errors())
    batch, single, apart = [], [], []
    for _ in range(3):
        began = time.perf_counter()
        whole = loads(wing(slice(None)), Errors()).lift_area
        batch.append(time.perf_counter() - began)
        began = time.perf_counter()
        for k in rng.integers(0, DRAWS, ALONE):
            apart.append(abs(loads(wing(slice(k, k + 1)), Errors()).lift_area[0] / whole[k] - 1))
        single.append((time.perf_counter() - began) * DRAWS / ALONE)
    one, many = float(np.median(batch)), float(np.median(single))
    return [
        {"what": f"wing of four elements over the ground, {DRAWS} draws, wall", "value": one, "unit": "s"},
        {"what": f"the same draw by draw ({3 * ALONE} timed, scaled by count)", "value": many, "unit": "s"},
        {"what": "ratio", "value": many / one, "unit": "×"},
        {"what": "largest difference of the lift area", "value": float(max(apart)), "unit": "relative"},
    ]
