"""The Gannet's trim: rivets, brake lines, stickers; nothing of it can be marked."""

from __future__ import annotations

import numpy as np

from longlens.demo.gannet.shape import TUB
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.solids import spline
from longlens.demo.trim import line_with_clips, outwards, rivets, sticker


def add_trim(m: Model) -> None:
    """All that is there to be found close up."""
    up = vec(0, 0, 1)
    for _ in m.both_sides():
        xs = np.linspace(0.60, -0.44, 50)
        for angle in (0.92, -0.98):
            rail = np.array([TUB.at(x, angle) for x in xs])
            n = np.array([outwards(TUB, x, angle) for x in xs])
            m.add("tub.rivets", rivets(rail + n * 0.0002, 0.06, n, 0.0034), "steel_dark")
        edge = np.array([(1.035, 0.03), (1.03, 0.29), (0.975, 0.595), (0.71, 0.775), (0.475, 0.775)])
        m.add(
            "splitter.rivets",
            rivets(np.column_stack([edge, np.full(len(edge), 0.0772)]), 0.08, up, 0.0038),
            "machined",
        )
        floor = np.array([(-0.63, 0.815), (-1.25, 0.832), (-1.90, 0.852)])
        m.add("floor.rivets", rivets(np.column_stack([floor, np.full(3, 0.0632)]), 0.075, up), "machined")
        top = float(TUB.at(0.40, np.pi / 2)[2])
        path = spline(
            [
                vec(0.378, 0.09, top + 0.010),
                vec(0.33, 0.115, float(TUB.at(0.33, 1.1)[2]) + 0.010),
                vec(0.18, 0.150, float(TUB.at(0.18, 1.0)[2]) + 0.010),
                vec(-0.05, 0.175, float(TUB.at(-0.05, 1.0)[2]) + 0.010),
                vec(-0.22, 0.190, float(TUB.at(-0.22, 1.0)[2]) + 0.010),
            ],
            12,
        )
        line_with_clips(m, "brake_line", path, 0.0035, (0.4, 0.75), (0.0, -0.014, -0.008))
    top = float(TUB.at(0.15, np.pi / 2)[2])
    m.add("tub.sticker", sticker((0.15, -0.10, top), (0.02, 0, 1), (-1, 0, 0), 0.120, 0.060, 0.0006), "sticker_bars")
    m.add("header_tank.sticker", sticker((-1.715, -0.02, 0.730), (-1, 0, 0), up, 0.110, 0.055), "sticker_coolant")
    m.add("engine.sticker", sticker((-1.83, 0.0, 0.6252), up, (0, -1, 0), 0.16, 0.08, 0.0004), "sticker_engine")
    m.add("airbox.sticker", sticker((-2.26, 0.02, 0.565), (-1, 0, 0), up, 0.12, 0.06), "sticker_intake")
