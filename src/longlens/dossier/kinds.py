"""The kinds of record a dossier can hold. Higher floors register their own; the store stays as it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ConfigDict

from longlens.dossier.exchange import Id


class Record(BaseModel):
    """Base of every record: frozen, named by ``id`` within its kind, unknown fields refused.

    Change one with :meth:`longlens.dossier.store.Dossier.change`, which validates and writes the journal.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: Id


@dataclass(frozen=True)
class Kind:
    """One kind of record.

    Parameters
    ----------
    name : what the file calls it; never change it once files exist.
    model : its pydantic model.
    links : which fields hold ids of other records, as dotted paths to the name of their kind, e.g.
        ``{"shot": "shot", "rod_diameter.at": "point"}``. Lists and tuples on the way are walked.
    empties : the link fields that may be emptied when what they name is removed, each with the fields that go
        with it; a record with any other link is removed along.
    append_only : a record is written once and never changed, removed or undone (editions, sealed forecasts).
    """

    name: str
    model: type[Record]
    links: Mapping[str, str] = field(default_factory=dict)
    empties: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    append_only: bool = False


_BY_NAME: dict[str, Kind] = {}
_BY_MODEL: dict[type[Record], Kind] = {}


def register(
    name: str,
    model: type[Record],
    *,
    links: Mapping[str, str] | None = None,
    empties: Mapping[str, tuple[str, ...]] | None = None,
    append_only: bool = False,
) -> Kind:
    """Make a kind of record known. Registering the same model again is harmless."""
    kind = Kind(name, model, dict(links or {}), dict(empties or {}), append_only)
    known = _BY_NAME.get(name)
    if known is not None and known.model is not model:
        raise ValueError(f"the kind {name!r} is already taken by {known.model.__name__}")
    _BY_NAME[name] = _BY_MODEL[model] = kind
    return kind


def kind_of(what: Record | type[Record]) -> Kind:
    """The kind of a record or of its class."""
    model = what if isinstance(what, type) else type(what)
    try:
        return _BY_MODEL[model]
    except KeyError:
        raise TypeError(f"{model.__name__} is no registered kind of record") from None


def kind_named(name: str) -> Kind | None:
    """The kind of that name, or None when no loaded floor registered it."""
    return _BY_NAME.get(name)


def all_kinds() -> list[Kind]:
    return list(_BY_NAME.values())


def linked_ids(body: Mapping[str, Any], path: str) -> Iterator[str]:
    """The ids that a record body (plain JSON types) holds at a dotted path; lists on the way are walked."""
    heads: list[Any] = [body]
    for part in path.split("."):
        heads = [one.get(part) for head in heads for one in _flat(head) if isinstance(one, Mapping)]
    for head in heads:
        yield from (one for one in _flat(head) if isinstance(one, str))


def _flat(value: Any) -> Iterator[Any]:
    if isinstance(value, (list, tuple)):
        for one in value:
            yield from _flat(one)
    elif value is not None:
        yield value
