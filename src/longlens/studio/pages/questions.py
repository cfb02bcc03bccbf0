"""The questions page: what speaks for each explanation, how belief moved, what would turn it, what would settle it."""

from __future__ import annotations

import asyncio
import html
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from nicegui import ui

from longlens.claims import verbal
from longlens.claims.records import Evidence, Question
from longlens.claims.settle import candidates, list_for_photographer, standpoints_of
from longlens.claims.sources import Sources
from longlens.claims.weigh import Item, Weighed, percent, weigh_in
from longlens.dossier.records import Mark, Shot
from longlens.errors import LonglensError
from longlens.studio import belief
from longlens.studio import elements as el
from longlens.studio.frame import command, guarded, later, say, text, watch
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

_VALUE = "(e) => emit(e.target.value)"
_TICK = "(e) => emit(e.target.checked)"
#: Half a thumbnail, in pixels of a picture 4,000 wide; thumbnails of one item at most.
HALF, CROPS = 130.0, 6
FOLLOWED = {"question", "evidence", "mark", "fact", "measure", "sheet_input", "shot", "everything"}


def build(desk: Desk) -> None:
    """Fill the page."""
    ui.add_css(belief.STYLE)
    _Page(desk)


class _Page:
    """All questions under each other; the choice above opens one alone."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.box = ui.element("div")
        self.seen: Any = None
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
            _button("Ask a new question", self.ask)

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
            self._turns(w)
            later(lambda: self._settle(w), "looking from where it could be settled …")
            self._edit(w)

    def _item(self, w: Weighed, item: Item) -> None:
        e = item.evidence
        group = next((g for g in w.groups if e.id in g.items), None)
        with ui.element("div").classes("ll-evidence" + ("" if item.log is not None else " ll-away")):
            with ui.element("div"):
                self._field(f"Evidence {e.id}", e.text, lambda v: self._change(e.id, text=v))
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

    def _strength(self, e: Evidence) -> None:
        with ui.element("div").classes("ll-row"):
            if e.judged is not None:
                ratio, low, high = e.judged.range
                for name, value in (("low", low), ("ratio", ratio), ("high", high)):
                    with ui.element("label").classes("ll-quiet"):
                        text("span", f"{name} ")
                        self._field(f"{name} of {e.id}", f"{value:.3g}", partial(self._judge, e.id, name), "ll-short")
                with ui.element("label").classes("ll-quiet"):
                    text("span", "in words ")
                    self._choice(f"Strength of {e.id} in words", ["", *(g.words for g in verbal.SCALE)], e.judged.words,
                                 lambda v: self._judge(e.id, "words", v))  # fmt: skip
            with ui.element("label").classes("ll-quiet"):
                text("span", "group ")
                self._field(f"Group of {e.id}", e.group, lambda v: self._change(e.id, group=v), "ll-short")
            with ui.element("label").classes("ll-quiet"):
                box = ui.element("input").props('type="checkbox"' + (" checked" if e.counts else ""))
                box.props["aria-label"] = f"{e.id} counts"
                box.on("change", lambda x: self._count(e.id, x.args), js_handler=_TICK)
                text("span", " counts")
        with ui.element("details"):
            text("summary", "Why it is independent, and why this strength")
            self._field(f"Why {e.id} is independent of what it shares", e.apart, lambda v: self._change(e.id, apart=v))
            if e.judged is not None:
                self._field(f"Why this strength for {e.id}", e.judged.why, lambda v: self._judge(e.id, "why", v))

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
                    label = f"{mark.point or mark.part or mark.circle} on {mark.shot}".replace("_", " ").replace(
                        ".", " "
                    )
                    with ui.link(target=f"/board?mark={quote(mark.id, safe='')}"):
                        ui.html(crop, sanitize=False)
                        text("span", label)

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
        _button(
            "List for a photographer",
            lambda: ui.download(words.encode(), f"photographs-{w.question.id}.txt".replace(" ", "-")),
        )

    # Editing --------------------------------------------------------------------------------------------------

    def _edit(self, w: Weighed) -> None:
        q = w.question
        with ui.element("details"):
            text("summary", "Change the question and its explanations")
            self._field(f"Text of {q.id}", q.text, lambda v: self._change_question(q.id, text=v))
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
                                    self._field(
                                        f"{name} of {a.id}", draft[name], partial(draft.__setitem__, name)
                                    ).style(f"width:{width}")
            with ui.element("div").classes("ll-row"):
                _button("Keep explanations", lambda: self._keep(q, drafts))
                _button("Add an explanation", lambda: self._keep(q, drafts, add=True))
                _button("Add evidence", lambda: self._add_evidence(q))
                _button("Remove this question", lambda: self._remove(q))

    def _field(self, label: str, value: str, do: Callable[[str], Any], classes: str = "") -> ui.element:
        entry = ui.element("input").classes(f"ll-field {classes}")
        entry.props["value"] = value
        entry.props["aria-label"] = label
        entry.on("change", lambda e: _tried(lambda: do(str(e.args or ""))), js_handler=_VALUE)
        return entry

    def _choice(self, label: str, options: list[str], value: str, do: Callable[[str], Any]) -> None:
        choice = ui.element("select").classes("ll-field")
        choice.props["aria-label"] = label
        with choice:
            for option in options:
                one = text("option", option)
                one.props["value"] = option
                if option == value:
                    one.props("selected")
        choice.on("change", lambda e: _tried(lambda: do(str(e.args or ""))), js_handler=_VALUE)

    def _change(self, id: str, **fields: Any) -> None:
        with self.desk.batch(f"evidence {id}") as dossier:
            dossier.change(Evidence, id, **fields)

    def _count(self, id: str, on: Any) -> None:
        _tried(lambda: self._change(id, counts=bool(on)))

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
            try:
                number = float(value)
            except ValueError:
                raise LonglensError(f"{value!r} is no ratio", fix="write a number, 3 say") from None
            fields |= {"ratio": ratio, "low": low, "high": high, "words": "", name: number}
        self._change(id, judged=fields)

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
                        "id": f"explanation {len(made) + 1}",
                        "text": "another explanation",
                        "prior": 0.0,
                        "why": "not yet thought about",
                    }
                )
            looks = [] if add else [x.model_dump() for x in q.looks]
            self._change_question(q.id, alternatives=made, looks=looks)

        _tried(do)

    def _add_evidence(self, q: Question) -> None:
        def do() -> None:
            marks = [m for m in self.desk.marks() if not m.set_aside]
            if not marks:
                raise LonglensError("evidence rests on marks", fix="mark what you saw on the board first")
            id = _free(f"{q.id}/evidence", set(self.desk.dossier.ids(Evidence)))
            judged = {"favours": [q.ids[0]], "ratio": 1.0, "low": 1.0, "high": 1.0}
            made = Evidence.model_validate(
                {"id": id, "question": q.id, "kind": "observation", "text": "what was seen", "on": [f"mark:{marks[-1].id}"],
                 "judged": judged, "note": "rests on the mark made last; change it in the fields"}
            )  # fmt: skip
            with self.desk.batch(f"evidence {id}") as dossier:
                dossier.add(made)

        _tried(do)

    def _remove(self, q: Question) -> None:
        from longlens.dossier.links import remove_whole

        def do() -> None:
            with self.desk.batch(f"remove question {q.id}") as dossier:
                remove_whole(dossier, Question, q.id)
            say("removed; undo brings it back")

        _tried(do)

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

        _tried(do)


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


def crop_of(mark: Mark, shot: Shot | None) -> str:
    """A mark's surroundings on its photograph; "" where there is none to show."""
    if shot is None or not shot.photograph:
        return ""
    if mark.x is not None and mark.y is not None:
        at = (float(mark.x), float(mark.y))
    else:
        path = mark.path or mark.edge or []
        if not path:
            return ""
        at = (sum(p[0] for p in path) / len(path), sum(p[1] for p in path) / len(path))
    half = HALF * max(shot.width, shot.height) / 4000
    return belief.crop(el.picture_address(shot, 3200), shot.width, shot.height, at, half)


def _button(words: str, do: Callable[[], Any]) -> None:
    text("button", words, "ll-button").props("type=button").on("click", do)


def _tried(do: Callable[[], Any]) -> None:
    try:
        do()
    except LonglensError as error:
        say(str(error).replace("Value error, ", ""), good=False)


def _text(w: Weighed, id: str) -> str:
    return next(i.evidence.text for i in w.items if i.evidence.id == id)


def _ref(record: str) -> str:
    kind, _, id = record.partition(":")
    return f"the {kind} {id}".replace("_", " ") if kind in ("mark", "fact", "measure", "point") else f"“{record}”"


def _free(stem: str, taken: set[str]) -> str:
    return next(f"{stem} {n}" for n in range(1, 10_000) if f"{stem} {n}" not in taken)


__all__ = ["PAGE", "build", "crop_of", "weighed"]

PAGE = Page("/claims", "Questions", build, key="q", order=400, about="Explanations weighed, and what would settle them")
