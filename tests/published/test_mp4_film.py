"""The film read by MediaInfo's library (pymediainfo, PyPI): streams, colours, length, chapters; and decoded frame by frame."""

from __future__ import annotations

import io
import wave
from pathlib import Path

import numpy as np
import pytest

pytestmark = pytest.mark.published


def test_streams_length_and_chapters(film_of_car: Path) -> None:
    from pymediainfo import MediaInfo

    info = MediaInfo.parse(film_of_car)
    general, (video,) = info.general_tracks[0], info.video_tracks
    assert general.format == "MPEG-4" and general.title == "A small film"
    assert int(general.headersize) < int(general.datasize) and int(general.footersize) == 0  # the index stands in front
    assert video.format == "AVC" and (video.width, video.height) == (960, 540)
    assert float(video.frame_rate) == 24 and video.frame_rate_mode == "CFR"
    assert (
        video.chroma_subsampling == "4:2:0" and video.matrix_coefficients == "BT.709" and video.color_range == "Limited"
    )
    seconds = int(video.frame_count) / 24
    assert general.duration / 1000 == pytest.approx(seconds, abs=0.05)
    said = " ".join(str(v) for menu in info.menu_tracks for v in menu.to_data().values())
    for name in ("A small film", "Track", "Side", "Credits"):
        assert name in said


def test_every_frame_is_there_once_and_in_order(film_of_car: Path) -> None:
    import av

    with av.open(str(film_of_car)) as film:
        stream = film.streams.video[0]
        times = [float(f.time) for f in film.decode(stream) if f.time is not None]
        assert len(times) == stream.frames
    assert np.allclose(np.diff(times), 1 / 24, atol=1e-4) and times[0] == pytest.approx(0, abs=1e-6)
    lines = film_of_car.with_suffix(".chapters.txt").read_text(encoding="utf-8").splitlines()
    assert [x.partition(" ")[2] for x in lines] == ["A small film", "Track", "Side", "Credits"]


def test_a_voice_is_heard_where_its_cue_is(tmp_path: Path) -> None:
    """A tone that begins after 1 s of a voice which begins 0.5 s into the film is heard at 1.5 s."""
    import av

    from longlens.publish.film.encode import encode, join

    rate = 16_000
    tone = np.concatenate([np.zeros(rate), 0.5 * np.sin(2 * np.pi * 440 * np.arange(rate) / rate)])
    sound = io.BytesIO()
    with wave.open(sound, "wb") as w:
        w.setnchannels(1)
        w.setsampwidth(2)
        w.setframerate(rate)
        w.writeframes((tone * 32767).astype("<i2").tobytes())
    grey = np.full((90, 160, 3), 90, np.uint8)
    for k, n in enumerate((30, 45)):
        encode((grey + 40 * k for _ in range(n)), (160, 90), 25, tmp_path / f"{k}.mp4")
    to = tmp_path / "film.mp4"
    join([(tmp_path / "0.mp4", 30), (tmp_path / "1.mp4", 45)], 25, to, voice=sound.getvalue(), voice_starts=0.5)
    with av.open(str(to)) as film:
        assert film.streams.video[0].frames == 75
        parts = [f.to_ndarray()[0] for f in film.decode(film.streams.audio[0])]
        heard = np.abs(np.concatenate(parts)) > 0.1
    assert np.argmax(heard) / 48_000 == pytest.approx(1.5, abs=0.06)
    with av.open(str(to)) as film:
        levels = [f.to_ndarray(format="gray").mean() for f in film.decode(film.streams.video[0])]
    assert abs(levels[29] - levels[0]) < 2 and levels[30] - levels[29] > 20
