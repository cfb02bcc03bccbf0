"""The survey: what is determined and how well, cameras and points in space, what facts contribute, what would help most."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import numpy as np
from nicegui import ui

from longlens.dossier.records import Point, Shot
from longlens.numbers import display
from longlens.publish.names import SYSTEMS, counted, words
from longlens.studio import elements as el
from longlens.studio.frame import command, guarded, later, text, watch
from longlens.studio.look import name_of
from longlens.studio.pages import Page
from longlens.studio.space import REGION3, Scene, View

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.survey.answer import Solution
    from longlens.survey.linear import Linear
    from longlens.survey.planner import Advice, Plan

TIMES = {1: "true to size", 5: "5 times", 20: "20 times"}
VIEWS: tuple[tuple[View, str, str], ...] = (
    ("free", "From the front left", "1"), ("top", "From the top", "2"), ("side", "From the side", "3"),
    ("front", "From the front", "4"),
)  # fmt: skip
MOST_POINTS = 12


class Survey:
    """The page in one tab."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.times = 5
        self.asked = ""
        self.scene: Scene
        self._seen: Any = None
        self._linear: tuple[int, Linear] | None = None

    def build(self) -> None:
        self.state = ui.element("div")
        with ui.element("div").classes("ll-space"):
            with ui.element("section").props('aria-labelledby="space"'):
                text("h2", "In space").props("id=space").style("margin-top:.4rem")
                self._space()
            with ui.element("section").props('aria-labelledby="help"'):
                text("h2", "What would help most").props("id=help").style("margin-top:.4rem")
                self.help = ui.element("div")
        self.rest = ui.element("div")
        self.fill()
        watch(self.desk, self.heard)
        ui.timer(0.4, lambda: self.scene.look("free"), once=True)

    # What changes -----------------------------------------------------------------------------------------

    def heard(self) -> None:
        solved = self.desk.solved()
        seen = (self.desk.stage, id(solved.solution), solved.key, solved.state, self.desk.dossier.revision)
        if seen != self._seen:
            self.fill()

    def fill(self) -> None:
        solved = self.desk.solved()
        self._seen = (self.desk.stage, id(solved.solution), solved.key, solved.state, self.desk.dossier.revision)
        for box, make in ((self.state, self._state), (self.rest, self._rest), (self.help, self._help)):
            box.clear()
            with box:
                guarded(make)
        self._draw()

    def linear(self, solution: Solution) -> Linear:
        from longlens.survey.linear import Linear

        if self._linear is None or self._linear[0] != id(solution):
            self._linear = (id(solution), Linear(solution))
        return self._linear[1]

    # State ------------------------------------------------------------------------------------------------

    def _state(self) -> None:
        solved = self.desk.solved()
        answer = solved.answer
        if answer is None:
            text("p", solved.reason or "The survey has nothing to show yet: mark points on photographs.", "ll-quiet")
            if solved.needs:
                text("h2", "What it needs")
                with ui.element("ul"):
                    for need in solved.needs:
                        text("li", need)
            return
        told = [
            f"{counted(len(answer['shots']), 'photograph')} and {counted(len(answer['points']), 'point')} are placed",
            f"σ₀ {answer['sigma0']:.2f} at redundancy {answer['redundancy']} (near 1: the marks fit as well as they should)",
        ]
        if not solved.current:
            told.append("something was changed since")
        text("p", "; ".join(told) + ".")
        suspects = answer.get("suspect_marks") or []
        warnings = answer.get("warnings") or []
        if suspects or warnings:
            with ui.element("details"):
                text("summary", f"{counted(len(warnings), 'remark')} and {counted(len(suspects), 'suspect mark')}")
                with ui.element("ul").classes("ll-remarks"):
                    for s in suspects:
                        with ui.element("li"):
                            name = s.get("point") or s.get("circle") or ""
                            where = quote(s["shot"], safe="")
                            ui.link(f"{words(name)} on {s['shot']}", f"/board?shot={where}")
                            text("span", f" — test {s['test']:.1f}", "ll-quiet")
                    for w in warnings:
                        text("li", w)

    # Space ------------------------------------------------------------------------------------------------

    def _space(self) -> None:
        with ui.element("div").classes("ll-row").style("margin-bottom:.4rem"):
            with ui.element("div").classes("ll-row").props('role="group" aria-label="Look"').style("gap:.2rem"):
                for view, said, key in VIEWS:
                    b = text("button", said, "ll-plain").props("type=button")
                    b.on("click", lambda view=view: self.scene.look(view))
                    command(f"Survey in space: {said.lower()}", lambda view=view: self.scene.look(view), key)
            ui.select(
                TIMES, value=self.times, label="Ellipsoids drawn", on_change=lambda e: self._enlarge(e.value)
            ).props("outlined dense options-dense").style("width:10rem")
        with ui.element("div").classes("ll-scene").props('role="img"') as frame:
            frame.props["aria-label"] = (
                "The marked points of the car in space with their ellipsoids of uncertainty, and the cameras around it. "
                "The tables below tell the same in figures."
            )
            self.scene = Scene(self._chosen)
        self.under = text(
            "p", "Drag to turn, wheel to come nearer, right button to shift. Click a point or a camera.", "ll-quiet"
        )
        with ui.element("p"):
            ui.link("See a wheel, a core's face or another plane straight on, to measure on it", "/straight")
        with ui.element("ul").classes("ll-keys").props('aria-label="Colours"'):
            for system, (said, _colour) in SYSTEMS.items():
                text("li", said, f"s-{system or 'none'}")

    def _enlarge(self, times: int) -> None:
        self.times = times
        self._draw()

    def _draw(self) -> None:
        answer = self.desk.solved().answer or {}
        sizes = {s.id: (s.width, s.height) for s in self.desk.shots()}
        shots = {
            k: {**v, "size": sizes[k]} for k, v in (answer.get("shots") or {}).items() if k in sizes and "rotation" in v
        }
        systems: dict[str, str] = {p.id: p.system or "" for p in self.desk.dossier.all(Point)}
        points = self._covariances(answer)
        measures = self.desk.document().measures
        lines = [m.distance for m in measures if m.distance is not None and m.along is None]
        self.scene.show(points, shots, systems, float(self.times), lines=lines, circles=answer.get("circles"))

    def _covariances(self, answer: dict[str, Any]) -> dict[str, dict[str, Any]]:
        """Points with covariances; a quick answer has none, they come from its draws."""
        points = answer.get("points") or {}
        solution = self.desk.solved().solution
        if solution is None or all("cov_m2" in p for p in points.values()):
            return dict(points)
        places = solution.places()
        return {k: {**p, "cov_m2": np.cov(places[k][:400].T)} for k, p in points.items() if k in places}

    def _chosen(self, kind: str, name: str) -> None:
        answer = self.desk.solved().answer or {}
        if kind == "shot" and name in answer.get("shots", {}):
            camera = answer["shots"][name]
            self.under.set_text(f"{name}: {_focal(camera)}, residuals {camera['residual_rms_px']:.1f} px")
        elif kind == "point" and name in answer.get("points", {}):
            x, y, z = (f"{1000 * v:.0f}" for v in answer["points"][name]["xyz_m"])
            cov = self._covariances(answer)[name].get("cov_m2")
            half = 1000 * REGION3 * np.sqrt(max(np.linalg.eigvalsh(np.array(cov))[-1], 0.0)) if cov is not None else 0.0
            self.under.set_text(f"{words(name)}: x {x}, y {y}, z {z} mm; within {half:.1f} mm")

    # What would help --------------------------------------------------------------------------------------

    def _help(self) -> None:
        solution = self.desk.solved().solution
        if solution is None:
            text(
                "p",
                "As soon as the survey is solved in this session: which mark, fact or photograph narrows a number.",
                "ll-quiet",
            )
            return
        ids = [m.id for m in solution.net.document.measures]
        if not ids:
            text("p", "Ask for a measure on the board first.", "ll-quiet")
            return
        if self.asked not in ids:
            self.asked = _widest(solution)
        ui.select(
            {i: words(i) for i in ids}, value=self.asked, label="Which number", with_input=True,
            on_change=lambda e: self._ask(e.value),
        ).props("outlined dense options-dense").style("width:min(26rem,100%)")  # fmt: skip
        self.advice = ui.element("div")
        self._ask(self.asked)

    def _ask(self, measure: str | None) -> None:
        if not measure:
            return
        self.asked = measure
        self.scene.plan(None)
        self.advice.clear()
        with self.advice:
            later(lambda: self._advise(measure), "weighing marks, facts and positions …")

    async def _advise(self, measure: str) -> None:
        from longlens.survey.planner import plan

        solution = self.desk.solved().solution
        if solution is None:
            return
        lin = self.linear(solution)
        found = await asyncio.to_thread(plan, solution, measure, linear=lin, most=3)
        if measure == self.asked:
            self._told(found)

    def _told(self, found: Plan) -> None:
        if found.needs:
            text("p", f"{words(found.number)} is not determined. It needs:")
            with ui.element("ul"):
                for need in found.needs:
                    text("li", need)
            return
        now = display.format_interval(found.value, found.low, found.high, found.unit)
        text("p", f"Now {now}").props("id=now")
        if not found.advice:
            text("p", "Nothing that was tried would narrow it by a hundredth.", "ll-quiet")
            return
        span = _span(found)
        best = found.best("camera")
        with ui.element("ol").classes("ll-advice"):
            for a in found.advice:
                with ui.element("li"):
                    self._one(a, found, span)
        if best is not None and best.pose is not None:
            self.scene.plan(best.pose, "planned photograph")
        text(
            "p", "First order; what can be seen from somewhere is judged by what earlier photographs show.", "ll-quiet"
        )

    def _one(self, a: Advice, found: Plan, span: tuple[float, float]) -> None:
        then = display.format_interval(found.value, a.low, a.high, found.unit)
        with ui.element("p").classes("ll-what"):
            text("span", a.kind if a.kind != "camera" else "photograph", "ll-kind")
            if a.kind == "mark":
                ui.link(a.words, f"/board?shot={quote(a.shot, safe='')}&point={quote(a.point, safe='')}")
            elif a.pose is not None:
                b = text("button", a.words, "ll-plain ll-left").props("type=button")
                b.props["aria-label"] = f"show in space: {a.words}"
                b.on("click", lambda: self._show_planned(a))
            else:
                text("span", a.words)
        with ui.element("p").classes("ll-then"):
            line = el.dimension_line((found.value, a.low, a.high), span=span, was=(found.value, found.low, found.high))
            ui.html(line, sanitize=False, tag="span")
            text("span", f"{100 * a.gain:.0f} % narrower: about {then}")

    def _show_planned(self, a: Advice) -> None:
        if a.pose is not None:
            self.scene.plan(a.pose, "planned photograph")
            self.scene.look_over(a.pose)
            self.under.set_text(a.words[:1].upper() + a.words[1:])

    # Tables -----------------------------------------------------------------------------------------------

    def _rest(self) -> None:
        solved = self.desk.solved()
        answer = solved.answer
        if answer is None:
            return
        self._cameras(answer)
        self._facts(solved.solution)
        self._points(answer)
        refused = solved.solution.refused if solved.solution is not None else {}
        if refused:
            text("h2", "Not determined")
            el.table(
                self.desk, ("number", "why", "what would help"),
                [(words(m), r.reason, "; ".join(r.needs)) for m, r in refused.items()],
                caption="Measures that the marks do not carry",
            )  # fmt: skip

    def _cameras(self, answer: dict[str, Any]) -> None:
        names = {s.id: s.name or s.id for s in self.desk.dossier.all(Shot)}
        rows = []
        for k, c in answer["shots"].items():
            sd = c.get("position_sd_m") or [0, 0, 0]
            place = ", ".join(
                display.format_interval(v, v - 1.96 * s, v + 1.96 * s, "m", shown="m")
                for v, s in zip(c["position_m"], sd, strict=True)
            )
            rows.append(
                (
                    _link(names.get(k, k), f"/board?shot={quote(k, safe='')}"),
                    _focal(c),
                    place,
                    f"{c['residual_rms_px']:.1f} px",
                )
            )
        text("h2", "Cameras")
        el.table(
            self.desk, ("photograph", "focal length", "place: x ahead, y left, z up", "residuals"), rows,
            caption="Where the photographs were taken from", right=(3,),
        )  # fmt: skip

    def _facts(self, solution: Solution | None) -> None:
        if solution is None or not solution.net.document.facts:
            return
        text("h2", "What the facts contribute")
        later(lambda: self._contributions(solution), "working out what hangs on each fact …")

    async def _contributions(self, solution: Solution) -> None:
        lin = self.linear(solution)
        parts = await asyncio.to_thread(contributions, lin)
        if solution is not self.desk.solved().solution:
            return
        aside = {s["fact"] for s in solution.suspect_facts}
        rows = []
        for f in solution.net.document.facts:
            mean, most, which = parts.get(f.id, (0.0, 0.0, ""))
            value = f"{f.value:g} ± {1.96 * f.sd:.2g} {f.unit}" if not isinstance(f.value, tuple) else "a place"
            used = "set aside: contradicts the pictures" if f.id in aside else "used"
            told = f"{100 * most:.0f} % of {words(which)}" if which and most > 0.005 else "under half a per cent of any"
            rows.append((words(f.id), value, used, f"{100 * mean:.1f} %", told, f.source or "no source"))
        el.table(
            self.desk, ("fact", "as given", "", "of all numbers", "most", "source"), rows, right=(3,),
            caption="Part of the numbers' variance that comes from each fact: where it is large, a better figure helps",
        )  # fmt: skip

    def _points(self, answer: dict[str, Any]) -> None:
        half = {
            k: REGION3 * float(np.sqrt(max(np.linalg.eigvalsh(np.array(p["cov_m2"]))[-1], 0.0)))
            for k, p in self._covariances(answer).items()
            if p.get("cov_m2") is not None
        }
        if not half:
            return
        systems = {p.id: p.system for p in self.desk.dossier.all(Point)}
        marks = [m.point for m in self.desk.marks() if m.form == "point" and not m.set_aside]
        worst = sorted(half, key=lambda k: -half[k])[:MOST_POINTS]
        sd = np.array(list(half.values()))
        text("h2", "Points")
        text(
            "p",
            f"Half of the {len(sd)} points lie within {1000 * np.median(sd):.1f} mm, nine in ten within "
            f"{1000 * np.percentile(sd, 90):.1f} mm (95 %). These are known worst:",
        )
        el.table(
            self.desk, ("point", "system", "marked on", "lies within"),
            [
                (_link(words(k), f"/board?point={quote(k, safe='')}"), name_of(systems.get(k)) if systems.get(k) else "",
                 counted(marks.count(k), "photograph") if marks.count(k) else "by its circle only", f"{1000 * half[k]:.1f} mm")
                for k in worst
            ],
            right=(3,), caption="Longest half axis of the 95 % ellipsoid",
        )  # fmt: skip


def contributions(lin: Linear) -> dict[str, tuple[float, float, str]]:
    """fact → (its mean part of all measures' variance, its largest part, of which measure)."""
    measures = list(lin.solution.values)
    lin.prepare(measures)
    out = {}
    for fact, rows in lin.facts().items():
        parts = [(lin.part(lin.measure(m), rows), m) for m in measures]
        if parts:
            out[fact] = (sum(p for p, _ in parts) / len(parts), *max(parts))
    return out


def _widest(solution: Solution) -> str:
    """The measure known worst for its size: where help is wanted most."""
    size = {m: float(np.std(d)) / max(abs(v), 1e-9) for m, (v, d) in solution.values.items()}
    return max(size, key=lambda m: size[m]) if size else next(iter(solution.refused))


def _span(found: Plan) -> tuple[float, float]:
    pad = 0.12 * (found.high - found.low)
    return found.low - pad, found.high + pad


def _focal(camera: dict[str, Any]) -> str:
    f, half = camera["focal_px"], 1.96 * camera["focal_sd_px"]
    return display.format_interval(f, f - half, f + half, "px", shown="px")


def _link(said: str, to: str) -> Any:
    return lambda: ui.link(said, to)


def build(desk: Desk) -> None:
    """Fill the page."""
    Survey(desk).build()


PAGE = Page(
    "/survey",
    "Survey",
    build,
    key="v",
    order=200,
    about="How well each thing is known, in space, and what would help most",
)
