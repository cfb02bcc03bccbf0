"""Measures: lengths, angles, ratios, areas, radii and heights of points, on one state or on all draws at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from longlens.dossier.exchange import Measure
from longlens.survey.camera import Array, camera_frame, rays
from longlens.survey.network import Network, State, place_points

UNITS = {"angle": "rad", "ratio": "1", "area": "m2", "face_area": "m2"}
#: How a measure grows when the whole scene is scaled by s: s to this power.
POWER = {"angle": 0, "ratio": 0, "area": 2, "face_area": 2}


def unit_of(measure: Measure) -> str:
    return UNITS.get(measure.kind, "m")


def points_of(measure: Measure, table: dict[str, Measure]) -> list[str]:
    """Ids of the points that a measure rests on."""
    if measure.ratio is not None:
        return [p for m in measure.ratio for p in points_of(table[m], table)]
    if measure.rod_diameter is not None:
        q = measure.rod_diameter
        return [q.at] + ([q.towards] if q.towards else [])
    if measure.face_area is not None:
        return [*measure.face_area[0], *measure.face_area[1]]
    value = getattr(measure, measure.kind)
    if measure.kind == "diameter":
        return []
    return [value] if isinstance(value, str) else list(value)


def distance(a: Array, b: Array, axis: int | None = None) -> Array:
    """Straight distance of points (..., 3), or its part along one axis (its size, without sign), m."""
    d = b - a
    return np.abs(d[..., axis]) if axis is not None else np.linalg.norm(d, axis=-1)


def angle(a: Array, vertex: Array, b: Array) -> Array:
    """Angle at ``vertex``, rad, 0 to π; exact near both ends (arctangent of cross over dot product)."""
    p, q = a - vertex, b - vertex
    return np.arctan2(np.linalg.norm(np.cross(p, q), axis=-1), np.sum(p * q, axis=-1))


def area(points: Array) -> Array:
    """Area of a planar polygon (..., n, 3) of any outline that does not cross itself, m²: half the length of the summed
    cross products, so that small departures from a plane count only at second order."""
    p = points - points[..., :1, :]
    return 0.5 * np.linalg.norm(np.sum(np.cross(p, np.roll(p, -1, axis=-2)), axis=-2), axis=-1)


def face_area(rail_a: Array, rail_b: Array) -> Array:
    """Developed area of a curved face between two rails (..., n, 3) of equally many points, m².

    Each strip between neighbours is taken as two triangles, for both diagonals, and the mean of the two; a face that
    bends by less than 10° from strip to strip is short by less than 0.4 % (chord against arc).
    """

    def triangle(p: Array, q: Array, r: Array) -> Array:
        return 0.5 * np.linalg.norm(np.cross(q - p, r - p), axis=-1)

    a0, a1, b0, b1 = rail_a[..., :-1, :], rail_a[..., 1:, :], rail_b[..., :-1, :], rail_b[..., 1:, :]
    one = triangle(a0, a1, b0) + triangle(a1, b1, b0)
    two = triangle(a0, b1, b0) + triangle(a0, a1, b1)
    return np.sum(one + two, axis=-1) / 2


def circle_radius(points: Array) -> Array:
    """Radius of the circle through three, or fitted to more, points (..., n, 3), m.

    The plane is the least-squares plane; in it Kåsa's algebraic fit, then Gauss–Newton steps on the distances. An arc of
    less than about 20° leaves the radius to the noise: the interval will say so.
    """
    centre = points.mean(axis=-2, keepdims=True)
    p = points - centre
    _, _, V = np.linalg.svd(p, full_matrices=False)
    x, y = (np.sum(p * V[..., k : k + 1, :], axis=-1) for k in (0, 1))
    A = np.stack([2 * x, 2 * y, np.ones_like(x)], axis=-1)
    At = np.swapaxes(A, -1, -2)
    ridge = 1e-14 * np.trace(At @ A, axis1=-2, axis2=-1)[..., None, None] * np.eye(3)
    sol = np.linalg.solve(At @ A + ridge, At @ (x * x + y * y)[..., None])[..., 0]
    cx, cy = sol[..., 0], sol[..., 1]
    r = np.sqrt(np.maximum(sol[..., 2] + cx**2 + cy**2, 0))
    if points.shape[-2] > 3:
        for _ in range(8):
            dx, dy = x - cx[..., None], y - cy[..., None]
            d = np.maximum(np.hypot(dx, dy), 1e-15)
            J = np.stack([-dx / d, -dy / d, -np.ones_like(d)], axis=-1)
            Jt = np.swapaxes(J, -1, -2)
            ridge = 1e-12 * np.trace(Jt @ J, axis1=-2, axis2=-1)[..., None, None] * np.eye(3)
            step = np.linalg.solve(Jt @ J + ridge, -Jt @ (d - r[..., None])[..., None])[..., 0]
            cx, cy, r = cx + step[..., 0], cy + step[..., 1], r + step[..., 2]
    return np.abs(r)


def rod_diameter(at: Array, ray1: Array, ray2: Array, along: Array | None = None) -> Array:
    """Diameter of a round rod from the two edges of its outline, m.

    Parameters
    ----------
    at : (..., 3) a point on the rod, camera axes.
    ray1, ray2 : (..., 3) directions to one point on each edge, camera axes.
    along : (..., 3) the rod's direction, camera axes; None: square to the line of sight and to the line between the edges.

    The planes through the eye and each edge touch the cylinder: seen along the rod they open by 2φ, and
    ``r = D sin φ`` with D the distance of the rod's axis. Limits: a rod seen end-on (within about 15° of its axis) has no
    useful outline.
    """
    u1 = ray1 / np.linalg.norm(ray1, axis=-1, keepdims=True)
    u2 = ray2 / np.linalg.norm(ray2, axis=-1, keepdims=True)
    if along is None:
        along = np.cross(at, u2 - u1)
    t = along / np.linalg.norm(along, axis=-1, keepdims=True)

    def across(v: Array) -> Array:
        return v - np.sum(v * t, axis=-1, keepdims=True) * t

    e1, e2 = across(u1), across(u2)
    opening = np.arctan2(np.linalg.norm(np.cross(e1, e2), axis=-1), np.sum(e1 * e2, axis=-1))
    return 2 * np.linalg.norm(across(at), axis=-1) * np.sin(opening / 2)


def evaluator(net: Network, st: State, rng: np.random.Generator | None = None) -> Callable[[Measure], Array]:
    """A function that gives a measure's value on every leading axis of ``st``; ``rng`` draws the marking error of rod edges
    (None: none)."""
    places = place_points(net, st)
    table = {m.id: m for m in net.document.measures}
    seen_in = _stances_of_points(net)

    def at(pid: str) -> Array:
        return places[..., net.point(pid), :]

    def many(ids: list[str]) -> Array:
        return places[..., [net.point(p) for p in ids], :]

    def height(pid: str) -> Array:
        p = at(pid)
        i = net.point(pid)
        stance = 0 if 0 in seen_in[i] or not seen_in[i] else min(seen_in[i])
        if stance in net.ground_used:
            g = st.ground[..., int(np.searchsorted(net.ground_used, stance)), :]
            over = p[..., 2] - g[..., 0] - g[..., 1] * p[..., 0] - g[..., 2] * p[..., 1]
            return over / np.sqrt(1 + g[..., 1] ** 2 + g[..., 2] ** 2)
        return p[..., 2]

    def value(m: Measure) -> Array:
        if m.distance is not None:
            axis = {"x": 0, "y": 1, "z": 2, None: None}[m.along]
            return distance(at(m.distance[0]), at(m.distance[1]), axis)
        if m.angle is not None:
            return angle(*(at(p) for p in m.angle))
        if m.ratio is not None:
            a, b = (value(table[k]) for k in m.ratio)
            with np.errstate(divide="ignore", invalid="ignore"):
                return a / b
        if m.diameter is not None:
            return 2 * st.radius[..., net.radius_of[net.circle(m.diameter)]]
        if m.area is not None:
            return area(many(m.area))
        if m.radius is not None:
            return circle_radius(many(m.radius))
        if m.height is not None:
            return height(m.height)
        if m.face_area is not None:
            return face_area(many(m.face_area[0]), many(m.face_area[1]))
        if m.rise is not None:
            return height(m.rise[-1]) - height(m.rise[0])
        if m.least_rise is not None:
            h = np.stack([height(p) for p in m.least_rise], axis=-1)
            return np.diff(h, axis=-1).min(axis=-1)
        return _rod(net, st, m, at, rng)

    return value


def _stances_of_points(net: Network) -> list[set[int]]:
    out: list[set[int]] = [set() for _ in net.points]
    for p, s in zip(net.mark_point, net.mark_shot, strict=True):
        out[p].add(int(net.stance_of[s]))
    return out


def _rod(net: Network, st: State, m: Measure, at, rng: np.random.Generator | None) -> Array:
    q = m.rod_diameter
    assert q is not None
    s = net.shot(q.shot)
    g = net.camera_of[s]
    lead = st.logf.shape[:-1]
    edges = np.broadcast_to(np.asarray(q.edges, float), (*lead, 2, 2)).copy()
    if rng is not None:
        edges += rng.normal(0, q.sd_px, edges.shape)
    f = np.exp(st.logf[..., g])[..., None]
    kappa, pp = st.kappa[..., g][..., None], st.principal[..., s, :][..., None, :]
    d = rays(edges, f[..., None], kappa, net.rho[g], pp)  # (..., 2, 3)
    R, C = st.R[..., s, :, :], st.C[..., s, :]
    here = camera_frame(at(q.at), R, C)
    along = camera_frame(at(q.towards), R, C) - here if q.towards else None
    return rod_diameter(here, d[..., 0, :], d[..., 1, :], along)
