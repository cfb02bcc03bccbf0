"""Motion ratios, each under a name that cannot be mistaken for its inverse.

``spring_per_wheel`` is spring travel per wheel travel: 1.7 means that the spring moves 1.7 times as far as the wheel.
``wheel_per_spring`` is its inverse. Compression counts positive. Rotary elements are in rad per m of wheel travel.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.kinematics import Motion, solve
from longlens.systems.suspension.vectors import Array
from longlens.systems.suspension.velocity import Twist, twists


def spring_ends(c: Corner) -> tuple[str, str]:
    """Chassis end and moving end of the spring: the strut's own where a strut has no other spring."""
    if c.has_spring:
        return "spring.inner", "spring.outer"
    if c.layout == "strut" and not c.has_rocker:
        return "strut.top", "strut.lower"
    raise KeyError("spring.outer")


def spring_length(m: Motion) -> Array:
    """Distance of the spring's ends, m (...)."""
    a, b = spring_ends(m.corner)
    return np.linalg.norm(m.point(b) - m.point(a), axis=-1)


def spring_per_wheel(t: Twist) -> Array:
    """Spring compression per wheel travel, 1 (...), at one wheel moving alone."""
    return -t.length_rate(*spring_ends(t.motion.corner))


def wheel_per_spring(t: Twist) -> Array:
    """Wheel travel per spring compression, 1 (...): the inverse of :func:`spring_per_wheel`."""
    with np.errstate(divide="ignore"):
        return 1.0 / spring_per_wheel(t)


def damper_per_wheel(t: Twist) -> Array:
    """Compression of a damper apart from the spring (``damper.inner``, ``damper.outer``) per wheel travel, 1 (...)."""
    return -t.length_rate("damper.inner", "damper.outer")


def rocker_per_wheel(t: Twist) -> Array:
    """Turn of the rocker per wheel travel, rad/m (...): the motion ratio of a torsion bar on the rocker's axis.

    Signed about the rocker's axis; its square is what the wheel rate needs.
    """
    return t.hinge_rate("rocker")


def wishbone_per_wheel(t: Twist) -> Array:
    """Turn of the lower wishbone per wheel travel, rad/m (...): for a torsion bar on its axis."""
    return t.hinge_rate("lower_wishbone")


def bar_arm_per_wheel(t: Twist) -> Array:
    """Turn of the anti-roll bar's arm per travel of its own wheel, rad/m (...), signed about the bar's axis."""
    return t.hinge_rate("bar")


def heave_per_wheel(t: Twist) -> Array:
    """Compression of the element between the rockers per travel of *both* wheels, 1 (...).

    Its ends are ``heave.outer`` and its reflection; when one wheel moves alone the element moves half as much.
    """
    y, u = t.motion.point("heave.outer")[..., 1], t.of("heave.outer")[..., 1]
    return -2.0 * u * np.sign(y)


def slope_over_travel(
    ratio: Callable[[Twist], Array], corner: Corner, travel: ArrayLike, rack: ArrayLike = 0.0, step: float = 2e-4
) -> Array:
    """How a ratio changes over travel, its unit per m (...): central difference of exact ratios over ±0.2 mm."""
    z = np.asarray(travel, float)
    high, low = (ratio(twists(solve(corner, z + s, rack))[0]) for s in (step, -step))
    return (high - low) / (2 * step)
