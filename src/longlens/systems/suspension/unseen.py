"""Joints that no photograph shows, assumed from where such joints sit in cars: the wheel hides them.

A last resort, so that one hidden ball joint does not refuse a whole axle: each is placed from a neighbour that was seen,
with a wide spread (common practice, no source), and is told as assumed. What is known of a car (a rod's length, an equal
rod, another stance) narrows it: :mod:`.hidden`, :mod:`.stances`, stated lengths.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from longlens.systems.suspension.corner import REQUIRED

PRACTICE = "common practice, no source"
#: More unseen joints than this leave nothing to say.
MOST = 2


@dataclass(frozen=True)
class Seat:
    """Where a joint sits: from which point, by how much (left corner: forward, to the left, up), how sure, and why."""

    base: tuple[str, ...]
    offset: tuple[float, float, float]
    sd: tuple[float, float, float]
    why: str


#: For double wishbones; lengths in m.
SEATS: Mapping[str, Seat] = {
    "lower_wishbone.outer": Seat(
        ("wheel.centre", "rim_centre"), (0.005, -0.08, -0.12), (0.015, 0.02, 0.02), "low inside the rim"
    ),
    "upper_wishbone.outer": Seat(
        ("wheel.centre", "rim_centre"), (-0.01, -0.10, 0.115), (0.015, 0.02, 0.02), "high inside the rim"
    ),
    "track_rod.outer": Seat(
        ("track_rod.inner",), (0.0, 0.37, 0.01), (0.02, 0.06, 0.015), "straight out from its inner end"
    ),
    "track_rod.inner": Seat(
        ("track_rod.outer",), (0.0, -0.37, -0.01), (0.02, 0.06, 0.015), "straight in from its outer end"
    ),
    "lower_wishbone.front_inner": Seat(
        ("upper_wishbone.front_inner",), (0.03, -0.02, -0.20), (0.05, 0.04, 0.03), "under the upper wishbone's"
    ),
    "lower_wishbone.rear_inner": Seat(
        ("upper_wishbone.rear_inner",), (-0.03, -0.02, -0.20), (0.05, 0.04, 0.03), "under the upper wishbone's"
    ),
}
#: From the middle of the rim's outer face in to the wheel centre, where that is what a seat is counted from.
FACE = 0.118


def to_assume(points: set[str]) -> dict[str, Seat]:
    """The seats of the joints that a double wishbone's points lack; none if that is another layout, or too much is
    missing."""
    parts = {p.partition(".")[0] for p in points}
    if not {"upper_wishbone", "lower_wishbone"} <= parts or not points & {"wheel.centre", "rim_centre"}:
        return {}
    missing = [p for p in REQUIRED["double_wishbone"] if p not in points and p != "wheel.centre"]
    if not missing or len(missing) > MOST:
        return {}
    seats = {}
    for p in missing:
        seat = SEATS.get(p)
        base = next((b for b in seat.base if b in points), None) if seat else None
        if seat is None or base is None:
            return {}
        x, y, z = seat.offset
        seats[p] = Seat((base,), (x, y - (FACE if base == "rim_centre" else 0.0), z), seat.sd, seat.why)
    return seats
