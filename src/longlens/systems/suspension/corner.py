"""One corner of a car: its layout, its hardpoints in the design position, and what carries what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension import vectors as v
from longlens.systems.suspension.axes import mirror
from longlens.systems.suspension.vectors import Array, Vec

Layout = Literal["double_wishbone", "strut", "five_link"]
Mount = Literal["lower_wishbone", "upper_wishbone", "upright", "rocker", "chassis"]

#: The rods between chassis and upright, by layout: chassis end, upright end.
LINKS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "double_wishbone": (
        ("upper_wishbone.front_leg", "upper_wishbone.front_inner", "upper_wishbone.outer"),
        ("upper_wishbone.rear_leg", "upper_wishbone.rear_inner", "upper_wishbone.outer"),
        ("lower_wishbone.front_leg", "lower_wishbone.front_inner", "lower_wishbone.outer"),
        ("lower_wishbone.rear_leg", "lower_wishbone.rear_inner", "lower_wishbone.outer"),
        ("track_rod", "track_rod.inner", "track_rod.outer"),
    ),
    "strut": (
        ("lower_wishbone.front_leg", "lower_wishbone.front_inner", "lower_wishbone.outer"),
        ("lower_wishbone.rear_leg", "lower_wishbone.rear_inner", "lower_wishbone.outer"),
        ("track_rod", "track_rod.inner", "track_rod.outer"),
    ),
    "five_link": (
        ("upper_front_link", "upper_front_link.inner", "upper_front_link.outer"),
        ("upper_rear_link", "upper_rear_link.inner", "upper_rear_link.outer"),
        ("lower_front_link", "lower_front_link.inner", "lower_front_link.outer"),
        ("lower_rear_link", "lower_rear_link.inner", "lower_rear_link.outer"),
        ("track_rod", "track_rod.inner", "track_rod.outer"),
    ),
}

#: Points that each layout cannot do without.
REQUIRED: dict[str, tuple[str, ...]] = {
    layout: tuple(dict.fromkeys(p for _, a, b in links for p in (a, b)))
    + (("strut.top", "strut.lower") if layout == "strut" else ())
    + ("wheel.centre",)
    for layout, links in LINKS.items()
}

#: Points fixed to the upright, whatever else is there.
UPRIGHT_POINTS = ("wheel.centre", "rim_centre", "strut.lower")

#: Points of the rocker; the pushrod's inner end is one of them.
ROCKER_POINTS = ("pushrod.inner", "spring.outer", "heave.outer", "bar_link.outer")

#: Other names in use for the same points. A pullrod does a pushrod's work in tension; a rear track rod is often
#: called toe link.
ALIASES = {
    "pullrod.inner": "pushrod.inner",
    "pullrod.outer": "pushrod.outer",
    "toe_link.inner": "track_rod.inner",
    "toe_link.outer": "track_rod.outer",
    "rocker.spring": "spring.outer",
    "rocker.heave": "heave.outer",
    "rocker.bar": "bar_link.outer",
    "bar_link.upper": "bar_link.inner",
    "spring.chassis": "spring.inner",
    "anti_roll_bar.end": "anti_roll_bar.pivot",
    "torsion_bar.anchor": "rocker.axis",  # a torsion bar on the rocker lies on its axis
    "wheel_centre": "wheel.centre",
}


def spin_axis(camber: ArrayLike, toe: ArrayLike) -> Array:
    """Outward spin axis (..., 3) of a left wheel from its camber and toe, rad."""
    g, d = np.broadcast_arrays(np.asarray(camber, float), -np.asarray(toe, float))
    return np.stack([-np.sin(d) * np.cos(g), np.cos(d) * np.cos(g), -np.sin(g)], axis=-1)


@dataclass(frozen=True)
class Corner:
    """A left corner in its design position.

    Parameters
    ----------
    layout : ``double_wishbone``, ``strut`` (MacPherson) or ``five_link``.
    points : name → (..., 3), m, in vehicle axes; shapes broadcast. Names as in ``docs/suspension.md``.
    spin : (..., 3) outward unit vector along the wheel's axle.
    radius : (...) loaded radius of the tyre, m: wheel centre to contact centre in the wheel's plane.
    mounts : what carries a part's outer end: ``pushrod``, ``spring``, ``damper``, ``bar_link`` → a body. What is missing
        is completed: a spring with a rocker sits on it, else on the lower wishbone.
    """

    layout: Layout
    points: Mapping[str, Array]
    spin: Array
    radius: Array
    mounts: Mapping[str, Mount] = field(default_factory=dict)

    def __post_init__(self) -> None:
        points = {ALIASES.get(k, k): np.asarray(p, float) for k, p in self.points.items()}
        object.__setattr__(self, "points", points)
        spin = np.asarray(self.spin, float)
        object.__setattr__(self, "spin", spin / np.linalg.norm(spin, axis=-1, keepdims=True))
        object.__setattr__(self, "radius", np.asarray(self.radius, float))
        default: Mount = "upright" if self.layout == "five_link" else "lower_wishbone"
        rocker: Mount = "rocker" if self.has_rocker else default
        whole: dict[str, Mount] = {
            "pushrod": default,
            "spring": "upright" if self.layout == "strut" and not self.has_rocker else rocker,
            "damper": "upright" if self.layout == "strut" and not self.has_rocker else rocker,
            "bar_link": rocker,
        }
        object.__setattr__(self, "mounts", whole | dict(self.mounts))

    @property
    def has_rocker(self) -> bool:
        return {"pushrod.outer", "pushrod.inner", "rocker.pivot"} <= self.points.keys()

    @property
    def has_spring(self) -> bool:
        return "spring.outer" in self.points and "spring.inner" in self.points

    @property
    def has_bar(self) -> bool:
        return all(k in self.points for k in ("bar_link.outer", "bar_link.inner", "anti_roll_bar.pivot"))

    def vec(self, name: str) -> Vec:
        """A hardpoint in the design position."""
        return v.split(self.points[name])

    def body_of(self, name: str) -> str:
        """Which body carries a point."""
        part, _, end = name.partition(".")
        if name == "track_rod.inner":
            return "rack"
        if part in ("upper_wishbone", "lower_wishbone") and end == "outer":
            return part
        if name in UPRIGHT_POINTS or (end == "outer" and name in REQUIRED[self.layout]):
            return "upright"
        if name == "pushrod.inner" or name == "heave.outer":
            return "rocker"
        if name == "bar_link.inner":
            return "bar"
        if end == "outer" and part in self.mounts:
            return self.mounts[part]
        return "chassis"

    @property
    def rocker_axis(self) -> Vec:
        """Unit vector of the rocker's axis: towards ``rocker.axis`` where that is given; else square to the plane
        through its pivot, the pushrod's inner end and its other joint (or, alone, square to pivot and rod)."""
        pivot, rod = self.vec("rocker.pivot"), self.vec("pushrod.inner")
        if "rocker.axis" in self.points:
            return v.unit(v.sub(self.vec("rocker.axis"), pivot))
        for other in ("spring.outer", "bar_link.outer", "heave.outer", "pushrod.outer"):
            if other in self.points and (other == "pushrod.outer" or self.body_of(other) == "rocker"):
                return v.unit(v.cross(v.sub(rod, pivot), v.sub(self.vec(other), pivot)))
        raise KeyError("rocker.axis")

    @property
    def bar_axis(self) -> Vec:
        """Unit vector of the anti-roll bar's axis: towards ``anti_roll_bar.axis``, else across the car."""
        if "anti_roll_bar.axis" in self.points:
            return v.unit(v.sub(self.vec("anti_roll_bar.axis"), self.vec("anti_roll_bar.pivot")))
        return (0.0, 1.0, 0.0)

    def reflected(self) -> Corner:
        """The corner on the other side, in its own (vehicle) axes; use only to draw: the physics is of left corners."""
        return replace(self, points={k: mirror(p) for k, p in self.points.items()}, spin=mirror(self.spin))

    def moved(self, function: Any) -> Corner:
        """All points put through a function of (..., 3) arrays."""
        return replace(self, points={k: function(p) for k, p in self.points.items()})

    def over_travel(self) -> Corner:
        """With one more axis at the end of every shape, so that draws (N,) meet wheel positions (M,) as (N, M)."""
        return replace(
            self,
            points={k: p[..., None, :] for k, p in self.points.items()},
            spin=self.spin[..., None, :],
            radius=self.radius[..., None],
        )
