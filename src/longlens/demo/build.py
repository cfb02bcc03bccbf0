"""The demo from end to end, as a list of steps: each is done for every stage of a car before the next one begins.

The photographs, marks and facts are those committed beside this module. The truth is known only because the cars are
invented; nothing but the comparison at the end looks at it.

To add to the demo's story, write a function ``(dossier, result, progress)`` in a module of its own and put a
:class:`Step` into :data:`STEPS`. The dossier is the car's and holds all its stages; ``result`` says which stage it is,
where its files are and what the survey answered.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from longlens.demo import stages
from longlens.demo.beside import report
from longlens.demo.gather import gather_stage
from longlens.demo.plates import add_plates
from longlens.demo.questions import first_look, keep_questions
from longlens.demo.sheets import keep_sheets
from longlens.demo.stages import NOTE, STAGES, Progress, Result, truth_of
from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import NotSolvable, UnusableInput


@dataclass(frozen=True)
class Step:
    """One thing done for each stage of a car.

    ``what`` is said while it goes on, ``share`` weighs it in the progress, ``do`` gets the car's dossier, the stage's
    result, and a progress of its own (0 to 1).
    """

    what: str
    share: float
    do: Callable[[Dossier, Result, Progress], None]


def gather(dossier: Dossier, result: Result, progress: Progress) -> None:
    """Photographs, marks, facts and names into the dossier."""
    gather_stage(dossier, result, truth_of(result.car, result.stage))
    first_look(dossier, result)


def survey(dossier: Dossier, result: Result, progress: Progress) -> None:
    """Marks to space; the answer is kept in the result, or the refusal."""
    from longlens.dossier.to_exchange import to_exchange
    from longlens.numbers.number import DRAWS
    from longlens.systems.survey_numbers import solution_of

    document = to_exchange(dossier, stage=result.stage)
    try:
        result.answer = solution_of(document, DRAWS, progress).answer()  # plates and brief ask for its draws next
    except NotSolvable as error:
        result.unsolved = error


def brief(dossier: Dossier, result: Result, progress: Progress) -> None:
    """The page with the photographs, the numbers and their trails."""
    from longlens.publish.brief import write_brief

    write_brief(dossier, result.brief, stage=result.stage, progress=progress)


#: The demo's story, in order.
STEPS: tuple[Step, ...] = (
    Step("photographs and marks", 0.1, gather),
    Step("inputs of the sheets", 0.01, keep_sheets),
    Step("survey", 0.8, survey),
    Step("questions and forecasts", 0.01, keep_questions),
    Step("plates", 0.05, add_plates),
    Step("brief", 0.1, brief),
)


def build_demo(to: Path, progress: Progress) -> str:
    """Build everything into a folder and say what came out.

    Parameters
    ----------
    to : the folder; made when it is not there. What an earlier demo left in it is replaced.
    progress : called with what is being done and how far the whole is, 0 to 1.
    """
    try:
        to.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnusableInput(f"cannot be made ({error.strerror})", where=str(to), fix="choose another folder") from None
    results: list[Result] = []
    for n, car in enumerate(stages.CARS):
        results += _car(car, to, _part(progress, n / len(stages.CARS), 1 / len(stages.CARS)))
    text = report(results, to)
    (to / "beside-the-truth.txt").write_text(text, encoding="utf-8")
    return text


def _car(car: str, to: Path, progress: Progress) -> list[Result]:
    path = to / f"{car}.longlens"
    _clear(path)
    truths = {s: truth_of(car, s) for s in stages.stages_of(car)}
    results = [
        Result(car, s, path, to / f"{car}-{s}.html", {m["id"]: m["true"] for m in truth["measures"]})
        for s, truth in truths.items()
    ]
    name = next(iter(truths.values()))["vehicle"]["name"].removeprefix("Skerry ")
    whole, done = sum(step.share for step in STEPS) * len(results), 0.0
    with Dossier.create(path, Vehicle(name=name, maker="Skerry (invented)", note=NOTE), by="longlens demo") as dossier:
        for step in STEPS:
            for result in results:
                own = _part(progress, done / whole, step.share / whole, f"{car}, {STAGES[result.stage].name}: ")
                own(step.what, 0.0)
                step.do(dossier, result, own)
                done += step.share
    return results


def _part(progress: Progress, start: float, share: float, prefix: str = "") -> Progress:
    """Progress of a part of the whole. It never goes back, whatever those below report."""
    reached = 0.0

    def show(what: str, part: float) -> None:
        nonlocal reached
        reached = max(reached, min(part, 1.0))
        progress(prefix + what, start + share * reached)

    return show


def _clear(path: Path) -> None:
    """Remove an earlier demo's dossier; anything else under its name is the user's and stays."""
    if not path.exists():
        return
    with Dossier.open(path, readonly=True) as old:
        ours = any(v.note == NOTE for v in old.all(Vehicle))
    if not ours:
        raise UnusableInput(
            "is there already, and is no dossier of the demo", where=str(path), fix="choose another folder"
        )
    path.unlink()
