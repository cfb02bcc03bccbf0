"""Survey answers kept beside the records: found again by the document that they answer, never journaled."""

from __future__ import annotations

import json
from typing import Any

from longlens.dossier.exchange import ExchangeDocument
from longlens.dossier.reading import canonical
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import document_hash

NAME = "survey answer"
KEPT = 24


def keep_answer(dossier: Dossier, document: ExchangeDocument, answer: dict[str, Any]) -> None:
    """Keep the answer to a document; the newest few stay."""
    dossier.keep_derived(NAME, document_hash(document), canonical(answer).encode(), newest=KEPT)


def kept_answer(dossier: Dossier, document: ExchangeDocument) -> dict[str, Any] | None:
    """The answer to exactly this document, or None when it was changed since or never solved."""
    body = dossier.derived(NAME, document_hash(document))
    if body is None:
        return None
    try:
        answer = json.loads(body)
    except ValueError:  # only a copy: solved again when it is of no use
        return None
    return answer if isinstance(answer, dict) else None
