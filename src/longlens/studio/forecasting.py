"""Forecasts on a page: written as a draft that can be changed and undone, sealed, revised in the open, judged, withdrawn.

The Forecasts page shows all of them with this, the Questions page those on one question.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from nicegui import ui

from longlens.claims import forecasts
from longlens.claims.forecasts import Seen
from longlens.claims.records import Forecast, ForecastDraft
from longlens.studio import elements as el
from longlens.studio.fields import Trouble, button, captioned, choice, number_of, share_of, ways
from longlens.studio.frame import guarded, say, text, watch

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

EVENT, RANGE = "event", "range"
WAYS = ((EVENT, "Something happens"), (RANGE, "A value lies in a range"))
COLUMNS = ("made", "forecast", "given", "came", "score", "")


class Forecasting:
    """What one page does with forecasts. ``ways``: which kind of draft is shown, while nothing in it tells."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.ways: dict[str, str] = {}
        self._own: dict[str, ForecastDraft] = {}

    # Drafts ---------------------------------------------------------------------------------------------------

    def begin(self, **fields: Any) -> None:
        """A new draft; one undo step."""
        made = forecasts.new_draft(self.desk.dossier, **fields)
        self.desk.catch_up()
        ui.run_javascript(f"longlens.goTo({json.dumps(f'Draft {made.id}')})")

    def drafts(self, mine: Callable[[ForecastDraft], bool] = lambda _: True) -> None:
        """The forms of all drafts, or of some. A form is filled anew only for what was changed elsewhere, or taken back."""
        box = ui.element("div")
        shown: dict[str, tuple[ForecastDraft, ui.element]] = {}

        def again() -> None:
            now = {d.id: d for d in forecasts.drafts(self.desk.dossier) if mine(d)}
            for id in [i for i in shown if i not in now]:
                shown.pop(id)[1].delete()
            for id, d in now.items():
                if id in shown and d in (shown[id][0], self._own.get(id)):
                    shown[id] = (d, shown[id][1])
                    continue
                if id not in shown:
                    with box:
                        shown[id] = (d, ui.element("div"))
                shown[id] = (d, shown[id][1])
                shown[id][1].clear()
                with shown[id][1]:
                    guarded(self.draft, d)

        again()
        watch(self.desk, again)

    def draft(self, d: ForecastDraft) -> None:
        """The form of one draft. Each field is written into the dossier when it is left."""
        earlier = self.desk.dossier.find(Forecast, d.revises) if d.revises else None
        title = f"Revision of “{earlier.text}”" if earlier is not None else "New forecast, not sealed yet"
        with ui.element("section").classes("ll-sheetlet") as section:
            section.props["aria-label"] = f"Draft {d.id}"
            text("h3", title)
            if earlier is not None:
                now = next(s for s in forecasts.all_of(self.desk.dossier) if s.forecast.id == earlier.id)
                text(
                    "p",
                    f"Said so far: {now.given}. It stays in the list; the last one said is judged and scored.",
                    "ll-quiet",
                )
            box = ui.element("div")
            with box:
                self._fill(d, box)

    def _fill(self, d: ForecastDraft, box: ui.element) -> None:
        said = EVENT if d.probability is not None else RANGE if d.low is not None or d.high is not None else ""
        way = said or self.ways.get(d.id) or (RANGE if d.unit else EVENT)
        of = d.id

        def to(other: str) -> None:
            self.ways[of] = other
            if other != way:  # what belongs to the other kind only goes
                gone: Mapping[str, Any] = (
                    {"probability": None} if way == EVENT else {"low": None, "high": None, "unit": ""}
                )
                self._change(of, **gone)
                box.clear()
                with box:
                    self._fill(self.desk.dossier.get(ForecastDraft, of), box)

        if not d.revises:
            ways(f"Kind of {of}", WAYS, way, to)
        fields = ui.element("div").classes("ll-fields")
        trouble = Trouble()
        with fields:

            def line(
                words: str, name: str, value: Any, read: Callable[[str], Any] = str, size: str = "ll-short"
            ) -> None:
                shown = "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)
                captioned(words, f"{words}, {of}", shown, lambda v: self._change(of, **{name: read(v)}), size, trouble)

            what = "What will happen" if way == EVENT else "What will be measured or stated"
            line(what, "text", d.text, size="ll-whole")
            if way == EVENT:
                chance = None if d.probability is None else 100 * d.probability
                line(
                    "Probability (%)",
                    "probability",
                    chance,
                    lambda v: share_of(v, "probability") if v.strip() else None,
                )
            else:
                for words, name, value in (("from", "low", d.low), ("to", "high", d.high)):
                    line(words, name, value, lambda v, w=words: number_of(v, w) if v.strip() else None)  # type: ignore[misc]
                line("unit", "unit", d.unit)
                line("holds the value with (%)", "level", 100 * d.level, lambda v: share_of(v, "level"))
            line("How and by when it will be judged", "settles", d.settles, size="ll-half")
            line("Why", "why", d.why, size="ll-half")
        with ui.element("div").classes("ll-row"):
            button("Seal it", lambda: trouble.attempt(lambda: self._seal(of)), f"Seal {of}")
            button("Throw the draft away", lambda: self._throw(of), f"Throw the draft {of} away")
            text("span", "Once sealed it cannot be altered: only revised or withdrawn, in the open.", "ll-quiet")

    def _change(self, id: str, **fields: Any) -> None:
        with self.desk.batch(f"draft of {id}") as dossier:
            self._own[id] = dossier.change(ForecastDraft, id, **fields)

    def _seal(self, id: str) -> None:
        forecasts.seal(self.desk.dossier, id)
        self.desk.catch_up()
        say("sealed: from now on it can only be revised or withdrawn, in the open")

    def _throw(self, id: str) -> None:
        with self.desk.batch(f"throw the draft of {id} away") as dossier:
            dossier.remove(ForecastDraft, id)
        say("thrown away; undo brings it back")

    # Sealed ---------------------------------------------------------------------------------------------------

    def table(self, seen: list[Seen], caption: str) -> None:
        """Sealed forecasts with what came of them, and what can be done with each."""
        el.table(self.desk, COLUMNS, [self._row(s) for s in seen], caption=caption)

    def _row(self, s: Seen) -> tuple[Any, ...]:
        f = s.forecast

        def told() -> None:
            text("div", f.text)
            if f.why:
                text("div", f"because {f.why}", "ll-quiet")
            if s.state == "revised":
                text("div", f"revised: {s.revised_by} took its place", "ll-quiet")
            elif s.withdrawal:
                text("div", f"withdrawn: {s.withdrawal.why}", "ll-bad")
            elif s.resolution:
                text("div", s.resolution.text + (" (corrected)" if s.corrected else ""), "ll-quiet")
            elif f.settles:
                text("div", f"judged by: {f.settles}", "ll-quiet")
            if f.revises:
                text("div", f"revises {f.revises}", "ll-quiet")

        def act() -> None:
            if s.state == "open":
                with ui.element("div").classes("ll-row").style("gap:.3rem;flex-wrap:nowrap"):
                    button("Judge", lambda: self.judge(s), f"Judge {f.id}")
                    button("Revise", lambda: self.begin(revises=f.id), f"Revise {f.id}")
                    button("Withdraw", lambda: self.withdraw(s), f"Withdraw {f.id}")
            elif s.state == "resolved":
                button("Correct", lambda: self.judge(s), f"Correct {f.id}")

        made = f.made[:10] + (f", {f.edition}" if f.edition else "")
        return made, told, s.given, s.came, score_told(s), act

    def judge(self, s: Seen) -> None:
        """Ask what came of it; written down for good, a second time corrects the first in the open."""
        event = s.forecast.probability is not None
        with _dialog(f"What came of it: {s.forecast.text}") as dialog:
            text("p", f"Said: {s.given}." + (f" Judged by: {s.forecast.settles}" if s.forecast.settles else ""))
            if s.state == "resolved":
                text("p", f"So far: {s.came}. The correction stands beside it.", "ll-quiet")
            said: dict[str, str] = {"how": "", "value": "", "on": ""}
            with ui.element("div").classes("ll-fields"):
                if not event:
                    captioned(f"Value ({s.forecast.unit})" if s.forecast.unit else "Value", "Value that came out", "",
                              lambda v: said.update(value=v), "ll-short")  # fmt: skip
                captioned("How it is known", "How it is known", "", lambda v: said.update(how=v), "ll-whole")
                with ui.element("label").classes("ll-whole"):
                    text("span", "What in the dossier it rests on, if anything")
                    refs = [r for r, n in self.desk.numbers().items() if r.startswith(("fact:", "measure:"))]
                    choice("What it rests on", [("", "nothing named"), *((r, f"{r.partition(':')[2]}: {n}") for r in refs
                           if not (n := self.desk.numbers()[r]).shape)], "", lambda v: said.update(on=v))  # fmt: skip
            trouble = Trouble()

            def done(happened: bool | None) -> None:
                value = None if event else number_of(said["value"], "value")
                on = [said["on"]] if said["on"] else []
                forecasts.resolve(
                    self.desk.dossier, s.forecast.id, said["how"], happened=happened, value=value, evidence=on
                )
                dialog.close()
                self.desk.catch_up()

            with ui.element("div").classes("ll-row").style("margin-top:.7rem"):
                for words, came in (
                    (("It happened", True), ("It did not", False)) if event else (("Write it down", None),)
                ):
                    button(words, lambda came=came: trouble.attempt(lambda: done(came)))  # type: ignore[misc]
                button("Close", dialog.close)

    def withdraw(self, s: Seen) -> None:
        """Ask why it is taken back."""
        with _dialog(f"Withdraw: {s.forecast.text}") as dialog:
            said = {"why": ""}
            with ui.element("div").classes("ll-fields"):
                captioned(
                    "Why, for everyone to read",
                    "Why, for everyone to read",
                    "",
                    lambda v: said.update(why=v),
                    "ll-whole",
                )
            trouble = Trouble()

            def done() -> None:
                forecasts.withdraw(self.desk.dossier, s.forecast.id, said["why"])
                dialog.close()
                self.desk.catch_up()

            with ui.element("div").classes("ll-row").style("margin-top:.7rem"):
                button("Withdraw it", lambda: trouble.attempt(done))
                button("Close", dialog.close)


class _dialog:
    """An open dialog with a title; its first field has the focus. It goes when it is closed."""

    def __init__(self, title: str) -> None:
        self.title = title

    def __enter__(self) -> ui.dialog:
        self.dialog = ui.dialog()
        self.dialog.__enter__()
        self.inner = ui.element("div").classes("q-pa-md").style("min-width:min(40rem,90vw)")
        self.inner.__enter__()
        text("h2", self.title).style("margin-top:0")
        return self.dialog

    def __exit__(self, *_: object) -> None:
        self.inner.__exit__(None, None, None)
        self.dialog.__exit__(None, None, None)
        self.dialog.on("hide", self.dialog.delete)
        self.dialog.on("show", js_handler="() => document.querySelector('.q-dialog input, .q-dialog button')?.focus()")
        self.dialog.open()


def score_told(s: Seen) -> str:
    """``Brier 0.09, log 0.51 bits``; what a revised one would have scored is left to the last one said."""
    if s.state == "revised":
        return ""
    names = {"brier": "Brier", "logarithmic": "log", "interval": "interval"}
    units = {"brier": "", "logarithmic": " bits", "interval": f" {s.forecast.unit}"}
    return ", ".join(f"{names[k]} {v:.2g}{units[k]}" for k, v in s.score.items())
