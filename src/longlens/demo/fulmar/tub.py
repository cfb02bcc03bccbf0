"""The Fulmar's tub in three lengths: the bulkhead's ring, the part under the hatch with its deck, the cockpit."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.fulmar.shape import HATCH, TUB, lower_paint, upper_paint
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.solids import Array, lathe, plate, ramp, spline, tube


def add_tub(m: Model, shown: bool) -> None:
    """The tub, its hatch and what lies on its deck."""
    lower = lower_paint(shown)
    m.add("tub.front", TUB.panel(0.474, 0.400, -np.pi / 2, 1.5 * np.pi, 0.006, 12, 140), lower)
    m.add("tub.middle", TUB.panel(0.400, -0.345, _hatch_left, _hatch_right, 0.006, 150, 150), lower)
    _add_hatch(m, upper_paint(shown))
    _add_deck(m)
    _add_cockpit_walls(m, lower, shown)


def _slot(x: Array) -> Array:
    """How far the front rods' slots reach along the tub: 1 inside, 0 away from them."""
    return np.exp(-(((x + 0.012) / 0.050) ** 6))


def _hatch_left(x: Array) -> Array:
    return np.pi / 2 + HATCH + 0.30 * _slot(x)


def _hatch_right(x: Array) -> Array:
    return 2.5 * np.pi - HATCH - 0.30 * _slot(x)


def _cockpit_opening(x: Array) -> Array:
    """Half the angle that is open above the driver."""
    return ramp(x, [-1.62, -1.50, -1.25, -0.95, -0.66, -0.545, -0.40], [0.95, 0.95, 0.90, 0.86, 0.62, 0.0, 0.0])


def _add_hatch(m: Model, paint: str) -> None:
    gap = 0.004
    with m.group("*front_hatch"):
        m.add(
            "front_hatch",
            TUB.panel(
                0.400 - gap,
                -0.345 + gap,
                lambda x: np.full_like(x, np.pi / 2 - HATCH + 0.012),
                lambda x: np.full_like(x, np.pi / 2 + HATCH - 0.012),
                0.003,
                80,
                90,
            ),
            paint,
        )
        for _ in m.both_sides():
            for i, x in enumerate((0.375, 0.18, -0.16, -0.325)):
                p = TUB.at(x, np.pi / 2 - HATCH + 0.075)
                m.add(
                    f"front_hatch.fastener_{i + 1}",
                    d.fastener(p, TUB.outward(x, np.pi / 2 - HATCH + 0.075)),
                    "steel",
                    "*front_hatch",
                )
                m.point(f"front_hatch.fastener_{i + 1}", p, 0.008, 1.0)


def _add_deck(m: Model) -> None:
    m.add(
        "deck",
        plate(
            [(0.395, 0.168), (0.395, -0.168), (-0.34, -0.196), (-0.34, 0.196)],
            vec(0, 0, 0.381),
            vec(1, 0, 0),
            vec(0, 1, 0),
            0.008,
            0.001,
            uv_scale=0.5,
        ),
        "carbon_weave",
    )
    for _ in m.both_sides():
        for x in (0.37, 0.10, -0.12, -0.31):
            m.add("deck.bolt", d.bolt(vec(x, 0.155, 0.385), vec(0, 0, 1), 0.005), "steel")
        for i, x in enumerate((0.37, -0.31)):
            m.point(f"deck.bolt_{i + 1}", vec(x, 0.155, 0.389), 0.007, 0.95)
        p = TUB.at(0.30, 0.05)
        m.add(
            "tub.tow_eye",
            lathe(
                [(-0.003, 0.011), (-0.003, 0.018), (0.003, 0.018), (0.003, 0.011)],
                p + vec(0, 0.012, 0),
                vec(1, 0, 0.2),
                30,
            ),
            "mustard",
        )
    sleeve, ties = d.loom(
        spline(
            [
                vec(0.36, 0.02, 0.392),
                vec(0.25, -0.03, 0.393),
                vec(0.10, -0.02, 0.393),
                vec(-0.12, 0.03, 0.394),
                vec(-0.33, 0.02, 0.396),
            ],
            12,
        ),
        0.0065,
        6,
    )
    m.add("front.loom", sleeve, "sleeve")
    m.add("front.loom.ties", ties, "black")


def _add_cockpit_walls(m: Model, lower: str, shown: bool) -> None:
    m.add(
        "tub.cockpit",
        TUB.panel(
            -0.345,
            -1.62,
            lambda x: np.pi / 2 + _cockpit_opening(x),
            lambda x: 2.5 * np.pi - _cockpit_opening(x),
            0.010,
            150,
            150,
        ),
        lower,
    )
    if shown:
        flash = TUB.grown(side=0.0005, top=0.0005).panel(
            0.10, -0.70, lambda x: 0.16 + 0.10 * (x + 0.3), lambda x: 0.27 + 0.02 * (x + 0.3), 0.0005, 60, 8
        )
        for _ in m.both_sides():
            m.add("tub.flash", flash, "mustard")
    x = np.linspace(-0.56, -1.40, 60)
    rim = tube(TUB.at(x, np.pi / 2 - _cockpit_opening(x)), 0.011, 16)
    for _ in m.both_sides():
        m.add("tub.cockpit_rim", rim, "rubber")
    m.point("cockpit.front_edge", TUB.at(-0.545, np.pi / 2), 0.015, 0.6, on="centre_plane")
