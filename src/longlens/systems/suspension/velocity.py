"""How fast everything moves per metre of wheel travel or of rack travel: exact first derivatives of the position.

The same six rows serve twice: as rates of the rods' lengths for a twist of the upright, and (transposed, in
:mod:`.forces`) as the wrenches of unit rod forces. That is virtual work, and it keeps motion ratios and forces
consistent to rounding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.systems.suspension import vectors as v
from longlens.systems.suspension.bodies import Hinged
from longlens.systems.suspension.kinematics import Motion
from longlens.systems.suspension.newton import solve_batch
from longlens.systems.suspension.vectors import Array, Vec


@dataclass(frozen=True)
class Twist:
    """Motion of the upright per unit of travel or rack: turning (..., 3), rad/m, and the wheel centre's velocity
    (..., 3), 1."""

    motion: Motion
    omega: Array
    centre: Array
    rack_rate: float

    def at(self, place: Array) -> Array:
        """Velocity (..., 3) of the upright's matter at a place."""
        return self.centre + np.cross(self.omega, place - self.motion.point("wheel.centre"))

    def hinge_rate(self, body: str) -> Array:
        """Rate of a wishbone's, the rocker's or the bar's angle, rad/m (...)."""
        hinge = self.motion.bodies[body]
        assert isinstance(hinge, Hinged)
        if body in ("lower_wishbone", "upper_wishbone"):
            joint = f"{body}.outer"
            lever = v.join(hinge.lever(self.motion.vec(joint)))
            return np.sum(self.at(self.motion.point(joint)) * lever, axis=-1) / np.sum(lever * lever, axis=-1)
        inner, outer = _HINGE_RODS[body]
        rod = self.motion.point(outer) - self.motion.point(inner)
        lever = v.join(hinge.lever(self.motion.vec(inner)))
        return np.sum(rod * self.of(outer), axis=-1) / np.sum(rod * lever, axis=-1)

    def of(self, name: str) -> Array:
        """Velocity (..., 3) of a named point."""
        body = self.motion.corner.body_of(name)
        place = self.motion.point(name)
        if body == "upright":
            return self.at(place)
        if body == "chassis":
            return np.zeros_like(place)
        if body == "rack":
            return np.broadcast_to(np.array([0.0, self.rack_rate, 0.0]), place.shape)
        hinge = self.motion.bodies[body]
        assert isinstance(hinge, Hinged)
        return self.hinge_rate(body)[..., None] * v.join(hinge.lever(self.motion.vec(name)))

    def length_rate(self, a: str, b: str) -> Array:
        """Rate of the distance between two named points, 1 (...)."""
        d = self.motion.point(b) - self.motion.point(a)
        return np.sum(d * (self.of(b) - self.of(a)), axis=-1) / np.linalg.norm(d, axis=-1)


_HINGE_RODS = {"rocker": ("pushrod.inner", "pushrod.outer"), "bar": ("bar_link.inner", "bar_link.outer")}


def rows(m: Motion) -> Array:
    """(..., 5, 6): the five constraints of the upright as unit wrenches (moment about the wheel centre, force).

    Rods in the order of ``LINKS``; for a strut the last two are the top mount's reactions square to the strut.
    """
    wheel = m.vec("wheel.centre")
    found = [_row(outer, v.unit(v.sub(outer, inner)), wheel, m.shape) for _, inner, outer in m.links]
    if m.corner.layout == "strut":
        body = m.bodies["upright"]
        top = m.vec("strut.top")
        for direction in body.basis[1:]:  # type: ignore[attr-defined]
            found.append(_row(top, direction, wheel, m.shape))
    return np.stack(found, axis=-2)


def _row(place: Vec, direction: Vec, about: Vec, shape: tuple[int, ...]) -> Array:
    moment = v.cross(v.sub(place, about), direction)
    return np.stack([np.broadcast_to(x, shape) for x in (*moment, *direction)], axis=-1)


def twists(m: Motion) -> tuple[Twist, Twist]:
    """Twist per metre of wheel travel at fixed rack, and per metre of rack travel at fixed wheel height.

    Kept with the motion: several figures need them.
    """
    kept = m.__dict__.get("_twists")
    if kept is None:
        kept = m.__dict__["_twists"] = _twists(m)
    return kept


def _twists(m: Motion) -> tuple[Twist, Twist]:
    A = np.zeros((*m.shape, 6, 6))
    A[..., :5, :] = rows(m)
    A[..., 5, 5] = 1.0
    good = m.upright_reached
    A = np.where(good[..., None, None], A, np.eye(6))
    names = [n for n, _, _ in m.links]
    k = names.index("track_rod")
    by_rack = np.zeros((*m.shape, 6))
    by_rack[..., k] = A[..., k, 4]  # the rod's direction along y times a unit rack rate
    by_travel = np.broadcast_to(np.array([0.0, 0.0, 0.0, 0.0, 0.0, 1.0]), by_rack.shape)
    both = np.stack([by_travel, by_rack], axis=-1)
    try:
        x = np.linalg.solve(A, both)
    except np.linalg.LinAlgError:
        x = np.stack([solve_batch(A, by_travel), solve_batch(A, by_rack)], axis=-1)
    x = np.where(good[..., None, None], x, np.nan)
    return (
        Twist(m, x[..., :3, 0], x[..., 3:, 0], 0.0),
        Twist(m, x[..., :3, 1], x[..., 3:, 1], 1.0),
    )
