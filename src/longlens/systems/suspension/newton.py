"""A rigid body held by rods and set to heights, for many draws and positions at once: batched Newton.

Used where the linkage has no closed form: the five-link and the beam axle. Six equations fix a body: rod lengths
|p_i − a_i|² = l_i² and heights z_j of its own points. A pose is a turn R and a shift t about the body's reference
point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.systems.suspension.vectors import Array

#: Lengths and heights are met within this, m.
MET = 2e-13
NODES = 9


@dataclass(frozen=True)
class Held:
    """A body and what holds it; leading axes broadcast.

    Parameters
    ----------
    body : (..., n, 3) rod ends on the body in the design position.
    frame : (..., n, 3) their other ends.
    raised : (..., 6 − n, 3) points of the body whose heights are set.
    reference : (..., 3) about which it turns.
    """

    body: Array
    frame: Array
    raised: Array
    reference: Array

    @property
    def length2(self) -> Array:
        return np.sum((self.body - self.frame) ** 2, axis=-1)


def rotation(w: Array) -> Array:
    """(..., 3) rotation vectors to (..., 3, 3), Rodrigues' formula, exact also for tiny angles."""
    a2 = np.sum(w * w, axis=-1)
    a = np.sqrt(a2)
    s = np.sinc(a / np.pi)
    half = np.sinc(a / (2 * np.pi))
    c = 0.5 * half * half
    x, y, z = w[..., 0], w[..., 1], w[..., 2]
    K = np.zeros((*w.shape[:-1], 3, 3))
    K[..., 0, 1], K[..., 0, 2], K[..., 1, 0] = -z, y, z
    K[..., 1, 2], K[..., 2, 0], K[..., 2, 1] = -x, -y, x
    return np.eye(3) + s[..., None, None] * K + c[..., None, None] * (K @ K)


def jacobian(arm: Array, rod: Array, high: Array) -> Array:
    """Rows (ω, v) of the six equations, divided by two for rods.

    Parameters
    ----------
    arm : (..., n, 3) rod ends from the reference point; rod : (..., n, 3) rod end from its other end.
    high : (..., 6 − n, 3) raised points from the reference point.
    """
    n, shape = rod.shape[-2], np.broadcast_shapes(arm.shape[:-2], rod.shape[:-2], high.shape[:-2])
    J = np.zeros((*shape, 6, 6))
    J[..., :n, 3:] = rod
    J[..., :n, :3] = np.cross(arm, rod)
    J[..., n:, 5] = 1.0
    J[..., n:, 0] = high[..., 1]  # (r × z) = (r_y, −r_x, 0)
    J[..., n:, 1] = -high[..., 0]
    return J


def settle(
    h: Held, heights: Array, shift: Array, R: Array, t: Array, iterations: int = 12
) -> tuple[Array, Array, Array]:
    """Newton's method from a start.

    Parameters
    ----------
    heights : (..., 6 − n) of the raised points, m.
    shift : (..., n, 3) by which the rods' other ends are moved from the design position.
    R, t : (..., 3, 3), (..., 3) start; t is the place of the reference point.

    Returns
    -------
    R, t, met (...).
    """
    arm0, high0 = h.body - h.reference[..., None, :], h.raised - h.reference[..., None, :]
    frame, l2 = h.frame + shift, h.length2
    met = np.zeros(heights.shape[:-1], bool)
    for _ in range(iterations):
        arm = np.einsum("...ij,...nj->...ni", R, arm0)
        high = np.einsum("...ij,...nj->...ni", R, high0)
        rod = arm + t[..., None, :] - frame
        miss = np.concatenate(
            [0.5 * (np.sum(rod * rod, axis=-1) - l2), high[..., 2] + t[..., None, 2] - heights], axis=-1
        )
        met = np.asarray(np.max(np.abs(miss), axis=-1) < MET)
        if np.all(met):
            break
        step = solve_batch(jacobian(arm, rod, high), -miss)
        size = np.max(np.abs(step), axis=-1, keepdims=True)
        with np.errstate(invalid="ignore", divide="ignore"):
            step = step * np.minimum(1.0, 0.2 / np.where(size > 0, size, 1.0))
        R = rotation(step[..., :3]) @ R
        t = t + step[..., 3:]
    return R, t, met


def solve_batch(A: Array, b: Array) -> Array:
    """Batched solve; a singular system gives a NaN step instead of stopping the batch."""
    try:
        return np.linalg.solve(A, b[..., None])[..., 0]
    except np.linalg.LinAlgError:
        det = np.linalg.det(A)
        bad = ~np.isfinite(det) | (det == 0)
        A = np.where(bad[..., None, None], np.eye(6), A)
        return np.where(bad[..., None], np.nan, np.linalg.solve(A, b[..., None])[..., 0])


def side(h: Held, shift: Array, R: Array, t: Array) -> Array:
    """Determinant of the equations, (...): it changes sign at a toggle."""
    arm = np.einsum("...ij,...nj->...ni", R, h.body - h.reference[..., None, :])
    high = np.einsum("...ij,...nj->...ni", R, h.raised - h.reference[..., None, :])
    return np.linalg.det(jacobian(arm, arm + t[..., None, :] - h.frame - shift, high))


def poses(h: Held, rise: Array, shift: Array) -> tuple[Array, Array, Array, Array]:
    """Poses for heights risen by ``rise`` (..., 6 − n) and rod ends moved by ``shift`` (..., n, 3).

    A few positions of each draw are walked to from the design position; between them the pose is interpolated and
    settled. What does not settle, or settles beyond a toggle, is walked to by itself.

    Returns
    -------
    R (..., 3, 3), t (..., 3), met (...), flipped (...): met only by passing a toggle.
    """
    shape = np.broadcast_shapes(h.reference.shape[:-1], rise.shape[:-1], shift.shape[:-2])
    raised0 = h.raised[..., 2]
    heights = np.broadcast_to(raised0 + rise, (*shape, rise.shape[-1]))
    w, t = _interpolated(h, rise, shape)
    R, t, met = settle(h, heights, shift, rotation(w), t)
    R, t = np.array(np.broadcast_to(R, (*shape, 3, 3))), np.array(np.broadcast_to(t, (*shape, 3)))
    sign0 = np.sign(side(h, np.zeros_like(h.frame), np.eye(3), h.reference))
    same = np.zeros(shape, bool)
    same[...] = np.sign(side(h, shift, np.where(met[..., None, None], R, np.eye(3)), t)) == sign0
    met = np.array(met)
    flipped = np.array(met & ~same)
    left = ~(met & same)
    if np.any(left):
        one = Held(*(_pick(x, shape, left, k) for x, k in ((h.body, 2), (h.frame, 2), (h.raised, 2), (h.reference, 1))))
        again = _walk(one, _pick(rise, shape, left, 1), _pick(shift, shape, left, 2))
        R[left], t[left], met[left], flipped[left] = again
    return R, t, met, flipped


def _pick(x: Array, shape: tuple[int, ...], where: Array, tail: int) -> Array:
    return np.broadcast_to(x, (*shape, *x.shape[x.ndim - tail :]))[where]


def _walk(h: Held, rise: Array, shift: Array, steps: int = 40) -> tuple[Array, Array, Array, Array]:
    """From the design position to (n,) targets in small steps, stopping at a toggle."""
    n = rise.shape[0]
    R, t = np.broadcast_to(np.eye(3), (n, 3, 3)), np.array(np.broadcast_to(h.reference, (n, 3)))
    alive: Array = np.array(np.isfinite(rise).all(axis=-1))
    sign0 = np.sign(side(h, np.zeros_like(h.frame), R, t))
    z0 = h.raised[..., 2]
    flipped = np.zeros(n, bool)
    for k in range(1, steps + 1):
        f = k / steps
        heights = z0 + np.where(alive[:, None], f * rise, 0.0)
        Rn, tn, met = settle(h, heights, np.where(alive[:, None, None], f * shift, 0.0), R, t)
        same = met & (np.sign(side(h, f * shift, np.where(met[:, None, None], Rn, np.eye(3)), tn)) == sign0)
        flipped |= alive & met & ~same
        alive &= same
        R, t = np.where(alive[:, None, None], Rn, R), np.where(alive[:, None], tn, t)
    return R, t, alive, flipped


def _interpolated(h: Held, rise: Array, shape: tuple[int, ...]) -> tuple[Array, Array]:
    """Start for every position: each draw's pose at a few common rises, interpolated (Lagrange). Only for one
    height."""
    if rise.shape[-1] != 1 or rise.size < 3 * NODES:
        return np.zeros((*shape, 3)), np.array(np.broadcast_to(h.reference, (*shape, 3)))
    fine = rise[np.isfinite(rise)]
    lo, hi = (min(fine.min(), -1e-3), max(fine.max(), 1e-3)) if fine.size else (-1e-3, 1e-3)
    x = np.where((c := -np.cos(np.pi * np.arange(NODES) / (NODES - 1))) > 0, c * hi, -c * lo)
    x[NODES // 2] = 0.0
    start = h.reference.shape[:-1]
    w: list[Array] = [np.zeros(0)] * NODES
    t: list[Array] = [np.zeros(0)] * NODES
    for order in (range(NODES // 2, NODES), range(NODES // 2 - 1, -1, -1)):
        R, at = np.broadcast_to(np.eye(3), (*start, 3, 3)), np.array(h.reference)
        for k in order:
            R, at, met = settle(h, h.raised[..., 2] + x[k], np.zeros_like(h.frame), R, at)
            ok = met[..., None]
            w[k], t[k] = np.where(ok, _vector(R), 0.0), np.where(ok, at, h.reference)
            R = np.where(ok[..., None], R, np.eye(3))
            at = np.where(ok, at, h.reference)
    z = np.where(np.isfinite(rise), rise, 0.0)
    ww, tt = np.zeros((*shape, 3)), np.zeros((*shape, 3))
    for k in range(NODES):
        others = np.delete(x, k)
        weight = np.prod((z - others) / (x[k] - others), axis=-1)[..., None]
        ww, tt = ww + weight * w[k], tt + weight * t[k]
    return ww, tt


def _vector(R: Array) -> Array:
    """Rotation vector of (..., 3, 3), for turns well under half a revolution."""
    s = 0.5 * np.stack([R[..., 2, 1] - R[..., 1, 2], R[..., 0, 2] - R[..., 2, 0], R[..., 1, 0] - R[..., 0, 1]], axis=-1)
    size = np.linalg.norm(s, axis=-1)
    angle = np.arctan2(size, 0.5 * (np.trace(R, axis1=-2, axis2=-1) - 1.0))
    return s * np.where(size > 1e-12, angle / np.where(size > 1e-12, size, 1.0), 1.0)[..., None]
