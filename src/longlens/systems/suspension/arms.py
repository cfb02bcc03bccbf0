"""Closed form: double wishbone and MacPherson strut, given the angle of the lower wishbone.

The lower ball joint runs on a circle. The second point of the upright is the upper ball joint, where its circle meets
the sphere about the lower one; for a strut it is the top mount, and the strut's length takes up the difference. The
track rod then fixes the last turn about the line through both. No iteration is needed for a given angle; for a given
wheel height the angle is found by :mod:`.height`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from longlens.systems.suspension import reach
from longlens.systems.suspension import vectors as v
from longlens.systems.suspension.bodies import spokes
from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.intersect import branch, circle_sphere
from longlens.systems.suspension.vectors import Array, Vec


@dataclass(frozen=True)
class Arms:
    """Constants of a corner's design position, of the batch's shape. ``w`` and ``t`` are wheel centre and track rod
    end in the upright's own frame; ``strut`` says which kind it is."""

    strut: bool
    lower: tuple[Vec, Vec, Vec]  # circle of the lower ball joint
    lower_axis: Vec
    upper: tuple[Vec, Vec, Vec]  # circle of the upper ball joint; for a strut the first is its top
    upper_axis: Vec
    length2: Any  # upright: squared distance of the ball joints; strut: squared offset of the lower one from its axis
    upper_side: Any
    rod_inner: Vec
    rod2: Any  # squared length of the track rod
    rod_side: Any
    basis_0: tuple[Vec, Vec, Vec]
    origin_0: Vec
    t: Vec
    w: Vec


@dataclass(frozen=True)
class Pose:
    """The upright for given lower angles: origin (lower ball joint), frame, upper angle, strut length, and how far each
    intersection is from its toggle (negative: out of reach)."""

    origin: Vec
    basis: tuple[Vec, Vec, Vec]
    upper: tuple[Any, Any]
    reach_upper: Any
    reach_rod: Any


def prepare(c: Corner) -> Arms:
    """Lengths, circles and branches of a corner of layout ``double_wishbone`` or ``strut``."""
    lo, to, ti, wc = (c.vec(k) for k in ("lower_wishbone.outer", "track_rod.outer", "track_rod.inner", "wheel.centre"))
    lower_axis = v.unit(v.sub(c.vec("lower_wishbone.rear_inner"), c.vec("lower_wishbone.front_inner")))
    lower = spokes(c.vec("lower_wishbone.front_inner"), lower_axis, lo)
    strut = c.layout == "strut"
    none: Vec = (0.0, 0.0, 0.0)
    if strut:
        top = c.vec("strut.top")
        k = v.unit(v.sub(top, c.vec("strut.lower")))
        offset = v.along(v.sub(top, lo), -v.dot(v.sub(top, lo), k), k)
        length2 = v.dot(offset, offset)
        # The frame's second vector lies along the offset where there is one; any square one serves where there is none.
        near = length2 < 1e-18
        aside = v.square_to(k)
        m = v.unit(tuple(np.where(near, a, o) for a, o in zip(aside, offset, strict=True)))
        basis = (k, m, v.cross(k, m))
        upper, upper_axis, upper_side = (top, none, none), none, 1.0
        ex = v.unit(v.sub(top, lo))
    else:
        uo = c.vec("upper_wishbone.outer")
        upper_axis = v.unit(v.sub(c.vec("upper_wishbone.rear_inner"), c.vec("upper_wishbone.front_inner")))
        upper = spokes(c.vec("upper_wishbone.front_inner"), upper_axis, uo)
        d = v.sub(uo, lo)
        length2 = v.dot(d, d)
        upper_side = branch(upper[1], upper[2], upper[0], lo)
        ex = v.unit(d)
        s = v.sub(to, lo)
        ey = v.unit(v.along(s, -v.dot(s, ex), ex))
        basis = (ex, ey, v.cross(ex, ey))

    def local(p: Vec) -> Vec:
        d = v.sub(p, lo)
        return v.dot(d, basis[0]), v.dot(d, basis[1]), v.dot(d, basis[2])

    rod_side = -np.sign(v.dot(v.cross(ex, v.sub(to, lo)), v.sub(ti, lo)))
    arm = v.sub(to, ti)
    return Arms(
        strut, lower, lower_axis, upper, upper_axis, length2, upper_side, ti, v.dot(arm, arm), rod_side, basis, lo,
        local(to), local(wc),
    )  # fmt: skip


def pose(a: Arms, cos: Any, sin: Any, rod_inner: Vec) -> Pose:
    """The upright, with the lower wishbone turned by the angle of that cosine and sine from its design position."""
    centre, r, q = a.lower
    lo = v.along(v.along(centre, cos, r), sin, q)
    if a.strut:
        return _strut(a, lo, rod_inner)
    uc, us, reach_upper = circle_sphere(a.upper[1], a.upper[2], a.upper[0], lo, a.length2, a.upper_side)
    uo = v.along(v.along(a.upper[0], uc, a.upper[1]), us, a.upper[2])
    ex = v.scale(v.sub(uo, lo), 1.0 / np.sqrt(a.length2))
    ey, reach_rod = _turn(v.along(lo, a.t[0], ex), ex, a.t[1], rod_inner, a.rod2, a.rod_side)
    return Pose(lo, (ex, ey, v.cross(ex, ey)), (uc, us), reach_upper, reach_rod)


def _turn(centre: Vec, ex: Vec, radius: Any, end: Vec, rod2: Any, side: Any) -> tuple[Vec, Any]:
    """Direction from ``centre``, square to ex, of the point at ``radius`` that stands √rod2 from ``end``."""
    g = v.sub(end, centre)
    g_along = v.dot(g, ex)
    g2 = v.dot(g, g)
    across2 = g2 - g_along * g_along
    with np.errstate(divide="ignore", invalid="ignore"):
        inv = 1.0 / np.sqrt(across2)
        cb = 0.5 * (radius * radius + g2 - rod2) * inv / radius
        s2 = 1.0 - cb * cb
        cb = np.clip(cb, -1.0, 1.0)
        sb = side * np.sqrt(np.maximum(s2, 0.0))
        e1 = v.scale(v.along(g, -g_along, ex), inv)
        return v.along(v.scale(e1, cb), sb, v.cross(ex, e1)), s2


def _strut(a: Arms, lo: Vec, rod_inner: Vec) -> Pose:
    """The strut's axis passes the lower ball joint at a fixed offset ρ; the top mount lies on it, s along."""
    d = v.sub(a.upper[0], lo)
    d2 = v.dot(d, d)
    s2 = d2 - a.length2
    with np.errstate(divide="ignore", invalid="ignore"):
        inv = 1.0 / np.sqrt(d2)
        ex = v.scale(d, inv)
        # ex, and from it ey and ez, as seen in the upright's frame (strut axis, offset, third)
        xk, xm = np.sqrt(np.maximum(s2, 0.0)) * inv, np.sqrt(a.length2) * inv
        tx = a.t[0] * xk + a.t[1] * xm
        y = (a.t[0] - tx * xk, a.t[1] - tx * xm, a.t[2])
        radius = v.norm(y)
        y = v.scale(y, 1.0 / radius)
        z = (xm * y[2], -xk * y[2], xk * y[1] - xm * y[0])
        ey, reach_rod = _turn(v.along(lo, tx, ex), ex, radius, rod_inner, a.rod2, a.rod_side)
        ez = v.cross(ex, ey)
        k = v.along(v.along(v.scale(ex, xk), y[0], ey), z[0], ez)
        m = v.along(v.along(v.scale(ex, xm), y[1], ey), z[1], ez)
        n = v.along(v.scale(ey, y[2]), z[2], ez)
    return Pose(lo, (k, m, n), (1.0, 0.0), s2, reach_rod)


def wheel_height(a: Arms, p: Pose) -> Any:
    """z of the wheel centre."""
    return p.origin[2] + a.w[0] * p.basis[0][2] + a.w[1] * p.basis[1][2] + a.w[2] * p.basis[2][2]


def why_not(a: Arms, p: Pose, missed: Any) -> Any:
    """Reason codes where ``missed``, from the reaches: the first intersection that failed, else the height."""
    first = reach.STRUT if a.strut else reach.UPPER
    code = np.where(p.reach_rod < 1e-9, reach.TRACK_ROD, reach.HEIGHT)
    code = np.where(p.reach_upper < 1e-9, first, code)
    return np.where(missed, code, reach.OK).astype(np.int8)


def take(a: Arms, shape: tuple[int, ...], index: Array) -> Arms:
    """The constants at flat places of the broadcast shape, each (n,)."""

    def pick(x: Any) -> Any:
        if isinstance(x, tuple):
            return tuple(pick(one) for one in x)
        return np.broadcast_to(x, shape).reshape(-1)[index] if not isinstance(x, bool) else x

    return Arms(**{f.name: pick(getattr(a, f.name)) for f in fields(a)})
