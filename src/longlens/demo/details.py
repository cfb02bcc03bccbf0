"""The small things that make a car believable and give the eye a hold: bolts, joints, clamps, springs."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from longlens.demo.solids import Array, Mesh, box, coil, frame, lathe, merge, plate, rod, sphere, tube, unit


def bolt(at: ArrayLike, axis: ArrayLike, size: float = 0.006) -> Mesh:
    """A hexagon head with a washer; ``size`` is the thread's diameter, ``axis`` points out of the surface."""
    a, e = np.asarray(at, float), unit(axis)
    af = size * 0.92  # half the width over corners
    head = lathe(
        [(0, 0), (0, af), (size * 0.55, af), (size * 0.65, af * 0.86), (size * 0.65, 0)],
        a + e * size * 0.18,
        e,
        6,
    )
    washer = lathe([(0, 0), (0, size * 1.05), (size * 0.18, size * 1.05), (size * 0.18, 0)], a, e, 24)
    return merge([head, washer])


def fastener(at: ArrayLike, axis: ArrayLike, radius: float = 0.009) -> Mesh:
    """A quarter-turn panel fastener: a flush button with a slot."""
    a, e = np.asarray(at, float), unit(axis)
    F = frame(e)
    cup = lathe(
        [
            (-0.002, 0),
            (-0.002, radius),
            (0.0012, radius),
            (0.0018, radius * 0.86),
            (0.0010, radius * 0.74),
            (0.0010, 0),
        ],
        a,
        e,
        28,
    )
    slot = box(a + e * 0.0011, (radius * 1.15, radius * 0.2, 0.0008), 0.0002, F)
    return merge([cup, slot])


def rod_end(eye: ArrayLike, towards: ArrayLike, pin: ArrayLike, size: float = 0.011) -> tuple[Mesh, Mesh]:
    """A spherical joint at ``eye`` with its shank towards a rod: (steel: ring, shank, ball, pin; dark: the jam nut).

    ``size`` is the ring's outer radius over 1.0; ``pin`` the pin's direction.
    """
    e, p = np.asarray(eye, float), unit(pin)
    d = unit(np.asarray(towards, float) - e)
    p = unit(p - d * (p @ d) * 0.85)
    w = size * 0.55
    ring = lathe(
        [(-w, size * 0.62), (-w, size * 0.95), (-w * 0.8, size), (w * 0.8, size), (w, size * 0.95), (w, size * 0.62)],
        e,
        p,
        40,
    )
    inner = lathe([(w, size * 0.62), (-w, size * 0.62)], e, p, 40)
    ball = sphere(e, size * 0.66, 28)
    pin_bolt = rod(e - p * size * 1.25, e + p * size * 1.25, size * 0.36, 18, 0.0006)
    heads = [bolt(e + p * size * 1.2, p, size * 0.62), bolt(e - p * size * 1.2, -p, size * 0.62)]
    shank = lathe([(size * 0.85, size * 0.55), (size * 1.5, size * 0.42), (size * 3.0, size * 0.42)], e, d, 24)
    nut = lathe([(size * 2.3, 0), (size * 2.3, size * 0.78), (size * 2.9, size * 0.78), (size * 2.9, 0)], e, d, 6)
    return merge([ring, inner, ball, pin_bolt, *heads, shank]), nut


def clevis(eye: ArrayLike, root: ArrayLike, pin: ArrayLike, gap: float = 0.014, thick: float = 0.005) -> Mesh:
    """Two lugs on a foot that hold a joint at ``eye``; ``root`` is where the foot is bolted."""
    e, r = np.asarray(eye, float), np.asarray(root, float)
    p = unit(pin)
    d = e - r
    d = d - p * (d @ p)
    reach = max(float(np.linalg.norm(d)), 0.012)
    d = unit(d)
    s = np.cross(p, d)
    w = 0.016
    arc = np.linspace(-np.pi / 2, np.pi / 2, 13)
    outline = [
        (-w * 1.3, 0.0),
        *[(w * 0.8 * np.sin(t), reach + w * 0.8 * np.cos(t)) for t in arc],
        (w * 1.3, 0.0),
    ]
    foot = e - d * reach
    lugs = [plate(outline, foot + p * k * (gap / 2 + thick / 2), s, d, thick, 0.0008) for k in (-1, 1)]
    base = box(foot - d * 0.002, (w * 3.4, gap + 2 * thick + 0.012, 0.005), 0.0015, np.stack([s, p, d]))
    bolts = [bolt(foot + s * w * 1.42 * k + d * 0.0005, d, 0.005) for k in (-1, 1)]
    return merge([*lugs, base, *bolts])


def hose_clamp(at: ArrayLike, along: ArrayLike, radius: float) -> Mesh:
    """A worm-drive clamp round a hose: band, housing and screw."""
    a, e = np.asarray(at, float), unit(along)
    band = lathe([(-0.0055, radius), (-0.0055, radius + 0.0011), (0.0055, radius + 0.0011), (0.0055, radius)], a, e, 40)
    F = frame(e, (0.3, 0.4, 1.0))
    c = a + F[1] * (radius + 0.0045)
    housing = box(c, (0.015, 0.008, 0.011), 0.002, F)
    screw = rod(c - F[0] * 0.006, c + F[0] * 0.014, 0.0032, 14, 0.0005)
    head = bolt(c + F[0] * 0.014, F[0], 0.0045)
    ridges = [
        box(
            a + (np.cos(t) * F[0] + np.sin(t) * F[1]) * (radius + 0.0012),
            (0.0012, 0.001, 0.007),
            0.0002,
            np.stack([-np.sin(t) * F[0] + np.cos(t) * F[1], np.cos(t) * F[0] + np.sin(t) * F[1], -e]),
        )
        for t in np.linspace(np.pi * 0.62, np.pi * 1.1, 9)
    ]
    return merge([band, housing, screw, head, *ridges])


def p_clip(at: ArrayLike, along: ArrayLike, radius: float, foot: ArrayLike) -> tuple[Mesh, Mesh]:
    """A pipe bracket: (metal strap with its leg and bolt, rubber liner), bolted at ``foot``."""
    a, e, q = np.asarray(at, float), unit(along), np.asarray(foot, float)
    liner = lathe([(-0.008, radius), (-0.008, radius + 0.0022), (0.008, radius + 0.0022), (0.008, radius)], a, e, 36)
    r = radius + 0.0022
    strap = lathe([(-0.006, r), (-0.006, r + 0.0014), (0.006, r + 0.0014), (0.006, r)], a, e, 36)
    d = q - a
    d = d - e * (d @ e)
    n = unit(d)
    length = float(np.linalg.norm(d))
    leg = plate(
        [
            (-0.006, r * 0.9),
            (0.006, r * 0.9),
            (0.007, length),
            (0.004, length + 0.007),
            (-0.004, length + 0.007),
            (-0.007, length),
        ],
        a,
        e,
        n,
        0.0018,
        0.0004,
    )
    pin = np.cross(e, n)
    return merge(
        [
            strap,
            leg,
            bolt(a + n * length + pin * 0.001, pin, 0.005),
            bolt(a + n * length - pin * 0.001, -pin, 0.005),
        ]
    ), liner


def weld(path: ArrayLike, radius: float = 0.0022, pitch: float = 0.0019) -> Mesh:
    """A weld bead along a polyline: overlapping drops, a little uneven."""
    p = np.asarray(path, float)
    d = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])
    n = max(int(d[-1] / pitch * 6), 8)
    s = np.linspace(0, d[-1], n)
    q = np.stack([np.interp(s, d, p[:, k]) for k in range(3)], 1)
    r = radius * (0.84 + 0.2 * np.abs(np.sin(np.pi * s / pitch)) + 0.04 * np.sin(s * 930.0 + 1.0))
    return tube(q, r, 10)


def ring_path(centre: ArrayLike, axis: ArrayLike, radius: float, n: int = 48, squash: float = 1.0) -> Array:
    """A closed circle (n + 1, 3) for welds and seams."""
    F = frame(axis)
    w = np.linspace(0, 2 * np.pi, n + 1)
    return np.asarray(centre, float) + radius * (np.cos(w)[:, None] * F[0] + squash * np.sin(w)[:, None] * F[1])


def spring_damper(
    a: ArrayLike,
    b: ArrayLike,
    body: float = 0.021,
    spring: float = 0.031,
    wire: float = 0.0048,
    turns: float = 8.5,
) -> dict[str, Mesh]:
    """A coil-over between two eyes: meshes by material (``body``, ``shaft``, ``spring``, ``ring``, ``steel``)."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    e = unit(b - a)
    L = float(np.linalg.norm(b - a))
    tube_end = 0.58 * L
    body_m = lathe(
        [
            (0.02, 0),
            (0.02, body * 0.8),
            (0.024, body),
            (tube_end - 0.004, body),
            (tube_end, body * 0.82),
            (tube_end, 0),
        ],
        a,
        e,
        40,
    )
    threads = merge(
        [
            lathe([(z, body), (z + 0.001, body + 0.0008), (z + 0.002, body)], a, e, 40)
            for z in np.arange(0.05, tube_end - 0.02, 0.0022)
        ]
    )
    shaft = rod(a + e * tube_end, b - e * 0.02, body * 0.38, 24)
    s0, s1 = 0.16 * L + 0.012, L - 0.034
    rings = merge(
        [
            lathe(
                [(s0 - 0.012, body), (s0 - 0.012, spring + 0.004), (s0 - 0.002, spring + 0.004), (s0 - 0.002, body)],
                a,
                e,
                44,
            ),
            lathe([(s0 - 0.018, body), (s0 - 0.018, spring), (s0 - 0.0125, spring), (s0 - 0.0125, body)], a, e, 12),
            lathe(
                [
                    (s1 + 0.002, body * 0.4),
                    (s1 + 0.002, spring + 0.004),
                    (s1 + 0.008, spring + 0.003),
                    (s1 + 0.014, body * 0.6),
                ],
                a,
                e,
                44,
            ),
        ]
    )
    wire_m = coil(a + e * s0, a + e * s1, spring, wire, turns)
    pin = frame(e)[0]
    eyes = merge([rod_end(a, b, pin, 0.012)[0], rod_end(b, a, pin, 0.012)[0]])
    knob = lathe([(0.028, body), (0.028, body * 1.18), (0.04, body * 1.18), (0.04, body)], a, e, 20)
    return {
        "body": merge([body_m, threads]),
        "shaft": shaft,
        "spring": wire_m,
        "ring": merge([rings, knob]),
        "steel": eyes,
    }


def loom(path: ArrayLike, radius: float, ties: int = 5) -> tuple[Mesh, Mesh]:
    """A cable loom along a path with cable ties: (sleeve, ties). The sleeve is ribbed like convoluted tube."""
    p = np.asarray(path, float)
    d = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])
    n = max(int(d[-1] / 0.0012), 12)
    s = np.linspace(0, d[-1], n)
    q = np.stack([np.interp(s, d, p[:, k]) for k in range(3)], 1)
    r = radius * (1 + 0.06 * np.sign(np.sin(2 * np.pi * s / 0.0048)))
    out = []
    for k in np.linspace(0.1, 0.9, ties):
        i = int(k * (n - 1))
        e = unit(q[min(i + 2, n - 1)] - q[max(i - 2, 0)])
        out.append(
            lathe(
                [(-0.002, radius), (-0.002, radius * 1.16), (0.002, radius * 1.16), (0.002, radius)],
                q[i],
                e,
                20,
            )
        )
        F = frame(e, (0.2, 1, 0.4))
        out.append(box(q[i] + F[1] * radius * 1.25, (0.004, 0.004, 0.004), 0.0006, F))
    return tube(q, r, 14), merge(out)


def along(path: Array, share: float) -> tuple[Array, Array]:
    """Place and direction at a share (0 to 1) of a polyline's length."""
    d = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    s = share * d[-1]
    i = int(np.clip(np.searchsorted(d, s, side="right") - 1, 0, len(path) - 2))
    t = (s - d[i]) / (d[i + 1] - d[i])
    return path[i] + t * (path[i + 1] - path[i]), unit(path[i + 1] - path[i])
