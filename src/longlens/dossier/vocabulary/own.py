"""Parts that the user adds: kept in the dossier, found like the others."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Annotated, Literal, cast

from pydantic import Field, ValidationError

from longlens.dossier.exchange import Text
from longlens.dossier.kinds import Record, register
from longlens.dossier.records import System
from longlens.dossier.vocabulary.entries import Part, parts
from longlens.errors import LonglensError, UnusableInput

if TYPE_CHECKING:
    from longlens.dossier.reading import Reader

#: Characters of a term or another term for it, and of the line that says what it is.
LONGEST_TERM, LONGEST_LINE = 60, 300
#: Own parts of a dossier that are offered; a stranger's file may hold any number.
MOST = 500
PATTERN = r"^[a-z0-9]+(_[a-z0-9]+)*$"
#: What is worth marking on a part, as names hold it; "" is the part itself.
Named = Annotated[str, Field(max_length=80, pattern=r"^([a-z0-9]+(_[a-z0-9]+)*(\.[a-z0-9]+(_[a-z0-9]+)*)*)?$")]


class OwnPart(Record):
    """A part that the vocabulary does not hold; ``id`` is its term as names hold it: ``heat_shield``."""

    id: str = Field(min_length=1, max_length=80, pattern=PATTERN)
    definition: Text
    synonyms: list[Text] = Field(default_factory=list, max_length=50)
    system: System | None = None
    place: Literal["corner", "side", "end", "one"] = "one"
    where: Text = ""
    tells: Text = ""
    points: list[Named] = Field(default_factory=list, max_length=100)
    circles: list[Named] = Field(default_factory=list, max_length=100)
    lines: list[Named] = Field(default_factory=list, max_length=100)
    outlines: list[Named] = Field(default_factory=list, max_length=100)
    pipes: list[Named] = Field(default_factory=list, max_length=100)

    def part(self) -> Part:
        """The same as an entry."""
        lists = {k: tuple(getattr(self, k)) for k in ("synonyms", "points", "circles", "lines", "outlines", "pipes")}
        return Part(
            self.id, "own", self.system, self.definition, place=self.place, where=self.where, tells=self.tells, **lists
        )


register("part", OwnPart)


def own_parts(dossier: Reader) -> list[Part]:
    """The user's own parts as entries, the first :data:`MOST`; a record that does not fit (a stranger's file) is passed over."""
    out = []
    for id in dossier.ids(OwnPart)[:MOST]:
        try:
            record = dossier.find(OwnPart, id)
        except LonglensError:
            continue
        if record is not None and record.id not in parts():
            out.append(record.part())
    return out


def new_own_part(
    dossier: Reader,
    term: str,
    definition: str,
    *,
    synonyms: Sequence[str] = (),
    system: str | None = None,
    place: str = "one",
    where: str = "",
    points: Sequence[str] = (),
    instead_of: str = "",
) -> OwnPart:
    """A part of the user's own, checked against the vocabulary and the dossier; not written.

    Parameters
    ----------
    points : what is worth marking on it, in words.
    instead_of : id of the own part that it changes.

    Raises
    ------
    UnusableInput : a term that is empty, too long, holds other characters than letters, digits, blanks and hyphens, or is in use.
    """
    id = term_id(term, "term")
    line = plain_line(definition, "what it is", LONGEST_LINE)
    if not line:
        raise UnusableInput("a part needs a line that says what it is", where="what it is", fix="write one sentence")
    others = [p for p in own_parts(dossier) if p.id != instead_of]
    _unused(id, term, [*parts().values(), *others])
    also = []
    for one in (s.strip() for s in synonyms):
        if one:
            _unused(term_id(one, "also called"), one, [*parts().values(), *others])
            also.append(plain_line(one, "also called", LONGEST_TERM))
    try:
        return OwnPart(
            id=id, definition=line, synonyms=list(dict.fromkeys(also)), system=cast(System | None, system or None),
            place=cast(Literal["corner", "side", "end", "one"], place), where=plain_line(where, "where it sits", LONGEST_LINE),
            points=list(dict.fromkeys(term_id(p, "points") for p in points if p.strip())),
        )  # fmt: skip
    except ValidationError as e:
        first = e.errors()[0]
        raise UnusableInput(first["msg"].lower(), where=".".join(map(str, first["loc"])) or "part") from None


def term_id(term: str, where: str) -> str:
    """A term as names hold it: ``Heat shield`` is ``heat_shield``; accents are left out. Raises UnusableInput."""
    words = plain_line(term, where, LONGEST_TERM)
    bare = "".join(c for c in unicodedata.normalize("NFKD", words) if not unicodedata.combining(c)).lower()
    bare = bare.replace("ß", "ss").replace("ø", "o").replace("æ", "ae").replace("ł", "l")
    odd = sorted({c for c in bare if not re.fullmatch(r"[a-z0-9 _'’-]", c)})
    if odd:
        raise UnusableInput(
            f"{' '.join(odd)} cannot stand in a name", where=where, fix="write letters, digits, blanks and hyphens"
        )
    id = "_".join(re.findall(r"[a-z0-9]+", bare))
    if not re.search(r"[a-z]", id):
        raise UnusableInput("a name needs a letter", where=where, fix="write what the part is called")
    return id


def plain_line(words: str, where: str, longest: int) -> str:
    """One line of plain text: no control characters, nothing that turns the direction of writing. Raises UnusableInput."""
    line = " ".join(words.split())
    if any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Cn") for c in line):
        raise UnusableInput("there is a character in it that is not seen", where=where, fix="type it anew")
    if len(line) > longest:
        raise UnusableInput(f"{len(line)} characters are too many", where=where, fix=f"at most {longest}")
    return line


def _unused(id: str, term: str, known: Iterable[Part]) -> None:
    for p in known:
        if id in (p.id, *(re.sub(r"[^a-z0-9]+", "_", s.lower()).strip("_") for s in p.synonyms)):
            called = p.term if p.id == id else f"{p.term}, also called {term.strip().lower()}"
            whose = "the dossier" if p.group == "own" else "the vocabulary"
            raise UnusableInput(
                f"{whose} has it already: {called}", where=term.strip(), fix="use that one, or take another term"
            )
