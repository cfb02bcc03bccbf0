"""The film: frames that come out the same, timing, cues, refusals; killed and finished (the files are read by others in
tests/published)."""

from __future__ import annotations

import io
import wave
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from longlens.dossier.records import Measure
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.film.captions import cues
from longlens.publish.film.film import cues_of, plan_film
from longlens.publish.film.frames import SceneFrames
from longlens.publish.film.timing import Plan, eased, spoken_seconds
from longlens.publish.plates import Plate, Sequence
from tests.cli.conftest import Done


def test_a_move_starts_and_ends_softly() -> None:
    t = np.linspace(0, 1, 201)
    y = np.array([eased(x) for x in t])
    speed = np.gradient(y, t)
    assert y[0] == 0 and y[-1] == 1 and (np.diff(y) >= 0).all()
    assert (
        speed[0] < 0.02 and speed[-1] < 0.02 and abs(speed[100] - 1.875) < 0.01
    )  # 15/8 at the middle, by its derivative


def test_a_speaking_rate_gives_the_time() -> None:
    assert spoken_seconds("one two three four five six", 120) == pytest.approx(3.0)
    assert spoken_seconds("One, two. Three.", 180) == pytest.approx(1.0 + 0.15 + 2 * 0.35)


def test_everything_has_come_before_the_scene_ends() -> None:
    for steps in range(1, 12):
        plan = Plan(4.0 + 1.2 * steps, True, steps)
        begins = [plan.begins(k) for k in range(1, steps + 1)]
        assert begins == sorted(begins) and begins[0] >= plan.arrived and plan.ends(steps) < plan.seconds


def test_same_input_gives_the_same_frames_wherever_one_begins(opened: Callable[[], Dossier]) -> None:
    d = opened()
    first, second = (plan_film(d, "film") for _ in range(2))
    scene = first.scenes[1]
    assert [s.digest() for s in first.scenes] == [s.digest() for s in second.scenes]
    count = SceneFrames(scene, 0.25, 24).count
    whole = [f.copy() for f in SceneFrames(scene, 0.25, 24).between(0, count)]
    again = [f.copy() for f in SceneFrames(second.scenes[1], 0.25, 24).between(count // 2, count)]
    assert all(np.array_equal(a, b) for a, b in zip(whole[count // 2 :], again, strict=True))
    assert any(not np.array_equal(a, b) for a, b in pairwise(whole))


def test_the_last_frame_is_the_plate(opened: Callable[[], Dossier]) -> None:
    from longlens.publish.raster import paint

    scene = plan_film(opened(), "film").scenes[1]
    frame = SceneFrames(scene, 0.5, 24).last().astype(int)
    still = paint(scene.drawing, 0.5).astype(int)
    off = np.abs(frame - still).max(axis=2) > 8
    assert off.mean() < 0.004  # a later line may cross an earlier label, which on the plate lies above it


def test_the_eye_arrives_where_the_plate_looks(opened: Callable[[], Dossier]) -> None:
    """The frame just before the move ends is the plate's own picture, to a fraction of a pixel."""
    scene = plan_film(opened(), "film").scenes[2]
    frames = SceneFrames(scene, 0.5, 24)
    assert scene.start is not None
    end = frames._travelled(1.0).astype(int)
    assert np.abs(end - frames.plain.astype(int)).mean() < 4.0
    assert np.abs(frames._travelled(0.0).astype(int) - frames.plain.astype(int)).mean() > 8.0


def test_captions_hold_the_narration_in_order_and_time(opened: Callable[[], Dossier]) -> None:
    with opened() as d:
        film = plan_film(d, "film")
    found = cues_of(film)
    assert all(a.ends <= b.begins for a, b in pairwise(found))
    assert all(c.ends > c.begins and len(c.lines) <= 2 and all(len(x) <= 42 for x in c.lines) for c in found)
    said = " ".join(" ".join(c.lines) for c in found)
    assert said == " ".join(s.words.text for s in film.scenes if s.words.text)
    assert "mm" in said and "620.0 (617–623) kg" in said
    assert cues("", 0, 5) == []


def test_numbers_are_said_in_words(opened: Callable[[], Dossier]) -> None:
    from longlens.publish.film.script import script

    with opened() as d:
        text = script(plan_film(d, "film"))
    assert "about 620 kilograms, between 617 and 623" in text and "millimetres, between" in text


def test_a_voice_sets_the_times(run: Callable[..., Done], car: Path, tmp_path: Path) -> None:
    sound = io.BytesIO()
    with wave.open(sound, "wb") as w:
        w.setnchannels(1)
        w.setsampwidth(2)
        w.setframerate(8000)
        w.writeframes((3000 * np.sin(np.arange(8000 * 11) / 10)).astype("<i2").tobytes())
    (tmp_path / "voice.wav").write_bytes(sound.getvalue())
    done = run("film", car, "--voice", tmp_path / "voice.wav", "--cues", "0,6.5", "--plan", "--json")
    assert done.status == 0, done.err
    scenes = done.json["scenes"]
    assert scenes[1]["seconds"] == pytest.approx(6.5) and scenes[2]["seconds"] == pytest.approx(
        11 - 6.5 + 1.4, abs=0.05
    )
    wrong = run("film", car, "--cues", "5,1", "--plan")
    assert wrong.status == 2 and "does not come after" in wrong.err
    (tmp_path / "no.wav").write_bytes(b"not a sound")
    assert run("film", car, "--voice", tmp_path / "no.wav", "--plan").status == 2


def test_a_lost_number_stops_the_film_and_a_changed_one_is_told(run: Callable[..., Done], car: Path) -> None:
    with Dossier.open(car) as d:
        d.change(Sequence, "film", read={"measure:track": "1300 (1290–1310) mm", "fact:mass": "620.0 (617–623) kg"})
    done = run("film", car, "--plan")
    assert done.status == 0 and "read again: {measure:track} was 1300 (1290–1310) mm" in done.err
    with Dossier.open(car) as d:
        d.remove(Measure, "track")
    done = run("film", car, "--plan")
    assert done.status == 2 and "lost its basis" in done.err


def test_a_killed_film_was_finished(film_of_car: Path) -> None:
    assert film_of_car.exists()
    beside = {p.name for p in film_of_car.parent.iterdir()}
    assert {
        "film.vtt",
        "film.srt",
        "film.chapters.txt",
        "film.script.md",
        "film.shots.csv",
        "film.poster.jpg",
    } <= beside


def test_a_sequence_needs_its_plates(opened: Callable[[], Dossier]) -> None:
    with opened() as d:
        d.remove(Plate, "side")
        with pytest.raises(UnusableInput, match="no plate 'side'"):
            plan_film(d, "film")


@pytest.mark.parametrize("style", ["wide", "square", "tall"])
def test_every_shape_can_be_filmed(opened: Callable[[], Dossier], style: str) -> None:
    film = plan_film(opened(), "film", style=style)
    for scene in film.scenes:
        frames = SceneFrames(scene, 0.25, 10)
        seen = list(frames.between(0, frames.count))
        assert {f.shape for f in seen} == {(*frames.shape, 3)} and frames.shape[0] % 2 == frames.shape[1] % 2 == 0
        assert seen[-1].std() > 5
