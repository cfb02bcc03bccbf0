"""Openings of cooling ducts: total pressure that reaches an inlet, pressure at an outlet, loss of the diffuser before a core.

Pressures are coefficients on the car's own dynamic pressure. Sources: Küchemann and Weber, Aerodynamics of Propulsion, 1953
(inlets, ducts); Hoerner, Fluid-Dynamic Drag, 1965 (base pressure, cooling outlets); NACA ACR 5I20, 1945, and RM A7I30, 1948
(submerged inlets); Schlichting (turbulent layer); Crane TP 410 and Idelchik (widening pipes). The bands of the tables are from
memory and common practice where the text says so.

Limits: incompressible, straight ahead; inlets of sound lips at flow ratios of 0.2 to 1 (a lip that separates costs more); outlets
as the body's shape around them makes them, not as one flap or the next would.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.distributions import Distribution, TruncatedNormal
from longlens.numbers.streams import Array

PRACTICE = "common practice, no source"


class Kind(NamedTuple):
    """Band of a coefficient, and what it stands for with its source."""

    band: Distribution
    meaning: str


#: Share of the oncoming total pressure that an inlet keeps, before layer and wakes.
INLETS: Mapping[str, Kind] = {
    "facing": Kind(TruncatedNormal(0.96, 0.025, 0.8, 1.0),
                   "mouth that faces the stream, rounded lips, 0.92 to 1.0: Küchemann and Weber 1953 (from memory)"),
    "nose": Kind(TruncatedNormal(0.90, 0.06, 0.65, 1.0),
                 f"mouth in a blunt nose, with bars before it: {PRACTICE}"),
    "ramp": Kind(TruncatedNormal(0.78, 0.08, 0.5, 0.95),
                 "submerged inlet with a ramp, 0.9 at best: NACA ACR 5I20 and RM A7I30 (from memory)"),
    "flank": Kind(TruncatedNormal(0.20, 0.15, -0.1, 0.6),
                  f"hole in a wall that the stream runs along, little more than its static pressure: {PRACTICE}"),
}  # fmt: skip

#: Pressure coefficient of the body at an outlet.
OUTLETS: Mapping[str, Kind] = {
    "base": Kind(TruncatedNormal(-0.16, 0.06, -0.4, 0.05),
                 "into the wake behind the car, −0.1 to −0.25: Hoerner 1965, Hucho 1987 (from memory)"),
    "flank": Kind(TruncatedNormal(-0.10, 0.08, -0.4, 0.1), f"through louvres in a side wall: {PRACTICE}"),
    "top": Kind(TruncatedNormal(-0.18, 0.10, -0.6, 0.1), f"through louvres in a bonnet or a pod's top: {PRACTICE}"),
    "before_wing": Kind(TruncatedNormal(-0.25, 0.12, -0.8, 0.05), f"under a rear wing's suction: {PRACTICE}"),
    "wheel_house": Kind(TruncatedNormal(-0.08, 0.10, -0.4, 0.25), f"into a wheel house: {PRACTICE}"),
    "underneath": Kind(TruncatedNormal(-0.35, 0.18, -1.2, 0.05), f"under the car, where the floor sucks: {PRACTICE}"),
    "open": Kind(TruncatedNormal(-0.10, 0.07, -0.35, 0.1), f"openings at a pod's rear end or in a tail: {PRACTICE}"),
}  # fmt: skip


def layer_thickness(way: ArrayLike, speed: ArrayLike, viscosity: ArrayLike = 1.5e-5) -> Array:
    """Thickness of a turbulent layer on a plate (m): 0.37 x Re^−1/5 (Schlichting), Re from 5e5 to 1e7; on bodies thicker."""
    x = np.asarray(way, float)
    return 0.37 * x / np.maximum(np.asarray(speed, float) * x / np.asarray(viscosity), 1e4) ** 0.2


def layer_left(thickness: ArrayLike, depth: ArrayLike) -> Array:
    """Mean dynamic pressure over an opening beside a wall, over that outside the wall's layer: mean of (y/δ)^(2/7).

    Parameters
    ----------
    thickness : δ of the layer, m. depth : of the opening, square to the wall, m.

    1 − (2/9) δ/h for an opening deeper than the layer, (7/9)(h/δ)^(2/7) inside it. Limits: layer of the 1/7 power, one wall.
    """
    d, h = np.asarray(thickness, float), np.maximum(np.asarray(depth, float), 1e-6)
    share = np.maximum(h, 1e-9) / np.maximum(d, 1e-9)
    return np.where(share > 1, 1 - 2 / 9 / np.maximum(share, 1.0), 7 / 9 * np.minimum(share, 1.0) ** (2 / 7))


def total_at_inlet(stream: ArrayLike, kept: ArrayLike, layer: ArrayLike = 1.0, local: ArrayLike = 0.0) -> Array:
    """Total pressure coefficient that a duct gets: local + kept · layer · (stream − local).

    Parameters
    ----------
    stream : total pressure coefficient of the oncoming stream (1 undisturbed; in a wake its mean dynamic pressure, since there
        the static pressure is that of the place). kept : of an inlet's kind. layer : :func:`layer_left`. local : static pressure
        coefficient of the body where the inlet lies, if known: what is lost is lost from the stream's excess over it.
    """
    c = np.asarray(local, float)
    return c + np.asarray(kept) * np.asarray(layer) * (np.asarray(stream, float) - c)


def diffuser_loss(area_ratio: ArrayLike, length: ArrayLike, inlet_area: ArrayLike) -> Array:
    """Loss of the widening way from an inlet to a core, in heads of the inlet's speed, without what the core's face makes even.

    2.6 sin(θ/2) (1 − 1/R)² up to a full angle θ of 45°, (1 − 1/R)² (Borda and Carnot) beyond; θ of the cone of the same areas
    (Crane TP 410). A core close behind evens the flow and makes steep diffusers better than this: it is a bound from above
    there (Küchemann and Weber 1953). ``area_ratio`` R: core's frontal area over the inlet's; ``length`` m; ``inlet_area`` m².
    """
    ratio = np.maximum(np.asarray(area_ratio, float), 1.0)
    r = np.sqrt(np.asarray(inlet_area, float) / np.pi)
    half = np.arctan2(r * (np.sqrt(ratio) - 1), np.maximum(np.asarray(length, float), 1e-6))
    return np.where(2 * half < np.pi / 4, 2.6 * np.sin(half), 1.0) * (1 - 1 / ratio) ** 2
