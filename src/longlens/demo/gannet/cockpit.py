"""The Gannet's cockpit: two seats under two roll hoops, steering wheel, screen, mirrors."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.gannet.shape import TUB, opening
from longlens.demo.mechanics import unit, vec
from longlens.demo.model import Model
from longlens.demo.panels import shell
from longlens.demo.solids import box, frame, merge, rod, spline, tube


def add_cockpit(m: Model) -> None:
    """All round driver and passenger."""
    x = np.linspace(-0.57, -1.50, 60)
    rim = tube(TUB.at(x, np.pi / 2 - opening(x)), 0.012, 16)
    for _ in m.both_sides():
        m.add("cockpit.rim", rim, "rubber")
        _add_seat(m)
        _add_roll_hoop(m)
        _add_mirror(m)
    _add_steering_wheel(m)
    m.add("dash", box(vec(-0.53, 0, 0.555), (0.12, 0.80, 0.05), 0.02), "carbon_matt")
    m.add("dash.screen", box(vec(-0.594, 0.235, 0.575), (0.006, 0.17, 0.06), 0.002), "screen")
    _add_screen(m)


def _add_seat(m: Model) -> None:
    seat = spline(
        [vec(-0.86, 0, 0.14), vec(-1.05, 0, 0.11), vec(-1.24, 0, 0.20), vec(-1.38, 0, 0.45), vec(-1.46, 0, 0.78)],
        12,
    )
    y = np.linspace(-1, 1, 25)
    P = seat[:, None] + np.stack([np.abs(y) ** 3 * 0.05, y * 0.200 + 0.235, 0.02 + 0.07 * np.abs(y) ** 3.5], -1)[None]
    m.add("seat", shell(P + vec(0, 0, 0.006), P), "fabric")
    m.add("seat.headrest", box(vec(-1.44, 0.235, 0.80), (0.05, 0.20, 0.14), 0.022, k=5), "fabric")


def _add_roll_hoop(m: Model) -> None:
    hoop = spline(
        [
            vec(-1.50, 0.43, 0.50),
            vec(-1.51, 0.42, 0.75),
            vec(-1.52, 0.36, 0.965),
            vec(-1.52, 0.235, 1.035),
            vec(-1.52, 0.11, 0.965),
            vec(-1.51, 0.05, 0.75),
            vec(-1.50, 0.04, 0.50),
        ],
        12,
    )
    m.add("roll_hoop", tube(hoop, 0.021, 28), "steel_black")
    m.point("roll_hoop.top", vec(-1.52, 0.235, 1.056), 0.02, 0.5)
    m.add("roll_hoop.stay", rod(vec(-1.515, 0.37, 0.94), vec(-2.02, 0.34, 0.46), 0.017, 26), "steel_black")
    m.add(
        "roll_hoop.stay.weld",
        d.weld(d.ring_path(vec(-1.53, 0.369, 0.925), vec(-0.5, -0.03, -0.48), 0.0174, squash=1.1), 0.0026),
        "weld",
    )


def _add_mirror(m: Model) -> None:
    c = vec(-0.62, 0.60, 0.70)
    m.add("mirror", box(c, (0.085, 0.165, 0.085), 0.034, k=6), "paint_ink")
    m.add("mirror.glass", box(c - vec(0.0435, 0, 0), (0.003, 0.132, 0.060), 0.001), "mirror")
    m.add(
        "mirror.stalk",
        tube(
            spline([c + vec(0, -0.06, -0.03), c + vec(0.01, -0.14, -0.10), vec(-0.60, 0.40, 0.52)], 10),
            0.009,
            14,
            flat=0.5,
        ),
        "carbon_gloss",
    )
    m.point("mirror.outer_end", c + vec(0, 0.0825, 0), 0.016, 0.5)


def _add_steering_wheel(m: Model) -> None:
    c, tilt = vec(-0.70, 0.235, 0.60), unit(vec(-1, 0, 0.42))
    F = frame(tilt)
    w = np.linspace(0, 2 * np.pi, 90)
    m.add(
        "steering_wheel",
        tube(
            c
            + 0.150 * (np.cos(w)[:, None] * F[0] + np.sin(w)[:, None] * F[1] * (1 - 0.1 * (np.sin(w) < -0.6)[:, None])),
            0.0135,
            18,
        ),
        "fabric",
    )
    m.add(
        "steering_wheel.spokes",
        merge(
            [
                rod(c, c + 0.145 * (np.cos(a) * F[0] + np.sin(a) * F[1]), 0.011, 14)
                for a in (0.1, np.pi - 0.1, -np.pi / 2)
            ]
        ),
        "aluminium",
    )
    m.add("steering_column", rod(c, vec(-0.42, 0.235, 0.47), 0.013, 18), "steel_dark")


def _add_screen(m: Model) -> None:
    xs = np.linspace(-0.42, -0.66, 16)
    a = np.linspace(np.pi * 0.14, np.pi * 0.86, 60)
    S = TUB.at(xs[:, None], a[None]) + np.stack(
        [
            np.zeros((16, 60)),
            np.zeros((16, 60)),
            np.broadcast_to((np.linspace(0, 1, 16) ** 0.8 * 0.16)[:, None], (16, 60)),
        ],
        -1,
    )
    m.add("screen", shell(S + vec(0, 0, 0.003), S), "smoke")
