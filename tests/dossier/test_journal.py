"""Undo, redo, history, the chain of hashes, editions."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.dossier import editions
from longlens.dossier.editions import Edition
from longlens.dossier.records import Point, Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput


def test_undo_and_redo_walk_the_steps(dossier: Dossier) -> None:
    dossier.put(Point(id="a"), label="first")
    dossier.change(Point, "a", part="rod", label="second")
    dossier.remove(Point, "a", label="third")
    assert [dossier.undo().label for _ in range(3)] == ["third", "second", "first"]  # type: ignore[union-attr]
    assert dossier.undo() is None and dossier.ids(Point) == []
    assert dossier.vehicle.name == "Fulmar E4"  # the making of the dossier itself stays
    assert [dossier.redo().label for _ in range(2)] == ["first", "second"]  # type: ignore[union-attr]
    assert dossier.get(Point, "a").part == "rod"
    dossier.put(Point(id="b"), label="new road")
    assert dossier.redo() is None
    assert dossier.verify() == []


def test_history_tells_every_change_of_one_record(dossier: Dossier) -> None:
    dossier.put(Point(id="a"))
    dossier.change(Point, "a", part="rod")
    dossier.undo()
    told = [
        (e.step.role, (e.before or {}).get("part"), (e.after or {}).get("part")) for e in dossier.history(Point, "a")
    ]
    assert told == [("edit", None, ""), ("edit", "", "rod"), ("undo", "rod", "")]
    assert all(e.step.by == "test" for e in dossier.history(Point, "a"))


IDS = st.sampled_from("abc")
MOVES = st.lists(
    st.one_of(
        st.tuples(st.just("put"), IDS, st.integers(0, 9)),
        st.tuples(st.just("remove"), IDS),
        st.tuples(st.just("undo")),
        st.tuples(st.just("redo")),
        st.tuples(st.just("freeze")),
    ),
    max_size=25,
)


@settings(max_examples=40, deadline=None)
@given(MOVES)
def test_any_walk_agrees_with_two_plain_stacks(tmp_path_factory: pytest.TempPathFactory, moves: list[tuple]) -> None:
    path = tmp_path_factory.mktemp("walk") / "d.longlens"
    state: dict[str, int] = {}
    undo: list[dict[str, int]] = []
    redo: list[dict[str, int]] = []
    frozen: dict[str, dict[str, int]] = {}
    with Dossier.create(path, Vehicle(name="walk")) as d:
        d._db.execute("PRAGMA synchronous = OFF")  # this test is not about crashes

        def read(reader: Dossier) -> dict[str, int]:
            return {p.id: int(p.note) for p in reader.all(Point)}

        for move in moves:
            if move[0] == "put" and state.get(move[1]) != move[2]:
                undo.append(dict(state))
                redo.clear()
                state[move[1]] = move[2]
                d.put(Point(id=move[1], note=str(move[2])))
            elif move[0] == "remove" and move[1] in state:
                undo.append(dict(state))
                redo.clear()
                del state[move[1]]
                d.remove(Point, move[1])
            elif move[0] == "undo":
                assert (d.undo() is not None) == bool(undo)
                if undo:
                    redo.append(dict(state))
                    state = undo.pop()
            elif move[0] == "redo":
                assert (d.redo() is not None) == bool(redo)
                if redo:
                    undo.append(dict(state))
                    state = redo.pop()
            elif move[0] == "freeze":
                name = f"e{len(frozen)}"
                editions.freeze(d, name)
                frozen[name] = dict(state)
            assert read(d) == state
        for name, then in frozen.items():
            assert read(editions.read_edition(d, name)) == then  # type: ignore[arg-type]
        assert d.verify() == []


def test_an_edition_stays_as_it_was_frozen(dossier: Dossier) -> None:
    dossier.put(Point(id="a", part="rod"))
    edition = editions.freeze(dossier, "first brief", note="sent out", contents={"answer": {"rod": 0.45}})
    dossier.change(Point, "a", part="rocker")
    dossier.put(Point(id="b"))
    then = editions.read_edition(dossier, "first brief")
    assert [p.part for p in then.all(Point)] == ["rod"]
    assert then.find(Point, "b") is None and then.vehicle == dossier.vehicle
    assert [(e.kind, e.id) for e in editions.changes_since(dossier, "first brief")][1:] == [
        ("point", "a"),
        ("point", "b"),
    ]
    with pytest.raises(UnusableInput, match="edition 'first brief' exists already"):
        editions.freeze(dossier, "first brief")
    with pytest.raises(UnusableInput, match="kept as it was written"):
        dossier.put(edition.model_copy(update={"note": "other"}))
    with pytest.raises(UnusableInput, match="kept as it was written"):
        dossier.remove(Edition, "first brief")
    while dossier.undo():
        pass
    assert [e.id for e in editions.editions(dossier)] == ["first brief"]
    assert editions.editions(dossier)[0].contents == {"answer": {"rod": 0.45}}


def test_undo_past_a_step_that_stays_is_refused_when_it_would_overwrite(dossier: Dossier) -> None:
    dossier.put(Point(id="a", part="rod"))
    with dossier.batch("sealed", keep=True):
        dossier.put(Point(id="a", part="sealed"))
    with pytest.raises(UnusableInput, match="cannot undo"):
        dossier.undo()
    assert dossier.get(Point, "a").part == "sealed"
    assert dossier.verify() == []


@pytest.mark.parametrize(
    ("sql", "told"),
    [
        ("UPDATE entry SET after = replace(after, 'rod', 'rad') WHERE seq = 2", "entry 2 .* was changed"),
        ("DELETE FROM entry WHERE seq = 2", "entry 2 is missing"),
        ("UPDATE step SET at = '2001-01-01T00:00:00Z' WHERE number = 2", "entry 2 .* was changed"),
        ("UPDATE step SET label = 'other' WHERE number = 3", "entry 3 .* was changed"),
        (
            "UPDATE record SET body = replace(body, 'rocker', 'rod') WHERE kind = 'point'",
            "differs from what the journal",
        ),
        ("DELETE FROM record WHERE kind = 'point'", "differs from what the journal"),
        ("UPDATE original SET bytes = x'00'", "not those that came in"),
    ],
)
def test_verify_names_what_was_tampered_with(path: Path, dossier: Dossier, sql: str, told: str) -> None:
    dossier.put(Point(id="a", part="rod"))
    dossier.change(Point, "a", part="rocker")
    dossier.keep_original(b"bytes")
    assert dossier.verify() == []
    dossier.close()
    db = sqlite3.connect(path)
    assert db.execute(sql).rowcount == 1
    db.commit()
    db.close()
    with Dossier.open(path) as again:
        found = again.verify()
    assert found
    assert re.search(told, "\n".join(found))
