"""The structure page: the crash structure against class rules, walls, tubes and sections, what was seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from longlens.studio import elements as el
from longlens.studio import sheet_parts as parts
from longlens.studio.frame import text
from longlens.studio.look import colour_of, veil
from longlens.studio.pages import Page
from longlens.systems.structure.crash import ABSORBERS, RULES

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.systems.run import Outcome

SYSTEM = "structure"
CORNERS = ("front_upper", "front_lower", "rear_upper")


def build(desk: Desk) -> None:
    """Fill the page."""
    parts.sheet_page(desk, "structure", lambda outcomes: _filled(desk, outcomes))


def _filled(desk: Desk, outcomes: parts.Outcomes) -> None:
    first = outcomes[""]
    text("p", "No structure is safe because a number here says so: crash and strength are proved by tests.", "ll-quiet")
    if "crush" in first.numbers:
        text("h2", "The crash structure")
        rows = [("length that crushes", first.numbers.get("crush")), ("energy of its own impact",
             first.numbers.get("own_energy")),
                ("mean deceleration", first.numbers.get("own_deceleration")), ("mean force",
                     first.numbers.get("own_force"))]  # fmt: skip
        el.named_numbers(desk, rows, system=SYSTEM)
        parts.on_photograph(desk, shapes(desk, first), "What crushes of the crash structure, and the mean force on it")
        parts.along(
            desk, first, "rule", ("rule_energy", "rule_deceleration", "rule_margin", "rule_least_length", "rule_early",
                 "rule_force"),
            SYSTEM, "class rules", {name: f"{r.meaning}, {r.mass:.0f} kg" for name, r in RULES.items()},
        )  # fmt: skip
        text("h2", "The wall it would need")
        _walls(first)
        parts.along(
            desk, first, "material", ("wall_needed", "absorption_needed"), SYSTEM, "for the hardest rule, by material"
        )
    if "member_push" in first.numbers:
        text("h2", "Tubes")
        parts.along(
            desk, first, "member", ("member_push", "member_pull", "member_slender"), SYSTEM, "what members bear"
        )
        parts.along(desk, first, "loaded_member", ("member_use",), SYSTEM, "use of members")
    if "bending_capacity" in first.numbers:
        text("h2", "Sections")
        parts.along(desk, first, "part", ("bending_capacity", "torsion_capacity"), SYSTEM, "moments at yield")
        parts.along(desk, first, "stressed_part", ("part_stress", "part_use"), SYSTEM, "stress")
        parts.along(desk, first, "sprung_part", ("torsion_rate",), SYSTEM, "rates")
    parts.variants_told(outcomes, ("crush", "own_deceleration", "own_force"))
    parts.verdicts_told(desk, first, SYSTEM)
    parts.sentences(first)
    parts.below(desk, first)


def _walls(outcome: Outcome) -> None:
    """Walls needed as intervals beside the usual ones."""
    wall = outcome.number("wall_needed")
    names = list(outcome.axes["material"])
    ink = colour_of(SYSTEM)
    fig = el.figure("mean wall (mm)", "")
    for k, name in enumerate(names):
        a, b = (1e3 * v for v in ABSORBERS[name].usual)
        fig.add_shape(type="rect", x0=a, x1=b, y0=k - 0.32, y1=k + 0.32, fillcolor=veil(ink, 0.22), line={"width": 0})
    i = wall.interval
    value, low, high = (1e3 * np.asarray(v, float) for v in (i.value, i.low, i.high))
    fig.add_scatter(
        x=value, y=list(range(len(names))), mode="markers", marker={"color": ink, "size": 9}, name="needed",
        error_x={"type": "data", "symmetric": False, "array": high - value, "arrayminus": value - low, "color": ink, "width": 7},
    )  # fmt: skip
    fig.update_yaxes(tickvals=list(range(len(names))), ticktext=names, range=[len(names) - 0.4, -0.6])
    fig.update_xaxes(rangemode="tozero")
    fig.update_layout(hovermode="closest", showlegend=False)
    told = "; ".join(f"{n}: {value[k]:.1f} ({low[k]:.1f} to {high[k]:.1f}) mm" for k, n in enumerate(names))
    el.chart(
        fig, f"Wall needed by material with its 95 % interval, shaded where walls are usual. {told}", height="14rem"
    )
    text("p", "Dots with bars: needed, with its 95 % interval. Shaded: usual walls.", "ll-quiet")


def shapes(desk: Desk, outcome: Outcome) -> list[el.Shape]:
    """The structure's outline, the part that crushes, and the mean force; empty where its corners are not placed."""
    known = desk.numbers()
    place = {}
    for side in ("left", "right"):
        for name in CORNERS:
            found = known.get(f"point:{side}.crash_structure.{name}")
            if found is not None:
                place[f"{side}.{name}"] = np.asarray(found.value, float)
    for name in CORNERS:
        for side, other in (("left", "right"), ("right", "left")):
            if f"{side}.{name}" not in place and f"{other}.{name}" in place:
                place[f"{side}.{name}"] = place[f"{other}.{name}"] * [1, -1, 1]
    if any(f"{s}.{n}" not in place for s in ("left", "right") for n in ("front_upper", "rear_upper")):
        return []
    a, b = place["left.front_upper"], place["left.rear_upper"]
    c, d = place["right.front_upper"], place["right.rear_upper"]
    length = abs(float(a[0] - b[0]))
    share = min(float(np.median(outcome.number("crush").draws)) / max(length, 1e-6), 1.0)
    one, two = a + (b - a) * share, c + (d - c) * share
    crush = outcome.number("crush")
    out = [
        el.Shape(xyz=np.stack([a, b, d, c]), system=SYSTEM, closed=True),
        el.Shape(xyz=np.stack([a, one, two, c]), system=SYSTEM, closed=True, filled=True, label=f"crushes {crush}"),
    ]
    if "left.front_lower" in place:
        out.append(
            el.Shape(
                xyz=np.stack([a, place["left.front_lower"], place["right.front_lower"], c]), system=SYSTEM, closed=True
            )
        )
    force = outcome.numbers.get("own_force")
    if force is not None:
        front = (a + c) / 2 + [0.03, 0, -0.03]
        per_newton = 0.35 / max(float(force.value), 1.0)
        out += parts.force(force, front, (-1, 0, 0), per_newton, SYSTEM, label=f"mean {parts.kilonewtons(force)}")
    return out


PAGE = Page(
    "/structure",
    "Structure",
    build,
    key="t",
    order=340,
    about="Crash structure against class rules, walls, tubes, sections",
)
