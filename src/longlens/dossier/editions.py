"""Editions: what was published, frozen under a name and readable later.

An edition is a place in the journal plus what the publisher wants to keep with it (the numbers as printed).
It is written once and stays: undo goes past it without touching it.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from longlens.dossier.exchange import Id, Text
from longlens.dossier.journal import Entry, now
from longlens.dossier.kinds import Record, register
from longlens.dossier.store import Dossier, Snapshot


class Edition(Record):
    """A frozen state: its name (``id``), the last journal entry in it and that entry's hash."""

    id: Id
    revision: Annotated[int, Field(ge=1)]
    chain: Text
    at: Text
    note: Text = ""
    contents: dict[str, Any] = Field(
        default_factory=dict, description="What was published with it, such as the survey's answer."
    )


register("edition", Edition, append_only=True)


def freeze(dossier: Dossier, name: str, *, note: str = "", contents: dict[str, Any] | None = None) -> Edition:
    """Freeze the present state under a name. Raises UnusableInput when the name is taken."""
    with dossier.batch(f"freeze edition {name}", keep=True):
        edition = Edition(
            id=name,
            revision=dossier.revision,
            chain=dossier.chain_head,
            at=now(),
            note=note,
            contents=contents or {},
        )
        dossier.add(edition)
    return edition


def editions(dossier: Dossier) -> list[Edition]:
    """All editions, oldest first."""
    return dossier.all(Edition)


def read_edition(dossier: Dossier, name: str) -> Snapshot:
    """The records as they stood when the edition was frozen."""
    return dossier.at(dossier.get(Edition, name).revision)


def changes_since(dossier: Dossier, name: str) -> list[Entry]:
    """Every change since the edition was frozen, oldest first."""
    return dossier.entries_since(dossier.get(Edition, name).revision)
