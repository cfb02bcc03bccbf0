"""Bodywork and wings: lofts over rounded-box sections, cut into panels that can be taken off, and aerofoil surfaces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from longlens.demo.solids import Array, Mesh, grid, merge, ramp


@dataclass(frozen=True)
class Loft:
    """A body given by stations along x: half-width, bottom, top, squareness above and below, and the middle's y.

    A section is |y/w|ⁿ + |z/h|ⁿ = 1 about its middle, with its own n above and below; n = 2 is an ellipse, large n
    a box.
    """

    x: Sequence[float]
    w: Sequence[float]
    z0: Sequence[float]
    z1: Sequence[float]
    n_up: Sequence[float]
    n_low: Sequence[float]
    y: Sequence[float] | None = None
    waist: float = 0.5

    def at(self, x: ArrayLike, angle: ArrayLike, inset: float = 0.0) -> Array:
        """Points (..., 3) at places along x and angles round the section (rad; 0 left, π/2 top, π right)."""
        x, a = np.broadcast_arrays(np.asarray(x, float), np.asarray(angle, float))
        xs = np.asarray(self.x, float)
        order = np.argsort(xs)

        def f(v: Sequence[float]) -> Array:
            return ramp(x, list(xs[order]), list(np.asarray(v, float)[order]))

        w, z0, z1 = f(self.w) - inset, f(self.z0) + inset, f(self.z1) - inset
        mid = z0 + self.waist * (z1 - z0)
        c, s = np.cos(a), np.sin(a)
        n = np.where(s >= 0, f(self.n_up), f(self.n_low))
        r = (np.abs(c) ** n + np.abs(s) ** n) ** (-1 / n)
        y0 = f(self.y) if self.y is not None else 0.0
        z = mid + r * s * np.where(s >= 0, z1 - mid, mid - z0)
        return np.stack([x, y0 + w * r * c, z], -1)

    def panel(
        self,
        x_from: float,
        x_to: float,
        start: float | Callable[[Array], Array],
        end: float | Callable[[Array], Array],
        thick: float = 0.003,
        nx: int = 60,
        na: int = 48,
        uv_scale: float = 0.5,
    ) -> Mesh:
        """A panel with thickness: from ``x_from`` back to ``x_to``, between two angles (numbers or functions of x)."""
        x = np.linspace(x_from, x_to, nx)
        a0 = start(x) if callable(start) else np.full(nx, start)
        a1 = end(x) if callable(end) else np.full(nx, end)
        t = np.linspace(0, 1, na)
        a = a0[:, None] + (a1 - a0)[:, None] * t[None]
        outer = self.at(x[:, None], a)
        inner = self.at(x[:, None], a, thick)
        return shell(outer, inner, uv_scale)

    def whole(self, x_from: float, x_to: float, nx: int = 60, na: int = 96, caps: bool = True) -> Mesh:
        """A closed body with flat ends."""
        x = np.linspace(x_from, x_to, nx)
        a = np.linspace(0, 2 * np.pi, na, endpoint=False)
        P = self.at(x[:, None], a[None, :])
        uv = np.stack([P[..., 0], P[..., 2]], -1) / 0.5
        if x_to < x_from:  # travel backwards: ∂x × ∂a looks … so that outward is a → x
            side = _with_uv(grid(np.swapaxes(P, 0, 1), close_u=True), np.swapaxes(uv, 0, 1)).flipped()
        else:
            side = _with_uv(grid(np.swapaxes(P, 0, 1), close_u=True), np.swapaxes(uv, 0, 1))
        side = _outwards(side)
        if not caps:
            return side
        ends = []
        for k in (0, -1):
            ring = P[k]
            i = np.arange(na)
            f = np.stack([i, (i + 1) % na, np.full(na, na)], 1)
            e = Mesh(np.vstack([ring, ring.mean(0)]), f)
            look = np.cross(ring[1] - ring[0], ring.mean(0) - ring[0])[0]
            want = (x_from - x_to) if k == 0 else (x_to - x_from)
            ends.append(e if look * want > 0 else e.flipped())
        return merge([side, *ends])

    def outward(self, x: float, angle: float) -> Array:
        """The outward normal (3) at a place along x and an angle round the section."""
        p = self.at(x, angle)
        n = np.cross(self.at(x + 1e-3, angle) - p, self.at(x, angle + 1e-3) - p)
        middle = self.at(np.full(8, x), np.linspace(0, 2 * np.pi, 8, endpoint=False)).mean(0)
        n = n / np.linalg.norm(n)
        return n if n @ (p - middle) > 0 else -n

    def grown(self, side: float = 0.0, top: float = 0.0, bottom: float = 0.0) -> Loft:
        """The same body a little larger (m), for what is painted on it."""
        return replace(
            self, w=[v + side for v in self.w], z1=[v + top for v in self.z1], z0=[v - bottom for v in self.z0]
        )


def _with_uv(m: Mesh, uv: Array) -> Mesh:
    return Mesh(m.v, m.f, uv.reshape(-1, 2))


def _outwards(m: Mesh) -> Mesh:
    """Turned so that the signed volume over its middle is positive (near-closed bodies)."""
    c = m.v.mean(0)
    a, b, d = (m.v[m.f[:, k]] - c for k in range(3))
    return m if float(np.einsum("ij,ij->", a, np.cross(b, d))) > 0 else m.flipped()


def shell(outer: Array, inner: Array, uv_scale: float = 0.5, tex: Array | None = None) -> Mesh:
    """A sheet with thickness between two grids (nu, nv, 3), its four rims closed."""
    span = np.max(outer.reshape(-1, 3), 0) - np.min(outer.reshape(-1, 3), 0)
    flat = np.argsort(span)[1:] if span.min() < 0.25 * span.max() else np.array([0, 2])
    flat = np.sort(flat)
    if tex is None:
        tex = outer[..., flat] / uv_scale
    sides = []
    A = Mesh(grid(outer).v, grid(outer).f, tex.reshape(-1, 2))
    # the outer sheet must look away from the inner one
    mid = grid(outer)
    fn = np.cross(mid.v[mid.f[:, 1]] - mid.v[mid.f[:, 0]], mid.v[mid.f[:, 2]] - mid.v[mid.f[:, 0]])
    away = outer.reshape(-1, 3)[mid.f[:, 0]] - inner.reshape(-1, 3)[mid.f[:, 0]]
    good = float(np.sum(fn * away)) > 0
    B = Mesh(inner.reshape(-1, 3), grid(inner).f, tex.reshape(-1, 2))
    sides.append(A if good else A.flipped())
    sides.append(B.flipped() if good else B)
    rims = [
        (outer[0], inner[0]),
        (inner[-1], outer[-1]),
        (inner[:, 0], outer[:, 0]),
        (outer[:, -1], inner[:, -1]),
    ]
    for p, q in rims:
        g = grid(np.stack([p, q]))
        sides.append(g.flipped() if good else g)
    return merge(sides)


def aerofoil(n: int = 40, camber: float = 0.08, thick: float = 0.12, place: float = 0.4) -> Array:
    """A closed section (2n, 2), chord 0 to 1, of the NACA four-digit family, blunt at its trailing edge."""
    x = 0.5 * (1 - np.cos(np.linspace(0, np.pi, n)))
    t = 5 * thick * (0.2969 * np.sqrt(x) - 0.126 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4) + 0.003 * x
    m, p = camber, place
    y = np.where(x < p, m / p**2 * (2 * p * x - x**2), m / (1 - p) ** 2 * (1 - 2 * p + 2 * p * x - x**2))
    s = np.where(x < p, 2 * m / p**2 * (p - x), 2 * m / (1 - p) ** 2 * (p - x))
    th = np.arctan(s)
    up = np.stack([x - t * np.sin(th), y + t * np.cos(th)], 1)
    lo = np.stack([x + t * np.sin(th), y - t * np.cos(th)], 1)
    return np.vstack([up[::-1], lo[1:]])


def wing(y: ArrayLike, leading: ArrayLike, chord: ArrayLike, incidence_deg: ArrayLike, section: Array) -> Mesh:
    """A wing that makes downforce: sections along y (k), leading edges (k, 3), chords, incidence (nose down positive).

    The section's camber looks down; the chord runs from the leading edge backwards (−x), rising with incidence.
    """
    y = np.asarray(y, float)
    lead = np.asarray(leading, float)
    c = np.broadcast_to(np.asarray(chord, float), y.shape)
    a = np.radians(np.broadcast_to(np.asarray(incidence_deg, float), y.shape))
    sx, sz = section[:, 0], -section[:, 1]
    X = lead[:, None, 0] - c[:, None] * (sx * np.cos(a)[:, None] + sz * np.sin(a)[:, None])
    Z = lead[:, None, 2] + c[:, None] * (sx * np.sin(a)[:, None] - (-sz) * np.cos(a)[:, None])
    P = np.stack([X, np.broadcast_to(y[:, None], X.shape), Z], -1)
    uv = np.stack([P[..., 1], P[..., 0]], -1) / 0.5
    side = Mesh(grid(np.swapaxes(P, 0, 1), close_u=True).v, grid(np.swapaxes(P, 0, 1), close_u=True).f)
    side = _outwards(_with_uv(side, np.swapaxes(uv, 0, 1)))
    ends = []
    for k in (0, -1):
        ring = P[k]
        n = len(ring)
        half = n // 2
        i = np.arange(half - 1)
        a_, b_ = i, n - 1 - i
        f = np.vstack([np.stack([a_, b_, a_ + 1], 1), np.stack([a_ + 1, b_, b_ - 1], 1)])
        e = Mesh(ring, f)
        look = np.cross(ring[f[5, 1]] - ring[f[5, 0]], ring[f[5, 2]] - ring[f[5, 0]])[1]
        want = (y[0] - y[-1]) if k == 0 else (y[-1] - y[0])
        ends.append(e if look * want > 0 else e.flipped())
    return merge([side, *ends])


def trailing_edge(lead: Array, chord: float, incidence_deg: float) -> Array:
    """The trailing edge (3) behind a leading edge of a wing."""
    a = np.radians(incidence_deg)
    return lead + np.array([-chord * np.cos(a), 0.0, chord * np.sin(a)])
