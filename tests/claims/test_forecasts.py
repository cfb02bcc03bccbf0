"""Forecasts sealed, resolved, withdrawn, scored; tampering found; what moved between editions."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from longlens.claims import forecasts
from longlens.claims.calibration import calibration
from longlens.claims.put import put
from longlens.claims.records import Forecast, ForecastDraft, Resolution
from longlens.claims.revisions import claims_to_keep, compare, keep_erratum, moved
from longlens.claims.summary import summary
from longlens.dossier import editions
from longlens.dossier.records import Mark, Measure, Point, Shot, Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from tests.claims.test_weigh import data


@pytest.fixture
def dossier(tmp_path: Path) -> Any:
    with Dossier.create(tmp_path / "f.longlens", Vehicle(name="Fulmar E4"), by="test") as one:
        one.put(Shot(id="s1", width=600, height=400))
        for p in ("pump", "tank"):
            one.put(Point(id=p))
            one.put(Mark(id=f"m.{p}", shot="s1", form="point", point=p, x=1, y=2))
        one.put(Measure(id="gap", distance=("pump", "tank")))
        editions.freeze(one, "first look")
        yield one


def made(dossier: Dossier) -> None:
    forecasts.make(dossier, "pump", "There is one pump.", probability=0.8, edition="first look", why="one seen")
    forecasts.make(dossier, "mass", "Mass as shown.", low=600.0, high=660.0, unit="kg")
    forecasts.make(dossier, "wing", "Two flaps.", probability=0.3)


def test_the_road_of_a_forecast(dossier: Dossier) -> None:
    made(dossier)
    forecasts.resolve(dossier, "pump", "seen on s1", happened=True, evidence=["mark:m.pump"])
    forecasts.resolve(dossier, "mass", "press sheet", value=620.0)
    forecasts.withdraw(dossier, "wing", "the question was badly put")
    seen = {s.forecast.id: s for s in forecasts.all_of(dossier)}
    assert [s.state for s in seen.values()] == ["resolved", "resolved", "withdrawn"]
    assert seen["pump"].score == pytest.approx({"brier": 0.04, "logarithmic": -np.log2(0.8)})
    assert seen["mass"].score == {"interval": 60.0} and "inside" in seen["mass"].came
    assert seen["pump"].forecast.revision == dossier.get(editions.Edition, "first look").revision
    record = forecasts.record(seen.values())
    assert (record.events, record.ranges, record.held, record.count("withdrawn")) == (1, 1, 1, 1)
    assert "So few forecasts" in record.sentence() and forecasts.problems(dossier) == []
    assert len(summary(dossier).forecasts) == 3
    json.dumps(record.as_json(), allow_nan=True)


def test_a_forecast_is_never_altered(dossier: Dossier) -> None:
    made(dossier)
    with pytest.raises(UnusableInput, match="kept as it was written"):
        dossier.change(Forecast, "pump", probability=0.99)
    with pytest.raises(UnusableInput, match="kept as it was written"):
        dossier.remove(Forecast, "pump")
    with pytest.raises(UnusableInput, match="exists already"):
        forecasts.make(dossier, "pump", "Another.", probability=0.5)
    while dossier.undo() is not None:
        pass
    assert dossier.get(Forecast, "pump").probability == 0.8


def test_a_correction_stands_beside_the_first(dossier: Dossier) -> None:
    made(dossier)
    forecasts.resolve(dossier, "pump", "seen", happened=True)
    forecasts.resolve(dossier, "pump", "it was a filter", happened=False)
    seen = forecasts.all_of(dossier)[0]
    assert seen.came == "did not happen" and seen.corrected == 1 and dossier.count(Resolution) == 2


@pytest.mark.parametrize("level", ["record", "both", "chain"])
def test_tampering_is_found(dossier: Dossier, level: str) -> None:
    made(dossier)
    path = dossier.path
    dossier.close()
    db = sqlite3.connect(path)
    if level in ("record", "both"):
        db.execute(
            "UPDATE record SET body = replace(body, '\"probability\":0.8', '\"probability\":0.99') WHERE kind = 'forecast'"
        )
    if level == "both":
        db.execute(
            "UPDATE entry SET after = replace(after, '\"probability\":0.8', '\"probability\":0.99') WHERE kind = 'forecast'"
        )
    if level == "chain":  # the whole journal written anew, with an earlier mark changed
        _rewrite(db)
    db.commit()
    db.close()
    with Dossier.open(path) as again:
        found = forecasts.problems(again)
    assert found, level
    if level == "chain":
        assert all("not the one it was made in" in f for f in found), (
            "the journal is whole by itself: the forecast's own hash tells"
        )


def _rewrite(db: sqlite3.Connection) -> None:
    from longlens.dossier import journal

    steps = {
        row[0]: journal.Step(*row[:6]) for row in db.execute("SELECT number, at, by, label, role, target FROM step")
    }
    previous = ""
    for seq, step, kind, id, before, after in db.execute(
        "SELECT seq, step, kind, id, before, after FROM entry ORDER BY seq"
    ).fetchall():
        if (kind, id) == ("mark", "m.pump"):
            after = after.replace('"x":1.0', '"x":9.0')
            db.execute("UPDATE record SET body = ? WHERE kind = ? AND id = ?", (after, kind, id))
        digest = journal.entry_hash(previous, seq, steps[step], kind, id, before, after)
        db.execute("UPDATE entry SET after = ?, previous = ?, hash = ? WHERE seq = ?", (after, previous, digest, seq))
        previous = digest


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"probability": 1.2}, "less than or equal to 1"),
        ({}, "event with a probability"),
        ({"low": 2.0, "high": 1.0}, "below high"),
        ({"probability": 0.5, "low": 1.0, "high": 2.0}, "event with a probability"),
        ({"probability": 0.5, "edition": "none"}, "no edition"),
    ],
)
def test_forecasts_that_do_not_fit(dossier: Dossier, fields: dict[str, Any], words: str) -> None:
    with pytest.raises(UnusableInput, match=words):
        forecasts.make(dossier, "x", "x", **fields)


def test_resolutions_that_do_not_fit(dossier: Dossier) -> None:
    made(dossier)
    for id, how, words in (
        ("pump", {"value": 3.0}, "whether it happened"), ("mass", {"happened": True}, "the value"), ("mass", {}, "the value"),
        ("none", {"happened": True}, "no forecast"), ("pump", {"happened": True, "evidence": ["mark:zz"]}, "no 'mark:zz'"),
    ):  # fmt: skip
        with pytest.raises(UnusableInput, match=words):
            forecasts.resolve(dossier, id, "x", **how)  # type: ignore[arg-type]
    forecasts.resolve(dossier, "pump", "seen", happened=True)
    with pytest.raises(UnusableInput, match="stays in the score"):
        forecasts.withdraw(dossier, "pump", "went wrong")
    forecasts.withdraw(dossier, "wing", "why not")
    with pytest.raises(UnusableInput, match="withdrawn"):
        forecasts.resolve(dossier, "wing", "x", happened=True)


def test_a_calibrated_forecaster_beats_the_references() -> None:
    rng = np.random.default_rng(5)
    p = rng.random(4000).round(1)
    o = rng.random(4000) < p
    for b in calibration(p, o):
        assert b.happened.low - 0.02 <= b.given <= b.happened.high + 0.02
    assert calibration([1.0], [True])[0].count == 1


# Revisions -----------------------------------------------------------------------------------------------------


def answer(value: float, half: float) -> dict[str, Any]:
    return {"measures": {"gap": {"value": value, "low95": value - half, "high95": value + half, "unit": "m"}}}


def test_what_moved_and_why(dossier: Dossier) -> None:
    put(dossier, {**data(), "evidence": [{**data()["evidence"][0], "on": ["mark:m.pump"]}]})
    editions.freeze(dossier, "second look", contents={"survey": {"": answer(0.3, 0.01)}})
    dossier.put(Mark(id="new", shot="s1", form="point", point="tank", x=9, y=9))
    dossier.remove(Mark, "m.pump")
    found = compare(dossier, "second look", solve=lambda document: answer(0.33, 0.005))
    (number,) = found.numbers
    assert number.by == pytest.approx(3.0) and {c.id for c in number.because} == {"new", "m.pump"}
    (claim,) = found.claims
    assert claim.strength and [c.id for c in claim.because] == ["m.pump"]
    text = keep_erratum(dossier, found).text
    assert (
        "Corrections to the edition second look" in text
        and "gap: 300 (290–310) mm is now 330" in text
        and "m.pump" in text
    )
    dossier.change(type(keep_erratum(dossier, found)), "second look..now", text="in my own words")
    assert keep_erratum(dossier, found).text == "in my own words"
    assert compare(dossier, "second look", "second look", solve=lambda d: answer(1, 1)).numbers == []
    with pytest.raises(UnusableInput, match="no edition"):
        compare(dossier, "never")


def test_an_edition_says_a_claim_as_it_was_printed(dossier: Dossier) -> None:
    put(dossier, {**data(), "evidence": [{**data()["evidence"][0], "on": ["mark:m.pump"]}]})
    kept, remarks = claims_to_keep(dossier)
    assert kept["q"]["leads"] == "a" and "mark:m.pump" in kept["q"]["rests"] and not remarks
    said = {"q": {**kept["q"], "sentence": "as it was printed", "strength": "strong support"}}
    survey = {"survey": {"": answer(1, 0.1)}}
    editions.freeze(dossier, "kept", contents=survey | {"claims": said})
    (claim,) = compare(dossier, "kept", solve=lambda d: answer(1, 0.1)).claims
    assert claim.before == "as it was printed" and claim.after == kept["q"]["sentence"] and claim.by == 0.0
    for n, spoilt in enumerate((3, {**said["q"], "numbers": {"x": 1}}, {**said["q"], "alternatives": {"a": {}}})):
        editions.freeze(dossier, f"spoilt {n}", contents=survey | {"claims": {"q": spoilt}})
        assert compare(dossier, f"spoilt {n}", solve=lambda d: answer(1, 0.1)).claims == []  # weighed anew
    before = {k: v for k, v in said["q"].items() if k not in ("alternatives", "numbers")}  # as earlier versions kept it
    editions.freeze(dossier, "earlier", contents=survey | {"claims": {"q": before}})
    (claim,) = compare(dossier, "earlier", solve=lambda d: answer(1, 0.1)).claims
    assert claim.before == "as it was printed" and claim.was is None and claim.by is None and claim.numbers == ()


def test_numbers_that_come_and_go(dossier: Dossier) -> None:
    new = moved({}, answer(1, 0.1), [], dossier, dossier)
    gone = moved(answer(1, 0.1), {}, [], dossier, dossier)
    assert "new" in new[0].words and "no longer given" in gone[0].words and new[0].by is None


# Drafts and revisions --------------------------------------------------------------------------------------


def test_a_draft_can_be_taken_back_until_it_is_sealed(dossier: Dossier) -> None:
    draft = forecasts.new_draft(dossier, text="Two flaps.", settles="the shown car, in May")
    assert draft.id == "forecast 1" and forecasts.new_draft(dossier).id == "forecast 2"
    dossier.undo()
    assert [d.id for d in forecasts.drafts(dossier)] == ["forecast 1"]
    with pytest.raises(UnusableInput, match="neither a probability nor a range"):
        forecasts.seal(dossier, draft.id)
    dossier.change(ForecastDraft, draft.id, probability=0.3, low=1.0)  # what is no part of an event is left out
    sealed = forecasts.seal(dossier, draft.id)
    assert (sealed.id, sealed.probability, sealed.low, sealed.settles) == (draft.id, 0.3, None, "the shown car, in May")
    assert forecasts.drafts(dossier) == [] and forecasts.problems(dossier) == []
    while dossier.undo() is not None:
        pass
    assert dossier.get(Forecast, draft.id) == sealed and forecasts.drafts(dossier) == []
    assert forecasts.new_draft(dossier).id == "forecast 2"


def test_nothing_said_is_not_sealed(dossier: Dossier) -> None:
    draft = forecasts.new_draft(dossier, text="  ", probability=0.5)
    with pytest.raises(UnusableInput, match="says nothing"):
        forecasts.seal(dossier, draft.id)
    assert [d.id for d in forecasts.drafts(dossier)] == [draft.id] and not dossier.all(Forecast)


def test_a_revision_stands_beside_what_was_said_first(dossier: Dossier) -> None:
    made(dossier)
    draft = forecasts.new_draft(dossier, revises="pump")
    assert (draft.text, draft.probability, draft.why) == ("There is one pump.", 0.8, "one seen")
    dossier.change(ForecastDraft, draft.id, probability=0.9, why="a second photograph")
    later = forecasts.seal(dossier, draft.id)
    assert later.revises == "pump" and dossier.get(Forecast, "pump").probability == 0.8
    with pytest.raises(UnusableInput, match="is revised"):
        forecasts.make(dossier, "again", "x", probability=0.1, revises="pump")
    for act in (
        lambda: forecasts.resolve(dossier, "pump", "seen", happened=True),
        lambda: forecasts.withdraw(dossier, "pump", "x"),
    ):
        with pytest.raises(UnusableInput, match="was revised"):
            act()
    forecasts.resolve(dossier, later.id, "seen on s1", happened=True)
    seen = {s.forecast.id: s for s in forecasts.all_of(dossier)}
    assert seen["pump"].state == "revised" and seen["pump"].score["brier"] == pytest.approx(0.04)
    record = forecasts.record(seen.values())  # the last one said counts, once; what the first would have given is told
    assert record.events == 1 and record.brier == pytest.approx(0.01) and record.first_said == pytest.approx(0.04)
    assert "As first said: 0.040" in record.sentence() and record.count("revised") == 1
    assert forecasts.problems(dossier) == []


def test_a_revision_stays_of_its_kind(dossier: Dossier) -> None:
    made(dossier)
    for fields in ({"probability": 0.5}, {"low": 600.0, "high": 640.0, "unit": "lb"}):
        with pytest.raises(UnusableInput, match="not of the same kind"):
            forecasts.make(dossier, "other", "Mass.", revises="mass", **fields)
    with pytest.raises(UnusableInput, match="there is no forecast"):
        forecasts.make(dossier, "other", "Mass.", revises="none such", probability=0.5)
    forecasts.withdraw(dossier, "wing", "badly put")
    with pytest.raises(UnusableInput, match="is withdrawn"):
        forecasts.make(dossier, "other", "Flaps.", revises="wing", probability=0.5)
