"""Filling in an item of evidence: its marks, chosen by their thumbnails, and which explanations it speaks for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from longlens.claims.records import Judgement, Question
from longlens.dossier.records import Mark, Shot
from longlens.errors import LonglensError
from longlens.studio import belief
from longlens.studio import elements as el
from longlens.studio.fields import button, choice, tick, tried
from longlens.studio.frame import text

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

#: Half a thumbnail, in pixels of a picture 4,000 wide; marks shown at a time for choosing.
HALF, AT_A_TIME = 130.0, 24
FAVOURED, DISFAVOURED, BETWEEN = "more probable", "less probable", "in between"
STYLE = """
.ll-choose{display:flex;flex-wrap:wrap;gap:.5rem;max-width:76rem;margin:.4rem 0}
.ll-choose button{display:block;width:7rem;padding:3px;border:1px solid var(--rule);background:none;color:inherit;
  font-size:.78rem;line-height:1.2;text-align:left;cursor:pointer}
.ll-choose button[aria-pressed="true"]{outline:3px solid currentColor;outline-offset:-2px}
.ll-choose svg{display:block;width:100%;height:6.4rem;background:#0c0e10}
.ll-panel .ll-short{width:5.5rem}
.ll-panels{margin:.2rem 0 .6rem}
.ll-panels .ll-small{padding:.05rem .6rem;font-size:.88rem}
.ll-panels .ll-small[aria-expanded="true"]{background:var(--text);color:var(--page);border-color:var(--text)}
.ll-row.ll-panels{gap:.4rem}
.ll-panel{margin-bottom:.6rem}
.ll-readings{list-style:none;padding:0;margin:.4rem 0;display:grid;gap:.35rem;max-width:70rem}
.ll-readings button.ll-button{text-align:left;width:100%;white-space:normal}
.ll-readings button small{display:block;color:var(--quiet);font-size:.84rem}
.ll-readings button[aria-pressed="true"]{outline:3px solid currentColor;outline-offset:-2px}
.ll-predicts{display:grid;grid-template-columns:minmax(9rem,16rem) 1fr;gap:.2rem 1rem;align-items:start;
  border-top:1px solid var(--rule);padding:.35rem 0}
.ll-predicts>div:first-child{padding-top:.6rem}
"""


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
    box = ui.element("div").classes("ll-choose").props("role=group")
    box.props["aria-label"] = label

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


# What a sheet's words stand for ------------------------------------------------------------------------------


def choose_means(
    question: Question,
    words: Sequence[str],
    means: dict[str, list[str]],
    of: str,
    keep: Callable[[dict[str, list[str]]], Any],
) -> None:
    """For each word of a sheet, which explanations it stands for; ``keep`` gets all of it, the new tick with it."""
    for word in words:
        with ui.element("div").classes("ll-row"):
            text("span", f"“{word}” stands for")
            for k, a in enumerate(question.alternatives):

                def ticked(on: bool, word: str = word, id: str = a.id) -> None:
                    others = [i for i in means.get(word, []) if i != id]
                    means[word] = [i for i in question.ids if i in others or (on and i == id)]
                    keep({w: list(means.get(w, [])) for w in words})

                tick(
                    f"{belief.letter(k)}  {a.text}",
                    f"{word} stands for {a.text}, {of}",
                    a.id in means.get(word, []),
                    ticked,
                )


__all__ = [
    "BETWEEN",
    "DISFAVOURED",
    "FAVOURED",
    "STYLE",
    "choose_marks",
    "choose_means",
    "choose_sides",
    "crop_of",
    "named",
    "sides_fields",
    "sides_of",
]
