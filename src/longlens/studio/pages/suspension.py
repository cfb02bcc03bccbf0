"""The suspension page: a linkage that moves, in a view of its own and on the photograph; curves, loads, answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui

from longlens.dossier.records import Shot
from longlens.errors import LonglensError
from longlens.numbers import units
from longlens.studio import elements as el
from longlens.studio import linkage_view as lv
from longlens.studio import sheet_parts as parts
from longlens.studio.frame import key_help, text
from longlens.studio.pages import Page
from longlens.systems.suspension.drawing import Segment, models, segments

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.systems.run import Outcome

SYSTEM = "suspension"
ENDS = ("front", "rear")
#: Slider: (key, words, least and most from the outcome's axes, step, unit).
SLIDERS = (
    ("travel", "wheels up and down", "mm", 0.5),
    ("roll", "roll", "deg", 0.1),
    ("rack", "steering rack", "mm", 0.5),
)
PLAIN = (
    "spring_per_wheel", "wheel_per_spring", "rocker_per_wheel", "bar_per_wheel", "heave_per_wheel", "damper_per_wheel",
    "camber_gain", "bump_steer", "roll_centre", "caster", "kingpin_inclination", "scrub_radius", "mechanical_trail",
    "anti_braking", "anti_driving", "wheel_rate", "ride_frequency", "hop_frequency", "spring_roll", "bar_roll",
)  # fmt: skip
#: Charts: (output, axis, unit, words, what the chart says).
CURVES = (
    ("camber_curve", "travel", "deg", "camber", "camber over wheel travel"),
    ("toe_curve", "travel", "deg", "toe of one wheel, in positive", "toe over wheel travel"),
    ("roll_centre_curve", "travel", "mm", "roll centre over the road", "height of the roll centre over wheel travel"),
    ("spring_ratio_curve", "travel", "", "spring travel per wheel travel", "motion ratio over wheel travel"),
    ("wheel_rate_curve", "travel", "N/mm", "rate at the wheel", "wheel rate over wheel travel"),
    ("track_curve", "travel", "mm", "change of track", "change of track over wheel travel"),
    ("roll_camber_curve", "roll_angle", "deg", "camber of the outer wheel", "camber against the road in roll"),
    ("ackermann_curve", "rack", "deg", "Ackermann error", "Ackermann error over rack travel"),
)


#: Under the air's load; each axle over the speeds up to which it is off its stops.
PRESSED = (
    ("speed_travel", "mm", "wheel travel", "wheel travel by the air's load over speed"),
    ("speed_ride_height", "mm", "ground clearance", "ground clearance over speed"),
    ("speed_camber", "deg", "camber", "camber under the air's load over speed"),
    ("speed_wheel_rate", "N/mm", "rate at the wheel", "wheel rate under the air's load over speed"),
)


def build(desk: Desk) -> None:
    """Fill the page."""
    key_help("← → on a slider", "move the linkage in small steps")
    parts.sheet_page(desk, "suspension", lambda outcomes: _filled(desk, outcomes))


def _filled(desk: Desk, outcomes: parts.Outcomes) -> None:
    first = outcomes[""]
    axles = models(first.inner)
    if axles:
        Moving(desk, first, axles).build()
    else:
        text("p", "Mark an axle's hardpoints, and the linkage moves here. What is missing stands below.", "ll-quiet")
    parts.sentences(first)
    if any(f"{name}_{end}" in first.numbers for name, *_ in CURVES for end in ENDS):
        text("h2", "Over travel, roll and steer")
        with ui.element("div").classes("ll-two"):
            for name, axis, unit, title, says in CURVES:
                _chart(outcomes, name, axis, unit, title, says)
    _at_speed(outcomes)
    _loads(desk, first)
    _numbers(desk, outcomes)
    parts.below(desk, first)


# The linkage that moves -------------------------------------------------------------------------------------


@dataclass
class Moving:
    """Sliders, the turning view and the photograph, which follow each other."""

    desk: Desk
    outcome: Outcome
    axles: Mapping[str, Any]
    end: str = ""
    at: dict[str, float] = field(default_factory=lambda: {"travel": 0.0, "roll": 0.0, "rack": 0.0})
    look: tuple[float, float] = lv.VIEWS["three-quarter"]
    case: int | None = None
    shot: str = ""
    bars: dict[str, tuple[Any, ...]] = field(default_factory=dict)

    def build(self) -> None:
        """Put the parts on the page."""
        self.end = next(iter(self.axles))
        text("h2", "The linkage")
        with ui.element("div").classes("ll-row"):
            self._choices("axle", list(self.axles), lambda: self.end, self._axle)
            self._choices("look", list(lv.VIEWS), lambda: "", self._turn_to)
            self._case_choice()
            self._shot_choice()
        with ui.element("div").classes("ll-row").style("margin:.6rem 0"):
            for key, words, unit, step in SLIDERS:
                self._slider(key, words, unit, step)
            button = text("button", "standing", "ll-button").props("type=button")
            button.props["aria-label"] = "back to the car as it stands"
            button.on("click", self._stand)
        self.told = text("p", "").props("role=status aria-live=polite")
        with ui.element("div").style(
            "display:grid;grid-template-columns:repeat(auto-fit,minmax(min(34rem,100%),1fr));gap:0 1.4rem;align-items:start"
        ):
            self._view()
            with ui.element("div"):
                self._photograph()
        self.draw()

    def _choices(self, what: str, words: Sequence[str], now: Callable[[], str], do: Callable[[str], None]) -> None:
        with ui.element("div").classes("ll-row").props("role=group").style("gap:.3rem") as group:
            group.props["aria-label"] = what
            made = {}
            for word in words:
                made[word] = text("button", word, "ll-plain").props("type=button")

            def press(word: str) -> None:
                do(word)
                show()

            def show() -> None:
                for word, button in made.items():
                    chosen = word == now()
                    button.props["aria-pressed"] = "true" if chosen else "false"
                    button.classes(add="ll-on" if chosen else "", remove="" if chosen else "ll-on")
                    button.update()

            for word, button in made.items():
                button.on("click", lambda word=word: press(word))
            if now():
                show()

    def _case_choice(self) -> None:
        cases = [str(c) for c in self.outcome.axes.get("case", ())]
        if not any(f"rod_force_{end}" in self.outcome.numbers for end in self.axles) or not cases:
            return
        choice = ui.select(
            {-1: "no loads", **dict(enumerate(cases))}, value=-1, label="loads of the left, outer rods in",
            on_change=lambda event: self._load(int(event.value)),
        )  # fmt: skip
        choice.props('outlined dense dark aria-label="load case"').style("min-width:17rem")

    def _slider(self, key: str, words: str, unit: str, step: float) -> None:
        axis = {"travel": "travel", "roll": "roll_angle", "rack": "rack"}[key]
        values = units.from_si(np.asarray(self.outcome.axes[axis], float), unit)
        low, high = float(np.min(values)), float(np.max(values))
        with ui.element("label").style("display:grid;gap:.1rem;min-width:15rem;flex:1"):
            told = text("span", f"{words}: 0 {'°' if unit == 'deg' else unit}", "ll-quiet")
            bar = ui.element("input").props(f"type=range min={low:g} max={high:g} step={step:g}")
            bar.style("width:100%;accent-color:#56B4E9")

        def moved(event: Any) -> None:
            value = min(max(float(event.args), low), high)
            shown = (
                f"{value:+g}{'°' if unit == 'deg' else ' ' + unit}" if value else f"0 {'°' if unit == 'deg' else unit}"
            )
            told.set_text(f"{words}: {shown}")
            self.at[key] = float(units.to_si(value, unit))
            self.draw()

        bar.on("input", moved, js_handler="(e) => emit(e.target.value)", throttle=0.06)
        self.bars[key] = (bar, told, words, unit)
        _put(bar, 0.0)  # by script: a bound value would be set back whenever the page is drawn anew

    def _stand(self) -> None:
        for key, (bar, told, words, unit) in self.bars.items():
            self.at[key] = 0.0
            _put(bar, 0.0)
            told.set_text(f"{words}: 0 {'°' if unit == 'deg' else unit}")
        self.draw()

    def _view(self) -> None:
        box = ui.element("figure").classes("ll-plate").style("cursor:grab;touch-action:none;user-select:none")
        box.props('tabindex=0 role=img aria-label="The linkage from any side; the arrow keys turn it"')
        with box:
            self.own = ui.html("", sanitize=False).style(f"position:relative;aspect-ratio:{lv.WIDE:g}/{lv.HIGH:g}")
            text(
                "figcaption",
                "Drag to turn. Solid: seen; dotted: rests on an assumed joint; grid 0.2 m; the arrow points ahead.",
            )
        began: list[Any] = [None]

        def down(event: Any) -> None:
            began[0] = (*event.args, *self.look)

        def drag(event: Any) -> None:
            if began[0] is not None:
                x, y, a, e = began[0]
                self.look = (a - 0.4 * (event.args[0] - x), float(np.clip(e + 0.4 * (event.args[1] - y), -10, 90)))
                self.draw(photograph=False)

        steps = {"ArrowLeft": (6, 0), "ArrowRight": (-6, 0), "ArrowUp": (0, 6), "ArrowDown": (0, -6)}

        def key(event: Any) -> None:
            a, e = steps[event.args]
            self.look = (self.look[0] + a, float(np.clip(self.look[1] + e, -10, 90)))
            self.draw(photograph=False)

        box.on("pointerdown", down, js_handler="(e) => emit([e.clientX, e.clientY])")
        box.on(
            "pointermove", drag, js_handler="(e) => { if (e.buttons & 1) emit([e.clientX, e.clientY]) }", throttle=0.05
        )
        arrows = "(e) => { if (e.key.startsWith('Arrow')) { e.preventDefault(); emit(e.key) } }"
        box.on("keydown", key, js_handler=arrows)
        key_help("arrows on the view", "turn the linkage")

    def _shots(self) -> list[str]:
        """Solved photographs, those that show most of this axle first."""
        shapes = [el.Shape(xyz=s.points, system=SYSTEM) for s in self._segments(0.0, 0.0, 0.0)]
        return parts._solved_shots(self.desk, shapes)

    def _shot_choice(self) -> None:
        shots = self._shots()
        self.shot = shots[0] if shots else ""
        if len(shots) > 1:
            self.choice = ui.select(
                shots, value=self.shot, label="photograph", on_change=lambda e: self._other(str(e.value))
            )
            self.choice.props('outlined dense dark aria-label="photograph"').style("min-width:15rem")

    def _photograph(self) -> None:
        self.over: Any = None
        if not self.shot:
            text("p", "Once the survey is solved, the linkage lies on the photographs here.", "ll-quiet")
            return
        self.plate = ui.element("div")
        self._fill_plate()

    def _fill_plate(self) -> None:
        found = self.desk.dossier.get(Shot, self.shot)
        self.plate.clear()
        with self.plate, ui.element("figure").classes("ll-plate"):
            with ui.element("div").style(f"position:relative;aspect-ratio:{found.width}/{found.height}"):
                alt = el.e(f"Photograph {found.name or found.id} with the linkage drawn on it")
                ui.html(f'<img src="{el.picture_address(found, 2400)}" alt="{alt}">', sanitize=False)
                self.over = ui.html("", sanitize=False).style("position:absolute;inset:0")
            credit = f"Photograph: {found.credit}" if found.credit else "credit missing"
            text("figcaption", f"The linkage in the photograph's perspective; faint: as the car stands · {credit}")

    def _other(self, shot: str) -> None:
        self.shot = shot
        self._fill_plate()
        self.draw()

    def _axle(self, end: str) -> None:
        self.end = end
        shots = self._shots() if self.shot else []
        if len(shots) > 1:
            self.choice.set_options(shots, value=shots[0])  # draws by itself where the photograph is another
        self.draw()

    def _turn_to(self, view: str) -> None:
        self.look = lv.VIEWS[view]
        self.draw(photograph=False)

    def _load(self, case: int) -> None:
        self.case = None if case < 0 else case
        self.draw()

    def _segments(self, travel: float, roll: float, rack: float) -> list[Segment]:
        return segments(
            self.axles[self.end], travel, end=self.end, roll=roll, rack=rack if self.end == "front" else 0.0
        )

    def draw(self, *, photograph: bool = True) -> None:
        """Draw everything where it is now."""
        still = self._segments(0.0, 0.0, 0.0)
        moved = any(self.at.values())
        now = self._segments(**self.at) if moved else still
        view = lv.view_of(still, *self.look)
        how: dict[str, Any] = {"inferred": self._inferred(), "labels": self._labels()}
        inside = (
            lv.ground(view, still) + (lv.drawn(still, view, faint=True) if moved else "") + lv.drawn(now, view, **how)
        )
        self.own.content = f'<svg viewBox="0 0 {lv.WIDE:g} {lv.HIGH:g}" aria-hidden="true">{inside}</svg>'
        self.told.set_text(self._words(now))
        if photograph and self.over is not None:
            self._draw_over(still, now, moved, how)

    def _draw_over(self, still: list[Segment], now: list[Segment], moved: bool, how: dict[str, Any]) -> None:
        found = self.desk.dossier.get(Shot, self.shot)
        size = max(found.width, found.height) / 45

        def onto(xyz: np.ndarray) -> np.ndarray:
            return el.project(self.desk, self.shot, xyz)

        try:
            inside = (lv.drawn(still, onto, faint=True) if moved else "") + lv.drawn(now, onto, **how, size=size)
        except LonglensError:
            inside = ""  # the survey has begun anew: the lines come back with its answer
        box = f"-0.5 -0.5 {found.width} {found.height}"
        self.over.content = f'<svg viewBox="{box}" aria-hidden="true">{inside}</svg>'

    def _inferred(self) -> set[str]:
        guessed = self.outcome.inner.get(f"assumed_{self.end}") or {}
        of = {p.partition(".")[0] for p in guessed} | (
            {"upright"} if any(p.endswith("outer") for p in guessed) else set()
        )
        return {f"{side}.{self.end}.{part}" for side in ("left", "right") for part in of}

    def _labels(self) -> dict[str, str]:
        """Forces beside the left rods; a wishbone tells those of both legs."""
        force = self.outcome.numbers.get(f"rod_force_{self.end}")
        if self.case is None or force is None:
            return {}
        told: dict[str, list[str]] = {}
        for k, rod in enumerate(self.outcome.axes[f"rod_{self.end}"]):
            value = float(force.at((k, self.case)).value)
            told.setdefault(str(rod).partition(".")[0], []).append(f"{value / 1e3:+.1f}".replace("-", "−"))
        return {f"left.{self.end}.{part}": " / ".join(v) + " kN" for part, v in told.items()}

    def _words(self, now: list[Segment]) -> str:
        """Where the wheels are, in numbers with their intervals, at the nearest position that was computed."""
        lost = [s for s in now if not np.any(np.isfinite(s.points))]
        if lost:
            return "The linkage of the middle car ends before this position."
        said = []
        for name, axis, key, words in (
            ("camber_curve", "travel", "travel", "camber"),
            ("toe_curve", "travel", "travel", "toe"),
            ("roll_centre_curve", "travel", "travel", "roll centre"),
            ("spring_ratio_curve", "travel", "travel", "spring per wheel"),
            ("roll_camber_curve", "roll_angle", "roll", "outer wheel against the road"),
            ("steer_curve", "rack", "rack", "left wheel steered"),
        ):
            number = self.outcome.numbers.get(f"{name}_{self.end}")
            if number is None or (key != "travel" and not self.at[key]):
                continue
            k = int(np.argmin(np.abs(np.asarray(self.outcome.axes[axis], float) - self.at[key])))
            said.append(f"{words} {str(number.at(k)).partition('; no value')[0]}")
        return f"{self.end} axle: " + " · ".join(said) if said else ""


def _put(bar: Any, value: float) -> None:
    """Set a slider's thumb."""
    ui.run_javascript(f"const bar = getHtmlElement({bar.id}); if (bar) bar.value = {value:g}")


# Charts, loads, numbers -------------------------------------------------------------------------------------


def _chart(outcomes: parts.Outcomes, name: str, axis: str, unit: str, title: str, says: str) -> None:
    there = [(f"{name}_{end}", end) for end in ENDS if f"{name}_{end}" in outcomes[""].numbers]
    if there:
        with ui.element("div"):
            ends = " and ".join(e for _, e in there)
            parts.curves(
                outcomes, there, axis, unit, title=title, system=SYSTEM, height="17rem", every=False,
                says=f"{says}, {ends} axle; bands are 95 % intervals",
            )  # fmt: skip


def _at_speed(outcomes: parts.Outcomes) -> None:
    """What the air's load does to each axle, where the aero sheet gives one."""
    ends = [e for e in ENDS if f"speed_travel_{e}" in outcomes[""].numbers]
    if not ends:
        return
    text("h2", "Pressed down by the air")
    with ui.element("div").classes("ll-two"):
        for name, unit, title, says in PRESSED:
            _chart(outcomes, name, f"air_speed_{ends[0]}", unit, title, says)


def _loads(desk: Desk, outcome: Outcome) -> None:
    """Forces of every rod in every case, and how much of their strength the known ones use."""
    for end in ENDS:
        force = outcome.numbers.get(f"rod_force_{end}")
        if force is None:
            continue
        text("h2", f"Loads on the rods, {end}")
        cases = [str(c) for c in outcome.axes["case"]]
        rods = [str(r) for r in outcome.axes[f"rod_{end}"]]
        rows: list[list[Any]] = [
            [parts.plain(rod), *(force.at((k, j)) for j in range(len(cases)))] for k, rod in enumerate(rods)
        ]
        el.table(
            desk, ("rod of the outer, left corner", *cases), rows, system=SYSTEM,
            caption="axial force, tension positive; the weight of the parts is left out",
        )  # fmt: skip
        use = outcome.numbers.get(f"rod_use_{end}")
        if use is not None:
            rods = [str(r) for r in outcome.axes[f"sized_rod_{end}"]]
            rows = [[parts.plain(rod), *(use.at((k, j)) for j in range(len(cases)))] for k, rod in enumerate(rods)]
            el.table(
                desk, ("rod", *cases), rows, system=SYSTEM,
                caption="share of its strength that each rod of known diameter uses: no proof that it is safe",
            )  # fmt: skip


def _numbers(desk: Desk, outcomes: parts.Outcomes) -> None:
    """Front beside rear."""
    first = outcomes[""]
    rows: list[list[Any]] = []
    for name in PLAIN:
        mine = [first.numbers.get(f"{name}_{end}") for end in ENDS]
        if any(n is not None for n in mine):
            meaning = first.sheet.output(f"{name}_front").meaning.removeprefix("front axle: ")
            rows.append([meaning, *mine])
    for name in ("roll_share_front", "roll_gradient"):
        if name in first.numbers:
            rows.append([first.sheet.output(name).meaning, first.numbers[name], None])
    if rows:
        text("h2", "Numbers")
        el.table(desk, ("at ride height", *ENDS), rows, caption="what the hardpoints make the car do", system=SYSTEM)


PAGE = Page(
    "/suspension", "Suspension", build, key="s", order=310,
    about="Move the wheels: linkage on the photograph, camber, roll centre, rates, loads on the rods",
)  # fmt: skip
