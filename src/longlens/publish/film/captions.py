"""Captions: the narration cut into readable pieces with their times, as WebVTT and SRT; chapters as text.

At most two lines of 42 letters and about 17 letters a second (common practice of subtitling, no source); WebVTT after the W3C's
"WebVTT: The Web Video Text Tracks Format".
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from longlens.publish.film.timing import AFTER_WORDS, BEFORE_WORDS

LINE, LINES = 42, 2


@dataclass(frozen=True)
class Cue:
    """One caption, s."""

    begins: float
    ends: float
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Chapter:
    """A chapter's beginning, s."""

    begins: float
    ends: float
    title: str


def cues(text: str, begins: float, seconds: float) -> list[Cue]:
    """A scene's narration as captions, spread over its time by their length."""
    pieces = _pieces(text)
    if not pieces:
        return []
    start = begins + BEFORE_WORDS
    room = max(seconds - BEFORE_WORDS - AFTER_WORDS * 0.6, 0.4 * seconds)
    whole = sum(len(" ".join(p)) + 8 for p in pieces)
    out, at = [], start
    for piece in pieces:
        length = room * (len(" ".join(piece)) + 8) / whole
        out.append(Cue(at, at + length - 0.04, tuple(piece)))
        at += length
    return out


def _pieces(text: str) -> list[list[str]]:
    """The text in captions of two lines, ending at sentences where they fit."""
    out: list[list[str]] = []
    for sentence in re.split(r"(?<=[.!?])\s+", " ".join(text.split())):
        lines = _lines(sentence)
        for k in range(0, len(lines), LINES):
            out.append(lines[k : k + LINES])
    return [p for p in out if p]


def _lines(sentence: str) -> list[str]:
    lines: list[str] = []
    for word in sentence.split(" "):
        if lines and len(lines[-1]) + 1 + len(word) <= LINE:
            lines[-1] += " " + word
        elif word:
            lines.append(word)
    return lines


def _clock(t: float, mark: str) -> str:
    ms = max(round(t * 1000), 0)
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}{mark}{ms % 1000:03d}"


def webvtt(all_cues: Iterable[Cue]) -> str:
    """A WebVTT file. Its three special characters are escaped."""
    blocks = ["WEBVTT\n"]
    for n, c in enumerate(all_cues, 1):
        text = "\n".join(line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") for line in c.lines)
        blocks.append(f"{n}\n{_clock(c.begins, '.')} --> {_clock(c.ends, '.')}\n{text}\n")
    return "\n".join(blocks)


def srt(all_cues: Iterable[Cue]) -> str:
    """A SubRip file."""
    return "\n".join(
        f"{n}\n{_clock(c.begins, ',')} --> {_clock(c.ends, ',')}\n" + "\n".join(c.lines) + "\n"
        for n, c in enumerate(all_cues, 1)
    )


def chapter_text(chapters: Iterable[Chapter]) -> str:
    """``0:00 Title`` lines, as players and video sites read them."""
    return "".join(f"{int(c.begins) // 60}:{int(c.begins) % 60:02d} {' '.join(c.title.split())}\n" for c in chapters)
