"""Records that name other records: what hangs on what, removing whole, renaming, loose ends.

Works for every registered kind by its declared links, those of the floors above included.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from longlens.dossier.kinds import Kind, Record, all_kinds, kind_named, kind_of, linked_ids
from longlens.dossier.reading import Reader
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput


@dataclass(frozen=True)
class Link:
    """Record ``id`` of ``kind`` names another at the field ``path``."""

    kind: str
    id: str
    path: str


def referrers(reader: Reader, model: type[Record], id: str) -> list[Link]:
    """Every record that names this one, and where."""
    target = kind_of(model).name
    return [
        Link(kind.name, one, path)
        for kind in all_kinds()
        for path, named in kind.links.items()
        if named == target
        for one, text in reader.raw_all(kind.name)
        if id in linked_ids(json.loads(text), path)
    ]


def dangling(reader: Reader) -> list[str]:
    """Records that name what is not there, one line each."""
    there: dict[str, set[str]] = defaultdict(set)
    for kind in all_kinds():
        there[kind.name] = {id for id, _ in reader.raw_all(kind.name)}
    return [
        f"{kind.name} {one!r}: {path} names the {named} {id!r}, which is not there"
        for kind in all_kinds()
        if kind.links
        for one, text in reader.raw_all(kind.name)
        for path, named in kind.links.items()
        for id in linked_ids(json.loads(text), path)
        if id not in there[named]
    ]


def remove_whole(dossier: Dossier, model: type[Record], id: str) -> list[Link]:
    """Remove a record with what cannot stand without it, as one undo step; returns what else was touched.

    A field that may be empty (a twin, a circle's centre, what a published figure is of) is emptied; any other
    record that names it (a mark, a measure) is removed too, and so on. What is append-only stays.
    """
    touched: list[Link] = []
    with dossier.batch(f"remove {kind_of(model).name} {id}"):
        _remove(dossier, kind_of(model), id, touched)
    return touched


def rename(dossier: Dossier, model: type[Record], old: str, new: str) -> None:
    """Give a record another id and tell everyone who names it, as one undo step."""
    kind = kind_of(model)
    with dossier.batch(f"rename {kind.name} {old} to {new}"):
        record = dossier.get(model, old)
        if dossier.find(model, new) is not None:
            raise UnusableInput(f"the {kind.name} {new!r} exists already", fix="choose another name")
        links = referrers(dossier, model, old)
        dossier.put(_validated(kind, {**json.loads(_text(dossier, kind.name, old)), "id": new}))
        for link in links:
            other = kind_named(link.kind)
            if other is None or other.append_only:
                continue
            one = new if (link.kind, link.id) == (kind.name, old) else link.id
            body = json.loads(_text(dossier, link.kind, one))
            _replace(body, link.path.split("."), lambda v: new if v == old else v)
            dossier.put(_validated(other, body))
        dossier.remove(type(record), old)


def _remove(dossier: Dossier, kind: Kind, id: str, touched: list[Link]) -> None:
    links = referrers(dossier, kind.model, id)
    dossier.remove(kind.model, id)
    for link in links:
        other = kind_named(link.kind)
        text = dossier.raw(link.kind, link.id)
        if other is None or other.append_only or text is None:
            continue
        touched.append(link)
        emptied = _emptied(other, json.loads(text), link.path, id)
        if emptied is not None:
            dossier.put(emptied)
        else:
            _remove(dossier, other, link.id, touched)


def _emptied(kind: Kind, body: dict[str, Any], path: str, id: str) -> Record | None:
    if path not in kind.empties:
        return None
    for field in (path, *kind.empties[path]):
        body.pop(field, None)
    try:
        return kind.model.model_validate(body)
    except ValidationError:
        return None


def _replace(value: Any, path: list[str], change: Callable[[Any], Any]) -> Any:
    """Change every id at the end of a path, in place where there is a container."""
    if isinstance(value, list):
        value[:] = [_replace(v, path, change) for v in value]
    elif isinstance(value, dict) and path:
        if path[0] in value:
            value[path[0]] = _replace(value[path[0]], path[1:], change)
    elif not path:
        return change(value)
    return value


def _text(dossier: Dossier, kind: str, id: str) -> str:
    text = dossier.raw(kind, id)
    if text is None:
        raise UnusableInput(f"there is no {kind} {id!r}", fix="check the name")
    return text


def _validated(kind: Kind, body: dict[str, Any]) -> Record:
    return kind.model.model_validate(body)
