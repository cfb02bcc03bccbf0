"""Editions keep the claims that rest on the survey, with their numbers: what moved is told without solving the past again."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from longlens.claims.frozen import Claim, contents_of
from longlens.claims.put import put
from longlens.claims.revisions import compare
from longlens.claims.weigh import weigh_in
from longlens.dossier import editions
from longlens.dossier.exchange import read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.records import Mark, Vehicle
from longlens.dossier.store import Dossier
from longlens.survey import answer
from longlens.systems import survey_numbers
from tests.cli.conftest import Done, run  # noqa: F401  (a fixture)
from tests.cli.little_car import TRACK, document

QUESTION = {
    "id": "axle",
    "text": "Which axle is it?",
    "alternatives": [
        {"id": "narrow", "text": "the narrow one", "prior": 0.5, "why": "no reason either way"},
        {"id": "wide", "text": "the wide one", "prior": 0.5, "why": "no reason either way"},
    ],
}
EVIDENCE = {
    "id": "its track", "kind": "measure", "text": "the track", "of": "measure:track",
    "predicted": {"narrow": {"value": TRACK, "sd": 0.004, "unit": "m"},
                  "wide": {"value": TRACK + 0.01, "sd": 0.004, "unit": "m"}},
}  # fmt: skip


@pytest.fixture
def dossier(tmp_path: Path) -> Iterator[Dossier]:
    with Dossier.create(tmp_path / "car.longlens", Vehicle(name="Fulmar E4"), by="test") as made:
        from_exchange(made, read_exchange(document())[0])
        put(made, {"question": QUESTION, "evidence": [EVIDENCE]})
        yield made


@pytest.fixture
def solves(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Any]:
    """Documents that were really solved; nothing is known from before."""
    monkeypatch.setenv("LONGLENS_CACHE", str(tmp_path / "cache"))
    survey_numbers._solutions.clear()
    done: list[Any] = []
    real = answer.solve

    def counted(document: Any, **how: Any) -> Any:
        done.append(document)
        return real(document, **how)

    monkeypatch.setattr(answer, "solve", counted)
    return done


def nudge(dossier: Dossier, by: float) -> str:
    """Move the marks of the left front wheel's hub on one shot."""
    mark = next(m for m in dossier.all(Mark) if m.shot == "s1" and m.point == "left.front.hub")
    assert mark.x is not None
    dossier.change(Mark, mark.id, x=mark.x + by)
    return mark.id


def test_a_claim_on_the_survey_is_kept_with_its_numbers_and_told_when_it_moves(
    dossier: Dossier, solves: list[Any]
) -> None:
    contents, remarks = contents_of(dossier)
    assert not remarks and len(solves) == 1
    kept = contents["claims"]["axle"]
    track = contents["survey"][""]["measures"]["track"]
    assert kept["numbers"]["measure:track"]["value"] == pytest.approx(track["value"], rel=1e-3)
    assert kept["alternatives"]["narrow"]["text"] == "the narrow one"
    assert sum(a["probability"] for a in kept["alternatives"].values()) == pytest.approx(1.0)
    editions.freeze(dossier, "first", contents=json.loads(json.dumps(contents)))
    assert compare(dossier, "first").claims == [] and len(solves) == 1, "nothing moved"

    moved = nudge(dossier, 5.0)
    again, _ = contents_of(dossier)
    editions.freeze(dossier, "second", contents=again)
    assert len(solves) == 2
    nudge(dossier, -9.0)
    survey_numbers._solutions.clear()
    found = compare(dossier, "first", "second")
    assert len(solves) == 2, "both editions say what they said"
    (claim,) = found.claims
    assert claim.by is not None and claim.by > 0 and claim.was is not None and claim.now is not None
    assert claim.was[0] == kept["alternatives"][claim.leads[0]]["probability"]
    (number,) = claim.numbers
    assert number.ref == "measure:track" and number.by is not None and number.by > 0
    assert moved in {c.id for c in claim.because}
    assert claim.told(claim.by) and (claim.side or claim.strength or not claim.told(2 * claim.by))
    told = found.as_json()["claims"][0]
    assert told["was"][0] == claim.was[0] and told["numbers"][0]["ref"] == "measure:track"
    words = found.erratum(0.0)
    assert "Which axle is it?" in words and "what led had" in words and "It rests on track:" in words


def test_what_an_edition_keeps_is_what_was_weighed(dossier: Dossier) -> None:
    from longlens.claims.records import Question

    weighed = weigh_in(dossier, dossier.get(Question, "axle"))
    claim = Claim.of(weighed)
    assert dict(claim.chances) == weighed.belief and claim.sentence == weighed.sentence()
    assert Claim.kept(json.loads(json.dumps(claim.as_json()))) == claim


def test_freezing_never_fails_for_what_cannot_be_solved(dossier: Dossier) -> None:
    with dossier.batch("all but two marks go"):
        for mark in dossier.all(Mark)[2:]:
            dossier.remove(Mark, mark.id)
    contents, remarks = contents_of(dossier)
    assert "survey" not in contents and any("no numbers from the photographs" in r for r in remarks)
    assert contents["claims"]["axle"]["numbers"] == {}
    assert contents["claims"]["axle"]["sentence"].startswith("Nothing weighs yet")


def test_the_commands_say_it(dossier: Dossier, run: Callable[..., Done]) -> None:  # noqa: F811
    file = dossier.path
    assert "with the survey's numbers and 1 claim\n" in run("edition", "freeze", file, "first").out
    assert "nothing moved by 0.1" in run("revisions", file, "--since", "first").out
    nudge(dossier, 8.0)
    told = run("revisions", file, "--since", "first", "--least", "0").out
    assert "Which axle is it? It" in told and "rests on track: " in told and "because of mark" in told
    assert run("edition", "freeze", file, "first").status == 2
