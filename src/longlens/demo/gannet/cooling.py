"""The Gannet's cooling: the radiator in the nose, a charge cooler in each pod, on the shown car oil coolers behind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from longlens.demo import coolers as k
from longlens.demo import details as d
from longlens.demo.gannet.shape import TUB
from longlens.demo.mechanics import unit, vec
from longlens.demo.model import Model
from longlens.demo.solids import Array, bent, lathe, spline, tube

RADIATOR = k.Core(
    (0.868, 0.335), (0.868, -0.335), 0.0, 0.198, 0.395, 0.044, 0.0100, 0.0020, (0.046, 0.034), (0.034, 0.046), -0.72
)
CHARGE = k.Core(
    (-0.985, 0.845), (-1.205, 0.590), 0.0, 0.105, 0.500, 0.060, 0.0140, 0.0062, (0.064, 0.048), (0.048, 0.064)
)
CHARGE_TEST = replace(CHARGE, top=0.395, thick=0.052)
OIL = k.Core((-1.380, 0.850), (-1.440, 0.640), 0.0, 0.115, 0.345, 0.038, 0.0095, 0.0020, (0.034, 0.034), (0.034, 0.034))


def add_cooling(m: Model, shown: bool) -> None:
    """Cores, pipes, fans and the header tank."""
    k.add_core(m, "radiator", RADIATOR, 1.0)
    for _ in m.both_sides():
        behind = RADIATOR.at(np.array([0.27]), np.array([0.61]), -0.046)[0]
        k.add_fan(m, "radiator.fan", behind, unit(vec(-1, 0, RADIATOR.lean)), 0.103, 7)
        _add_charge_cooler(m, CHARGE if shown else CHARGE_TEST)
        if shown:
            k.add_core(m, "oil_cooler", OIL, -1.0)
            _add_oil_lines(m)
        _add_coolant_pipe(m)
    _add_header_tank(m)
    m.other["hidden"] = "wastegate"


def _add_charge_cooler(m: Model, core: k.Core) -> None:
    """A pod's core, the pipe from its turbocharger's side and the pipe to the plenum."""
    k.add_core(m, "charge_cooler", core, -1.0)
    head = m.left_hand("charge_cooler.collector_end.head")
    flank = 0.20  # of the engine, where the plenum lies
    hot = bent(
        [
            vec(-1.98, flank + 0.10, 0.40),
            vec(-1.80, flank + 0.24, 0.36),
            vec(-1.45, 0.585, head[2] - 0.02),
            head + vec(-0.03, 0.0, -0.045),
        ],
        0.10,
    )
    clip = d.along(hot, 0.45)[0] + vec(0, -0.05, -0.02)
    name = "charge_cooler.inlet_pipe"
    k.add_pipe(m, name, hot, 0.052, "pipe", True, ((0.45, clip),), "charge air, hot", tape=0.60)
    foot = m.left_hand("charge_cooler.collector_start.foot")
    cold = bent(
        [
            foot + vec(-0.032, -0.01, 0.030),
            vec(-1.25, 0.78, 0.085),
            vec(-1.60, 0.62, 0.10),
            vec(-1.72, 0.30, 0.30),
            vec(-1.74, 0.16, 0.52),
            vec(-1.78, 0.10, 0.615),
        ],
        0.10,
    )
    clip = d.along(cold, 0.30)[0] * vec(1, 1, 0) + vec(0, 0.045, 0.052)
    name = "charge_cooler.outlet_pipe"
    k.add_pipe(m, name, cold, 0.050, "pipe", True, ((0.30, clip),), "charge air, cool", tape=0.42)


def _add_oil_lines(m: Model) -> None:
    """Two hoses between the oil cooler's inner collector and the engine's flank."""
    for what, q, drop, end in (
        ("hot", "head", -0.030, vec(-1.700, 0.152, 0.270)),
        ("cool", "foot", 0.030, vec(-1.760, 0.152, 0.165)),
    ):
        start = m.left_hand(f"oil_cooler.collector_end.{q}") + vec(-0.006, -0.012, drop)
        path = bent(
            [
                start,
                start + vec(-0.060, -0.050, 0),
                vec(end[0] + 0.02, 0.34, end[2] + 0.01),
                end + vec(0, 0.05, 0),
                end,
            ],
            0.045,
        )
        k.add_pipe(m, f"oil_line_{what}", path, 0.018, "hose", False, (), f"engine oil, {what}")
        for s in (0.015, 0.985):
            p, e = d.along(path, s)
            fitting = [(-0.012, 0.009), (-0.012, 0.0140), (0.004, 0.0140), (0.008, 0.011), (0.014, 0.0098)]
            m.add(f"oil_line_{what}.union", lathe(fitting, p, e, 6), "anodised")


def _add_coolant_pipe(m: Model) -> None:
    """From the radiator past the tub to the engine."""
    path = bent(
        [
            vec(0.832, 0.352, 0.215),
            vec(0.70, 0.375, 0.160),
            vec(0.48, 0.335, 0.110),
            vec(-0.10, 0.330, 0.095),
            vec(-0.55, 0.500, 0.085),
            vec(-1.45, 0.540, 0.085),
            vec(-1.66, 0.240, 0.180),
        ],
        0.08,
    )
    clips = tuple((s, _tub_side(d.along(path, s)[0])) for s in (0.22, 0.42))
    k.add_pipe(m, "coolant_pipe", path, 0.034, "pipe", True, clips, "coolant", tape=0.38)


def _tub_side(p: Array) -> Array:
    """The place on the tub's flank beside a pipe, a little higher than the pipe's middle."""
    z = p[2] + 0.035
    ring = TUB.at(np.full(400, p[0]), np.linspace(-np.pi / 2, np.pi / 2, 400))
    return ring[np.argmin(np.abs(ring[:, 2] - z))]


def _add_header_tank(m: Model) -> None:
    """The tank and its bleed line."""
    union = k.add_header_tank(m, "header_tank", vec(-1.66, -0.02, 0.735), (0.11, 0.20, 0.12))
    with m.side(1):
        bleed = spline(
            [vec(-1.73, 0.18, 0.60), vec(-1.72, 0.20, 0.66), vec(-1.69, 0.16, 0.735), union + vec(0, 0.02, 0)], 12
        )
        m.add("bleed_line", tube(bleed, 0.005, 16), "braided")
        m.pipe("bleed_line", bleed, 0.010, carries="coolant and air")
        m.point("bleed_line.low_end", bleed[0], 0.010, 0.5, twin=False)
