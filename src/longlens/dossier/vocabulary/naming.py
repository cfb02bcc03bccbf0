"""Names of what is marked: ``left.front.upper_wishbone.outer@bump`` is side, axle, part, point and stance."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

from longlens.dossier.vocabulary.entries import Part, parts

SIDES = {"left": "right", "right": "left"}
ENDS = ("front", "rear")
#: Groups all of whose parts turn or move with the wheel.
WHEEL_SIDE = ("rim", "tyre", "wheel", "spoke", "hub", "hub_nut", "wheel_bolt", "wheel_cover", "disc", "disc_bell", "caliper",
              "brake_pad", "upright", "steering_arm", "hub_motor", "wheel_speed_sensor", "ball_joint")  # fmt: skip
#: Parts whose outer ends move with the wheel while their inner ends stay with the body.
LINKS = ("upper_wishbone", "lower_wishbone", "upper_front_link", "upper_rear_link", "lower_front_link", "lower_rear_link",
         "track_rod", "toe_link", "lower_link", "pushrod", "pullrod")  # fmt: skip


@dataclass(frozen=True)
class Name:
    """A name taken apart; ``str`` gives it back exactly. ``whole`` says that the point's name stands without the part's."""

    part: str
    point: str = ""
    side: str = ""
    end: str = ""
    stance: str = ""
    whole: bool = False

    def __str__(self) -> str:
        words = [self.side, self.end, "" if self.whole else self.part, self.point]
        return ".".join(w for w in words if w) + (f"@{self.stance}" if self.stance else "")


def parse(name: str) -> Name:
    """Take a name apart. Every name can be: what the vocabulary does not hold is taken as a part and its point."""
    bare, _, stance = name.partition("@")
    words = bare.split(".")
    side = words.pop(0) if len(words) > 1 and words[0] in SIDES else ""
    end = words.pop(0) if len(words) > 1 and words[0] in ENDS else ""
    rest = ".".join(words)
    if rest in _whole():
        return Name(_whole()[rest], rest, side, end, stance, whole=True)
    for n in range(len(words), 0, -1):  # the longest part that is known
        head = ".".join(words[:n])
        if part_of(head) is not None:
            return Name(head, ".".join(words[n:]), side, end, stance)
    return Name(words[0], ".".join(words[1:]), side, end, stance)


def compose(part: str, point: str = "", *, side: str = "", end: str = "", stance: str = "") -> str:
    """Put a name together. ``compose("rim", "rim_centre", side="left", end="front")`` is ``left.front.rim_centre``."""
    entry = parts().get(part)
    whole = entry is not None and point in entry.whole
    return str(Name(part, point, side, end, stance, whole))


def twin(name: str) -> str | None:
    """The name across the car, or None for what has no side."""
    found = parse(name)
    return str(replace(found, side=SIDES[found.side])) if found.side else None


def part_of(head: str) -> Part | None:
    """The entry of a part as names hold it: ``flap_2`` is a ``flap``."""
    return parts().get(head) or parts().get(re.sub(r"_\d+$", "", head))


@dataclass(frozen=True)
class Known:
    """What a name tells before anybody has marked it."""

    part: str
    system: str | None = None
    carried_by: Literal["body", "wheel"] | None = None
    on: Literal["centre_plane", "ground"] | None = None
    about: str = ""


def known(name: str, own: Iterable[Part] = ()) -> Known:
    """Part in words, system, what carries the point, and on which plane it lies by its name alone.

    ``on`` is given for marks on the ground only: a part in the car's middle need not lie in the centre plane exactly.
    """
    found = parse(name)
    entry = {p.id: p for p in own}.get(found.part) or part_of(found.part)
    said = " ".join(w for w in (found.side, found.end, (entry.term if entry else found.part.replace("_", " "))) if w)
    if entry is None:
        return Known(said)
    return Known(
        said,
        entry.system,
        _carrier(found, entry),
        "ground" if entry.id == "ground" else None,
        entry.definition,
    )


def _carrier(name: Name, entry: Part) -> Literal["body", "wheel"] | None:
    if entry.id == "ground":
        return None
    if entry.id in WHEEL_SIDE or (entry.id in LINKS and name.point == "outer"):
        return "wheel"
    if entry.id in LINKS and "inner" not in name.point:
        return None  # along the link: neither
    return "body" if entry.place != "corner" or entry.id in LINKS else None


@cache
def _whole() -> dict[str, str]:
    return {name: p.id for p in parts().values() for name in p.whole}
