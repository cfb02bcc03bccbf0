"""What is usual, so that a number can be read: bands with their source, and what lying outside suggests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Band:
    """Usual range (SI), what for, what it suggests below and above, and the source."""

    low: float
    high: float
    of: str
    below: str
    above: str
    inside: str = ""
    source: str = PRACTICE


DEG = 0.017453292519943295

USUAL: Mapping[str, Band] = {
    "spring_per_wheel": Band(
        0.5,
        1.2,
        "road cars and cars without much downforce",
        "the spring is loaded by long levers: strong springs, much friction",
        "typical of a stiff, aero-loaded car: a damper that moves much at small wheel travel",
        "as on most cars",
    ),
    "camber_gain": Band(
        -45 * DEG,
        -8 * DEG,
        "double wishbones of cars that corner hard",
        "the front view swing arm is short: camber held in roll at the price of change in braking and bump",
        "near to parallel arms: camber kept in bump, as a car that hardly rolls wants it",
        "some of the roll is taken back by camber",
    ),
    "bump_steer": Band(
        -3 * DEG,
        3 * DEG,
        "a well-placed track rod",
        "the wheel turns out noticeably in bump",
        "the wheel turns in noticeably in bump",
    ),
    "roll_centre": Band(
        -0.02,
        0.12,
        "independent suspensions of track cars",
        "under the road: much roll moment left to springs and bars",
        "high: strong jacking in corners",
    ),
    "caster": Band(
        3 * DEG, 12 * DEG, "steered axles", "little self-aligning from caster", "heavy steering, camber by steer"
    ),
    "kingpin_inclination": Band(
        3 * DEG, 15 * DEG, "steered axles", "upright steering axis", "much camber lost in steer"
    ),
    "anti_braking": Band(
        0.0,
        0.5,
        "the share of the pitch taken by the links",
        "the links add to the pitch in braking",
        "the suspension stiffens in braking",
    ),
    "ride_frequency": Band(
        1.0,
        2.5,
        "road cars to track cars without much downforce",
        "softer than road cars",
        "as stiff as cars that carry much downforce",
    ),
    "roll_share_front": Band(
        0.40,
        0.65,
        "cars of all kinds",
        "the rear axle takes most of the roll moment: it would oversteer unless tyres differ",
        "the front axle takes most of the roll moment: towards understeer",
    ),
}
