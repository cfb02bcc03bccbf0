"""The Gannet's tail: diffuser, lamps, frame; the shown car's rear wing, the test car's spoiler."""

from __future__ import annotations

import numpy as np

from longlens.demo.gannet.shape import LID, WHEELBASE
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import aerofoil, shell, wing
from longlens.demo.solids import box, merge, plate, rod


def add_tail(m: Model, shown: bool) -> None:
    """All behind the engine cover."""
    for _ in m.both_sides():
        _add_diffuser(m)
        _add_lamps_and_frame(m)
        if shown:
            _add_end_plate(m)
    if shown:
        _add_rear_wing(m)
    else:
        _add_spoiler(m)


def _add_diffuser(m: Model) -> None:
    """Half of the diffuser, with its strakes."""
    t = np.linspace(0, 1, 24)
    y = np.linspace(0.0, 0.50, 12)
    P = np.stack(
        [
            np.broadcast_to((-2.28 - 0.74 * t)[:, None], (24, 12)),
            np.broadcast_to(y, (24, 12)),
            np.broadcast_to((0.062 + 0.165 * t**1.6)[:, None], (24, 12)),
        ],
        -1,
    )
    m.add("diffuser", shell(P + vec(0, 0, 0.006), P), "carbon_gloss")
    for ys in (0.14, 0.32, 0.497):
        m.add(
            "diffuser.strake",
            plate(
                np.array([(-2.36, 0.075), (-3.02, 0.226), (-3.02, 0.085), (-2.50, 0.060)]),
                vec(0, ys, 0),
                vec(1, 0, 0),
                vec(0, 0, 1),
                0.005,
                0.001,
            ),
            "carbon_gloss",
        )
    m.point("diffuser.rear_corner", vec(-3.018, 0.497, 0.223), 0.010, 0.6)


def _add_lamps_and_frame(m: Model) -> None:
    x = -WHEELBASE
    m.add(
        "lamp.rear",
        merge([box(vec(-3.0, 0.66 - 0.07 * i, 0.685), (0.03, 0.055, 0.022), 0.008, k=4) for i in range(3)]),
        "lamp_red",
    )
    m.add("lamp.rear.panel", box(vec(-2.985, 0.59, 0.685), (0.02, 0.26, 0.05), 0.01), "black")
    m.point("lamp.rear.outer_end", vec(-3.012, 0.6875, 0.685), 0.012, 0.6)
    m.add(
        "tail.frame",
        merge(
            [
                rod(vec(x - 0.30, 0.10, 0.34), vec(-2.97, 0.34, 0.66), 0.014, 20),
                rod(vec(-2.97, 0.34, 0.66), vec(-2.97, 0.70, 0.68), 0.012, 20),
                rod(vec(-2.02, 0.34, 0.46), vec(-2.97, 0.34, 0.66), 0.014, 20),
            ]
        ),
        "steel_black",
    )
    m.point("tail.frame.corner", vec(-2.97, 0.34, 0.66), 0.015, 0.5)


def _add_end_plate(m: Model) -> None:
    """The rear wing's end plate and pylon."""
    o = [(-2.70, 0.93), (-2.72, 1.075), (-3.06, 1.095), (-3.10, 0.95), (-3.02, 0.88), (-2.80, 0.88)]
    m.add(
        "rear_wing.end_plate",
        plate(np.array(o), vec(0, 0.775, 0), vec(1, 0, 0), vec(0, 0, 1), 0.009, 0.002, 0.03),
        "paint_ink",
    )
    m.point("rear_wing.end_plate.rear_upper", vec(-3.055, 0.7795, 1.089), 0.012, 0.6)
    m.point("rear_wing.end_plate.front_upper", vec(-2.726, 0.7795, 1.069), 0.012, 0.6)
    m.add(
        "rear_wing.pylon",
        plate(
            np.array([(-2.60, 0.70), (-2.74, 0.975), (-2.92, 0.99), (-2.86, 0.70)]),
            vec(0, 0.30, 0),
            vec(1, 0, 0),
            vec(0, 0, 1),
            0.012,
            0.004,
            0.02,
        ),
        "carbon_gloss",
    )


def _add_rear_wing(m: Model) -> None:
    y = np.linspace(-0.77, 0.77, 45)
    m.add(
        "rear_wing.main",
        wing(
            y,
            np.stack([np.full_like(y, -2.755), y, 0.995 + 0.02 * (y / 0.77) ** 2], -1),
            np.full_like(y, 0.285),
            7.0,
            aerofoil(44, 0.09, 0.12),
        ),
        "carbon_gloss",
    )


def _add_spoiler(m: Model) -> None:
    S = np.stack(
        [
            LID.at(np.full(60, xx), np.linspace(0.35, np.pi - 0.35, 60)) + vec(-up * 0.6, 0, up)
            for xx, up in ((-2.95, 0.0), (-2.98, 0.05), (-2.99, 0.115))
        ]
    )
    m.add("tail_spoiler", shell(S + vec(0.004, 0, 0.002), S), "caliper", "*engine_cover")
    for _ in m.both_sides():
        m.point("tail_spoiler.end", S[-1, 0], 0.014, 0.6)
