"""The survey of a document with what the systems know of its points: rods and uprights couple the stances.

Whoever runs a survey above the survey's own floor runs it here: same arguments, same answer, and equal lengths between
stances added where the points' names tell them (``longlens.systems.suspension.stances.couple``). What was solved before is
not solved again (:mod:`longlens.systems.kept_surveys`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from longlens.dossier.exchange import ExchangeDocument
from longlens.errors import NotSolvable
from longlens.systems import kept_surveys

if TYPE_CHECKING:
    from longlens.survey.answer import Progress, Solution

#: The draws where none are asked for, as in :func:`longlens.survey.answer.solve`.
DRAWS = 2000


def solve(
    document: ExchangeDocument,
    *,
    seed: int = 0,
    draws: int = DRAWS,
    progress: Progress | None = None,
    fresh: bool = False,
) -> Solution:
    """:func:`longlens.survey.answer.solve` of the coupled document; raises NotSolvable as that does.

    If the stances contradict each other so badly that the coupled survey finds no answer, they are solved apart, and a
    warning says so. ``fresh``: solve, whatever is kept; the new solution takes the place of the old one.
    """

    def one(doc: ExchangeDocument) -> Solution:
        found = None if fresh else kept_surveys.recall(doc, seed, draws)
        if found is not None:
            if progress is not None:
                progress("solved before", 1.0)
            return found
        return _solved(doc, seed, draws, progress)

    return _apart_if_need_be(document, one)


def recall(document: ExchangeDocument, *, seed: int = 0, draws: int = DRAWS) -> Solution | None:
    """What :func:`solve` would give, where that takes no solving; else None. Raises NotSolvable where it is known to be so."""
    try:
        return _apart_if_need_be(document, lambda doc: _known(doc, seed, draws))
    except _Unknown:
        return None


class _Unknown(Exception):
    """Nothing is kept."""


def _known(document: ExchangeDocument, seed: int, draws: int) -> Solution:
    found = kept_surveys.recall(document, seed, draws)
    if found is None:
        raise _Unknown
    return found


def _apart_if_need_be(document: ExchangeDocument, one: Callable[[ExchangeDocument], Solution]) -> Solution:
    from longlens.systems.suspension.stances import couple

    coupled = couple(document)
    if coupled is document:
        return one(document)
    try:
        return one(coupled)
    except NotSolvable:
        found = one(document)
        found.warnings.append("the stances contradict each other as one linkage: each was solved by itself")
        return found


def _solved(document: ExchangeDocument, seed: int, draws: int, progress: Progress | None) -> Solution:
    from longlens.survey import answer

    found: Solution | NotSolvable
    try:
        found = answer.solve(document, seed=seed, draws=draws, progress=progress)
    except NotSolvable as e:
        found = e
    kept_surveys.keep(document, seed, draws, found)
    if isinstance(found, NotSolvable):
        raise found
    return found
