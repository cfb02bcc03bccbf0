"""What the Fulmar's test car carries to measure: a rake of pitot tubes behind each front wheel, and an aerial."""

from __future__ import annotations

from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.solids import lathe, plate, rod


def add_instruments(m: Model) -> None:
    """The rakes and the aerial."""
    for _ in m.both_sides():
        for i in range(7):
            z = 0.16 + 0.055 * i
            m.add("rake.tube", rod(vec(-0.42, 0.62, z), vec(-0.50, 0.62, z), 0.0022, 10), "steel")
        m.add(
            "rake.post",
            plate(
                [(-0.50, 0.13), (-0.55, 0.13), (-0.55, 0.52), (-0.50, 0.52)],
                vec(0, 0.62, 0),
                vec(1, 0, 0),
                vec(0, 0, 1),
                0.007,
                0.003,
                0.01,
            ),
            "caliper",
        )
        m.add("rake.stay", rod(vec(-0.53, 0.62, 0.30), vec(-0.55, 0.30, 0.30), 0.006, 14), "caliper")
        m.point("rake.top", vec(-0.525, 0.62, 0.519), 0.012, 0.6)
    m.add("aerial", rod(vec(-0.10, 0.0, 0.548), vec(-0.16, 0.0, 0.70), 0.0022, 10), "black")
    m.add(
        "aerial.foot",
        lathe([(0, 0), (0, 0.014), (0.012, 0.010), (0.014, 0)], vec(-0.10, 0, 0.545), vec(0, 0, 1), 24),
        "black",
        "*front_hatch",
    )
