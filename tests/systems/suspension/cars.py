"""Invented corners for the tests: one fixed, and as many random ones as wanted, none with a wild linkage."""

from __future__ import annotations

import numpy as np

from longlens.systems.suspension.corner import Corner, spin_axis

Points = dict[str, np.ndarray]

WISHBONES = {
    "upper_wishbone.front_inner": (0.168, 0.240, 0.352),
    "upper_wishbone.rear_inner": (-0.204, 0.246, 0.342),
    "upper_wishbone.outer": (-0.0138, 0.6482, 0.3962),
    "lower_wishbone.front_inner": (0.206, 0.218, 0.150),
    "lower_wishbone.rear_inner": (-0.266, 0.226, 0.146),
    "lower_wishbone.outer": (0.0061, 0.6724, 0.1583),
    "track_rod.inner": (0.1284, 0.2315, 0.2432),
    "track_rod.outer": (0.1221, 0.6554, 0.2618),
    "wheel.centre": (0.0, 0.720, 0.290),
}
ROCKER = {
    "pushrod.outer": (-0.004, 0.622, 0.183),
    "pushrod.inner": (-0.020, 0.170, 0.474),
    "rocker.pivot": (-0.020, 0.135, 0.415),
    "rocker.axis": (0.080, 0.135, 0.415),
    "spring.outer": (-0.020, 0.085, 0.485),
    "spring.inner": (-0.020, -0.080, 0.340),
    "bar_link.outer": (0.030, 0.089, 0.419),
    "bar_link.inner": (0.034, 0.095, 0.480),
    "anti_roll_bar.pivot": (0.205, 0.115, 0.424),
    "heave.outer": (-0.068, 0.123, 0.489),
}
STRUT = {
    "lower_wishbone.front_inner": (0.02, 0.37, 0.19),
    "lower_wishbone.rear_inner": (-0.29, 0.38, 0.20),
    "lower_wishbone.outer": (0.00, 0.73, 0.17),
    "track_rod.inner": (-0.13, 0.35, 0.24),
    "track_rod.outer": (-0.14, 0.70, 0.25),
    "strut.top": (-0.03, 0.57, 0.83),
    "strut.lower": (-0.01, 0.635, 0.36),
    "wheel.centre": (0.0, 0.76, 0.30),
}
FIVE_LINK = {
    "upper_front_link.inner": (0.14, 0.36, 0.46),
    "upper_front_link.outer": (0.03, 0.66, 0.49),
    "upper_rear_link.inner": (-0.12, 0.37, 0.45),
    "upper_rear_link.outer": (-0.05, 0.66, 0.48),
    "lower_front_link.inner": (0.24, 0.34, 0.19),
    "lower_front_link.outer": (0.04, 0.70, 0.17),
    "lower_rear_link.inner": (-0.16, 0.28, 0.19),
    "lower_rear_link.outer": (-0.05, 0.71, 0.16),
    "track_rod.inner": (-0.21, 0.33, 0.29),
    "track_rod.outer": (-0.16, 0.70, 0.27),
    "wheel.centre": (0.0, 0.76, 0.31),
}
BASE = {"double_wishbone": WISHBONES, "strut": STRUT, "five_link": FIVE_LINK}


def corner(layout: str = "double_wishbone", *, rocker: bool = False, **mounts: str) -> Corner:
    """The fixed corner of a layout."""
    points = {k: np.array(p) for k, p in (BASE[layout] | (ROCKER if rocker else {})).items()}
    return Corner(layout, points, spin_axis(np.radians(-1.5), np.radians(0.1)), 0.29, mounts)  # type: ignore[arg-type]


def random_corner(rng: np.random.Generator, layout: str, *, sd: float = 0.02, rocker: bool = False) -> Corner:
    """The fixed corner with every coordinate moved by a normal error."""
    points = {k: np.array(p) + rng.normal(0, sd, 3) for k, p in BASE[layout].items()}
    if rocker:
        points |= {k: np.array(p) + rng.normal(0, min(sd, 0.004), 3) for k, p in ROCKER.items()}
    spin = spin_axis(rng.normal(0, 0.03), rng.normal(0, 0.005))
    return Corner(layout, points, spin, 0.29)  # type: ignore[arg-type]
