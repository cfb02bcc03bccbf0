"""Sheets that hand on: what one area gives, another takes as an input of the same car, draw by draw.

``linked`` of an :class:`~longlens.systems.sheet.Input`, or ``{"output": "AREA.NAME"}`` in a figure, names it.

Three areas take from each other in a ring: aero needs the springs of the suspension and the drag of the cooling air, cooling
needs the pressures that aero finds at its openings, the suspension needs the air's load. They run as one :data:`ROUND`, two of
them twice.
One round is enough: the openings hang neither on the springs nor on the cooling's drag, and the height at which springs and air
balance is settled inside aero, on the suspension's own curves; so what each area gives at its last place in the round would not
change in another one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.errors import LonglensError
from longlens.numbers.number import Number
from longlens.numbers.trail import Origin
from longlens.systems.given import Given
from longlens.systems.run import Outcome
from longlens.systems.suspension.pressed import force_over_travel

#: The ring once round. The last place of an area is where it has all that others hand on.
ROUND = ("suspension", "aero", "cooling", "aero", "suspension")
#: Areas that take from the whole round.
AFTER = ("running",)


def before(area: str) -> tuple[str, ...]:
    """What runs, in order, before an area has all that others hand on to it."""
    if area in AFTER:
        return ROUND
    return ROUND[: len(ROUND) - 1 - ROUND[::-1].index(area)] if area in ROUND else ()


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


def _curve(area: str, name: str, unit: str, values: Any, like: Number, model: str) -> tuple[str, Number]:
    """A curve (N, M), or (M,) without spread, as one number that is handed on whole."""
    draws = np.array(np.broadcast_to(values, (like.n, np.shape(values)[-1])))
    origin = Origin(name, "computed", source=like.origin.source, model=model, inputs=(like.origin,))
    return f"output:{area}.{name}", Number(draws, unit, origin)


def _suspension_extra(outcome: Outcome) -> dict[str, Number]:
    """Force of both wheels of an axle over their travel from rest, up to the bump travel looked at."""
    out: dict[str, Number] = {}
    for end in ("front", "rear"):
        rate = outcome.numbers.get(f"wheel_rate_curve_{end}")
        if rate is None or not np.all(np.isfinite(rate.draws)):
            continue
        travel = np.asarray(outcome.axes["travel"], float)
        force = 2 * force_over_travel(travel, rate.draws)
        model = "wheel rate integrated over travel, both wheels"
        out |= dict([_curve("suspension", f"force_curve_{end}", "N", force, rate, model)])
        out |= dict([_curve("suspension", f"travel_curve_{end}", "m", travel, rate, "the travel looked at")])
    return out


def _aero_extra(outcome: Outcome) -> dict[str, Number]:
    """Downforce, ride heights and lift and drag areas over speed, with the speeds."""
    if "downforce_front" not in outcome.numbers:
        return {}
    one = outcome.numbers["downforce_front"]
    curves = {f"{name}_curve": outcome.numbers[name] for name in _OVER_SPEED}
    out = dict(
        _curve("aero", name, n.unit, n.draws, n, "over speed, springs and air in balance") for name, n in curves.items()
    )
    for end, held in outcome.inner["held"].items():
        out |= dict(
            [_curve("aero", f"{end}_held_curve", "1", held.astype(float), one, "1 where the road holds the car up")]
        )
    for name, area in outcome.inner["curves"].items():
        out |= dict([_curve("aero", f"{name}_area_curve", "m2", area, one, "over speed, springs and air in balance")])
    out |= dict(
        [_curve("aero", "speed_curve", "m/s", np.asarray(outcome.axes["speed"], float), one, "the speeds looked at")]
    )
    return out


_OVER_SPEED = ("downforce_front", "downforce_rear", "ride_height_front", "ride_height_rear", "front_drop", "rear_drop")
_EXTRA: Mapping[str, Callable[[Outcome], dict[str, Number]]] = {
    "cooling": _cooling_extra, "suspension": _suspension_extra, "aero": _aero_extra,
}  # fmt: skip


def handed_on(
    area: str, known: Mapping[str, Number], given: Callable[[str, Mapping[str, Number]], Given]
) -> tuple[dict[str, Number], list[str]]:
    """The numbers known with what all sheets before an area hand on, and remarks on those that could not be run.

    ``given``: an area and the numbers known → what its sheet gets, such as ``given_of`` of a dossier.
    """
    from longlens.systems import registry
    from longlens.systems.run import run

    out, remarks = dict(known), []
    for earlier in before(area):
        try:
            out |= outputs_of(earlier, run(registry.sheet(earlier), given(earlier, out)))
        except LonglensError as e:
            remarks.append(f"nothing is taken from the {earlier} sheet: {e}")
    return out, list(dict.fromkeys(remarks))


@dataclass(frozen=True)
class Run:
    """One run of a plan: an area, whether it is asked for (else it only hands on)."""

    area: str
    asked: bool


def plan(areas: Iterable[str], there: Iterable[str]) -> list[Run]:
    """The runs that give the areas asked for, each once all before it has run; of ``there`` only.

    An area of the round that is asked for is run at its last place; its earlier place only hands on.
    """
    every = list(there)
    asked = [a for a in every if a in set(areas)]
    needed = max((len(before(a)) + (a in ROUND) for a in asked), default=0)
    out = []
    for k, area in enumerate(ROUND[:needed]):
        if area in every:
            out.append(Run(area, area in asked and k == len(before(area))))
    return out + [Run(a, True) for a in asked if a not in ROUND]
