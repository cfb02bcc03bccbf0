"""The survey of a document with what the systems know of its points: rods and uprights couple the stances.

Whoever runs a survey above the survey's own floor runs it here: same arguments, same answer, and equal lengths between
stances added where the points' names tell them (``longlens.systems.suspension.stances.couple``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from longlens.dossier.exchange import ExchangeDocument

if TYPE_CHECKING:
    from longlens.survey.answer import Solution


def solve(document: ExchangeDocument, **how: Any) -> Solution:
    """:func:`longlens.survey.answer.solve` of the coupled document; raises NotSolvable as that does.

    If the stances contradict each other so badly that the coupled survey finds no answer, they are solved apart, and a
    warning says so.
    """
    from longlens.errors import NotSolvable
    from longlens.survey import answer
    from longlens.systems.suspension.stances import couple

    coupled = couple(document)
    if coupled is document:
        return answer.solve(document, **how)
    try:
        return answer.solve(coupled, **how)
    except NotSolvable:
        found = answer.solve(document, **how)
        found.warnings.append("the stances contradict each other as one linkage: each was solved by itself")
        return found
