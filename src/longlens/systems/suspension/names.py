"""Names of hardpoints: ``left.front.upper_wishbone.outer`` is side, axle, part and end."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from longlens.systems.suspension.corner import ALIASES

SIDES = ("left", "right")
ENDS = ("front", "rear")

#: Points that a corner may have beside those its layout needs, and what each is.
EXTRA: Mapping[str, str] = {
    "pushrod.outer": "push- or pullrod, its end at the wishbone or the upright",
    "pushrod.inner": "push- or pullrod, its end at the rocker",
    "rocker.pivot": "middle of the rocker's bearing",
    "rocker.axis": "a second point on the rocker's axis; without it the axis is square to the rocker's joints",
    "spring.outer": "spring or coil-over, its end at rocker, wishbone or upright",
    "spring.inner": "spring or coil-over, its end at the chassis",
    "damper.outer": "damper apart from the spring, moving end",
    "damper.inner": "damper apart from the spring, chassis end",
    "heave.outer": "end of the element between the two rockers",
    "bar_link.outer": "link of the anti-roll bar, its end at rocker, wishbone or upright",
    "bar_link.inner": "link of the anti-roll bar, its end at the bar's arm",
    "anti_roll_bar.pivot": "a point on the anti-roll bar's axis",
    "anti_roll_bar.axis": "a second point on it; without it the axis lies across the car",
    "wheel.centre": "middle of the wheel",
    "rim_centre": "middle of the rim's outer face, on the wheel's axis: serves where the wheel centre is not marked",
}

#: Parts that tell a layout.
TELLING: Mapping[str, tuple[str, ...]] = {
    "double_wishbone": ("upper_wishbone", "lower_wishbone"),
    "strut": ("lower_wishbone", "strut"),
    "five_link": ("upper_front_link", "upper_rear_link", "lower_front_link", "lower_rear_link"),
    "beam": ("lower_link", "upper_link", "panhard_rod"),
}

#: Rods of a beam axle that lie in its middle and need no side.
RODS_OF_BEAM = ("upper_link", "panhard_rod")

T = TypeVar("T")


def split(name: str) -> tuple[str, str, str]:
    """(side, axle, point) of a full name, aliases resolved; side or axle "" where the name has none.

    A stance stays with the point: ``left.front.wheel_centre@bump`` gives ``wheel.centre@bump``.
    """
    parts = name.split(".")
    side = parts.pop(0) if parts and parts[0] in SIDES else ""
    end = parts.pop(0) if parts and parts[0] in ENDS else ""
    point, at, stance = ".".join(parts).partition("@")
    return side, end, ALIASES.get(point, point) + at + stance


def by_corner(points: Mapping[str, T]) -> dict[tuple[str, str], dict[str, T]]:
    """Points by (side, axle); names without an axle are left out."""
    out: dict[tuple[str, str], dict[str, T]] = {}
    for name, p in points.items():
        side, end, point = split(name)
        if end:
            out.setdefault((side, end), {})[point] = p
    return out


def parts_of(points: Iterable[str]) -> set[str]:
    """Parts that the points name."""
    return {p.partition(".")[0] for p in points}
