"""Which photographs may go out: nothing is shown without credit, licence and somebody's word that it may be.

What a licence asks for is read from its usual short forms and said before the work; whether it covers a use is for a person to
decide.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from longlens.dossier.records import Shot


def withheld(shot: Shot) -> str:
    """Why a shot may not be shown, in words; empty when it may."""
    if shot.photograph is None:
        return "the photograph itself is not in the dossier"
    if shot.may_show == "no":
        return "it may not be shown"
    missing = [
        name for name, value in (("credit", shot.credit), ("licence", shot.licence)) if not (value or "").strip()
    ]
    if missing:
        return f"it has no {' and no '.join(missing)}"
    if shot.may_show != "yes":
        return "nobody has said yet that it may be shown"
    return ""


@dataclass(frozen=True)
class Terms:
    """What a licence's short form says.

    Creative Commons' licence elements (creativecommons.org: BY, SA, NC, ND), and the plain words of editorial terms.
    """

    attribution: bool = False
    share_alike: bool = False
    no_changes: bool = False
    not_commercial: bool = False
    editorial: bool = False
    understood: bool = True

    @property
    def remarks(self) -> list[str]:
        """In words, what to think of before the work."""
        said = [
            (
                self.no_changes,
                "allows no changes: drawing over it or cutting it makes one; show it whole and bare, or ask",
            ),
            (self.not_commercial, "forbids commercial use: an edition that earns money may not show it"),
            (self.share_alike, "wants what is made from it under the same licence"),
            (self.editorial, "covers editorial use only, with the credit beside it"),
            (not self.understood, "is none of the known short forms: read it yourself"),
        ]
        return [words for true, words in said if true]


def terms(licence: str | None) -> Terms:
    """Read a licence's short form."""
    text = (licence or "").strip()
    if re.match(r"CC0|public domain", text, re.I):
        return Terms()
    if re.match(r"(CC|Creative Commons)\b", text, re.I):
        words = {w.upper() for w in re.findall(r"[A-Za-z]+", text)}
        return Terms(
            attribution="BY" in words or "ATTRIBUTION" in words,
            share_alike=bool(words & {"SA", "SHAREALIKE"}),
            no_changes=bool(words & {"ND", "NODERIVATIVES", "NODERIVS"}),
            not_commercial=bool(words & {"NC", "NONCOMMERCIAL"}),
        )
    lower = text.lower()
    return Terms(
        attribution="credit" in lower,
        no_changes=bool(re.search(r"no (changes|alteration|modification|derivative)", lower)),
        not_commercial=bool(re.search(r"non-?commercial|no commercial", lower)),
        editorial="editorial" in lower,
        understood=bool(re.search(r"editorial|all rights|permission|own photograph|own work|free to use", lower)),
    )


def credit_line(shot: Shot, *, changed: bool = True) -> str:
    """``Photograph: NAME · LICENCE · marks added``; CC licences ask that changes are said (CC BY 4.0, section 3(a)(1)(B))."""
    parts = [f"Photograph: {shot.credit or 'no credit'}", shot.licence or "no licence"]
    return " · ".join(parts + (["marks added"] if changed else []))


@dataclass(frozen=True)
class Hurdle:
    """What stands against showing a shot: ``stops`` publishing, or is only to be thought of."""

    shot: str
    why: str
    stops: bool


def hurdles(shots: Iterable[Shot], *, commercial: bool = False) -> list[Hurdle]:
    """What to know before the work about the shots that it would show, each drawn over and cut.

    Parameters
    ----------
    commercial : the edition is to earn money; a licence against that then stops it.
    """
    out = []
    for shot in shots:
        if why := withheld(shot):
            out.append(Hurdle(shot.id, why, True))
            continue
        found = terms(shot.licence)
        for words in found.remarks:
            stops = words.startswith("allows no changes") or (commercial and words.startswith("forbids commercial"))
            out.append(Hurdle(shot.id, f"its licence ({shot.licence}) {words}", stops))
    return out
