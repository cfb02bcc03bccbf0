"""The letters of plates and film: two weights of one face that come with the package, so that words have the same width
everywhere; letters that it lacks are taken from matplotlib's DejaVu Sans."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

Weight = Literal["regular", "strong"]
FAMILY = "Source Sans Pro"
FALLBACK = "DejaVu Sans"
_FILES: dict[Weight, tuple[str, str]] = {
    "regular": ("SourceSansPro-Regular.ttf", "DejaVuSans.ttf"),
    "strong": ("SourceSansPro-Semibold.ttf", "DejaVuSans-Bold.ttf"),
}
#: Parts of the letter size: from the baseline up to the top of tall letters, and down to the foot of g.
ASCENT, DESCENT = 0.76, 0.22


def folders() -> list[Path]:
    """Folders with the fonts' files, for a typesetter."""
    import matplotlib

    return [Path(str(files("longlens.publish").joinpath("fonts"))), Path(matplotlib.get_data_path()) / "fonts" / "ttf"]


@lru_cache(maxsize=128)
def font(weight: Weight, pixels: int, second: bool = False) -> FreeTypeFont:
    """The font at a size in whole pixels."""
    from PIL import ImageFont

    return ImageFont.truetype(str(folders()[second] / _FILES[weight][second]), pixels)


@lru_cache(maxsize=2)
def _known(weight: Weight) -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(folders()[0] / _FILES[weight][0], lazy=True) as f:
        return frozenset(f.getBestCmap())


def runs(text: str, weight: Weight) -> list[tuple[str, bool]]:
    """The text in pieces of one face; True marks letters of the fallback."""
    known = _known(weight)
    out: list[tuple[str, bool]] = []
    for c in text:
        second = ord(c) not in known
        if out and out[-1][1] == second:
            out[-1] = (out[-1][0] + c, second)
        else:
            out.append((c, second))
    return out


@lru_cache(maxsize=4096)
def width(text: str, size: float, weight: Weight = "regular") -> float:
    """Width of one line, in the units of ``size``."""
    measured = 200
    return sum(font(weight, measured, second).getlength(t) for t, second in runs(text, weight)) * size / measured


def wrapped(text: str, size: float, weight: Weight, room: float, most: int = 99) -> list[str]:
    """The text in lines no wider than ``room``; a word that is wider alone is cut; over ``most`` lines end with …"""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
            word = cut(word, size, weight, room)
            longer = f"{line} {word}".strip()
            if line and width(longer, size, weight) > room:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(line)
    lines = [x for x in lines if x]
    if len(lines) > most:
        lines = [*lines[: most - 1], cut(" ".join(lines[most - 1 :]), size, weight, room)]
    return lines


def cut(text: str, size: float, weight: Weight, room: float) -> str:
    """The text, shortened with … where it is wider than ``room``."""
    if width(text, size, weight) <= room:
        return text
    n = len(text)
    while n > 1 and width(text[:n].rstrip() + "…", size, weight) > room:
        n -= 1
    return text[:n].rstrip() + "…"


@lru_cache(maxsize=64)
def subset(weight: Weight, letters: frozenset[str]) -> bytes:
    """A font file (TrueType) of just these letters, to go inside a drawing."""
    import io
    import logging

    from fontTools import subset as tool

    logging.getLogger("fontTools").setLevel(logging.ERROR)
    options: Any = tool.Options(layout_features=["kern", "liga"], notdef_outline=True, recalc_timestamp=False)
    made = tool.load_font(str(folders()[0] / _FILES[weight][0]), options)
    cutter = tool.Subsetter(options)
    cutter.populate(text="".join(sorted(letters)))
    cutter.subset(made)
    buffer = io.BytesIO()
    made.save(buffer)
    return buffer.getvalue()
