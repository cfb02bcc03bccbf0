"""What lies on the desk: the open dossier, the stage looked at, the survey's answer, and who wants to hear of changes.

One :class:`Desk` serves every tab of one server. It lives on the server's event loop: its methods are called there, and
callbacks run there. The survey runs elsewhere (:mod:`longlens.studio.solver`), and so do quick answers
(:mod:`longlens.studio.quick`).
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from longlens.dossier.exchange import ExchangeDocument
from longlens.dossier.journal import Step
from longlens.dossier.kinds import Record, kind_of
from longlens.dossier.reading import Reader
from longlens.dossier.records import Mark, Shot, Stage, Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import document_hash, to_exchange
from longlens.errors import LonglensError, UnusableInput
from longlens.studio.quick import Asked, Found, Quick, quick_answer
from longlens.studio.solver import Message, Solver

if TYPE_CHECKING:
    from longlens.numbers.number import Number
    from longlens.survey.answer import Solution
    from longlens.survey.live import Live
    from longlens.survey.provisional import NotYet, Provisional
    from longlens.systems.run import Outcome

R = TypeVar("R", bound=Record)

BY = "studio"
#: How often other processes' changes are looked for, s.
LOOK = 0.25
#: Quiet for so long after a change, the survey begins again, s.
SETTLE = 0.8
#: The same where a quick answer is there already: the full survey then only confirms it, s.
CONFIRM = 12.0
DRAWS = 2000

State = Literal["nothing to solve", "solving", "solved", "not solvable", "failed"]


class NoDossier(UnusableInput):
    """Nothing is open."""


@dataclass(frozen=True)
class Change:
    """What callbacks are told: which kinds of records changed, and whether the survey's answer did.

    ``quick``: a quick answer is tried at once, and another change with ``solution`` follows in a moment, whatever came of it.
    """

    kinds: frozenset[str] = frozenset()
    solution: bool = False
    stage: bool = False
    quick: bool = False


@dataclass(frozen=True)
class Solved:
    """Where the survey of a stage stands.

    Parameters
    ----------
    answer : the exchange answer of the last survey that was solved (perhaps of slightly older records), or None; a quick
        one has no covariances.
    solution : the same with its network and joint draws; None until solved in this run of the studio.
    before : the answer before this one, of other records; None at first.
    key : document hash that ``answer`` belongs to.
    quick : it was worked out from the solution before, within its limits; the full survey follows when all is quiet.
    current : ``answer`` (or the refusal) is of the records as they are.
    reason, needs : why it cannot be solved, and what would make it so.
    doing, part : the word and the part done while solving.
    """

    stage: str | None
    state: State = "nothing to solve"
    answer: dict[str, Any] | None = None
    solution: Solution | None = None
    before: dict[str, Any] | None = None
    key: str = ""
    quick: bool = False
    current: bool = False
    reason: str = ""
    needs: tuple[str, ...] = ()
    doing: str = ""
    part: float = 0.0

    def line(self) -> str:
        """One line for people."""
        if self.state == "solving":
            return f"survey: {self.doing or 'starting'}, {100 * self.part:.0f} %"
        if self.state == "solved" and self.answer:
            number = len(self.answer.get("measures") or {})
            return f"survey solved: {number} measure{'' if number == 1 else 's'}, σ₀ {self.answer['sigma0']:.2f}"
        if self.state in ("not solvable", "failed"):
            return f"survey {self.state}: {self.reason}"
        return "survey: no marks yet"


@dataclass
class _Job:
    ticket: int
    stage: str | None
    key: str
    document: ExchangeDocument


@dataclass
class _Cache:
    revision: int = -1
    values: dict[Any, Any] = field(default_factory=dict)


class _Parsed(Reader):
    """The open dossier, each record parsed once for as long as its text stays the same (records are frozen)."""

    def __init__(self, dossier: Dossier) -> None:
        self._dossier = dossier
        self._known: dict[tuple[str, str], tuple[str, Record]] = {}

    def raw(self, kind: str, id: str) -> str | None:
        return self._dossier.raw(kind, id)

    def raw_all(self, kind: str) -> list[tuple[str, str]]:
        return self._dossier.raw_all(kind)

    def all(self, model: type[R]) -> list[R]:
        kind = kind_of(model).name
        rows = self._dossier.raw_all(kind)
        out: list[Any] = []
        for id, body in rows:
            found = self._known.get((kind, id))
            if found is None or found[0] != body:
                record = self._dossier.get(model, id)
                found = self._known[kind, id] = (body, record)
            out.append(found[1])
        return out


class Desk:
    """See the module. ``auto`` says whether the survey begins again by itself after changes."""

    def __init__(self) -> None:
        self.auto = True
        self.folder = Path.cwd()
        self._dossier: Dossier | None = None
        self._parsed: _Parsed | None = None
        self._stage: str | None = None
        self._solved: dict[str | None, Solved] = {}
        self._callbacks: dict[int, Callable[[Change], None]] = {}
        self._next = 0
        self._heard = 0
        self._changed_at = 0.0
        self._job: _Job | None = None
        self._solver = Solver(self._from_solver)
        self._quickly = Quick(self._from_quick)
        self._waiting: Asked | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._cache = _Cache()
        self._lives: dict[str | None, Live] = {}

    # Open and close ---------------------------------------------------------------------------------------

    @property
    def is_open(self) -> bool:
        return self._dossier is not None

    @property
    def dossier(self) -> Dossier:
        """The open dossier. Raises NoDossier. Write to it inside :meth:`batch`."""
        if self._dossier is None:
            raise NoDossier("no dossier is open", fix="open one, or make a new one, on the start page")
        return self._dossier

    @property
    def records(self) -> Reader:
        """The same for reading all records of a kind, quickly: each is parsed once while it stays as it is."""
        return self._parsed if self._parsed is not None else self.dossier

    def open(self, path: Path) -> None:
        """Open a dossier instead of the present one."""
        opened = Dossier.open(path, by=BY)
        self.close()
        self._dossier, self._heard, self._parsed = opened, opened.revision, _Parsed(opened)
        self.folder = path.absolute().parent
        self._stage = self._first_stage()
        self._changed_at = time.monotonic() - SETTLE
        self._tell(Change(kinds=frozenset({"everything"}), solution=True, stage=True))

    def create(self, path: Path, name: str, maker: str = "") -> None:
        """Make a dossier and open it."""
        Dossier.create(path, Vehicle(name=name, maker=maker), by=BY).close()
        self.open(path)

    def close(self) -> None:
        if self._dossier is not None:
            self._dossier.close()
        self._dossier, self._stage, self._cache = None, None, _Cache()
        self._solved, self._lives, self._waiting = {}, {}, None
        if self._job is not None:
            self._solver.stop()
            self._job = None

    # What is looked at ------------------------------------------------------------------------------------

    @property
    def stages(self) -> list[Stage]:
        """The vehicle's stages, earliest first."""
        return self._kept("stages", lambda: sorted(self.records.all(Stage), key=lambda s: s.order))

    @property
    def stage(self) -> str | None:
        """The id of the stage looked at: it says what is surveyed together. None: shots of no stage."""
        return self._stage

    @stage.setter
    def stage(self, id: str | None) -> None:
        if id != self._stage:
            self._stage = id
            self._changed_at = time.monotonic() - SETTLE
            self._tell(Change(stage=True, solution=True))

    def shots(self, stage: str | Literal["all"] | None = "here") -> list[Shot]:
        """Shots of the stage looked at, of a named one, or of ``all``."""
        every = self._kept("shots", lambda: self.records.all(Shot))
        wanted = self.stage if stage == "here" else stage
        return every if stage == "all" else [s for s in every if s.stage == wanted]

    def marks(self) -> list[Mark]:
        """All marks, read once per revision."""
        return self._kept("marks", lambda: self.records.all(Mark))

    # Changing ---------------------------------------------------------------------------------------------

    @contextmanager
    def batch(self, label: str) -> Iterator[Dossier]:
        """Change records as one undo step; every tab hears of it when it is done."""
        with self.dossier.batch(label):
            yield self.dossier
        self._hear()

    def undo(self) -> Step | None:
        """Take back the last step; None when there is nothing to undo."""
        step = self.dossier.undo()
        self._hear()
        return step

    def redo(self) -> Step | None:
        step = self.dossier.redo()
        self._hear()
        return step

    def catch_up(self) -> None:
        """Tell everyone of what was written to the dossier outside :meth:`batch` (by a function that makes its own)."""
        self._hear()

    # Hearing ----------------------------------------------------------------------------------------------

    def watch(self, callback: Callable[[Change], None]) -> Callable[[], None]:
        """Call back after every change, from whatever tab or process it came; returns what ends it.

        On a page, :func:`longlens.studio.frame.watch` is the one to use: it ends with the page.
        """
        self._next += 1
        number = self._next
        self._callbacks[number] = callback
        return lambda: void(self._callbacks.pop(number, None))

    async def run(self) -> None:
        """Look for others' changes and keep the survey going, until cancelled."""
        self._loop = asyncio.get_running_loop()
        try:
            while True:
                await asyncio.sleep(LOOK)
                try:
                    self._look()
                except LonglensError:  # the file is busy or gone for the moment: asked again in a moment
                    continue
        finally:
            self._solver.stop()

    def _look(self) -> None:
        if self._dossier is None:
            return
        if self._dossier.changed_elsewhere():
            self._hear()
        idle = self._job is None and self._waiting is None  # a quick answer that is on its way is heard first
        if self.auto and idle and time.monotonic() - self._changed_at > SETTLE:
            solved = self.solved()
            if not (solved.quick and solved.current) or time.monotonic() - self._changed_at > CONFIRM:
                self.solve()

    def _hear(self) -> None:
        """Tell everyone what changed since last heard."""
        revision = self.dossier.revision
        if revision == self._heard:
            return
        kinds = frozenset(e.kind for e in self.dossier.entries_since(self._heard))
        self._heard = revision
        self._changed_at = time.monotonic()
        if self._stage is None or all(s.id != self._stage for s in self.stages):
            self._stage = self._first_stage()
        self._tell(Change(kinds=kinds, quick=self._can_be_quick()))
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._quick()
        else:
            loop.call_later(
                0.02, self._quick
            )  # after everyone was told and it was sent: the mark itself is shown first

    def _can_be_quick(self) -> bool:
        return self.auto and self._stage in self._lives

    def _quick(self) -> None:
        """Ask for the new answer at once, from the last full survey. It is worked out beside the loop, and heard on it."""
        stage = self._stage
        live = self._lives.get(stage)
        if live is None or not self.auto or self._dossier is None:
            return
        key = self._key(stage)
        if key == self._solved[stage].key:
            self._tell(Change(solution=True))
            return
        asked = Asked(stage, live, self.document(stage), key)
        try:
            asyncio.get_running_loop()
        except RuntimeError:
            self._hear_quick(quick_answer(asked))
        else:
            self._waiting = asked
            self._quickly.ask(asked)

    def _from_quick(self, found: Found) -> None:
        if self._loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop has ended
                self._loop.call_soon_threadsafe(self._hear_quick, found)

    def _hear_quick(self, found: Found) -> None:
        asked = found.asked
        if asked is self._waiting:
            self._waiting = None
        if (
            self._dossier is None
            or self._lives.get(asked.stage) is not asked.live
            or asked.key != self._key(asked.stage)
        ):
            return  # something newer was asked for meanwhile, and will be told
        if found.solution is not None and found.answer is not None:
            self._keep(asked.stage, found.solution, asked.key, found.answer)
        self._tell(Change(solution=True))

    def _tell(self, change: Change) -> None:
        # Not at once: whoever changes something stands in a handler whose own button may go when the page follows.
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._call(change)
        else:
            loop.call_soon(self._call, change)

    def _call(self, change: Change) -> None:
        for callback in list(self._callbacks.values()):
            callback(change)

    def _first_stage(self) -> str | None:
        """The latest stage that has shots; before that the latest stage."""
        with_shots = {s.stage for s in self.records.all(Shot)}
        known = sorted(self.records.all(Stage), key=lambda s: s.order)
        return next((s.id for s in reversed(known) if s.id in with_shots), None) if with_shots else None

    # The survey -------------------------------------------------------------------------------------------

    def document(self, stage: str | Literal["here"] | None = "here") -> ExchangeDocument:
        """The exchange document of a stage as it is now."""
        wanted = self.stage if stage == "here" else stage
        return self._kept(("document", wanted), lambda: self._document(wanted))

    def solved(self, stage: str | Literal["here"] | None = "here") -> Solved:
        """Where the survey of a stage stands; the stage looked at by default."""
        wanted = self.stage if stage == "here" else stage
        found = self._solved.get(wanted)
        if found is None:
            found = self._solved[wanted] = Solved(wanted)
            if self.is_open and wanted != self._stage:
                found = self._solved_before(wanted)
        current = bool(found.key) and self.is_open and found.key == self._key(wanted)
        return replace(found, current=current)

    def _solved_before(self, stage: str | None) -> Solved:
        """Only the stage looked at is solved here; another's answer is there where it was solved before, in whatever run."""
        from longlens.systems.surveying import recall

        try:
            solution = recall(self.document(stage), draws=DRAWS)
        except LonglensError:  # said when it is looked at
            solution = None
        if solution is not None:
            self._keep(stage, solution, self._key(stage))
        return self._solved[stage]

    def solve(self) -> None:
        """Begin the survey of the stage looked at, unless it is solved as it stands or one is on its way."""
        if self._job is not None or not self.is_open:
            return
        stage = self.stage
        was = self.solved(stage)
        if was.current and not was.quick and (was.solution is not None or was.state in ("not solvable", "failed")):
            return
        document = self.document(stage)
        if not any(not m.inferred for m in document.marks):
            return
        key = self._key(stage)
        ticket = self._solver.solve(document, DRAWS)
        self._job = _Job(ticket, stage, key, document)
        self._solved[stage] = replace(was, state="solving", doing="", part=0.0)
        self._tell(Change(solution=True))

    def _keep(
        self, stage: str | None, solution: Solution, key: str, quick: dict[str, Any] | None = None
    ) -> dict[str, Any]:
        """Keep a solution as the stage's; ``quick``: its answer, where it is a quick one."""
        was = self._solved.get(stage, Solved(stage))
        from longlens.survey.report import answer as report

        answer = report(solution) if quick is None else quick
        before = was.before if key == was.key else was.answer
        self._solved[stage] = Solved(stage, "solved", answer, solution, before, key, quick is not None)
        if quick is None:
            from longlens.survey.live import Live

            live = self._lives[stage] = Live(solution)
            self._quickly.warm(live)
        return answer

    def _document(self, stage: str | None) -> ExchangeDocument:
        document = to_exchange(self.records, stage=stage)
        if stage is None:  # the exchange form of "everything": here only the shots that have no stage
            here = {s.id for s in self.shots(None)}
            document = document.model_copy(
                update={
                    "shots": [s for s in document.shots if s.id in here],
                    "marks": [m for m in document.marks if m.shot in here],
                }
            )
        return document

    def _key(self, stage: str | None) -> str:
        return self._kept(("key", stage), lambda: document_hash(self.document(stage)))

    def _from_solver(self, ticket: int, message: Message) -> None:
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self._hear_solver, ticket, message)

    def _hear_solver(self, ticket: int, message: Message) -> None:
        job = self._job
        if job is None or job.ticket != ticket or self._dossier is None:
            return
        was = self._solved.get(job.stage, Solved(job.stage))
        word = message[0]
        if word == "progress":
            self._solved[job.stage] = replace(was, doing=message[1], part=message[2])
        else:
            self._job = None
            self._changed_at = time.monotonic() - SETTLE  # whatever changed meanwhile is taken up at once
            if word == "solved":
                solution = message[1]
                self._keep(job.stage, solution, job.key)
                from longlens.systems.survey_numbers import keep_solution

                keep_solution(job.document, DRAWS, solution)
            else:
                needs = tuple(message[2]) if word == "needs" else ()
                state: State = "not solvable" if word == "needs" else "failed"
                self._solved[job.stage] = replace(
                    was, state=state, key=job.key, reason=message[1], needs=needs, answer=None, solution=None
                )
        self._tell(Change(solution=True))

    # Provisional --------------------------------------------------------------------------------------------

    def provisional(self, point: str, stage: str | Literal["here"] | None = "here") -> Provisional | NotYet | None:
        """The place at once of a point that the survey has not placed yet, by its marks and the cameras as they stand; why there
        is none; or None where the survey has placed it, or has not been solved in this run."""
        wanted = self.stage if stage == "here" else stage
        solution = self.solved(wanted).solution
        if solution is None or point in solution.net.points:
            return None
        from longlens.survey.provisional import place_provisionally

        key = ("provisional", wanted, id(solution), point)
        return self._kept(key, lambda: place_provisionally(solution, self.document(wanted), point))

    # Numbers ----------------------------------------------------------------------------------------------

    def numbers(self, stage: str | Literal["here"] | None = "here") -> dict[str, Number]:
        """Facts (``fact:ID``) and, once solved, measures (``measure:ID``) and points (``point:ID``), with joint draws."""
        wanted = self.stage if stage == "here" else stage
        solution = self.solved(wanted).solution
        return self._kept(("numbers", wanted, id(solution)), lambda: self._numbers(wanted, solution))

    def _numbers(self, stage: str | None, solution: Solution | None) -> dict[str, Number]:
        from longlens.systems.from_dossier import fact_numbers, with_survey
        from longlens.systems.survey_numbers import numbers_of

        out = fact_numbers(self.records, stage, DRAWS)
        if solution is not None:
            out = with_survey(out, numbers_of(solution, self.marks()))
        return out

    async def outcomes(self, area: str, stage: str | Literal["here"] | None = "here") -> Mapping[str, Outcome]:
        """The sheet of an area run on this dossier: as given (name "") and under each variant. Computed in a thread."""
        wanted = self.stage if stage == "here" else stage
        key = ("outcomes", area, wanted, id(self.solved(wanted).solution))
        self._fresh()
        if key not in self._cache.values:
            from longlens.systems import chain, registry
            from longlens.systems.from_dossier import given_of
            from longlens.systems.run import run_all

            known = await self._handed_on(wanted, len(chain.before(area)))
            self._fresh()
            given = given_of(self.dossier, area, known)
            cache = self._cache
            cache.values[key] = await asyncio.to_thread(run_all, registry.sheet(area), given)
            return cache.values[key]
        return self._cache.values[key]

    async def _handed_on(self, stage: str | None, runs: int) -> dict[str, Number]:
        """The dossier's numbers and what the first runs of the chain's round hand on."""
        if runs == 0:
            return dict(self.numbers(stage))
        self._fresh()
        key = ("handed on", stage, runs, id(self.solved(stage).solution))
        cache = self._cache
        if key not in cache.values:
            from longlens.systems import chain, registry
            from longlens.systems.from_dossier import given_of
            from longlens.systems.run import run

            known = await self._handed_on(stage, runs - 1)
            area = chain.ROUND[runs - 1]
            try:
                first = await asyncio.to_thread(run, registry.sheet(area), given_of(self.dossier, area, known))
                known |= chain.outputs_of(area, first)
            except LonglensError:
                pass  # that page says why
            cache.values[key] = known
        return dict(cache.values[key])

    # Kept for one revision --------------------------------------------------------------------------------

    def _fresh(self) -> None:
        revision = self.dossier.revision
        if revision != self._cache.revision:
            self._cache = _Cache(revision)

    def _kept(self, key: Any, make: Callable[[], Any]) -> Any:
        self._fresh()
        if key not in self._cache.values:
            self._cache.values[key] = make()
        return self._cache.values[key]


def void(_: object) -> None:
    """For callbacks that must return nothing."""
