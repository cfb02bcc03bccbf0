"""What is painted, cut or taped on the ground under the cars, by the light they stand in, and its corners to mark.

A car is never parked quite straight: each place's drawing is turned and shifted a little against the car. Corners are
given in the car's own axes on the plane z = 0, so only the static stance has them as marks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.demo.model import Model
from longlens.demo.solids import Array

#: Places that share a floor. Both studio lights are in one room.
PLACE_OF = {"paddock": "paddock", "garage": "garage", "studio": "studio", "backlit": "studio"}


@dataclass(frozen=True)
class Strip:
    """A flat strip on the ground: its middle (x, y), half its sizes, and its turn, rad; all in the car's axes."""

    x: float
    y: float
    half_x: float
    half_y: float
    turn: float


@dataclass(frozen=True)
class Drawing:
    """All strips of a place, and the corners or crossings that can be marked, by name."""

    strips: tuple[Strip, ...]
    corners: dict[str, Array]


def drawing(place: str) -> Drawing:
    """The drawing on the floor of ``"paddock"`` (bay lines with ticks), ``"garage"`` (joints) or ``"studio"`` (tape)."""
    turn, shift = {"paddock": (0.016, (0.03, -0.06)), "garage": (-0.011, (0.05, 0.04)), "studio": (0.006, (0.0, 0.02))}[
        place
    ]
    c, s = np.cos(turn), np.sin(turn)

    def at(x: float, y: float) -> Array:
        return np.array([c * x - s * y + shift[0], s * x + c * y + shift[1], 0.0])

    strips, corners = [], {}

    def strip(x: float, y: float, hx: float, hy: float) -> None:
        p = at(x, y)
        strips.append(Strip(float(p[0]), float(p[1]), hx, hy, turn))

    if place == "paddock":
        for side, y in (("left", 1.9), ("right", -1.9)):
            strip(-1.2, y, 4.5, 0.05)
            for i, x in enumerate((1.9, 0.7, -0.5, -1.7, -2.9, -4.1)):
                inner = np.sign(y)
                strip(x, y - inner * 0.20, 0.04, 0.15)
                corners[f"bay_tick_{i + 1}_{side}"] = at(x + 0.04, y - inner * 0.35)
    elif place == "garage":
        xs, ys = (2.4, 0.9, -0.6, -2.1, -3.6, -5.1), (-2.55, -1.05, 1.05, 2.55)
        for x in xs:
            strip(x, 0.6, 0.004, 3.9)
        for y in ys:
            strip(-1.6, y, 5.8, 0.004)
        for i, x in enumerate(xs):
            for j, y in enumerate(ys):
                corners[f"floor_joint_{i + 1}{j + 1}"] = at(x, y)
    else:
        for i, (x, y) in enumerate(
            ((0.30, 1.06), (0.30, -1.06), (-2.30, 1.06), (-2.30, -1.06), (1.30, 0.55), (1.30, -0.55), (-3.55, 0.5),
             (-3.55, -0.5), (-0.95, 1.12), (-0.95, -1.12))
        ):  # fmt: skip
            strip(x, y, 0.075, 0.0125)
            strip(x, y, 0.0125, 0.075)
            corners[f"tape_{i + 1}"] = at(x, y)
    return Drawing(tuple(strips), corners)


def add_ground_points(m: Model) -> None:
    """The markable corners of every place, when the car stands on the plane z = 0 of its own axes."""
    if m.ground != (0.0, 0.0):
        return
    for place in dict.fromkeys(PLACE_OF.values()):
        for name, xyz in drawing(place).corners.items():
            m.point(f"ground.{name}", xyz, 0.012, 0.75, on="ground", twin=False, place=place)
