"""The Gannet's exhaust: four primaries, the turbocharger, the pipe to the tail and the wastegate."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.solids import bent, box, lathe, merge, sphere, spline, tube

#: The middle of the turbine.
TURBINE = vec(-2.045, -0.255, 0.355)


def add_exhaust(m: Model, shown: bool) -> None:
    """From the head to the tail; and the intake's runners, cylinder by cylinder."""
    for i in range(4):
        _add_cylinder(m, i)
    _add_turbocharger(m)
    _add_pipe(m, shown)
    _add_wastegate(m)


def _add_cylinder(m: Model, i: int) -> None:
    """A cylinder's intake runner and its exhaust primary."""
    x = -1.68 - 0.10 * i
    m.add(
        "engine.runner",
        tube(spline([vec(x, 0.17, 0.575), vec(x, 0.165, 0.53), vec(x, 0.12, 0.515)], 8), 0.021, 24),
        "cast",
    )
    p = spline(
        [
            vec(x, -0.118, 0.500),
            vec(x, -0.185, 0.495),
            vec((x - 1.98) / 2, -0.235, 0.42),
            vec(-1.98, -0.245, 0.365 + 0.004 * i),
        ],
        14,
    )
    m.add("exhaust.primary", tube(p, 0.0195, 26), "exhaust")
    m.add("exhaust.primary.flange", box(vec(x, -0.128, 0.500), (0.062, 0.010, 0.052), 0.004), "steel_dark")
    m.add("exhaust.primary.weld", d.weld(d.ring_path(p[6], p[7] - p[5], 0.0199), 0.0019), "weld")


def _add_turbocharger(m: Model) -> None:
    c = TURBINE
    volute = []
    for w0 in np.linspace(0, 2 * np.pi * 0.96, 60):
        r = 0.018 + 0.016 * w0 / (2 * np.pi)
        volute.append((c + vec((0.058 + r * 0.4) * np.cos(w0), 0, (0.058 + r * 0.4) * np.sin(w0)), r))
    m.add("turbo.turbine", tube(np.array([v[0] for v in volute]), [v[1] for v in volute], 28), "turbo")
    m.add(
        "turbo.compressor",
        tube(np.array([v[0] + vec(0, 0.16, 0.0) for v in volute]), [v[1] * 1.05 for v in volute], 28),
        "aluminium",
    )
    m.add(
        "turbo.centre",
        lathe(
            [
                (-0.02, 0),
                (-0.02, 0.058),
                (0.0, 0.062),
                (0.02, 0.05),
                (0.05, 0.038),
                (0.11, 0.040),
                (0.135, 0.062),
                (0.17, 0.060),
                (0.18, 0.04),
                (0.215, 0.043),
                (0.215, 0.036),
            ],
            c,
            vec(0, 1, 0),
            52,
        ),
        "turbo",
    )
    m.point("turbo.centre", c + vec(0, 0.20, 0), 0.04, 0.3, twin=False)
    m.add(
        "turbo.band",
        lathe([(0.118, 0.062), (0.118, 0.068), (0.128, 0.068), (0.128, 0.062)], c, vec(0, 1, 0), 50),
        "steel",
    )


def _add_pipe(m: Model, shown: bool) -> None:
    down = bent(
        [
            TURBINE + vec(0, -0.02, 0),
            TURBINE + vec(-0.01, -0.10, 0.0),
            vec(-2.40, -0.37, 0.44) if shown else vec(-2.40, -0.34, 0.30),
            vec(-2.75, -0.22, 0.46) if shown else vec(-2.75, -0.28, 0.26),
            vec(-3.02, -0.22, 0.47) if shown else vec(-3.02, -0.28, 0.25),
        ],
        0.09,
    )
    m.add("exhaust.pipe", tube(down, 0.036, 40, caps=False), "exhaust")
    m.add("exhaust.pipe.dark", tube(down[-3:-1], 0.033, 30), "void")
    m.pipes["exhaust.pipe"] = {
        "diameter_m": 0.072,
        "length_m": float(np.linalg.norm(np.diff(down, axis=0), axis=1).sum()),
        "centre_line_m": np.round(down, 6).tolist(),
        "carries": "exhaust",
    }
    m.point("exhaust.tip", down[-1], 0.034, 0.5, twin=False)


def _add_wastegate(m: Model) -> None:
    gate = vec(-2.10, -0.20, 0.255)
    m.add(
        "wastegate",
        merge(
            [
                lathe(
                    [(0, 0), (0, 0.030), (0.02, 0.036), (0.05, 0.036), (0.055, 0.02), (0.055, 0)],
                    gate,
                    vec(0, 0, -1),
                    40,
                ),
                sphere(gate, 0.026, 24),
            ]
        ),
        "anodised",
    )
