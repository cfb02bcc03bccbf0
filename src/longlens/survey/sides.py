"""Left and right by name: a pair seen on one photograph only fits as well the wrong way round; its names tell."""

from __future__ import annotations

import re

import numpy as np

from longlens.survey.camera import Array

#: Standard deviations by which a point must lie on the other side than its name says.
CLEARLY = 4.5
#: Points that must agree on which side is left before any is told it lies on the wrong one, and their least share.
QUORUM, SHARE = 4, 0.75
_WORD = re.compile(r"(?<![a-z])(left|right)(?![a-z])")


def named_side(pid: str) -> int:
    """+1 for an id with the word left (+y, ISO 8855), −1 for right, 0 for neither or both."""
    words = set(_WORD.findall(pid.lower()))
    return {frozenset({"left"}): 1, frozenset({"right"}): -1}.get(frozenset(words), 0)


def on_the_wrong_side(points: list[str], y: Array, sd: Array) -> dict[str, float]:
    """Points that lie on the other side of the centre plane than their names say, with how many standard deviations.

    Parameters
    ----------
    y, sd : (n,) lateral coordinates and their standard deviations, m.

    The many define which side is left; nothing is said where fewer than ``QUORUM`` clear ones agree.
    """
    side = np.array([named_side(p) for p in points])
    with np.errstate(divide="ignore", invalid="ignore"):
        test = np.where(sd > 0, y / sd, 0.0)
    clear = (side != 0) & (np.abs(test) > CLEARLY)
    agree = np.sign(y) * side
    votes = agree[clear]
    if len(votes) < QUORUM or np.mean(votes > 0) < SHARE or np.sum(votes > 0) < QUORUM:
        return {}
    return {points[i]: float(abs(test[i])) for i in np.flatnonzero(clear & (agree < 0))}
