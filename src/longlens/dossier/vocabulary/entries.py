"""The entries, read once from the data files beside this module (one file per group of parts)."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal, cast

Place = Literal["corner", "side", "end", "one"]

#: Group of parts (a data file each) → the dossier's system, in the order of every table.
GROUPS: Mapping[str, str | None] = {
    "suspension": "suspension",
    "steering": "suspension",
    "brakes": "running",
    "wheels": "running",
    "cooling": "cooling",
    "charge_air": "cooling",
    "engine": "running",
    "electric_drive": "running",
    "aero": "aero",
    "structure": "structure",
    "crash": "structure",
    "body": "structure",
    "electrics": None,
}


@dataclass(frozen=True)
class Part:
    """One part.

    Parameters
    ----------
    id : its term as names hold it, ``upper_wishbone``.
    group : of ``GROUPS``, or ``own`` for a user's own part.
    system : the dossier's system of it, or None.
    definition : one line.
    synonyms : other terms in use.
    place : what composes its names: ``corner`` side and axle, ``side``, ``end`` (front or rear), ``one`` neither.
    where : where it sits.
    tells : what its look may tell; common practice, no source.
    points, circles, lines, outlines, pipes : what is worth marking on it. A name "" is the part itself.
    whole : points whose name stands alone: ``left.front.rim_centre``, without the part before it.
    """

    id: str
    group: str
    system: str | None
    definition: str
    synonyms: tuple[str, ...] = ()
    place: Place = "one"
    where: str = ""
    tells: str = ""
    points: tuple[str, ...] = ()
    circles: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    outlines: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()
    whole: tuple[str, ...] = ()

    @property
    def term(self) -> str:
        """As people say it: ``upper wishbone``."""
        return self.id.replace("_", " ").replace(".", " ")

    def to_mark(self) -> dict[str, tuple[str, ...]]:
        """What is worth marking, by form of mark; empty forms left out."""
        forms = {
            "point": self.points,
            "rim": self.circles,
            "line": self.lines,
            "outline": self.outlines,
            "pipe": self.pipes,
        }
        return {form: names for form, names in forms.items() if names}


@cache
def parts() -> Mapping[str, Part]:
    """All entries by id, group by group."""
    out: dict[str, Part] = {}
    for group in GROUPS:
        text = files(__package__).joinpath(f"{group}.toml").read_text(encoding="utf-8")
        for id, body in tomllib.loads(text).items():
            if id in out:
                raise ValueError(f"{group}.toml: {id} stands in {out[id].group}.toml already")
            out[id] = _entry(id, group, body)
    return out


def part(id: str) -> Part | None:
    """The entry of that id, or None."""
    return parts().get(id)


def _entry(id: str, group: str, body: dict[str, Any]) -> Part:
    given = dict(body)
    texts = {"definition": given.pop("is"), "where": given.pop("where", ""), "tells": given.pop("tells", "")}
    place = cast(Place, given.pop("place", "one"))
    system = given.pop("system", GROUPS[group])
    lists: dict[str, Any] = {name: tuple(given.pop(key, ())) for key, name in _LISTS.items()}
    if given:
        raise ValueError(f"{group}.toml: {id} has unknown fields {sorted(given)}")
    return Part(id, group, None if system == "none" else system, place=place, **texts, **lists)


_LISTS = {"also": "synonyms"} | {k: k for k in ("points", "circles", "lines", "outlines", "pipes", "whole")}
