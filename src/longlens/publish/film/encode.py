"""Frames to H.264 in pieces, and pieces to one MP4 file with sound and chapters.

A piece is kept under the hash of all that it depends on, so that a film that was stopped goes on where it was; the film stands
under its own name only when it is whole.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import os
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from longlens.errors import UnusableInput
from longlens.publish.drawing import Array
from longlens.publish.film.captions import Chapter

if TYPE_CHECKING:
    from av.container import OutputContainer

#: Settings of the encoder: a quality at which hatched surfaces stay clean, at a speed above real time on two cores.
OPTIONS = {
    "preset": "veryfast",
    "crf": "20",
    "x264-params": "keyint=300:colorprim=bt709:transfer=bt709:colormatrix=bt709",
}
VERSION = 2
CLOCK = 90_000


def encode(frames: Iterable[Array], size: tuple[int, int], fps: int, to: Path) -> int:
    """Encode frames (h, w, 3) RGB into a file of its own; returns their count. Under its name only when whole."""
    import av

    part = to.with_name(f".{to.name}.part")
    count = 0
    with av.open(str(part), "w", format="mp4") as out:
        stream: Any = out.add_stream("libx264", rate=fps, options=dict(OPTIONS))
        stream.width, stream.height, stream.pix_fmt = size[0], size[1], "yuv420p"
        context = stream.codec_context
        context.time_base = Fraction(1, fps)
        context.color_primaries, context.color_trc, context.colorspace, context.color_range = 1, 1, 1, 1
        last: Array | None = None
        made: Any = None
        for pixels in frames:
            if pixels is not last or made is None:
                made, last = picture(pixels), pixels
            made.pts = count
            made.time_base = Fraction(1, fps)
            for packet in stream.encode(made):
                out.mux(packet)
            count += 1
        for packet in stream.encode(None):
            out.mux(packet)
        del stream, context
    gc.collect()  # an encoder at 4K holds 0.6 GB: it goes before the next one comes
    os.replace(part, to)
    return count


def picture(pixels: Array) -> Any:
    """A frame of RGB bytes as the encoder wants it: 4:2:0, BT.709, limited range."""
    import av

    frame = av.VideoFrame.from_ndarray(pixels, format="rgb24")
    return frame.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")


def piece_name(*parts: object) -> str:
    """The name of a piece: hash of all it depends on."""
    return (
        hashlib.sha256("|".join(map(str, (VERSION, sorted(OPTIONS.items()), *parts))).encode()).hexdigest()[:32]
        + ".mp4"
    )


def join(
    pieces: Sequence[tuple[Path, int]],
    fps: int,
    to: Path,
    *,
    chapters: Sequence[Chapter] = (),
    title: str = "",
    voice: bytes | None = None,
    voice_starts: float = 0.0,
) -> None:
    """Put pieces (file, count of frames) together without encoding again, with sound and chapters.

    Raises UnusableInput when the voice cannot be read or the file not be written.
    """
    import av

    part = to.with_name(f".{to.name}.part")
    try:
        with av.open(str(part), "w", format="mp4", options={"movflags": "+faststart"}) as out:
            with av.open(str(pieces[0][0])) as first:
                video: Any = out.add_stream_from_template(first.streams.video[0])
            video.time_base = Fraction(1, CLOCK)
            sound = _Sound(out, voice, voice_starts) if voice is not None else None
            out.metadata["title"] = title
            out.set_chapters([
                {"id": n, "start": round(c.begins * 1000), "end": round(c.ends * 1000), "time_base": Fraction(1, 1000),
                 "metadata": {"title": c.title}}
                for n, c in enumerate(chapters)
            ])  # fmt: skip
            done = 0
            for path, count in pieces:
                _append(out, video, path, done, fps)
                done += count
                if sound is not None:
                    sound.until(done / fps)
            if sound is not None:
                sound.finish(done / fps)
        with part.open("rb+") as f:
            os.fsync(f.fileno())
        os.replace(part, to)
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        why = error.strerror or str(error)
        raise UnusableInput(f"cannot be written ({why})", where=str(to), fix="check the folder and its space") from None


def _append(out: OutputContainer, video: Any, path: Path, done: int, fps: int) -> None:
    import av

    step = Fraction(CLOCK, fps)
    with av.open(str(path)) as piece:
        for packet in piece.demux(piece.streams.video[0]):
            if packet.dts is None or packet.pts is None:
                continue
            base = packet.time_base
            packet.pts = int((round(packet.pts * base * fps) + done) * step)
            packet.dts = int((round(packet.dts * base * fps) + done) * step)
            packet.duration = int(step)
            packet.time_base = Fraction(1, CLOCK)
            packet.stream = video
            out.mux(packet)


class _Sound:
    """The voice as AAC, put in as the pictures go on; silence before its beginning."""

    RATE = 48_000

    def __init__(self, out: OutputContainer, data: bytes, starts: float) -> None:
        self.out = out
        self.stream: Any = out.add_stream("aac", rate=self.RATE, options={"b": "160000"})
        self.stream.layout = "stereo"
        self.frames = _sound_frames(data, self.RATE)
        self.shift = round(starts * self.RATE)
        self.at = 0

    def until(self, seconds: float) -> None:
        import numpy as np

        while self.at < self.shift and self.at < seconds * self.RATE:
            n = min(1024, self.shift - self.at)
            self._encode(np.zeros((2, n), np.float32))
        while self.at < seconds * self.RATE:
            got = next(self.frames, None)
            if got is None:
                return
            self._encode(got)

    def _encode(self, samples: Array) -> None:
        import av

        frame: Any = av.AudioFrame.from_ndarray(samples, format="fltp", layout="stereo")
        frame.sample_rate, frame.pts, frame.time_base = self.RATE, self.at, Fraction(1, self.RATE)
        self.at += samples.shape[1]
        for packet in self.stream.encode(frame):
            self.out.mux(packet)

    def finish(self, seconds: float) -> None:
        self.until(seconds)
        for packet in self.stream.encode(None):
            self.out.mux(packet)


def _sound_frames(data: bytes, rate: int) -> Any:
    """Samples (2, n) of a sound file, 48 kHz floats."""
    import av

    with _sound(data) as source:
        sampler = av.AudioResampler(format="fltp", layout="stereo", rate=rate)
        for frame in source.decode(source.streams.audio[0]):
            for one in sampler.resample(frame):
                yield one.to_ndarray()
        for one in sampler.resample(None):
            yield one.to_ndarray()


def _sound(data: bytes) -> Any:
    import io

    import av
    from av.error import FFmpegError

    try:
        source = av.open(io.BytesIO(data))
    except FFmpegError:
        raise UnusableInput(
            "cannot be read as sound", where="the voice file", fix="give WAV, MP3, M4A, FLAC or Ogg"
        ) from None
    if not source.streams.audio:
        source.close()
        raise UnusableInput("has no sound in it", where="the voice file", fix="give WAV, MP3, M4A, FLAC or Ogg")
    return source


def sound_seconds(data: bytes) -> float:
    """Length of a sound file, s. Raises UnusableInput."""
    return sum(samples.shape[1] for samples in _sound_frames(data, 48_000)) / 48_000
