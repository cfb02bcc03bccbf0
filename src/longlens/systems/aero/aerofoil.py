"""Sections: angle to zero lift of one to four elements, flap effectiveness, the limit of lift, nearness of the ground.

Angles are positive where they make downforce: trailing edge up. Lift coefficients count downforce positive.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array

#: Greatest lift coefficient of a section in free air by its number of elements, at the Reynolds numbers of racing cars.
FREE_LIMIT = {1: (1.50, 0.17), 2: (2.40, 0.25), 3: (3.00, 0.33), 4: (3.40, 0.40)}
FREE_LIMIT_SOURCE = (
    "one element: Abbott and von Doenhoff, 1.4 to 1.7; slotted flaps: Smith 1975, High-Lift Aerodynamics, lowered for Reynolds "
    "numbers of 0.3 to 2 million (from memory)"
)
#: Deflection against the element ahead (rad) → share of the thin-aerofoil effect that is left.
_LEFT_AT = np.radians([0.0, 15.0, 30.0, 40.0, 50.0, 65.0])
_LEFT = np.array([0.88, 0.88, 0.80, 0.70, 0.57, 0.38])
#: Nearness of the ground below which the layer between wing and road chokes.
CHOKES_AT = 0.10
#: More than this the ground has not been measured to give.
MOST_GROUND = 2.3


def flap_effectiveness(flap_share: ArrayLike) -> Array:
    """Change of the zero-lift angle per flap angle of a plain flap, thin aerofoil: 1 − (θ − sin θ)/π, cos θ = 2 E − 1.

    ``flap_share`` E: flap chord over whole chord, 0 to 1. Source: Glauert 1927, as in Abbott and von Doenhoff.
    """
    theta = np.arccos(np.clip(2 * np.asarray(flap_share, float) - 1, -1, 1))
    return 1 - (theta - np.sin(theta)) / np.pi


def slot_loss(deflection: ArrayLike) -> Array:
    """Share of the thin-aerofoil effect that a slotted flap keeps at a deflection (rad) against the element ahead.

    After McCormick 1995, fig. 3.34 and NACA Report 664 (slotted flaps; from memory): 0.88 up to 15°, 0.7 at 40°. Limits: a gap of
    1 to 3 % of the chord, Reynolds number over 0.3 million; beyond 65° held at its last value.
    """
    return np.interp(np.abs(np.asarray(deflection, float)), _LEFT_AT, _LEFT)


def absolute_angle(
    chords: Sequence[ArrayLike], angles: Sequence[ArrayLike], cambers: Sequence[ArrayLike], losses: bool = True
) -> Array:
    """Angle (rad) between the flow and the direction of no lift of a chain of elements, thin aerofoil.

    The mean line is the chain; A = 1/π ∫ slope (1 − cos θ) dθ with x = (1 − cos θ)/2 (Glauert). Each element is a straight chord
    at its angle with a parabola of its camber on it.

    Parameters
    ----------
    chords : m, front to back.
    angles : of each element against the flow, rad.
    cambers : greatest camber over the element's own chord.
    losses : each step in angle counts with :func:`slot_loss`.

    Limits: angles up to about 45° (the sine is not put for the angle), elements that nearly touch in a line.
    """
    c = [np.asarray(x, float) for x in chords]
    total = sum(c)
    effective = [np.asarray(angles[0], float)]
    for ahead, this in pairwise(angles):
        step = np.asarray(this, float) - np.asarray(ahead, float)
        effective.append(effective[-1] + step * (slot_loss(step) if losses else 1.0))
    out, start = np.asarray(0.0), np.asarray(0.0)
    for chord, angle, camber in zip(c, effective, cambers, strict=True):
        end = start + chord / total
        one, two = (np.arccos(np.clip(1 - 2 * x, -1, 1)) for x in (start, end))
        # slope = angle + 4 m (2 (x − start)/(end − start) − 1), linear in cos θ: p + q cos θ
        m = 4 * np.asarray(camber, float)
        width = end - start
        p = angle + m * ((1 - 2 * start) / width - 1)
        q = -m / width
        out = out + (_primitive(p, q, two) - _primitive(p, q, one)) / np.pi
        start = end
    return out


def _primitive(p: Array, q: Array, theta: Array) -> Array:
    """∫ (p + q cos θ)(1 − cos θ) dθ."""
    return p * (theta - np.sin(theta)) + q * (np.sin(theta) - theta / 2 - np.sin(2 * theta) / 4)


class Ground(NamedTuple):
    """What the ground does to a section: its lift over that in free air, and whether the gap chokes."""

    gain: Array
    chokes: Array


def plate_over_ground(height: float, angle: float, vortices: int = 40) -> float:
    """Lift of a flat plate over its lift in free air, with its image in the ground; downforce, no viscosity.

    Vortices at the quarter points of equal pieces, the flow along the plate at their three-quarter points (Katz and Plotkin,
    Low-Speed Aerodynamics, ch. 11: discrete vortices). ``height`` of the quarter chord in chords, ``angle`` rad.
    """
    s = np.arange(vortices) / vortices
    v = np.column_stack([s + 0.25 / vortices - 0.25, np.zeros(vortices)])
    w = v + np.array([0.5 / vortices, 0.0])
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    v, w = v @ turn + [0.0, height], w @ turn + [0.0, height]
    normal = np.array([-np.sin(angle), np.cos(angle)])
    u, up = _pairs(w, v)
    ui, upi = _pairs(w, v * [1, -1])
    influence = (u - ui) * normal[0] + (up - upi) * normal[1]
    strength = np.linalg.solve(influence, np.full(vortices, -normal[0]))
    own, _ = _pairs(v, v)
    image, _ = _pairs(v, v * [1, -1])
    along = 1 + own @ strength - image @ strength
    return float(2 * np.sum(strength * along) / (2 * np.pi * np.sin(angle)))


def _pairs(at: Array, source: Array) -> tuple[Array, Array]:
    """Velocity at places by unit vortices, turning left; none by a vortex on itself."""
    d = at[:, None] - source
    r2 = np.sum(d * d, axis=-1)
    r2 = np.where(r2 < 1e-14, np.inf, r2) * 2 * np.pi
    return -d[..., 1] / r2, d[..., 0] / r2


@lru_cache(maxsize=1)
def _gain_table() -> tuple[Array, Array, Array]:
    """Gain over the logarithm of the height in chords and the angle."""
    heights = np.geomspace(0.08, 12.0, 22)
    angles = np.linspace(0.02, 0.62, 7)
    return np.log(heights), angles, np.array([[plate_over_ground(h, a) for a in angles] for h in heights])


def ground_gain(height: ArrayLike, chord: ArrayLike, angle: ArrayLike) -> Ground:
    """Gain of a section's lift by its image in the ground, for downforce: a table of :func:`plate_over_ground`.

    Parameters
    ----------
    height : of the quarter chord over the ground, m. chord : of the whole chain, m. angle : absolute effective angle, rad.

    Limits: held at a gain of 2.3, about the most that wings have been measured to win (Zerihan and Zhang 2000, from memory).
    Under a tenth of the chord the boundary layers choke the gap: the gain falls with the root of the height (their measured
    fall, from memory), ``chokes``. No camber, no thickness.
    """
    h, c, a = np.broadcast_arrays(*(np.asarray(x, float) for x in (height, chord, angle)))
    logs, angles, table = _gain_table()
    over = h / c
    x = np.interp(np.log(np.clip(over, CHOKES_AT, 12.0)), logs, np.arange(logs.size))
    y = np.interp(a, angles, np.arange(angles.size))
    i, j = np.minimum(x.astype(int), logs.size - 2), np.minimum(y.astype(int), angles.size - 2)
    fx, fy = x - i, y - j
    gain = (1 - fx) * ((1 - fy) * table[i, j] + fy * table[i, j + 1])
    gain = gain + fx * ((1 - fy) * table[i + 1, j] + fy * table[i + 1, j + 1])
    gain = np.where(over >= 12, 1.0, np.minimum(gain, MOST_GROUND))
    fall = np.sqrt(np.clip(over / CHOKES_AT, 0.0, 1.0))
    return Ground(1 + (gain - 1) * fall - 0.3 * (1 - fall), over < CHOKES_AT)


def limited(lift: ArrayLike, limit: ArrayLike) -> Array:
    """Lift coefficient rounded off towards its limit: c/(1 + (c/limit)⁶)^(1/6). Beyond the limit it stays there: a stalled wing
    loses some of it, which is not known from outside."""
    c, m = np.asarray(lift, float), np.asarray(limit, float)
    return c / (1 + np.abs(c / m) ** 6) ** (1 / 6)
