"""Solved once: what is kept is what a fresh solve gives, for exactly what was asked, and for nobody else to write."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from longlens.dossier import exchange
from longlens.dossier.exchange import ExchangeDocument, read_exchange
from longlens.errors import NotSolvable
from longlens.survey import answer
from longlens.systems import kept_surveys, surveying, user_cache
from longlens.systems.survey_numbers import numbers_of
from tests.survey.cars import small

DRAWS = 200


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    return small(2, shots=3, pairs=8).document


@pytest.fixture
def document(plain: dict[str, Any]) -> ExchangeDocument:
    return read_exchange(plain)[0]


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of this test's own; its folder is not there yet."""
    monkeypatch.setenv(user_cache.VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache" / "kept"


@pytest.fixture
def solves(monkeypatch: pytest.MonkeyPatch) -> list[ExchangeDocument]:
    """What was really solved."""
    done: list[ExchangeDocument] = []
    real = answer.solve

    def counted(document: ExchangeDocument, **how: Any) -> answer.Solution:
        done.append(document)
        return real(document, **how)

    monkeypatch.setattr(answer, "solve", counted)
    return done


def files(folder: Path) -> list[Path]:
    return sorted(folder.iterdir()) if folder.is_dir() else []


def test_the_second_time_nothing_is_solved_and_all_is_the_same(
    document: ExchangeDocument, cache: Path, solves: list[ExchangeDocument]
) -> None:
    first = surveying.solve(document, draws=DRAWS)
    told: list[tuple[str, float]] = []
    second = surveying.solve(document, draws=DRAWS, progress=lambda what, part: told.append((what, part)))
    assert len(solves) == 1 and told == [("solved before", 1.0)]
    assert json.dumps(first.answer()) == json.dumps(second.answer())
    here, there = numbers_of(first), numbers_of(second)
    assert list(here) == list(there)
    for name, number in here.items():
        assert number.draws.tobytes() == there[name].draws.tobytes() and str(number) == str(there[name])
    found = surveying.recall(document, draws=DRAWS)
    assert found is not None and json.dumps(found.answer()) == json.dumps(first.answer())


def test_fresh_solves_anew_and_takes_the_place_of_what_was_kept(
    document: ExchangeDocument, cache: Path, solves: list[ExchangeDocument]
) -> None:
    surveying.solve(document, draws=DRAWS)
    (file,) = files(cache)
    before = file.read_bytes()
    file.write_bytes(before[:-1])
    surveying.solve(document, draws=DRAWS, fresh=True)
    assert len(solves) == 2 and [f.read_bytes() for f in files(cache)] == [before]


def test_a_refusal_is_kept_in_its_own_words(plain: dict[str, Any], cache: Path, solves: list[ExchangeDocument]) -> None:
    thin = read_exchange({**plain, "marks": plain["marks"][:3]})[0]
    said = []
    for _ in range(2):
        with pytest.raises(NotSolvable) as caught:
            surveying.solve(thin, draws=DRAWS)
        said.append((caught.value.what, caught.value.needs, caught.value.where, str(caught.value)))
    assert said[0] == said[1] and len(solves) == 1
    with pytest.raises(NotSolvable):
        surveying.recall(thin, draws=DRAWS)


def test_words_that_change_no_draw_are_taken_from_the_document_at_hand(
    plain: dict[str, Any], cache: Path, solves: list[ExchangeDocument]
) -> None:
    surveying.solve(read_exchange(plain)[0], draws=DRAWS)
    other = json.loads(json.dumps(plain))
    other["shots"][0] |= {"credit": "Ada Quill", "licence": "own", "date": "2026-05-01", "file": "a.jpg"}
    other["facts"][0]["source"] = "another press kit"
    other["marks"][0]["certainty"] = "partly seen"
    document = read_exchange(other)[0]
    found = surveying.solve(document, draws=DRAWS)
    assert len(solves) == 1 and found.net.document == document
    assert "another press kit" in json.dumps([n.as_json() for n in numbers_of(found).values()])
    assert json.dumps(found.answer()) == json.dumps(answer.solve(document, draws=DRAWS).answer())


def everything() -> dict[str, Any]:
    """A document in which every field of the exchange form stands."""
    return {
        "format": "longlens-exchange",
        "version": 1,
        "vehicle": {"name": "Fulmar E4"},
        "shots": [
            {"id": "s", "width": 6000, "height": 4000, "stance": "low", "camera": "c", "focal_px": 5000.0,
             "focal_sd_px": 50.0, "principal_px": [3000.0, 2000.0], "principal_sd_px": 9.0, "cropped": True,
             "file": "s.jpg", "credit": "A", "licence": "L", "date": "2026-01-01"},
            {"id": "t", "width": 6000, "height": 4000},
        ],
        "points": [{"id": p} for p in ("a", "b", "d", "e")]
        + [{"id": "l", "mirror": "r", "mirror_sd": 0.001}, {"id": "r"}, {"id": "g", "on": "ground"}],
        "circles": [{"id": "k", "centre": "a", "axis": "lateral", "axis_sd_deg": 2.0}, {"id": "q"}],
        "facts": [
            {"id": "f", "value": 2.0, "sd": 0.01, "unit": "m", "source": "kit", "distance": ["a", "b"], "along": "x"},
            {"id": "w", "value": 0.6, "sd": 0.0, "diameter": ["k"]},
            {"id": "p", "value": [0.0, 0.0, 1.0], "sd": 0.01, "position": "d"},
        ],
        "marks": [
            {"shot": "s", "sd_px": 2.0, "point": "a", "x": 1.0, "y": 2.0, "inferred": False, "certainty": "seen"},
            {"shot": "s", "sd_px": 2.0, "circle": "k", "edge": [[1.0, 2.0], [3.0, 4.0]]},
        ],
        "measures": [
            {"id": "m", "distance": ["a", "b"], "along": "y"},
            {"id": "n", "angle": ["a", "b", "d"]},
            {"id": "o", "ratio": ["m", "x"]},
            {"id": "x", "diameter": "k"},
            {"id": "u", "area": ["a", "b", "d"]},
            {"id": "v", "radius": ["a", "b", "d"]},
            {"id": "h", "height": "a"},
            {"id": "z", "rod_diameter": {"at": "a", "shot": "s", "edges": [[0.0, 0.0], [5.0, 0.0]], "sd_px": 2.0,
                                         "towards": "b"}},
            {"id": "y", "face_area": [["a", "b"], ["d", "e"]]},
            {"id": "i", "rise": ["a", "b"]},
            {"id": "j", "least_rise": ["a", "b", "d"]},
        ],
        "equal_lengths": [{"one": ["a", "b"], "other": ["d", "e"], "sd": 0.001, "why": "a rod"}],
    }  # fmt: skip


def changed(value: Any) -> Any:
    """Another value of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, float | int):
        return value + 1
    if isinstance(value, list):
        return [changed(value[0]), *value[1:]]
    if isinstance(value, dict):
        name = next(iter(value))
        return value | {name: changed(value[name])}
    return f"{value}2"


def test_every_field_of_the_exchange_form_is_either_in_the_key_or_a_word(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        kept_surveys, "write_exchange", lambda document: dict(document)
    )  # also what breaks the form's rules
    whole: Any = everything()
    parts = {
        "shots": exchange.Shot, "points": exchange.Point, "circles": exchange.Circle, "facts": exchange.Fact,
        "marks": exchange.Mark, "measures": exchange.Measure, "equal_lengths": exchange.EqualLength,
    }  # fmt: skip
    assert {*parts, "format", "version", "vehicle"} == set(ExchangeDocument.model_fields)
    start = kept_surveys.key_of(whole, 0, DRAWS)
    for name, model in parts.items():
        for field in model.model_fields:
            copy = json.loads(json.dumps(whole))
            item = next((item for item in copy[name] if field in item), None)
            assert item is not None, f"{name}.{field} does not stand in this test's document"
            item[field] = changed(item[field])
            same = kept_surveys.key_of(copy, 0, DRAWS) == start
            assert same == (field in kept_surveys.WORDS.get(name, ())), f"{name}.{field}"


def test_another_name_seed_number_of_draws_or_program_is_another_key(
    document: ExchangeDocument, monkeypatch: pytest.MonkeyPatch
) -> None:
    key = kept_surveys.key_of(document, 0, DRAWS)
    other = document.model_copy(update={"vehicle": exchange.Vehicle(name="another")})  # the draws' seed hangs on it
    keys = {key, kept_surveys.key_of(other, 0, DRAWS), kept_surveys.key_of(document, 1, DRAWS)}
    keys |= {kept_surveys.key_of(document, 0, DRAWS + 1)}
    monkeypatch.setattr(kept_surveys, "_program", lambda: "another")
    keys |= {kept_surveys.key_of(document, 0, DRAWS)}
    assert len(keys) == 5


def test_nothing_is_kept_by_a_program_whose_source_was_replaced_meanwhile(
    document: ExchangeDocument, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept_surveys.key_of(document, 0, DRAWS)  # the program is known as it was
    monkeypatch.setattr(kept_surveys, "_source", lambda: [Path(__file__)])
    kept_surveys.keep(document, 0, DRAWS, NotSolvable("x", needs=[]))
    assert files(cache) == []


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="modes and owners as POSIX has them")
def test_only_the_owner_can_read_and_write(document: ExchangeDocument, cache: Path) -> None:
    old = os.umask(0)
    try:
        kept_surveys.keep(document, 0, DRAWS, NotSolvable("x", needs=["y"]))
    finally:
        os.umask(old)
    (file,) = files(cache)
    assert cache.stat().st_mode & 0o777 == 0o700 and file.stat().st_mode & 0o777 == 0o600
    with pytest.raises(NotSolvable):
        kept_surveys.recall(document, 0, DRAWS)
    file.chmod(0o622)  # somebody else could have written it
    assert kept_surveys.recall(document, 0, DRAWS) is None
    file.chmod(0o600)
    file.rename(cache.parent / "elsewhere")
    file.symlink_to(cache.parent / "elsewhere")
    assert kept_surveys.recall(document, 0, DRAWS) is None


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="links as POSIX has them")
def test_a_folder_that_is_a_link_is_not_used(document: ExchangeDocument, cache: Path, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    cache.parent.mkdir()
    cache.symlink_to(tmp_path / "other")
    kept_surveys.keep(document, 0, DRAWS, NotSolvable("x", needs=[]))
    assert files(tmp_path / "other") == []
    assert user_cache.kept().folder == "" and "is not this user's own" in user_cache.kept().why


def test_broken_and_foreign_files_are_passed_over(
    document: ExchangeDocument, cache: Path, solves: list[ExchangeDocument]
) -> None:
    surveying.solve(document, draws=DRAWS)
    (file,) = files(cache)
    sound = file.read_bytes()
    flipped = bytearray(sound)
    flipped[len(sound) // 2] ^= 1
    for bad in (b"", b"not a survey", sound[:200], sound[:-1], sound + b"x", bytes(flipped)):
        file.write_bytes(bad)
        assert surveying.recall(document, draws=DRAWS) is None
    file.write_bytes(sound)
    other = kept_surveys.key_of(document, 5, DRAWS)  # a sound file under another's name
    file.rename(cache / f"{other}.survey")
    assert surveying.recall(document, seed=5, draws=DRAWS) is None
    surveying.solve(document, seed=5, draws=DRAWS)
    assert len(solves) == 2 and surveying.recall(document, seed=5, draws=DRAWS) is not None


def test_what_was_not_used_for_longest_goes_first(
    document: ExchangeDocument, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for seed in range(4):
        kept_surveys.keep(document, seed, DRAWS, NotSolvable("x" * 1000, needs=[]))
        os.utime(cache / f"{kept_surveys.key_of(document, seed, DRAWS)}.survey", (seed, seed))
    with pytest.raises(NotSolvable):
        kept_surveys.recall(document, 0, DRAWS)  # the oldest is used, and stays
    (cache / ".left_by_a_crash.part").write_bytes(b"x")
    os.utime(cache / ".left_by_a_crash.part", (0, 0))
    (cache / "somebody's.txt").write_text("stays")
    size = sum(f.stat().st_size for f in cache.glob("*.survey")) // 4
    monkeypatch.setattr(user_cache, "LIMIT", 3 * size + size // 2)
    monkeypatch.setattr(user_cache, "SHARE", 1)
    kept_surveys.keep(document, 4, DRAWS, NotSolvable("x" * 1000, needs=[]))
    left = {seed for seed in range(5) if (cache / f"{kept_surveys.key_of(document, seed, DRAWS)}.survey").exists()}
    assert left == {0, 3, 4}
    assert {f.name for f in files(cache) if f.suffix != ".survey"} == {"somebody's.txt"}
    assert user_cache.kept().number == {"survey": 3} and user_cache.empty() == 3
    assert [f.name for f in files(cache)] == ["somebody's.txt"]


def test_what_is_too_large_is_not_kept(
    document: ExchangeDocument, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(user_cache, "LIMIT", 1000)
    kept_surveys.keep(document, 0, DRAWS, NotSolvable("x" * 1000, needs=[]))
    assert files(cache) == []


@pytest.mark.parametrize("how", ["off", " OFF ", "a file", "no home"])
def test_without_a_folder_all_works_as_before(
    how: str, document: ExchangeDocument, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a file").write_text("")
    if how == "no home":
        monkeypatch.delenv(user_cache.VARIABLE)
        monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
        monkeypatch.setattr(Path, "home", no_home)
    else:
        monkeypatch.setenv(user_cache.VARIABLE, str(tmp_path / how) if how == "a file" else how)
    kept_surveys.keep(document, 0, DRAWS, NotSolvable("x", needs=[]))
    assert kept_surveys.recall(document, 0, DRAWS) is None
    assert user_cache.kept().number == {} and user_cache.empty() == 0


def no_home() -> Path:
    raise RuntimeError("could not determine the home folder")


def test_the_users_own_cache_is_where_the_system_keeps_caches(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """XDG Base Directory Specification 0.8: $XDG_CACHE_HOME if absolute, else $HOME/.cache."""
    monkeypatch.delenv(user_cache.VARIABLE)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    assert user_cache.kept().folder == str(tmp_path / ".cache" / "longlens" / "kept")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert user_cache.kept().folder == str(tmp_path / "xdg" / "longlens" / "kept")
    assert not (tmp_path / "xdg").exists()


def test_many_writers_and_readers_at_once_never_see_half_a_file(document: ExchangeDocument, cache: Path) -> None:
    found = answer.solve(document, draws=DRAWS)
    wanted = json.dumps(found.answer())

    def one(n: int) -> bool:
        if n % 2:
            kept_surveys.keep(document, 0, DRAWS, found)
            return True
        got = kept_surveys.recall(document, 0, DRAWS)
        return got is None or json.dumps(got.answer()) == wanted

    kept_surveys.keep(document, 0, DRAWS, found)
    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(one, range(40)))
    assert len(files(cache)) == 1


def test_another_process_finds_what_this_one_solved(document: ExchangeDocument, cache: Path, tmp_path: Path) -> None:
    first = surveying.solve(document, draws=DRAWS)
    (tmp_path / "car.json").write_text(json.dumps(exchange.write_exchange(document)))
    script = (
        "import sys, json, pathlib\n"
        "from longlens.dossier.exchange import read_exchange\n"
        "from longlens.systems.surveying import recall\n"
        "document = read_exchange(pathlib.Path(sys.argv[1]))[0]\n"
        f"print(json.dumps(recall(document, draws={DRAWS}).answer()))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "car.json")], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == json.dumps(first.answer())


def test_stances_that_contradict_each_other_are_solved_apart_from_what_is_kept_too(
    document: ExchangeDocument, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The coupled document is refused, the plain one solved, and each is kept under its own key."""
    from longlens.systems.suspension import stances

    names = [p.id for p in document.points][:4]
    tie = exchange.EqualLength(one=(names[0], names[1]), other=(names[2], names[3]))
    coupled = document.model_copy(update={"equal_lengths": [tie]})
    monkeypatch.setattr(stances, "couple", lambda doc: coupled)
    kept_surveys.keep(coupled, 0, DRAWS, NotSolvable("they contradict", needs=["another mark"]))
    assert surveying.recall(document, draws=DRAWS) is None
    first = surveying.solve(document, draws=DRAWS)
    second = surveying.recall(document, draws=DRAWS)
    assert second is not None and second.warnings == first.warnings
    assert sum("each was solved by itself" in w for w in second.warnings) == 1
