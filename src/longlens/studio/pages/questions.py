"""The questions page: what speaks for each explanation, how belief moved, what would turn it, what would settle it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from nicegui import background_tasks, ui

from longlens.claims import verbal
from longlens.claims.forecasts import all_of
from longlens.claims.records import Evidence, Question
from longlens.claims.settle import Candidate, candidates, list_for_photographer, standpoints_of
from longlens.claims.sources import Sources
from longlens.claims.weigh import Item, Weighed, percent, weigh_in
from longlens.errors import LonglensError
from longlens.studio import belief, fields
from longlens.studio.desk import Change
from longlens.studio.evidence import (
    BETWEEN,
    STYLE,
    choose_marks,
    choose_means,
    choose_sides,
    crop_of,
    named,
    sides_fields,
    sides_of,
)
from longlens.studio.fields import Trouble, button, captioned, choice, field, number_of, share_of, tick, tried
from longlens.studio.forecasting import Forecasting
from longlens.studio.frame import command, guarded, live, refuse, say, text, watch
from longlens.studio.new_evidence import NewEvidence, blank, free_id
from longlens.studio.pages import Page
from longlens.systems import registry

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

#: Thumbnails of one item at most.
CROPS = 6
#: From a change until the page is filled anew, s.
PAUSE = 0.25
#: Kinds that change no weight.
FORECASTS = frozenset({"forecast", "forecast_draft", "resolution", "withdrawal"})


def build(desk: Desk) -> None:
    """Fill the page."""
    ui.add_css(belief.STYLE + STYLE + fields.STYLE)
    _Page(desk)


class _Page:
    """All questions under each other, each in a part of its own that is filled anew when something it hangs on changes."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.open: set[str] = set()
        self.drafts: dict[str, dict[str, Any]] = {}
        self.settled: dict[str, list[Candidate]] = {}
        self.settle_box: dict[str, ui.element] = {}
        self.forecasting = Forecasting(desk)
        self.shells: dict[str, tuple[ui.element, ui.element]] = {}
        self.seen: Any = None
        self.busy = self.again = False
        command("Ask a new question", self.ask, "shift+q", "With two explanations and something else")
        text("p", f"Words after the {verbal.GUIDELINE}. They grade the evidence, not the explanation.", "ll-quiet")
        self.none = text("p", "")
        self.box = ui.element("div")
        button("Ask a new question", self.ask)
        self.slot = ui.context.slot
        self.follow(Change(frozenset({"everything"})))
        watch(desk, self.follow)

    def follow(self, change: Change) -> None:
        """Something changed: questions come and go at once, each is weighed anew behind what stands."""
        if change.kinds and change.kinds <= FORECASTS and not (change.solution or change.stage):
            return
        self._shells()
        key = (self.desk.dossier.revision, self.desk.stage, id(self.desk.solved().solution))
        if key == self.seen:
            return
        self.seen = key
        self.refresh()

    def _shells(self) -> None:
        found = self.desk.dossier.all(Question)
        self.none.set_text("" if found else "Nothing is asked yet.")
        for id in [i for i in self.shells if i not in {q.id for q in found}]:
            self.shells.pop(id)[0].delete()
        for k, q in enumerate(found):
            if q.id in self.shells:
                continue
            with self.box:
                shell = ui.element("section")
            shell.props["aria-label"] = q.text
            with shell:
                inner = ui.element("div").props('aria-live="off"')
                with inner:
                    text("p", f"{q.text} weighing …", "ll-quiet")
                self._forecasts(q.id)
            if k < len(self.shells):
                shell.move(target_index=k)
            self.shells[q.id] = (shell, inner)

    def refresh(self) -> None:
        """Weigh every question again; what stands stays until the new is ready, so that nothing jumps."""
        if self.busy:
            self.again = True
        else:
            self.busy = True
            background_tasks.create(self._refresh(), name="questions weighed")

    async def _refresh(self) -> None:
        try:
            while True:
                # What was pressed together with the change (a field is left by a press on a button) is heard first.
                await asyncio.sleep(PAUSE if self.settle_box else 0)
                self.again = False
                for n, question in enumerate(self.desk.dossier.all(Question)):
                    if question.id in self.shells and not self.again:
                        with self.slot:
                            await self._weigh(question, n)
                if not self.again:
                    return
        finally:
            self.busy = False

    async def _weigh(self, question: Question, n: int) -> None:
        """One question, swapped in one go."""
        try:
            w: Weighed | Exception = await weighed(self.desk, question)
        except Exception as error:
            w = error
        shell, inner = self.shells.get(question.id, (None, None))
        if shell is None or inner is None or self.again or inner.is_deleted:
            return
        shell.props["aria-label"] = question.text
        shell.update()
        inner.clear()
        with inner:
            if isinstance(w, Exception):
                refuse(w)
                self._remains(question)
                return
            guarded(self._one, w, n)
        await self._settle(w)

    def _remains(self, q: Question) -> None:
        """What can be done with a question that cannot be weighed."""
        button("Remove this question", lambda: self._remove(q), f"Remove the question {q.text}")

    # One question ---------------------------------------------------------------------------------------------

    def _one(self, w: Weighed, n: int) -> None:
        question = w.question
        text("h2", question.text)
        text("p", w.sentence())
        prefix = f"b{n}_"
        with ui.element("ul").classes("ll-letters"):
            for k, a in enumerate(question.alternatives):
                with ui.element("li"):
                    ui.html(belief.swatch(k, f"{prefix}s"), sanitize=False, tag="span")
                    text("span", f"{belief.letter(k)}  {a.text}: {percent(w.belief[a.id])}")
        ui.html(belief.picture(w, prefix), sanitize=False)
        text("p", belief.told(w), "ll-hidden")
        text("h3", "Evidence")
        for item in w.items:
            guarded(self._item, w, item)
        self._panel(_adding(question), lambda: self._new(question), short="Add evidence")
        self._turns(w)
        box = ui.element("div")
        self.settle_box[question.id] = box
        with box:
            guarded(self._settle_told, w, candidates(w, _known_stands(self.settled.get(question.id, []))))
        title = "Change the question and its explanations"
        self._panel(f"{title}: {question.text}", lambda: self._edit(w), short=title)

    def _item(self, w: Weighed, item: Item) -> None:
        e = item.evidence
        group = next((g for g in w.groups if e.id in g.items), None)
        with ui.element("div").classes("ll-evidence" + ("" if item.log is not None else " ll-away")):
            with ui.element("div"):
                field(f"Evidence {e.id}", e.text, lambda v: self._change(e.id, text=v))
                if item.log is None:
                    text("p", f"Does not count: {item.why}.", "ll-bad")
                elif group is not None and group.speaks != e.id:
                    text("p", f"Counts once with “{_text(w, group.speaks)}”: both rest on the same.", "ll-quiet")
                elif group is not None:
                    x, lo, hi = (verbal.figure(10**v) for v in (group.contribution, group.low, group.high))
                    leader, other = w.lead.text, w.order[1].text
                    text("p", f"{x} times as probable ({lo} to {hi}) if it is {leader} as if it is {other}"
                         + ("; without it another answer leads" if group.turns else ""))  # fmt: skip
                if item.how:
                    text("p", item.how, "ll-quiet")
                self._strength(e)
                row = ui.element("div").classes("ll-row ll-panels")
            self._crops(item)
        self._rests_on(w.question, e, row)

    def _rests_on(self, q: Question, e: Evidence, row: ui.element) -> None:
        """Panels of one item, closed until they are asked for: its explanations, its marks."""

        def marks() -> None:
            choose_marks(self.desk, f"Marks of {e.id}", e.on, lambda refs: self._change(e.id, on=refs))

        def sides() -> None:
            assert e.judged is not None
            now = sides_of(q, e.judged)
            choose_sides(q, now, e.id, lambda a, side: self._side(q, e.id, a, side))

        def predictions() -> None:
            trouble = Trouble()
            for k, a in enumerate(q.alternatives):
                p = e.predicted.get(a.id)
                with ui.element("div").classes("ll-predicts"):
                    text("div", f"{belief.letter(k)}  {a.text}")
                    if p is None:
                        text("div", "predicts nothing: a wide spread", "ll-quiet")
                    elif p.value is None:
                        text(
                            "div",
                            f"what the {p.area} sheet gives for {p.output}, {p.variant or 'as given'}",
                            "ll-quiet",
                        )
                    else:
                        with ui.element("div").classes("ll-fields"):
                            for name, value in (("value", p.value), ("sd", p.sd), ("unit", p.unit), ("why", p.why)):
                                shown = f"{value:g}" if isinstance(value, float) else str(value)
                                captioned(name, f"{name} predicted by {a.text}, {e.id}", shown,
                                          partial(self._predict, e.id, a.id, name),
                                          "ll-half" if name == "why" else "ll-short", trouble)  # fmt: skip

        def means() -> None:
            text("p", f"The {e.area} sheet says so. Which explanation do its words stand for?", "ll-quiet")
            words = [w for w in e.reading.split("|")[1:] if w]
            choose_means(
                q, words, {w: list(e.means.get(w, [])) for w in words}, e.id, lambda m: self._change(e.id, means=m)
            )

        def reasons() -> None:
            with ui.element("div").classes("ll-fields"):
                captioned("why it is independent of what it shares a mark with", f"Why {e.id} is independent of what it shares",
                          e.apart, lambda v: self._change(e.id, apart=v), "ll-half")  # fmt: skip
                if e.judged is not None:
                    captioned("why this strength", f"Why this strength for {e.id}", e.judged.why,
                              lambda v: self._judge(e.id, "why", v), "ll-half")  # fmt: skip

        if e.judged is not None:
            self._panel(f"Explanations it speaks for: {e.id}", sides, row, "Explanations")
        elif e.reading:
            self._panel(f"Words of the sheet, what they stand for: {e.id}", means, row, "Words of the sheet")
        elif e.predicted:
            self._panel(f"Predictions of each explanation: {e.id}", predictions, row, "Predictions")
        self._panel(f"Marks it rests on: {e.id}", marks, row, "Marks")
        self._panel(f"Reasons: {e.id}", reasons, row, "Reasons")
        with row:
            button("Remove", lambda: self._remove_evidence(e.id), f"Remove the evidence {e.id}").classes("ll-small")

    def _panel(self, words: str, build: Callable[[], Any], row: ui.element | None = None, short: str = "") -> None:
        """A part that opens and closes, stays so when the page is filled anew, and costs nothing while it is closed.

        ``words`` name it; ``short`` is what stands on the button where the place tells the rest.
        """
        with row or ui.element("div").classes("ll-row ll-panels"):
            knob = text("button", short or words, "ll-button" + (" ll-small" if row is not None else "")).props(
                "type=button"
            )
            knob.props["aria-label"] = words
        box = ui.element("div").classes("ll-panel")

        def show() -> None:
            box.clear()
            knob.props["aria-expanded"] = "true" if words in self.open else "false"
            if words in self.open:
                with box:
                    guarded(build)

        def press() -> None:
            self.open ^= {words}
            show()

        show()
        knob.on("click", press)

    def _strength(self, e: Evidence) -> None:
        with ui.element("div").classes("ll-row"):
            if e.judged is not None:
                ratio, low, high = e.judged.range
                for name, value in (("low", low), ("ratio", ratio), ("high", high)):
                    with ui.element("label").classes("ll-quiet"):
                        text("span", f"{name} ")
                        field(f"{name} of {e.id}", f"{value:.3g}", partial(self._judge, e.id, name), "ll-short")
                with ui.element("label").classes("ll-quiet"):
                    text("span", "in words ")
                    choice(f"Strength of {e.id} in words", ["", *(g.words for g in verbal.SCALE)], e.judged.words,
                                 lambda v: self._judge(e.id, "words", v))  # fmt: skip
            with ui.element("label").classes("ll-quiet"):
                text("span", "group ")
                field(f"Group of {e.id}", e.group, lambda v: self._change(e.id, group=v), "ll-short")
            tick("counts", f"{e.id} counts", e.counts, lambda on: self._change(e.id, counts=on))

    def _crops(self, item: Item) -> None:
        e = item.evidence
        marks = {m.id: m for m in self.desk.marks()}
        shots = {s.id: s for s in self.desk.shots("all")}
        refs = [r for r in e.on if r.startswith("mark:")] or sorted(
            r for r in item.basis.records if r.startswith("mark:")
        )
        with ui.element("div").classes("ll-crops"):
            for mark in [marks[r[5:]] for r in refs if r[5:] in marks][:CROPS]:
                crop = crop_of(mark, shots.get(mark.shot))
                if crop:
                    with ui.link(target=f"/board?mark={quote(mark.id, safe='')}"):
                        ui.html(crop, sanitize=False)
                        text("span", named(mark))

    def _turns(self, w: Weighed) -> None:
        text("h3", "What would change the answer")
        with ui.element("ul").classes("ll-findings"):
            if w.turn:
                text("li", "Another answer would lead without: " + "; ".join(_text(w, i) for i in w.turn))
            elif w.groups:
                text("li", "Without any evidence the same answer leads: the priors decide.")
            for what, then in w.assumptions:
                other = next(a.text for a in w.question.alternatives if a.id == then)
                text("li", f"If {_ref(what)} does not hold, with all that rests on it, {other} leads.")
            for s in w.shared[:6]:
                on = ", ".join(_ref(x) for x in s.on[:3]) + (" …" if len(s.on) > 3 else "")
                text("li", f"“{_text(w, s.first)}” and “{_text(w, s.second)}” both rest on {on}"
                     + ("; they count once." if s.once else ". They are counted apart."))  # fmt: skip
            for remark in w.remarks:
                if "grade the evidence" not in remark:
                    text("li", remark, "ll-quiet")

    async def _settle(self, w: Weighed) -> None:
        """From where it could be seen takes the survey a while: what stands is told first."""
        solution = self.desk.solved(w.question.stage if w.question.stage else "here").solution
        if solution is None or not w.question.looks:
            return
        found = await asyncio.to_thread(lambda: candidates(w, standpoints_of(solution)))
        self.settled[w.question.id] = found
        box = self.settle_box[w.question.id]
        if not box.is_deleted:
            box.clear()
            with box:
                guarded(self._settle_told, w, found)

    def _settle_told(self, w: Weighed, found: list[Candidate]) -> None:
        if not found:
            return
        text("h3", "What would settle it")
        with ui.element("ol").classes("ll-advice"):
            for c in found:
                with ui.element("li"):
                    text("p", c.text)
                    told = f"{c.bits:.2f} bits expected; {100 * c.turns:.0f} % that another answer leads after it"
                    text("p", told, "ll-quiet")
                    for t, p, after in c.then:
                        best = max(after, key=lambda a: after[a])
                        name = next(a.text for a in w.question.alternatives if a.id == best)
                        with ui.element("div").classes("ll-row").style("gap:.2rem .8rem"):
                            text("span", f"{t} ({100 * p:.0f} %): then {name}, {100 * after[best]:.0f} %", "ll-quiet")
                            said = {
                                "text": f"{c.text} Answer: {t}",
                                "probability": round(p, 2),
                                "on": [f"question:{w.question.id}"],
                            }
                            one = text("button", "forecast this", "ll-plain ll-left").props("type=button")
                            one.props["aria-label"] = f"Forecast: {t}"
                            one.on("click", lambda said=said: tried(lambda: self.forecasting.begin(**said)))
                    for s in c.stand:
                        text("p", f"From where: {s}")
        if self.desk.solved(w.question.stage if w.question.stage else "here").solution is None:
            text("p", "From where it could be photographed is told once the survey is solved.", "ll-quiet")
        words = list_for_photographer(w, found)
        button(
            "List for a photographer",
            lambda: ui.download(words.encode(), f"photographs-{w.question.id}.txt".replace(" ", "-")),
        )

    def _forecasts(self, id: str) -> None:
        """What was said beforehand on this question. It follows the forecasts by itself."""
        about = f"question:{id}"

        def sealed() -> None:
            mine = [s for s in all_of(self.desk.dossier) if about in s.forecast.on]
            if mine:
                self.forecasting.table(mine, "Said beforehand on this question; what is sealed cannot be altered")

        text("h3", "Forecasts on this question")
        live(self.desk, sealed, kinds=set(FORECASTS), solution=False)
        self.forecasting.drafts(lambda d: about in d.on)
        button("State a forecast", lambda: self.forecasting.begin(on=[about]), f"State a forecast on the question {id}")

    # Editing --------------------------------------------------------------------------------------------------

    def _edit(self, w: Weighed) -> None:
        q = w.question
        drafts: dict[str, dict[str, str]] = {}
        with ui.element("div").classes("ll-sheetlet"):
            with ui.element("div").classes("ll-fields"):
                captioned(
                    "the question", f"Text of {q.id}", q.text, lambda v: self._change_question(q.id, text=v), "ll-whole"
                )
            for k, a in enumerate(q.alternatives):
                draft = drafts[a.id] = {"text": a.text, "prior": f"{100 * a.prior:g}", "why": a.why}
                with ui.element("div").classes("ll-fields"):
                    rows = ((f"explanation {belief.letter(k)}", "text", "ll-half"), ("prior (%)", "prior", "ll-short"))
                    for words, name, size in (*rows, ("why this prior", "why", "ll-half")):
                        captioned(words, f"{name} of {a.id}", draft[name], partial(draft.__setitem__, name), size)
            trouble = Trouble()
            with ui.element("div").classes("ll-row"):
                button("Keep explanations", lambda: trouble.attempt(lambda: self._keep(q, drafts)))
                button("Add an explanation", lambda: trouble.attempt(lambda: self._keep(q, drafts, add=True)))
                button("Remove this question", lambda: self._remove(q), f"Remove the question {q.text}")

    def _change(self, id: str, **fields: Any) -> None:
        with self.desk.batch(f"evidence {id}") as dossier:
            dossier.change(Evidence, id, **fields)

    def _judge(self, id: str, name: str, value: str) -> None:
        judged = self.desk.dossier.get(Evidence, id).judged
        if judged is None:
            return
        fields = judged.model_dump(exclude_none=True)
        if name == "words":
            fields = {k: v for k, v in fields.items() if k not in ("ratio", "low", "high", "words")}
            if not value:
                ratio, low, high = judged.range
                fields |= {"ratio": ratio, "low": low, "high": high}
            else:
                fields["words"] = value
        elif name == "why":
            fields["why"] = value
        else:
            ratio, low, high = judged.range
            fields |= {"ratio": ratio, "low": low, "high": high, "words": "", name: number_of(value, name)}
        self._change(id, judged=fields)

    def _side(self, q: Question, id: str, alternative: str, side: str) -> None:
        judged = self.desk.dossier.get(Evidence, id).judged
        if judged is not None:
            sides = sides_of(q, judged) | {alternative: side}
            self._change(id, judged=judged.model_dump(exclude_none=True) | sides_fields(sides))

    def _predict(self, id: str, alternative: str, name: str, value: str) -> None:
        predicted = {
            a: p.model_dump(exclude_none=True) for a, p in self.desk.dossier.get(Evidence, id).predicted.items()
        }
        predicted[alternative][name] = number_of(value, name) if name in ("value", "sd") else value
        self._change(id, predicted=predicted)

    def _remove_evidence(self, id: str) -> None:
        with self.desk.batch(f"remove evidence {id}") as dossier:
            dossier.remove(Evidence, id)
        say("removed; undo brings it back")

    def _change_question(self, id: str, **fields: Any) -> None:
        with self.desk.batch(f"question {id}") as dossier:
            dossier.change(Question, id, **fields)

    def _keep(self, q: Question, drafts: dict[str, dict[str, str]], add: bool = False) -> None:
        made = []
        for a in q.alternatives:
            d = drafts[a.id]
            made.append({**a.model_dump(), "text": d["text"], "prior": share_of(d["prior"], a.text), "why": d["why"]})
        if add:
            more = free_id("explanation", set(q.ids))
            made.append({"id": more, "text": "another explanation", "prior": 0.0, "why": "not yet thought about"})
        looks = [x.model_dump() for x in q.looks]
        if add:  # what it says of looks is not known yet: all they could show is as probable
            for look in looks:
                for sight in look["sights"]:
                    sight["chances"][more] = 1 / len(look["sights"])
        self._change_question(q.id, alternatives=made, looks=looks)

    def _new(self, q: Question) -> None:
        """The form of a new item; what is filled in stays until it is kept or thrown away."""
        draft = self.drafts.setdefault(q.id, blank(q))
        for a in q.ids:  # an explanation may have joined meanwhile
            draft["sides"].setdefault(a, BETWEEN)

        def done() -> None:
            self.drafts.pop(q.id, None)
            self.open.discard(_adding(q))
            self.seen = None
            self.follow(Change(frozenset({"evidence"})))

        NewEvidence(self.desk, q, draft, partial(self._all_outcomes, q), done)

    async def _all_outcomes(self, q: Question) -> dict[str, Any]:
        """The runs of every sheet, by area and variant; of a sheet that cannot be run there are none."""
        out: dict[str, Any] = {}
        for area in registry.areas():
            try:
                out[area] = await self.desk.outcomes(area, q.stage or self.desk.stage)
            except LonglensError:
                continue
        return out

    def _remove(self, q: Question) -> None:
        from longlens.dossier.links import remove_whole

        def do() -> None:
            with self.desk.batch(f"remove question {q.id}") as dossier:
                remove_whole(dossier, Question, q.id)
            say("removed; undo brings it back")

        tried(do)

    def ask(self) -> None:
        """A new question to be filled in."""

        def do() -> None:
            id = free_id("question", set(self.desk.dossier.ids(Question)))
            rows = [
                ("one", "the first explanation", 0.45),
                ("two", "the second explanation", 0.45),
                ("else", "something else", 0.1),
            ]
            question = Question.model_validate(
                {"id": id, "text": "How does it work?", "stage": self.desk.stage,
                 "alternatives": [
                     {"id": i, "text": t, "prior": p, "why": "no reason yet", "rest": i == "else"} for i, t, p in rows]}
            )  # fmt: skip
            with self.desk.batch(f"question {id}") as dossier:
                dossier.add(question)

        tried(do)


async def weighed(desk: Desk, question: Question) -> Weighed:
    """A question weighed with the desk's numbers and runs."""
    stage = question.stage or desk.stage
    evidence = [e for e in desk.dossier.all(Evidence) if e.question == question.id]
    areas = {e.area for e in evidence if e.area} | {p.area for e in evidence for p in e.predicted.values() if p.area}
    areas |= {e.of.removeprefix("output:").partition(".")[0] for e in evidence if e.of and e.of.startswith("output:")}
    outcomes: dict[str, Any] = {}
    for area in sorted(areas):
        try:
            outcomes[area] = await desk.outcomes(area, stage)
        except LonglensError:
            outcomes[area] = {}
    sources = Sources(desk.dossier, stage, known=desk.numbers(stage), outcomes=outcomes)
    found = weigh_in(desk.dossier, question, sources)
    if desk.solved(stage).solution is None and any(e.of or e.area for e in evidence):
        found.remarks.insert(0, "the survey is not solved yet: evidence from its numbers joins when it is")
    return found


def _text(w: Weighed, id: str) -> str:
    return next(i.evidence.text for i in w.items if i.evidence.id == id)


def _ref(record: str) -> str:
    kind, _, id = record.partition(":")
    return f"the {kind} {id}".replace("_", " ") if kind in ("mark", "fact", "measure", "point") else f"“{record}”"


def _adding(q: Question) -> str:
    return f"Add evidence: {q.text}"


def _known_stands(found: list[Candidate]) -> Any:
    """Standpoints as they were told before, until the survey has looked again."""
    told = {c.at: c.stand for c in found}
    return (lambda at: told.get(tuple(at), [])) if told else None


__all__ = ["PAGE", "build", "weighed"]

PAGE = Page("/claims", "Questions", build, key="q", order=400, about="Explanations weighed, and what would settle them")
