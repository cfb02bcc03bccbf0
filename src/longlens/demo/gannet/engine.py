"""The Gannet's engine: block, head, intake; the gearbox behind it."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.gannet.exhaust import add_exhaust
from longlens.demo.gannet.shape import WHEELBASE
from longlens.demo.gannet.suspension import SPRING_REAR
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import Loft
from longlens.demo.solids import bent, box, lathe, rod, spline, tube


def add_engine(m: Model, shown: bool) -> None:
    """Engine, exhaust side, gearbox and airbox."""
    _add_block(m, shown)
    add_exhaust(m, shown)
    _add_gearbox(m)
    m.add("airbox", box(vec(-2.16, 0.02, 0.565), (0.20, 0.24, 0.13), 0.035, k=6), "carbon_gloss")
    inlet = bent([vec(-2.10, 0.02, 0.53), vec(-2.07, 0.0, 0.44), vec(-2.05, -0.02, 0.365)], 0.05)
    m.add("airbox.duct", tube(inlet, 0.036, 32), "hose")
    m.point("airbox.corner", vec(-2.245, 0.125, 0.615), 0.02, 0.4, twin=False)


def _add_block(m: Model, shown: bool) -> None:
    m.add("engine.block", box(vec(-1.83, 0, 0.285), (0.46, 0.30, 0.36), 0.014), "cast")
    for i in range(6):
        m.add("engine.block.rib", box(vec(-1.64 - 0.075 * i, 0.152, 0.26), (0.010, 0.012, 0.26), 0.003), "cast")
        m.add("engine.block.rib", box(vec(-1.64 - 0.075 * i, -0.152, 0.26), (0.010, 0.012, 0.26), 0.003), "cast")
    m.add("engine.head", box(vec(-1.83, 0.0, 0.515), (0.46, 0.25, 0.11), 0.012), "cast")
    m.add(
        "engine.cover",
        box(vec(-1.83, 0.0, 0.595), (0.455, 0.22, 0.06), 0.022, k=5),
        "paint_ochre" if shown else "black",
    )
    for _ in m.both_sides():
        for i in range(5):
            x = -1.63 - 0.10 * i
            m.add("engine.cover.bolt", d.bolt(vec(x, 0.092, 0.622), vec(0, 0, 1), 0.006), "steel")
            if i in (0, 2, 4):
                m.point(f"engine.cover.bolt_{i + 1}", vec(x, 0.092, 0.627), 0.008, 0.95)
    m.add("engine.plenum", rod(vec(-1.64, 0.17, 0.60), vec(-2.02, 0.17, 0.60), 0.047, 44, 0.02), "aluminium")


def _add_gearbox(m: Model) -> None:
    x = -WHEELBASE
    case = Loft(
        x=[-2.06, -2.20, x, x - 0.12, x - 0.36],
        w=[0.200, 0.215, 0.215, 0.200, 0.120],
        z0=[0.10, 0.105, 0.11, 0.11, 0.15],
        z1=[0.46, 0.45, 0.44, 0.42, 0.36],
        n_up=[4] * 5,
        n_low=[4] * 5,
    )
    m.add("gearbox.case", case.whole(-2.06, x - 0.36, 70, 120), "cast")
    for xx in (-2.10, -2.18, -2.26, -2.34, -2.54, -2.64, -2.72):
        m.add("gearbox.rib", tube(case.at(np.full(97, xx), np.linspace(0, 2 * np.pi, 97)), 0.006, 10, flat=1.2), "cast")
    for _ in m.both_sides():
        m.add(
            "gearbox.flange",
            lathe(
                [(0.0, 0.0), (0.0, 0.070), (0.016, 0.068), (0.018, 0.05), (0.018, 0)],
                vec(x - 0.035, 0.160, 0.300),
                vec(0, 1, 0),
                56,
            ),
            "machined",
        )
        m.add(
            "gearbox.spring_bracket",
            box(SPRING_REAR + vec(0.010, -0.035, -0.030), (0.050, 0.095, 0.080), 0.008),
            "machined",
        )
        for i, (xx, zz) in enumerate(((-2.075, 0.420), (-2.075, 0.140))):
            m.add("gearbox.bolt", d.bolt(vec(xx, 0.205, zz), vec(0, 1, 0), 0.009), "steel")
            m.point(f"gearbox.bolt_{i + 1}", vec(xx, 0.212, zz), 0.009, 0.9)
        _add_loom(m)


def _add_loom(m: Model) -> None:
    wire, ties = d.loom(
        spline(
            [vec(-1.62, 0.13, 0.635), vec(-1.80, 0.125, 0.640), vec(-2.02, 0.12, 0.60), vec(-2.14, 0.15, 0.475)], 10
        ),
        0.007,
        4,
    )
    m.add("engine.loom", wire, "sleeve")
    m.add("engine.loom.ties", ties, "black")
