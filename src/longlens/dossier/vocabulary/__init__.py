"""The parts of a car in the trade's terms: what they are, what to mark on them, and how their marks are named.

>>> from longlens.dossier import vocabulary
>>> [f.part.id for f in vocabulary.search("sway bar")][:1]
['anti_roll_bar']
>>> vocabulary.parse("left.front.upper_wishbone.outer").part
'upper_wishbone'

``part`` and ``parts`` give entries, ``search`` finds them, ``suggest`` offers whole names while somebody types, ``parse`` and
``compose`` take names apart and put them together, ``known`` says what a name tells before anybody has marked it. Definitions and
what looks may tell were written from knowledge of the trade (common practice, no source).
"""

from longlens.dossier.vocabulary.entries import GROUPS, Part, part, parts
from longlens.dossier.vocabulary.naming import Known, Name, compose, known, parse, twin
from longlens.dossier.vocabulary.own import OwnPart, new_own_part, own_parts
from longlens.dossier.vocabulary.search import Found, Offer, search, suggest

__all__ = [
    "GROUPS",
    "Found",
    "Known",
    "Name",
    "Offer",
    "OwnPart",
    "Part",
    "compose",
    "known",
    "new_own_part",
    "own_parts",
    "parse",
    "part",
    "parts",
    "search",
    "suggest",
    "twin",
]
