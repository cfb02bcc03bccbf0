"""Filling in an item of evidence: its marks, chosen by their thumbnails, and which explanations it speaks for."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from longlens.claims.records import Judgement, Question
from longlens.dossier.records import Mark, Shot
from longlens.errors import LonglensError
from longlens.studio import belief
from longlens.studio import elements as el
from longlens.studio.frame import say, text

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

VALUE = "(e) => emit(e.target.value)"
#: Half a thumbnail, in pixels of a picture 4,000 wide; marks shown at a time for choosing.
HALF, AT_A_TIME = 130.0, 24
FAVOURED, DISFAVOURED, BETWEEN = "more probable", "less probable", "in between"
STYLE = """
.ll-choose{display:flex;flex-wrap:wrap;gap:.5rem;max-width:76rem;margin:.4rem 0}
.ll-choose button{display:block;width:7rem;padding:3px;border:1px solid var(--rule);background:none;color:inherit;
  font-size:.78rem;line-height:1.2;text-align:left;cursor:pointer}
.ll-choose button[aria-pressed="true"]{outline:3px solid currentColor;outline-offset:-2px}
.ll-choose svg{display:block;width:100%;height:6.4rem;background:#0c0e10}
.ll-new{border:1px solid var(--rule);padding:.8rem 1rem;margin:.8rem 0;max-width:76rem}
.ll-new .ll-wide{width:100%}
.ll-new .ll-short,.ll-panel .ll-short{width:5.5rem}
.ll-panels{margin:.2rem 0 .6rem}
.ll-panel{margin-bottom:.6rem}
"""


# Fields ----------------------------------------------------------------------------------------------------


def tried(do: Callable[[], Any]) -> None:
    """Do it; what is refused is said on the page."""
    try:
        do()
    except LonglensError as error:
        say(str(error).replace("Value error, ", ""), good=False)


def field(label: str, value: str, do: Callable[[str], Any], classes: str = "") -> ui.element:
    """A line of text that is sent when it is left."""
    entry = ui.element("input").classes(f"ll-field {classes}")
    entry.props["value"] = value
    entry.props["aria-label"] = label
    entry.on("change", lambda e: tried(lambda: do(str(e.args or ""))), js_handler=VALUE)
    return entry


def choice(label: str, options: Sequence[str], value: str, do: Callable[[str], Any]) -> None:
    """One of several words."""
    box = ui.element("select").classes("ll-field")
    box.props["aria-label"] = label
    with box:
        for option in options:
            one = text("option", option)
            one.props["value"] = option
            if option == value:
                one.props("selected")
    box.on("change", lambda e: tried(lambda: do(str(e.args or ""))), js_handler=VALUE)


def button(words: str, do: Callable[[], Any], label: str = "") -> ui.element:
    """A plain button."""
    made = text("button", words, "ll-button").props("type=button").on("click", lambda: tried(do))
    if label:
        made.props["aria-label"] = label
    return made


# Marks -----------------------------------------------------------------------------------------------------


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


def named(mark: Mark) -> str:
    """What a mark is called under its thumbnail."""
    what = mark.point or mark.part or mark.circle or mark.form
    return f"{what} on {mark.shot}".replace("_", " ").replace(".", " ")


def choose_marks(desk: Desk, label: str, refs: Sequence[str], keep: Callable[[list[str]], Any]) -> None:
    """Every mark of the dossier with its surroundings, the newest first; a press adds it or takes it away.

    References that are no marks, and marks that are no longer there, stay as they are.
    """
    chosen = list(refs)
    marks = [m for m in reversed(desk.marks()) if not m.set_aside or f"mark:{m.id}" in chosen]
    shots = {s.id: s for s in desk.shots("all")}
    if not marks:
        text("p", "Nothing is marked yet: mark what you saw on the board.", "ll-quiet")
        return
    box = ui.element("div").classes("ll-choose").props(f'role="group" aria-label="{html.escape(label)}"')

    def show(first: int) -> None:
        with box:
            for mark in marks[first : first + AT_A_TIME]:
                one(mark)
        left = len(marks) - first - AT_A_TIME
        if left <= 0:
            return

        def on() -> None:
            more.delete()
            show(first + AT_A_TIME)

        more = button(f"{left} older marks", on)

    def one(mark: Mark) -> None:
        ref = f"mark:{mark.id}"
        made = ui.element("button").props("type=button")
        made.props["aria-pressed"] = "true" if ref in chosen else "false"
        made.props["aria-label"] = f"{named(mark)}, mark {mark.id}"

        def press() -> None:
            wanted = [r for r in chosen if r != ref] if ref in chosen else [*chosen, ref]
            keep(wanted)  # refused: nothing changes
            chosen[:] = wanted
            made.props["aria-pressed"] = "true" if ref in chosen else "false"
            tick.set_text(told())

        def told() -> str:
            return ("chosen: " if ref in chosen else "") + named(mark)

        with made:
            crop = crop_of(mark, shots.get(mark.shot))
            if crop:
                ui.html(crop, sanitize=False)
            tick = text("span", told())
        made.on("click", lambda: tried(press))

    show(0)


# Which explanations it speaks for --------------------------------------------------------------------------


def sides_of(question: Question, judged: Judgement) -> dict[str, str]:
    """Alternative → where it stands; with none named as less probable, all the others are."""
    over = judged.over or [a for a in question.ids if a not in judged.favours]
    return {a: FAVOURED if a in judged.favours else DISFAVOURED if a in over else BETWEEN for a in question.ids}


def sides_fields(sides: dict[str, str]) -> dict[str, list[str]]:
    """``favours`` and ``over`` of a judgement. Raises LonglensError where one of them would be empty."""
    favours, over = ([a for a, s in sides.items() if s == side] for side in (FAVOURED, DISFAVOURED))
    if not favours or not over:
        raise LonglensError(
            "evidence tells explanations apart", fix=f"set one to “{FAVOURED}” and one to “{DISFAVOURED}”"
        )
    return {"favours": favours, "over": over}


def choose_sides(question: Question, sides: dict[str, str], of: str, keep: Callable[[str, str], Any]) -> None:
    """One choice for each explanation; ``keep`` gets the alternative and where it stands."""
    text("p", "What is seen would be …", "ll-quiet")
    for k, a in enumerate(question.alternatives):
        with ui.element("div").classes("ll-row"):
            choice(f"{a.text}, {of}", (FAVOURED, BETWEEN, DISFAVOURED), sides.get(a.id, BETWEEN), partial(keep, a.id))
            text("span", f"if it is {belief.letter(k)}  {a.text}")


__all__ = [
    "BETWEEN",
    "DISFAVOURED",
    "FAVOURED",
    "STYLE",
    "button",
    "choice",
    "choose_marks",
    "choose_sides",
    "crop_of",
    "field",
    "named",
    "sides_fields",
    "sides_of",
    "tried",
]
