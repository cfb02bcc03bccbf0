"""Reading records: the same few calls on an open dossier and on a frozen state of it."""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from typing import Any, TypeVar

from pydantic import ValidationError

from longlens.dossier.kinds import Record, kind_of
from longlens.errors import UnusableInput

R = TypeVar("R", bound=Record)


class Reader(ABC):
    """What can be read by kind and id. Records come in the order in which they were first made."""

    @abstractmethod
    def raw(self, kind: str, id: str) -> str | None:
        """The record's JSON text, or None."""

    @abstractmethod
    def raw_all(self, kind: str) -> list[tuple[str, str]]:
        """(id, JSON text) of every record of the kind."""

    def find(self, model: type[R], id: str) -> R | None:
        """The record, or None."""
        text = self.raw(kind_of(model).name, id)
        return None if text is None else _parse(model, id, text)

    def get(self, model: type[R], id: str) -> R:
        """The record. Raises UnusableInput when there is none."""
        found = self.find(model, id)
        if found is None:
            raise UnusableInput(f"there is no {kind_of(model).name} {id!r}", fix="check the name")
        return found

    def all(self, model: type[R]) -> list[R]:
        """Every record of the kind."""
        return [_parse(model, id, text) for id, text in self.raw_all(kind_of(model).name)]

    def ids(self, model: type[Record]) -> list[str]:
        return [id for id, _ in self.raw_all(kind_of(model).name)]


def canonical(value: Any) -> str:
    """JSON text of plain types, the same for the same content (sorted keys, no spaces, no NaN)."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def record_text(record: Record) -> str:
    """The record as the dossier keeps it. Defaults are written out, against later changes of them."""
    return canonical(record.model_dump(mode="json", exclude_none=True))


def _parse(model: type[R], id: str, text: str) -> R:
    try:
        return model.model_validate_json(text)
    except ValidationError as e:
        first = e.errors()[0]
        place = ".".join(str(p) for p in first["loc"])
        raise UnusableInput(
            f"the record does not fit: {place} {first['msg'].lower()}",
            where=f"{kind_of(model).name} {id!r}",
            fix="the file was changed by other means; go back to a copy",
        ) from None
