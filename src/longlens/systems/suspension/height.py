"""The lower wishbone's angle for a given height of the wheel centre.

Per draw, heights at a few angles give an inverse polynomial θ(z); it starts Newton's method within nanometres of the
answer, so that one or two closed-form evaluations per position remain. What does not settle is walked to from the
design position in small steps, never past a toggle.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from longlens.systems.suspension.arms import Arms, Pose, pose, take, wheel_height
from longlens.systems.suspension.vectors import Array, Vec

NODES = 9
#: A height is met when it is this near, m.
MET = 1e-12
#: Least sin² of the angle from a toggle at which a pose is still told from its other branch.
CLEAR = 1e-9


def solve_angle(a: Arms, travel: Array, rack: Array, shape: tuple[int, ...]) -> tuple[Array, Pose, Array]:
    """Angle of the lower wishbone, the pose there, and which positions were met.

    Parameters
    ----------
    travel, rack : broadcast to ``shape``, m. NaN travel is not met.
    """
    z0 = wheel_height(a, pose(a, 1.0, 0.0, a.rod_inner))
    top, bottom = _extent(travel)
    knots, slope = _inverse(a, z0, bottom, top)
    theta, rate = _evaluate(knots, travel)
    theta = np.broadcast_to(theta, shape)
    rod_inner = (a.rod_inner[0], a.rod_inner[1] + rack, a.rod_inner[2])
    target = z0 + travel
    before: Any = None
    for k in range(8):
        p = pose(a, np.cos(theta), np.sin(theta), rod_inner)
        miss = wheel_height(a, p) - target
        clear = (p.reach_upper > CLEAR) & (p.reach_rod > CLEAR)
        met = (np.abs(miss) <= MET) & clear
        if np.all(met) or (k > 2 and np.mean(met) > 0.98):
            break
        if before is not None:  # secant: the polynomial's slope does not know of the rack's travel
            with np.errstate(divide="ignore", invalid="ignore"):
                secant = (theta - before[0]) / (miss - before[1])
            rate = np.where((np.abs(miss - before[1]) > 1e-10) & (secant * rate > 0), secant, rate)
        before = theta, miss
        theta = theta - np.clip(np.where(np.isfinite(miss), miss * rate, 0.0), -0.1, 0.1)
    met = np.array(np.broadcast_to(met, shape))
    theta = np.array(np.broadcast_to(theta, shape))
    left = np.flatnonzero(~met)
    if left.size:
        one = take(a, shape, left)
        t, r, z = (np.broadcast_to(x, shape).reshape(-1)[left] for x in (travel, rack, z0))
        found, alive = _walk(one, z, t, r, np.sign(np.broadcast_to(slope, shape).reshape(-1)[left]))
        theta.reshape(-1)[left] = found
        p = pose(a, np.cos(theta), np.sin(theta), rod_inner)
        miss = wheel_height(a, p) - target
        met = (np.abs(miss) <= 50 * MET) & (p.reach_upper > CLEAR) & (p.reach_rod > CLEAR)
        met.reshape(-1)[left] &= alive
    h = 1e-6
    ahead = wheel_height(a, pose(a, np.cos(theta + h), np.sin(theta + h), rod_inner)) - target - miss
    return theta, p, met & (ahead * slope > 0)


def _extent(travel: Array) -> tuple[float, float]:
    t = np.asarray(travel)[np.isfinite(travel)]
    if t.size == 0:
        return 0.005, -0.005
    return max(float(t.max()), 0.005), min(float(t.min()), -0.005)


def _inverse(a: Arms, z0: Any, bottom: float, top: float) -> tuple[tuple[list[Any], list[Any]], Any]:
    """Newton's divided differences of θ over the height above design, per draw; and dz/dθ at the design position."""
    h = 1e-6
    rise = wheel_height(a, pose(a, np.cos(h), np.sin(h), a.rod_inner))
    fall = wheel_height(a, pose(a, np.cos(h), -np.sin(h), a.rod_inner))
    slope = (rise - fall) / (2 * h)
    with np.errstate(divide="ignore", invalid="ignore"):
        lo, hi = bottom / slope, top / slope
    lo, hi = np.clip(lo, -0.9, 0.9), np.clip(hi, -0.9, 0.9)
    x = -np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
    x[NODES // 2] = 0.0
    zs: list[Any] = []
    coefficients: list[Any] = []
    for k in range(NODES):
        theta = np.where(x[k] > 0, x[k] * hi, -x[k] * lo) + 0.0 * slope
        z = wheel_height(a, pose(a, np.cos(theta), np.sin(theta), a.rod_inner)) - z0
        zs.append(z)
        coefficients.append(theta)
    with np.errstate(divide="ignore", invalid="ignore"):
        for j in range(1, NODES):
            for k in range(NODES - 1, j - 1, -1):
                coefficients[k] = (coefficients[k] - coefficients[k - 1]) / (zs[k] - zs[k - j])
    bad = ~np.isfinite(sum(coefficients))
    if np.any(bad):  # near the end of travel: a straight line is start enough
        line = [0.0, 1.0 / slope] + [0.0] * (NODES - 2)
        coefficients = [np.where(bad, line[k], c) for k, c in enumerate(coefficients)]
        zs = [np.where(bad, 0.0, z) for z in zs]
    return (zs, coefficients), slope


def _evaluate(knots: tuple[list[Any], list[Any]], z: Array) -> tuple[Any, Any]:
    """θ and dθ/dz of the inverse polynomial."""
    zs, c = knots
    value, rate = c[-1], 0.0
    for k in range(NODES - 2, -1, -1):
        d = z - zs[k]
        rate = value + d * rate
        value = c[k] + d * value
    return value, rate


def _walk(a: Arms, z0: Array, travel: Array, rack: Array, rising: Array, steps: int = 48) -> tuple[Array, Array]:
    """Angles (n,) reached from the design position in small steps, and which got there; the others hold the first
    angle at which the linkage ended or turned back."""
    theta = np.zeros(travel.shape)
    alive = np.isfinite(travel)
    inner: Vec = a.rod_inner
    h = 1e-6

    def z(at: Array, f: float) -> Array:
        p = pose(a, np.cos(at), np.sin(at), (inner[0], inner[1] + f * rack, inner[2]))
        clear = (p.reach_upper > CLEAR) & (p.reach_rod > CLEAR)
        return np.where(clear, wheel_height(a, p) - z0, np.nan)

    for k in range(1, steps + 1):
        f = k / steps
        for _ in range(12 if k == steps else 6):
            value = z(theta, f)
            slope = (z(theta + h, f) - z(theta - h, f)) / (2 * h)
            alive &= np.isfinite(slope) & (slope * rising > 0)
            step = np.where(alive, (value - f * travel) / np.where(alive, slope, 1.0), 0.0)
            theta = theta - np.clip(step, -0.15, 0.15)
            if np.all(np.abs(step) < 1e-13):
                break
    return theta, alive
