"""What a dossier says was worked out is not printed: sheets and claims are worked out by whoever publishes."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path

from longlens.claims.records import Alternative, Question
from longlens.dossier.store import Dossier
from longlens.publish.basis import Bases
from longlens.publish.held import held_of


def test_no_answer_is_read_from_or_left_in_the_file(opened: Callable[[], Dossier], car: Path) -> None:
    with opened() as d:
        two = [Alternative(id=k, text=k, prior=0.5, why="usual") for k in ("one", "two")]
        d.add(Question(id="loops", text="How many loops?", alternatives=two))
        basis = Bases(d).of(None)
        assert basis.answer["measures"] and held_of(basis) is not None
    with sqlite3.connect(car) as file:
        assert {name for (name,) in file.execute("SELECT DISTINCT name FROM derived")} <= {"preview"}


def test_forged_claims_are_not_shown(opened: Callable[[], Dossier]) -> None:
    with opened() as d:
        two = [Alternative(id=k, text=k, prior=0.5, why="usual") for k in ("one", "two")]
        d.add(Question(id="loops", text="How many loops?", alternatives=two))
        forged = {"claims": [["loops", "Proven.", "certain", "", "It is proven."]], "forecasts": [], "score": ""}
        d.keep_derived("claims and forecasts", d.chain_head, json.dumps(forged).encode())
        found = held_of(Bases(d).of(None))
    assert found is not None and [c.text for c in found.claims] != ["Proven."]
