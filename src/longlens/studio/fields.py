"""Plain fields, choices and buttons of pages on which people write, and what is said beside them when it does not fit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from nicegui import ui

from longlens.errors import LonglensError
from longlens.studio.frame import say, text

VALUE = "(e) => emit(e.target.value)"
TICKED = "(e) => emit(e.target.checked)"
STYLE = """
.ll-sheetlet{border:1px solid var(--rule);border-radius:3px;padding:.8rem 1rem 1rem;margin:.6rem 0 1rem;max-width:76rem}
.ll-sheetlet>h3:first-child{margin-top:0}
.ll-fields{display:flex;flex-wrap:wrap;gap:.6rem 1rem;align-items:flex-end;margin:.5rem 0}
.ll-fields label{display:flex;flex-direction:column;gap:.15rem;color:var(--quiet);font-size:.88rem}
.ll-fields .ll-field,.ll-panel select.ll-field{color:var(--text);font-size:.94rem;border-color:#80878d;background:var(--page)}
.ll-fields .ll-field{height:1.95rem}
.ll-fields .ll-whole{flex:1 1 100%}
.ll-fields .ll-half{flex:1 1 20rem}
.ll-fields .ll-whole .ll-field,.ll-fields .ll-half .ll-field{width:100%}
.ll-fields .ll-short{width:7rem}
.ll-field[aria-invalid="true"]{border-color:#d9734f;border-style:dashed}
.ll-trouble:not(:empty){border-left:5px solid #b5533a;padding:.3rem .8rem;margin:.5rem 0;color:#ffb199;max-width:64rem}
.ll-ways{display:flex;flex-wrap:wrap;gap:0;margin:.2rem 0 .7rem}
.ll-ways button.ll-button{border-radius:0;margin-left:-1px}
.ll-ways button.ll-button[aria-pressed="true"]{background:var(--text);color:var(--page);border-color:var(--text)}
"""


def tried(do: Callable[[], Any]) -> bool:
    """Do it; what is refused is said on the page. True when it was done."""
    try:
        do()
    except LonglensError as error:
        say(str(error).replace("Value error, ", ""), good=False)
        return False
    return True


class Trouble:
    """A line under a form that says what is wrong with it, and stays until the next attempt went well."""

    def __init__(self) -> None:
        self.line = text("div", "", "ll-trouble").props('role="alert"')

    def attempt(self, do: Callable[[], Any], entry: ui.element | None = None) -> bool:
        """Do it; what is refused is said here, and ``entry`` is marked as what does not fit."""
        try:
            do()
        except LonglensError as error:
            self.line.set_text(str(error).replace("Value error, ", ""))
            _invalid(entry, True)
            return False
        self.line.set_text("")
        _invalid(entry, False)
        return True


def _invalid(entry: ui.element | None, wrong: bool) -> None:
    if entry is not None and not entry.is_deleted:
        entry.props["aria-invalid"] = "true" if wrong else "false"
        entry.update()


def field(
    label: str, value: str, do: Callable[[str], Any], classes: str = "", trouble: Trouble | None = None
) -> ui.element:
    """A line of text that is sent when it is left. What does not fit is said in ``trouble``, else in a message."""
    entry = ui.element("input").classes(f"ll-field {classes}")
    # As an attribute (^): a property would be set again whenever anything on the page changes, over what is being written.
    entry.props["^value"] = value
    entry.props["aria-label"] = label

    def sent(words: str) -> None:
        if trouble is not None:
            trouble.attempt(lambda: do(words), entry)
        else:
            tried(lambda: do(words))

    entry.on("change", lambda e: sent(str(e.args or "")), js_handler=VALUE)
    return entry


def captioned(
    words: str, label: str, value: str, do: Callable[[str], Any], size: str = "", trouble: Trouble | None = None
) -> ui.element:
    """A field with its caption above it. ``size``: ``ll-whole``, ``ll-half`` (of the line) or ``ll-short``."""
    with ui.element("label").classes(size if size in ("ll-whole", "ll-half") else ""):
        text("span", words)
        return field(label, value, do, size if size == "ll-short" else "", trouble)


def choice(
    label: str,
    options: Sequence[str | tuple[str, str]],
    value: str,
    do: Callable[[str], Any],
    trouble: Trouble | None = None,
) -> ui.element:
    """One of several words; of a pair the first is what is sent, the second what is read."""
    box = ui.element("select").classes("ll-field")
    box.props["aria-label"] = label
    with box:
        for option in options:
            sent, read = option if isinstance(option, tuple) else (option, option)
            one = text("option", read)
            one.props["value"] = sent
            if sent == value:
                one.props("selected")

    def chosen(words: str) -> None:
        if trouble is not None:
            trouble.attempt(lambda: do(words), box)
        else:
            tried(lambda: do(words))

    box.on("change", lambda e: chosen(str(e.args or "")), js_handler=VALUE)
    return box


def tick(words: str, label: str, on: bool, do: Callable[[bool], Any]) -> ui.element:
    """A box to tick, with its words behind it."""
    with ui.element("label").classes("ll-quiet"):
        box = ui.element("input").props('type="checkbox"' + (" checked" if on else ""))
        box.props["aria-label"] = label
        box.on("change", lambda e: tried(lambda: do(bool(e.args))), js_handler=TICKED)
        text("span", f" {words}")
    return box


def button(words: str, do: Callable[[], Any], label: str = "") -> ui.element:
    """A plain button."""
    made = text("button", words, "ll-button").props("type=button").on("click", lambda: tried(do))
    if label:
        made.props["aria-label"] = label
    return made


def ways(label: str, options: Sequence[tuple[str, str]], now: str, do: Callable[[str], Any]) -> None:
    """One of a few ways, all in sight: buttons side by side, the present one pressed."""
    with ui.element("div").classes("ll-ways").props('role="group"') as group:
        group.props["aria-label"] = label
        for id, words in options:
            one = button(words, lambda id=id: do(id))  # type: ignore[misc]
            one.props["aria-pressed"] = "true" if id == now else "false"


def number_of(words: str, what: str = "") -> float:
    """A number that somebody wrote; a decimal comma is read as well. Raises LonglensError."""
    try:
        found = float(words.strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        found = math.nan
    if not math.isfinite(found):
        raise LonglensError(f"{words!r} is no number", where=what, fix="write a number, 3 or 0.45 say")
    return found


def share_of(words: str, what: str = "") -> float:
    """A probability written in per cent, as a number from 0 to 1. Raises LonglensError."""
    found = number_of(words.strip().removesuffix("%"), what) / 100
    if not 0 <= found <= 1:
        raise LonglensError(f"{words} is no probability", where=what, fix="write per cent from 0 to 100, 70 say")
    return found


__all__ = [
    "STYLE",
    "VALUE",
    "Trouble",
    "button",
    "captioned",
    "choice",
    "field",
    "number_of",
    "share_of",
    "tick",
    "tried",
    "ways",
]
