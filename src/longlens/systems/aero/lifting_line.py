"""Finite wings: Prandtl's lifting line with the ground as its image, plates at the ends.

Sources: Glauert 1926 (series for the circulation); Wieselsberger 1922, NACA TM 77 and Prandtl, NACA Report 116 (image);
Phillips and Hunsaker 2013 (lifting line in ground effect); Hemke 1927, NACA Report 267 (end plates). Limits: aspect ratio over
about 2, sweep under 15°, symmetric loading, wake flat and in the wing's plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array

#: Terms of the series, which is also the number of stations on a half span.
TERMS = 8
_QUADRATURE = 128
#: Wings solved at once: a bound on the memory.
_PIECE = 8192


@dataclass(frozen=True)
class WingLift:
    """Of each draw: lift and induced drag coefficients on the wing's area, both of downforce; circulation over 2 b V at the
    stations (..., P); the stations' place over the half span (P,); mean effective angle (rad)."""

    lift: Array
    induced: Array
    loading: Array
    stations: Array
    effective: Array


def stations(count: int = TERMS) -> Array:
    """Angles θ of the stations on a half span, tip to middle; their place is cos θ of the half span."""
    return (np.arange(count) + 0.5) * np.pi / (2 * count)


def end_plate_factor(plate_height: ArrayLike, span: ArrayLike) -> Array:
    """Share of the induced angle that plates leave: 1/(1 + 1.9 h/b), for plates up to 0.4 of the span (Hemke, NACA Report
    267)."""
    return 1 / (1 + 1.9 * np.minimum(np.asarray(plate_height, float) / np.asarray(span), 0.4))


def image_influence(height_over_span: ArrayLike, count: int = TERMS) -> Array:
    """(..., P, n): angle that the image takes off the induced angle at each station, per n A_n of the odd terms.

    1/π ∫ cos nθ' (c'−c)/((c'−c)² + (4h/b)²) dθ'; midpoint rule, exact to rounding for 4 h/b over 0.1, to 1 % for 0.05.
    """
    h = 4 * np.asarray(height_over_span, float)[..., None, None]
    theta = stations(count)
    t = (np.arange(_QUADRATURE) + 0.5) * np.pi / _QUADRATURE
    d = np.cos(t)[None, :] - np.cos(theta)[:, None]
    kernel = d / (d * d + h * h)
    n = 2 * np.arange(count) + 1
    return np.asarray(kernel @ np.cos(np.outer(t, n))) / _QUADRATURE


def solve(
    span: ArrayLike,
    chord: ArrayLike,
    angle: ArrayLike,
    slope: ArrayLike,
    height: ArrayLike = np.inf,
    induced_share: ArrayLike = 1.0,
    chord_shape: Array | None = None,
) -> WingLift:
    """Lift of a wing with one absolute angle along its span.

    Parameters
    ----------
    span, chord : m; ``chord`` is the mean one. angle : absolute, rad. slope : section's lift per angle, 1/rad.
    height : over the ground, m; inf: free air. induced_share : what end plates leave, :func:`end_plate_factor`.
    chord_shape : (P,) chord at :func:`stations` over the mean chord; None: rectangular.

    All broadcast; solved as one batch of P equations. Limits: see the module.
    """
    b, c, a, m, h, k = np.broadcast_arrays(
        *(np.asarray(x, float) for x in (span, chord, angle, slope, height, induced_share))
    )
    shape = b.shape
    outline = np.ones(TERMS) if chord_shape is None else np.asarray(chord_shape, float)
    flat = [x.reshape(-1) for x in (b, c, a, m, h, k)]
    pieces = [_solved([x[at : at + _PIECE] for x in flat], outline) for at in range(0, max(b.size, 1), _PIECE)]
    lift, drag, gamma, effective = (np.concatenate(rows) for rows in zip(*pieces, strict=True))
    return WingLift(
        lift.reshape(shape),
        drag.reshape(shape),
        gamma.reshape(*shape, TERMS),
        np.cos(stations()),
        effective.reshape(shape),
    )


def _solved(rows: list[Array], outline: Array) -> tuple[Array, Array, Array, Array]:
    """Lift, induced drag, circulation and mean effective angle of (M,) wings: spans, chords, angles, slopes, heights, shares."""
    b, c, a, m, h, k = rows
    theta, n = stations(), 2 * np.arange(TERMS) + 1
    sines = np.sin(np.outer(theta, n))
    own = sines / np.sin(theta)[:, None]
    over = np.where(np.isfinite(h), h / b, 1e6)
    near = over < 20
    image = np.zeros((b.size, TERMS, TERMS))
    if np.any(near):
        image[near] = image_influence(over[near])
    induced = n * (own - image) * k[:, None, None]
    local = (4 * b / (m * c))[:, None, None] / outline[None, :, None]
    A = np.linalg.solve(local * sines + induced, np.broadcast_to(a[:, None, None], (b.size, TERMS, 1)))[..., 0]
    aspect = b / c
    gamma = A @ sines.T
    down = np.einsum("kpn,kn->kp", induced, A)
    weight = np.sin(theta) * np.pi / (2 * TERMS)
    # C_D = 2/(V S) ∫ Γ α_i dy over the whole span
    drag = 4 * aspect * np.sum(gamma * down * weight, axis=1)
    effective = a - np.sum(down * weight, axis=1) / np.sum(weight)
    return np.pi * aspect * A[:, 0], drag, gamma, effective


def prandtl_sigma(height_over_span: ArrayLike) -> Array:
    """Share of the induced drag that the ground takes off: (1 − 1.32 h/b)/(1.05 + 7.4 h/b), 1/30 < h/b < 1/4 (Wieselsberger
    1922, NACA TM 77)."""
    x = np.asarray(height_over_span, float)
    return (1 - 1.32 * x) / (1.05 + 7.4 * x)
