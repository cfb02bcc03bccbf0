"""Why a position was not reached: one code per draw and position, with the two points concerned."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

OK = 0
HEIGHT = 1
UPPER = 2
TRACK_ROD = 3
PUSHROD = 4
BAR_LINK = 5
STRUT = 6
TOGGLE = 7
FLIPPED = 8

#: code → (what happened, the pair of points concerned)
REASONS: Mapping[int, tuple[str, tuple[str, str]]] = {
    OK: ("reached", ("", "")),
    HEIGHT: ("the linkage ends before the wheel gets to this height", ("wheel.centre", "lower_wishbone.outer")),
    UPPER: ("the upper wishbone cannot meet the upright", ("upper_wishbone.outer", "lower_wishbone.outer")),
    TRACK_ROD: ("the track rod cannot meet its arm on the upright", ("track_rod.inner", "track_rod.outer")),
    PUSHROD: ("the pushrod cannot meet the rocker", ("pushrod.outer", "pushrod.inner")),
    BAR_LINK: ("the link cannot meet the anti-roll bar's arm", ("bar_link.outer", "bar_link.inner")),
    STRUT: ("the strut is at its shortest", ("strut.top", "lower_wishbone.outer")),
    TOGGLE: ("two rods stand in line: the linkage is at a toggle", ("track_rod.outer", "track_rod.inner")),
    FLIPPED: ("the linkage could only get there by passing a toggle", ("wheel.centre", "track_rod.outer")),
}


def describe(codes: NDArray[np.int8]) -> dict[str, float]:
    """Share of each reason among all positions that were not reached: text with its points → share of all."""
    found = {}
    for code, (text, pair) in REASONS.items():
        share = float(np.mean(codes == code))
        if code != OK and share > 0:
            found[f"{text} ({pair[0]} and {pair[1]})"] = share
    return found
