"""What the engineer of the demo calls things: the part and the system of a point, circle or measure, by its id."""

from __future__ import annotations

from typing import get_args

from longlens.dossier.records import System

#: The first word found in an id decides. Order matters: a wing's end plate is no rod's end.
_WORDS: tuple[tuple[System, tuple[str, ...]], ...] = (
    ("cooling", ("cooler", "radiator", "collector", "bleed", "header_tank", "fan", "pipe", "core", "duct", "pump")),
    ("suspension", ("wishbone", "pushrod", "pullrod", "rocker", "track_rod", "toe_link", "torsion_bar", "spring",
                    "bar_link", "heave", "rack", "kingpin", "upright", "damper", "anti_roll")),
    ("aero", ("wing", "floor", "diffuser", "end_plate", "plank", "splitter")),
    ("structure", ("crash", "hoop", "tub", "battery", "cover", "hatch", "nose", "cockpit", "frame")),
    ("running", ("rim", "tyre", "disc", "wheel", "hub", "caliper", "shaft")),
)  # fmt: skip
assert {system for system, _ in _WORDS} == set(get_args(System))  # each system has its words


def system_of(id: str) -> System | None:
    """The system that a thing belongs to, or None."""
    return next((system for system, found in _WORDS if any(word in id for word in found)), None)


def part_of(point: str) -> str:
    """The part that a point is on: its id without the last word, in words."""
    name = point.partition("@")[0]
    head, _, last = name.rpartition(".")
    if not head or head in ("left", "right", "left.front", "left.rear", "right.front", "right.rear"):
        head = name.removesuffix("_centre") if last.endswith("_centre") else name
    return " ".join(head.replace(".", " ").replace("_", " ").split())
