"""The Fulmar's cockpit: roll hoop, seat and belts, steering wheel, screen, mirrors."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.fulmar.shape import TUB
from longlens.demo.mechanics import unit, vec
from longlens.demo.model import Model
from longlens.demo.panels import shell
from longlens.demo.solids import box, frame, lathe, merge, plate, rod, spline, tube


def add_cockpit(m: Model) -> None:
    """All round the driver."""
    _add_roll_hoop(m)
    _add_seat(m)
    _add_steering_wheel(m)
    m.add("dash", box(vec(-0.50, 0, 0.585), (0.10, 0.30, 0.03), 0.012), "carbon_matt")
    _add_screen(m)
    for _ in m.both_sides():
        _add_mirror(m)


def _add_roll_hoop(m: Model) -> None:
    hoop = spline(
        [
            vec(-1.40, 0.215, 0.50),
            vec(-1.405, 0.205, 0.70),
            vec(-1.415, 0.165, 0.90),
            vec(-1.42, 0.085, 0.995),
            vec(-1.42, 0, 1.012),
            vec(-1.42, -0.085, 0.995),
            vec(-1.415, -0.165, 0.90),
            vec(-1.405, -0.205, 0.70),
            vec(-1.40, -0.215, 0.50),
        ],
        14,
    )
    m.add("roll_hoop", tube(hoop, 0.0225, 32), "steel_black")
    m.point("roll_hoop.top", vec(-1.42, 0, 1.012 + 0.0225), 0.02, 0.5, on="centre_plane")
    for _ in m.both_sides():
        m.add("roll_hoop.stay", rod(vec(-1.415, 0.155, 0.915), vec(-1.98, 0.145, 0.47), 0.0165, 28), "steel_black")
        m.add(
            "roll_hoop.stay.weld",
            d.weld(d.ring_path(vec(-1.437, 0.1546, 0.898), vec(-0.56, -0.01, -0.445), 0.0168, squash=1.15), 0.0028),
            "weld",
        )
        m.point("roll_hoop.stay_foot", vec(-1.98, 0.145, 0.47), 0.016, 0.5)
        m.add(
            "roll_hoop.stay_foot",
            merge(
                [
                    box(vec(-1.985, 0.145, 0.452), (0.07, 0.05, 0.010), 0.003),
                    d.bolt(vec(-2.008, 0.145, 0.457), vec(0, 0, 1), 0.008),
                    d.bolt(vec(-1.958, 0.160, 0.457), vec(0, 0, 1), 0.008),
                ]
            ),
            "machined",
        )


def _add_seat(m: Model) -> None:
    m.add("headrest", box(vec(-1.355, 0, 0.80), (0.060, 0.24, 0.17), 0.028, k=6), "fabric")
    for _ in m.both_sides():
        m.add("headrest.side", box(vec(-1.24, 0.185, 0.715), (0.26, 0.050, 0.11), 0.022, k=6), "fabric")
    seat = spline(
        [vec(-0.72, 0, 0.135), vec(-0.95, 0, 0.105), vec(-1.13, 0, 0.19), vec(-1.27, 0, 0.42), vec(-1.35, 0, 0.66)], 12
    )
    y = np.linspace(-1, 1, 31)
    P = seat[:, None] + np.stack([np.abs(y) ** 3 * 0.05, y * 0.235, 0.02 + 0.09 * np.abs(y) ** 3.5], -1)[None]
    m.add("seat", shell(P + vec(0, 0, 0.006), P), "fabric")
    for _ in m.both_sides():
        q = spline(
            [vec(-1.34, 0.085, 0.66), vec(-1.25, 0.095, 0.50), vec(-1.10, 0.060, 0.30), vec(-1.02, 0.015, 0.22)], 14
        )
        side = np.cross(np.gradient(q, axis=0), vec(0, 1, 0))
        side /= np.linalg.norm(side, axis=1)[:, None]
        S = q[:, None] + np.linspace(-0.024, 0.024, 5)[None, :, None] * vec(0, 1, 0) + side[:, None] * 0.004
        m.add("belt", shell(S + side[:, None] * 0.003, S), "belt")


def _add_steering_wheel(m: Model) -> None:
    wheel_c, tilt = vec(-0.655, 0, 0.585), unit(vec(-1, 0, 0.42))
    F = frame(tilt)
    w = np.linspace(0, 2 * np.pi, 90)
    rr = 1 + 0.10 * np.cos(2 * w) - 0.05 * np.maximum(0, np.sin(w)) ** 4
    loop = wheel_c + (0.125 * rr * np.cos(w))[:, None] * F[0] + (0.092 * rr * np.sin(w))[:, None] * F[1]
    m.add("steering_wheel", tube(loop, 0.0125, 20), "fabric")
    m.add(
        "steering_wheel.plate",
        plate(
            [(-0.105, -0.035), (0.105, -0.035), (0.105, 0.05), (-0.105, 0.05)], wheel_c, F[0], F[1], 0.014, 0.003, 0.02
        ),
        "carbon_weave",
    )
    m.add("steering_wheel.screen", box(wheel_c + tilt * 0.008 + F[1] * 0.012, (0.10, 0.052, 0.004), 0.001, F), "screen")
    for i, (a, b) in enumerate(
        ((-0.075, 0.03), (0.075, 0.03), (-0.075, -0.012), (0.075, -0.012), (-0.03, -0.03), (0.03, -0.03))
    ):
        m.add(
            "steering_wheel.knob",
            lathe(
                [(0, 0), (0, 0.008), (0.009, 0.007), (0.009, 0)], wheel_c + tilt * 0.007 + F[0] * a + F[1] * b, tilt, 18
            ),
            ("mustard", "anodised", "caliper")[i % 3],
        )
    m.add("steering_column", rod(wheel_c - tilt * 0.01, vec(-0.05, 0, 0.30), 0.0125, 20), "steel_dark")


def _add_screen(m: Model) -> None:
    screen_x = np.linspace(-0.50, -0.60, 14)
    sweep = np.linspace(np.pi * 0.22, np.pi * 0.78, 40)
    S = TUB.at(screen_x[:, None], sweep[None]) + np.stack(
        [
            np.zeros((14, 40)),
            np.zeros((14, 40)),
            np.broadcast_to(np.linspace(0.0, 0.045, 14)[:, None] ** 1.0, (14, 40)),
        ],
        -1,
    )
    m.add("screen", shell(S + vec(0, 0, 0.002), S), "smoke")


def _add_mirror(m: Model) -> None:
    c = vec(-0.70, 0.455, 0.705)
    m.add("mirror", box(c, (0.075, 0.155, 0.058), 0.024, k=6), "paint_slate")
    m.add("mirror.glass", box(c - vec(0.0375, 0, 0), (0.003, 0.132, 0.044), 0.001), "mirror")
    stalk = spline([c + vec(0.005, -0.06, -0.022), c + vec(0.012, -0.12, -0.055), vec(-0.68, 0.262, 0.545)], 10)
    m.add("mirror.stalk", tube(stalk, 0.008, 16, flat=0.5), "carbon_gloss")
    m.point("mirror.outer_end", c + vec(0, 0.0775, 0), 0.014, 0.5)
    m.point("mirror.inner_end", c + vec(0, -0.0775, 0), 0.014, 0.4)
