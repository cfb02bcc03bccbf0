"""Publish: plates as they will be seen, labels, insets and charts put where one wants them, a line through the sequence."""

from __future__ import annotations

import asyncio
import base64
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nicegui import ui

from longlens.errors import LonglensError, UnusableInput
from longlens.publish.names import counted
from longlens.publish.plates import Plate, Sequence
from longlens.publish.styles import PUBLISHED, STYLES
from longlens.studio.desk import Change
from longlens.studio.fields import STYLE, tried
from longlens.studio.frame import command, guarded, key_help, later, refuse, say, text, watch
from longlens.studio.highlights import Highlights
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.publish.basis import Bases
    from longlens.publish.compose import Composed
    from longlens.publish.film.scenes import Film
    from longlens.studio.desk import Desk

#: Pixels of the preview per drawing unit, and the frames a second in which the scrub line steps.
SCALE, STEP = 0.6, 10
_LOOKS = """
.ll-plates{display:grid;grid-template-columns:minmax(0,1fr) 21rem;gap:1.4rem;align-items:start}
@media (max-width:62rem){.ll-plates{grid-template-columns:minmax(0,1fr)}}
.ll-stage{position:relative;background:#0c0e10;line-height:0;margin:0 auto;width:fit-content;max-width:100%}
.ll-stage img{display:block;max-width:100%;max-height:calc(100vh - 15rem)}
.ll-grip{position:absolute;border:1px dashed transparent;border-radius:3px;cursor:grab;touch-action:none;line-height:0}
.ll-grip:hover,.ll-grip:focus-visible{border-color:#fff;outline:none;box-shadow:0 0 0 2px #0008}
.ll-grip.ll-held{cursor:grabbing;background:#fff2;border-color:#fff}
.ll-list{list-style:none;margin:.2rem 0 1rem;padding:0;max-height:17rem;overflow:auto}
.ll-list button{display:block;width:100%;text-align:left}
@media (min-width:62rem){.ll-plates>div:first-child{position:sticky;top:calc(var(--top) + .8rem)}}
.ll-lit select{width:8rem}
.ll-lit{padding-left:1.3rem;margin:.2rem 0 .8rem}
.ll-lit li{padding:.15rem 0 .7rem;border-bottom:1px solid var(--faint);margin-bottom:.4rem}
.ll-lit .ll-fields{gap:.3rem .7rem;margin:.2rem 0 .4rem}
.ll-lit .ll-small{padding:0 .5rem;font-size:.86rem}
.ll-lit .ll-fields .ll-half{flex:1 1 7rem}
.ll-plates .ll-sheetlet{padding:.3rem .8rem .8rem}
.ll-plates .ll-fields label{min-width:0;max-width:100%}
.ll-plates .ll-fields select{max-width:100%}
.ll-plates .q-field{margin:.5rem 0}
.ll-scrub{width:100%;margin:.6rem 0 .2rem}
"""
_HAND = """
<script>
(() => {
document.addEventListener('pointerdown', e => {
  const grip = e.target.closest('.ll-grip'); if (!grip) return;
  e.preventDefault(); grip.focus(); grip.setPointerCapture(e.pointerId); grip.classList.add('ll-held');
  const room = grip.parentElement.getBoundingClientRect(), x = e.clientX, y = e.clientY;
  const left = grip.offsetLeft, top = grip.offsetTop;
  const move = m => { grip.style.left = left + m.clientX - x + 'px'; grip.style.top = top + m.clientY - y + 'px'; };
  const drop = m => {
    grip.removeEventListener('pointermove', move); grip.classList.remove('ll-held');
    if (Math.hypot(m.clientX - x, m.clientY - y) < 3) return;
    longlensPut(grip, room);
  };
  grip.addEventListener('pointermove', move); grip.addEventListener('pointerup', drop, {once: true});
});
// By keys: several presses are one step. What is being moved is known by its key, not by its element: the plate may be painted
// anew between two presses, and the move goes on.
let moving = null;
const gripOf = key => [...document.querySelectorAll('.ll-grip')].find(g => g.dataset.key === key);
document.addEventListener('keydown', e => {
  const grip = e.target.closest && e.target.closest('.ll-grip'); if (!grip) return;
  const key = grip.dataset.key;
  if (key.startsWith('highlight ') && ['Delete', 'Backspace', 'Enter'].includes(e.key)) {
    e.preventDefault(); e.stopPropagation();
    const n = Number(key.split(' ')[1]) + 1;
    if (e.key === 'Enter') document.querySelector(`[aria-label="Label of highlight ${n}"]`)?.focus();
    else emitEvent('ll-highlight-gone', {number: n - 1});
    return;
  }
  const way = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]}[e.key]; if (!way) return;
  e.preventDefault();
  const room = grip.parentElement.getBoundingClientRect(), step = e.shiftKey ? 0.05 : 0.01;
  if (!moving || moving.key !== key) moving = {key, ...longlensMiddle(grip, room)};
  moving.x = Math.min(1, Math.max(0, moving.x + way[0] * step));
  moving.y = Math.min(1, Math.max(0, moving.y + way[1] * step * room.width / room.height));
  place();
  clearTimeout(moving.wait);
  moving.wait = setTimeout(() => { const {key, x, y} = moving; moving = null; emitEvent('ll-label-put', {key, x, y}); }, 500);
});
function place() {
  const grip = moving && gripOf(moving.key); if (!grip) return;
  const room = grip.parentElement.getBoundingClientRect();
  grip.style.left = moving.x * room.width - grip.offsetWidth / 2 + 'px';
  grip.style.top = moving.y * room.height - grip.offsetHeight / 2 + 'px';
}
new MutationObserver(place).observe(document, {childList: true, subtree: true});
function longlensMiddle(grip, room) {
  return {x: (grip.offsetLeft + grip.offsetWidth / 2) / room.width, y: (grip.offsetTop + grip.offsetHeight / 2) / room.height};
}
function longlensPut(grip, room) {
  if (!grip.isConnected) return;  // painted anew meanwhile: it has no place any more
  emitEvent('ll-label-put', {key: grip.dataset.key, ...longlensMiddle(grip, room)});
}
})();
</script>
"""


class Publishing:
    """The open page."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        plates = desk.dossier.all(Plate)
        self.plate = plates[0].id if plates else ""
        self.style = "wide"
        self.film: Film | None = None
        self._wanted = 0
        ui.add_head_html(f"<style>{_LOOKS}</style>")
        ui.add_body_html(_HAND)
        ui.add_css(STYLE)
        self.lit = Highlights(desk)
        ui.on("ll-label-put", lambda e: tried(lambda: self.put(e.args)))
        ui.on("ll-highlight-gone", lambda e: tried(lambda: self.lit.remove(self.plate, int(e.args["number"]))))
        self.home = ui.element("div").classes("ll-plates")
        with self.home:
            with ui.element("div"):
                self.stage = ui.element("div").classes("ll-stage")
                self.said = ui.element("div").classes("ll-live").props('role="status"')
                self.scrub_box = ui.element("div")
            self.side = ui.element("div")
        self.fill_side()
        self._scrub()
        self.refresh()
        watch(desk, self.heard)
        command("Next plate", lambda: self.step(1), "j", "The next plate of the dossier")
        command("Plate before", lambda: self.step(-1), "k", "The plate before this one")
        command(
            "Labels of this plate by themselves",
            self.free,
            "",
            "Forget where labels, insets and chart were put by hand",
        )
        command(
            "Add a highlight", self.lit.begin, "shift+h", "Bring out a mark, a drawing, a rim or a rod on this plate"
        )
        key_help("enter", "on a highlight's label on the plate: name it")
        key_help("delete", "on a highlight's label on the plate: remove it")
        key_help("arrow keys", "move the label, inset or chart that has the focus; with shift further")

    # What changes ---------------------------------------------------------------------------------------------

    def heard(self, change: Change) -> None:
        kinds = {"plate", "sequence", "mark", "measure", "shot", "fact", "everything"}
        if change.kinds & kinds or change.stage or change.solution:
            self.film = None
            self.refresh()
        if change.kinds & {"plate", "sequence", "everything"}:
            self.fill_side()

    def bases(self) -> Bases:
        """The dossier's basis, with the survey's answers that the desk has; nothing is solved here."""
        from longlens.publish.basis import Bases

        bases = Bases(self.desk.dossier)
        for stage in self.desk.stages:
            bases.of(stage.id).answer = self.desk.solved(stage.id).answer or {}
        return bases

    def refresh(self) -> None:
        """Paint the plate anew, in a thread; only the last wish counts."""
        if not self.plate or self.desk.dossier.find(Plate, self.plate) is None:
            self.stage.clear()
            with self.stage:
                text("p", "No plate yet. A plate is made of a photograph and of what is brought out on it.", "ll-quiet")
            return
        self._wanted += 1
        with self.home:  # whatever asked for it, a button of the list perhaps, may be gone in a moment
            ui.timer(0.01, lambda n=self._wanted: self._paint(n), once=True)

    async def _paint(self, wanted: int) -> None:
        plate, style, bases = self.desk.dossier.get(Plate, self.plate), self.style, self.bases()
        try:
            made, jpeg = await asyncio.to_thread(_painted, plate, style, bases)
        except LonglensError as error:
            if wanted == self._wanted:
                self.stage.clear()
                with self.stage:
                    refuse(error)
            return
        if wanted == self._wanted:
            self._show(made, jpeg)

    def _show(self, made: Composed, jpeg: bytes) -> None:
        self.stage.clear()
        with self.stage:
            self._picture(jpeg, f"Plate {made.drawing.title}: {'; '.join(w for w in made.drawing.words if w)}")
            w, h = made.drawing.width, made.drawing.height
            grips = [*((k, k.capitalize(), b) for k, b in made.panels.items()),
                     *((k, f"Label of {k}", b) for k, b in made.placed.boxes.items())]  # fmt: skip
            for key, name, (x0, y0, x1, y1) in grips:  # labels last: they lie above
                grip = ui.element("div").classes("ll-grip").props("tabindex=0 role=group")
                grip.props["data-key"] = key  # set one by one: names of a stranger's plate are no markup
                grip.props["aria-label"] = f"{name}: arrow keys move it"
                place = f"left:{100 * x0 / w:.3f}%;top:{100 * y0 / h:.3f}%"
                grip.style(f"{place};width:{100 * (x1 - x0) / w:.3f}%;height:{100 * (y1 - y0) / h:.3f}%")
        self.said.clear()
        with self.said:
            for ref, why in made.lost:
                refuse(
                    UnusableInput(f"{{{ref}}} has lost its basis: {why}", fix="give it a basis again, or take it out")
                )
            for ref, old, new in made.changed:
                text("p", f"To read again: {{{ref}}} was {old}, is now {new}")
            for note in made.notes:
                text("p", note, "ll-quiet")

    def _picture(self, jpeg: bytes, alt: str) -> None:
        image = ui.element("img").props(f'src="data:image/jpeg;base64,{base64.b64encode(jpeg).decode()}"')
        image.props["alt"] = alt

    # The hand -------------------------------------------------------------------------------------------------

    def put(self, what: Any) -> None:
        """A label, an inset or the chart was put somewhere: ``{key, x, y}``, the place as parts of the plate."""
        key, x, y = str(what["key"]), float(what["x"]), float(what["y"])
        if not (math.isfinite(x) and math.isfinite(y)):
            return
        plate = self.desk.dossier.get(Plate, self.plate)
        moved = put_label(plate, key, (min(max(x, 0.0), 1.0), min(max(y, 0.0), 1.0)))
        what_of = "chart" if key == "chart" else "inset" if key.startswith("inset ") else "label"
        with self.desk.batch(f"{what_of} of {plate.title} put") as dossier:
            dossier.put(moved)

    def free(self) -> None:
        """Let all labels, insets and the chart of the plate place themselves again."""
        plate = self.desk.dossier.get(Plate, self.plate)
        with self.desk.batch(f"labels of {plate.title} by themselves") as dossier:
            dossier.put(free_labels(plate))

    def step(self, by: int) -> None:
        ids = self.desk.dossier.ids(Plate)
        if ids:
            self.choose(ids[(ids.index(self.plate) + by) % len(ids)] if self.plate in ids else ids[0])

    def choose(self, plate: str) -> None:
        self.plate = plate
        self.fill_side()
        self.refresh()

    # Beside it ------------------------------------------------------------------------------------------------

    def fill_side(self) -> None:
        self.side.clear()
        with self.side:
            guarded(self._side)

    def _side(self) -> None:
        dossier = self.desk.dossier
        plates = dossier.all(Plate)
        text("h2", "Plates")
        with ui.element("ul").classes("ll-list"):
            for plate in plates:
                with ui.element("li"):
                    here = plate.id == self.plate
                    button = text("button", plate.title, "ll-plain" + (" ll-on" if here else ""))
                    button.props(f'type="button" aria-pressed="{str(here).lower()}"')
                    button.on("click", lambda id=plate.id: self.choose(id))
        ui.select(list(PUBLISHED), value=self.style, label="Shape", on_change=self._shape).props("dense outlined")
        found = dossier.find(Plate, self.plate) if self.plate else None
        if found is not None:
            self._words(found)
            guarded(self.lit.build, found)
        self._hurdles(plates)
        with ui.element("div").classes("ll-row"):
            self._button(
                "Words are read", self.read, "Write down that all words were read with their numbers as they are"
            )
            self._button("Publish", self.publish, "Plates, brief and data into a folder beside the dossier")
            self._button("Labels by themselves", self.free, "Forget what was put by hand on this plate")

    def _button(self, words: str, do: Any, about: str) -> None:
        text("button", words, "ll-button").props(f'type="button" title="{about}"').on("click", do)

    def _shape(self, event: Any) -> None:
        self.style = event.value
        self.refresh()

    def _words(self, plate: Plate) -> None:
        def keep(field: str, value: str) -> None:
            if value != getattr(self.desk.dossier.get(Plate, plate.id), field):
                with self.desk.batch(f"{field} of a plate") as dossier:
                    dossier.change(Plate, plate.id, **{field: value})

        for field, label in (("title", "Title"), ("text", "Line under it")):
            box = ui.input(label, value=getattr(plate, field)).props("dense outlined").classes("w-full")
            box.on("blur", lambda f=field, b=box: guarded(keep, f, b.value))

    def _hurdles(self, plates: list[Plate]) -> None:
        from longlens.dossier.records import Shot
        from longlens.publish.rights import hurdles

        ids = {v.shot for p in plates for v in (p.view, p.beside, *(i.view for i in p.insets)) if v is not None}
        met = hurdles([s for s in self.desk.dossier.all(Shot) if s.id in ids])
        if met:
            with ui.element("details"):
                text("summary", f"Rights: {counted(len(met), 'remark')}")
                for h in met:
                    text("p", f"{h.shot}: {h.why}", "" if h.stops else "ll-quiet")

    async def read(self) -> None:
        from longlens.publish.reading import mark_read

        bases = self.bases()
        with self.desk.batch("words read again"):
            n = mark_read(bases)
        say(f"written down for {counted(n, 'record')}")

    async def publish(self) -> None:
        from longlens.publish.edition import publish

        path = Path(self.desk.dossier.path)
        to = path.with_name(f"{path.stem}-edition")
        say("publishing …")
        try:
            made = await asyncio.to_thread(publish, self.desk.dossier, to)
        except LonglensError as error:
            say(str(error), good=False)
            return
        say(f"{to.name}: {counted(len(made.files), 'file')}")

    # The sequence ---------------------------------------------------------------------------------------------

    def _scrub(self) -> None:
        sequences = self.desk.dossier.all(Sequence)
        if not sequences:
            return
        with self.scrub_box:
            later(lambda: self._line(sequences[0]), "timing the sequence …")

    async def _line(self, sequence: Sequence) -> None:
        film = await self._planned(sequence.id)
        if film is None:
            return
        text("h2", f"{sequence.title}, {_clock(film.seconds)}")
        slider = ui.element("input").classes("ll-scrub")
        slider.props(f'type="range" min=0 max={film.seconds:.1f} step=0.1 value=0 aria-label="Place in the sequence"')
        shown = text("p", "Run through it with the line.", "ll-quiet").props('aria-live="polite"')

        async def at(event: Any) -> None:
            await self._frame(sequence.id, float(event.args), shown)

        slider.on("input", at, js_handler="e => emit(e.target.value)", throttle=0.15)

    async def _planned(self, sequence: str) -> Film | None:
        from longlens.publish.film.film import plan_film

        if self.film is None:
            bases = self.bases()
            try:
                self.film = await asyncio.to_thread(plan_film, self.desk.dossier, sequence, draft=True, bases=bases)
            except LonglensError as error:
                refuse(error)
        return self.film

    async def _frame(self, sequence: str, t: float, shown: Any) -> None:
        film = await self._planned(sequence)
        if film is None:
            return
        self._wanted += 1
        wanted = self._wanted
        k, jpeg = await asyncio.to_thread(_frame_at, film, t)
        if wanted == self._wanted:
            scene = film.scenes[k]
            self.stage.clear()
            with self.stage:
                self._picture(jpeg, f"{_clock(t)}: {scene.drawing.title}")
            shown.set_text(f"{_clock(t)}  {scene.chapter}. {scene.words.text}")


def put_label(plate: Plate, key: str, at: tuple[float, float]) -> Plate:
    """The plate with the place of one label, inset or chart. Keys are those of :class:`longlens.publish.compose.Composed`,
    its ``placed.boxes`` and ``panels``."""
    fields = {"highlight": "highlights", "arrow": "arrows", "dimension": "dimensions", "inset": "insets"}
    if key == "chart" and plate.chart is not None:
        return plate.model_copy(update={"chart": plate.chart.model_copy(update={"at": at})})
    if key == "scale bar" and plate.scale_bar is not None:
        return plate.model_copy(update={"scale_bar": plate.scale_bar.model_copy(update={"at": at})})
    kind, _, number = key.partition(" ")
    if kind not in fields or not number.isdigit() or int(number) >= len(getattr(plate, fields[kind])):
        raise UnusableInput(f"there is no label {key!r} on this plate")
    parts = list(getattr(plate, fields[kind]))
    parts[int(number)] = parts[int(number)].model_copy(update={"at": at})
    return plate.model_copy(update={fields[kind]: parts})


def free_labels(plate: Plate) -> Plate:
    """The plate with nothing put by hand."""
    changed: dict[str, Any] = {
        name: [p.model_copy(update={"at": None}) for p in getattr(plate, name)]
        for name in ("highlights", "arrows", "dimensions", "insets")
    }
    if plate.chart is not None:
        changed["chart"] = plate.chart.model_copy(update={"at": None})
    if plate.scale_bar is not None:
        changed["scale_bar"] = plate.scale_bar.model_copy(update={"at": None})
    return plate.model_copy(update=changed)


def _painted(plate: Plate, style: str, bases: Bases) -> tuple[Composed, bytes]:
    from longlens.publish.compose import compose
    from longlens.publish.raster import paint

    made = compose(plate, STYLES[style], bases.of(plate.stage), draft=True)
    return made, _jpeg(paint(made.drawing, SCALE))


def _frame_at(film: Film, t: float) -> tuple[int, bytes]:
    from longlens.publish.film.frames import SceneFrames

    k = max(i for i, s in enumerate(film.scenes) if s.begins <= t or i == 0)
    frames = SceneFrames(film.scenes[k], SCALE, STEP)
    i = min(max(int((t - film.scenes[k].begins) * STEP), 0), frames.count - 1)
    if k:
        i = max(i, STEP // 2)  # the fade from the scene before is left to the film
    (frame,) = frames.between(i, i + 1)
    return k, _jpeg(frame)


def _jpeg(pixels: Any) -> bytes:
    import cv2

    ok, data = cv2.imencode(".jpg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 82])
    assert ok
    return data.tobytes()


def _clock(t: float) -> str:
    return f"{int(t) // 60}:{int(t) % 60:02d}"


def build(desk: Desk) -> None:
    """Fill the page."""
    Publishing(desk)


PAGE = Page("/publish", "Publish", build, key="u", order=500, about="Plates, sequence, edition")
