"""The photo board: one photograph large, marks on it, and beside it what hangs on what is chosen."""

from __future__ import annotations

import asyncio
import re
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import numpy as np
from nicegui import ui

from longlens.dossier.records import Mark, Point, Shot
from longlens.errors import UnusableInput
from longlens.publish.names import words
from longlens.studio import frame, pictures
from longlens.studio.board import edits, names, payload
from longlens.studio.board.element import PhotoBoard
from longlens.studio.board.guide import guides
from longlens.studio.board.keys import KEYS
from longlens.studio.board.proposing import Wanted, proposals
from longlens.studio.board.side import fill_side
from longlens.studio.board.snap import snap, snap_rim
from longlens.studio.desk import Change
from longlens.studio.elements import picture_address
from longlens.studio.frame import command, key_help, say, text, watch
from longlens.studio.own_parts import show_own_parts
from longlens.studio.pages import Page
from longlens.survey.provisional import Provisional

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.survey.answer import Solution


class Board:
    """One open board: which photograph it shows and what is chosen on it."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.shot: str | None = None
        self.chosen: list[str] = []
        self.point: str | None = None  # stays chosen from photograph to photograph
        self.suspect = -1
        self._shown_counts: dict[str, int] = {}
        asked = ui.context.client.request.query_params
        self._first = dict(asked)
        with ui.element("div").classes("ll-desk"):
            self.element = PhotoBoard(self.intent, self.ready, frame.VERSION)
            self.side = ui.element("aside").classes("ll-side").props('aria-label="What is chosen" tabindex=0')
            self.strip = ui.element("div").classes("ll-strip").props('role="group" aria-label="Photographs"')
        self.choice: Any = None  # the upper part of the panel, and the key of what it shows
        self.numbers: Any = None
        self.choice_key: str | None = None
        self.shot = self._shot_asked()
        self.fill_strip()
        self.fill_side()
        watch(desk, self.heard)

    # Showing ----------------------------------------------------------------------------------------------

    def ready(self) -> None:
        """The element is there (again, after a broken connection): show it everything."""
        shot = self._record()
        mark = self._first.pop("mark", None)
        point = self._first.pop("point", None)
        self.element.show(photo=payload.photo_of(shot) if shot else None, names=names.of_dossier(self.desk))
        self.element.show(vocabulary=f"/vocabulary.json?{self.desk.dossier.revision}")
        self.show_marks()
        found = [m for m in self.desk.marks() if m.shot == self.shot and (m.id == mark or (point and m.point == point))]
        if found:
            self.go_to(found[0])
        else:
            self.show_guides()

    def show_shot(self, shot: str) -> None:
        self.shot = shot
        record = self._record()
        if record is None:
            return
        self.chosen = [m.id for m in self.desk.marks() if m.shot == shot and self.point and m.point == self.point]
        self.element.show(photo=payload.photo_of(record), marks=payload.marks_of(self.desk, shot), selected=self.chosen)
        self.show_guides()
        self.fill_strip()
        self.fill_side()
        ui.run_javascript(f"history.replaceState(null, '', '/board?shot={quote(shot, safe='')}')")

    def show_marks(self, **more: Any) -> None:
        if self.shot is not None:
            self.element.show(marks=payload.marks_of(self.desk, self.shot), selected=self.chosen, **more)

    def show_guides(self) -> None:
        """Where the chosen point and its twin must lie here."""
        solution = self.desk.solved().solution
        if solution is None or self.point is None or self.shot is None:
            self.element.show(guides=[])
            return
        twin = edits.twin_of(self.point)
        marks = [m for m in self.desk.marks() if m.form == "point" and not m.set_aside]
        here = {m.point for m in marks if m.shot == self.shot}
        places = {p: self.desk.provisional(p) for p in (self.point, twin) if p}
        found = {p: x for p, x in places.items() if isinstance(x, Provisional)}
        drawn = guides(solution, self.shot, self.point, twin, marks, words, found)
        if self.point in here:  # its own mark is there: only its twin's place is news
            drawn = [g for g in drawn if g["twin"]]
        self.element.show(guides=drawn)

    def fill_strip(self) -> None:
        self.strip.clear()
        counts = self._shown_counts = self._counts()
        with self.strip:
            for shot in self.desk.shots():
                here = shot.id == self.shot
                button = ui.element("button").classes("ll-on" if here else "").props("type=button")
                button.props["aria-pressed"] = str(here).lower()
                button.props["aria-label"] = f"{shot.name or shot.id}, {counts.get(shot.id, 0)} marks"
                button.on("click", lambda id=shot.id: self.show_shot(id))
                with button:
                    picture = picture_address(shot, 320)
                    image = f'<img src="{picture}" alt="" loading="lazy">' if picture else ""
                    ui.html(image, sanitize=False)
                    with ui.element("span"):
                        text("b", shot.name or shot.id)
                        text("i", str(counts.get(shot.id, 0))).style("font-style:normal")

    def fill_side(self) -> None:
        with self.side:
            frame.guarded(fill_side, self)

    def heard(self, change: Change) -> None:
        """Something changed, here or elsewhere."""
        if change.stage or "shot" in change.kinds or "everything" in change.kinds:
            shots = [s.id for s in self.desk.shots()]
            if self.shot not in shots:
                self.shot = shots[0] if shots else None
                record = self._record()
                self.element.show(photo=payload.photo_of(record) if record else None)
        counts = self._counts()
        other = counts != self._shown_counts
        if change.kinds & {"point", "circle", "everything"} or other:
            self.element.show(names=names.of_dossier(self.desk))
        if "part" in change.kinds:
            self.element.show(vocabulary=f"/vocabulary.json?{self.desk.dossier.revision}")
        if change.kinds or change.stage or self._solved_news(change):
            self.show_marks()
            if not change.quick:  # what the survey says follows in a moment
                self.show_guides()
                self.fill_side()
        if other or change.kinds & {"shot", "stage", "everything"} or change.stage:
            self.fill_strip()

    def _counts(self) -> dict[str, int]:
        counts: dict[str, int] = {}
        for m in self.desk.marks():
            counts[m.shot] = counts.get(m.shot, 0) + 1
        return counts

    def _solved_news(self, change: Change) -> bool:
        """True when an answer came, not merely progress."""
        if not change.solution:
            return False
        solved = self.desk.solved()
        news = (solved.key, id(solved.answer), solved.current, solved.state == "solving" and solved.answer is None)
        was, self._news = getattr(self, "_news", None), news
        return news != was

    # What the person does ---------------------------------------------------------------------------------

    def intent(self, what: dict[str, Any]) -> Any:
        """One thing done on the board."""
        do = getattr(self, f"do_{str(what.get('do', '')).replace(' ', '_')}", None)
        return do(what) if do is not None else None

    def do_select(self, what: dict[str, Any]) -> None:
        self.choose([str(i) for i in what.get("ids") or []], tell=False)

    def do_place(self, what: dict[str, Any]) -> None:
        shot = self._need_shot()
        name = edits.plain_id(str(what["name"]))
        with self.desk.batch(f"mark {words(name)} on {shot}") as dossier:
            made = edits.place(
                dossier,
                shot,
                str(what["form"]),
                name,
                [(float(x), float(y)) for x, y in what["path"]],
                certainty=str(what.get("certainty", "seen")),
                width=what.get("width"),
                describe=names.describe(self.desk),
            )
        self.choose([made.id])
        twin = edits.twin_of(made.point) if made.point else None
        here = {m.point for m in self.desk.marks() if m.shot == shot}
        if twin and twin not in here:
            self.element.show(offer={"id": twin, "name": words(twin)})
        self.element.show(done=made.id)

    def do_move(self, what: dict[str, Any]) -> None:
        marks = self._marks(what)
        with self.desk.batch(edits.label("move", marks)) as dossier:
            edits.move(dossier, [m.id for m in marks], float(what["dx"]), float(what["dy"]), what.get("vertex"))

    def do_remove(self, what: dict[str, Any]) -> None:
        marks = self._marks(what)
        with self.desk.batch(edits.label("remove", marks)) as dossier:
            edits.remove(dossier, [m.id for m in marks], what.get("vertex"))

    def do_certainty(self, what: dict[str, Any]) -> None:
        marks = self._marks(what)
        with self.desk.batch(edits.label(f"{what['value']}:", marks)) as dossier:
            edits.change_marks(dossier, [m.id for m in marks], certainty=what["value"])

    def do_aside(self, what: dict[str, Any]) -> None:
        marks = self._marks(what)
        if marks:
            with self.desk.batch(edits.label("set aside or take back", marks)) as dossier:
                aside = edits.set_aside(dossier, [m.id for m in marks])
            say("set aside: kept, but not given to the survey" if aside else "given back to the survey")

    def do_shot(self, what: dict[str, Any]) -> None:
        shots = [s.id for s in self.desk.shots()]
        if shots:
            at = shots.index(self.shot) if self.shot in shots else 0
            self.show_shot(shots[(at + int(what.get("value") or 1)) % len(shots)])

    def do_twin(self, what: dict[str, Any]) -> None:
        twin = edits.twin_of(self.point) if self.point else None
        if twin is None:
            self.element.show(say="choose one point of a side first")
            return
        self.element.show(offer={"id": twin, "name": words(twin)})

    def do_worst(self, what: dict[str, Any]) -> None:
        suspects = self.suspects()
        if not suspects:
            self.element.show(say="no suspect marks")
            return
        self.suspect = (self.suspect + 1) % len(suspects)
        self.go_to(suspects[self.suspect][0])

    async def do_snap(self, what: dict[str, Any]) -> None:
        marks = [m for m in self._marks(what) if m.form in ("point", "rim")]
        shot = self._record()
        if not marks or shot is None or shot.photograph is None:
            self.element.show(say="choose a point or a rim first")
            return
        photograph = shot.photograph
        picture = await asyncio.to_thread(pictures.pixels, self.desk.dossier, photograph)
        places, told = [], []
        for mark in marks:
            if mark.form == "rim":
                places.append((mark.id, snap_rim(picture, np.asarray(mark.edge))))
                told.append("rim moved to its edge")
                continue
            got = snap(picture, mark.x or 0.0, mark.y or 0.0)
            if got.what != "nothing":
                places.append((mark.id, [(got.x, got.y)]))
            told.append(f"{got.what}, {got.moved:.1f} px away" if got.what != "nothing" else "nothing to snap to here")
        if places:
            with self.desk.batch(edits.label("snap", marks)) as dossier:
                edits.put_at(dossier, places)
        self.element.show(say=told[0] if len(told) == 1 else f"{len(places)} of {len(marks)} snapped")

    async def do_propose(self, what: dict[str, Any]) -> None:
        """The chosen point and its twin when they are not marked here, else all that must be in the picture."""
        solution, shot = self.desk.solved().solution, self._record()
        if solution is None or shot is None:
            self.element.show(proposals=[], none="the survey is not solved yet")
            return
        here = {m.point for m in self.desk.marks() if m.shot == shot.id}
        chosen = [p for p in (self.point, edits.twin_of(self.point) if self.point else None) if p and p not in here]
        if not chosen or self.point in here:
            every = self.desk.records.all(Point)
            chosen = [p.id for p in every if p.id not in here and p.stance in (None, shot.stance)]
        await self._propose(solution, shot, chosen, "nothing more can be proposed here")

    async def _propose(self, solution: Solution, shot: Shot, points: list[str], none: str) -> None:
        self.element.show(say="looking at the photographs …")
        wanted = [self._wanted(p, shot.id, solution) for p in points]
        shots = {s.id: s for s in self.desk.shots()}
        found = await asyncio.to_thread(proposals, self.desk.dossier, solution, shot, wanted, shots)
        if self.shot == shot.id:
            self.element.show(proposals=found, none=none)

    def _wanted(self, point: str, here: str, solution: Solution) -> Wanted:
        """With the mark that shows best what the point looks like: seen, on a solved photograph; else its twin's."""
        for name, mirrored in ((point, False), (edits.twin_of(point), True)):
            for m in self.desk.marks():
                on_solved = m.shot in solution.net.shots and (mirrored or m.shot != here)
                if name and m.point == name and on_solved and m.certainty == "seen" and not m.set_aside:
                    return Wanted(point, m, mirrored)
        return Wanted(point, None)

    async def do_copy(self, what: dict[str, Any]) -> None:
        """The chosen points proposed on the next photograph: where the survey says, else at the same place in the frame."""
        marks = [m for m in self._marks(what) if m.form == "point" and m.point]
        shots = self.desk.shots()
        at = next((i for i, s in enumerate(shots) if s.id == self.shot), None)
        if not marks or at is None or len(shots) < 2:
            self.element.show(say="choose points first")
            return
        here, there = shots[at], shots[(at + 1) % len(shots)]
        standing = {m.point for m in self.desk.marks() if m.shot == there.id}
        wanted = [m for m in marks if m.point not in standing]
        self.show_shot(there.id)
        solution = self.desk.solved().solution
        if solution is not None and there.id in solution.net.shots:
            await self._propose(
                solution, there, [str(m.point) for m in wanted], "none of these must be in this picture"
            )
            return
        kx, ky = there.width / here.width, there.height / here.height
        drawn = [
            {"id": m.point, "name": words(str(m.point)), "x": (m.x or 0) * kx, "y": (m.y or 0) * ky} for m in wanted
        ]
        self.element.show(proposals=drawn, none="all of these are marked here already")

    def do_confirm(self, what: dict[str, Any]) -> None:
        shot = self._need_shot()
        confirmed = what.get("marks") or []
        label = (
            f"mark {words(str(confirmed[0]['id']))}" if len(confirmed) == 1 else f"confirm {len(confirmed)} proposals"
        )
        with self.desk.batch(f"{label} on {shot}") as dossier:
            for p in confirmed:
                edits.place(
                    dossier,
                    shot,
                    "point",
                    str(p["id"]),
                    [(float(p["x"]), float(p["y"]))],
                    certainty=str(what.get("certainty", "seen")),
                    describe=names.describe(self.desk),
                )

    def do_own_parts(self, what: dict[str, Any]) -> None:
        """Parts of the user's own; what was typed while naming begins a new one."""
        typed = re.sub(r"^(left|right|lf|rf|lr|rr)\s+((front|rear)\s+)?", "", str(what.get("words") or ""))
        show_own_parts(self.desk, typed, lambda term: self.element.show(called=term))

    # Helpers ----------------------------------------------------------------------------------------------

    def choose(self, ids: list[str], *, tell: bool = True) -> None:
        self.chosen = ids
        found = self.chosen_marks()
        if len(found) == 1:
            self.point = found[0].point
        elif not found:
            self.point = None
        if tell:
            self.element.show(selected=ids)
        self.show_guides()
        self.fill_side()

    def chosen_marks(self) -> list[Mark]:
        by_id = {m.id: m for m in self.desk.marks()}
        return [by_id[i] for i in self.chosen if i in by_id]

    def go_to(self, mark: Mark) -> None:
        """Show a mark on its photograph, chosen."""
        if mark.shot != self.shot:
            shot = self.desk.dossier.get(Shot, mark.shot)
            if shot.stage != self.desk.stage:
                self.desk.stage = shot.stage
            self.show_shot(mark.shot)
        at = [mark.x, mark.y] if mark.form == "point" else list((mark.edge or mark.path or [(0.0, 0.0)])[0])
        self.choose([mark.id])
        self.element.show(go=[*at, 1.0])

    def suspects(self) -> list[tuple[Mark, float]]:
        """Suspect marks of the stage with their test values, worst first."""
        found = (self.desk.solved().answer or {}).get("suspect_marks") or []
        marks = {(m.shot, m.point or m.circle): m for m in self.desk.marks() if not m.set_aside}
        rows = [(marks.get((s["shot"], s.get("point") or s.get("circle"))), float(s["test"])) for s in found]
        return sorted(((m, t) for m, t in rows if m is not None), key=lambda r: -r[1])

    def _marks(self, what: dict[str, Any]) -> list[Mark]:
        wanted = {str(i) for i in what.get("ids") or []}
        return [m for m in self.desk.marks() if m.id in wanted]

    def _need_shot(self) -> str:
        if self.shot is None:
            raise UnusableInput("no photograph is on the board", fix="bring one in on the page Shots")
        return self.shot

    def _record(self) -> Shot | None:
        return self.desk.dossier.find(Shot, self.shot) if self.shot else None

    def _shot_asked(self) -> str | None:
        """The shot of the address: by itself, by a mark on it, or by a point marked on it."""
        wanted = self._first.get("shot")
        for m in self.desk.marks():
            if m.id == self._first.get("mark") or (m.point and m.point == self._first.get("point")):
                wanted = m.shot
                break
        found = self.desk.dossier.find(Shot, wanted) if wanted else None
        if found is not None:
            if found.stage != self.desk.stage:
                self.desk.stage = found.stage
            return found.id
        shots = self.desk.shots()
        return shots[0].id if shots else None


def build(desk: Desk) -> None:
    told: dict[str, str] = {}
    for key in KEYS:
        told.setdefault(key["keys"], key["what"])
    board = Board(desk)
    about = "A name, its system and what it is; offered at once when something is named"
    command("Parts of your own", lambda: board.do_own_parts({}), "shift+a", about)
    for keys, what in told.items():
        key_help(keys, what)


PAGE = Page("/board", "Board", build, key="b", order=100, about="Mark photographs", wide=True)
