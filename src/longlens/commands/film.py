"""``longlens film``: a sequence of plates as a film, with captions and chapters."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, progress, say, tell


class Size(StrEnum):
    """How fine the film is."""

    quick = "540p"
    hd = "1080p"
    uhd = "4K"


class Shape(StrEnum):
    """The shape of the film."""

    wide = "wide"
    square = "square"
    tall = "tall"


def film(
    path: DossierFile,
    to: Annotated[Path | None, typer.Option("--to", help="The MP4 file. Default: beside the dossier.")] = None,
    sequence: Annotated[str | None, typer.Option("--sequence", help="Which sequence, where there are several.")] = None,
    size: Annotated[Size, typer.Option("--size", help="540p is for a quick look.")] = Size.hd,
    fps: Annotated[int, typer.Option("--fps", help="Frames a second: 24, 25, 30, 50 or 60.")] = 30,
    shape: Annotated[Shape, typer.Option("--shape", help="wide (16:9), square or tall (9:16).")] = Shape.wide,
    voice: Annotated[
        Path | None, typer.Option("--voice", help="A sound file with the narration; kept in the dossier with the cues.")
    ] = None,
    cues: Annotated[
        str | None, typer.Option("--cues", help="When each stop's words begin in the voice file, s: 0,12.4,30.1 …")
    ] = None,
    draft: Annotated[bool, typer.Option("--draft", help="Show photographs that may not go out yet, marked.")] = False,
    plan: Annotated[bool, typer.Option("--plan", help="Only say what it would be: scenes and times.")] = False,
    as_json: Json = False,
) -> None:
    """Make a film of a sequence: H.264 in MP4 with chapters, captions (WebVTT and SRT), poster, script and shot list.

    A film that was stopped goes on where it was when the same command is given again.
    """
    from longlens.publish.film.film import make_film, plan_film

    to = to or path.with_suffix(".mp4")
    with opened(path) as dossier:
        name = _which(dossier, sequence)
        if voice is not None or cues is not None:
            _keep_voice(dossier, name, voice, cues)
        if plan:
            found = plan_film(dossier, name, style=shape.value, draft=draft)
            scenes: list[dict[str, Any]] = [
                {"plate": s.name, "begins": round(s.begins, 2), "seconds": round(s.seconds, 2)} for s in found.scenes
            ]
            _again(found.changed)
            if as_json:
                emit({"seconds": round(found.seconds, 2), "scenes": scenes})
            else:
                tell(f"{name}: {_clock(found.seconds)}, {len(scenes)} scenes")
                tell(*(f"    {_clock(s['begins'])}  {s['plate']}, {s['seconds']:.1f} s" for s in scenes))
            return
        with progress() as show:
            made = make_film(dossier, name, to, size=size.value, fps=fps, style=shape.value, draft=draft, progress=show)
    _again(made.film.changed)
    say(*made.film.notes)
    if as_json:
        emit({"files": [str(f) for f in made.files], "seconds": made.seconds, "frames": made.frames, "pieces": made.pieces,
              "pieces_kept": made.kept})  # fmt: skip
        return
    kept = f", {made.kept} of {made.pieces} pieces were there already" if made.kept else ""
    tell(f"{to}: {_clock(made.seconds)}, {made.frames} frames{kept}")
    for file in made.files[1:]:
        tell(f"    {file.name}")


def _again(changed: list[tuple[str, str, str]]) -> None:
    for ref, old, new in changed:
        say(f"read again: {{{ref}}} was {old}, is now {new}")


def _clock(t: float) -> str:
    return f"{int(t) // 60}:{int(t) % 60:02d}"


def _which(dossier: Any, wanted: str | None) -> str:
    from longlens.errors import UnusableInput
    from longlens.publish.plates import Sequence

    if wanted is not None:
        return dossier.get(Sequence, wanted).id
    ids = dossier.ids(Sequence)
    if not ids:
        raise UnusableInput("there is no sequence to film", fix="put plates in order first (longlens studio, Publish)")
    if len(ids) > 1:
        raise UnusableInput(f"there are several sequences: {', '.join(ids)}", fix="say which with --sequence")
    return ids[0]


def _keep_voice(dossier: Any, name: str, voice: Path | None, cues: str | None) -> None:
    """The voice file's bytes and the cue times into the dossier, as one step."""
    from longlens.dossier.photographs import read_file
    from longlens.errors import UnusableInput
    from longlens.publish.film.encode import sound_seconds
    from longlens.publish.plates import Sequence

    record = dossier.get(Sequence, name)
    changes: dict[str, Any] = {}
    with dossier.batch(f"voice of {name}"):
        if voice is not None:
            data = read_file(voice)
            sound_seconds(data)
            changes["voice"] = dossier.keep_original(data)
        if cues is not None:
            try:
                times = [float(t) for t in cues.split(",")]
            except ValueError:
                raise UnusableInput(
                    f"{cues!r} is no list of times", where="--cues", fix="write seconds with commas"
                ) from None
            if len(times) != len(record.stops):
                raise UnusableInput(
                    f"{len(times)} cue times for {len(record.stops)} stops",
                    where="--cues",
                    fix="give one for every stop",
                )
            stops = [{**s.model_dump(exclude_none=True), "cue": t} for s, t in zip(record.stops, times, strict=True)]
            changes["stops"] = stops
        dossier.change(Sequence, name, **changes)


def attach(app: typer.Typer) -> None:
    app.command("film")(film)
