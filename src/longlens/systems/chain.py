"""Sheets that hand on: what one area gives, another takes as an input of the same car, draw by draw.

``linked`` of an :class:`~longlens.systems.sheet.Input`, or ``{"output": "AREA.NAME"}`` in a figure, names it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping

import numpy as np

from longlens.numbers.number import Number
from longlens.numbers.trail import Origin
from longlens.systems.run import Outcome

#: Which areas run before one, so that it can take what they give.
BEFORE: Mapping[str, tuple[str, ...]] = {
    "aero": ("suspension", "cooling"),
    "running": ("suspension", "cooling", "aero"),
}


def outputs_of(area: str, outcome: Outcome) -> dict[str, Number]:
    """Outputs as ``output:AREA.NAME``; of one along a list of names also each place, as ``output:AREA.NAME.PLACE``."""
    out: dict[str, Number] = {}
    for name, number in outcome.numbers.items():
        along = outcome.sheet.output(name).along
        if not along:
            out[f"output:{area}.{name}"] = number
        elif len(along) == 1 and outcome.sheet.axis(along[0]).unit is None:
            for k, label in enumerate(outcome.axes[along[0]]):
                place = re.sub(r"[^a-z0-9]+", "_", str(label).lower()).strip("_")
                out[f"output:{area}.{name}.{place}"] = number.at(k)
    extra = _EXTRA.get(area)
    if extra is not None:
        out |= extra(outcome)
    return out


def _cooling_extra(outcome: Outcome) -> dict[str, Number]:
    """Drag area of the cooling air of all ducts at the fastest case: the cooling sheet gives forces at its own speeds."""
    drag, air = outcome.numbers.get("cooling_drag"), outcome.inner.get("air")
    if drag is None or air is None or "speed" not in outcome.axes:
        return {}
    speed = np.asarray(outcome.axes["speed"], float)
    k = int(np.argmax(speed))
    if speed[k] < 5:
        return {}
    pressure = 0.5 * np.broadcast_to(np.asarray(air.density, float).reshape(-1), (drag.n,)) * speed[k] ** 2
    total = np.nansum(drag.draws[:, :, k], axis=1) / pressure
    model = "momentum drag of the cooling air over the dynamic pressure, at the fastest case"
    origin = Origin("drag_area", "computed", source=drag.origin.source, model=model, inputs=(drag.origin,))
    return {"output:cooling.drag_area": Number(total, "m2", origin)}


_EXTRA: Mapping[str, Callable[[Outcome], dict[str, Number]]] = {"cooling": _cooling_extra}


def in_order(areas: Iterable[str], there: Iterable[str]) -> list[str]:
    """The areas asked for, in the order of ``there``, with those before them that exist."""
    asked, every = list(areas), list(there)
    needed = {b for a in asked for b in BEFORE.get(a, ())}
    return [a for a in every if a in asked or a in needed]
