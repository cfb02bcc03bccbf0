"""The Gannet's body: nose cover, splitter, pods, floor, engine cover."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.gannet.fender import add_fender
from longlens.demo.gannet.shape import LID, NOSE, POD, skin_of
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import shell
from longlens.demo.solids import Array, box, merge, plate, ramp, tube

#: The splitter's and the floor's outlines (x, y), m.
SPLITTER = (
    (1.10, 0.34),
    (1.03, 0.64),
    (0.72, 0.80),
    (0.45, 0.80),
    (0.45, -0.80),
    (0.72, -0.80),
    (1.03, -0.64),
    (1.10, -0.34),
)
FLOOR = (
    (-0.40, 0.42),
    (-0.62, 0.84),
    (-1.92, 0.88),
    (-2.02, 0.52),
    (-2.30, 0.46),
    (-2.30, -0.46),
    (-2.02, -0.52),
    (-1.92, -0.88),
    (-0.62, -0.84),
    (-0.40, -0.42),
)


def add_body(m: Model, shown: bool) -> None:
    """All but the tail."""
    _add_nose_cover(m, shown)
    m.add(
        "splitter",
        plate(np.array(SPLITTER), vec(0, 0, 0.072), vec(1, 0, 0), vec(0, 1, 0), 0.010, 0.002, 0.04, uv_scale=0.5),
        "carbon_weave",
    )
    for _ in m.both_sides():
        m.point("splitter.corner", vec(0.725, 0.797, 0.077), 0.012, 0.6)
        add_fender(m, shown)
        with m.group("pod_cover"):
            _add_pod_cover(m, shown)
        m.add("pod_floor_rail", box(vec(-1.25, 0.86, 0.075), (1.20, 0.02, 0.03), 0.006), "carbon_matt")
        m.point("pod_floor_rail.front", vec(-0.65, 0.868, 0.088), 0.012, 0.6)
        m.point("pod_floor_rail.rear", vec(-1.85, 0.868, 0.088), 0.012, 0.6)
    m.add(
        "floor",
        plate(np.array(FLOOR), vec(0, 0, 0.058), vec(1, 0, 0), vec(0, 1, 0), 0.010, 0.002, 0.04, uv_scale=0.5),
        "carbon_weave",
    )
    _add_engine_cover(m, shown)


def _sill(x: Array) -> Array:
    """Where the nose cover's side ends, as an angle of its section: arched over the upper wishbone's legs."""
    return ramp(x, [-0.34, -0.30, -0.24, 0.19, 0.25, 1.06], [0.10, 0.10, 0.50, 0.50, 0.10, 0.10])


def _add_nose_cover(m: Model, shown: bool) -> None:
    skin = skin_of(shown)
    with m.group("*nose_cover"):
        m.add("nose_cover", NOSE.panel(1.06, -0.33, _sill, lambda x: np.pi - _sill(x), 0.003, 160, 130), skin)
        m.add("nose_cover.chin", NOSE.panel(1.06, 0.42, np.pi + 0.4, 2 * np.pi - 0.4, 0.003, 40, 80), "carbon_gloss")
        if shown:
            band = NOSE.grown(top=0.0007)
            m.add("nose_cover.head", band.panel(1.02, 0.60, 0.55, np.pi - 0.55, 0.0006, 40, 90), "paint_ochre")
        for _ in m.both_sides():
            for i, (x, a) in enumerate(((0.80, 0.55), (0.42, 0.50), (0.05, 0.62), (-0.26, 0.60))):
                p = NOSE.at(x, a)
                m.add("nose_cover.fastener", d.fastener(p, NOSE.outward(x, a)), "steel", "*nose_cover")
                m.point(f"nose_cover.fastener_{i + 1}", p, 0.009, 1.0)
            c = NOSE.at(0.945, 0.62)
            m.add(
                "lamp.front", box(c + vec(-0.006, 0, 0), (0.05, 0.13, 0.030), 0.012, k=5), "lamp_clear", "*nose_cover"
            )
            m.point("lamp.front.outer_end", c + vec(0.0, 0.065, 0), 0.014, 0.6)
        m.point("nose_cover.tip_upper", NOSE.at(1.058, np.pi / 2), 0.010, 0.6, on="centre_plane")


def _add_pod_cover(m: Model, shown: bool) -> None:
    skin = skin_of(shown)
    m.add("pod_cover", POD.panel(-0.585, -1.90, -1.25, 2.25, 0.003, 110, 110), skin)
    m.add(
        "pod_cover.lip",
        tube(POD.at(np.full(70, -0.585), np.linspace(-1.25, 2.25, 70)), 0.007, 14),
        "paint_ink" if shown else skin,
    )
    for i, (x, a) in enumerate(((-0.70, -0.62), (-1.20, -0.62), (-1.70, -0.62), (-0.75, 1.7), (-1.30, 1.7))):
        p = POD.at(x, a)
        m.add("pod_cover.fastener", d.fastener(p, POD.outward(x, a)), "steel")
        m.point(f"pod_cover.fastener_{i + 1}", p, 0.009, 1.0)
    if shown:
        flash = POD.grown(side=0.0007, top=0.0007).panel(
            -1.28, -1.86, lambda x: -0.30 + 0.5 * (x + 1.9), lambda x: 0.62 + 0.3 * (x + 1.9), 0.0006, 50, 20
        )
        m.add("pod_cover.flash", flash, "paint_ink")


def _add_engine_cover(m: Model, shown: bool) -> None:
    skin = skin_of(shown)
    with m.group("*engine_cover"):
        m.add("engine_cover", LID.panel(-1.36, -3.00, 0.06, np.pi - 0.06, 0.004, 140, 140), skin)
        for _ in m.both_sides():
            for i, (x, a) in enumerate(((-1.45, 0.35), (-1.95, 0.22), (-2.85, 0.30))):
                p = LID.at(x, a)
                m.add("engine_cover.fastener", d.fastener(p, LID.outward(x, a)), "steel", "*engine_cover")
                m.point(f"engine_cover.fastener_{i + 1}", p, 0.009, 1.0)
        if shown:
            tip = LID.grown(side=0.0008, top=0.0008)
            m.add(
                "engine_cover.tips",
                merge(
                    [
                        tip.panel(-2.45, -2.98, 0.10, 0.62, 0.0006, 40, 40),
                        tip.panel(-2.45, -2.98, np.pi - 0.62, np.pi - 0.10, 0.0006, 40, 40),
                    ]
                ),
                "paint_ink",
            )
            for i in range(7):
                _add_louvre(m, -1.75 - 0.075 * i, skin)


def _add_louvre(m: Model, x: float, skin: str) -> None:
    """One louvre over the engine."""
    b = np.linspace(1.22, np.pi - 1.22, 24)
    q = LID.at(np.full(24, x), b)
    S = np.stack([q + vec(0, 0, 0.002), q + vec(-0.045, 0, 0.016)])
    m.add("engine_cover.louvre", shell(S + vec(0, 0, 0.002), S), skin)
    m.add(
        "engine_cover.louvre.dark",
        shell(
            np.stack([q + vec(-0.036, 0, 0.0018), q + vec(-0.064, 0, 0.0012)]),
            np.stack([q + vec(-0.036, 0, 0), q + vec(-0.064, 0, -0.001)]),
        ),
        "void",
    )
