"""The beam (solid) axle in its plainest form: one body with two wheels, held by four rods and two springs.

Four rods leave it heave and roll. Usual sets: two lower and two upper links (slanted ones hold it sideways), or three
links and a Panhard rod. Unlike an independent corner the body is the whole axle; points carry their side in the name
(``left.lower_link.inner``), a rod in the middle does not (``panhard_rod.inner``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension import axes, newton, reach
from longlens.systems.suspension.newton import Held
from longlens.systems.suspension.vectors import Array

#: Of each side, where an anti-roll bar on the chassis acts on the axle.
BAR = ("bar_link.outer", "bar_link.inner", "anti_roll_bar.pivot")
RODS = ("left.lower_link", "right.lower_link", "left.upper_link", "right.upper_link", "upper_link", "panhard_rod")


@dataclass(frozen=True)
class BeamAxle:
    """A beam axle in its design position.

    Parameters
    ----------
    points : name → (..., 3), m: ``.inner`` (chassis) and ``.outer`` (axle) of exactly four of :data:`RODS`,
        ``left.wheel.centre`` and ``right.wheel.centre``; ``left.spring.inner`` and so on where springs are known.
    spin : (..., 3) outward unit vector of the left wheel's axle; the right one is its reflection.
    radius : (...) loaded radius, m.
    """

    points: Mapping[str, Array]
    spin: Array
    radius: Array

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", {k: np.asarray(p, float) for k, p in self.points.items()})
        object.__setattr__(self, "spin", np.asarray(self.spin, float))
        object.__setattr__(self, "radius", np.asarray(self.radius, float))
        if len(self.rods) != 4:
            raise ValueError(f"a beam axle needs four rods, not {len(self.rods)}: {', '.join(self.rods) or 'none'}")

    @property
    def rods(self) -> tuple[str, ...]:
        """Names of the rods that are there."""
        return tuple(r for r in RODS if f"{r}.inner" in self.points and f"{r}.outer" in self.points)

    @property
    def held(self) -> Held:
        batch = np.broadcast_shapes(*(p.shape[:-1] for p in self.points.values()))

        def stack(end: str) -> Array:
            return np.stack([np.broadcast_to(self.points[f"{r}.{end}"], (*batch, 3)) for r in self.rods], axis=-2)

        wheels = np.stack(
            [np.broadcast_to(self.points[f"{s}.wheel.centre"], (*batch, 3)) for s in ("left", "right")], axis=-2
        )
        return Held(stack("outer"), stack("inner"), wheels, wheels.mean(axis=-2))

    def over_travel(self) -> BeamAxle:
        """With one more axis at the end, so that draws (N,) meet positions (M,) as (N, M)."""
        return BeamAxle(
            {k: p[..., None, :] for k, p in self.points.items()}, self.spin[..., None, :], self.radius[..., None]
        )


@dataclass(frozen=True)
class BeamMotion:
    """A beam axle moved; ``reason`` as in :mod:`.reach`, places NaN where not reached."""

    axle: BeamAxle
    turn: Array
    place: Array
    reason: Array

    @property
    def reached(self) -> Array:
        return self.reason == reach.OK

    def carry(self, p: Array) -> Array:
        """A design place on the axle, (..., 3), now."""
        return self.place + np.einsum("...ij,...j->...i", self.turn, p - self.axle.held.reference)

    def point(self, name: str) -> Array:
        p = self.axle.points[name]
        return self.carry(p) if name.endswith((".outer", "wheel.centre")) else np.broadcast_to(p, self.place.shape)

    def spins(self) -> tuple[Array, Array]:
        """Outward unit vectors of the left and the right wheel's axle, (..., 3), in vehicle axes."""
        return tuple(np.einsum("...ij,...j->...i", self.turn, s) for s in (self.axle.spin, axes.mirror(self.axle.spin)))

    @property
    def steer(self) -> Array:
        """Turn of the axle about z, rad, positive to the left: its roll steer, and steer by heave."""
        return np.arctan2(self.turn[..., 1, 0], self.turn[..., 0, 0])

    @property
    def camber(self) -> tuple[Array, Array]:
        """Camber of left and right wheel against the body's horizontal, rad."""
        left, right = self.spins()
        return axes.camber(left), axes.camber(right)

    def twist(self, left: float, right: float) -> tuple[Array, Array]:
        """Turning (..., 3) and velocity (..., 3) of the axle's middle for wheels rising at those rates, m/s."""
        h = self.axle.held
        arm = np.einsum("...ij,...nj->...ni", self.turn, h.body - h.reference[..., None, :])
        high = np.einsum("...ij,...nj->...ni", self.turn, h.raised - h.reference[..., None, :])
        J = newton.jacobian(arm, arm + self.place[..., None, :] - h.frame, high)
        good = self.reached
        J = np.where(good[..., None, None], J, np.eye(6))
        x = newton.solve_batch(J, np.broadcast_to(np.array([0, 0, 0, 0, left, right], float), J.shape[:-1]))
        x = np.where(good[..., None], x, np.nan)
        return x[..., :3], x[..., 3:]

    def roll_centre_height(self) -> Array:
        """Height over the ground of the point in the wheels' plane at which axle and body have no sideways motion in
        roll, m."""
        w, u = self.twist(1.0, -1.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            return u[..., 1] / w[..., 0] + self.axle.radius


def solve(axle: BeamAxle, left: ArrayLike = 0.0, right: ArrayLike = 0.0) -> BeamMotion:
    """Move a beam axle by the travels of its two wheel centres, m; batched Newton on four rods and two heights."""
    z = np.stack(np.broadcast_arrays(np.asarray(left, float), np.asarray(right, float)), axis=-1)
    R, t, met, flipped = newton.poses(axle.held, z, np.zeros((4, 3)))
    reason = np.where(flipped, reach.FLIPPED, np.where(met, reach.OK, reach.HEIGHT)).astype(np.int8)
    gone = reason != reach.OK
    return BeamMotion(axle, np.where(gone[..., None, None], np.nan, R), np.where(gone[..., None], np.nan, t), reason)


def spring_per_wheel(m: BeamMotion, side: str, *, roll: bool = False) -> Array:
    """Compression of a side's spring per travel of its wheel, 1 (...), in heave or (``roll``) with the other wheel
    opposite."""
    a, b = m.point(f"{side}.spring.inner"), m.point(f"{side}.spring.outer")
    own = 1.0
    rates = (own, -own if roll else own)
    w, u = m.twist(*(rates if side == "left" else rates[::-1]))
    d = b - a
    return -np.sum(d * (u + np.cross(w, b - m.place)), axis=-1) / np.linalg.norm(d, axis=-1)


def has_bar(axle: BeamAxle) -> bool:
    """An anti-roll bar on the chassis with links to the axle, on both sides."""
    return all(f"{s}.{p}" in axle.points for s in ("left", "right") for p in BAR)


def _bar_lever(m: BeamMotion, side: str) -> tuple[Array, Array]:
    """Unit vector of a side's bar link from the bar's arm to the axle, and the arm's end's speed per turn of the bar, m."""
    p = m.axle.points
    pivot = p[f"{side}.anti_roll_bar.pivot"]
    axis = p[f"{side}.anti_roll_bar.axis"] - pivot if f"{side}.anti_roll_bar.axis" in p else np.array([0.0, 1.0, 0.0])
    axis = axis / np.linalg.norm(axis, axis=-1, keepdims=True)
    d = m.point(f"{side}.bar_link.outer") - p[f"{side}.bar_link.inner"]
    return d / np.linalg.norm(d, axis=-1, keepdims=True), np.cross(axis, p[f"{side}.bar_link.inner"] - pivot)


def bar_arm_per_wheel(m: BeamMotion, side: str) -> Array:
    """Turn of a bar's arm per travel of its wheel with the other wheel opposite, rad/m (...), at the design position.

    A bar of one axis both of whose arms turn alike in heave is not twisted there, so only roll counts.
    """
    w, u = m.twist(*((1.0, -1.0) if side == "left" else (-1.0, 1.0)))
    link, lever = _bar_lever(m, side)
    speed = u + np.cross(w, m.point(f"{side}.bar_link.outer") - m.place)
    return np.sum(link * speed, axis=-1) / np.sum(link * lever, axis=-1)


def bar_link_tension(m: BeamMotion, side: str, torque: ArrayLike) -> Array:
    """Tension of a side's link that a torque on the bar's arm (about the bar's axis, N m) puts into it, N (...)."""
    link, lever = _bar_lever(m, side)
    return np.asarray(torque, float) / np.sum(link * lever, axis=-1)


def forces(
    m: BeamMotion, at_left: ArrayLike, at_right: ArrayLike, bar_links: tuple[ArrayLike, ArrayLike] | None = None
) -> dict[str, Array]:
    """Axial forces of the four rods (tension positive) and of the two springs (compression positive), N.

    Parameters
    ----------
    at_left, at_right : (..., 3) forces of the road at the contact centres, vehicle axes; axle assumed to take brake
        torque.
    bar_links : tension of the anti-roll bar's left and right link, N.
    """
    A = np.zeros((*m.place.shape[:-1], 6, 6))
    names = [*m.axle.rods, "left.spring", "right.spring"]
    for k, name in enumerate(names):
        inner, outer = m.point(f"{name}.inner"), m.point(f"{name}.outer")
        u = (outer - inner) / np.linalg.norm(outer - inner, axis=-1, keepdims=True)
        A[..., :3, k], A[..., 3:, k] = np.cross(outer - m.place, u), u
    load = np.zeros((*m.place.shape[:-1], 6))
    for side, f in (("left", at_left), ("right", at_right)):
        contact = m.point(f"{side}.wheel.centre") - np.array([0.0, 0.0, 1.0]) * m.axle.radius[..., None]
        force = np.asarray(f, float)
        load[..., :3] += np.cross(contact - m.place, force)
        load[..., 3:] += force
    if bar_links is not None:
        for side, tension in zip(("left", "right"), bar_links, strict=True):
            pull = -np.asarray(tension, float)[..., None] * _bar_lever(m, side)[0]
            load[..., :3] += np.cross(m.point(f"{side}.bar_link.outer") - m.place, pull)
            load[..., 3:] += pull
    good = m.reached
    push = newton.solve_batch(np.where(good[..., None, None], A, np.eye(6)), -load)
    push = np.where(good[..., None], push, np.nan)
    return {n: push[..., k] if n.endswith("spring") else -push[..., k] for k, n in enumerate(names)}
