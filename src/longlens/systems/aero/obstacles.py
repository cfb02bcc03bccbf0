"""What stands in the flow: drag of rods, cores and bodies, and what a wing or tunnel near them loses.

Source of drag coefficients: Hoerner, Fluid-Dynamic Drag, 1965 (from memory): round rods 1.1 below Re 2·10⁵, faired rods 0.08
to 0.25, blunt boxes 0.8 to 1.1. The loss by blockage is a band: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from longlens.numbers.streams import Array


class Kind(NamedTuple):
    """Middle drag coefficient, the relative spread of what stands for it, the band of the strength of its blockage."""

    drag: float
    spread: float
    strength: tuple[float, float]
    meaning: str


KINDS: Mapping[str, Kind] = {
    "round_rod": Kind(1.10, 0.10, (0.15, 0.7), "round rod or tube across the flow"),
    "faired_rod": Kind(0.15, 0.40, (0.05, 0.3), "rod in a streamlined fairing"),
    "core": Kind(0.75, 0.25, (0.4, 1.5), "radiator core that air passes through"),
    "box": Kind(0.90, 0.15, (0.4, 1.5), "blunt body, such as a crash structure"),
    "wheel": Kind(0.60, 0.20, (0.4, 1.5), "rolling wheel on the road (Fackrell and Harvey 1975: 0.58, from memory)"),
    "smooth": Kind(0.30, 0.30, (0.2, 0.8), "rounded body"),
}


def drag_area(frontal: ArrayLike, coefficient: ArrayLike) -> Array:
    """C_D A (m²) of a body of a frontal area (m²)."""
    return np.asarray(frontal, float) * np.asarray(coefficient)


def flow_left(frontal: ArrayLike, passage: ArrayLike, strength: ArrayLike) -> Array:
    """Share of a device's downforce that is left with a body in its passage: 1 − s A/A_p, not under 0.1.

    ``passage``: the frontal area of the stream that feeds the device (m²): a wing's span times chord; a tunnel's mouth.
    ``strength``: how much of the stream a body of that area spoils; its band stands with its kind. Limits: bodies of less than
    half the passage.
    """
    return np.maximum(1 - np.asarray(strength) * np.asarray(frontal, float) / np.asarray(passage), 0.1)
