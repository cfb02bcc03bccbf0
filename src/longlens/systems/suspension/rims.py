"""Static camber and toe from the axes of rim circles that a survey found.

A rim's edge on photographs gives the direction of its axis. The survey holds a circle that is named lateral to the
car's y axis within a stated spread; what that adds is taken out again, so that it does not pull camber towards
zero. Limits: the rim's edge is a circle square to the wheel's axis; the car stands level on its tyres (vehicle axes as
the survey lays them). Both sides together: mean of left and right. Front toe needs both, for one wheel alone cannot
tell toe from steer. A rim that is marked in more than one stance, or in another than the standing one, is left out.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from longlens.numbers.distributions import Normal
from longlens.numbers.streams import stratified
from longlens.systems.suspension import axes
from longlens.systems.suspension.vectors import Array

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

#: Widest standard deviation, rad, at which a rim tells more than what is assumed of a car nobody has seen: that of
#: the assumptions of ``camber_*`` and ``toe_*``.
WIDEST = {"camber": math.radians(0.9), "toe": math.radians(0.15)}
#: What cannot be a standing wheel's, rad: as the sheet's limits; a steered wheel's, or a wrong mark.
PLAUSIBLE = {
    "camber": (math.radians(-8.0), math.radians(5.0)),
    "toe": (math.radians(-3.0), math.radians(3.0)),
}
#: Share of the stated spread, in variance, above which the marks say too little of the axis.
NOT_FROM_MARKS = 0.5
STANDING = "static"


#: A toe that the rims tell this much worse than the assumption still narrows it by a twentieth.
STILL_HELPS = 3.0


def wheel_angles(solution: Solution) -> dict[str, tuple[Array, set[str]]]:
    """``camber_front`` … ``toe_rear`` → (N,) draws, rad, and the circles they come from; only those that the rims tell
    better than the sheet's assumption."""
    return {k: v for k, v in _all_angles(solution).items() if np.std(v[0]) < WIDEST[k.partition("_")[0]]}


def weighed_toe(solution: Solution) -> dict[str, tuple[Array, set[str]]]:
    """``toe_front``, ``toe_rear`` where the rims tell it worse than the assumption, yet something: both together.

    Product of two normals, draw by draw: w · measured + (1 − w) · assumed with w = s_a²/(s_a² + s_m²) has the mean and the spread
    of the product where the two draw independently (any text on least squares). What is assumed stays a part of it: toe of a car
    whose maker sets it far from zero is drawn towards zero.
    """
    out = {}
    for name, (measured, circles) in _all_angles(solution).items():
        sd, widest = float(np.std(measured)), WIDEST["toe"]
        if name.startswith("toe") and widest <= sd < STILL_HELPS * widest:
            w = widest**2 / (widest**2 + sd**2)
            out[name] = w * measured + (1 - w) * assumed_toe(len(measured), name), circles
    return out


def assumed_toe(draws: int, name: str) -> Array:
    """(N,) draws of the sheet's own assumption on toe, rad, on the stream that the sheet would use."""
    return Normal(0.0, WIDEST["toe"]).quantile(stratified(f"assumed:{name}", draws))


def _all_angles(solution: Solution) -> dict[str, tuple[Array, set[str]]]:
    """Every angle that the rims tell and that can be, however widely."""
    out: dict[str, tuple[Array, set[str]]] = {}
    for end in ("front", "rear"):
        spins = {s: spin for s in ("left", "right") if (spin := _outward(solution, f"{s}.{end}.rim", s)) is not None}
        spread = {s: _stated_spread(solution, f"{s}.{end}.rim") for s in spins}
        for what, angle in (("camber", axes.camber), ("toe", axes.toe)):
            told = {s: without_prior(angle(n), spread[s]) for s, n in spins.items()}
            good = {s: x for s, x in told.items() if x is not None}
            if not good or (what == "toe" and end == "front" and len(good) < 2):
                continue
            x = np.mean(list(good.values()), axis=0) if what == "toe" else _weighted(list(good.values()))
            low, high = PLAUSIBLE[what]
            if low <= np.median(x) <= high:
                out[f"{what}_{end}"] = x, {f"{s}.{end}.rim" for s in good}
    return out


def without_prior(draws: Array, spread: float) -> Array | None:
    """What the marks alone say of an angle whose draws (N,) hold a normal prior about zero of that standard deviation, rad.

    Precisions subtract: 1/s² − 1/p². Infinite: there was none. None where the marks add too little to it.
    """
    share = float(np.var(draws)) / spread**2
    if share > NOT_FROM_MARKS:
        return None
    middle, wider = float(np.mean(draws)), 1.0 / (1.0 - share)
    return middle * wider + (draws - middle) * math.sqrt(wider)


def _weighted(sides: list[Array]) -> Array:
    """Mean of the sides by their precision, draw by draw."""
    w = np.array([1.0 / max(float(np.var(x)), 1e-12) for x in sides])
    return np.asarray(np.tensordot(w / w.sum(), np.stack(sides), axes=1))


def _outward(solution: Solution, circle: str, side: str) -> Array | None:
    """(N, 3) spin axis of a rim as a left wheel's; None where it was not surveyed in the standing stance alone."""
    net = solution.net
    circles = list(net.circles)
    if circle not in circles:
        return None
    stance = {s.id: s.stance for s in net.document.shots}
    if {stance[m.shot] for m in net.document.marks if m.circle == circle} != {STANDING}:
        return None
    axis = solution.drawn.state.normal[:, circles.index(circle)]
    left = axis * np.where(axis[:, 1:2] < 0, -1.0, 1.0)  # a circle's axis has no side of its own
    return left if side == "left" else axes.mirror(-left)


def _stated_spread(solution: Solution, circle: str) -> float:
    c = next(c for c in solution.net.document.circles if c.id == circle)
    return math.radians(c.axis_sd_deg) if c.axis == "lateral" else math.inf
