"""The user's own parts, in a dialog over the board: added, changed, removed, and offered at once when something is named."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from longlens.dossier import vocabulary
from longlens.dossier.records import Mark
from longlens.dossier.vocabulary import OwnPart, Part
from longlens.dossier.vocabulary.own import LONGEST_LINE, LONGEST_TERM
from longlens.studio.fields import STYLE, Trouble, button, captioned, choice
from longlens.studio.frame import say, text
from longlens.studio.look import name_of

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

SYSTEMS = ("", "suspension", "cooling", "aero", "structure", "running")
PLACES = (
    ("one", "once, in the middle or wherever"),
    ("side", "left and right"),
    ("end", "front and rear"),
    ("corner", "at each wheel: left and right, front and rear"),
)


def show_own_parts(desk: Desk, term: str = "", kept: Callable[[str], Any] = lambda _: None) -> None:
    """Open the dialog. ``term``: what somebody just typed; ``kept`` is called with the term that was added or changed."""
    ui.add_css(STYLE)
    with ui.dialog() as dialog, ui.element("div").classes("q-pa-md").style("min-width:min(46rem,94vw)") as inner:
        inner.props["aria-label"] = "Parts of your own"
        box = ui.element("div")
    shown = _Dialog(desk, dialog, box, kept)
    with box:
        shown.fill(None, term)
    dialog.on("hide", dialog.delete)
    dialog.on("show", js_handler="() => document.querySelector('.q-dialog input')?.focus()")
    dialog.open()


class _Dialog:
    def __init__(self, desk: Desk, dialog: ui.dialog, box: ui.element, kept: Callable[[str], Any]) -> None:
        self.desk, self.dialog, self.box, self.kept = desk, dialog, box, kept

    def again(self, of: Part | None = None, term: str = "") -> None:
        self.box.clear()
        with self.box:
            self.fill(of, term)

    def fill(self, of: Part | None, term: str) -> None:
        """The form of a new part, or of one to be changed, and below it those there are."""
        text("h2", f"Change {of.term}" if of else "A part of your own").style("margin-top:0")
        draft: dict[str, Any] = {
            "term": of.term if of else term[:LONGEST_TERM], "definition": of.definition if of else "",
            "synonyms": ", ".join(of.synonyms) if of else "", "points": ", ".join(_said(p) for p in of.points) if of else "",
            "where": of.where if of else "", "system": (of.system or "") if of else "", "place": of.place if of else "one",
        }  # fmt: skip

        def line(words: str, name: str, size: str, most: int) -> None:
            entry = captioned(words, words, draft[name], partial(draft.__setitem__, name), size)
            entry.props["maxlength"] = most

        with ui.element("div").classes("ll-fields"):
            if of is None:
                line("name", "term", "ll-half", LONGEST_TERM)
            with ui.element("label"):
                text("span", "system")
                systems = [(s, name_of(s) if s else "none of them") for s in SYSTEMS]
                choice("system", systems, draft["system"], partial(draft.__setitem__, "system"))
            with ui.element("label"):
                text("span", "there is one")
                choice("there is one", PLACES, draft["place"], partial(draft.__setitem__, "place"))
            line("what it is, in one line", "definition", "ll-whole", LONGEST_LINE)
            line("also called (commas between)", "synonyms", "ll-half", 600)
            line("points worth marking (commas between)", "points", "ll-half", 600)
        trouble = Trouble()
        with ui.element("div").classes("ll-row"):
            words = "Keep the changes" if of else "Add it"
            button(words, lambda: trouble.attempt(lambda: self._keep(of, draft)))
            if of:
                button("A new one instead", self.again)
            button("Close", self.dialog.close)
        self._list()

    def _list(self) -> None:
        own = vocabulary.own_parts(self.desk.dossier)
        if not own:
            return
        text("h3", "Your own parts in this dossier")
        with ui.element("ul").classes("ll-hang").style("max-height:14rem;overflow:auto"):
            for part in own:
                with ui.element("li").classes("ll-row").style("justify-content:space-between;flex-wrap:nowrap"):
                    with ui.element("div"):
                        text("b", part.term)
                        text("div", part.definition[:LONGEST_LINE], "ll-quiet")
                    with ui.element("div").classes("ll-row").style("flex-wrap:nowrap;gap:.4rem"):
                        button("Change", partial(self.again, part), f"Change {part.term}")
                        button("Remove", partial(self._remove, part), f"Remove {part.term}")

    def _keep(self, of: Part | None, draft: dict[str, Any]) -> None:
        def listed(name: str) -> list[str]:
            return [w.strip() for w in draft[name].split(",") if w.strip()]

        made = vocabulary.new_own_part(
            self.desk.dossier, of.term if of else draft["term"], draft["definition"], synonyms=listed("synonyms"),
            system=draft["system"], place=draft["place"], where=draft["where"], points=listed("points"),
            instead_of=of.id if of else "",
        )  # fmt: skip
        if of is not None:  # what the form does not show stays
            now = self.desk.dossier.get(OwnPart, of.id)
            rest = {k: getattr(now, k) for k in ("tells", "circles", "lines", "outlines", "pipes")}
            made = made.model_copy(update={"id": of.id, **rest})
        with self.desk.batch(f"part {made.part().term}") as dossier:
            dossier.put(made)
        say(f"{made.part().term}: kept in the dossier")
        self.dialog.close()
        self.kept(made.part().term)

    def _remove(self, part: Part) -> None:
        with self.desk.batch(f"remove part {part.term}") as dossier:
            dossier.remove(OwnPart, part.id)
        used = sum(part.id in (m.point or m.circle or m.part or "") for m in self.desk.dossier.all(Mark))
        say("removed; undo brings it back" + (f". {used} marks keep its name" if used else ""))
        self.again()


def _said(point: str) -> str:
    return point.replace("_", " ").replace(".", " ")
