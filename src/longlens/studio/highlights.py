"""What a plate brings out, on the page Publish: added, named, put in order, removed. All of it stays in the plate's record."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui
from pydantic import ValidationError

from longlens.dossier.records import Mark
from longlens.errors import LonglensError, UnusableInput
from longlens.publish.names import words
from longlens.publish.plates import Highlight, Plate, View
from longlens.studio.fields import Trouble, button, captioned, choice
from longlens.studio.frame import say, text
from longlens.studio.look import name_of

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

#: Letters of a label or its second line; highlights of a plate.
LONGEST, MOST = 120, 60
KINDS = (("marks", "a mark"), ("parts", "a drawing"), ("circle", "a rim"), ("rods", "a rod between points"))
SYSTEMS = ("", "suspension", "cooling", "aero", "structure", "running")


# Records ---------------------------------------------------------------------------------------------------


def add_highlight(plate: Plate, new: Highlight) -> Plate:
    """The plate with one more, the last to appear. Raises UnusableInput: nothing to show, shown already, too many."""
    if not (new.marks or new.parts or new.circle or new.rods or new.outline):
        raise UnusableInput("there is nothing to bring out", fix="choose what is to be shown")
    if any(_what(h) == _what(new) for h in plate.highlights):
        raise UnusableInput("this is brought out already", fix="name the one there is")
    if len(plate.highlights) >= MOST:
        raise UnusableInput(
            f"a plate with more than {MOST} highlights brings out nothing", fix="remove some, or make another plate"
        )
    return plate.model_copy(update={"highlights": [*plate.highlights, new]})


def change_highlight(plate: Plate, number: int, **fields: Any) -> Plate:
    """The plate with some fields of one changed. Raises UnusableInput with what does not fit."""
    old = _one(plate, number)
    for name in ("label", "line"):
        if len(fields.get(name, "")) > LONGEST:
            raise UnusableInput(f"{len(fields[name])} letters are too many", where=name, fix=f"at most {LONGEST}")
    try:
        new = Highlight.model_validate({**old.model_dump(exclude_none=True), **fields})
    except ValidationError as e:
        raise UnusableInput(e.errors()[0]["msg"].removeprefix("Value error, ").lower()) from None
    made = list(plate.highlights)
    made[number] = new
    return plate.model_copy(update={"highlights": made})


def remove_highlight(plate: Plate, number: int) -> Plate:
    """The plate without it."""
    _one(plate, number)
    return plate.model_copy(update={"highlights": [h for k, h in enumerate(plate.highlights) if k != number]})


def order_highlight(plate: Plate, number: int, by: int) -> Plate:
    """The plate with it so many places later; it stays within the list. What is earlier appears earlier in the film."""
    made = list(plate.highlights)
    one = _one(plate, number)
    made.pop(number)
    made.insert(min(max(number + by, 0), len(made)), one)
    return plate.model_copy(update={"highlights": made})


def _one(plate: Plate, number: int) -> Highlight:
    if not 0 <= number < len(plate.highlights):
        raise UnusableInput(f"the plate has no highlight {number + 1}", fix="load the page again")
    return plate.highlights[number]


def _what(h: Highlight) -> tuple[Any, ...]:
    return sorted(h.marks), sorted(h.parts), h.circle, h.rods, h.outline


def shown(h: Highlight, marks: dict[str, Mark]) -> str:
    """What it brings out, in words."""
    told = [_named(marks[m]) if m in marks else f"a mark that is gone ({m})" for m in h.marks]
    told += [f"drawing of {words(p)}" for p in h.parts]
    told += [f"rim {words(h.circle)}"] if h.circle else []
    told += [f"rod {' to '.join(words(p) for p in chain)}" for chain in h.rods]
    told += [f"outline of {len(h.outline)} points"] if h.outline else []
    return "; ".join(told) or "nothing"


def _in_window(mark: Mark, view: View) -> bool:
    """Whether any of a mark lies in what the plate shows of the photograph."""
    if view.window is None:
        return True
    x0, y0, x1, y1 = view.window
    path = [(mark.x or 0.0, mark.y or 0.0)] if mark.form == "point" else [*(mark.edge or ()), *(mark.path or ())]
    return any(x0 <= x <= x1 and y0 <= y <= y1 for x, y in path)


def _named(mark: Mark) -> str:
    return f"{mark.form} {words(mark.point or mark.circle or '') or words(mark.part)}".strip()


# On the page -----------------------------------------------------------------------------------------------


@dataclass
class _Draft:
    """A highlight that is being added."""

    kind: str = "marks"
    of: str = ""
    to: str = ""
    label: str = ""
    said: bool = field(default=False)  # somebody wrote the label: it no longer follows what is chosen


class Highlights:
    """The part of the page beside the plate. ``open``: the form of a new one is open."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.draft = _Draft()
        self.open = False
        self._press: Callable[[], None] | None = None

    def build(self, plate: Plate) -> None:
        """Fill the part for one plate."""
        text("h2", "Highlights")
        if plate.view is None:
            text("p", "Highlights stand on plates that show a photograph.", "ll-quiet")
            return
        marks = {m.id: m for m in self.desk.marks()}
        with ui.element("ol").classes("ll-lit"):
            for k, h in enumerate(plate.highlights):
                with ui.element("li"):
                    self._row(plate, k, h, marks)
        if not plate.highlights:
            text("p", "Nothing is brought out yet.", "ll-quiet")
        knob = text("button", "Add a highlight", "ll-button").props("type=button")
        box = ui.element("div")

        def fill() -> None:
            box.clear()
            knob.props["aria-expanded"] = "true" if self.open else "false"
            knob.update()
            if self.open:
                with box:
                    self._new(plate, box)

        def press() -> None:
            self.open = not self.open
            fill()

        knob.on("click", press)
        self._press = press
        fill()

    def begin(self) -> None:
        """Open the form of a new one, with the focus in it."""
        if not self.open and self._press is not None:
            self._press()
        ui.run_javascript("longlens.goTo('New highlight')")

    def _row(self, plate: Plate, k: int, h: Highlight, marks: dict[str, Mark]) -> None:
        name = h.label or shown(h, marks)

        def keep(field_: str, value: str) -> None:
            self._write(plate.id, "name a highlight", lambda p: change_highlight(p, k, **{field_: value.strip()}))

        fields = ui.element("div").classes("ll-fields")
        trouble = Trouble()
        with fields:
            captioned("label", f"Label of highlight {k + 1}", h.label, partial(keep, "label"), "ll-whole", trouble)
            captioned(
                "second line", f"Second line of highlight {k + 1}", h.line, partial(keep, "line"), "ll-half", trouble
            )
            with ui.element("label"):
                text("span", "system")
                systems = [(s, name_of(s) if s else "as marked") for s in SYSTEMS]
                choice(
                    f"System of highlight {k + 1}",
                    systems,
                    h.system or "",
                    lambda s: self._system(plate.id, k, s),
                    trouble,
                )
        with ui.element("div").classes("ll-row").style("gap:.3rem .4rem"):
            text("span", shown(h, marks), "ll-quiet").style("flex:1 1 100%")
            for word, by in (("Earlier", -1), ("Later", 1)):
                button(word, partial(self._order, plate.id, k, by), f"{word}: {name}").classes("ll-small")
            button("Remove", partial(self.remove, plate.id, k), f"Remove the highlight {name}").classes("ll-small")

    def _system(self, plate: str, k: int, system: str) -> None:
        self._write(plate, "system of a highlight", lambda p: change_highlight(p, k, system=system or None))

    def _order(self, plate: str, k: int, by: int) -> None:
        count = len(self.desk.dossier.get(Plate, plate).highlights)
        if not 0 <= k + by < count:
            say("it is the first already" if by < 0 else "it is the last already")
            return
        self._write(plate, "order of highlights", lambda p: order_highlight(p, k, by))

    def remove(self, plate: str, k: int) -> None:
        """Remove one; undo brings it back."""
        self._write(plate, "remove a highlight", lambda p: remove_highlight(p, k))
        say("removed; undo brings it back")

    def _write(self, plate: str, label: str, change: Callable[[Plate], Plate]) -> None:
        made = change(self.desk.dossier.get(Plate, plate))
        with self.desk.batch(label) as dossier:
            dossier.put(made)

    # A new one ------------------------------------------------------------------------------------------------

    def _new(self, plate: Plate, box: ui.element) -> None:
        draft = self.draft
        offers = self._offers(plate, draft.kind)

        def again() -> None:
            box.clear()
            with box:
                self._new(plate, box)

        def kind(value: str) -> None:
            self.draft = _Draft(kind=value)
            again()

        def of(value: str) -> None:
            draft.of = value
            if not draft.said:
                draft.label = next((name for id, name in self._offers(plate, draft.kind, bare=True) if id == value), "")
            again()

        def label(value: str) -> None:
            draft.label, draft.said = value, bool(value.strip())

        with ui.element("div").classes("ll-sheetlet").props("role=group") as sheet:
            sheet.props["aria-label"] = "New highlight"
            with ui.element("div").classes("ll-fields"):
                with ui.element("label"):
                    text("span", "bring out")
                    choice("New highlight: what kind", KINDS, draft.kind, kind)
                with ui.element("label"):
                    text("span", "from" if draft.kind == "rods" else "which")
                    none = "choose one" if offers else "there is none on this photograph"
                    choice("New highlight: which", [("", none), *offers], draft.of, of)
                if draft.kind == "rods":
                    with ui.element("label"):
                        text("span", "to")
                        choice("New highlight: to", [("", none), *offers], draft.to, partial(setattr, draft, "to"))
                entry = captioned("label", "New highlight: label", draft.label, label, "ll-whole")
                entry.props["maxlength"] = LONGEST
            trouble = Trouble()
            with ui.element("div").classes("ll-row"):
                button("Add it", lambda: trouble.attempt(lambda: self._add(plate.id)), "Add this highlight")

    def _add(self, plate: str) -> None:
        draft = self.draft
        if not draft.of or (draft.kind == "rods" and not draft.to):
            raise LonglensError("nothing is chosen", fix="choose what is to be brought out")
        if draft.kind == "rods" and draft.of == draft.to:
            raise LonglensError("a rod goes from one point to another", fix="choose another end")
        value: Any = {"circle": draft.of, "rods": [[draft.of, draft.to]]}.get(draft.kind, [draft.of])
        new = Highlight.model_validate({draft.kind: value, "label": draft.label.strip()[:LONGEST]})
        self._write(plate, "add a highlight", lambda p: add_highlight(p, new))
        self.draft, self.open = _Draft(kind=draft.kind), False
        say("brought out; its label can be dragged, or moved with the arrow keys")

    def _offers(self, plate: Plate, kind: str, bare: bool = False) -> Sequence[tuple[str, str]]:
        """(id, name) of what can be brought out on the plate's photograph. ``bare``: the name as a label says it."""
        assert plate.view is not None
        shot = plate.view.shot
        here = [m for m in self.desk.marks() if m.shot == shot and not m.set_aside and _in_window(m, plate.view)]
        if kind == "marks":
            found = [(m.id, words(m.point or m.circle or m.part) if bare else _named(m)) for m in here]
        elif kind == "parts":
            found = [(m.part, words(m.part)) for m in here if m.part and m.form != "point"]
        else:
            answer = self.desk.solved(plate.stage if plate.stage else "here").answer or {}
            solved = shot in (answer.get("shots") or {})
            placed = (answer.get("circles" if kind == "circle" else "points") or {}) if solved else {}
            found = [(id, words(id)) for id in placed]
        return sorted(dict(found).items(), key=lambda f: f[1])
