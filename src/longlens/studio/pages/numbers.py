"""All numbers: found, sorted, followed down to the marks on their photographs, and taken along."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from nicegui import ui

from longlens.dossier.records import Mark, Shot
from longlens.errors import LonglensError
from longlens.publish.names import counted, words
from longlens.studio import elements as el
from longlens.studio import number_list as nl
from longlens.studio.frame import command, guarded, say, text, watch
from longlens.studio.look import name_of
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

#: Rows shown at once; the others are a click away.
MOST = 150
AREAS = ("suspension", "cooling", "aero", "structure", "running")


@dataclass
class _Asked:
    """What this tab looks at."""

    group: str = "measures"
    text: str = ""
    kind: str = ""
    sort: str = "name"
    falling: bool = False
    most: int = MOST


class Numbers:
    """The page in one tab."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.asked = desk, _Asked()
        self.outcomes: dict[str, Any] | None = None
        self._rows: list[nl.Row] = []
        self._seen = self.seen()

    def seen(self) -> tuple[Any, ...]:
        """What the rows are of."""
        solved = self.desk.solved()
        return (
            self.desk.stage,
            self.desk.dossier.revision,
            id(solved.solution),
            solved.key,
            solved.state == "not solvable",
        )

    def build(self) -> None:
        self._head()
        self.box = ui.element("div")
        self.fill(fresh=True)
        watch(self.desk, lambda change: self.heard(change))
        command("Copy the numbers shown as text", lambda: self.copy("text"), "shift+t")
        command("Copy the numbers shown as CSV", lambda: self.copy("csv"), "shift+c")
        command("Copy the numbers shown as LaTeX", lambda: self.copy("latex"), "shift+l")
        command("Find a number", self.find, "/")

    def heard(self, change: Any) -> None:
        """After a change: the sheets' numbers are asked for again when somebody looks at them. Progress changes nothing."""
        if (now := self.seen()) == self._seen:
            return
        self._seen = now
        self.outcomes = None
        self.fill(fresh=True)
        if self.asked.group == "computed":
            ui.timer(0.1, self.ask_sheets, once=True)

    def _head(self) -> None:
        with ui.element("div").classes("ll-row").style("margin-bottom:.6rem"):
            self.find = ui.input("Find").props("outlined dense clearable debounce=150").style("width:16rem")
            self.find.on_value_change(lambda e: self.change(text=e.value or "", most=MOST))
            with (
                ui.element("div").classes("ll-row").props('role="group" aria-label="Which numbers"').style("gap:.2rem")
            ):
                self.buttons = {}
                for group, said in {**nl.GROUPS, "": "All"}.items():
                    b = text("button", said, "ll-plain").props("type=button")
                    b.on("click", lambda group=group: self.choose(group))
                    self.buttons[group] = b
            kinds = {
                "": "every kind",
                **{k: k for k in ("stated", "measured", "computed", "assumed", "kept", "not determined")},
            }
            ui.select(kinds, value="", label="Kind", on_change=lambda e: self.change(kind=e.value or "")).props(
                "outlined dense options-dense"
            ).style("width:11rem")
            with ui.element("div").classes("ll-row").style("gap:.4rem"):
                for said, form in (("Copy as text", "text"), ("Copy as CSV", "csv"), ("Copy as LaTeX", "latex")):
                    text("button", said, "ll-button").props("type=button").on(
                        "click", lambda form=form: self.copy(form)
                    )
                text("button", "Save CSV", "ll-button").props("type=button").on("click", self.save)

    def choose(self, group: str) -> None:
        self.change(group=group, most=MOST)
        if group == "computed" and self.outcomes is None:
            ui.timer(0.05, self.ask_sheets, once=True)

    async def ask_sheets(self) -> None:
        """Run the sheets; one that cannot be run is left out (its page says why)."""
        found: dict[str, Any] = {}
        for area in AREAS:
            try:
                found[area] = await self.desk.outcomes(area)
            except LonglensError:
                continue
            await asyncio.sleep(0)
        self.outcomes = found
        with self.box:
            self.fill(fresh=True)

    def change(self, **what: Any) -> None:
        for name, value in what.items():
            setattr(self.asked, name, value)
        self.fill()

    def shown(self) -> list[nl.Row]:
        a = self.asked
        return nl.chosen(self._rows, group=a.group, text=a.text, kind=a.kind, sort=a.sort, falling=a.falling)

    def fill(self, *, fresh: bool = False) -> None:
        if fresh:
            self._rows = guarded(nl.rows_of, self.desk, self.outcomes) or []
        for group, b in self.buttons.items():
            b.props["aria-pressed"] = str(group == self.asked.group).lower()
            b.classes(add="ll-on") if group == self.asked.group else b.classes(remove="ll-on")
            b.update()
        self.box.clear()
        with self.box:
            guarded(self._table, self.shown())

    def _table(self, rows: list[nl.Row]) -> None:
        a = self.asked
        solved = self.desk.solved()
        if a.group == "computed" and self.outcomes is None:
            text("p", "the sheets are being worked out …", "ll-quiet").props('role="status"')
            return
        if a.group == "points" and solved.solution is None:
            text(
                "p",
                "Places are given with their intervals as soon as the survey has been solved in this session.",
                "ll-quiet",
            )
        if not rows:
            text(
                "p", "No number fits. Measures are asked for on the board: choose two points and press Ask.", "ll-quiet"
            )
            return
        text(
            "p", f"{counted(len(rows), 'number')}, with the interval that holds the truth 95 times in 100", "ll-quiet"
        ).props('role="status"')
        region = ui.element("div").classes("ll-scroll").props('tabindex=0 role="region" aria-label="Numbers"')
        with region, ui.element("table").classes("ll-table ll-numbers"):
            with ui.element("thead"), ui.element("tr"):
                for sort, said in (
                    ("name", "name"),
                    ("value", "value"),
                    ("width", "half width"),
                    ("kind", "kind"),
                    ("system", "system"),
                ):
                    self._header(sort, said)
                text("th", "rests on").props('scope="col"')
            with ui.element("tbody"):
                for row in rows[: a.most]:
                    self._row(row)
        if len(rows) > a.most:
            more = text("button", f"Show all {len(rows)}", "ll-button").props("type=button")
            more.on("click", lambda: self.change(most=10_000))

    def _header(self, sort: str, said: str) -> None:
        a = self.asked
        on = a.sort == sort
        with ui.element("th").props('scope="col"') as th:
            th.props["aria-sort"] = ("descending" if a.falling else "ascending") if on else "none"
            arrow = (" ↓" if a.falling else " ↑") if on else ""
            b = text("button", said + arrow).props("type=button")
            b.on("click", lambda: self.change(sort=sort, falling=on and not a.falling))

    def _row(self, row: nl.Row) -> None:
        with ui.element("tr"):
            text("td", row.words)
            with ui.element("td"):
                if row.number is None:
                    text("span", row.why, "ll-quiet ll-wrap")
                elif row.number.shape:
                    b = text("button", row.told, "ll-number").props("type=button")
                    b.on("click", lambda: el.show_trail(self.desk, row.number, row.told))
                else:
                    el.number(self.desk, row.number, was=_changed(row), system=row.system or None, label=row.words)
            text("td", _width(row), "ll-right")
            text("td", row.kind)
            text("td", name_of(row.system) if row.system else "")
            with ui.element("td"):
                self._rests(row)

    def _rests(self, row: nl.Row) -> None:
        if row.number is None:
            return
        marks, facts = nl.rests_on(row.number.origin)
        if marks:
            b = text("button", counted(len(marks), "mark"), "ll-plain").props("type=button")
            b.props["aria-label"] = f"show the {counted(len(marks), 'mark')} of {row.words} on their photographs"
            b.on("click", lambda: self.show_marks(row, marks))
        elif facts and row.group != "facts":
            text("span", counted(len(facts), "fact"), "ll-quiet")

    # Marks on their photographs ---------------------------------------------------------------------------

    def show_marks(self, row: nl.Row, ids: list[str]) -> None:
        """The photographs on which a number's marks are, with the marks on them."""
        wanted = set(ids)
        by_shot: dict[str, list[Mark]] = {}
        for m in self.desk.marks():
            if m.id in wanted:
                by_shot.setdefault(m.shot, []).append(m)
        with ui.dialog() as dialog, ui.element("div").classes("q-pa-md").style("width:min(70rem,94vw);max-width:none"):
            text("h2", row.words).style("margin-top:0")
            text("p", f"{row.told} · {row.kind}")
            with ui.element("div").classes("ll-pictures"):
                for shot, marks in sorted(by_shot.items(), key=lambda kv: -len(kv[1])):
                    self._picture(shot, marks)
            text("button", "Close", "ll-button").props("type=button autofocus").on("click", dialog.close)
        dialog.on("hide", dialog.delete)
        dialog.open()

    def _picture(self, shot_id: str, marks: list[Mark]) -> None:
        shot = self.desk.dossier.find(Shot, shot_id)
        if shot is None:
            return
        shapes = []
        for m in marks:
            pixels = [(m.x, m.y)] if m.form == "point" else (m.edge or m.path or [])
            shapes.append(el.Shape(pixels=pixels, system=m.system, certainty=m.certainty))
        with ui.element("div"):
            el.photograph(self.desk, shot_id, shapes, caption=f"{shot.name or shot.id}: {counted(len(marks), 'mark')}")
            with ui.element("p"):
                for k, m in enumerate(marks[:8]):
                    if k:
                        text("span", " · ", "ll-quiet")
                    ui.link(words(m.point or m.circle or m.part or m.form), f"/board?mark={quote(m.id, safe='')}")
                if len(marks) > 8:
                    text("span", f" · and {len(marks) - 8} more", "ll-quiet")

    # To take along ----------------------------------------------------------------------------------------

    def copy(self, form: str) -> None:
        rows = self.shown()
        made = {"text": nl.as_text, "csv": nl.as_csv, "latex": nl.as_latex}[form](rows)
        ui.clipboard.write(made)
        say(
            f"copied {counted(len(rows), 'number')} as {'CSV' if form == 'csv' else 'LaTeX' if form == 'latex' else 'text'}"
        )

    def save(self) -> None:
        rows = self.shown()
        ui.download.content(nl.as_csv(rows), "numbers.csv", "text/csv")
        say(f"{counted(len(rows), 'number')} saved as numbers.csv")


def _changed(row: nl.Row) -> tuple[float, float, float] | None:
    """What it was before, where that differs enough to be seen."""
    if row.was is None or row.number is None:
        return None
    i = row.number.interval
    half = max(float(i.high - i.low) / 2, 1e-15)
    now = (float(i.value), float(i.low), float(i.high))
    return row.was if max(abs(a - b) for a, b in zip(now, row.was, strict=True)) > 0.02 * half else None


def _width(row: nl.Row) -> str:
    if row.width == float("inf"):
        return ""
    if row.group == "points":
        return f"{1000 * row.width:.1f} mm"
    return f"{100 * row.width:.2g} %"


def build(desk: Desk) -> None:
    """Fill the page."""
    Numbers(desk).build()


PAGE = Page(
    "/numbers", "Numbers", build, key="n", order=210, about="Every number with its interval, its kind and its trail"
)
