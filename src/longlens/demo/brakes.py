"""A wheel's brake: vented disc on its bell, caliper with its pads, hose."""

from __future__ import annotations

import numpy as np

from longlens.demo import details as d
from longlens.demo.model import Model
from longlens.demo.solids import (
    Array,
    Mesh,
    box,
    frame,
    lathe,
    merge,
    polygon_faces,
    rod,
    spline,
    tube,
)


def disc_meshes(radius: float, thick: float, z: float) -> dict[str, Mesh]:
    """A vented disc on its bell, wheel axis +z."""
    r0, h = radius * 0.64, thick / 2
    ring = lathe(
        [(z - h, r0), (z - h, radius - 0.001), (z - h + 0.001, radius), (z - h * 0.4, radius)],
        (0, 0, 0),
        (0, 0, 1),
        120,
        hint=(0, 1, 0),
    )
    ring2 = lathe(
        [(z + h * 0.4, radius), (z + h - 0.001, radius), (z + h, radius - 0.001), (z + h, r0)],
        (0, 0, 0),
        (0, 0, 1),
        120,
        hint=(0, 1, 0),
    )
    inner = lathe([(z + h, r0), (z - h, r0)], (0, 0, 0), (0, 0, 1), 120, hint=(0, 1, 0))
    core = lathe(
        [
            (z - h * 0.4, radius),
            (z - h * 0.4, radius - 0.012),
            (z + h * 0.4, radius - 0.012),
            (z + h * 0.4, radius),
        ],
        (0, 0, 0),
        (0, 0, 1),
        120,
        hint=(0, 1, 0),
    )
    vanes = [
        box(
            (np.cos(w) * (radius - 0.007), np.sin(w) * (radius - 0.007), z),
            (0.012, 0.0022, h * 0.9),
            0.0005,
            np.array([[np.cos(w), np.sin(w), 0], [-np.sin(w), np.cos(w), 0], [0, 0, 1]]),
            k=1,
        )
        for w in np.linspace(0, 2 * np.pi, 60, endpoint=False)
    ]
    bell = lathe(
        [
            (z - 0.002, r0 - 0.018),
            (z - 0.002, r0 - 0.008),
            (z + 0.004, r0 - 0.006),
            (z + 0.030, r0 - 0.020),
            (z + 0.032, 0.035),
        ],
        (0, 0, 0),
        (0, 0, 1),
        80,
        hint=(0, 1, 0),
    )
    bell2 = lathe(
        [(z + 0.029, 0.035), (z + 0.027, r0 - 0.023), (z - 0.002, r0 - 0.018)],
        (0, 0, 0),
        (0, 0, 1),
        80,
        hint=(0, 1, 0),
    )
    bobbins = merge(
        [
            rod(
                (np.cos(w) * (r0 - 0.003), np.sin(w) * (r0 - 0.003), z - h - 0.001),
                (np.cos(w) * (r0 - 0.003), np.sin(w) * (r0 - 0.003), z + h + 0.0015),
                0.0062,
                16,
                0.001,
            )
            for w in np.linspace(0, 2 * np.pi, 12, endpoint=False)
        ]
    )
    return {"disc": merge([ring, ring2, inner, core, *vanes]), "bell": merge([bell, bell2]), "steel": bobbins}


def caliper_meshes(radius: float, thick: float, z: float, middle: float, span: float = 0.95) -> dict[str, Mesh]:
    """A caliper round the disc's rim, its middle at an angle about the wheel axis +z (rad from the frame's e1)."""
    ro, ri = radius + 0.022, radius * 0.70
    h = thick / 2 + 0.026
    prof = [
        (z - h, ri + 0.006),
        (z - h, ro - 0.012),
        (z - h + 0.009, ro),
        (z + h - 0.009, ro),
        (z + h, ro - 0.012),
        (z + h, ri + 0.006),
        (z + h - 0.006, ri),
        (z + 0.012, ri),
        (z + 0.012, radius + 0.004),
        (z - 0.012, radius + 0.004),
        (z - 0.012, ri),
        (z - h + 0.006, ri),
    ]
    body = lathe(
        prof,
        (0, 0, 0),
        (0, 0, 1),
        36,
        arc=(middle - span / 2, middle + span / 2),
        hint=(0, 1, 0),
        closed=True,
    )
    F = frame((0, 0, 1), (0, 1, 0))
    ends, bits, steel = [], [], []
    p = np.array(prof)
    for s in (-1, 1):
        w = middle + s * span / 2
        e = np.cos(w) * F[0] + np.sin(w) * F[1]
        ring = p[:, :1] * F[2] + p[:, 1:] * e
        q = p if 0.5 * np.sum(p[:, 0] * np.roll(p[:, 1], -1) - np.roll(p[:, 0], -1) * p[:, 1]) > 0 else p[::-1]
        tri = polygon_faces(q)
        ring = q[:, :1] * F[2] + q[:, 1:] * e
        # (axis, radius) plane: its normal axis × radial is tangential
        look = np.cross(F[2], e) @ (np.cross(F[2], e) * s)
        ends.append(Mesh(ring, tri if look > 0 else tri[:, ::-1]))
    for k in (-0.30, 0.0, 0.30):
        w = middle + k * span
        e = np.cos(w) * F[0] + np.sin(w) * F[1]
        for s in (-1, 1):
            bits.append(
                lathe(
                    [(0, 0.021), (0.004, 0.020), (0.006, 0.017), (0.006, 0)],
                    e * (ri + 0.026) + F[2] * (z + s * (h - 0.001)),
                    F[2] * s,
                    30,
                )
            )
    for k in (-0.44, 0.44, 0.15, -0.15):
        w = middle + k * span
        e = np.cos(w) * F[0] + np.sin(w) * F[1]
        steel.append(d.bolt(e * (ro - 0.008) + F[2] * (z + h - 0.004), F[2], 0.007))
        steel.append(d.bolt(e * (ro - 0.001) + F[2] * (z + 0.010), e, 0.005))
    w = middle + 0.40 * span
    e = np.cos(w) * F[0] + np.sin(w) * F[1]
    steel.append(
        rod(
            e * (ri + 0.04) - F[2] * (h - z - 0.002),
            e * (ri + 0.04) - F[2] * (h - z + 0.018),
            0.0035,
            12,
            0.001,
        )
    )
    pads = [
        lathe(
            [
                (z + a, radius * 0.72),
                (z + a, radius - 0.002),
                (z + a + 0.011, radius - 0.002),
                (z + a + 0.011, radius * 0.72),
            ],
            (0, 0, 0),
            (0, 0, 1),
            24,
            arc=(middle - span * 0.40, middle + span * 0.40),
            hint=(0, 1, 0),
            closed=True,
        )
        for a in (thick / 2, -thick / 2 - 0.011)
    ]
    return {"caliper": merge([body, *ends, *bits]), "steel": merge(steel), "pad": merge(pads)}


def add_brake_hose(m: Model, where: str, start: Array, end: Array) -> None:
    """A braided hose from the tub to the caliper, with its unions."""
    mid = (start + end) / 2 + np.array([0.0, 0.0, 0.055])
    p = spline([start, start + np.array([0, 0.045, 0.012]), mid, end + np.array([0, -0.040, 0.012]), end], 14)
    m.add(f"{where}.brake_hose", tube(p, 0.0042, 14), "braided")
    for q, e in ((p[0], p[1] - p[0]), (p[-1], p[-2] - p[-1])):
        m.add(
            f"{where}.brake_hose.union",
            lathe([(-0.004, 0), (-0.004, 0.0075), (0.010, 0.0075), (0.012, 0.0052), (0.022, 0.0050)], q, e, 6),
            "anodised",
        )
