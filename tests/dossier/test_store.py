"""Records in the file: written whole, read back, shared between connections."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from longlens.dossier.kinds import Record, register
from longlens.dossier.records import Fact, Mark, Point, Shot, Stage, Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput


def test_records_come_back_equal_and_in_the_order_of_making(path: Path, dossier: Dossier) -> None:
    made = [Point(id=i, part="upright") for i in ("z", "a", "m")]
    for one in made:
        dossier.put(one)
    mark = Mark(id="m1", shot="s1", form="rim", circle="c", edge=[(1.0, 2.0), (3.5, 4.25)], certainty="partly seen")
    dossier.put(mark)
    dossier.change(Point, "z", note="changed, but still the first")
    dossier.close()
    with Dossier.open(path) as again:
        assert again.ids(Point) == ["z", "a", "m"]
        assert again.all(Point)[1:] == made[1:]
        assert again.get(Mark, "m1") == mark
        assert again.vehicle.name == "Fulmar E4"


def test_a_missing_or_doubled_record_is_named(dossier: Dossier) -> None:
    dossier.add(Stage(id="test"))
    with pytest.raises(UnusableInput, match="stage 'test' exists already"):
        dossier.add(Stage(id="test"))
    with pytest.raises(UnusableInput, match="no point 'hub'"):
        dossier.get(Point, "hub")
    with pytest.raises(UnusableInput, match="no point 'hub'"):
        dossier.remove(Point, "hub")
    assert dossier.find(Point, "hub") is None


def test_a_change_that_does_not_fit_is_refused_and_nothing_is_written(dossier: Dossier) -> None:
    dossier.put(Shot(id="s1", width=600, height=400))
    before = dossier.revision
    with pytest.raises(UnusableInput, match="focal_px needs focal_sd_px"):
        dossier.change(Shot, "s1", focal_px=500.0)
    with pytest.raises(UnusableInput, match="width"):
        dossier.change(Shot, "s1", width=-1)
    with pytest.raises(UnusableInput, match="wdith"):
        dossier.change(Shot, "s1", wdith=3)
    assert dossier.revision == before
    assert dossier.get(Shot, "s1").width == 600


def test_a_batch_is_written_together_or_not_at_all(dossier: Dossier) -> None:
    before = dossier.revision

    def half() -> None:
        with dossier.batch("two"):
            dossier.put(Point(id="a"))
            raise RuntimeError("midway")

    with pytest.raises(RuntimeError, match="midway"):
        half()
    assert dossier.ids(Point) == [] and dossier.revision == before
    with dossier.batch("outer"):
        with pytest.raises(RuntimeError, match="midway"):
            half()
        assert dossier.ids(Point) == []
    assert dossier.revision == before
    with dossier.batch("outer"), dossier.batch("inner"):
        dossier.put(Point(id="a"))
        dossier.put(Point(id="b"))
    assert dossier.ids(Point) == ["a", "b"]
    assert [s.label for s in dossier.steps(1)] == ["outer"]


def test_writing_the_same_again_is_no_change(dossier: Dossier) -> None:
    dossier.put(Point(id="a"))
    before, steps = dossier.revision, len(dossier.steps())
    dossier.put(Point(id="a"))
    assert (dossier.revision, len(dossier.steps())) == (before, steps)


def test_a_floor_above_brings_its_own_kind(dossier: Dossier, path: Path) -> None:
    class Guess(Record):
        text: str

    register("test.guess", Guess, links={"about": "point"})
    dossier.put(Guess(id="g", text="two loops"))
    assert dossier.get(Guess, "g").text == "two loops"
    assert [e.kind for e in dossier.history(Guess, "g")] == ["test.guess"]
    with pytest.raises(ValueError, match="already taken"):
        register("test.guess", Point)


def test_another_connection_is_noticed_and_its_own_changes_are_not(path: Path, dossier: Dossier) -> None:
    with Dossier.open(path) as other:
        assert not dossier.changed_elsewhere()
        dossier.put(Point(id="mine"))
        assert not dossier.changed_elsewhere()
        assert other.changed_elsewhere() and not other.changed_elsewhere()
        other.put(Point(id="theirs"))
        assert dossier.changed_elsewhere() and not dossier.changed_elsewhere()
        other.keep_derived("survey", "k", b"result")  # no record changed
        assert not dossier.changed_elsewhere()
        other.put(Point(id="theirs2"))
        dossier.put(Point(id="mine2"))  # does not hide theirs2
        assert dossier.changed_elsewhere()


def test_threads_and_connections_lose_no_write(path: Path, dossier: Dossier) -> None:
    def write(store: Dossier, name: str) -> None:
        for i in range(10):
            store.put(Point(id=f"{name}{i}"))

    with Dossier.open(path) as other:
        jobs = [threading.Thread(target=write, args=a) for a in ((dossier, "a"), (dossier, "b"), (other, "c"))]
        for job in jobs:
            job.start()
        for job in jobs:
            job.join()
    assert len(dossier.ids(Point)) == 30
    assert dossier.verify() == []


def test_originals_are_kept_to_the_byte_and_derived_things_stay_outside_the_journal(dossier: Dossier) -> None:
    before = dossier.revision
    name = dossier.keep_original(b"\xff\xd8 a photograph")
    assert dossier.keep_original(b"\xff\xd8 a photograph") == name
    assert dossier.original(name) == b"\xff\xd8 a photograph"
    for i in range(5):
        dossier.keep_derived("survey", f"k{i}", b"%d" % i, newest=2)
    assert [dossier.derived("survey", f"k{i}") for i in range(5)] == [None, None, None, b"3", b"4"]
    assert dossier.revision == before
    with pytest.raises(UnusableInput, match="not in the dossier"):
        dossier.original("00" * 32)


def test_a_fact_says_what_it_lacks() -> None:
    with pytest.raises(ValueError, match="a value or a text"):
        Fact(id="f")
    with pytest.raises(ValueError, match="needs its reason"):
        Fact(id="f", value=800, unit="kg", basis="assumed")
    with pytest.raises(ValueError, match="must be positive"):
        Fact(id="f", value=-2.5, sd=0.01, distance=("a", "b"))
    assert not Fact(id="f", of="power", value=250e3, sd=5e3, unit="W").surveyed


def test_a_mark_has_exactly_what_its_form_needs() -> None:
    with pytest.raises(ValueError, match="needs y"):
        Mark(id="m", shot="s", form="point", point="p", x=1)
    with pytest.raises(ValueError, match="has no circle"):
        Mark(id="m", shot="s", form="point", point="p", x=1, y=1, circle="c")
    with pytest.raises(ValueError, match="needs width_px"):
        Mark(id="m", shot="s", form="pipe", path=[(0, 0), (1, 1)])
    with pytest.raises(ValueError, match="three corners"):
        Mark(id="m", shot="s", form="outline", path=[(0, 0), (1, 1)])


def test_a_second_dossier_never_overwrites(path: Path, dossier: Dossier) -> None:
    before = path.read_bytes()
    with pytest.raises(UnusableInput, match="already a file"):
        Dossier.create(path, Vehicle(name="Gannet"))
    assert path.read_bytes() == before
    assert [p.name for p in path.parent.iterdir()] == [path.name]
