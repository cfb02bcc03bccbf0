"""The forecasts page: what was said beforehand, what came, the score, and what moved since an edition."""

from __future__ import annotations

import asyncio
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nicegui import ui

from longlens.claims import forecasts
from longlens.claims.forecasts import Record, Seen
from longlens.claims.records import Erratum
from longlens.claims.revisions import compare, keep_erratum
from longlens.dossier.editions import editions
from longlens.dossier.store import Dossier
from longlens.errors import LonglensError
from longlens.studio import elements as el
from longlens.studio.fields import STYLE, button, tried
from longlens.studio.forecasting import Forecasting, score_told
from longlens.studio.frame import command, live, refuse, text
from longlens.studio.look import TEXT, veil
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

KINDS = {"forecast", "resolution", "withdrawal", "edition", "erratum"}
MOST_DOSSIERS = 50


def build(desk: Desk) -> None:
    """Fill the page."""
    ui.add_css(STYLE)
    page = _Page(desk)
    command("State a forecast", page.begin, "shift+f", "A draft that can be changed and undone until it is sealed")
    text("h2", "Say something beforehand")
    page.forecasting.drafts()
    button("State a forecast", page.begin)
    text("h2", "What was said, and what came")
    live(desk, page.shown, kinds=KINDS, solution=False)
    text("h2", "What moved since an edition")
    page.revisions()


class _Page:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.forecasting = Forecasting(desk)

    def begin(self) -> None:
        tried(self.forecasting.begin)

    def shown(self) -> None:
        desk = self.desk
        here = forecasts.all_of(desk.dossier, desk.dossier.vehicle.name)
        others = _others(desk)
        record = forecasts.record([*here, *others])
        text("p", record.sentence() if record.seen else "Nothing has been forecast yet.")
        if here:
            self.forecasting.table(here, f"{desk.dossier.vehicle.name}; what is sealed cannot be altered")
        if others:
            rows = [(s.car, s.forecast.text, s.given, s.came, score_told(s)) for s in others]
            el.table(desk, ("car", "forecast", "given", "came", "score"), rows, caption="Other dossiers in this folder")
        if record.bins:
            text("h2", "Of what was given so many per cent, how much happened")
            el.chart(_picture(record), _told(record), height="21rem")
            self._references(record)
        found = forecasts.problems(desk.dossier)
        if found:
            refuse(LonglensError("; ".join(found), fix="go back to a copy of the file"))
        elif here:
            text("p", "The journal was checked: no forecast was altered after it was made.", "ll-quiet")

    def _references(self, record: Record) -> None:
        rows = [("these forecasts", f"{record.brier:.3f}", "")]
        for name, v in record.references.items():
            gain = record.skill[name]
            rows.append((name, f"{v:.3f}", f"{gain:+.2f}".replace("-", "−") if math.isfinite(gain) else "—"))
        el.table(self.desk, ("who", "Brier score (0 is best)", "gain over it"), rows, right=(1, 2))
        p = record.partition
        if p is not None:
            parts = f"reliability {p.reliability:.3f} (0 is best) − resolution {p.resolution:.3f}"
            parts += f" + uncertainty {p.uncertainty:.3f}"
            bits = f"Logarithmic score {record.logarithmic:.2f} bits."
            text("p", f"Murphy's parts: {parts} = {p.score:.3f}. {bits}", "ll-quiet")

    # Revisions ------------------------------------------------------------------------------------------------

    def revisions(self) -> None:
        names = [e.id for e in editions(self.desk.dossier)]
        if not names:
            text("p", "No edition is frozen yet: longlens edition freeze, or Publish.", "ll-quiet")
            return
        choice = (
            ui.select(names, value=names[-1], label="Since the edition")
            .props("outlined dense dark")
            .style("min-width:16rem")
        )
        box = ui.element("div").props('aria-live="polite"')

        async def look() -> None:
            box.clear()
            with box:
                text("p", "comparing: what was not surveyed then is surveyed now …", "ll-quiet")
            try:
                found = await asyncio.to_thread(_compared, self.desk.dossier.path, str(choice.value))
            except LonglensError as error:
                box.clear()
                with box:
                    refuse(error)
                return
            box.clear()
            with box:
                self._moved(found)

        button("Compare with now", look)

    def _moved(self, found: Any) -> None:
        for r in found.remarks:
            text("p", r, "ll-quiet")
        rows = [
            (m.words, "" if m.by is None else f"{m.by:.1f}", "; ".join(c.words for c in m.because[:3]))
            for m in found.numbers[:40]
        ]
        if rows:
            el.table(self.desk, ("number", "moved, in half intervals", "because of"), rows, right=(1,))
        for c in found.claims:
            text("p", c.words)
        if not rows and not found.claims:
            text("p", "Nothing moved.")
        kept = keep_erratum(self.desk.dossier, found)
        self.desk.catch_up()
        text("h3", "Text for readers")
        area = (
            ui.textarea(value=kept.text).props('outlined autogrow dark aria-label="Text for readers"').classes("w-full")
        )

        def keep() -> None:
            with self.desk.batch("erratum") as dossier:
                dossier.change(Erratum, kept.id, text=str(area.value))

        area.on("blur", lambda: tried(keep))


def _compared(path: Path, since: str) -> Any:
    """In a connection of its own, because this runs in a thread and may take long."""
    with Dossier.open(path) as dossier:
        return compare(dossier, since)


def _others(desk: Desk) -> list[Seen]:
    """Forecasts of the other dossiers in the folder; files that cannot be read are passed over."""
    out: list[Seen] = []
    own = Path(desk.dossier.path).resolve()
    for path in sorted(own.parent.glob("*.longlens"))[:MOST_DOSSIERS]:
        if path.resolve() == own:
            continue
        try:
            with Dossier.open(path, readonly=True) as other:
                out += forecasts.all_of(other, other.vehicle.name)
        except (LonglensError, IndexError):
            continue
    return out


def _picture(record: Record) -> Any:
    fig = el.figure("given (%)", "happened (%)")
    fig.add_scatter(x=[0, 100], y=[0, 100], mode="lines", line={"color": "#80878d", "width": 1, "dash": "dot"},
                    name="as much as was given", hoverinfo="skip")  # fmt: skip
    x = [100 * b.given for b in record.bins]
    y = [100 * b.happened.value for b in record.bins]
    up = [100 * (b.happened.high - b.happened.value) for b in record.bins]
    down = [100 * (b.happened.value - b.happened.low) for b in record.bins]
    fig.add_scatter(
        x=x, y=y, mode="markers+text", text=[f"{b.count}×" for b in record.bins], textposition="middle right", name="forecasts",
        marker={"color": TEXT, "size": 10, "symbol": "diamond"}, textfont={"color": TEXT},
        error_y={"type": "data", "symmetric": False, "array": up, "arrayminus": down, "color": veil(TEXT, 0.7), "width": 8},
    )  # fmt: skip
    fig.update_xaxes(range=[-3, 103])
    fig.update_yaxes(range=[-3, 103])
    fig.update_layout(hovermode="closest")
    return fig


def _told(record: Record) -> str:
    parts = [f"given {100 * b.given:.0f} %: {100 * b.happened.value:.0f} % of {b.count} happened" for b in record.bins]
    return "Calibration. " + "; ".join(parts)


PAGE = Page(
    "/forecasts", "Forecasts", build, key="f", order=410, about="What was said beforehand, what came, and the score"
)
