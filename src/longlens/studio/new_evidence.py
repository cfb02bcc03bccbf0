"""A new item of evidence, filled in on the page: something seen, a number that explanations predict, or what a sheet says."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui
from pydantic import ValidationError

from longlens.claims import verbal
from longlens.claims.put import check
from longlens.claims.records import Evidence, Question
from longlens.claims.sources import Sources
from longlens.claims.weigh import reading_name, readings
from longlens.errors import LonglensError
from longlens.numbers.number import Number
from longlens.studio import belief
from longlens.studio import elements as el
from longlens.studio.evidence import DISFAVOURED, FAVOURED, choose_marks, choose_means, choose_sides, sides_fields
from longlens.studio.fields import Trouble, button, captioned, choice, number_of, ways
from longlens.studio.frame import later, text

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.systems.run import Outcome

WAYS = (
    ("seen", "Something seen on photographs"),
    ("number", "A number that explanations predict"),
    ("reading", "What a sheet says by itself"),
)
#: How one explanation predicts the number.
FIGURE, SHEET, NOTHING = "a figure", "what a sheet gives", "nothing (a wide spread)"
Outcomes = Mapping[str, Mapping[str, "Outcome"]]


def blank(q: Question) -> dict[str, Any]:
    """The form as it stands before anything was filled in."""
    return {
        "way": "seen", "text": "", "on": [], "group": "", "apart": "",
        "words": "weak support", "ratio": "", "low": "", "high": "", "why": "",
        "sides": {a: FAVOURED if a == q.ids[0] else DISFAVOURED for a in q.ids},
        "of": "", "model_sd": "", "sheets": False,
        "predicted": {a: {"how": FIGURE, "value": "", "sd": "", "unit": "", "why": "", "run": "", "output": ""} for a in q.ids},
        "reading": "", "area": "", "seen": "", "sheet_words": [], "means": {},
    }  # fmt: skip


def free_id(stem: str, taken: set[str]) -> str:
    """``stem 1``, ``stem 2`` … the first that is not taken."""
    return next(f"{stem} {n}" for n in range(1, 10_000) if f"{stem} {n}" not in taken)


class NewEvidence:
    """The form. ``draft`` (of :func:`blank`) keeps what was filled in while the page is filled anew."""

    def __init__(
        self, desk: Desk, q: Question, draft: dict[str, Any], outcomes: Callable[[], Any], done: Callable[[], Any]
    ) -> None:
        """``outcomes``: awaited for the sheets' runs by area and variant. ``done``: it was kept, or thrown away."""
        self.desk, self.q, self.draft, self.outcomes, self.done = desk, q, draft, outcomes, done
        self.predictions = self.means = ui.element("div")
        with ui.element("div").classes("ll-sheetlet"):
            text("h3", "New evidence")
            self.box = ui.element("div")
            with self.box:
                self.fill()

    def again(self) -> None:
        self.box.clear()
        with self.box:
            self.fill()

    def fill(self) -> None:
        draft = self.draft
        ways("Kind of the new evidence", WAYS, draft["way"], self._way)
        {"seen": self._seen, "number": self._number, "reading": self._reading}[draft["way"]]()
        with ui.element("div").classes("ll-fields"):
            self._line("why it is independent of what it shares a mark with", "apart", "ll-half")
            self._line("group (items of one group count once)", "group")
        self.trouble = Trouble()
        with ui.element("div").classes("ll-row"):
            button("Keep this evidence", lambda: self.trouble.attempt(self.keep))
            button("Throw it away", self.done)

    def _way(self, way: str) -> None:
        self.draft["way"] = way
        self.again()

    def _line(self, words: str, name: str, size: str = "", put: dict[str, Any] | None = None, label: str = "") -> None:
        into = self.draft if put is None else put
        captioned(words, f"New evidence: {label or words}", into[name], partial(into.__setitem__, name), size)

    # Seen -----------------------------------------------------------------------------------------------------

    def _seen(self) -> None:
        draft = self.draft
        with ui.element("div").classes("ll-fields"):
            self._line("what was seen", "text", "ll-whole")
        text("p", "Seen on these marks:", "ll-quiet")
        choose_marks(self.desk, "Marks of the new evidence", draft["on"], partial(draft.__setitem__, "on"))
        choose_sides(self.q, draft["sides"], "new evidence", draft["sides"].__setitem__)
        with ui.element("div").classes("ll-fields"):
            with ui.element("label"):
                text("span", "strength in words")
                choice("New evidence: strength in words", ["", *(g.words for g in verbal.SCALE)], draft["words"],
                       partial(draft.__setitem__, "words"))  # fmt: skip
            for words, name in (("or a ratio", "ratio"), ("from", "low"), ("to", "high")):
                self._line(words, name, "ll-short")
            self._line("why this strength", "why", "ll-half")

    # A number -------------------------------------------------------------------------------------------------

    def _number(self) -> None:
        if self.draft["sheets"]:
            later(self._with_sheets, "running the sheets …")
        else:
            self._numbers({})

    async def _with_sheets(self) -> None:
        self._numbers(await self.outcomes())

    def _numbers(self, runs: Outcomes) -> None:
        draft = self.draft
        known = measured_numbers(self.desk.numbers(self.q.stage or self.desk.stage), runs)
        with ui.element("div").classes("ll-fields"):
            self._line("what was found", "text", "ll-whole")
            with ui.element("label"):
                text("span", "the number that was measured")
                options = [("", "choose a number"), *((ref, f"{_named(ref)}: {n}") for ref, n in known.items())]
                choice(
                    "New evidence: the number that was measured", options, draft["of"], partial(self._of, known, runs)
                )
            if not draft["sheets"]:
                button("List what the sheets give, too", self._sheets)
        self.predictions = ui.element("div")
        self._predict(known, runs)

    def _sheets(self) -> None:
        self.draft["sheets"] = True
        self.again()

    def _of(self, known: Mapping[str, Number], runs: Outcomes, ref: str) -> None:
        self.draft["of"] = ref
        if ref in known:
            for p in self.draft["predicted"].values():
                p["unit"] = known[ref].shown or known[ref].unit
        self.predictions.clear()
        with self.predictions:
            self._predict(known, runs)

    def _predict(self, known: Mapping[str, Number], runs: Outcomes) -> None:
        draft = self.draft
        if draft["of"] not in known:
            return
        measured = known[draft["of"]]
        el.named_numbers(self.desk, [("measured", measured)])
        text("p", "What would it be, if the explanation is right?", "ll-quiet")
        for k, a in enumerate(self.q.alternatives):
            with ui.element("div").classes("ll-predicts"):
                text("div", f"{belief.letter(k)}  {a.text}")
                row = ui.element("div")
                with row:
                    self._predicted_by(a.id, a.text, measured, runs, row)
        with ui.element("div").classes("ll-fields"):
            self._line(f"a further model error ({measured.unit})", "model_sd", "ll-short")

    def _predicted_by(self, id: str, name: str, measured: Number, runs: Outcomes, row: ui.element) -> None:
        p = self.draft["predicted"].setdefault(id, blank(self.q)["predicted"][id])

        def how(words: str) -> None:
            p["how"] = words
            if words == SHEET and not self.draft["sheets"]:
                self._sheets()
                return
            row.clear()
            with row:
                self._predicted_by(id, name, measured, runs, row)

        with ui.element("div").classes("ll-fields"):
            with ui.element("label"):
                text("span", "it predicts")
                choice(f"New evidence: {name} predicts", (FIGURE, SHEET, NOTHING), p["how"], how)
            if p["how"] == FIGURE:
                for words, key, size in (("value", "value", "ll-short"), ("its sd", "sd", "ll-short"),
                                         ("unit", "unit", "ll-short"), ("why", "why", "ll-half")):  # fmt: skip
                    self._line(words, key, size, p, f"{key} predicted by {name}")
            elif p["how"] == SHEET:
                self._sheet_of(p, name, measured, runs, row, lambda: how(SHEET))

    def _sheet_of(
        self, p: dict[str, Any], name: str, measured: Number, runs: Outcomes, row: ui.element, again: Callable[[], Any]
    ) -> None:
        options = [("", "choose a sheet")]
        for area, variants in runs.items():
            options += [(f"{area}/{v}", f"{area}, {v or 'as given'}") for v in variants]

        def run(words: str) -> None:
            p["run"] = words
            again()

        with ui.element("label"):
            text("span", "sheet and variant")
            choice(f"New evidence: sheet of {name}", options, p["run"], run)
        area, _, variant = p["run"].partition("/")
        outcome = runs.get(area, {}).get(variant)
        if outcome is not None:
            like = [(n, outcome.sheet.output(n).meaning) for n, x in outcome.numbers.items() if _alike(x, measured)]
            with ui.element("label"):
                text("span", f"its output (of the kind {measured.unit})")
                first = ("", "choose an output" if like else "none of this kind")
                choice(f"New evidence: output of {name}", [first, *like], p["output"],
                       partial(p.__setitem__, "output"))  # fmt: skip

    # A reading ------------------------------------------------------------------------------------------------

    def _reading(self) -> None:
        later(self._readings, "running the sheets …")

    async def _readings(self) -> None:
        draft, stage = self.draft, self.q.stage or self.desk.stage
        runs = await self.outcomes()
        sources = Sources(self.desk.dossier, stage, known=self.desk.numbers(stage), outcomes=runs)
        found = [(area, r) for area in runs for r in readings(sources, area)]
        taken = {(e.area, e.reading) for e in self.desk.dossier.all(Evidence) if e.question == self.q.id and e.reading}
        if not found:
            text("p", "No sheet says anything by itself yet. The cooling sheet reads collectors and pipes: what was seen of them "
                 "is given on the page Cooling.", "ll-quiet")  # fmt: skip
            return
        text(
            "p",
            "The ratio and its range are the sheet's; here is said which explanation its words stand for.",
            "ll-quiet",
        )
        buttons: list[ui.element] = []

        def take(area: str, r: Any, mine: ui.element) -> None:
            name = reading_name(r)
            if (area, name) in taken:
                raise LonglensError("this reading is evidence on the question already", fix="take another one")
            words = [r.favours, r.over]
            same = {w: [a.id for a in self.q.alternatives if w.lower() in a.text.lower()] for w in words}
            draft.update(area=area, reading=name, seen=r.seen, sheet_words=words)
            draft["means"] = {w: draft["means"].get(w) or same[w] for w in words}
            for b in buttons:
                b.props["aria-pressed"] = "true" if b is mine else "false"
                b.update()
            means()

        def means() -> None:
            box.clear()
            if draft["reading"]:
                with box:
                    choose_means(self.q, draft["sheet_words"], draft["means"], "new evidence",
                                 partial(draft.__setitem__, "means"))  # fmt: skip

        with ui.element("ul").classes("ll-readings"):
            for area, r in found:
                with ui.element("li"):
                    one = button("", lambda: None)
                    with one:
                        text("span", r.seen)
                        was = " · taken already" if (area, reading_name(r)) in taken else ""
                        text("small", f"{area}, {r.subject}: {r.favours} over {r.over}, {verbal.figure(r.ratio)} times as "
                             f"probable ({verbal.figure(r.low)} to {verbal.figure(r.high)}){was} · {r.rule}")  # fmt: skip
                    chosen = (area, reading_name(r)) == (draft["area"], draft["reading"])
                    one.props["aria-pressed"] = "true" if chosen else "false"
                    one.on("click", lambda area=area, r=r, one=one: self.trouble.attempt(lambda: take(area, r, one)))
                    buttons.append(one)
        box = ui.element("div")
        means()

    # Kept -----------------------------------------------------------------------------------------------------

    def keep(self) -> None:
        """Write it as one undo step. Raises LonglensError with what is missing."""
        way = self.draft["way"]
        taken = set(self.desk.dossier.ids(Evidence))
        fields = {"seen": self._seen_fields, "number": self._number_fields, "reading": self._reading_fields}[way]()
        fields = {"id": free_id(f"{self.q.id}/evidence", taken), "question": self.q.id,
                  "group": self.draft["group"], "apart": self.draft["apart"]} | fields  # fmt: skip
        try:
            made = Evidence.model_validate(fields)
        except ValidationError as e:
            raise LonglensError(e.errors()[0]["msg"].removeprefix("Value error, ")) from None
        check(self.desk.dossier, self.q, made)
        with self.desk.batch(f"evidence {made.id}") as dossier:
            dossier.add(made)
        self.done()

    def _said(self, fix: str) -> str:
        if not self.draft["text"].strip():
            raise LonglensError("the evidence says nothing yet", fix=fix)
        return str(self.draft["text"])

    def _seen_fields(self) -> dict[str, Any]:
        draft = self.draft
        judged: dict[str, Any] = {**sides_fields(draft["sides"]), "why": draft["why"]}
        ratio = {n: number_of(draft[n], n) for n in ("ratio", "low", "high") if draft[n].strip()}
        judged |= ratio if ratio else {"words": draft["words"]}
        return {"kind": "observation", "text": self._said("write what was seen"), "on": draft["on"], "judged": judged}

    def _number_fields(self) -> dict[str, Any]:
        draft, predicted = self.draft, {}
        if not draft["of"]:
            raise LonglensError("no number is chosen", fix="choose the number that was measured")
        said = self._said("write what was found")
        for a in self.q.alternatives:
            p = draft["predicted"].get(a.id, {"how": NOTHING})
            if p["how"] == FIGURE:
                if not p["value"].strip() and not p["sd"].strip():
                    raise LonglensError(
                        "predicts no value yet", where=a.text, fix=f"give a value and its sd, or choose “{NOTHING}”"
                    )
                figures = {n: number_of(p[n], f"{n} of {a.text}") for n in ("value", "sd")}
                predicted[a.id] = figures | {"unit": p["unit"].strip() or "1", "why": p["why"]}
            elif p["how"] == SHEET:
                area, _, variant = p["run"].partition("/")
                if not area or not p["output"]:
                    raise LonglensError("no sheet's output is chosen", where=a.text, fix="choose a sheet and an output")
                predicted[a.id] = {"area": area, "variant": variant, "output": p["output"]}
        if not predicted:
            raise LonglensError(
                "no explanation predicts anything", fix="give at least one a figure or a sheet's output"
            )
        kind = draft["of"].partition(":")[0]
        kind = kind if kind in ("measure", "fact", "output") else "measure"
        more = number_of(draft["model_sd"], "model error") if draft["model_sd"].strip() else 0.0
        return {"kind": kind, "text": said, "of": draft["of"], "predicted": predicted, "model_sd": more}

    def _reading_fields(self) -> dict[str, Any]:
        draft = self.draft
        if not draft["reading"]:
            raise LonglensError("no reading is chosen", fix="choose what the sheet says")
        favours, over = draft["sheet_words"]
        means = {w: draft["means"].get(w, []) for w in (favours, over)}
        for word in (favours, over):
            if not means[word]:
                raise LonglensError(f"nothing here stands for “{word}”", fix="tick which explanations it stands for")
        if set(means[favours]) & set(means[over]):
            raise LonglensError("one explanation stands for both", fix="tick each explanation once")
        id = f"{self.q.id}/{draft['area']}/{draft['reading']}"[:190]
        return {
            "id": id,
            "kind": "reading",
            "text": draft["seen"],
            "area": draft["area"],
            "reading": draft["reading"],
            "means": means,
        }


def measured_numbers(known: Mapping[str, Number], runs: Outcomes) -> dict[str, Number]:
    """Plain numbers that evidence can be of: facts, measures, and what the sheets give as they stand."""
    out = {ref: n for ref, n in known.items() if ref.startswith(("measure:", "fact:")) and not n.shape}
    for area, variants in runs.items():
        if "" in variants:
            out |= {f"output:{area}.{name}": n for name, n in variants[""].numbers.items() if not n.shape}
    return out


def _named(ref: str) -> str:
    kind, _, id = ref.partition(":")
    return f"{id.replace('_', ' ').replace('.', ' ')} ({'computed' if kind == 'output' else kind})"


def _alike(x: Number, measured: Number) -> bool:
    from longlens.numbers import units

    return not x.shape and (x.unit == measured.unit or units.same_quantity(x.unit, measured.unit))
