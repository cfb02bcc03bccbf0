"""The Fulmar's front wing: main plane, flaps, end plates, pylons."""

from __future__ import annotations

import numpy as np

from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import aerofoil, trailing_edge, wing
from longlens.demo.solids import plate, rod

#: Each flap's leading edge (x and height in the middle plane, m), chord (m) and incidence (degrees).
FLAPS = {
    "shown": ((0.770, 0.118, 0.092, 13.0), (0.693, 0.150, 0.074, 21.0), (0.637, 0.184, 0.056, 28.0)),
    "test": ((0.765, 0.120, 0.118, 14.0), (0.661, 0.158, 0.078, 23.0)),
}
#: The end plate's outline (x, z), m.
END_PLATE = {
    "shown": ((0.955, 0.045), (0.965, 0.115), (0.90, 0.190), (0.58, 0.262), (0.54, 0.262), (0.535, 0.050)),
    "test": ((0.955, 0.045), (0.955, 0.240), (0.545, 0.240), (0.545, 0.045)),
}
#: Which corners of it are marked, and with what name.
END_PLATE_CORNERS = {
    "shown": ((0.965, 0.115, "front"), (0.54, 0.262, "rear_upper"), (0.535, 0.050, "rear_lower")),
    "test": ((0.955, 0.240, "front"), (0.545, 0.240, "rear_upper"), (0.545, 0.045, "rear_lower")),
}


def add_front_wing(m: Model, shown: bool) -> None:
    """The whole wing."""
    y = np.linspace(-0.795, 0.795, 61)
    a = np.abs(y)
    lead = np.stack([1.000 - 0.10 * (a / 0.8) ** 1.6, y, 0.108 - 0.030 * np.clip((a - 0.12) / 0.3, 0, 1)], -1)
    m.add(
        "front_wing.main",
        wing(y, lead, np.full_like(y, 0.250), 2.0 + 3.0 * np.clip((a - 0.15) / 0.4, 0, 1), aerofoil(36, 0.07, 0.11)),
        "carbon_gloss" if shown else "camouflage",
    )
    stage = "shown" if shown else "test"
    paints = ("paint_white", "paint_slate") if shown else ("carbon_matt", "carbon_matt")
    for i, flap in enumerate(FLAPS[stage]):
        for _ in m.both_sides():
            _add_flap(m, f"front_wing.flap_{i + 1}", flap, paints[i % 2])
    for _ in m.both_sides():
        m.point("front_wing.main.tip_leading", lead[-1] + vec(0.002, -0.003, 0.004), 0.010, 0.6)
        _add_end_plate(m, stage, paints[0])
        pylon = np.array([(0.93, 0.225), (0.70, 0.235), (0.78, 0.095), (0.915, 0.100)])
        m.add(
            "front_wing.pylon",
            plate(pylon, vec(0, 0.062, 0), vec(1, 0, 0), vec(0, 0, 1), 0.009, 0.003, 0.012),
            "carbon_gloss",
            "*nose_pylon",
        )


def _add_flap(m: Model, name: str, flap: tuple[float, float, float, float], paint: str) -> None:
    x, z, chord, incidence = flap
    y = np.linspace(0.205, 0.795, 34)
    root = np.clip((y - 0.205) / 0.16, 0, 1) ** 0.6
    lead = np.stack([np.full_like(y, x) - 0.05 * (y / 0.8) ** 1.6, y, z + 0 * y], -1)
    m.add(name, wing(y, lead, chord * (0.55 + 0.45 * root), incidence, aerofoil(26, 0.09, 0.10)), paint)
    m.point(f"{name}.inner_trailing", trailing_edge(lead[0], chord * 0.55, incidence), 0.008, 0.7)
    m.point(f"{name}.tip_trailing", trailing_edge(lead[-1], chord, incidence), 0.008, 0.7)
    bracket = [(0.03, -0.012), (-0.035, -0.004), (-0.035, 0.014), (0.02, 0.004)]
    for at in (0.40, 0.62):
        m.add(
            "front_wing.slot_bracket",
            plate(bracket, vec(x + 0.005, at, z + 0.004), vec(1, 0, 0), vec(0, 0, 1), 0.003, 0.0006),
            "machined",
        )


def _add_end_plate(m: Model, stage: str, paint: str) -> None:
    outline = np.array(END_PLATE[stage])
    m.add(
        "front_wing.end_plate",
        plate(outline, vec(0, 0.800, 0), vec(1, 0, 0), vec(0, 0, 1), 0.008, 0.002, 0.018),
        paint,
    )
    foot = [(0.95, 0.795), (0.95, 0.832), (0.60, 0.862), (0.545, 0.855), (0.545, 0.795)]
    m.add(
        "front_wing.foot_plate",
        plate(foot, vec(0, 0, 0.048), vec(1, 0, 0), vec(0, 1, 0), 0.005, 0.0015, 0.01),
        "carbon_gloss",
    )
    y = 0.800 + 0.0045 - 0.0005
    for x, z, corner in END_PLATE_CORNERS[stage]:
        inside = vec(x - (0.005 if corner == "front" else -0.005), y, z + (-0.004 if z > 0.1 else 0.004))
        m.point(f"front_wing.end_plate.{corner}", inside, 0.009, 0.75)
    if stage == "shown":
        strip = rod(vec(0.88, 0.806, 0.085), vec(0.58, 0.806, 0.10), 0.006, 16)
        m.add("front_wing.end_plate.rub", strip, "carbon_matt")
