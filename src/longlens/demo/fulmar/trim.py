"""The Fulmar's trim: rivets, screws, brake lines, data plates, stickers; nothing of it can be marked."""

from __future__ import annotations

import numpy as np

from longlens.demo.fulmar.shape import TUB
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.solids import spline
from longlens.demo.trim import line_with_clips, outwards, panel_screws, rivets, sticker


def add_trim(m: Model) -> None:
    """All that is there to be found close up."""
    up = vec(0, 0, 1)
    edge = np.array([(-0.46, 0.27), (-0.635, 0.575), (-0.79, 0.712), (-1.60, 0.724), (-2.05, 0.678), (-2.18, 0.51)])
    for _ in m.both_sides():
        m.add("floor.rivets", rivets(np.column_stack([edge, np.full(len(edge), 0.0382)]), 0.075, up), "machined")
        for y0 in (0.25, 0.39):
            seam = np.array([(-0.70, y0, 0.0382), (-1.50, y0, 0.0382), (-2.05, y0, 0.0382)])
            m.add("floor.seam_rivets", rivets(seam, 0.09, up, 0.0034), "steel_dark")
        duct = [(-0.75, 0.358, 0.10), (-0.75, 0.358, 0.42), (-1.38, 0.399, 0.43), (-1.38, 0.399, 0.12)]
        panel_screws(m, "pod_duct.screws", duct, (0.065, 1, 0), 0.085)
        # the feed of the front brakes: from the master cylinders over the deck to the tub's side
        path = spline(
            [
                vec(0.500, 0.052, 0.409),
                vec(0.455, 0.075, 0.398),
                vec(0.36, 0.108, 0.3925),
                vec(0.20, 0.135, 0.3925),
                vec(0.02, 0.160, 0.3925),
                vec(-0.09, 0.180, 0.393),
            ],
            12,
        )
        line_with_clips(m, "brake_line", path, 0.0035, (0.35, 0.55, 0.75), (0.0, -0.012, -0.006))
        rail = np.linspace(0.385, -0.33, 40)
        inner = np.array([TUB.at(x, np.pi / 2 - 0.90 - 0.11) for x in rail])
        n = np.array([outwards(TUB, x, np.pi / 2 - 0.90 - 0.11) for x in rail])
        keep = np.abs(rail + 0.012) > 0.075
        m.add("tub.hatch_rivets", rivets(inner[keep] + n[keep] * 0.0002, 0.055, n[keep], 0.0028), "steel_dark")
    m.add("header_tank.sticker", sticker((-1.635, 0.0, 0.690), (-1, 0, 0), up, 0.110, 0.055), "sticker_coolant")
    m.add("header_tank.sticker", sticker((-1.575, 0.085, 0.688), (0, 1, 0), up, 0.075, 0.0375), "sticker_coolant")
    m.add("inverter.plate", sticker((-1.74, 0.12, 0.415), (0, 1, 0), up, 0.110, 0.055), "sticker_inverter")
    m.add("inverter.plate", sticker((-1.74, -0.12, 0.415), (0, -1, 0), up, 0.110, 0.055), "sticker_inverter")
    for y in (1, -1):
        m.add("battery.label", sticker((-1.76, 0.25 * y, 0.22), (0, y, 0), up, 0.10, 0.07), "label")
    m.add("deck.sticker", sticker((0.27, -0.085, 0.3852), up, (-1, 0, 0), 0.100, 0.050), "sticker_bars")
    m.add("battery.sticker", sticker((-1.66, 0.25, 0.28), (0, 1, 0), up, 0.080, 0.040), "sticker_high_voltage")
