"""The Fulmar's floor, its diffuser, and the shown car's edge wings."""

from __future__ import annotations

import numpy as np

from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import shell
from longlens.demo.solids import plate, rod

#: The floor's outline (x, y), m.
OUTLINE = (
    (-0.42, 0.25),
    (-0.62, 0.60),
    (-0.78, 0.735),
    (-1.60, 0.748),
    (-2.06, 0.700),
    (-2.20, 0.52),
    (-2.24, 0.18),
    (-2.24, -0.18),
    (-2.20, -0.52),
    (-2.06, -0.700),
    (-1.60, -0.748),
    (-0.78, -0.735),
    (-0.62, -0.60),
    (-0.42, -0.25),
)


def add_floor(m: Model, shown: bool) -> None:
    """The floor from the nose to behind the rear axle."""
    m.add(
        "floor",
        plate(np.array(OUTLINE), vec(0, 0, 0.034), vec(1, 0, 0), vec(0, 1, 0), 0.008, 0.002, 0.05, uv_scale=0.5),
        "carbon_weave",
    )
    for _ in m.both_sides():
        _add_diffuser(m)
        m.point("floor.edge_front", vec(-0.78, 0.732, 0.038), 0.010, 0.5)
        m.point("floor.edge_rear", vec(-1.60, 0.746, 0.038), 0.010, 0.4)
        stay = rod(vec(-1.80, 0.68, 0.040), vec(-2.06, 0.152, 0.30), 0.003, 10)
        m.add("floor.stay", stay, "steel_dark")
        if shown:
            _add_edge_wing(m)


def _add_diffuser(m: Model) -> None:
    """Half of the diffuser, with its strakes."""
    t = np.linspace(0, 1, 24)
    y = np.linspace(0.0, 0.47, 12)
    P = np.stack(
        [
            np.broadcast_to((-2.22 - 0.80 * t)[:, None], (24, 12)),
            np.broadcast_to(y, (24, 12)),
            np.broadcast_to((0.034 + 0.150 * t**1.6)[:, None], (24, 12)),
        ],
        -1,
    )
    m.add("diffuser", shell(P + vec(0, 0, 0.005), P), "carbon_gloss")
    for ys in (0.10, 0.24, 0.38, 0.468):
        s = [(-2.30, 0.045), (-3.02, 0.186), (-3.02, 0.055), (-2.45, 0.032)]
        m.add(
            "diffuser.strake",
            plate(np.array(s), vec(0, ys, 0), vec(1, 0, 0), vec(0, 0, 1), 0.004, 0.001),
            "carbon_gloss",
        )
    m.point("diffuser.rear_corner", vec(-3.018, 0.468, 0.183), 0.009, 0.6)


def _add_edge_wing(m: Model) -> None:
    P = np.stack(
        [
            np.stack(
                [
                    x_ * np.ones(2),
                    np.array([0.742, 0.770]),
                    np.array([0.040, 0.075 + 0.02 * np.sin((x_ + 0.8) * 4)]),
                ],
                -1,
            )
            for x_ in np.linspace(-0.85, -1.55, 30)
        ]
    )
    m.add("floor.edge_wing", shell(P + vec(0, 0, 0.003), P), "carbon_gloss")
