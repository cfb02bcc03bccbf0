"""The forecasts page: what was said beforehand, what came, the score, and what moved since an edition."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable
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
from longlens.studio.frame import live, refuse, say, text
from longlens.studio.look import TEXT, veil
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

KINDS = {"forecast", "resolution", "withdrawal", "edition", "erratum"}
MOST_DOSSIERS = 50


def build(desk: Desk) -> None:
    """Fill the page."""
    page = _Page(desk)
    live(desk, page.shown, kinds=KINDS, solution=False)
    text("h2", "Say something beforehand")
    page.maker()
    text("h2", "What moved since an edition")
    page.revisions()


class _Page:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def shown(self) -> None:
        desk = self.desk
        here = forecasts.all_of(desk.dossier, desk.dossier.vehicle.name)
        others = _others(desk)
        record = forecasts.record([*here, *others])
        text("p", record.sentence() if record.seen else "Nothing has been forecast yet.")
        if here:
            el.table(desk, ("made", "forecast", "given", "came", "score", ""), [self._row(s) for s in here],
                     caption=f"{desk.dossier.vehicle.name}; a forecast is sealed when it is made")  # fmt: skip
        if others:
            rows = [(s.car, s.forecast.text, s.given, s.came, _score(s)) for s in others]
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

    def _row(self, s: Seen) -> tuple[Any, ...]:
        f = s.forecast

        def told() -> None:
            text("div", f.text)
            if f.why:
                text("div", f"because {f.why}", "ll-quiet")
            if s.withdrawal:
                text("div", f"withdrawn: {s.withdrawal.why}", "ll-bad")
            elif s.resolution:
                text("div", s.resolution.text + (" (corrected)" if s.corrected else ""), "ll-quiet")
            elif f.settles:
                text("div", f"settled by: {f.settles}", "ll-quiet")

        def act() -> None:
            if s.state == "open":
                _button("Settle", lambda: self._settle(s), f"Settle {f.id}")
                _button("Withdraw", lambda: self._withdraw(s), f"Withdraw {f.id}")
            elif s.state == "resolved":
                _button("Correct", lambda: self._settle(s), f"Correct {f.id}")

        made = f.made[:10] + (f", {f.edition}" if f.edition else "")
        return made, told, s.given, s.came, _score(s), act

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

    # Writing --------------------------------------------------------------------------------------------------

    def maker(self) -> None:
        with ui.element("div").classes("ll-form"):
            words = _entry("What will happen, or what will be measured", "26rem")
            chance = _entry("Probability (%)", "10rem")
            low, high, unit = _entry("or from", "7rem"), _entry("to", "7rem"), _entry("unit", "6rem")
            why = _entry("Why", "22rem")

            def seal() -> None:
                event = bool(chance.value)
                fields: dict[str, Any] = {"probability": _number(chance.value) / 100} if event else {
                    "low": _number(low.value), "high": _number(high.value), "unit": unit.value or ""}  # fmt: skip
                taken = {s.forecast.id for s in forecasts.all_of(self.desk.dossier)}
                id = next(f"forecast {n}" for n in range(1, 10_000) if f"forecast {n}" not in taken)
                if not (words.value or "").strip():
                    raise LonglensError("say what is forecast first")
                forecasts.make(self.desk.dossier, id, words.value, why=why.value or "", **fields)
                self.desk.catch_up()
                for one in (words, chance, low, high, unit, why):
                    one.value = ""
                say("sealed: it cannot be altered, only withdrawn in the open")

            _button("Seal it", lambda: _tried(seal))

    def _settle(self, s: Seen) -> None:
        event = s.forecast.probability is not None
        with ui.dialog() as dialog, ui.element("div").classes("q-pa-md").style("min-width:min(36rem,90vw)"):
            text("h2", s.forecast.text).style("margin-top:0")
            how = _entry("How it is known", "100%")
            value = None if event else _entry(f"Value ({s.forecast.unit})", "12rem")

            def done(happened: bool | None) -> None:
                number = None if value is None else _number(value.value)
                forecasts.resolve(self.desk.dossier, s.forecast.id, how.value or "", happened=happened, value=number)
                dialog.close()
                self.desk.catch_up()

            with ui.element("div").classes("ll-row").style("margin-top:.7rem"):
                if event:
                    _button("It happened", lambda: _tried(lambda: done(True)))
                    _button("It did not", lambda: _tried(lambda: done(False)))
                else:
                    _button("Write it down", lambda: _tried(lambda: done(None)))
                _button("Close", dialog.close)
        dialog.on("hide", dialog.delete)
        dialog.open()

    def _withdraw(self, s: Seen) -> None:
        with ui.dialog() as dialog, ui.element("div").classes("q-pa-md").style("min-width:min(36rem,90vw)"):
            text("h2", f"Withdraw: {s.forecast.text}").style("margin-top:0")
            why = _entry("Why, for everyone to read", "100%")

            def done() -> None:
                forecasts.withdraw(self.desk.dossier, s.forecast.id, why.value or "")
                dialog.close()
                self.desk.catch_up()

            with ui.element("div").classes("ll-row").style("margin-top:.7rem"):
                _button("Withdraw it", lambda: _tried(done))
                _button("Close", dialog.close)
        dialog.on("hide", dialog.delete)
        dialog.open()

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

        _button("Compare with now", look)

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

        area.on("blur", lambda: _tried(keep))


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


def _score(s: Seen) -> str:
    names = {"brier": "Brier", "logarithmic": "log", "interval": "interval"}
    units = {"brier": "", "logarithmic": " bits", "interval": f" {s.forecast.unit}"}
    return ", ".join(f"{names[k]} {v:.2g}{units[k]}" for k, v in s.score.items())


def _entry(label: str, width: str) -> Any:
    return ui.input(label).props("outlined dense dark").style(f"width:{width}")


def _number(words: Any) -> float:
    try:
        return float(str(words).strip().removesuffix("%").replace(",", "."))
    except ValueError:
        raise LonglensError(f"{words!r} is no number", fix="write digits, 70 say") from None


def _button(words: str, do: Callable[[], Any], label: str = "") -> None:
    button = text("button", words, "ll-button").props("type=button")
    if label:
        button.props["aria-label"] = label
    button.on("click", do)


def _tried(do: Callable[[], Any]) -> None:
    try:
        do()
    except LonglensError as error:
        say(str(error), good=False)


PAGE = Page(
    "/forecasts", "Forecasts", build, key="f", order=410, about="What was said beforehand, what came, and the score"
)
