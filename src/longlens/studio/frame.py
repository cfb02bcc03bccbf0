"""What every page stands in: navigation, state of the survey, undo, keys, command search, help sheet, error boundary."""

from __future__ import annotations

import inspect
import json
import os
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nicegui import background_tasks, ui
from nicegui.elements.mixins.text_element import TextElement

from longlens.errors import LonglensError, NotSolvable
from longlens.studio.desk import Change, Desk
from longlens.studio.look import PAGE, RAISED, TEXT, css_variables
from longlens.studio.pages import Page
from longlens.studio.tour import steps

ASSETS = Path(__file__).parent / "assets"
#: Part of the addresses of our own files, so that a browser never mixes two versions.
VERSION = f"{max(f.stat().st_mtime_ns for f in ASSETS.rglob('*') if f.is_file()) // 1000:x}"
CAUTION = (
    "Estimates from photographs are for understanding and discussion, no basis for building, repairing, certifying or "
    "driving a vehicle."
)

#: What went on while the modules of pages were loaded; shown on every page until mended.
faults: list[str] = []


# What pages call -------------------------------------------------------------------------------------------


def text(tag: str, words: str, classes: str = "") -> TextElement:
    """A plain HTML element with text: ``text("h2", "Cores")``."""
    return TextElement(tag=tag, text=words).classes(classes)


def watch(desk: Desk, callback: Callable[..., Any]) -> None:
    """Call back on this page after every change, until the page is closed. The callback may take the Change."""
    client, slot = ui.context.client, ui.context.slot
    takes = bool(inspect.signature(callback).parameters)

    def heard(change: Change) -> None:
        if client.is_deleted:
            end()
            return
        with slot:
            guarded(callback, *((change,) if takes else ()))

    end = desk.watch(heard)
    client.on_delete(lambda: end())


def live(desk: Desk, build: Callable[[], Any], *, kinds: set[str] | None = None, solution: bool = True) -> ui.element:
    """A part of the page that is built now and again after every change.

    Parameters
    ----------
    kinds : only when records of these kinds change (default: any).
    solution : also when the survey's answer or progress changes.
    """
    box = ui.element("div").classes("ll-live")

    def fill() -> None:
        box.clear()
        with box:
            guarded(build)

    def heard(change: Change) -> None:
        touched = change.stage or "everything" in change.kinds or (solution and change.solution)
        if touched or (change.kinds and (kinds is None or kinds & change.kinds)):
            fill()

    fill()
    watch(desk, heard)
    return box


def later(build: Callable[[], Any], words: str = "working …") -> ui.element:
    """A part of the page that takes a while: ``build`` is async and is awaited after the page is there."""
    box = ui.element("div").classes("ll-live").props('aria-live="polite"')
    with box:
        text("p", words, "ll-quiet")

    async def fill() -> None:
        box_slot = box.default_slot
        try:
            with box_slot:
                made = build()
                if inspect.isawaitable(made):
                    await made
        except Exception as error:
            box.clear()
            with box_slot:
                refuse(error)
            return
        first = box_slot.children[0] if box_slot.children else None
        if isinstance(first, TextElement) and first.text == words:
            box.remove(first)

    background_tasks.create(fill(), name="a part of a page")
    return box


def command(name: str, do: Callable[..., Any] | ui.element, keys: str = "", about: str = "") -> None:
    """Offer something in the command search and, with ``keys`` (``ctrl+s``, ``shift+d``, ``g n``), on the keyboard.

    ``do`` is called, or is a field that gets the focus: at once in the browser, so that what is typed next goes there.
    Single letters work while no field for writing has the focus.
    """
    _commands().add(name, do, keys, about)


def key_help(keys: str, what: str) -> None:
    """Say in the help sheet what a key does that an element of the page takes by itself."""
    _commands().told.append((keys, what))


def say(words: str, *, good: bool = True) -> None:
    """A short message at the foot of the window."""
    ui.notify(
        words, position="bottom", timeout=4000 if good else 9000, classes="ll-toast" + ("" if good else " ll-bad")
    )


def guarded(do: Callable[..., Any], *args: Any) -> Any:
    """Do it; what goes wrong is explained on the page, and the rest goes on."""
    try:
        return do(*args)
    except Exception as error:
        refuse(error)
        return None


def refuse(error: BaseException) -> None:
    """Explain an error in place: what happened, what to do, and that nothing is lost."""
    what, fix = _words(error)
    with ui.element("div").classes("ll-refusal").props('role="alert"'):
        text("p", what)
        if fix:
            text("p", fix, "ll-quiet")


# The frame -------------------------------------------------------------------------------------------------


async def show(desk: Desk, page: Page, pages: list[Page]) -> None:
    """Fill one page: the frame, then what the page itself builds."""
    client = ui.context.client
    client.on_exception(_in_page)
    _head()
    commands = client.longlens = _Commands()  # type: ignore[attr-defined]
    _shared_commands(desk, pages)
    ui.on("ll-command", lambda e: commands.do(str(e.args)))
    with ui.header(elevated=False).classes("ll-top"):
        _navigation(desk, page, pages)
    with ui.footer(elevated=False).classes("ll-foot"):
        _foot(desk)
    body = ui.element("div").classes("ll-page ll-wide" if page.wide else "ll-page")
    with body:
        text("h1", page.title, "ll-hidden" if page.wide else "")
        for fault in faults:
            refuse(LonglensError(fault, fix="the other pages work"))
        if page.needs_dossier and not desk.is_open:
            text("p", "No dossier is open.")
            ui.link("Open one, or make a new one", "/start")
        else:
            try:
                made = page.build(desk)
                if inspect.isawaitable(made):
                    await made
            except Exception as error:
                refuse(error)
    listed = commands.listed() | {"tour": steps({p.path for p in pages}) if desk.is_open else []}
    ui.add_body_html(f"<script>longlens.begin({_json(listed)})</script>")
    if page.needs_dossier:
        _follow_opening(desk)


class _Commands:
    """The commands of one open page."""

    def __init__(self) -> None:
        self.all: list[tuple[str, Callable[..., Any] | ui.element | str, str, str]] = []
        self.told: list[tuple[str, str]] = []

    def add(self, name: str, do: Callable[..., Any] | ui.element | str, keys: str, about: str) -> None:
        self.all.append((name, do, keys, about))

    def do(self, number: str) -> Any:
        try:
            _, do, _, _ = self.all[int(number)]
        except (ValueError, IndexError):
            return None
        return do() if callable(do) and not isinstance(do, ui.element) else None

    def listed(self) -> dict[str, Any]:
        rows = [
            {
                "id": i,
                "name": n,
                "keys": k,
                "about": a,
                "to": do if isinstance(do, str) else None,
                "field": do.html_id if isinstance(do, ui.element) else None,
            }
            for i, (n, do, k, a) in enumerate(self.all)
        ]
        return {"commands": rows, "told": [{"keys": k, "what": w} for k, w in self.told]}


def _commands() -> _Commands:
    found = getattr(ui.context.client, "longlens", None)
    if not isinstance(found, _Commands):
        raise RuntimeError("commands are offered while a page is being built")
    return found


def _head() -> None:
    own = f"/assets/{VERSION}"
    sheets = "".join(f'<link rel="stylesheet" href="{own}/{name}.css">' for name in ("studio", "board"))
    ui.add_head_html(f'<style>{css_variables()}</style>{sheets}<script src="{own}/studio.js"></script>')
    ui.dark_mode(True)
    ui.colors(primary=TEXT, dark=RAISED, dark_page=PAGE)


def _shared_commands(desk: Desk, pages: list[Page]) -> None:
    add = _commands().add
    for page in pages:
        if page.listed and (desk.is_open or not page.needs_dossier):
            add(f"Go to {page.title}", page.path, f"g {page.key}" if page.key else "", page.about)
    add("Undo", lambda: undo(desk), "ctrl+z", "Take back the last change, whoever made it")
    add("Redo", lambda: redo(desk), "ctrl+shift+z", "Do again what was taken back")
    add("Solve the survey now", desk.solve, "", "It also begins by itself after changes")
    if desk.is_open:
        add("Take the tour", lambda: ui.run_javascript("longlens.beginTour()"), "", "What the studio does, on the demo")
    for stage in desk.stages if desk.is_open else ():
        add(f"Look at the stage {stage.name or stage.id}", lambda id=stage.id: _look_at(desk, id), "", "")


def undo(desk: Desk) -> None:
    """Take back the last step and say what it was."""
    step = desk.undo()
    say(f"taken back: {step.label}" if step else "nothing to take back")


def redo(desk: Desk) -> None:
    """Do the last undone step again and say what it was."""
    step = desk.redo()
    say(f"done again: {step.label}" if step else "nothing to do again")


def _look_at(desk: Desk, stage: str) -> None:
    desk.stage = stage


def _navigation(desk: Desk, page: Page, pages: list[Page]) -> None:
    ui.html('<a class="ll-skip" href="#content">To the content</a>', sanitize=False)
    with ui.element("nav").props('aria-label="Pages"'):
        group = None
        for one in pages:
            if not one.listed or (one.needs_dossier and not desk.is_open):
                continue
            if group is not None and one.order // 100 != group:
                ui.element("span").classes("ll-gap").props('aria-hidden="true"')
            group = one.order // 100
            link = ui.link(one.title, one.path).classes("ll-here" if one is page else "")
            if one is page:
                link.props('aria-current="page"')
    with ui.element("div").classes("ll-tools"):
        _button("Search", "longlens.search()", "Commands (ctrl+k)")
        _button("Keys", "longlens.help()", "Help sheet (?)")


def _button(words: str, javascript: str, about: str) -> None:
    text("button", words, "ll-plain").props(f'type="button" title="{about}"').on(
        "click", js_handler=f"() => {javascript}"
    )


def _foot(desk: Desk) -> None:
    if not desk.is_open:
        text("span", "No dossier is open", "ll-quiet")
        return
    vehicle = desk.dossier.vehicle
    maker = f"{vehicle.maker} " if vehicle.maker else ""
    text("span", f"{maker}{vehicle.name}", "ll-car").props["title"] = (
        desk.dossier.path.name
    )  # a stranger may have named it
    stages = ui.element("div").classes("ll-stages").props('role="group" aria-label="Stage looked at"')
    state = ui.element("div").classes("ll-state").props('role="status"')
    steps = ui.element("div").classes("ll-steps")

    def fill_stages() -> None:
        stages.clear()
        with stages:
            for stage in desk.stages:
                here = stage.id == desk.stage
                button = text("button", stage.name or stage.id, "ll-plain" + (" ll-on" if here else ""))
                button.props(f'type="button" aria-pressed="{str(here).lower()}"')
                button.on("click", lambda id=stage.id: _look_at(desk, id))

    def fill_state() -> None:
        state.clear()
        with state:
            _state(desk)

    def fill_steps() -> None:
        steps.clear()
        with steps:
            for words, found, do, keys in (
                ("Undo", desk.dossier.can_undo(), undo, "ctrl+z"),
                ("Redo", desk.dossier.can_redo(), redo, "ctrl+shift+z"),
            ):
                button = text("button", words, "ll-plain").props(f'type="button" aria-keyshortcuts="{keys}"')
                if found is None:
                    button.props("disabled")
                else:
                    button.props["title"] = f"{words}: {found.label}"
                button.on("click", lambda do=do: do(desk))

    for fill in (fill_stages, fill_state, fill_steps):
        guarded(fill)

    def heard(change: Change) -> None:
        if not desk.is_open:
            return
        if change.solution or change.stage or change.kinds:
            fill_state()
        if change.stage or change.kinds & {"stage", "shot", "everything"}:
            fill_stages()
        if change.kinds:
            fill_steps()

    watch(desk, heard)


def _state(desk: Desk) -> None:
    solved = desk.solved()
    text("span", solved.line(), "ll-bad" if solved.state in ("not solvable", "failed") else "")
    if solved.state == "solving":
        ui.html(f'<progress max="1" value="{solved.part:.3f}" aria-label="survey"></progress>', sanitize=False)
    elif not solved.current and solved.answer is not None:
        text("span", "(records changed since)", "ll-quiet")


def _follow_opening(desk: Desk) -> None:
    """A tab of a dossier that was closed or changed for another begins again."""
    opened = str(desk.dossier.path) if desk.is_open else ""

    def heard(change: Change) -> None:
        if "everything" in change.kinds and (str(desk.dossier.path) if desk.is_open else "") != opened:
            ui.navigate.reload()

    watch(desk, heard)


# Errors ----------------------------------------------------------------------------------------------------


def _in_page(error: Exception) -> None:
    """An error in something that the person just did."""
    what, fix = _words(error)
    say(f"{what} {fix}".strip(), good=False)


def _words(error: BaseException) -> tuple[str, str]:
    trace = os.environ.get("LONGLENS_TRACE")
    if trace:
        traceback.print_exception(error)
    if isinstance(error, NotSolvable):
        return f"{error.what}.", "It needs: " + "; ".join(error.needs) if error.needs else ""
    if isinstance(error, LonglensError):
        where = f"{error.where}: " if error.where else ""
        return f"{where}{error.what}.", f"What to do: {error.fix}." if error.fix else ""
    return (
        f"The studio made a mistake here ({type(error).__name__}: {error}).",
        "Nothing is lost: every change is in the dossier as soon as it is made. Load the page again; "
        "if it happens again, start the studio with LONGLENS_TRACE=1 and report what the terminal says.",
    )


def _json(value: Any) -> str:
    return json.dumps(value).replace("</", "<\\/").replace("<!--", "<\\!--")
