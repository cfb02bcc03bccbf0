"""Answers in plain types: made once from the same, made anew from anything else, and never from a broken file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from longlens.systems import kept_answers, user_cache
from longlens.systems.kept_answers import answered


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(user_cache.VARIABLE, str(tmp_path))
    return tmp_path / "kept"


class Made:
    """Counts how often it was asked."""

    def __init__(self, answer: Any) -> None:
        self.answer, self.times = answer, 0

    def __call__(self) -> Any:
        self.times += 1
        return self.answer


def test_an_answer_is_made_once_from_the_same_and_comes_back_as_it_was(cache: Path) -> None:
    made = Made({"b": [1.5, None, "–"], "a": {"": True}, "n": 10**18})
    first, second = (answered(["sheet", "aero", ["x"]], made) for _ in range(2))
    assert first == second == made.answer and list(first) == list(second) == ["b", "a", "n"] and made.times == 1
    assert answered(["sheet", "aero", ["y"]], made) == first and made.times == 2
    assert user_cache.kept().number == {"answer": 2}


def test_a_changed_program_makes_it_anew(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = Made(1)
    answered("a", made)
    monkeypatch.setattr(kept_answers, "_program", lambda: "another")
    answered("a", made)
    answered("a", made)
    assert made.times == 3, "nor is it kept by a program whose source was replaced meanwhile"
    assert user_cache.kept().number == {"answer": 1}


def test_what_fails_or_breaks_is_made_anew(cache: Path) -> None:
    def fails() -> Any:
        raise ZeroDivisionError

    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            answered("a", fails)
    made = Made("right")
    answered("a", made)
    (file,) = cache.iterdir()
    file.write_bytes(file.read_bytes().replace(b"right", b"wrong"))
    assert answered("a", made) == "right" and made.times == 2


def test_switched_off_it_is_made_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(user_cache.VARIABLE, "off")
    made = Made([1])
    assert answered("a", made) == answered("a", made) == [1] and made.times == 2
