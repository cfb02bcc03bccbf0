"""Both corners of an axle: the right one from the mirror, roll, and steering of the pair."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension import geometry
from longlens.systems.suspension.axes import mirror
from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.kinematics import Motion, solve
from longlens.systems.suspension.vectors import Array
from longlens.systems.suspension.velocity import twists


@dataclass(frozen=True)
class AxleMotion:
    """Left and right corner of an axle, each described as a left one; ``right`` is the reflection of the real one.

    ``normal`` (..., 3) is the ground's normal in body axes, ``mirrored`` the same seen by the right corner.
    """

    left: Motion
    right: Motion
    normal: Array

    @property
    def mirrored(self) -> Array:
        return mirror(self.normal)

    @property
    def reached(self) -> Array:
        return self.left.reached & self.right.reached

    @property
    def steer(self) -> tuple[Array, Array]:
        """Steer of left and right wheel, rad, both positive to the left."""
        return geometry.steer(self.left), -geometry.steer(self.right)

    @property
    def camber(self) -> tuple[Array, Array]:
        """Camber of left and right wheel against the ground, rad, positive when the top leans out."""
        return geometry.camber(self.left, self.normal), geometry.camber(self.right, self.mirrored)

    @property
    def contacts(self) -> tuple[Array, Array]:
        """Contact centres (..., 3) in body axes, m."""
        return geometry.contact(self.left, self.normal), mirror(geometry.contact(self.right, self.mirrored))

    @property
    def track(self) -> Array:
        """Distance of the contact centres across the car, m."""
        a, b = self.contacts
        return np.linalg.norm((a - b)[..., 1:], axis=-1)

    def roll_centre(self) -> Array:
        """Where the lines square to both contact centres' paths meet, (..., 2): y, z in body axes, m; NaN if
        parallel."""
        a, b = self.contacts
        ua = twists(self.left)[0].at(a)
        ub = mirror(twists(self.right)[0].at(mirror(b)))
        return geometry.roll_centre((a, ua), (b, ub))

    def roll_centre_over_ground(self) -> tuple[Array, Array]:
        """Roll centre as (lateral place, height over the ground), m (...): seen in axes that stand on the ground
        midway."""
        a, b = self.contacts
        rc, mid = self.roll_centre(), 0.5 * (a + b)
        ny, nz = self.normal[..., 1], self.normal[..., 2]
        dy, dz = rc[..., 0] - mid[..., 1], rc[..., 1] - mid[..., 2]
        return dy * nz - dz * ny, dy * ny + dz * nz


def axle(
    corner: Corner, heave: ArrayLike = 0.0, roll: ArrayLike = 0.0, rack: ArrayLike = 0.0, right: Corner | None = None
) -> AxleMotion:
    """Move an axle by heave (both wheels up, m), roll (left side of the body rises, rad) and rack (to the left, m).

    Parameters
    ----------
    right : the right corner reflected to the left, where it is known by itself; default: the mirror image.

    The wheels' travels are found so that both contact centres stand on a ground plane that is turned by −roll against
    the body and passes through the height that heave gives on the centre plane. Four secant steps bring the contact
    centres within a micrometre for usual roll (to 10°).
    """
    z, phi, r = np.broadcast_arrays(*(np.asarray(x, float) for x in (heave, roll, rack)))
    other = right or corner
    normal = np.stack([np.zeros_like(phi), np.sin(phi), np.cos(phi)], axis=-1)
    left_motion = _on_plane(corner, z, phi, r, normal)
    right_motion = _on_plane(other, z, -phi, -r, mirror(normal))
    return AxleMotion(left_motion, right_motion, normal)


def _on_plane(c: Corner, heave: Array, phi: Array, rack: Array, normal: Array) -> Motion:
    """Travel at which the contact centre of a left corner stands on the plane."""
    still = solve(c)
    ground = geometry.contact(still)[..., 2] + heave  # height of the plane on the centre line, body axes
    if not np.any(phi):
        return _level(c, heave, rack, ground)
    travel = heave - np.tan(phi) * geometry.contact(still)[..., 1]
    m = solve(c, travel, rack)
    for _ in range(4):
        at = geometry.contact(m, normal)
        gap = np.sum(at * normal, axis=-1) - ground * normal[..., 2]
        if np.nanmax(np.abs(gap), initial=0.0) < 1e-8:
            break
        travel = travel - gap / normal[..., 2]
        m = solve(c, travel, rack)
    return m


def _level(c: Corner, heave: Array, rack: Array, ground: Array) -> Motion:
    travel = heave + 0.0 * ground
    m = solve(c, travel, rack)
    for _ in range(3):
        travel = travel - (geometry.contact(m)[..., 2] - ground)
        m = solve(c, travel, rack)
    return m
