"""Triangle meshes from numpy alone: grids, tubes, lathed and extruded bodies, lofts. Metres throughout.

A mesh is vertices, faces, and (where a picture is wrapped on it) texture coordinates. Faces look outwards by the
right-hand rule. Shading normals are made last, by :func:`shaded`, which smooths over blunt edges and keeps sharp ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True)
class Mesh:
    """``v`` (n, 3) vertices, ``f`` (m, 3) faces, ``uv`` (n, 2) or None."""

    v: Array
    f: Index
    uv: Array | None = None

    def moved(self, R: Array | None = None, t: ArrayLike = (0.0, 0.0, 0.0)) -> Mesh:
        """The mesh turned by ``R`` (3, 3), then shifted by ``t``."""
        v = self.v if R is None else self.v @ np.asarray(R).T
        return Mesh(v + np.asarray(t, float), self.f, self.uv)

    def mirrored(self) -> Mesh:
        """Its reflection in the plane y = 0, still looking outwards."""
        return Mesh(self.v * np.array([1.0, -1.0, 1.0]), self.f[:, ::-1], self.uv)

    def flipped(self) -> Mesh:
        """Inside out."""
        return Mesh(self.v, self.f[:, ::-1], self.uv)


def merge(meshes: Iterable[Mesh]) -> Mesh:
    """One mesh of several."""
    meshes = [m for m in meshes if len(m.f)]
    if not meshes:
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int64))
    base = np.cumsum([0] + [len(m.v) for m in meshes[:-1]])
    uv = None
    if any(m.uv is not None for m in meshes):
        uv = np.vstack([m.uv if m.uv is not None else np.zeros((len(m.v), 2)) for m in meshes])
    return Mesh(np.vstack([m.v for m in meshes]), np.vstack([m.f + b for m, b in zip(meshes, base, strict=True)]), uv)


def unit(v: ArrayLike) -> Array:
    """Directions of vectors (..., 3)."""
    v = np.asarray(v, float)
    return v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-300)


def frame(axis: ArrayLike, hint: ArrayLike = (0.0, 0.0, 1.0)) -> Array:
    """A right-handed frame (3, 3), rows e1, e2, e3, with e3 along ``axis`` and e2 as near ``hint`` as it can be."""
    e3 = unit(axis)
    h = np.asarray(hint, float)
    if np.linalg.norm(np.cross(h, e3)) < 1e-6 * max(1.0, float(np.linalg.norm(h))):
        h = np.array([1.0, 0.0, 0.0]) if abs(e3[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    e2 = unit(h - e3 * (h @ e3))
    return np.stack([np.cross(e2, e3), e2, e3])


def grid(P: Array, close_u: bool = False, close_v: bool = False, uv: Array | None = None) -> Mesh:
    """The surface over a grid of points (nu, nv, 3); normals along ∂u × ∂v. Closed directions join end to start."""
    nu, nv = P.shape[:2]
    iu = np.arange(nu if close_u else nu - 1)
    iv = np.arange(nv if close_v else nv - 1)
    a = (iu[:, None] * nv + iv[None, :]).ravel()
    b = (((iu + 1) % nu)[:, None] * nv + iv[None, :]).ravel()
    c = (((iu + 1) % nu)[:, None] * nv + ((iv + 1) % nv)[None, :]).ravel()
    d = (iu[:, None] * nv + ((iv + 1) % nv)[None, :]).ravel()
    f = np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    v = P.reshape(-1, 3)
    area = np.linalg.norm(np.cross(v[f[:, 1]] - v[f[:, 0]], v[f[:, 2]] - v[f[:, 0]]), axis=1)
    return Mesh(v, f[area > 1e-14], None if uv is None else uv.reshape(-1, 2))


def _sweep(rings: Array, caps: bool) -> Mesh:
    """Rings (k, n, 3), each counter-clockwise about the way of travel, skinned outwards; ends closed by fans."""
    side = grid(np.swapaxes(rings, 0, 1), close_u=True)
    if not caps:
        return side
    parts = [side]
    n = rings.shape[1]
    for ring, last in ((rings[0], False), (rings[-1], True)):
        i = np.arange(n)
        f = np.stack([i, (i + 1) % n, np.full(n, n)], 1)
        parts.append(Mesh(np.vstack([ring, ring.mean(0)]), f if last else f[:, ::-1]))
    return merge(parts)


def tangents(path: Array) -> Array:
    """Unit tangents along a polyline (k, 3)."""
    return unit(np.gradient(path, axis=0))


def carried_frames(path: Array, hint: ArrayLike = (0.0, 0.0, 1.0)) -> tuple[Array, Array]:
    """Two directions (k, 3) across a path that turn as little as possible along it."""
    T = tangents(path)
    e1 = np.empty_like(path)
    e2 = np.empty_like(path)
    F = frame(T[0], hint)
    a = F[0]
    for k in range(len(path)):
        a = unit(a - T[k] * (a @ T[k]))
        e1[k], e2[k] = a, np.cross(T[k], a)
    return e1, e2


def tube(
    path: ArrayLike,
    radius: ArrayLike,
    n: int = 20,
    caps: bool = True,
    flat: float = 1.0,
    hint: ArrayLike = (0.0, 0.0, 1.0),
) -> Mesh:
    """A round (``flat`` = 1) or elliptical bar along a path (k, 3), of one radius or one for each place.

    ``flat`` is thickness along ``hint`` over width across it.
    """
    path = np.asarray(path, float)
    r = np.broadcast_to(np.asarray(radius, float), (len(path),))
    e1, e2 = carried_frames(path, hint)
    w = np.linspace(0, 2 * np.pi, n, endpoint=False)
    rings = path[:, None] + r[:, None, None] * (
        np.cos(w)[None, :, None] * e1[:, None] + flat * np.sin(w)[None, :, None] * e2[:, None]
    )
    return _sweep(rings, caps)


def rod(a: ArrayLike, b: ArrayLike, radius: float, n: int = 20, bevel: float = 0.0) -> Mesh:
    """A straight round bar between two points, its ends chamfered by ``bevel``."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    e = unit(b - a)
    c = min(bevel, radius * 0.5)
    if c > 0:
        path = np.stack([a, a + e * c, b - e * c, b])
        return tube(path, [radius - c, radius, radius, radius - c], n)
    return tube(np.stack([a, b]), radius, n)


def blade(a: ArrayLike, b: ArrayLike, chord: float, thick: float, along: ArrayLike, n: int = 24) -> Mesh:
    """A streamlined bar: an ellipse of ``chord`` along ``along`` and ``thick`` across it, necked down at both ends."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    length = float(np.linalg.norm(b - a))
    s = np.unique(np.concatenate([[0, 1], np.linspace(0, 0.14, 8), np.linspace(0.86, 1, 8)]))
    ease = np.clip(np.minimum(s, 1 - s) / min(0.14, 0.06 / length), 0, 1)
    ease = ease * ease * (3 - 2 * ease)
    e = unit(b - a)
    x = unit(np.asarray(along, float) - e * (np.asarray(along, float) @ e))
    y = np.cross(e, x)
    w = np.linspace(0, 2 * np.pi, n, endpoint=False)
    c = (thick + (chord - thick) * ease) / 2
    path = a + s[:, None] * (b - a)
    rings = path[:, None] + c[:, None, None] * np.cos(w)[None, :, None] * x + (thick / 2) * np.sin(w)[None, :, None] * y
    return _sweep(rings, True)


def lathe(
    profile: ArrayLike,
    origin: ArrayLike,
    axis: ArrayLike,
    n: int = 48,
    arc: tuple[float, float] | None = None,
    hint: ArrayLike = (0.0, 0.0, 1.0),
    closed: bool = False,
    uv: bool = False,
) -> Mesh:
    """A body of revolution. ``profile`` (k, 2): place along the axis, radius.

    Where the profile runs along the axis its faces look outwards, where it runs back they look inwards. ``arc`` limits
    the sweep (rad from the frame's first direction).
    """
    p = np.asarray(profile, float)
    F = frame(axis, hint)
    full = arc is None
    lo, hi = (0.0, 2 * np.pi) if arc is None else arc
    w = np.linspace(lo, hi, n, endpoint=not full or uv)
    ring = np.cos(w)[:, None] * F[0] + np.sin(w)[:, None] * F[1]
    P = np.asarray(origin, float) + p[None, :, :1] * F[2] + p[None, :, 1:] * ring[:, None]
    tex = None
    if uv:
        d = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])
        tex = np.stack(np.broadcast_arrays(np.linspace(0, 1, n)[:, None], (d / d[-1])[None, :]), -1)
    return grid(P, close_u=full and not uv, close_v=closed, uv=tex)


def sphere(centre: ArrayLike, radius: float, n: int = 20) -> Mesh:
    """A ball."""
    w = np.linspace(-np.pi / 2, np.pi / 2, n // 2 + 1)
    return lathe(np.stack([radius * np.sin(w), radius * np.cos(w)], 1), centre, (0, 0, 1), n)


def box(centre: ArrayLike, size: ArrayLike, radius: float = 0.002, R: Array | None = None, k: int = 3) -> Mesh:
    """A box with rounded edges; ``R`` has the box's axes as rows."""
    half = np.asarray(size, float) / 2
    r = min(radius, float(half.min()) * 0.98)
    q = np.linspace(0, np.pi / 2, k + 1)
    lon, sx, sy = [], [], []
    for i, (x, y) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        lon += list(q + i * np.pi / 2)
        sx += [x] * (k + 1)
        sy += [y] * (k + 1)
    lat = np.concatenate([q - np.pi / 2, q])
    sz = np.array([-1] * (k + 1) + [1] * (k + 1))
    inner = half - r
    c, s = np.cos(lon), np.sin(lon)
    P = np.stack(
        [
            inner[0] * np.array(sx)[:, None] + r * c[:, None] * np.cos(lat)[None],
            inner[1] * np.array(sy)[:, None] + r * s[:, None] * np.cos(lat)[None],
            np.broadcast_to(inner[2] * sz + r * np.sin(lat), (len(lon), len(lat))),
        ],
        -1,
    )
    side = grid(P, close_u=True)
    caps = []
    for j, up in ((0, False), (len(lat) - 1, True)):
        ring = P[:, j]
        rim = np.arange(len(ring))
        f = np.stack([rim, (rim + 1) % len(ring), np.full(len(ring), len(ring))], 1)
        caps.append(Mesh(np.vstack([ring, ring.mean(0)]), f if up else f[:, ::-1]))
    m = merge([side, *caps])
    return m.moved(None if R is None else np.asarray(R).T, centre)


def polygon_faces(p: Array) -> Index:
    """Triangles (m, 3) of a simple polygon (n, 2) walked counter-clockwise, by clipping ears."""
    idx = list(range(len(p)))
    out = []
    guard = 0
    while len(idx) > 3 and guard < 10000:
        guard += 1
        n = len(idx)
        clipped = False
        for j in range(n):
            a, b, c = idx[j - 1], idx[j], idx[(j + 1) % n]
            if _cross2(p[b] - p[a], p[c] - p[b]) <= 1e-16:
                continue
            rest = np.array([k for k in idx if k not in (a, b, c)])
            q = p[rest]
            inside = (
                (_cross2(p[b] - p[a], q - p[a]) >= -1e-15)
                & (_cross2(p[c] - p[b], q - p[b]) >= -1e-15)
                & (_cross2(p[a] - p[c], q - p[c]) >= -1e-15)
            )
            if not inside.any():
                out.append((a, b, c))
                idx.pop(j)
                clipped = True
                break
        if not clipped:
            break
    if len(idx) >= 3:
        out += [(idx[0], idx[j], idx[j + 1]) for j in range(1, len(idx) - 1)]
    return np.array(out, np.int64).reshape(-1, 3)


def _cross2(a: Array, b: Array) -> Array:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def plate(
    outline: ArrayLike,
    origin: ArrayLike,
    e1: ArrayLike,
    e2: ArrayLike,
    thick: float,
    bevel: float = 0.001,
    round_to: float = 0.0,
    uv_scale: float | None = None,
) -> Mesh:
    """A plate of a given outline (n, 2) in the plane of ``e1``, ``e2``, centred on it in thickness, edges chamfered."""
    p = np.asarray(outline, float)
    area = 0.5 * float(np.sum(_cross2(p, np.roll(p, -1, 0))))
    if area < 0:
        p = p[::-1]
    if round_to > 0:
        p = rounded_outline(p, round_to)
    e1, e2 = unit(e1), unit(e2)
    e3 = np.cross(e1, e2)
    d0 = unit(p - np.roll(p, 1, 0))
    d1 = unit(np.roll(p, -1, 0) - p)
    nrm = np.stack([d0[:, 1] + d1[:, 1], -(d0[:, 0] + d1[:, 0])], 1)
    nrm /= np.maximum(np.sum(nrm * nrm, 1, keepdims=True) / 2, 0.3)
    b = min(bevel, thick * 0.45)
    small = p - nrm * b
    h = thick / 2
    levels = [(small, -h), (p, -h + b), (p, h - b), (small, h)]
    o = np.asarray(origin, float)
    rings = np.stack([o + q[:, :1] * e1 + q[:, 1:] * e2 + z * e3 for q, z in levels])
    side = _sweep(rings, False)
    tri = polygon_faces(small)
    cap_top = Mesh(rings[3], tri)
    cap_bot = Mesh(rings[0], tri[:, ::-1])
    m = merge([side, cap_top, cap_bot])
    if uv_scale:
        flat = np.swapaxes(np.stack([small, p, p, small]), 0, 1).reshape(-1, 2)
        m = Mesh(m.v, m.f, np.vstack([flat, small, small]) / uv_scale)
    return m


def rounded_outline(p: Array, radius: float, k: int = 5) -> Array:
    """An outline (n, 2) with its corners rounded by arcs."""
    out = []
    n = len(p)
    for i in range(n):
        a, b, c = p[i - 1], p[i], p[(i + 1) % n]
        u, w = unit(a - b), unit(c - b)
        half = 0.5 * np.arccos(np.clip(u @ w, -1, 1))
        if half > np.pi / 2 - 0.05 or half < 0.05:
            out.append(b)
            continue
        sides = 0.45 * float(np.linalg.norm(a - b)), 0.45 * float(np.linalg.norm(c - b))
        reach = min(radius / float(np.tan(half)), *sides)
        r = reach * np.tan(half)
        centre = b + unit(u + w) * (r / np.sin(half))
        s, e = b + u * reach - centre, b + w * reach - centre
        ang = np.arctan2(_cross2(s, e), s @ e)
        for t in np.linspace(0, 1, k + 1):
            ca, sa = np.cos(ang * t), np.sin(ang * t)
            out.append(centre + np.array([ca * s[0] - sa * s[1], sa * s[0] + ca * s[1]]))
    return np.array(out)


def outline_round(points: list[Array], radii: list[float]) -> Array:
    """The convex outline round several circles (plane points and radii), counter-clockwise."""
    from scipy.spatial import ConvexHull

    w = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    q = np.vstack([p + r * np.stack([np.cos(w), np.sin(w)], 1) for p, r in zip(points, radii, strict=True)])
    return q[ConvexHull(q).vertices]


def spline(points: ArrayLike, per: int = 10) -> Array:
    """A smooth curve through points (n, 3): Catmull–Rom, centripetal."""
    p = np.asarray(points, float)
    if len(p) < 3:
        return p[0] + np.linspace(0, 1, per + 1)[:, None] * (p[-1] - p[0])
    p = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    out = []
    for i in range(1, len(p) - 2):
        q = p[i - 1 : i + 3]
        k = np.concatenate([[0], np.cumsum(np.sqrt(np.linalg.norm(np.diff(q, axis=0), axis=1)))])
        t = np.linspace(k[1], k[2], per, endpoint=False)[:, None]
        a = [((k[j + 1] - t) * q[j] + (t - k[j]) * q[j + 1]) / (k[j + 1] - k[j]) for j in range(3)]
        b = [((k[j + 2] - t) * a[j] + (t - k[j]) * a[j + 1]) / (k[j + 2] - k[j]) for j in range(2)]
        out.append(((k[2] - t) * b[0] + (t - k[1]) * b[1]) / (k[2] - k[1]))
    return np.vstack([*out, p[-2:-1]])


def bent(points: ArrayLike, radius: float, k: int = 10) -> Array:
    """A pipe's centre line: straight runs between points (n, 3) with bends of one radius, as a bender makes them."""
    p = np.asarray(points, float)
    out = [p[0]]
    for i in range(1, len(p) - 1):
        a, b, c = p[i - 1], p[i], p[i + 1]
        u, w = unit(a - b), unit(c - b)
        half = 0.5 * np.arccos(np.clip(u @ w, -1, 1))
        if half > np.pi / 2 - 0.02:
            out.append(b)
            continue
        sides = 0.48 * float(np.linalg.norm(a - b)), 0.48 * float(np.linalg.norm(c - b))
        reach = min(radius / float(np.tan(half)), *sides)
        r = reach * np.tan(half)
        centre = b + unit(u + w) * (r / np.sin(half))
        s, e = b + u * reach - centre, b + w * reach - centre
        ang = np.arccos(np.clip(unit(s) @ unit(e), -1, 1))
        for t in np.linspace(0, 1, k + 1):
            out.append(centre + (np.sin((1 - t) * ang) * s + np.sin(t * ang) * e) / np.sin(ang))
    out.append(p[-1])
    q = np.array(out)
    keep = np.concatenate([[True], np.linalg.norm(np.diff(q, axis=0), axis=1) > 1e-6])
    return q[keep]


def coil(a: ArrayLike, b: ArrayLike, radius: float, wire: float, turns: float, per: int = 28) -> Mesh:
    """A helical spring between two points; its end coils lie closer, as ground ends do."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    F = frame(b - a)
    n = int(per * turns)
    s = np.linspace(0, 1, n + 1)
    along = np.where(s < 0.08, s * 0.45, np.where(s > 0.92, 1 - (1 - s) * 0.45, 0.0))
    mid = (s >= 0.08) & (s <= 0.92)
    along[mid] = 0.036 + (s[mid] - 0.08) / 0.84 * 0.928
    w = 2 * np.pi * turns * s
    path = a + along[:, None] * (b - a) + radius * (np.cos(w)[:, None] * F[0] + np.sin(w)[:, None] * F[1])
    return tube(path, wire, 12)


def shaded(m: Mesh, crease_deg: float = 38.0) -> tuple[Array, Array, Index, Array | None]:
    """Corners with their own normals: vertices (3m, 3), normals (3m, 3), faces (m, 3), uv (3m, 2) or None.

    Faces that meet at less than ``crease_deg`` share their normal at a corner, weighted by area.
    """
    tri = m.v[m.f]
    fn = np.cross(tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0])
    un = unit(fn)
    key = np.round(m.v / 2e-6).astype(np.int64)
    _, weld = np.unique(key, axis=0, return_inverse=True)
    corner = weld.ravel()[m.f].ravel()
    face = np.repeat(np.arange(len(m.f)), 3)
    order = np.argsort(corner, kind="stable")
    c_sorted, f_sorted = corner[order], face[order]
    start = np.concatenate([[0], np.flatnonzero(np.diff(c_sorted)) + 1])
    count = np.diff(np.concatenate([start, [len(c_sorted)]]))
    group = np.repeat(np.arange(len(start)), count)
    place = np.arange(len(c_sorted)) - start[group]
    total = fn[f_sorted].copy()
    limit = np.cos(np.radians(crease_deg))
    for k in range(1, int(count.max(initial=1))):
        sel = np.flatnonzero(count[group] > k)
        other = start[group[sel]] + (place[sel] + k) % count[group[sel]]
        near = np.sum(un[f_sorted[sel]] * un[f_sorted[other]], axis=1) > limit
        total[sel[near]] += fn[f_sorted[other[near]]]
    n = np.empty_like(total)
    n[order] = total
    uv = None if m.uv is None else m.uv[m.f].reshape(-1, 2)
    return tri.reshape(-1, 3), unit(n), np.arange(3 * len(m.f)).reshape(-1, 3), uv


def ramp(x: ArrayLike, xs: Sequence[float], ys: Sequence[float]) -> Array:
    """Monotone cubic interpolation (Fritsch–Carlson) through (xs, ys), xs growing; held constant beyond the ends."""
    xs_, ys_ = np.asarray(xs, float), np.asarray(ys, float)
    h = np.diff(xs_)
    d = np.diff(ys_) / h
    m = np.zeros(len(xs_))
    if len(xs_) > 2:
        w1, w2 = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
        same = d[:-1] * d[1:] > 0
        with np.errstate(divide="ignore", invalid="ignore"):
            m[1:-1] = np.where(same, (w1 + w2) / (w1 / d[:-1] + w2 / d[1:]), 0.0)
    m[0], m[-1] = d[0], d[-1]
    q = np.clip(np.asarray(x, float), xs_[0], xs_[-1])
    i = np.clip(np.searchsorted(xs_, q, side="right") - 1, 0, len(h) - 1)
    t = (q - xs_[i]) / h[i]
    return (
        ys_[i] * (1 + 2 * t) * (1 - t) ** 2
        + h[i] * m[i] * t * (1 - t) ** 2
        + ys_[i + 1] * t * t * (3 - 2 * t)
        + h[i] * m[i + 1] * t * t * (t - 1)
    )
