"""The Fulmar's side pods: covers, the duct to the cooler, the side impact structure."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.fulmar.shape import POD, upper_paint
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import shell
from longlens.demo.solids import plate, rod, tube


def add_pods(m: Model, shown: bool) -> None:
    """Both pods."""
    for _ in m.both_sides():
        with m.group("pod_cover"):
            _add_cover(m, shown)
        _add_inside(m)


def _add_cover(m: Model, shown: bool) -> None:
    paint = upper_paint(shown)
    m.add("pod_cover", POD.panel(-0.722, -2.20, -1.15, 2.30, 0.003, 130, 110), paint)
    lip = POD.at(np.full(70, -0.722), np.linspace(-1.15, 2.30, 70))
    m.add("pod_cover.lip", tube(lip, 0.0065, 14), "paint_slate" if shown else paint)
    for i, (x, a) in enumerate(
        ((-0.80, -0.60), (-1.15, -0.60), (-1.50, -0.62), (-0.82, 1.9), (-1.2, 1.95), (-1.6, 1.95))
    ):
        p = POD.at(x, a)
        m.add(f"pod_cover.fastener_{i + 1}", d.fastener(p, POD.outward(x, a)), "steel", None)
        m.point(f"pod_cover.fastener_{i + 1}", p, 0.008, 1.0)
    if shown:
        for i in range(6):
            _add_louvre(m, -1.42 - 0.055 * i, paint)
        flash = POD.grown(side=0.0006).panel(
            -0.80, -1.75, lambda x: -0.15 + 0.12 * (x + 1.2), lambda x: 0.02 + 0.05 * (x + 1.2), 0.0005, 80, 8
        )
        m.add("pod_cover.flash", flash, "mustard")


def _add_louvre(m: Model, x: float, paint: str) -> None:
    """One louvre over the hot air's way out."""
    b = np.linspace(1.05, 1.85, 20)
    q = POD.at(np.full(20, x), b)
    up = np.array([POD.outward(x, t) for t in b])
    S = np.stack([q + up * 0.001, q + vec(-0.034, 0, 0) + up * 0.016])
    m.add("pod_cover.louvre", shell(S + vec(0, 0, 0.002), S), paint)
    m.add(
        "pod_cover.louvre.dark",
        shell(
            np.stack([q + vec(-0.030, 0, 0) + up * 0.0012, q + vec(-0.046, 0, 0) + up * 0.0012]),
            np.stack([q + vec(-0.030, 0, 0), q + vec(-0.046, 0, 0)]),
        ),
        "void",
    )


def _add_inside(m: Model) -> None:
    inner = POD.at(np.linspace(-0.70, -2.2, 40)[:, None], np.linspace(2.35, 3.9, 20)[None])
    m.add("pod_inner", shell(inner, inner - vec(0, 0.003, 0)), "carbon_matt")
    # the wall that leads the air to the core
    m.add(
        "pod_duct",
        plate(
            [(-0.74, 0.075), (-0.74, 0.43), (-1.40, 0.44), (-1.40, 0.10)],
            vec(0, (0.318 + 0.372) / 2 - 0.02, 0),
            vec(1, -0.06, 0),
            vec(0, 0, 1),
            0.003,
            0.0006,
        ),
        "carbon_matt",
    )
    m.add("side_impact", rod(vec(-0.86, 0.28, 0.345), vec(-0.86, 0.655, 0.330), 0.022, 32, 0.006), "carbon_weave")
    m.add("side_impact.cap", d.bolt(vec(-0.86, 0.655, 0.330), vec(0, 1, 0), 0.012), "anodised")
    m.point("side_impact.end", vec(-0.86, 0.660, 0.330), 0.016, 0.6)
