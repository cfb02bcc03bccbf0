"""What the pages of aero, structure and running are made of: sentences, tables and curves of a sheet, forces on photographs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui

from longlens.errors import LonglensError
from longlens.numbers import display, units
from longlens.numbers.number import Number
from longlens.studio import elements as el
from longlens.studio.frame import later, refuse, text, watch
from longlens.studio.look import SERIES

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.systems.run import Outcome

Outcomes = Mapping[str, "Outcome"]
#: How a finding's weight is said.
WEIGHT = {"note": "", "caution": "Mind: ", "limit": "Outside the model: "}
#: Names under which a wheel's middle is marked, the first found is taken.
WHEEL = ("rim_centre", "wheel.centre", "wheel_centre", "hub")


def sheet_page(desk: Desk, area: str, build: Callable[[Outcomes], Any]) -> None:
    """A page of one area: the sheet is run, ``build`` fills the page from its outcomes, again after every change."""

    async def filled() -> None:
        if desk.solved().state == "solving":
            text("p", "The survey is still at work; these numbers follow it.", "ll-quiet")
        build(await desk.outcomes(area))

    box = ui.element("div")
    seen: list[Any] = [None]

    def again() -> None:
        """Only when records, stage or solution are others: the survey tells of each step of its work."""
        key = (desk.dossier.revision, desk.stage, id(desk.solved().solution), desk.solved().state == "solving")
        if key != seen[0]:
            seen[0] = key
            box.clear()
            with box:
                later(filled)

    again()
    watch(desk, again)


# Words and tables -----------------------------------------------------------------------------------------


def sentences(outcome: Outcome, title: str = "What it says") -> None:
    """The findings, the weighty ones first; their weight is a word."""
    if not outcome.findings:
        return
    text("h2", title)
    with ui.element("ul").classes("ll-findings"):
        for weight in ("limit", "caution", "note"):
            for finding in outcome.findings:
                if finding.severity == weight:
                    with ui.element("li"):
                        if WEIGHT[weight]:
                            text("b", WEIGHT[weight])
                        text("span", finding.text)


def side_by_side(desk: Desk, outcomes: Outcomes, names: Sequence[str], system: str, caption: str = "") -> None:
    """Plain outputs, one column for each variant."""
    first = outcomes[""]
    there = [n for n in names if any(n in o.numbers for o in outcomes.values())]
    if there:
        columns = ["", *(v or "as given" for v in outcomes)]
        rows: list[list[Any]] = [
            [first.sheet.output(n).meaning, *(o.numbers.get(n) for o in outcomes.values())] for n in there
        ]
        el.table(desk, columns, rows, caption=caption, system=system)


def along(
    desk: Desk, outcome: Outcome, axis: str, names: Sequence[str], system: str, caption: str = "",
    words: Mapping[str, str] | None = None,
) -> None:  # fmt: skip
    """Outputs along an axis of names, one row for each name (or one column, where they are few). ``words``: of the names."""
    there = [n for n in names if n in outcome.numbers]
    if not there:
        return
    labels = [(words or {}).get(str(label), plain(str(label))) for label in outcome.axes[axis]]
    rows: list[list[Any]]
    if len(there) > 2 and len(labels) <= 4:  # long headings stand better as rows
        columns = ["", *labels]
        rows = [
            [outcome.sheet.output(n).meaning, *(outcome.numbers[n].at(k) for k in range(len(labels)))] for n in there
        ]
    else:
        columns = ["", *(outcome.sheet.output(n).meaning for n in there)]
        rows = [[_whole(label), *(outcome.numbers[n].at(k) for n in there)] for k, label in enumerate(labels)]
    el.table(desk, columns, rows, caption=caption, system=system)


def _whole(words: str) -> Callable[[], Any]:
    """A cell whose words stay on one line."""
    return lambda: text("span", words).style("white-space:nowrap")


def variants_told(outcomes: Outcomes, names: Sequence[str]) -> None:
    """What each variant changes, in sentences; nothing of what it leaves."""
    from longlens.systems.compare import compare

    told = []
    for variant, outcome in outcomes.items():
        for n in names:
            if variant and n in outcome.numbers and n in outcomes[""].numbers:
                one = compare(outcomes[""], outcome, n)
                if np.any(one.difference.draws):
                    told.append(one.sentence())
    if told:
        text("h2", "Variants")
        with ui.element("ul").classes("ll-findings"):
            for sentence in told:
                text("li", sentence)


def verdicts_told(desk: Desk, outcome: Outcome, system: str) -> None:
    """The maker's own figures beside what is computed."""
    from longlens.systems import stated

    given = getattr(outcome.inputs.get("stated"), "numbers", {}) or {}
    figures = stated.facts_of(desk.numbers()) | {n.removeprefix("stated."): x for n, x in given.items()}
    found = stated.verdicts(outcome, figures)
    if not found:
        return
    text("h2", "The maker's own figures")
    rows: list[list[Any]] = [[plain(v.output), v.stated, v.computed, v.word] for v in found]
    el.table(desk, ("", "stated", "computed", "together"), rows, system=system)
    for v in found:
        if v.gives:
            text("p", v.sentence())


def below(desk: Desk, outcome: Outcome) -> None:
    """What was assumed, what could not be given, and the cautions."""
    from longlens.systems.sheet import CAUTION

    rows = [
        (plain(name), str(x), x.origin.reason)
        for name, x in outcome.leaves.items()
        if x.kind == "assumed" and not x.shape
    ]
    if rows:
        with ui.element("details"):
            text("summary", f"{len(rows)} assumptions")
            el.table(desk, ("what", "taken as", "why"), rows, caption="assumptions")
    alike: dict[tuple[str, str], list[str]] = {}
    for name, refusal in outcome.refused.items():
        alike.setdefault((refusal.why, "; ".join(refusal.needs)), []).append(plain(name))
    if alike:
        with ui.element("details"):
            text("summary", f"{len(outcome.refused)} numbers are not given")
            refused = [(", ".join(names), why, needs) for (why, needs), names in alike.items()]
            el.table(desk, ("what", "why", "what would help"), refused, caption="not given")
    for caution in (*outcome.sheet.cautions, CAUTION):
        text("p", caution, "ll-quiet")


def plain(name: str) -> str:
    """A name in words."""
    return name.replace("_", " ").replace(".", " ")


# Curves ----------------------------------------------------------------------------------------------------


def curves(
    outcomes: Outcomes,
    names: Sequence[tuple[str, str]],
    axis: str,
    unit: str,
    *,
    says: str,
    system: str,
    every: bool = True,
    title: str = "",
    height: str = "22rem",
) -> None:
    """Outputs along a quantity with their bands; other variants as dashed and dotted lines of the same colour.

    ``names``: (output, its word in the legend). ``unit``: of the vertical axis, for people. ``axis``: what they run along;
    an output along an axis of its own is drawn over that one.
    """
    from longlens.systems.run import axis_for_people

    first = outcomes[""]
    there = [(n, w) for n, w in names if n in first.numbers]
    if not there:
        return
    sheet = first.sheet
    _, across = axis_for_people(sheet, axis, first.axes[axis])
    fig = el.figure(
        f"{sheet.axis(axis).meaning} ({across})",
        f"{title or plain(there[0][0])} ({display.pretty(unit)})".replace(" ()", ""),
    )

    def to(values: Any) -> Any:
        return units.from_si(np.asarray(values), unit)

    for k, (name, word) in enumerate(there):
        colour = "" if len(there) == 1 else SERIES[k]
        for at, (variant, outcome) in enumerate(outcomes.items()):
            if name not in outcome.numbers or (variant and not every):
                continue
            along = sheet.output(name).along
            own = axis if axis in along else along[-1]  # the same quantity, which may end elsewhere for each curve
            x, _ = axis_for_people(sheet, own, outcome.axes[own])
            if not variant:
                el.curve(fig, x, outcome.numbers[name], to=to, name=word, system=system, colour=colour)
            else:
                middle = to(outcome.numbers[name].interval.value)
                dash: Any = "partly seen" if at % 2 else "inferred"  # dashed and dotted by turns
                el.band(fig, x, middle, name=f"{word}, {variant}", system=system, colour=colour, certainty=dash)
    el.chart(fig, says, height=height)


# Forces on photographs --------------------------------------------------------------------------------------


def wheels(desk: Desk) -> dict[str, np.ndarray]:
    """Middles of wheels that are placed: ``left.front`` … → (3,) m. Twins across the car are filled in."""
    known, out = desk.numbers(), {}
    for side in ("left", "right"):
        for end in ("front", "rear"):
            for name in WHEEL:
                found = known.get(f"point:{side}.{end}.{name}")
                if found is not None:
                    out[f"{side}.{end}"] = np.asarray(found.value, float)
                    break
    for side, other in (("left", "right"), ("right", "left")):
        for end in ("front", "rear"):
            if f"{side}.{end}" not in out and f"{other}.{end}" in out:
                out[f"{side}.{end}"] = out[f"{other}.{end}"] * [1, -1, 1]
    return out


def arrow(tail: Any, tip: Any, head: float = 0.05, across: Any = (0.0, 1.0, 0.0)) -> np.ndarray:
    """(6, 3) polyline of an arrow; its head lies in the plane of the arrow and ``across``."""
    a, b = np.asarray(tail, float), np.asarray(tip, float)
    d = b - a
    size = float(np.linalg.norm(d))
    u = d / size if size > 0 else np.array([0.0, 0.0, -1.0])
    h = min(head, 0.5 * size)
    w = np.asarray(across, float)
    return np.stack([a, b, b - h * u + 0.5 * h * w, b, b - h * u - 0.5 * h * w, b])


def force(
    number: Number, at: Any, direction: Any, per_newton: float, system: str, *, label: str = "", to: bool = True
) -> list[el.Shape]:
    """An arrow as long as the force's middle with a tick at each bound: ``to`` the place, or from it."""
    place, u = np.asarray(at, float), np.asarray(direction, float)
    across = np.array([0.0, 1.0, 0.0]) if abs(u[1]) < 0.9 else np.array([1.0, 0.0, 0.0])
    value, low, high = (float(x) * per_newton for x in (number.value, number.low, number.high))
    if value < 0:
        u, value, low, high = -u, -value, -high, -low
    ends = (place - value * u, place) if to else (place, place + value * u)
    shapes = [el.Shape(xyz=arrow(ends[0], ends[1], across=across), system=system)]
    for bound, words in ((low, label), (high, "")):  # the words stand beside the arrow, where it surely is
        end = place + (-bound if to else bound) * u
        shapes.append(el.Shape(xyz=np.stack([end - 0.03 * across, end + 0.03 * across]), system=system, label=words))
    return shapes


def kilonewtons(number: Number) -> str:
    """``2.7 kN (2.0–3.6)``."""
    one = Number(number.draws, number.unit, number.origin, number.best, shown="kN")
    value, _, rest = str(one).partition(" (")
    bounds = rest.partition(")")[0]
    return f"{value} kN ({bounds})" if bounds else f"{value}"


def on_photograph(desk: Desk, shapes: Sequence[el.Shape], caption: str) -> None:
    """Shapes on the photograph that shows most of them, with a choice of the others."""
    none = "Once the survey is solved, the forces are drawn on the photographs here."
    on_a_photograph(desk, shapes, none, lambda shot: el.photograph(desk, shot, shapes, caption=caption))


def on_a_photograph(desk: Desk, shapes: Sequence[el.Shape], none: str, draw: Callable[[str], Any]) -> None:
    """Whatever ``draw`` makes of a shot, on the one that shows most of the shapes first, with a choice of the others.

    ``none`` is said where no photograph is solved.
    """
    shots = _solved_shots(desk, shapes)
    if not shots or not shapes:
        text("p", none, "ll-quiet")
        return

    def show(shot: str) -> None:
        box.clear()
        with box:
            try:
                draw(shot)
            except LonglensError as error:
                refuse(error)

    if len(shots) > 1:
        chosen = ui.select(shots, value=shots[0], label="photograph", on_change=lambda event: show(str(event.value)))
        chosen.props('outlined dense dark aria-label="photograph"').style("max-width:24rem;margin-bottom:.5rem")
    box = ui.element("div")
    show(shots[0])


def _solved_shots(desk: Desk, shapes: Sequence[el.Shape]) -> list[str]:
    """Solved shots in the survey's own stance, those that show most of the shapes first."""
    from longlens.dossier.records import Shot

    answer = desk.solved().answer or {}
    scored = []
    for shot, camera in (answer.get("shots") or {}).items():
        record = desk.dossier.find(Shot, shot)
        if record is None or "rotation" not in camera or not record.photograph:
            continue
        inside = spread = 0.0
        for shape in shapes:
            if shape.xyz is None:
                continue
            p = el.project(desk, shot, shape.xyz).reshape(-1, 2)
            fine = np.all(np.isfinite(p), axis=1)
            within = fine & (p[:, 0] > 0) & (p[:, 0] < record.width) & (p[:, 1] > 0) & (p[:, 1] < record.height)
            inside += float(np.mean(within))
            if np.any(within):
                spread += float(np.linalg.norm(np.ptp(p[within], axis=0)) / max(record.width, record.height))
        if inside > 0:
            static = (record.stance or "static") == "static"
            scored.append((static, inside, spread, shot))
    most = max((s[1] for s in scored), default=0.0)
    # of those that show nearly all of it, the one that shows it largest
    scored.sort(key=lambda s: (s[0], s[1] > 0.85 * most, s[2] if s[1] > 0.85 * most else s[1]), reverse=True)
    return [s[-1] for s in scored]
