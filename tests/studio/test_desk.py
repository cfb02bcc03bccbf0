"""The desk: who hears of what, undo over processes, the survey in its own process, what is kept and what is current."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from longlens.dossier.exchange import read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.records import Mark, Shot, Stage, Vehicle
from longlens.dossier.store import Dossier
from longlens.studio import quick
from longlens.studio.board import edits
from longlens.studio.desk import Change, Desk, NoDossier
from longlens.systems.surveying import solve
from tests.survey.cars import small


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "car.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4")) as dossier:
        from_exchange(dossier, read_exchange(small(5).document)[0])
    return path


def until(desk: Desk, true: Callable[[], bool], seconds: float = 60) -> None:
    """Run the desk's own loop until something is so."""

    async def wait() -> None:
        running = asyncio.create_task(desk.run())
        end = time.monotonic() + seconds
        while not true():
            assert time.monotonic() < end, desk.solved()
            await asyncio.sleep(0.02)
        running.cancel()

    asyncio.run(wait())


def test_nothing_open_is_said_so() -> None:
    with pytest.raises(NoDossier, match="no dossier is open"):
        _ = Desk().dossier


def test_a_change_is_told_once_with_its_kinds_and_undo_is_one_too(file: Path) -> None:
    desk, heard = Desk(), list[Change]()
    desk.open(file)
    end = desk.watch(heard.append)
    mark = next(m for m in desk.marks() if m.form == "point")
    with desk.batch("move") as dossier:
        edits.move(dossier, [mark.id], 1.0, 0.0)
    assert [c.kinds for c in heard] == [{"mark"}]
    assert next(m for m in desk.marks() if m.id == mark.id).x == (mark.x or 0) + 1
    step = desk.undo()
    assert step is not None and step.label == "move" and len(heard) == 2
    assert next(m for m in desk.marks() if m.id == mark.id) == mark
    end()
    desk.redo()
    assert len(heard) == 2
    desk.close()


def test_another_process_is_heard(file: Path) -> None:
    desk, heard = Desk(), list[Change]()
    desk.open(file)
    desk.auto = False
    desk.watch(heard.append)
    with Dossier.open(file, by="somebody else") as other:
        other.remove(Mark, desk.marks()[0].id)
    until(desk, lambda: bool(heard), 3)
    assert heard[0].kinds == {"mark"}
    desk.close()


def test_the_survey_runs_beside_and_a_small_change_is_answered_at_once(file: Path) -> None:
    desk = Desk()
    desk.open(file)
    until(desk, lambda: desk.solved().state == "solved")
    first = desk.solved()
    assert first.current and first.solution is not None and not first.quick
    assert any(n.startswith("measure:") for n in desk.numbers())
    mark = next(m for m in desk.marks() if m.form == "point")
    with desk.batch("nudge") as dossier:
        edits.move(dossier, [mark.id], 0.25, 0.0)
    quick = desk.solved()
    assert quick.quick and quick.current and quick.before == first.answer
    assert quick.answer is not None and quick.answer["measures"] != first.answer["measures"]  # type: ignore[index]
    desk.close()
    desk.open(file)  # no answer is read from a dossier's file: it is asked for anew, and found in the user's own cache
    assert not desk.solved().current
    desk.close()


def test_quick_answers_hang_on_nothing_but_the_survey_and_the_records(file: Path) -> None:
    """Whatever was asked and dropped in between, the same records give the same numbers, to the bit."""
    desk = Desk()
    desk.open(file)
    until(desk, lambda: desk.solved().state == "solved")
    mark = next(m for m in desk.marks() if m.form == "point")

    def moved(*steps: float) -> dict[str, object]:
        for dx in steps:
            with desk.batch("nudge") as dossier:
                edits.move(dossier, [mark.id], dx, 0.0)
        assert desk.solved().quick and desk.solved().current
        answer = desk.solved().answer
        for _ in steps:
            desk.undo()
        assert answer is not None
        return answer

    assert moved(0.25, -0.5, 1.0, -0.25) == moved(0.5) == moved(1.5, -1.0)
    desk.close()


def test_the_newest_request_wins_and_the_loop_goes_on(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    desk, begun, may_end, worked_on = Desk(), threading.Event(), threading.Event(), list[str]()
    desk.open(file)
    until(desk, lambda: desk.solved().state == "solved")
    mark = next(m for m in desk.marks() if m.form == "point")
    real = quick.quick_answer

    def slow(asked: quick.Asked) -> quick.Found:
        begun.set()
        assert may_end.wait(20)
        worked_on.append(asked.key)
        return real(asked)

    monkeypatch.setattr(quick, "quick_answer", slow)
    heard: list[Change] = []
    desk.watch(heard.append)

    async def nudges() -> None:
        running = asyncio.create_task(desk.run())
        for _ in range(
            5
        ):  # while the first answer is being worked out the loop takes four more changes, and tells of each
            with desk.batch("nudge") as dossier:
                edits.move(dossier, [mark.id], 0.25, 0.0)
            await asyncio.to_thread(begun.wait, 20)
            await asyncio.sleep(0.06)
        assert sum("mark" in c.kinds for c in heard) == 5 and worked_on == []
        may_end.set()
        while not desk.solved().current:
            await asyncio.sleep(0.02)
        running.cancel()

    asyncio.run(asyncio.wait_for(nudges(), 60))
    assert desk.solved().quick and len(worked_on) == 2  # the first, and the newest; three were dropped
    assert worked_on[-1] == desk.solved().key
    desk.close()


def test_a_new_point_has_a_provisional_place_until_the_survey_has_placed_it(file: Path) -> None:
    from longlens.survey.provisional import NotYet, Provisional

    desk = Desk()
    desk.open(file)
    assert desk.provisional("new thing") is None  # not solved in this run
    until(desk, lambda: desk.solved().state == "solved")
    solution = desk.solved().solution
    assert solution is not None and desk.provisional(solution.net.points[0]) is None
    copied = next(p for p in solution.net.points if sum(m.point == p for m in desk.marks()) >= 3)
    marks = [m for m in desk.marks() if m.point == copied]
    places = []
    for m in marks:
        with desk.batch("mark") as dossier:
            edits.place(dossier, m.shot, "point", "new_thing", [(m.x or 0.0, m.y or 0.0)])
        places.append(desk.provisional("new_thing"))
    assert isinstance(places[0], NotYet) and isinstance(places[-1], Provisional)
    assert desk.provisional("new_thing") is desk.provisional("new_thing")  # worked out once
    until(desk, lambda: desk.solved().current and not desk.solved().quick)
    full = desk.solved().solution
    assert full is not None and "new_thing" in full.net.points and desk.provisional("new_thing") is None
    sd = full.places()["new_thing"].std(axis=0)
    assert (abs(full.places()["new_thing"].mean(axis=0) - places[-1].xyz) < 4 * sd).all()
    desk.close()


def test_what_cannot_be_solved_says_what_it_needs(tmp_path: Path) -> None:
    path = tmp_path / "bare.longlens"
    document = small(5).document
    document["marks"] = document["marks"][:2]
    with Dossier.create(path, Vehicle(name="Fulmar E4")) as dossier:
        from_exchange(dossier, read_exchange(document)[0])
    desk = Desk()
    desk.open(path)
    until(desk, lambda: desk.solved().state == "not solvable")
    assert desk.solved().needs and desk.solved().reason
    desk.close()


def test_a_stage_that_is_not_looked_at_has_its_answer_where_it_was_solved_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LONGLENS_CACHE", str(tmp_path / "cache"))
    path = tmp_path / "two.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4")) as dossier:
        dossier.put(Stage(id="test", name="test car", order=1))
        dossier.put(Stage(id="shown", name="shown car", order=2))
        from_exchange(dossier, read_exchange(small(6).document)[0], stage="test")
        dossier.put(Shot(id="later", width=600, height=400, stage="shown"))
    desk = Desk()
    desk.open(path)
    assert desk.stage == "shown" and desk.solved("test").answer is None
    solution = solve(desk.document("test"))
    desk.close()
    desk.open(path)
    found = desk.solved("test")
    assert found.current and found.state == "solved" and found.answer == solution.answer()
    desk.stage = "test"
    assert desk.solved() == found
    desk.close()
