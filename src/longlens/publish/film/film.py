"""A film from a sequence: pieces, one file, captions, chapters, poster, script and shot list."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from longlens.dossier.records import Shot
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.basis import Bases
from longlens.publish.drawing import Array
from longlens.publish.film import captions
from longlens.publish.film.encode import encode, join, piece_name, sound_seconds
from longlens.publish.film.frames import SceneFrames, frames_between
from longlens.publish.film.scenes import Film, film_of
from longlens.publish.film.script import script, shot_list
from longlens.publish.plates import Sequence
from longlens.publish.whole import folder, write_whole

#: Longest piece, s: what is lost at most when a film is stopped.
PIECE = 6.0
SIZES = {"1080p": 1.0, "4K": 2.0, "540p": 0.5}
Progress = Callable[[str, float], None]


@dataclass
class Made:
    """What came out: files, length, how many pieces were there already."""

    film: Film
    files: list[Path] = field(default_factory=list)
    seconds: float = 0.0
    frames: int = 0
    pieces: int = 0
    kept: int = 0


def plan_film(
    dossier: Dossier, sequence: str, *, style: str = "wide", draft: bool = False, bases: Bases | None = None
) -> Film:
    """The film's scenes with their times, before anything is painted. Raises UnusableInput when words lost their basis."""
    bases = bases or Bases(dossier)
    record = dossier.get(Sequence, sequence)
    voice = dossier.original(record.voice) if record.voice else None
    film = film_of(bases, record, style=style, draft=draft, voice=sound_seconds(voice) if voice else None)
    if film.lost:
        ref, why = film.lost[0]
        more = f", and {len(film.lost) - 1} more" if len(film.lost) > 1 else ""
        raise UnusableInput(
            f"the words name {{{ref}}}, which has lost its basis{more}: {why}", where=f"sequence {sequence!r}",
            fix="look at it: give it a basis again, or take it out of the words",
        )  # fmt: skip
    return film


def make_film(
    dossier: Dossier,
    sequence: str,
    to: Path,
    *,
    size: str = "1080p",
    fps: int = 30,
    style: str = "wide",
    draft: bool = False,
    bases: Bases | None = None,
    progress: Progress | None = None,
) -> Made:
    """Make a film, or go on with one that was stopped.

    Parameters
    ----------
    to : the MP4 file; captions and the rest stand beside it under its name.
    size : ``1080p``, ``4K`` (twice as fine) or ``540p`` (a quick look).
    fps : 30 or 60.

    Raises
    ------
    UnusableInput : a photograph may not be shown, words lost their basis, the folder cannot be written.
    """
    if size not in SIZES:
        raise UnusableInput(f"there is no size {size!r}", fix=f"choose one of: {', '.join(SIZES)}")
    if fps not in (24, 25, 30, 50, 60):
        raise UnusableInput(f"{fps} frames a second are not made", fix="take 24, 25, 30, 50 or 60")
    tell = progress or (lambda what, part: None)
    tell("planning", 0.0)
    film = plan_film(dossier, sequence, style=style, draft=draft, bases=bases)
    folder(to.parent)
    work = folder(to.with_name(f".{to.name}.pieces"))
    made = Made(film, seconds=film.seconds)
    pieces = _pieces(film, SIZES[size], fps, work, made, tell)
    chapters = chapters_of(film)
    voice = dossier.original(film.sequence.voice) if film.sequence.voice else None
    tell("putting the pieces together", 0.97)
    join(pieces, fps, to, chapters=chapters, title=film.sequence.title, voice=voice, voice_starts=film.voice_starts)
    made.files.append(to)
    _beside(film, dossier, to, chapters, made, SIZES[size])
    for old in work.glob("*"):
        old.unlink()
    work.rmdir()
    tell("done", 1.0)
    return made


def _pieces(film: Film, scale: float, fps: int, work: Path, made: Made, tell: Progress) -> list[tuple[Path, int]]:
    """All pieces, made where they are not there yet. Frames are painted only for those that are not."""
    wanted: list[tuple[int, int, int, Path]] = []
    before = ""
    for k, scene in enumerate(film.scenes):
        digest = scene.digest()
        count = frames_between(scene.begins, scene.begins + scene.seconds, fps)
        step = max(round(PIECE * fps), 1)
        for first in range(0, count, step):
            end = min(first + step, count)
            if count - end < fps:  # no crumbs
                end = count
            wanted.append(
                (k, first, end, work / piece_name(digest, before if first == 0 else "", scale, fps, first, end))
            )
            if end == count:
                break
        before = digest
    for old in work.glob("*"):
        if old not in {w[3] for w in wanted}:
            old.unlink()
    made.pieces, made.kept = len(wanted), sum(w[3].exists() for w in wanted)
    made.frames = sum(end - first for _, first, end, _ in wanted)
    painter = _Painter(film, scale, fps)
    done = 0
    for k, first, end, path in wanted:
        tell(f"scene {k + 1} of {len(film.scenes)}", 0.95 * done / made.frames)
        if not path.exists():
            frames = painter.of(k)
            size = (frames.shape[1], frames.shape[0])
            encode(_told(frames.between(first, end), tell, k, done, made.frames, len(film.scenes)), size, fps, path)
        done += end - first
    return [(path, end - first) for _, first, end, path in wanted]


def _told(frames: Iterator[Array], tell: Progress, k: int, done: int, whole: int, scenes: int) -> Iterator[Array]:
    for i, frame in enumerate(frames):
        if i % 15 == 0:
            tell(f"scene {k + 1} of {scenes}", 0.95 * (done + i) / whole)
        yield frame


class _Painter:
    """The frames of one scene at a time; the last frame of the scene before is kept for the fade."""

    def __init__(self, film: Film, scale: float, fps: int) -> None:
        self.film, self.scale, self.fps = film, scale, fps
        self.k = -1
        self.frames: SceneFrames | None = None

    def of(self, k: int) -> SceneFrames:
        if self.k == k and self.frames is not None:
            return self.frames
        before = None
        if k > 0:
            one = (
                self.frames
                if self.k == k - 1 and self.frames
                else SceneFrames(self.film.scenes[k - 1], self.scale, self.fps)
            )
            before = one.last()
            self.frames = None
        self.frames, self.k = SceneFrames(self.film.scenes[k], self.scale, self.fps, before), k
        return self.frames


def chapters_of(film: Film) -> list[captions.Chapter]:
    """A chapter for every scene that begins one; scenes of the same chapter in a row are one."""
    out: list[captions.Chapter] = []
    for scene in film.scenes:
        if out and scene.chapter == out[-1].title:
            out[-1] = captions.Chapter(out[-1].begins, scene.begins + scene.seconds, out[-1].title)
        else:
            out.append(captions.Chapter(scene.begins, scene.begins + scene.seconds, scene.chapter))
    return out


def cues_of(film: Film) -> list[captions.Cue]:
    """All captions of a film."""
    return [c for s in film.scenes if s.words.text for c in captions.cues(s.words.text, s.begins, s.seconds)]


def _beside(film: Film, dossier: Dossier, to: Path, chapters: list[captions.Chapter], made: Made, scale: float) -> None:
    cues = cues_of(film)
    shots = {s.id: s for s in dossier.all(Shot)}
    for suffix, text in (
        (".vtt", captions.webvtt(cues)),
        (".srt", captions.srt(cues)),
        (".chapters.txt", captions.chapter_text(chapters)),
        (".script.md", script(film)),
        (".shots.csv", shot_list(film, shots)),
    ):
        path = to.with_suffix(suffix)
        write_whole(path, text)
        made.files.append(path)
    poster = to.with_suffix(".poster.jpg")
    write_whole(poster, poster_jpeg(film, scale))
    made.files.append(poster)


def poster_jpeg(film: Film, scale: float) -> bytes:
    """The title's picture as a JPEG."""
    import cv2

    from longlens.publish.raster import paint

    scene = next((s for s in film.scenes if s.poster), film.scenes[0])
    pixels = paint(scene.drawing, scale)
    ok, data = cv2.imencode(".jpg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 90])
    assert ok
    return data.tobytes()
