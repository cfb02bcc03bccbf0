"""The shapes in which a plate is made: where its picture and its words stand, in units that are pixels at scale 1."""

from __future__ import annotations

from dataclasses import dataclass

from longlens.errors import UnusableInput

#: x0, y0, x1, y1 in drawing units.
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Style:
    """One shape of plate.

    Parameters
    ----------
    picture : where the photograph stands.
    words : where title, text and credit stand.
    over : the words lie over the foot of the picture, on a dark fade.
    ground, ink, quiet : colours of the page, its words, and the words of less weight.
    size : the label's letters, units.
    mm : width of the page on paper; None for screens.
    """

    name: str
    width: int
    height: int
    picture: Box
    words: Box
    over: bool
    ground: str
    ink: str
    quiet: str
    size: float
    mm: float | None = None

    @property
    def aspect(self) -> float:
        x0, y0, x1, y1 = self.picture
        return (x1 - x0) / (y1 - y0)


_DARK = ("#15181b", "#f1efea", "#b9bcbe")
STYLES: dict[str, Style] = {
    s.name: s
    for s in (
        Style("wide", 1920, 1080, (0, 0, 1920, 1080), (64, 872, 1856, 1048), True, *_DARK, 27.0),
        Style("square", 1080, 1080, (0, 0, 1080, 830), (48, 850, 1032, 1056), False, *_DARK, 24.0),
        Style("tall", 1080, 1920, (0, 0, 1080, 1420), (56, 1450, 1024, 1860), False, *_DARK, 29.0),
        Style(
            "print", 1754, 1240, (70, 70, 1684, 1010), (70, 1030, 1684, 1180), False, "#ffffff", "#16181a", "#55595c", 21.0,
            mm=297.0,
        ),
        Style("figure", 1600, 1000, (0, 0, 1600, 1000), (0, 1000, 1600, 1000), False, *_DARK, 26.0),
    )
}  # fmt: skip


#: Those that a person chooses from; a figure goes into the brief, where words stand beside it.
PUBLISHED = ("wide", "square", "tall", "print")


def style_named(name: str) -> Style:
    """A style by its name. Raises UnusableInput."""
    if name not in PUBLISHED:
        raise UnusableInput(f"there is no style {name!r}", fix=f"choose one of: {', '.join(PUBLISHED)}")
    return STYLES[name]
