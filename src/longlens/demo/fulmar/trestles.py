"""The trestles the Fulmar stands on while its wheels hang."""

from __future__ import annotations

import numpy as np

from longlens.demo.fulmar.stance import Stance
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.solids import box, rod


def add_trestles(m: Model, st: Stance) -> None:
    """Four trestles under the floor, down to the ground of the stance."""
    g = st.ground[0] if st.ground else 0.0
    for xx, yy in ((-0.80, 0.56), (-1.95, 0.55)):
        for _ in m.both_sides():
            top = vec(xx, yy, 0.030)
            m.add("trestle.pad", box(top - vec(0, 0, 0.012), (0.10, 0.10, 0.022), 0.006), "rubber")
            for w in np.linspace(0.4, 2 * np.pi + 0.4, 3, endpoint=False):
                m.add(
                    "trestle.leg",
                    rod(top - vec(0, 0, 0.024), vec(xx + 0.10 * np.cos(w), yy + 0.10 * np.sin(w), g), 0.011, 18),
                    "caliper",
                )
