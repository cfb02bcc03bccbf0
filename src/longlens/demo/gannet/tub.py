"""The Gannet's tub, its front crash structure, and what is bolted to it under the nose cover."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.gannet.shape import TUB, opening
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import Loft
from longlens.demo.solids import box, lathe, plate, spline, tube


def add_tub(m: Model) -> None:
    """The tub and what is in front of it."""
    _add_shells(m)
    _add_crash_structure(m)
    for _ in m.both_sides():
        m.point("crash_structure.beam_end", vec(0.9975, 0.299, 0.175), 0.010, 0.7)
        _add_bolts(m)
        _add_reservoir(m)
    sleeve, ties = d.loom(
        spline([vec(0.55, -0.03, 0.375), vec(0.35, -0.02, 0.395), vec(0.10, 0.03, 0.425), vec(-0.28, 0.02, 0.474)], 12),
        0.008,
        6,
    )
    m.add("front.loom", sleeve, "sleeve")
    m.add("front.loom.ties", ties, "black")


def _add_shells(m: Model) -> None:
    m.add("tub.front", TUB.whole(0.62, -0.46, 60, 120), "carbon_weave")
    m.add(
        "tub.cockpit",
        TUB.panel(-0.46, -1.56, lambda x: np.pi / 2 + opening(x), lambda x: 2.5 * np.pi - opening(x), 0.012, 110, 130),
        "carbon_matt",
    )
    m.add(
        "tub.bulkhead",
        plate(
            TUB.at(np.full(80, -1.55), np.linspace(0, 2 * np.pi, 80, endpoint=False))[:, 1:],
            vec(-1.555, 0, 0),
            vec(0, 1, 0),
            vec(0, 0, 1),
            0.012,
            0.001,
        ),
        "carbon_weave",
    )


def _add_crash_structure(m: Model) -> None:
    """Two cans low down, under the radiator, into a beam behind the mouth's lip."""
    crash = Loft(x=[0.96, 0.62], w=[0.050, 0.085], z0=[0.112, 0.098], z1=[0.172, 0.186], n_up=[6, 6], n_low=[6, 6])
    for y in (0.150, -0.150):
        m.add("crash_structure", crash.whole(0.96, 0.62, 30, 80).moved(None, (0, y, 0)), "aluminium")
        for x in (0.70, 0.78, 0.86, 0.92):
            ring = crash.at(np.full(81, x), np.linspace(0, 2 * np.pi, 81)) + vec(0, y, 0)
            m.add("crash_structure.bead", tube(ring, 0.003, 8), "aluminium")
    m.add("crash_structure.beam", box(vec(0.975, 0, 0.142), (0.045, 0.60, 0.070), 0.012), "aluminium")


def _add_bolts(m: Model) -> None:
    for i, (y, z) in enumerate(((0.215, 0.345), (0.215, 0.215))):
        m.add("tub.front_bolt", d.bolt(vec(0.620, y, z - 0.012), vec(1, 0, 0), 0.008), "steel")
        m.point(f"tub.front_bolt_{i + 1}", vec(0.626, y, z - 0.012), 0.008, 0.95)
    for i, x in enumerate((0.48, 0.20, -0.20)):
        z = float(TUB.at(x, np.pi / 2)[2])
        m.add("tub.top_bolt", d.bolt(vec(x, 0.14, z - 0.001), vec(0, 0, 1), 0.007), "steel")
        m.point(f"tub.top_bolt_{i + 1}", vec(x, 0.14, z + 0.004), 0.008, 0.95)


def _add_reservoir(m: Model) -> None:
    top = float(TUB.at(0.40, np.pi / 2)[2])
    m.add(
        "reservoir",
        lathe(
            [(0, 0), (0, 0.022), (0.048, 0.022), (0.052, 0.018), (0.052, 0)],
            vec(0.40, 0.09, top - 0.002),
            vec(0, 0, 1),
            36,
        ),
        "tank",
    )
    m.add(
        "reservoir.cap",
        lathe(
            [(0, 0), (0, 0.024), (0.012, 0.024), (0.012, 0)],
            vec(0.40, 0.09, top + 0.047),
            vec(0, 0, 1),
            10,
        ),
        "black",
    )
    m.point("reservoir.cap", vec(0.40, 0.09, top + 0.059), 0.016, 0.7)
