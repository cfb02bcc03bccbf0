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
from longlens.dossier.records import Mark, Vehicle
from longlens.dossier.store import Dossier
from longlens.studio import quick
from longlens.studio.board import edits
from longlens.studio.desk import Change, Desk, NoDossier
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
