"""A wheel's rim: barrel, spokes, centre with its nut, valve and weights."""

from __future__ import annotations

import numpy as np

from longlens.demo.solids import (
    Mesh,
    box,
    lathe,
    merge,
    ramp,
    rod,
    spline,
    tube,
)
from longlens.demo.tyres import INCH, Tyre


def rim_meshes(t: Tyre, spokes: int, dish: float, twin: bool) -> dict[str, Mesh]:
    """Barrel with flanges, spokes and centre, wheel axis +z: meshes by material key."""
    hub_z = t.face_offset - dish
    z = hub_z - 0.008
    return {
        "rim": merge([_barrel(t), *_spokes(t, spokes, dish, twin), _centre(hub_z)]),
        "nut": _nut(z),
        "steel": merge([_pin(z), _pegs(hub_z)]),
        "valve": _valve(t),
        "lead": _weights(t),
    }


def _barrel(t: Tyre) -> Mesh:
    """The barrel with its flanges, its profile from the inner flange outwards and back inside."""
    b, f = t.face_offset, t.flange_diameter / 2
    seat = t.rim_inch * INCH / 2
    outside = [
        (-b, f - 0.0025),
        (-b + 0.002, f),
        (-b + 0.0075, f - 0.001),
        (-b + 0.011, seat + 0.004),
        (-b + 0.034, seat - 0.001),
        (-b + 0.046, seat - 0.012),
        (b - 0.060, seat - 0.014),
        (b - 0.040, seat - 0.001),
        (b - 0.011, seat + 0.004),
        (b - 0.0075, f - 0.001),
        (b - 0.002, f),
        (b, f - 0.0025),
    ]
    inside = [
        (b, f - 0.0025),
        (b - 0.001, f - 0.0065),
        (b - 0.0045, seat - 0.004),
        (b - 0.040, seat - 0.010),
        (b - 0.060, seat - 0.021),
        (-b + 0.046, seat - 0.019),
        (-b + 0.032, seat - 0.009),
        (-b + 0.003, seat + 0.003),
        (-b, f - 0.0025),
    ]
    return lathe(outside + inside[1:], (0, 0, 0), (0, 0, 1), 128, hint=(0, 1, 0))


def _spokes(t: Tyre, spokes: int, dish: float, twin: bool) -> list[Mesh]:
    b, seat = t.face_offset, t.rim_inch * INCH / 2
    hub_z = b - dish
    arms = []
    for k in range(spokes):
        for off in (-0.075, 0.075) if twin else (0.0,):
            w = 2 * np.pi * k / spokes + off * 0.9
            w1 = 2 * np.pi * k / spokes + off * 1.7
            e0 = np.array([np.cos(w), np.sin(w), 0])
            e1 = np.array([np.cos(w1), np.sin(w1), 0])
            p = spline(
                [
                    e0 * 0.046 + [0, 0, hub_z - 0.004],
                    e0 * 0.085 + [0, 0, hub_z + 0.004],
                    e1 * (seat * 0.72) + [0, 0, b - 0.030],
                    e1 * (seat - 0.016) + [0, 0, b - 0.026],
                ],
                7,
            )
            s = np.linspace(0, 1, len(p))
            arms.append(tube(p, ramp(s, [0, 0.3, 0.8, 1], [0.0125, 0.0085, 0.0078, 0.0125]), 18, flat=1.15))
    return arms


def _centre(hub_z: float) -> Mesh:
    return lathe(
        [
            (hub_z - 0.034, 0.0),
            (hub_z - 0.034, 0.070),
            (hub_z - 0.012, 0.066),
            (hub_z + 0.001, 0.056),
            (hub_z + 0.002, 0.040),
            (hub_z - 0.010, 0.036),
            (hub_z - 0.010, 0),
        ],
        (0, 0, 0),
        (0, 0, 1),
        64,
        hint=(0, 1, 0),
    )


def _nut(z: float) -> Mesh:
    """The central nut, its foot at ``z``."""
    return merge(
        [
            lathe(
                [(z, 0), (z, 0.0375), (z + 0.006, 0.0375), (z + 0.007, 0.034), (z + 0.012, 0.0335), (z + 0.012, 0.0)],
                (0, 0, 0),
                (0, 0, 1),
                12,
                hint=(0, 1, 0),
            ),
            lathe(
                [(z + 0.010, 0.029), (z + 0.030, 0.027), (z + 0.032, 0.025), (z + 0.032, 0.017), (z + 0.012, 0.017)],
                (0, 0, 0),
                (0, 0, 1),
                40,
                hint=(0, 1, 0),
            ),
        ]
    )


def _pin(z: float) -> Mesh:
    """The pin that keeps the nut, and the end of the hub in it."""
    return merge(
        [
            rod((0.0, -0.020, z + 0.022), (0.0, 0.020, z + 0.022), 0.0028, 14),
            lathe(
                [(z + 0.004, 0.0), (z + 0.024, 0.012), (z + 0.026, 0.0)],
                (0, 0, 0),
                (0, 0, 1),
                24,
                hint=(0, 1, 0),
            ),
        ]
    )


def _pegs(hub_z: float) -> Mesh:
    """Six pegs that drive the wheel."""
    return merge(
        [
            rod(
                (0.056 * np.cos(w), 0.056 * np.sin(w), hub_z - 0.01),
                (0.056 * np.cos(w), 0.056 * np.sin(w), hub_z + 0.0045),
                0.0052,
                16,
                0.001,
            )
            for w in np.linspace(0, 2 * np.pi, 6, endpoint=False) + 0.3
        ]
    )


def _valve(t: Tyre) -> Mesh:
    b, seat = t.face_offset, t.rim_inch * INCH / 2
    valve_w = 0.62
    e = np.array([np.cos(valve_w), np.sin(valve_w), 0])
    return rod(e * (seat - 0.012) + [0, 0, b - 0.034], e * (seat - 0.030) + [0, 0, b - 0.020], 0.0035, 12, 0.001)


def _weights(t: Tyre) -> Mesh:
    """Two balance weights inside the barrel."""
    b, seat = t.face_offset, t.rim_inch * INCH / 2
    return merge(
        [
            box(
                (np.cos(w) * (seat - 0.0105), np.sin(w) * (seat - 0.0105), b - 0.0365 + 0.004),
                (0.004, 0.019, 0.013),
                0.001,
                np.array([[np.cos(w), np.sin(w), 0], [-np.sin(w), np.cos(w), 0], [0, 0, 1]]),
            )
            for w in (2.1, 2.24)
        ]
    )
