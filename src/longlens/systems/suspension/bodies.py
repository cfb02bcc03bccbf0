"""Rigid bodies of a corner: how each carries its points from the design position, and how fast.

A body has ``carry(point)`` (design place → place now) and ``velocity(place, twist)`` by its kind. Points are
:class:`~longlens.systems.suspension.vectors.Vec`, shapes broadcast.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

from longlens.systems.suspension import vectors as v
from longlens.systems.suspension.vectors import Vec


class Body(Protocol):
    """Carries points of its own from the design position to where they are now."""

    def carry(self, p: Vec) -> Vec: ...


@dataclass(frozen=True)
class Fixed:
    """The chassis, or the rack: moved by ``shift``."""

    shift: Vec = (0.0, 0.0, 0.0)

    def carry(self, p: Vec) -> Vec:
        return v.add(p, self.shift)


@dataclass(frozen=True)
class Free:
    """A body anywhere in space: ``origin`` and three unit vectors, at design (``_0``) and now."""

    origin_0: Vec
    basis_0: tuple[Vec, Vec, Vec]
    origin: Vec
    basis: tuple[Vec, Vec, Vec]

    def carry(self, p: Vec) -> Vec:
        return v.add(self.origin, self.turn(v.sub(p, self.origin_0)))

    def turn(self, d: Vec) -> Vec:
        """A direction of the body."""
        k = [v.dot(d, e) for e in self.basis_0]
        out = v.scale(self.basis[0], k[0])
        return v.along(v.along(out, k[1], self.basis[1]), k[2], self.basis[2])


@dataclass(frozen=True)
class Hinged:
    """A body on a fixed axis (unit vector) through ``pivot``, turned by an angle given as cosine and sine."""

    pivot: Vec
    axis: Vec
    cos: Any
    sin: Any

    def carry(self, p: Vec) -> Vec:
        centre, r, q = spokes(self.pivot, self.axis, p)
        return v.along(v.along(centre, self.cos, r), self.sin, q)

    def lever(self, place: Vec) -> Vec:
        """Velocity of a place of the body per unit rate of the angle, m/rad."""
        return v.cross(self.axis, v.sub(place, self.pivot))


def spokes(pivot: Vec, axis: Vec, p: Vec) -> tuple[Vec, Vec, Vec]:
    """The circle of p about an axis: its centre, the spoke to p, and the spoke a quarter turn on."""
    d = v.sub(p, pivot)
    centre = v.along(pivot, v.dot(d, axis), axis)
    r = v.sub(p, centre)
    return centre, r, v.cross(axis, r)
