"""What is said and what is shown: a script to read aloud, and the list of shots."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping

from longlens.dossier.records import Shot
from longlens.publish.film.scenes import Film


def _clock(t: float) -> str:
    return f"{int(t) // 60}:{int(t) % 60:02d}"


def script(film: Film) -> str:
    """The narration to read aloud, numbers as they are said; a number that has changed since is marked."""
    out = [
        f"# {film.sequence.title}",
        "",
        f"{_clock(film.seconds)} minutes, {film.sequence.words_per_minute:g} words a minute.",
        "",
    ]
    for n, scene in enumerate(film.scenes, 1):
        out += [f"## {n}. {_clock(scene.begins)} {scene.chapter}", ""]
        out += [f"*Picture: {scene.drawing.title or scene.name}, {scene.seconds:.1f} s*", ""]
        if scene.words.spoken:
            out += [scene.words.spoken, ""]
        out += [f"> To read again: {ref} was {old}, now {new}" for ref, old, new in scene.words.changed]
        out += [""] if scene.words.changed else []
    return "\n".join(out).rstrip() + "\n"


def shot_list(film: Film, shots: Mapping[str, Shot]) -> str:
    """A table (CSV) of what is on the screen when: photograph, credit, licence."""
    buffer = io.StringIO()
    table = csv.writer(buffer, lineterminator="\n")
    table.writerow(("scene", "from", "to", "plate", "title", "photograph", "credit", "licence", "date"))
    plates = [None, *film.composed, None]
    for n, (scene, made) in enumerate(zip(film.scenes, plates, strict=False), 1):
        times = (f"{scene.begins:.2f}", f"{scene.begins + scene.seconds:.2f}")
        rows = [shots[s] for s in made.shots if s in shots] if made is not None else []
        what = [(s.id, s.credit or "", s.licence or "", s.date or "") for s in rows] or [("", "", "", "")]
        for one in what:
            table.writerow((n, *times, scene.name, scene.drawing.title, *one))
    return buffer.getvalue()
