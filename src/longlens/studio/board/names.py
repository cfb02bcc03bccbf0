"""The names offered while something is being marked: those in the dossier first, then those of the vocabulary."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from typing import Any

from longlens.dossier import vocabulary
from longlens.dossier.records import Circle, Point
from longlens.publish.names import words
from longlens.studio.board.edits import Known
from longlens.studio.desk import Desk

#: The vocabulary's forms of marks → the board's three kinds of names.
KIND = {"point": "point", "rim": "circle", "line": "part", "outline": "part", "pipe": "part"}
#: Of one own part: names offered, and letters of a line.
MOST_NAMES, MOST_LETTERS = 40, 300
SIDES, ENDS = ("left", "right"), ("front", "rear")


def of_dossier(desk: Desk) -> list[dict[str, Any]]:
    """``{id, name, words, form, known, system, about}`` of what is named already; ``form`` is point, circle or part."""
    out: dict[tuple[str, str], dict[str, Any]] = {}
    for form, model in (("point", Point), ("circle", Circle)):
        for record in desk.records.all(model):
            out[form, record.id] = _one(record.id, form, True, record.system)  # type: ignore[attr-defined]
    for mark in desk.marks():
        if mark.form in ("line", "outline", "pipe") and mark.part:
            out.setdefault(("part", mark.part), _one(mark.part, "part", True, mark.system))
    return list(out.values())


def of_vocabulary(desk: Desk) -> list[dict[str, Any]]:
    """The same of every part that the vocabulary holds, sides and axles composed, the user's own parts with them."""
    out: dict[tuple[str, str], dict[str, Any]] = {}
    for part in [*vocabulary.own_parts(desk.records), *vocabulary.parts().values()]:
        own = part.group == "own"  # a stranger's file may say any length
        also = " ".join(s[:MOST_LETTERS] for s in part.synonyms[:MOST_NAMES])
        for form, name in islice(_own_marked(part) if own else _marked(part), MOST_NAMES if own else None):
            for side, end in _places(part.place):
                id = vocabulary.compose(part.id, name, side=side, end=end)
                about = part.definition[:MOST_LETTERS]
                out.setdefault(
                    (form, id), _one(id, form, False, part.system, about, also) | ({"own": True} if own else {})
                )
    return list(out.values())


def describe(desk: Desk) -> Any:
    """What is known of a name before anybody has marked it, as :mod:`edits` asks for it."""
    own = vocabulary.own_parts(desk.dossier)

    def told(id: str) -> Known:
        known = vocabulary.known(id, own)
        return Known(known.part, known.system, known.on, known.carried_by)

    return told


def _marked(part: vocabulary.Part) -> Iterator[tuple[str, str]]:
    found = False
    for form, names in part.to_mark().items():
        for name in names:
            found = True
            yield KIND[form], name
    if not found:
        yield "point", ""


def _own_marked(part: vocabulary.Part) -> Iterator[tuple[str, str]]:
    """Of a part of the user's own, the part itself in every form too: nobody has said what is worth marking on it."""
    yield from dict.fromkeys((*_marked(part), ("point", ""), ("circle", ""), ("part", "")))


def _places(place: str) -> list[tuple[str, str]]:
    sides = SIDES if place in ("corner", "side") else ("",)
    ends = ENDS if place in ("corner", "end") else ("",)
    return [(s, e) for e in ends for s in sides]


def _one(id: str, form: str, known: bool, system: str | None, about: str = "", also: str = "") -> dict[str, Any]:
    name = words(id)
    found = list(dict.fromkeys(re.findall(r"[a-z0-9]+", f"{name} {also}".lower())))
    one = {"id": id, "name": name, "words": found, "form": form, "known": known}
    return one | ({"system": system} if system else {}) | ({"about": about} if about else {})
