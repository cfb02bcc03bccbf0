"""Surveys that were solved before, kept between runs (:mod:`longlens.systems.user_cache`).

Each lies under a hash of all it depends on: what the marks, facts and shots say, the seed and the number of draws, and this
program's own survey (its source, numpy and scipy), so that another version never gives an old answer. What cannot change a draw
(credits, dates, sources) is not in the hash; it is taken from the document at hand when a solution is read.
"""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from longlens.dossier.exchange import ExchangeDocument, write_exchange
from longlens.dossier.reading import canonical
from longlens.errors import NotSolvable
from longlens.systems import user_cache

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

KIND = "survey"
#: Fields that change no draw, by the list of the document that they stand in. All else is in the hash, known or not.
WORDS = {
    "shots": {"file", "credit", "licence", "date"},
    "facts": {"source"},
    "marks": {"certainty"},  # whether a mark is fitted is told by ``inferred``
    "equal_lengths": {"why"},
}


def key_of(document: ExchangeDocument, seed: int, draws: int) -> str:
    """SHA-256 of all that a solution depends on."""
    content = write_exchange(document)
    for name, words in WORDS.items():
        if name in content:
            content[name] = [{k: v for k, v in item.items() if k not in words} for item in content[name]]
    return hashlib.sha256("\x00".join([_program(), str(seed), str(draws), canonical(content)]).encode()).hexdigest()


@cache
def _program() -> str:
    return user_cache.program(_source())


def _source() -> list[Path]:
    """The files that solve."""
    from longlens import survey
    from longlens.dossier import exchange

    return [*Path(str(survey.__file__)).parent.glob("*.py"), Path(str(exchange.__file__))]


def recall(document: ExchangeDocument, seed: int, draws: int) -> Solution | None:
    """The solution kept for a document, or None. Raises NotSolvable where that is what was found."""
    body = user_cache.read(KIND, key_of(document, seed, draws))
    if body is None:
        return None
    from longlens.survey.packed import Unpackable, unpack

    if body[:1] == b"n":
        what, needs, where = json.loads(bytes(body[1:]))
        raise NotSolvable(what, needs=needs, where=where)
    try:
        return unpack(body[1:], document)
    except Unpackable:
        return None


def keep(document: ExchangeDocument, seed: int, draws: int, found: Solution | NotSolvable) -> None:
    """Keep what was found, as far as it can be kept."""
    if user_cache.program(_source()) != _program():  # replaced under a running program: that is not what solved
        return
    from longlens.survey.packed import Unpackable, pack

    if isinstance(found, NotSolvable):
        body = b"n" + json.dumps([found.what, found.needs, found.where]).encode()
    else:
        try:
            body = b"s" + pack(found)
        except Unpackable:
            return
    user_cache.write(KIND, key_of(document, seed, draws), body)
