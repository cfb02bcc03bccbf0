"""A plane of the car seen straight on, to measure on: a wheel, the centre plane, or the plane through three points."""

from __future__ import annotations

import asyncio
import base64
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui

from longlens.dossier.records import Shot
from longlens.errors import UnusableInput
from longlens.numbers import display
from longlens.publish.names import words
from longlens.studio import pictures
from longlens.studio.frame import guarded, refuse, text, watch
from longlens.studio.pages import Page

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.survey.answer import Solution
    from longlens.survey.straight_on import Plane, View

CENTRE, THREE = "the centre plane", "the plane through three points"
#: How well somebody points at something on the straightened picture, its pixels.
POINTED = 1.5
#: Longer side of what is sent to the browser, px.
SHOWN = 1800


class Straight:
    """The page in one tab."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.view: View | None = None
        self.ends: list[tuple[float, float]] = []
        self.scale = 1.0
        self._seen: Any = None

    def build(self) -> None:
        text(
            "p",
            "What lies in the plane is true to scale; what stands before or behind it is not. Click two places to measure.",
            "ll-quiet",
        )
        self.form = ui.element("div")
        self.out = ui.element("div").props('aria-live="polite"')
        self.fill()
        watch(self.desk, self.heard)

    def heard(self) -> None:
        if id(self.desk.solved().solution) != self._seen:
            self.fill()

    def fill(self) -> None:
        self._seen = id(self.desk.solved().solution)
        self.form.clear()
        with self.form:
            guarded(self._form)

    def _form(self) -> None:
        solution = self.desk.solved().solution
        if solution is None:
            text("p", "As soon as the survey is solved in this session, planes can be seen straight on.", "ll-quiet")
            return
        net = solution.net
        planes = {f"circle:{c}": f"the plane of {words(c)}" for c in net.circles} | {CENTRE: CENTRE, THREE: THREE}
        names = {s.id: s.name or s.id for s in self.desk.shots() if s.id in net.shots and s.photograph}
        if not names:
            text("p", "None of the solved shots has its photograph in the dossier.", "ll-quiet")
            return
        with ui.element("div").classes("ll-row"):
            how = "outlined dense options-dense"
            plane = ui.select(planes, value=next(iter(planes)), label="Plane", with_input=True).props(how)
            plane.style("width:18rem")
            shot = ui.select(names, value=next(iter(names)), label="Photograph").props(how).style("width:14rem")
            three = [
                ui.select({p: words(p) for p in net.points}, label=f"Point {k}", with_input=True).props(how)
                for k in (1, 2, 3)
            ]
            for field in three:
                field.style("width:14rem").bind_visibility_from(plane, "value", lambda v: v == THREE)
            show = text("button", "Show it straight on", "ll-button").props("type=button")

        async def go() -> None:
            await self.show(plane.value, shot.value, [str(f.value) for f in three if f.value])

        show.on("click", go)

    async def show(self, plane: str, shot: str, three: list[str]) -> None:
        """Straighten in a thread and put the picture on the page."""
        from longlens.survey.straight_on import straighten

        solution = self.desk.solved().solution
        found = self.desk.dossier.find(Shot, shot)
        self.out.clear()
        if solution is None or found is None or found.photograph is None:
            return
        with self.out:
            text("p", "working …", "ll-quiet")
        try:
            at = _plane(solution, plane, three)
            pixels = await asyncio.to_thread(pictures.pixels, self.desk.dossier, found.photograph)
            self.view = await asyncio.to_thread(straighten, solution, shot, pixels, at)
            address, self.scale = await asyncio.to_thread(_encoded, self.view.picture)
        except Exception as error:
            self.out.clear()
            with self.out:
                refuse(error)
            return
        self.ends = []
        self.out.clear()
        with self.out:
            self._picture(address, found)

    def _picture(self, address: str, shot: Shot) -> None:
        view = self.view
        assert view is not None
        h, w = view.picture.shape[:2]
        text(
            "p",
            f"One pixel is {view.mm_per_px:.2f} mm; the scale is known to {100 * 1.96 * view.scale_sd:.2g} % (95 %). The whole "
            f"picture is {w * view.mm_per_px:.0f} by {h * view.mm_per_px:.0f} mm.",
        )
        if view.enlarged > 2:
            text(
                "p",
                f"The photograph is enlarged {view.enlarged:.1f} times here: fine detail is not to be had from it.",
                "ll-quiet",
            )
        self.told = text("p", "Click where the length begins.").props('role="status"')
        self.image = ui.interactive_image(address, on_mouse=self._clicked, events=["click"], cross="#ffffff80")
        self.image.style(f"width:min(100%,calc(72vh*{w / h:.3f}))").props["alt"] = (
            f"{view.plane.name} seen straight on, from {shot.name or shot.id}"
        )
        text("p", f"Photograph: {shot.credit}" if shot.credit else "credit missing", "ll-credit")
        with ui.element("details"):
            text("summary", "Give the ends by figures (mm from the middle, right and up)")
            with ui.element("div").classes("ll-row"):
                fields = [ui.number(said, value=0.0, format="%.1f").props("dense outlined").style("width:9rem")
                          for said in ("begins right", "begins up", "ends right", "ends up")]  # fmt: skip
                b = text("button", "Measure", "ll-button").props("type=button")
                b.on("click", lambda: self._by_figures([float(f.value or 0) for f in fields]))

    def _by_figures(self, mm: list[float]) -> None:
        view = self.view
        if view is None:
            return
        h, w = view.picture.shape[:2]
        k = view.mm_per_px
        self.ends = [((w - 1) / 2 + mm[i] / k, (h - 1) / 2 - mm[i + 1] / k) for i in (0, 2)]
        self._measure()

    def _clicked(self, event: Any) -> None:
        if len(self.ends) >= 2:
            self.ends = []
        self.ends.append((event.image_x / self.scale, event.image_y / self.scale))
        self._measure()

    def _measure(self) -> None:
        view = self.view
        if view is None:
            return
        self.image.set_content(self._drawn())
        if len(self.ends) < 2:
            self.told.set_text("Click where it ends.")
            return
        best, draws = view.length(self.ends[0], self.ends[1], sd_px=POINTED)
        low, high = np.percentile(draws, [2.5, 97.5])
        said = display.format_interval(best, min(low, best), max(high, best), "m")
        self.told.set_text(
            f"{said}, in the plane; pointed at within {POINTED:g} pixels of this picture. Click to begin another."
        )

    def _drawn(self) -> str:
        (x, y), k = (self.ends[0][0] * self.scale, self.ends[0][1] * self.scale), self.scale
        mark = '<circle cx="{:.1f}" cy="{:.1f}" r="5" fill="none" stroke="#fff" stroke-width="2"/>'
        out = mark.format(x, y)
        if len(self.ends) > 1:
            u, v = self.ends[1][0] * k, self.ends[1][1] * k
            line = f'x1="{x:.1f}" y1="{y:.1f}" x2="{u:.1f}" y2="{v:.1f}"'
            for ink in ('stroke="#000" stroke-opacity=".6" stroke-width="5"', 'stroke="#fff" stroke-width="2"'):
                out += f"<line {line} {ink}/>"
            out += mark.format(u, v)
        return out


def _plane(solution: Solution, plane: str, three: list[str]) -> Plane:
    from longlens.survey.straight_on import centre_plane, plane_of_circle, plane_through

    if plane == CENTRE:
        return centre_plane(solution)
    if plane == THREE:
        if len(three) < 3:
            raise UnusableInput("a plane needs three points", fix="choose three points that lie on it")
        return plane_through(solution, three)
    return plane_of_circle(solution, plane.partition(":")[2])


def _encoded(picture: np.ndarray) -> tuple[str, float]:
    """(data address, scale) of a picture as a JPEG that is no larger than it needs to be."""
    import cv2

    h, w = picture.shape[:2]
    scale = min(1.0, SHOWN / max(h, w))
    small = cv2.resize(picture, (max(1, round(w * scale)), max(1, round(h * scale))), interpolation=cv2.INTER_AREA)
    bgr = cv2.cvtColor(small, cv2.COLOR_RGB2BGR) if small.ndim == 3 else small
    _, data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return "data:image/jpeg;base64," + base64.b64encode(data.tobytes()).decode(), small.shape[1] / w


def build(desk: Desk) -> None:
    """Fill the page."""
    Straight(desk).build()


PAGE = Page(
    "/straight", "Straight on", build, key="o", order=205, listed=False,
    about="A wheel, a core's face or any plane seen straight on",
)  # fmt: skip
