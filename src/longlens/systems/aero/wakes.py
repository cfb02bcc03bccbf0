"""Wakes: what a body ahead takes from the stream of a part behind it, and how a wing ahead turns that stream.

A wake keeps its momentum: ∫ u (U − u) dA = C_D A U²/2 (Betz; Schlichting, Boundary-Layer Theory, ch. XXIII). With a bell of half
widths b_y, b_z the deficit on its middle is δ = 1 − √(1 − 2 m), m = C_D A ln 2/(2π b_y b_z). The half widths grow from the body's
own size by an eddy viscosity that goes with deficit times width::

    d(b²)/dx = K C_D A / max(b_y, b_z),   closed form: b_max³ = b_max0³ + 3/2 K C_D A x

K = 0.0294 gives behind a long body across the stream the plane wake of Schlichting and Reichardt, b = ¼ √(C_D d x) and
δ = 0.94 √(C_D d/x). Behind short bodies K is another for each shape: about 1.3 times that for slender bodies, 4.4 times behind a
disc (Johansson and George 2006; Pope 2000, table of spreading rates; from memory).

Limits: the far wake. Nearer than some fifty C_D d, where parts of a car stand, it is a bell of the right momentum and of about
the right width: deficits are then known to a third, no better. Straight back; no swirl, no bubble with backflow; several wakes
together: the shares that they leave multiply. The road is a mirror for what stands on it; of others the mirror image is left out.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array

LN2 = float(np.log(2))
#: Half width of a bell that holds as much as a box of edge 1.
HALF_OF_EDGE = float(np.sqrt(LN2 / np.pi))
#: K of the plane wake: db²/dx is 1/16 of C_D d, with the half width that stands for the body's length.
PLANE_GROWTH = 0.0625 * HALF_OF_EDGE
#: Distance behind a body, in its smaller edges, within which there is no wake yet but a bubble.
NEAR = 2.0


class Growth(NamedTuple):
    """How much faster a wake widens than the plane one, the spread of that (of the logarithm), and what says so."""

    middle: float
    spread: float
    why: str


GROWTHS = {
    "plane": Growth(1.0, 0.20, "plane wakes, ±20 % by what makes them (Wygnanski, Champagne and Marasli 1986, from memory)"),
    "slender": Growth(1.3, 0.40, "slender bodies (Chevray 1968 by Pope 2000, from memory)"),
    "blunt": Growth(4.4, 0.40, "discs and spheres (Johansson and George 2006; Pope 2000, from memory)"),
}  # fmt: skip


class Wake(NamedTuple):
    """Half widths across and up (m), deficit of the speed in its middle over the stream's speed."""

    across: Array
    up: Array
    deficit: Array


def wake(drag_area: ArrayLike, width: ArrayLike, tall: ArrayLike, behind: ArrayLike, growth: ArrayLike = 1.0) -> Wake:
    """Wake of a body at a distance behind it.

    Parameters
    ----------
    drag_area : C_D A, m². width, tall : the body's edges across and up, m. behind : from the body's rear, m; ahead of it
        (negative) there is none. growth : over that of a plane wake, see :data:`GROWTHS`.
    All broadcast.
    """
    area, w, h, x, g = (np.asarray(v, float) for v in (drag_area, width, tall, behind, growth))
    far = np.maximum(x, 0.0)
    y0, z0 = HALF_OF_EDGE * w, HALF_OF_EDGE * h
    large0 = np.maximum(y0, z0)
    large = np.cbrt(large0**3 + 1.5 * PLANE_GROWTH * g * area * far)
    more = large**2 - large0**2
    across, up = np.sqrt(y0**2 + more), np.sqrt(z0**2 + more)
    m = area * LN2 / (2 * np.pi * across * up)
    deficit = 1 - np.sqrt(1 - 2 * np.minimum(m, 0.48))
    return Wake(across, up, np.where(x > 0, deficit, 0.0))


def mean_bell(low: ArrayLike, high: ArrayLike, half: ArrayLike, power: float = 1.0) -> Array:
    """Mean over [low, high] (m, from the bell's middle) of exp(−p ln 2 (y/b)²), b the half width."""
    from scipy.special import erf

    a, b = np.asarray(low, float), np.asarray(high, float)
    k = np.sqrt(power * LN2) / np.asarray(half, float)
    return 0.5 * np.sqrt(np.pi) * (erf(k * b) - erf(k * a)) / (k * np.maximum(b - a, 1e-9))


def pressure_left(
    w: Wake,
    side: ArrayLike,
    over: ArrayLike,
    width: ArrayLike,
    tall: ArrayLike,
    strength: ArrayLike = 1.0,
) -> Array:
    """Mean dynamic pressure over a part's area in a wake, over that of the stream: mean of (1 − δ f)².

    Parameters
    ----------
    side, over : the part's middle from the wake's middle, across and up, m. width, tall : of the part, m (tall may be thin).
    strength : factor on the deficit, for its model error.
    """
    s, o = np.asarray(side, float), np.asarray(over, float)
    y, z = 0.5 * np.asarray(width, float), 0.5 * np.maximum(np.asarray(tall, float), 1e-3)
    d = np.minimum(w.deficit * np.asarray(strength), 0.98)
    one, two = (mean_bell(s - y, s + y, w.across, p) * mean_bell(o - z, o + z, w.up, p) for p in (1.0, 2.0))
    return 1 - 2 * d * one + d**2 * two


#: Vortices that stand for an elliptic loading, by half span.
_VORTICES = 12


def upwash(
    lift_area: ArrayLike,
    span: ArrayLike,
    height: ArrayLike,
    behind: ArrayLike,
    side: ArrayLike,
    at_height: ArrayLike,
    width: ArrayLike = 0.0,
) -> Array:
    """Angle (rad, upwards positive) by which a wing that makes downforce turns the stream at a part behind it.

    Horseshoe vortices of an elliptic loading with their images in the road; mean over the part's width.

    Parameters
    ----------
    lift_area : downforce coefficient times area, m². span, height : of the wing (its quarter chord over the road), m.
    behind : of the part behind the wing's quarter chord, m. side, at_height, width : the part's middle and extent, m.

    Far behind a wing in free air the mean over its span is 2 C_L/(π A) (Prandtl). Limits: vortices run straight back and do not
    roll up; wheels that break them are not in it; small angles.
    """
    area, b, h, x, y, z, wide = (
        np.asarray(v, float)[..., None, None] for v in (lift_area, span, height, behind, side, at_height, width)
    )
    # elliptic loading: Γ(y) = Γ0 √(1 − (2y/b)²), in nested horseshoes at even angles
    edge = np.cos(np.linspace(0.0, np.pi / 2, _VORTICES + 1))  # 1 … 0, of the half span
    strength = np.diff(np.sqrt(1 - edge**2))  # what each horseshoe adds to Γ/Γ0 inside it
    legs = np.sqrt(0.5 * (edge[1:] ** 2 + edge[:-1] ** 2))
    # U Γ0 ∫ √… dy = lift/ρ: sum of strength × span of each
    gamma = area / (2 * b * np.sum(strength * legs))  # Γ0/U: lift per ρU² is area/2
    wide = np.maximum(wide, 1e-3 * b)
    half = 0.5 * b * legs
    out: Array = np.zeros(1)
    for sign, up in ((1.0, z - h), (-1.0, z + h)):
        r2 = up**2 + (0.01 * b) ** 2
        edges = (_horseshoe(x, y + s * 0.5 * wide, r2, half) for s in (1.0, -1.0))
        out = out + sign * strength * (next(edges) - next(edges)) / wide
    return np.sum(out * gamma, axis=-1)[..., 0]


def _horseshoe(x: Array, y: Array, up2: Array, half: Array) -> Array:
    """∫ dy of the upward speed by a unit horseshoe that makes downforce, legs at ±half running back from x = 0."""
    out: Array = np.zeros(1)
    q2 = x**2 + up2
    for s in (1.0, -1.0):
        r2 = (y - s * half) ** 2 + up2
        far = np.sqrt(x**2 + r2)
        # ∫ y/r² (1 + x/√(x² + r²)) dy = ln(√(x² + r²) − x), written so that nothing cancels behind the wing
        leg = np.where(x > 0, np.log(r2) - np.log(far + np.abs(x)), np.log(far - np.minimum(x, 0.0)))
        bound = np.sqrt(q2 + (y + s * half) ** 2) * x / q2
        out = out + s * (bound - leg)
    return out / (4 * np.pi)
