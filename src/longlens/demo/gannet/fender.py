"""The Gannet's front fenders."""

from __future__ import annotations

import numpy as np

from longlens.demo.gannet.shape import HALF_FRONT, LOADED_FRONT, skin_of
from longlens.demo.mechanics import vec
from longlens.demo.model import Model
from longlens.demo.panels import shell
from longlens.demo.solids import Mesh, box, merge, rod


def add_fender(m: Model, shown: bool) -> None:
    """The fender of one side, with its stays."""
    with m.group("fender"):
        m.add("fender", _shell(), skin_of(shown))
        m.add(
            "fender.stay",
            merge(
                [
                    rod(vec(x, 0.66, z), vec(x * 0.8, 0.30, z - 0.10), 0.011, 18)
                    for x, z in ((0.28, 0.50), (-0.28, 0.52))
                ]
            ),
            "steel_black",
        )
        if shown:
            for i in range(5):
                w = 0.72 + 0.14 * i
                o = vec(0.384 * np.cos(w), HALF_FRONT, LOADED_FRONT + 0.384 * np.sin(w))
                m.add("fender.louvre", box(o, (0.012, 0.17, 0.004), 0.0015), "void")


def _shell() -> Mesh:
    """A shell round the front wheel, open inboard and below."""
    R0, half = 0.352, 0.155
    w = np.linspace(-0.42, np.pi + 0.10, 70)
    y = np.linspace(-1, 1, 31)
    r = R0 + 0.030 * (1 - np.abs(y) ** 4)
    drop = -0.12 * np.clip((y - 0.82) / 0.18, 0, 1) ** 1.5
    a = w[:, None]
    rr = r[None] + drop[None] * np.clip(np.sin(a) + 0.25, 0.1, 1) * 0.5
    stretch = np.where(np.cos(a) < 0, 1.10, 1.03)
    P = np.stack(
        [
            rr * np.cos(a) * stretch,
            np.broadcast_to(HALF_FRONT + 0.012 + half * y[None], rr.shape),
            LOADED_FRONT + rr * np.sin(a),
        ],
        -1,
    )
    out = (P - vec(0, 0, LOADED_FRONT)) * vec(1, 0, 1)
    out = out / np.linalg.norm(out, axis=-1, keepdims=True)
    tex = np.stack([R0 * np.broadcast_to(a, rr.shape), P[..., 1]], -1) / 0.5
    return shell(P, P - out * 0.004, tex=tex)
