"""The cooling page: does it close, the circuit where it lies in the car, over the photograph, over speed, and how plumbed."""

from __future__ import annotations

import dataclasses
import html
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui

from longlens.numbers import units
from longlens.studio import circuit_drawing as circuit
from longlens.studio import elements as el
from longlens.studio import sheet_parts as parts
from longlens.studio.frame import text
from longlens.studio.look import SERIES
from longlens.studio.pages import Page
from longlens.systems.cooling.answers import Interval
from longlens.systems.cooling.drawing import Drawing, drawing_of
from longlens.systems.cooling.variants import Side, name_of, pairs, side_by_side, verdict

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.systems.run import Outcome

SYSTEM = "cooling"
NOT_PLACED = (
    "Nothing of this circuit is placed in the car yet: give its cores a face, its pipes a path and its other parts a place, "
    "from marked points, and it is drawn here and over the photographs."
)


def build(desk: Desk) -> None:
    """Fill the page."""
    ui.add_css(circuit.STYLE)
    parts.sheet_page(desk, "cooling", lambda outcomes: _filled(desk, outcomes))


def _filled(desk: Desk, outcomes: parts.Outcomes) -> None:
    first = outcomes[""]
    if first.inner.get("solved") is None:
        _nothing_yet(first)
        parts.below(desk, first)
        return
    _closing(desk, outcomes)
    _Circuit(desk, outcomes).fill()
    _openings(desk, first)
    _over_speed(outcomes)
    _side_by_side(outcomes)
    _evidence(first)
    if "gain" in first.numbers:
        text("h2", "What would help")
        parts.along(desk, first, "change", ("gain",), SYSTEM)
    parts.sentences(_without_evidence(first))
    parts.below(desk, first)


def _nothing_yet(first: Outcome) -> None:
    """What must be given before there is anything to answer."""
    text("p", "There is no network to solve yet. It needs:")
    with ui.element("ul").classes("ll-findings"):
        for need in first.refused["worst_margin"].needs:
            text("li", need)
    text("p", "Write them in a file as docs/cooling.md tells, and keep them in the dossier:")
    text("p", "longlens assess DOSSIER cooling --with FILE --keep").style("font-family:monospace")


# Does it close --------------------------------------------------------------------------------------------


def _closing(desk: Desk, outcomes: parts.Outcomes) -> None:
    first = outcomes[""]
    case = int(first.inner["tightest_case"])
    names = [c["name"] for c in first.inputs["cases"].value]  # type: ignore[union-attr]
    closing = float(np.asarray(first.number("closing").value)[case])
    text("h2", f"Does it close? {name_of(first)[:1].upper()}{name_of(first)[1:]}")
    rows = [
        (f"to spare, {names[case]}", first.number("worst_margin").at(case)),
        ("heat it could hold over the heat assumed", first.number("bearable").at(case)),
    ]
    text("p", f"It keeps every limit in {closing:.0%} of the draws at its tightest case, {names[case]}.")
    el.named_numbers(desk, rows, system=SYSTEM)
    told = verdict(outcomes)
    if told:
        text("p", f"Plumbing: {told}.")


# The circuit ----------------------------------------------------------------------------------------------


class _Circuit:
    """Drawing, parts and photograph of one variant at one case, with the two choices above them."""

    def __init__(self, desk: Desk, outcomes: parts.Outcomes) -> None:
        self.desk = desk
        self.runs = {name_of(run): run for run in outcomes.values() if run.inner.get("solved") is not None}
        self.variant = next(iter(self.runs))
        first = self.runs[self.variant]
        self.cases = [c["name"] for c in first.inputs["cases"].value]  # type: ignore[union-attr]
        self.case = int(first.inner["tightest_case"])
        self.box: ui.element | None = None

    def fill(self) -> None:
        text("h2", "The circuit, where it lies")
        if drawing_of(self.runs[self.variant]) is None:
            text("p", NOT_PLACED, "ll-quiet")
            return
        with ui.element("div").classes("ll-row").style("margin-bottom:.6rem"):
            self._choice("plumbing", list(self.runs), self.variant, self._plumb)
            self._choice("case", dict(enumerate(self.cases)), self.case, self._drive)
        self.box = ui.element("div")
        self._draw()

    def _choice(self, label: str, options: Any, value: Any, chosen: Any) -> None:
        one = ui.select(options, value=value, label=label, on_change=lambda event: chosen(event.value))
        one.props(f'outlined dense dark aria-label="{label}"').style("min-width:15rem")

    def _plumb(self, name: str) -> None:
        self.variant = name
        self._draw()

    def _drive(self, case: int) -> None:
        self.case = int(case)
        self._draw()

    def _draw(self) -> None:
        assert self.box is not None
        self.box.clear()
        with self.box:
            drawing = drawing_of(self.runs[self.variant], self.case)
            if drawing is None or not drawing.runs:
                text("p", NOT_PLACED, "ll-quiet")
                return
            ui.html(circuit.plan_and_side(drawing, parts.wheels(self.desk)), sanitize=False)
            self._parts(drawing)
            text("h2", "Over the photograph")
            _on_photograph(self.desk, drawing)

    def _parts(self, drawing: Drawing) -> None:
        number = circuit.numbered(drawing)
        rows = [
            [
                str(number[run.name]), run.name, run.circuit, run.flow.told(), run.inlet.told(offset=-273.15),
                run.outlet.told(offset=-273.15), _heat(run.heat), circuit.WORD[run.certainty],
            ]
            for run in drawing.runs
        ]  # fmt: skip
        columns = ("", "part", "circuit", "flow (kg/s)", "in (°C)", "out (°C)", "heat (kW)", "its place is")
        caption = f"{self.variant}, {self.cases[self.case]}: medians with their 95 % intervals"
        el.table(self.desk, columns, rows, caption=caption, system=SYSTEM)


def _heat(heat: Interval) -> str:
    """In kW; nothing for parts that neither heat nor cool."""
    return "" if not np.isfinite(heat.median) or abs(heat.median) < 1.0 else heat.told(1e-3)


# Over the photograph ---------------------------------------------------------------------------------------


def _on_photograph(desk: Desk, drawing: Drawing) -> None:
    """The same circuit in a photograph's perspective, the one that shows most of it first."""
    none = "Once the survey is solved, the circuit is drawn on the photographs here."
    shapes = [el.Shape(xyz=run.points) for run in drawing.runs]
    parts.on_a_photograph(desk, shapes, none, lambda shot: _overlay(desk, shot, drawing))


def _overlay(desk: Desk, shot: str, drawing: Drawing) -> None:
    from longlens.dossier.records import Shot

    found = desk.dossier.get(Shot, shot)
    thick = max(found.width, found.height) / 1100.0

    def to_page(points: Any) -> Any:
        return el.project(desk, shot, points)

    drawn = circuit.runs(drawing, to_page, thick=thick)
    picture = (
        f'<img src="{el.picture_address(found, 2400)}" alt="{html.escape(f"Photograph {found.name or found.id}")}">'
    )
    box = f"-0.5 -0.5 {found.width} {found.height}"
    with ui.element("figure").classes("ll-plate"):
        ui.html(
            f'<div style="position:relative;aspect-ratio:{found.width}/{found.height}">{picture}'
            f'<svg class="cd-over" viewBox="{box}" role="img" aria-label="{html.escape(circuit.spoken(drawing))}">'
            f"{drawn}</svg></div>",
            sanitize=False,
        )
        told = "Width: flow; colour: temperature; numbers as in the table. Parts behind panels are drawn through them."
        text("figcaption", f"{told} · " + (f"Photograph: {found.credit}" if found.credit else "credit missing"))


# Over speed ------------------------------------------------------------------------------------------------


def _openings(desk: Desk, outcome: Outcome) -> None:
    """Pressures at the ducts' openings, with the kind of each figure: from the aero sheet, given, or assumed."""
    rows: list[list[Any]] = []
    for name in outcome.axes.get("duct", ()):
        total, out = (outcome.leaves.get(f"ducts.{name}.{k}") for k in ("inlet_recovery", "outlet_cp"))
        if total is not None and out is not None:
            whence = {"computed": "aero", "assumed": "assumed"}.get(total.kind, "given")
            rows.append([parts.plain(str(name)), total, out, whence])
    if rows:
        text("h2", "Where the air comes in")
        heads = (
            "duct",
            "total pressure before the inlet, over the dynamic pressure",
            "pressure coefficient at the outlet",
            "from",
        )
        el.table(desk, heads, rows, system=SYSTEM, caption="pressures at the openings of each duct")


def _over_speed(outcomes: parts.Outcomes) -> None:
    first = outcomes[""]
    moving = _speeds(first)
    if len(moving) < 2:
        return
    text("h2", "Over speed")
    _one_each(
        outcomes, "worst_margin", "K", "to spare at the tightest limit (K)",
        "What is left to the tightest limit over speed, for every plumbing; the band is the 95 % interval of the first",
    )  # fmt: skip
    for name, axis, unit, title, says in (
        ("temperature", "limit", "°C", "temperature (°C)", "Temperature at each limit over speed, with 95 % bands"),
        ("face_speed", "core", "m/s", "air before the face (m/s)", "Air speed before each core over speed"),
        ("core_heat", "core", "kW", "heat into the air (kW)", "Heat of each core over speed"),
        ("charge_out", "charge", "°C", "charge air (°C)", "Charge air behind each cooler over speed"),
        ("cooling_drag", "duct", "N", "drag of the cooling air (N)", "Drag of the cooling air of each duct over speed"),
    ):
        if name in first.numbers:
            _one_by_one(first, name, axis, unit, title, says)


def _speeds(outcome: Outcome) -> list[int]:
    """Cases by speed, one of each: the first of a speed is the curve's."""
    speed = np.asarray(outcome.axes["speed"], float)
    return [int(k) for k in np.unique(speed, return_index=True)[1]]


def _one_each(outcomes: parts.Outcomes, name: str, unit: str, title: str, says: str) -> None:
    """One output of every variant; the first with its band, the others as lines of their own dash and colour."""
    fig = el.figure("speed (km/h)", title)
    fig.add_hline(y=0.0, line={"color": "#e8e6e1", "width": 1})
    dashes = ("seen", "partly seen", "inferred", "partly seen", "inferred")
    for k, run in enumerate(outcomes.values()):
        if name not in run.numbers:
            continue
        at = _speeds(run)
        x = np.asarray(run.axes["speed"], float)[at] * 3.6
        i = run.numbers[name].interval
        value, low, high = (units.from_si(np.asarray(v)[at], unit) for v in (i.value, i.low, i.high))
        band = (low, high) if k == 0 else (None, None)
        el.band(fig, x, value, *band, name=name_of(run), colour=SERIES[k % len(SERIES)], certainty=dashes[k % 5])  # type: ignore[arg-type]
    el.chart(fig, says)


def _one_by_one(first: Outcome, name: str, axis: str, unit: str, title: str, says: str) -> None:
    """An output of the first variant, one band for each name along ``axis``."""
    fig = el.figure("speed (km/h)", title)
    at = _speeds(first)
    x = np.asarray(first.axes["speed"], float)[at] * 3.6
    i = first.numbers[name].interval
    for k, label in enumerate(first.axes[axis]):
        value, low, high = (units.from_si(np.asarray(v)[k][at], unit) for v in (i.value, i.low, i.high))
        certainty = "seen" if k % 2 == 0 else "partly seen"
        el.band(fig, x, value, low, high, name=str(label), colour=SERIES[k % len(SERIES)], certainty=certainty)  # type: ignore[arg-type]
    el.chart(fig, says, height="16rem")


# Side by side ----------------------------------------------------------------------------------------------


def _side_by_side(outcomes: parts.Outcomes) -> None:
    sides = side_by_side(outcomes)
    if len(sides) < 2:
        return
    text("h2", "Plumbing, side by side")
    found = pairs(outcomes)
    speed = float(np.ravel(outcomes[""].axes["speed"])[found[0].case]) * 3.6
    with ui.element("div").classes("ll-scroll").props('tabindex=0 role="region" aria-label="plumbing side by side"'):
        _side_table(sides, speed)
    with ui.element("ul").classes("ll-findings"):
        for pair in found:
            ahead, behind = (pair.first, pair.second) if pair.probability >= 0.5 else (pair.second, pair.first)
            chance = max(pair.probability, 1.0 - pair.probability)
            with ui.element("li"):
                text("b", f"{ahead} over {behind}: {chance:.2f}. ")
                text("span", f"{pair.reason}.")


def _side_table(sides: list[Side], speed: float) -> None:
    rows: list[tuple[str, list[str]]] = [
        ("keeps every limit, of the draws", [f"{s.closing:.0%}" for s in sides]),
        ("has most to spare, of the draws", [f"{s.best:.0%}" for s in sides]),
        ("to spare (K)", [s.margin.told() for s in sides]),
        ("heat it could hold over the heat assumed", [s.bearable.told() for s in sides]),
    ]
    for words, entries, scale, offset in (
        ("{} (°C)", [s.temperature for s in sides], 1.0, -273.15),
        ("heat of {} (kW)", [s.heat for s in sides], 1e-3, 0.0),
        ("flow of {} (kg/s)", [s.flow for s in sides], 1.0, 0.0),
    ):
        for name in dict.fromkeys(n for entry in entries for n in entry):
            cells = [entry[name].told(scale, offset) if name in entry else "–" for entry in entries]
            rows.append((words.format(name), cells))
    rows.append(("power of the pumps (W)", [s.pump_power.told() for s in sides]))
    with ui.element("table").classes("ll-table"):
        text("caption", f"At {speed:.0f} km/h, where the best of them has the least to spare; the best first")
        with ui.element("thead"), ui.element("tr"):
            for name in ("", *(s.name for s in sides)):
                text("th", name).props('scope="col"')
        with ui.element("tbody"):
            for words, cells in rows:
                with ui.element("tr"):
                    text("td", words)
                    for cell in cells:
                        text("td", cell).style("font-variant-numeric:tabular-nums;white-space:nowrap")


def _evidence(first: Outcome) -> None:
    items = first.inner.get("evidence", [])
    if not items:
        return
    text("h2", "What the seen collectors and pipes say")
    with ui.element("ul").classes("ll-findings"):
        for item in items:
            with ui.element("li"):
                text("b", f"{item.ratio:g} to 1 ({item.low:g} to {item.high:g}) for {item.favours} over {item.over}")
                text("span", f", {item.subject}: {item.seen}; {item.rule}. ")
                text("span", f"{item.source}.", "ll-quiet")


def _without_evidence(outcome: Outcome) -> Outcome:
    """The outcome without the sentences that stand above already."""
    seen = [item.seen for item in outcome.inner.get("evidence", [])]
    kept = [f for f in outcome.findings if f.of or not any(words in f.text for words in seen)]
    return dataclasses.replace(outcome, findings=kept)


PAGE = Page(
    "/cooling",
    "Cooling",
    build,
    key="c",
    order=320,
    about="Does it close: the circuit where it lies, over the photograph, over speed; plumbing side by side",
)
