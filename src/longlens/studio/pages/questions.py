"""The questions page: what speaks for each explanation, how belief moved, what would turn it, what would settle it."""

from __future__ import annotations

import asyncio
import html
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from nicegui import ui
from pydantic import ValidationError

from longlens.claims import verbal
from longlens.claims.records import Evidence, Question
from longlens.claims.settle import candidates, list_for_photographer, standpoints_of
from longlens.claims.sources import Sources
from longlens.claims.weigh import Item, Weighed, percent, weigh_in
from longlens.errors import LonglensError
from longlens.studio import belief
from longlens.studio.evidence import (
    DISFAVOURED,
    FAVOURED,
    STYLE,
    button,
    choice,
    choose_marks,
    choose_sides,
    crop_of,
    field,
    named,
    sides_fields,
    sides_of,
    tried,
)
from longlens.studio.frame import command, guarded, later, say, text, watch
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

_TICK = "(e) => emit(e.target.checked)"
#: Thumbnails of one item at most.
CROPS = 6
FOLLOWED = {"question", "evidence", "mark", "fact", "measure", "sheet_input", "shot", "everything"}


def build(desk: Desk) -> None:
    """Fill the page."""
    ui.add_css(belief.STYLE + STYLE)
    _Page(desk)


class _Page:
    """All questions under each other; the choice above opens one alone."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.box = ui.element("div")
        self.seen: Any = None
        self.open: set[str] = set()
        self.drafts: dict[str, dict[str, Any]] = {}
        command("Ask a new question", self.ask, "", "With two explanations and something else")
        self.fill()
        watch(desk, self.fill)

    def fill(self) -> None:
        desk = self.desk
        key = (desk.dossier.revision, desk.stage, id(desk.solved().solution))
        if key == self.seen:
            return
        self.seen = key
        self.box.clear()
        with self.box:
            text("p", f"Words after the {verbal.GUIDELINE}. They grade the evidence, not the explanation.", "ll-quiet")
            found = desk.dossier.all(Question)
            if not found:
                text("p", "Nothing is asked yet.")
            for n, question in enumerate(found):
                later(partial(self._one, question, n), f"{question.text} weighing …")
            button("Ask a new question", self.ask)

    # One question ---------------------------------------------------------------------------------------------

    async def _one(self, question: Question, n: int) -> None:
        w = await weighed(self.desk, question)
        with ui.element("section").props(f'aria-label="{html.escape(question.text)}"'):
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
            self._panel(_adding(question), lambda: self._new(question))
            self._turns(w)
            later(lambda: self._settle(w), "looking from where it could be settled …")
            self._edit(w)

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
            self._crops(item)
        self._rests_on(w.question, e)

    def _rests_on(self, q: Question, e: Evidence) -> None:
        """Panels of one item, closed until they are asked for: its explanations, its marks."""

        def marks() -> None:
            choose_marks(self.desk, f"Marks of {e.id}", e.on, lambda refs: self._change(e.id, on=refs))

        def sides() -> None:
            assert e.judged is not None
            now = sides_of(q, e.judged)
            choose_sides(q, now, e.id, lambda a, side: self._side(q, e.id, a, side))

        def predictions() -> None:
            for a in q.alternatives:
                p = e.predicted.get(a.id)
                if p is None or p.value is None:
                    continue
                with ui.element("div").classes("ll-row"):
                    text("span", a.text)
                    for name, value in (("value", p.value), ("sd", p.sd), ("unit", p.unit), ("why", p.why)):
                        with ui.element("label").classes("ll-quiet"):
                            text("span", f"{name} ")
                            shown = f"{value:g}" if isinstance(value, float) else str(value)
                            field(f"{name} predicted by {a.text}, {e.id}", shown,
                                  partial(self._predict, e.id, a.id, name), "" if name == "why" else "ll-short")  # fmt: skip

        row = ui.element("div").classes("ll-row ll-panels")
        if e.judged is not None:
            self._panel(f"Explanations it speaks for: {e.id}", sides, row)
        elif any(p.value is not None for p in e.predicted.values()):
            self._panel(f"What each explanation predicts: {e.id}", predictions, row)
        self._panel(f"Choose its marks: {e.id}", marks, row)
        with row:
            button("Remove this evidence", lambda: self._remove_evidence(e.id), f"Remove the evidence {e.id}")

    def _panel(self, words: str, build: Callable[[], Any], row: ui.element | None = None) -> None:
        """A part that opens and closes, stays so when the page is filled anew, and costs nothing while it is closed."""
        with row or ui.element("div").classes("ll-row ll-panels"):
            knob = text("button", words, "ll-button").props("type=button")
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
            with ui.element("label").classes("ll-quiet"):
                box = ui.element("input").props('type="checkbox"' + (" checked" if e.counts else ""))
                box.props["aria-label"] = f"{e.id} counts"
                box.on("change", lambda x: self._count(e.id, x.args), js_handler=_TICK)
                text("span", " counts")
        with ui.element("details"):
            text("summary", "Why it is independent, and why this strength")
            field(f"Why {e.id} is independent of what it shares", e.apart, lambda v: self._change(e.id, apart=v))
            if e.judged is not None:
                field(f"Why this strength for {e.id}", e.judged.why, lambda v: self._judge(e.id, "why", v))

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
        solution = self.desk.solved(w.question.stage if w.question.stage else "here").solution
        stand = await asyncio.to_thread(standpoints_of, solution) if solution is not None else None
        found = await asyncio.to_thread(candidates, w, stand)
        if not found:
            return
        text("h3", "What would settle it")
        with ui.element("ol").classes("ll-advice"):
            for c in found:
                with ui.element("li"):
                    text("p", c.text)
                    text(
                        "p",
                        f"{c.bits:.2f} bits expected; {100 * c.turns:.0f} % that another answer leads after it",
                        "ll-quiet",
                    )
                    for t, p, after in c.then:
                        best = max(after, key=lambda a: after[a])
                        name = next(a.text for a in w.question.alternatives if a.id == best)
                        text("p", f"{t} ({100 * p:.0f} %): then {name}, {100 * after[best]:.0f} %", "ll-quiet")
                    for s in c.stand:
                        text("p", f"From where: {s}")
        if solution is None:
            text("p", "From where it could be photographed is told once the survey is solved.", "ll-quiet")
        words = list_for_photographer(w, found)
        button(
            "List for a photographer",
            lambda: ui.download(words.encode(), f"photographs-{w.question.id}.txt".replace(" ", "-")),
        )

    # Editing --------------------------------------------------------------------------------------------------

    def _edit(self, w: Weighed) -> None:
        q = w.question
        with ui.element("details"):
            text("summary", "Change the question and its explanations")
            field(f"Text of {q.id}", q.text, lambda v: self._change_question(q.id, text=v))
            drafts: dict[str, dict[str, str]] = {}
            with ui.element("table").classes("ll-table"):
                with ui.element("thead"), ui.element("tr"):
                    for head in ("explanation", "prior (%)", "why this prior"):
                        text("th", head).props('scope="col"')
                with ui.element("tbody"):
                    for a in q.alternatives:
                        draft = drafts[a.id] = {"text": a.text, "prior": f"{100 * a.prior:g}", "why": a.why}
                        with ui.element("tr"):
                            for name, width in (("text", "22rem"), ("prior", "5rem"), ("why", "30rem")):
                                with ui.element("td"):
                                    field(f"{name} of {a.id}", draft[name], partial(draft.__setitem__, name)).style(
                                        f"width:{width}"
                                    )
            with ui.element("div").classes("ll-row"):
                button("Keep explanations", lambda: self._keep(q, drafts))
                button("Add an explanation", lambda: self._keep(q, drafts, add=True))
                button("Remove this question", lambda: self._remove(q))

    def _change(self, id: str, **fields: Any) -> None:
        with self.desk.batch(f"evidence {id}") as dossier:
            dossier.change(Evidence, id, **fields)

    def _count(self, id: str, on: Any) -> None:
        tried(lambda: self._change(id, counts=bool(on)))

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
            fields |= {"ratio": ratio, "low": low, "high": high, "words": "", name: _number(value)}
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
        predicted[alternative][name] = _number(value) if name in ("value", "sd") else value
        self._change(id, predicted=predicted)

    def _remove_evidence(self, id: str) -> None:
        with self.desk.batch(f"remove evidence {id}") as dossier:
            dossier.remove(Evidence, id)
        say("removed; undo brings it back")

    def _change_question(self, id: str, **fields: Any) -> None:
        with self.desk.batch(f"question {id}") as dossier:
            dossier.change(Question, id, **fields)

    def _keep(self, q: Question, drafts: dict[str, dict[str, str]], add: bool = False) -> None:
        def do() -> None:
            made = []
            for a in q.alternatives:
                d = drafts[a.id]
                try:
                    prior = float(d["prior"].replace("%", "")) / 100
                except ValueError:
                    raise LonglensError(
                        f"{d['prior']!r} is no per cent", where=a.text, fix="write a number from 0 to 100"
                    ) from None
                made.append({**a.model_dump(), "text": d["text"], "prior": prior, "why": d["why"]})
            if add:
                made.append(
                    {
                        "id": _free("explanation", set(q.ids)),
                        "text": "another explanation",
                        "prior": 0.0,
                        "why": "not yet thought about",
                    }
                )
            looks = [x.model_dump() for x in q.looks]
            if add:  # what it says of looks is not known yet: all they could show is as probable
                for look in looks:
                    for sight in look["sights"]:
                        sight["chances"][made[-1]["id"]] = 1 / len(look["sights"])
            self._change_question(q.id, alternatives=made, looks=looks)

        tried(do)

    def _new(self, q: Question) -> None:
        """The form of a new item; what is filled in stays until it is kept or thrown away."""
        draft = self.drafts.setdefault(q.id, {
            "text": "", "on": [], "words": "weak support", "ratio": "", "low": "", "high": "", "why": "", "group": "",
            "apart": "", "sides": {a: FAVOURED if a == q.ids[0] else DISFAVOURED for a in q.ids},
        })  # fmt: skip

        def line(words: str, name: str, classes: str = "") -> None:
            with ui.element("label").classes("ll-quiet"):
                text("span", f"{words} ")
                field(f"New evidence: {words}", draft[name], partial(draft.__setitem__, name), classes)

        with ui.element("div").classes("ll-new"):
            line("what was seen", "text", "ll-wide")
            choose_marks(self.desk, "Marks of the new evidence", draft["on"], partial(draft.__setitem__, "on"))
            choose_sides(q, draft["sides"], "new evidence", draft["sides"].__setitem__)
            with ui.element("div").classes("ll-row"):
                with ui.element("label").classes("ll-quiet"):
                    text("span", "strength in words ")
                    choice("New evidence: strength in words", ["", *(g.words for g in verbal.SCALE)], draft["words"],
                           partial(draft.__setitem__, "words"))  # fmt: skip
                for words, name in (("or a ratio", "ratio"), ("from", "low"), ("to", "high")):
                    line(words, name, "ll-short")
                line("group", "group", "ll-short")
            line("why this strength", "why", "ll-wide")
            line("why it is independent of what it shares a mark with", "apart", "ll-wide")
            with ui.element("div").classes("ll-row"):
                button("Keep this evidence", lambda: self._keep_evidence(q, draft))
                button("Throw it away", lambda: self._drop(q))

    def _drop(self, q: Question) -> None:
        self.drafts.pop(q.id, None)
        self.open.discard(_adding(q))
        self.seen = None
        self.fill()

    def _keep_evidence(self, q: Question, draft: dict[str, Any]) -> None:
        judged: dict[str, Any] = {**sides_fields(draft["sides"]), "why": draft["why"]}
        ratio = {n: _number(draft[n]) for n in ("ratio", "low", "high") if draft[n].strip()}
        judged |= ratio if ratio else {"words": draft["words"]}
        if not draft["text"].strip():
            raise LonglensError("the evidence says nothing yet", fix="write what was seen")
        id = _free(f"{q.id}/evidence", set(self.desk.dossier.ids(Evidence)))
        try:
            made = Evidence.model_validate(
                {"id": id, "question": q.id, "kind": "observation", "judged": judged}
                | {n: draft[n] for n in ("text", "on", "group", "apart")}
            )
        except ValidationError as e:
            raise LonglensError(e.errors()[0]["msg"].removeprefix("Value error, ")) from None
        self.drafts.pop(q.id, None)
        self.open.discard(_adding(q))
        with self.desk.batch(f"evidence {id}") as dossier:
            dossier.add(made)

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
            id = _free("question", set(self.desk.dossier.ids(Question)))
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


def _number(value: str) -> float:
    try:
        return float(value)
    except ValueError:
        raise LonglensError(f"{value!r} is no number", fix="write a number, 3 say") from None


def _free(stem: str, taken: set[str]) -> str:
    return next(f"{stem} {n}" for n in range(1, 10_000) if f"{stem} {n}" not in taken)


__all__ = ["PAGE", "build", "weighed"]

PAGE = Page("/claims", "Questions", build, key="q", order=400, about="Explanations weighed, and what would settle them")
