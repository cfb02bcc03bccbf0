"""A tyre by its designation, and its solids."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.demo.solids import (
    Mesh,
    grid,
    lathe,
    merge,
    spline,
)

INCH = 0.0254


@dataclass(frozen=True)
class Tyre:
    """A tyre by its designation: section width (m), aspect (%), rim (inch); and the rim's width between flanges, inch.

    Overall diameter = rim diameter + 2 · width · aspect (ETRTO's rule). The true one differs by ``grown``.
    """

    width: float
    aspect: float
    rim_inch: float
    rim_width_inch: float
    grown: float = 0.0

    @property
    def designation(self) -> str:
        return f"{self.width * 1000:.0f}/{self.aspect:.0f} R {self.rim_inch:.0f}"

    @property
    def nominal_diameter(self) -> float:
        return self.rim_inch * INCH + 2 * self.width * self.aspect / 100

    @property
    def diameter(self) -> float:
        return self.nominal_diameter + self.grown

    @property
    def flange_diameter(self) -> float:
        """True outer diameter of the rim's flanges, m: the nominal one less a little, as rims come."""
        return self.nominal_flange_diameter - 0.0006

    @property
    def nominal_flange_diameter(self) -> float:
        """Nominal diameter + 2 × 17.3 mm (flange J, ISO 4000-2; from memory), m."""
        return self.rim_inch * INCH + 2 * 0.0173

    @property
    def face_offset(self) -> float:
        """From the wheel's middle plane to the outer face of the outer flange, m."""
        return self.rim_width_inch * INCH / 2 + 0.0125


def tyre_meshes(t: Tyre, blocks: int, grooves: int, treaded: bool) -> tuple[Mesh, Mesh, Mesh]:
    """Tread, outer sidewall (with texture coordinates), inner sidewall; wheel axis +z, middle plane z = 0."""
    R, W = t.diameter / 2, t.width
    flange, half_rim = t.flange_diameter / 2, t.face_offset
    tw = W * 0.43
    bead = (half_rim - 0.006, flange - 0.004)
    wall = spline(
        [
            (tw, R - 0.0045, 0),
            (tw + 0.007, R - 0.010, 0),
            (W * 0.487, R - 0.30 * (R - flange), 0),
            (W * 0.5, R - 0.52 * (R - flange), 0),
            (W * 0.488, R - 0.76 * (R - flange), 0),
            (half_rim + 0.001, flange + 0.006, 0),
            (bead[0], bead[1], 0),
        ],
        8,
    )[:, :2]
    z = np.linspace(-tw, tw, 97)
    n = blocks * 16 if treaded else 360
    r0 = R - 0.0045 * np.abs(z / tw) ** 4
    w = np.linspace(0, 2 * np.pi, n, endpoint=False)
    depth = np.zeros((n, len(z)))
    if treaded:
        # ribs between grooves round the tyre, cut across by slots staggered from rib to rib; all on the grid's lines
        at = (np.arange(grooves) - (grooves - 1) / 2) / grooves * 1.7 * tw
        rib = np.searchsorted(at, z)
        step = (np.arange(n)[:, None] + np.where(rib % 2 == 0, 0, 8)[None]) % 16
        slot = np.isin(step, (7, 8)).astype(float) + 0.5 * np.isin(step, (6, 9))
        outer_rib = (rib == 0) | (rib == grooves)
        depth = np.clip(slot, 0, 1) * np.where(outer_rib, 0.0052, 0.0040)[None] * (np.abs(z) < 0.985 * tw)[None]
        for g in at:
            depth = np.maximum(depth, 0.0060 * np.clip(1.6 - np.abs(z - g) / 0.0034, 0, 1)[None])
    rr = r0[None] - depth
    P = np.stack([np.cos(w)[:, None] * rr, np.sin(w)[:, None] * rr, np.broadcast_to(z, rr.shape)], -1)
    tread = grid(P, close_u=True)
    outer = lathe(wall, (0, 0, 0), (0, 0, 1), 241, hint=(0, 1, 0), uv=True)
    inner = lathe(np.stack([-wall[::-1, 0], wall[::-1, 1]], 1), (0, 0, 0), (0, 0, 1), 160, hint=(0, 1, 0))
    rings = [
        lathe(
            [(t_ - 0.0012, r_ + 0.0016), (t_ + 0.0014, r_), (t_ - 0.0012, r_ - 0.0016)],
            (0, 0, 0),
            (0, 0, 1),
            160,
            hint=(0, 1, 0),
        )
        for t_, r_ in (
            (np.interp(-(R - 0.34 * (R - flange)), -wall[:, 1], wall[:, 0]), R - 0.34 * (R - flange)),
            (np.interp(-(R - 0.86 * (R - flange)), -wall[:, 1], wall[:, 0]), R - 0.86 * (R - flange)),
        )
    ]
    return tread, outer, merge([inner, *rings])
