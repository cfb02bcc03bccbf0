"""Where everything of a corner is, for wheel travel and rack travel, for all draws at once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from longlens.systems.suspension import arms, newton, reach
from longlens.systems.suspension import vectors as v
from longlens.systems.suspension.bodies import Body, Fixed, Free, Hinged, spokes
from longlens.systems.suspension.corner import LINKS, Corner
from longlens.systems.suspension.height import solve_angle
from longlens.systems.suspension.intersect import branch, circle_sphere
from longlens.systems.suspension.vectors import Array, Vec

#: sin² of the angle from a toggle below which a rocker or bar counts as at it.
TOGGLE = 1e-9


@dataclass(frozen=True)
class Motion:
    """A corner moved. ``shape`` is that of draws and positions broadcast together.

    Where ``reached`` is false there is no such position, and places are NaN; ``reason`` (codes of :mod:`.reach`) says
    why, and
    :meth:`unreached` says it in words. The upright may have been reached where rocker or bar were not:
    ``upright_reached``.
    """

    corner: Corner
    travel: Array
    rack: Array
    shape: tuple[int, ...]
    bodies: dict[str, Body]
    angles: dict[str, Array]
    upright_reason: NDArray[np.int8]
    reason: NDArray[np.int8]

    @property
    def reached(self) -> NDArray[np.bool_]:
        return self.reason == reach.OK

    @property
    def upright_reached(self) -> NDArray[np.bool_]:
        return self.upright_reason == reach.OK

    def unreached(self) -> dict[str, float]:
        """Why positions were not reached: text → share of all draws and positions."""
        return reach.describe(self.reason)

    def vec(self, name: str) -> Vec:
        """A point now, as three arrays."""
        kept = self._places.get(name)
        if kept is None:
            kept = self._places[name] = self.bodies[self.corner.body_of(name)].carry(self.corner.vec(name))
        return kept

    def point(self, name: str) -> Array:
        """A point now, (..., 3) of the motion's shape, m; NaN where not reached. Kept: do not write into it."""
        kept = self._joined.get(name)
        if kept is None:
            p = np.broadcast_to(v.join(self.vec(name)), (*self.shape, 3))
            good = self.upright_reached if self.corner.body_of(name) in _OF_UPRIGHT else self.reached
            kept = self._joined[name] = p if np.all(good) else np.where(good[..., None], p, np.nan)
        return kept

    @cached_property
    def _places(self) -> dict[str, Vec]:
        return {}

    @cached_property
    def _joined(self) -> dict[str, Array]:
        return {}

    @cached_property
    def spin(self) -> Array:
        """Outward unit vector of the wheel's axle now, (..., 3)."""
        body = self.bodies["upright"]
        assert isinstance(body, Free)
        s = np.broadcast_to(v.join(body.turn(v.split(self.corner.spin))), (*self.shape, 3))
        return s if np.all(self.upright_reached) else np.where(self.upright_reached[..., None], s, np.nan)

    @cached_property
    def links(self) -> tuple[tuple[str, Vec, Vec], ...]:
        """The rods between chassis and upright: name, chassis end, upright end, now."""
        return tuple((n, self.vec(a), self.vec(b)) for n, a, b in LINKS[self.corner.layout])


_OF_UPRIGHT = {"upright", "upper_wishbone", "lower_wishbone", "rack", "chassis"}


def solve(corner: Corner, travel: ArrayLike = 0.0, rack: ArrayLike = 0.0) -> Motion:
    """Move a corner.

    Parameters
    ----------
    corner : its points' shapes broadcast with travel and rack; use :meth:`Corner.over_travel` for draws × positions.
    travel : height of the wheel centre over its design position, body axes, m.
    rack : rack travel to the left, m; it moves ``track_rod.inner`` along y.

    Model: rigid links, ideal ball joints, no bushes. Double wishbone and strut in closed form for the angle of the
    lower wishbone; five-link by Newton's method. The answer is the one connected with the design position; beyond a
    toggle or the end of reach there is none, and ``reason`` says so.
    """
    z, r = np.asarray(travel, float), np.asarray(rack, float)
    shape = np.broadcast_shapes(z.shape, r.shape, *(p.shape[:-1] for p in corner.points.values()))
    with np.errstate(invalid="ignore"):
        if corner.layout == "five_link":
            bodies, angles, reason = _five_link(corner, z, r, shape)
        else:
            bodies, angles, reason = _arms(corner, z, r, shape)
        bodies["chassis"] = Fixed()
        bodies["rack"] = Fixed((0.0, r, 0.0))
        m = Motion(corner, z, r, shape, bodies, angles, reason, reason)
        if corner.has_rocker:
            m = _with_rocker(m)
        if corner.has_bar:
            m = _with_bar(m)
    return m


def _arms(
    c: Corner, z: Array, r: Array, shape: tuple[int, ...]
) -> tuple[dict[str, Body], dict[str, Array], NDArray[np.int8]]:
    a = arms.prepare(c)
    theta, p, met = solve_angle(a, z, r, shape)
    reason = np.broadcast_to(arms.why_not(a, p, ~met), shape)
    theta = np.where(met, theta, np.nan)
    bodies: dict[str, Body] = {
        "lower_wishbone": Hinged(c.vec("lower_wishbone.front_inner"), a.lower_axis, np.cos(theta), np.sin(theta)),
        "upright": Free(a.origin_0, a.basis_0, p.origin, p.basis),
    }
    if not a.strut:
        bodies["upper_wishbone"] = Hinged(c.vec("upper_wishbone.front_inner"), a.upper_axis, *p.upper)
    return bodies, {"lower_wishbone": theta}, reason


def _five_link(
    c: Corner, z: Array, r: Array, shape: tuple[int, ...]
) -> tuple[dict[str, Body], dict[str, Array], NDArray[np.int8]]:
    links = LINKS["five_link"]
    batch = np.broadcast_shapes(*(p.shape[:-1] for p in c.points.values()))

    def stack(names: list[str]) -> Array:
        return np.stack([np.broadcast_to(c.points[n], (*batch, 3)) for n in names], axis=-2)

    wheel = np.broadcast_to(c.points["wheel.centre"], (*batch, 3))
    held = newton.Held(stack([b for _, _, b in links]), stack([a for _, a, _ in links]), wheel[..., None, :], wheel)
    shift = np.zeros((*r.shape, 5, 3))
    shift[..., 4, 1] = r
    R, t, met, flipped = newton.poses(held, z[..., None], shift)
    R = np.where(met[..., None, None], R, np.nan)
    basis = tuple(v.split(np.moveaxis(R, -1, 0)[k]) for k in range(3))
    eye: tuple[Vec, Vec, Vec] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    reason = np.where(flipped, reach.FLIPPED, np.where(met, reach.OK, reach.HEIGHT)).astype(np.int8)
    upright = Free(v.split(wheel), eye, v.split(t), basis)  # type: ignore[arg-type]
    return {"upright": upright}, {}, np.broadcast_to(reason, shape)


def _with_rocker(m: Motion) -> Motion:
    """The rocker's turn: its rod joint's circle meets the sphere about the pushrod's outer end."""
    c = m.corner
    pivot, axis, inner, outer0 = c.vec("rocker.pivot"), c.rocker_axis, c.vec("pushrod.inner"), c.vec("pushrod.outer")
    return _hinged(m, "rocker", pivot, axis, inner, outer0, m.vec("pushrod.outer"), reach.PUSHROD)


def _with_bar(m: Motion) -> Motion:
    c = m.corner
    pivot, axis, arm = c.vec("anti_roll_bar.pivot"), c.bar_axis, c.vec("bar_link.inner")
    return _hinged(m, "bar", pivot, axis, arm, c.vec("bar_link.outer"), m.vec("bar_link.outer"), reach.BAR_LINK)


def _hinged(m: Motion, name: str, pivot: Vec, axis: Vec, joint: Vec, end0: Vec, end: Vec, code: int) -> Motion:
    centre, r, q = spokes(pivot, axis, joint)
    rod = v.sub(end0, joint)
    cos, sin, room = circle_sphere(r, q, centre, end, v.dot(rod, rod), branch(r, q, centre, end0))
    missed = ~(room > TOGGLE) & (m.reason == reach.OK)
    reason = np.where(missed, code, m.reason).astype(np.int8)
    good = reason == reach.OK
    cos, sin = np.where(good, cos, np.nan), np.where(good, sin, np.nan)
    return replace(
        m,
        bodies={**m.bodies, name: Hinged(pivot, axis, cos, sin)},
        angles={**m.angles, name: np.arctan2(sin, cos)},
        reason=np.broadcast_to(reason, m.shape),
    )
