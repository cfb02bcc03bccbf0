"""The photographs: brought in by dropping them, described where they stand, many at once."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from nicegui import ui

from longlens.dossier.photographs import MAX_BYTES, Arrival, add_photographs, safe_name
from longlens.dossier.records import Shot, Stage
from longlens.dossier.stages import make_stage
from longlens.errors import LonglensError, UnusableInput
from longlens.publish.names import counted
from longlens.studio.desk import Change
from longlens.studio.elements import picture_address
from longlens.studio.frame import command, guarded, key_help, say, text, watch
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

#: Field of the record → the head of its column and its width.
FIELDS = {
    "name": ("Name", "8.6rem"),
    "date": ("Date", "6.2rem"),
    "source": ("Source", "9.5rem"),
    "credit": ("Credit", "10.5rem"),
    "licence": ("Licence", "9.5rem"),
    "stage": ("Stage", "4.6rem"),
    "stance": ("Stance", "5.4rem"),
}
RIGHTS = ("yes", "no", "unknown")
MOST_FILES = 500


class Shots:
    """The open page: its table, and which rows are ticked."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.ticked: set[str] = set()
        self._own = False
        self._bring_in()
        self.arrivals = ui.element("div").classes("ll-live").props('role="status"')
        self.many = ui.element("div").classes("ll-many")
        self.box = ui.element("div").classes("ll-scroll").props('tabindex=0 role="region" aria-label="Photographs"')
        self.fill()
        watch(desk, self.heard)

    def heard(self, change: Change) -> None:
        if not self._own and (change.kinds & {"shot", "stage", "everything"}):
            self.fill()

    # Bringing in ------------------------------------------------------------------------------------------

    def _bring_in(self) -> None:
        with ui.element("div").classes("ll-drop"):
            text("p", "Drop photographs or a folder here, or choose files. JPEG, PNG, WebP, TIFF and HEIC are read.")
            with ui.element("div").classes("ll-row"):
                self.upload = ui.upload(
                    multiple=True,
                    auto_upload=True,
                    max_file_size=MAX_BYTES,
                    max_files=MOST_FILES,
                    on_multi_upload=self.take,
                )
                # two files of one name, from two folders, must not share a field of the form
                self.upload.props('accept="image/*,.heic,.heif,.tif,.tiff" :field-name="() => crypto.randomUUID()"')
                self.upload.classes("ll-upload")
                choose = text("button", "Choose files …", "ll-button").props("type=button")
                choose.on("click", lambda: self.upload.run_method("pickFiles"))
                self.upload.on(
                    "rejected", lambda: say(f"larger than {MAX_BYTES // 2**20} MB, or too many: not taken", good=False)
                )
                stages = [s.id for s in self.desk.stages]
                self.to_stage = ui.input("Stage of these", value=self.desk.stage or "", autocomplete=stages).props(
                    "dense outlined"
                )
                self.to_source = ui.input("Source of these").props("dense outlined")
        self.upload.on("uploading", self._say_coming)
        ui.run_javascript("longlens.drop(document.querySelector('.ll-drop'))")

    def _say_coming(self) -> None:
        self.arrivals.clear()
        with self.arrivals:
            text("p", "reading the files …", "ll-quiet")

    async def take(self, event: Any) -> None:
        """Files came: each is checked, decoded and written; what became of it is said in a line."""
        files = list(event.files)
        stage = (self.to_stage.value or "").strip() or None
        source = (self.to_source.value or "").strip()
        self.arrivals.clear()
        with self.arrivals:
            bar = ui.html("", sanitize=False)
            lines = ui.element("ul").classes("ll-arrivals")
        loop = asyncio.get_running_loop()

        def tell(done: int, name: str) -> None:
            part = done / max(len(files), 1)
            html = f'<progress max="1" value="{part:.3f}" aria-label="photographs"></progress>'
            loop.call_soon_threadsafe(bar.set_content, html)

        def one_by_one() -> Iterator[tuple[str, bytes]]:  # never all of them in memory
            for f in files:
                yield safe_name(f.name), asyncio.run_coroutine_threadsafe(f.read(), loop).result()

        dossier = self.desk.dossier
        done = await asyncio.to_thread(
            add_photographs, dossier, one_by_one(), stage=stage, source=source, progress=tell
        )
        self.desk.catch_up()
        bar.set_content("")
        with lines:
            for arrival in done:
                _arrival(arrival)
        self.upload.reset()
        if any(a.outcome == "added" for a in done) and stage:
            self.desk.stage = stage

    # The table --------------------------------------------------------------------------------------------

    def fill(self) -> None:
        shots = self.desk.shots("all")
        self.ticked &= {s.id for s in shots}
        self.box.clear()
        with self.box:
            if not shots:
                text("p", "No photographs yet.", "ll-quiet")
            else:
                guarded(self._table, shots)
        self.fill_many()

    def _table(self, shots: list[Shot]) -> None:
        with ui.element("table").classes("ll-table ll-shots"):
            with ui.element("thead"), ui.element("tr"):
                with ui.element("th").props('scope="col"'):
                    every = ui.checkbox(value=False).props('dense aria-label="Tick all"')
                    every.on_value_change(lambda e: self.tick_all(bool(e.value)))
                text("th", "Photograph").props('scope="col"')
                for head, _ in FIELDS.values():
                    text("th", head).props('scope="col"')
                text("th", "May be shown").props('scope="col"')
            with ui.element("tbody"):
                marks: dict[str, int] = {}
                for m in self.desk.marks():
                    marks[m.shot] = marks.get(m.shot, 0) + 1
                for shot in shots:
                    with ui.element("tr"):
                        guarded(self._row, shot, marks.get(shot.id, 0))

    def _row(self, shot: Shot, marks: int) -> None:
        with ui.element("td"):
            box = ui.checkbox(value=shot.id in self.ticked).props("dense")
            box.props["aria-label"] = f"Tick {shot.name or shot.id}"
            box.on_value_change(lambda e: self.tick(shot.id, bool(e.value)))
        with ui.element("td"), ui.link(target=f"/board?shot={quote(shot.id, safe='')}").classes("ll-thumb"):
            picture = picture_address(shot, 320)
            if picture:
                ui.html(f'<img src="{picture}" alt="" loading="lazy">', sanitize=False)
            said = f"{shot.width} × {shot.height}, {counted(marks, 'mark')}"
            text("span", f"Open {shot.name or shot.id} on the board", "ll-hidden")
            text("small", said)
            if shot.copy_of:
                text("small", f"looks like {shot.copy_of}", "ll-bad")
        for field, (head, width) in FIELDS.items():
            value = getattr(shot, field) or ""
            with ui.element("td"):
                lacking = field == "credit" and not value
                entry = ui.element("input").classes("ll-field" + (" ll-lacking" if lacking else ""))
                entry.props["^value"] = value  # as an attribute: see fields.py
                entry.props["aria-label"] = f"{head} of {shot.name or shot.id}" + (" (missing)" if lacking else "")
                entry.style(f"width:{width}")
                if lacking:
                    entry.props["placeholder"] = "missing"
                entry.on("change", lambda e, f=field: self.write(shot.id, f, str(e.args or "")), js_handler=_VALUE)
        with ui.element("td"):
            choice = ui.element("select").classes("ll-field")
            choice.props["aria-label"] = f"May {shot.name or shot.id} be shown"
            with choice:
                for option in RIGHTS:
                    one = text("option", option)
                    one.props["value"] = option
                    if option == shot.may_show:
                        one.props("selected")
            choice.on("change", lambda e: self.write(shot.id, "may_show", str(e.args)), js_handler=_VALUE)

    # Writing ----------------------------------------------------------------------------------------------

    def tick(self, shot: str, on: bool) -> None:
        (self.ticked.add if on else self.ticked.discard)(shot)
        self.fill_many()

    def tick_all(self, on: bool) -> None:
        self.ticked = {s.id for s in self.desk.shots("all")} if on else set()
        self.fill()

    def write(self, shot: str, field: str, value: str) -> None:
        """One field of a shot; of all ticked ones when it is among them."""
        wanted = sorted(self.ticked) if shot in self.ticked and len(self.ticked) > 1 else [shot]
        try:
            self.write_many(wanted, field, value)
        except LonglensError:
            self.fill()
            raise

    def write_many(self, shots: list[str], field: str, value: str) -> None:
        """The same field of many shots, as one undo step."""
        value = value.strip()
        if field == "stance" and not value:
            raise UnusableInput("a shot needs a stance", fix="write static, or what tells it apart")
        empty: Any = None if field in ("credit", "licence", "date", "stage") else ""
        what = FIELDS[field][0].lower() if field in FIELDS else "right to show"
        with self.desk.batch(f"{what} of {counted(len(shots), 'shot')}") as dossier:
            if field == "stage" and value:
                known = {s.name: s.id for s in dossier.all(Stage)}
                value = known.get(value, value)
                make_stage(dossier, value)
            for shot in shots:
                if field == "stage" and not value:
                    body = dossier.get(Shot, shot).model_dump(exclude_none=True)
                    body.pop("stage", None)
                    dossier.put(Shot.model_validate(body))
                else:
                    dossier.change(Shot, shot, **{field: value or empty})
        if len(shots) > 1:
            say(f"written for {counted(len(shots), 'shot')}")

    def fill_many(self) -> None:
        """The line for writing one field of all ticked shots."""
        self.many.clear()
        if len(self.ticked) < 1:
            return
        with self.many:
            text("span", f"{counted(len(self.ticked), 'shot')} ticked: what is written in one of them goes to all.")
            credits = {s.credit for s in self.desk.shots("all") if s.credit}
            if len(credits) == 1:
                (credit,) = credits
                button = text("button", f"Credit all to {credit}", "ll-button").props("type=button")
                button.on("click", lambda: self.write_many(sorted(self.ticked), "credit", str(credit)))


_VALUE = "(e) => emit(e.target.value)"


def _arrival(arrival: Arrival) -> None:
    with ui.element("li").classes("ll-bad" if arrival.outcome == "refused" else ""):
        text("span", {"added": "taken in: ", "same": "there already: ", "refused": "not taken: "}[arrival.outcome])
        text("span", arrival.line)
        for remark in arrival.remarks[:3]:
            text("small", f" {remark}", "ll-quiet")


def build(desk: Desk) -> None:
    page = Shots(desk)
    command("Choose photographs to bring in", lambda: page.upload.run_method("pickFiles"), "shift+a")
    command("Tick all shots", lambda: page.tick_all(True), "ctrl+a")
    key_help("tab", "From field to field; what is written is kept when the field is left")


PAGE = Page("/shots", "Shots", build, key="p", order=110, about="Photographs, their sources and rights", wide=False)
