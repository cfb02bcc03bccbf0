"""Words with live references: ``The pushrod is {measure:left.front.pushrod} long.``

The reference is replaced by the number as it stands now. What its text was when the words were last read is kept beside them,
so that a changed one can be marked, and one whose basis is lost stops publishing until somebody has looked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from longlens.publish.basis import Basis, LostBasis, Shown

_REFERENCE = re.compile(r"\{([a-z]+(?:/[^:{}]+)?:[^{}]+)\}")


@dataclass(frozen=True)
class Read:
    """A text with its references resolved: to read and to say, and what was found about them."""

    text: str
    spoken: str
    numbers: tuple[Shown, ...] = ()
    changed: tuple[tuple[str, str, str], ...] = ()  # reference, as last read, as it stands now
    lost: tuple[tuple[str, str], ...] = ()  # reference, why


def references(*texts: str) -> list[str]:
    """The references in texts, each once, in order."""
    return list(dict.fromkeys(r for t in texts for r in _REFERENCE.findall(t)))


def read(text: str, basis: Basis, known: Mapping[str, str] | None = None) -> Read:
    """Resolve a text. ``known``: reference → its text when the words were last read; others count as read."""
    numbers: dict[str, Shown] = {}
    lost: dict[str, str] = {}
    for ref in references(text):
        try:
            numbers[ref] = basis.number(ref)
        except LostBasis as error:
            lost[ref] = error.what
    changed = [
        (ref, known[ref], n.text)
        for ref, n in numbers.items()
        if known is not None and known.get(ref, n.text) != n.text
    ]

    def put(spoken: bool, m: re.Match[str]) -> str:
        n = numbers.get(m.group(1))
        return "(no value)" if n is None else n.spoken if spoken else n.text

    return Read(
        _REFERENCE.sub(lambda m: put(False, m), text),
        _REFERENCE.sub(lambda m: put(True, m), text),
        tuple(numbers.values()),
        tuple(changed),
        tuple(lost.items()),
    )


def as_read(texts: Iterable[str], basis: Basis) -> dict[str, str]:
    """What to keep when somebody has read these texts: reference → its text now. Lost ones are left out."""
    out: dict[str, str] = {}
    for ref in references(*texts):
        try:
            out[ref] = basis.number(ref).text
        except LostBasis:
            continue
    return out
