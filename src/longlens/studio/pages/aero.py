"""The aero page: downforce, drag and balance over speed, forces in perspective, what stands in the flow."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from longlens.numbers.number import Number
from longlens.studio import elements as el
from longlens.studio import sheet_parts as parts
from longlens.studio.frame import text
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.systems.run import Outcome

SYSTEM = "aero"
#: Index of 200 km/h among the speeds of the curves.
AT = 9
#: Length of the longest arrow, m.
LONGEST = 0.75
#: Greatest height of the areas that show the load along the wings, m.
TALLEST = 0.2
PLAIN = (
    "lift_area",
    "lift_area_front",
    "lift_area_rear",
    "drag_area",
    "balance",
    "lift_over_drag",
    "won_by_dropping",
    "frontal_area",
)


def build(desk: Desk) -> None:
    """Fill the page."""
    parts.sheet_page(desk, "aero", lambda outcomes: _filled(desk, outcomes))


def _filled(desk: Desk, outcomes: parts.Outcomes) -> None:
    first = outcomes[""]
    text(
        "p", "From outside one can bound, compare and exclude: wide intervals are the answer, not a fault.", "ll-quiet"
    )
    if "downforce" in first.numbers:
        text("h2", "At 200 km/h")
        rows: list[tuple[str, Number | None]] = [
            ("downforce", _in_kn(first.number("downforce").at(AT))),
            ("its front share", first.numbers.get("balance")),
            ("drag", _in_kn(first.number("drag").at(AT))),
            ("front axle comes down by", first.number("front_drop").at(AT)),
        ]
        el.named_numbers(desk, rows, system=SYSTEM)
        text("h2", "Forces in the photograph")
        parts.on_photograph(
            desk,
            shapes(desk, first),
            "Downforce along the wings and on the axles, and drag, at 200 km/h; ticks at the 95 % bounds",
        )
    text("h2", "Over speed")
    parts.curves(
        outcomes, (("downforce_front", "front axle"), ("downforce_rear", "rear axle"), ("drag", "drag")), "speed", "kN",
        says="Downforce on each axle and drag grow with speed; bands are 95 % intervals", system=SYSTEM, title="force",
    )  # fmt: skip
    parts.curves(
        outcomes, (("balance_curve", "front share of the downforce"),), "speed", "%", title="front share",
        says="Front share of the downforce over speed", system=SYSTEM, height="16rem",
    )  # fmt: skip
    parts.curves(
        outcomes, (("ride_height_front", "front axle"), ("ride_height_rear", "rear axle")), "speed", "mm", title="clearance",
        says="Ground clearance at each axle over speed, springs and air in balance", system=SYSTEM, height="16rem", every=False,
    )  # fmt: skip
    parts.curves(
        outcomes, (("front_drop", "front axle"), ("rear_drop", "rear axle")), "speed", "mm", title="drop",
        says="How far each axle is pressed down over speed", system=SYSTEM, height="16rem",
    )  # fmt: skip
    text("h2", "Numbers")
    parts.side_by_side(desk, outcomes, PLAIN, SYSTEM, "areas and balance at 200 km/h, by variant")
    parts.along(
        desk, first, "part", ("part_downforce", "part_drag"), SYSTEM, "what each part carries and costs at 200 km/h"
    )
    parts.along(
        desk,
        first,
        "wing",
        ("wing_lift_coefficient", "wing_use", "wing_angle", "wing_drag_share"),
        SYSTEM,
        "the wings at rest",
    )
    parts.along(desk, first, "wing", ("wing_stream", "wing_turn"), SYSTEM, "the stream that reaches each wing")
    parts.along(
        desk, first, "opening", ("opening_stream", "opening_turn", "inlet_recovery", "outlet_pressure"), SYSTEM,
        "openings of the cooling ducts: what cooling takes from here",
    )  # fmt: skip
    _taken(desk, first)
    parts.along(desk, first, "position", ("position_lift_area", "position_drag_area"), SYSTEM, "positions of the wings")
    parts.along(
        desk,
        first,
        "obstacle",
        ("obstacle_downforce", "obstacle_front", "obstacle_drag"),
        SYSTEM,
        "what stands in the flow",
    )
    parts.variants_told(outcomes, ("lift_area", "lift_area_front", "drag_area", "balance"))
    parts.verdicts_told(desk, first, SYSTEM)
    parts.sentences(first)
    parts.below(desk, first)


def _taken(desk: Desk, outcome: Outcome) -> None:
    """What each thing ahead takes of the stream before each part; rows of nothing are left out."""
    taken = outcome.numbers.get("taken")
    if taken is None:
        return
    ahead = [str(a) for a in outcome.axes["lies_ahead"]]
    rows: list[list[Any]] = []
    for k, part in enumerate(outcome.axes["reached"]):
        if np.any(np.median(taken.draws[:, k], axis=0) > 0.005):
            rows.append([parts.plain(str(part)), *(taken.at((k, j)) for j in range(len(ahead)))])
    if rows:
        caption = "dynamic pressure that each thing ahead takes from what stands behind it, one without the others"
        el.table(desk, ("part", *(parts.plain(a) for a in ahead)), rows, caption=caption, system=SYSTEM)


def _in_kn(number: Number) -> Number:
    return Number(number.draws, number.unit, number.origin, number.best, shown="kN")


def shapes(desk: Desk, outcome: Outcome) -> list[el.Shape]:
    """Loading over each wing, arrows on the axles and of the drag; empty where the wheels are not placed."""
    wheels = parts.wheels(desk)
    if "left.front" not in wheels or "left.rear" not in wheels or "downforce_front" not in outcome.numbers:
        return []
    fronts, rears = outcome.number("downforce_front").at(AT), outcome.number("downforce_rear").at(AT)
    drag = outcome.number("drag").at(AT)
    longest = max(abs(float(n.value)) / 2 for n in (fronts, rears)) or 1.0
    per_newton = LONGEST / longest
    out: list[el.Shape] = []
    for end, number in (("front", fronts), ("rear", rears)):
        half = number / 2
        for side in ("left", "right"):
            top = wheels[f"{side}.{end}"] * [1, 1, 2] + [0, 0, 0.02]
            label = f"{end} axle {parts.kilonewtons(number)}" if side == "right" else ""
            out += parts.force(half, top, (0, 0, -1), per_newton, SYSTEM, label=label)
    x = wheels["left.front"][0]
    out += _loadings(outcome, x)
    height = float(np.median(outcome.number("drag_height").draws))
    tail = min(w[0] for w in wheels.values()) - 0.75
    place = np.array([tail, 0.0, height])
    out += parts.force(drag, place, (-1, 0, 0), per_newton, SYSTEM, label=f"drag {parts.kilonewtons(drag)}", to=False)
    return out


def _loadings(outcome: Outcome, front_axle: float) -> list[el.Shape]:
    """The load along each wing's span as an area that stands on it, in a scale of its own, and its 95 % bounds as lines."""
    if "wing_loading" not in outcome.numbers:
        return []
    loading = outcome.number("wing_loading")
    scale = TALLEST / max(float(np.max(loading.value)), 1e-9)
    eta = np.asarray(outcome.axes["station"])
    y_share = np.concatenate([eta, -eta[::-1]])
    force = outcome.number("part_downforce")
    out = []
    for k, (wing, _, _) in enumerate(outcome.inner["tables"]):
        x = front_axle - float(np.median(wing.behind))
        z, half = float(np.median(wing.height)), float(np.median(wing.span)) / 2
        place = list(outcome.axes["part"]).index(wing.name)

        def line(values: Any, x: float = x, z: float = z, half: float = half) -> np.ndarray:
            rise = np.concatenate([values, values[::-1]]) * scale
            return np.stack([np.full(rise.shape, x), y_share * half, z + rise], axis=1)

        low, middle, high = (np.asarray(v)[k] for v in (loading.low, loading.value, loading.high))
        base = np.array([[x, -half, z], [x, half, z]])
        label = f"{parts.plain(wing.name)} {parts.kilonewtons(force.at(place))}"
        out.append(el.Shape(xyz=np.vstack([line(middle), base]), system=SYSTEM, closed=True, filled=True))
        # the words stand over the left tip, out of the way of the arrows
        tip = np.array([x, half, z + TALLEST + 0.06])
        out.append(el.Shape(xyz=np.stack([tip - [0.0, 0.04, 0.0], tip]), system=SYSTEM, label=label))
        out += [el.Shape(xyz=line(v), system=SYSTEM, certainty="inferred") for v in (low, high)]
    return out


PAGE = Page(
    "/aero",
    "Aero",
    build,
    key="e",
    order=330,
    about="Downforce, drag and balance: bounds over speed, forces on the photograph",
)
