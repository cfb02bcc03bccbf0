"""Where a circle meets a sphere: the closed form behind wishbones, rods and rockers.

A point on a circle, P(φ) = centre + r cos φ + q sin φ (r, q square, of one length), stands at the distance L from a
place E where a cos φ + b sin φ = c with a = e·r, b = e·q, c = (|r|² + |e|² − L²)/2 and e = E − centre. The two roots
are

    cos φ = (a c ∓ b w)/(a² + b²),  sin φ = (b c ± a w)/(a² + b²),  w = √(a² + b² − c²);

they meet (a toggle) at w = 0, beyond which the rod cannot reach. In a plane this is Freudenstein's equation (1955).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from longlens.systems.suspension import vectors as v
from longlens.systems.suspension.vectors import Vec


def branch(r: Vec, q: Vec, centre: Vec, end: Vec) -> Any:
    """Which of the two roots is φ = 0 when the other end is at ``end``: +1 or −1 (0: exactly at a toggle)."""
    b = v.dot(v.sub(end, centre), q)
    return -np.sign(b)


def circle_sphere(r: Vec, q: Vec, centre: Vec, end: Vec, length2: Any, side: Any) -> tuple[Any, Any, Any]:
    """Cosine and sine of the angle at which the circle meets the sphere of squared radius ``length2`` about ``end``.

    Returns
    -------
    cos, sin, reach : reach is w²/(a² + b²), that is sin² of the angle from the toggle: negative where they do not
        meet (then cos and sin are those of the nearest approach). Exact roots, no iteration.
    """
    e = v.sub(end, centre)
    a, b = v.dot(e, r), v.dot(e, q)
    c = 0.5 * (v.dot(r, r) + v.dot(e, e) - length2)
    s2 = a * a + b * b
    with np.errstate(divide="ignore", invalid="ignore"):
        inv = 1.0 / s2
        w2 = s2 - c * c
        w = side * np.sqrt(np.maximum(w2, 0.0))
        beyond = w2 < 0
        if np.any(beyond):  # nearest approach: |c| shrinks to the circle's reach
            c = np.where(beyond, np.copysign(np.sqrt(s2), c), c)
        return (a * c - b * w) * inv, (b * c + a * w) * inv, w2 * inv
