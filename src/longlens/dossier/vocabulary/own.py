"""Parts that the user adds: kept in the dossier, found like the others."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from pydantic import Field

from longlens.dossier.exchange import Text
from longlens.dossier.kinds import Record, register
from longlens.dossier.records import System
from longlens.dossier.vocabulary.entries import Part

if TYPE_CHECKING:
    from longlens.dossier.reading import Reader


class OwnPart(Record):
    """A part that the vocabulary does not hold; ``id`` is its term as names hold it: ``heat_shield``."""

    id: str = Field(min_length=1, max_length=80, pattern=r"^[a-z0-9]+(_[a-z0-9]+)*$")
    definition: Text
    synonyms: list[Text] = Field(default_factory=list, max_length=50)
    system: System | None = None
    place: Literal["corner", "side", "end", "one"] = "one"
    where: Text = ""
    tells: Text = ""
    points: list[Text] = Field(default_factory=list, max_length=100)
    circles: list[Text] = Field(default_factory=list, max_length=100)
    lines: list[Text] = Field(default_factory=list, max_length=100)
    outlines: list[Text] = Field(default_factory=list, max_length=100)
    pipes: list[Text] = Field(default_factory=list, max_length=100)

    def part(self) -> Part:
        """The same as an entry."""
        lists = {k: tuple(getattr(self, k)) for k in ("synonyms", "points", "circles", "lines", "outlines", "pipes")}
        return Part(
            self.id, "own", self.system, self.definition, place=self.place, where=self.where, tells=self.tells, **lists
        )


register("part", OwnPart)


def own_parts(dossier: Reader) -> list[Part]:
    """The user's own parts as entries."""
    return [record.part() for record in dossier.all(OwnPart)]
