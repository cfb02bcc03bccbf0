"""The surveys that are kept between runs, as a person sees them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Done


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
