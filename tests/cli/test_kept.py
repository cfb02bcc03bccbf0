"""The surveys that are kept between runs, as a person sees them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from longlens.dossier.reading import canonical
from longlens.dossier.records import Mark, Point
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import document_hash, to_exchange
from tests.cli.conftest import Done
from tests.cli.little_car import TRACK


def test_a_survey_is_solved_once_for_all_commands(
    run: Callable[..., Done], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import longlens.survey.answer as survey

    monkeypatch.setenv("LONGLENS_CACHE", str(folder / "cache"))
    first = run("survey", "fulmar.json", "--json")
    assert first.status == 0 and run("kept", "--json").json["surveys"] == 1
    real, solved = survey.solve, []

    def counted(*args: object, **how: object) -> object:
        solved.append(args)
        return real(*args, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(survey, "solve", counted)
    assert run("survey", "fulmar.json", "--json").out == first.out and not solved
    run("import", "new.longlens", "fulmar.json")
    assert run("numbers", "new.longlens").status == 0 and not solved
    assert run("plan", "fulmar.json", "--for", "track").status == 0 and not solved
    assert run("survey", "fulmar.json", "--json", "--fresh").out == first.out and len(solved) == 1
    assert run("survey", "fulmar.json", "--json", "--seed", "3").out != first.out and len(solved) == 2
    thin = [run("survey", "thin.json", "--json") for _ in range(2)]
    assert thin[0].status == thin[1].status == 3 and thin[0].out == thin[1].out and len(solved) == 3


def test_numbers_come_from_the_last_survey_until_something_it_uses_changes(
    run: Callable[..., Done], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LONGLENS_CACHE", str(folder / "cache"))
    run("import", "car.longlens", "fulmar.json")
    first = run("numbers", "car.longlens")
    assert "solving" in first.err and "track" in first.out
    with Dossier.open(folder / "car.longlens") as d:
        d.change(Point, "nose", part="bumper")  # not of the survey
    second = run("numbers", "car.longlens")
    assert "solving" not in second.err and second.out == first.out
    with Dossier.open(folder / "car.longlens") as d:
        mark = d.get(Mark, d.ids(Mark)[0])
        d.change(Mark, mark.id, x=(mark.x or 0.0) + 3.0)
    assert "solving" in run("numbers", "car.longlens").err
    run("undo", "car.longlens")
    assert "solving" not in run("numbers", "car.longlens").err, "the answer to the earlier state was still there"


def test_an_answer_that_came_with_a_dossier_is_not_believed(
    run: Callable[..., Done], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What an earlier version kept in the dossier, or a stranger wrote there, under the right key."""
    monkeypatch.setenv("LONGLENS_CACHE", str(folder / "cache"))
    run("import", "car.longlens", "fulmar.json")
    with Dossier.open(folder / "car.longlens") as d:
        document = to_exchange(d)
        forged = {"solved": True, "sigma0": 1.0, "redundancy": 9, "shots": {}, "points": {}, "warnings": [],
                  "measures": {"track": {"value": 9.9, "sd": 0.1, "low95": 9.8, "high95": 10.0, "unit": "m"}}}  # fmt: skip
        d.keep_derived("survey answer", document_hash(document), canonical(forged).encode())
    (row,) = [r for r in run("numbers", "car.longlens", "--json").json["numbers"] if r["id"] == "track"]
    assert row["value"] == pytest.approx(TRACK, abs=0.01)
    run("brief", "car.longlens", "--to", "brief.html")
    text = (folder / "brief.html").read_text(encoding="utf-8")
    assert "9900" not in text and "9.9" not in text and "14" in text
    assert run("revisions", "car.longlens", "--since", "none").status == 2


def test_they_are_shown_and_emptied(run: Callable[..., Done], folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LONGLENS_CACHE", str(folder / "cache"))
    told = run("kept", "--json").json
    assert told["surveys"] == told["answers"] == told["bytes"] == 0 and told["last_used"] is None
    run("survey", "thin.json")
    told = run("kept", "--json").json
    assert told["surveys"] == 1 and 0 < told["bytes"] < told["limit_bytes"]
    assert told["last_used"].endswith("+00:00") and Path(told["folder"]) == folder / "cache" / "kept"
    assert run("kept").out.startswith("1 solved survey, 0 answers, 0 of at most 500 MB, in ")
    assert run("kept", "--empty").out.startswith("1 result removed from ")
    assert run("kept", "--json").json["surveys"] == 0
    monkeypatch.setenv("LONGLENS_CACHE", "off")
    assert run("kept").out == "nothing is kept: LONGLENS_CACHE is off\n"
    assert run("kept", "--json").json["folder"] is None
