"""Captions read by webvtt-py (PyPI), an independent parser of the W3C's WebVTT and of SubRip."""

from __future__ import annotations

from html import unescape
from itertools import pairwise
from pathlib import Path

import pytest
import webvtt

from longlens.publish.film.captions import Chapter, Cue, chapter_text, srt
from longlens.publish.film.captions import webvtt as write_webvtt

pytestmark = pytest.mark.published


def test_a_films_captions_are_read(film_of_car: Path) -> None:
    vtt = webvtt.read(str(film_of_car.with_suffix(".vtt")))
    sub = webvtt.from_srt(str(film_of_car.with_suffix(".srt")))
    assert len(vtt) == len(sub) >= 3
    assert [unescape(c.text) for c in vtt] == [c.text for c in sub]  # SubRip has no escapes
    assert [(c.start, c.end) for c in vtt] == [(c.start, c.end) for c in sub]
    assert all(a.end_in_seconds <= b.start_in_seconds for a, b in pairwise(vtt))
    said = " ".join(c.text.replace("\n", " ") for c in vtt)
    assert "The track is" in said and "620.0 (617–623) kg" in said


def test_special_characters_and_long_times(tmp_path: Path) -> None:
    cues = [Cue(3599.9996, 3605.25, ("a < b & c > d", "second line")), Cue(7384.5, 7385.0, ("end",))]
    path = tmp_path / "x.vtt"
    path.write_text(write_webvtt(cues), encoding="utf-8")
    first, second = webvtt.read(str(path))
    assert first.raw_text == "a &lt; b &amp; c &gt; d\nsecond line"  # as the standard's section 4 asks
    assert first.start == "01:00:00.000" and second.start == "02:03:04.500"
    (tmp_path / "x.srt").write_text(srt(cues), encoding="utf-8")
    assert webvtt.from_srt(str(tmp_path / "x.srt"))[1].end == "02:03:05.000"


def test_chapters_as_text() -> None:
    assert chapter_text([Chapter(0, 61, "One"), Chapter(61.7, 90, "Two\nlines")]) == "0:00 One\n1:01 Two lines\n"
