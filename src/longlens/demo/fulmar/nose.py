"""The Fulmar's nose cover and what is under it: crash structure, bulkhead, brake cylinders with their reservoirs."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.fulmar.shape import TUB, upper_paint
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import Loft
from longlens.demo.solids import Array, Mesh, box, frame, lathe, merge, plate, rod, tube


def add_nose(m: Model, shown: bool) -> None:
    """All in front of the tub."""
    _add_cover(m, shown)
    _add_crash_structure(m)
    _add_bulkhead(m)
    for y in (-0.052, 0.0, 0.052):
        _add_brake_cylinder(m, y)


def _add_cover(m: Model, shown: bool) -> None:
    paint = upper_paint(shown)
    with m.group("*nose_cover"):
        m.add("nose_cover", TUB.panel(1.055, 0.478, -np.pi / 2, 1.5 * np.pi, 0.003, 90, 120), paint)
        tip = TUB.at(np.full(60, 1.055), np.linspace(0, 2 * np.pi, 60, endpoint=False))
        m.add("nose_cover.tip", _fan(tip, vec(1.064, 0, 0.2485)), paint)
        for _ in m.both_sides():
            for i, (x, a) in enumerate(((0.50, 0.25), (0.50, 0.95), (0.50, -0.35), (0.62, -0.35))):
                p = TUB.at(x, a)
                m.add(f"nose_cover.fastener_{i + 1}", d.fastener(p, TUB.outward(x, a)), "steel", "*nose_cover")
                m.point(f"nose_cover.fastener_{i + 1}", p, 0.008, 1.0)
        top = float(TUB.at(0.90, np.pi / 2)[2])
        badge = _badge(vec(0.90, 0, top + 0.0005), TUB.outward(0.90, np.pi / 2))
        m.add("nose_cover.badge", badge, "anodised")
        m.point("nose_cover.badge", vec(0.90, 0, top + 0.002), 0.012, 0.8, on="centre_plane")
        if shown:
            band = TUB.grown(side=0.0006, top=0.0006, bottom=0.0006)
            m.add("nose_cover.band", band.panel(0.760, 0.715, -0.2, np.pi + 0.2, 0.0005, 8, 90), "mustard")


def _fan(ring: Array, apex: Array) -> Mesh:
    """Closes a ring that looks forward, to an apex."""
    n = len(ring)
    i = np.arange(n)
    f = np.stack([i, (i + 1) % n, np.full(n, n)], 1)
    mesh = Mesh(np.vstack([ring, apex]), f)
    look = np.cross(ring[1] - ring[0], apex - ring[0])[0]
    return mesh if look > 0 else mesh.flipped()


def _badge(at: Array, n: Array) -> Mesh:
    """An invented badge: a wave in a ring."""
    F = frame(n, vec(1, 0, 0))
    ring = lathe([(0, 0.017), (0.0015, 0.0205), (0.003, 0.0205), (0.003, 0.017)], at, n, 40)
    w = np.linspace(-1, 1, 30)
    waves = [
        tube(at + n * 0.0018 + (w * 0.016)[:, None] * F[0] + (0.004 * np.sin(w * 5) + o)[:, None] * F[1], 0.0016, 8)
        for o in (-0.004, 0.004)
    ]
    return merge([ring, *waves])


def _add_crash_structure(m: Model) -> None:
    crash = Loft(
        x=[0.955, 0.80, 0.478],
        w=[0.050, 0.088, 0.138],
        z0=[0.205, 0.192, 0.165],
        z1=[0.268, 0.318, 0.405],
        n_up=[5, 6, 6],
        n_low=[5, 6, 6],
    )
    m.add("crash_structure", crash.whole(0.955, 0.478, 60, 120), "carbon_weave")
    for x in (0.62, 0.74, 0.86):
        ring = crash.at(np.full(97, x), np.linspace(0, 2 * np.pi, 97))
        m.add("crash_structure.joint", tube(ring, 0.0035, 8), "carbon_matt")
    m.add("crash_structure.cap", crash.whole(0.962, 0.950, 4, 80), "anodised")
    for _ in m.both_sides():
        m.point("crash_structure.front_upper", crash.at(0.955, 0.72), 0.010, 0.7)
        m.point("crash_structure.front_lower", crash.at(0.955, -0.72), 0.010, 0.7)
        m.point("crash_structure.rear_upper", crash.at(0.49, 0.76), 0.012, 0.6)
        for i, zz in enumerate((0.190, 0.380)):
            m.add("crash_structure.bolt", d.bolt(vec(0.4795, 0.150, zz), vec(1, 0, 0), 0.008), "steel")
            m.point(f"crash_structure.bolt_{i + 1}", vec(0.484, 0.150, zz), 0.008, 0.95)
        m.add("crash_structure.flange", box(vec(0.480, 0.146, 0.285), (0.006, 0.030, 0.235), 0.002), "carbon_matt")


def _add_bulkhead(m: Model) -> None:
    bulk = TUB.at(np.full(96, 0.474), np.linspace(0, 2 * np.pi, 96, endpoint=False))
    inset = bulk * 0.97 + bulk.mean(0) * 0.03
    m.add("bulkhead", plate(inset[:, 1:], vec(0.470, 0, 0), vec(0, 1, 0), vec(0, 0, 1), 0.008, 0.001), "carbon_weave")


def _add_brake_cylinder(m: Model, y: float) -> None:
    m.add(
        "master_cylinder",
        merge(
            [
                rod(vec(0.474, y, 0.425), vec(0.520, y, 0.425), 0.012, 28, 0.002),
                rod(vec(0.52, y, 0.425), vec(0.545, y, 0.425), 0.008, 20),
                d.bolt(vec(0.545, y, 0.425), vec(1, 0, 0), 0.008),
            ]
        ),
        "cast",
    )
    m.add(
        "reservoir",
        lathe([(0, 0), (0, 0.015), (0.034, 0.015), (0.036, 0.013), (0.036, 0)], vec(0.512, y, 0.437), vec(0, 0, 1), 30),
        "tank",
    )
    m.add(
        "reservoir.cap",
        lathe([(0, 0), (0, 0.017), (0.009, 0.017), (0.009, 0)], vec(0.512, y, 0.470), vec(0, 0, 1), 10),
        "black",
    )
