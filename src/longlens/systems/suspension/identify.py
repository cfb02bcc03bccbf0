"""Which layout do the marked points show? Every one that is consistent, and which marks contradict which."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.systems.suspension.corner import ALIASES, REQUIRED
from longlens.systems.suspension.names import EXTRA, TELLING, parts_of
from longlens.systems.suspension.vectors import Array

#: A statement about places that holds in fewer draws than this contradicts them.
UNLIKELY = 0.025
#: Outer ends of two links nearer than this are one ball joint, m (common practice: joints are some 20 mm across, no
#: source).
ONE_JOINT = 0.012


@dataclass(frozen=True)
class Contradiction:
    """Marks that speak against a layout, in how many draws they do not, and why."""

    points: tuple[str, ...]
    why: str
    holds: float


@dataclass(frozen=True)
class Candidate:
    """A layout held against the marks.

    ``consistent``: no mark contradicts it. ``complete``: all points that its kinematics need are there. ``seen``:
    share of them that are. ``missing``: those that are not. ``strange``: points that no part of this layout explains.
    """

    layout: str
    seen: float
    missing: tuple[str, ...]
    strange: tuple[str, ...]
    contradictions: tuple[Contradiction, ...]

    @property
    def consistent(self) -> bool:
        return not self.strange and not self.contradictions

    @property
    def complete(self) -> bool:
        return not self.missing

    def sentence(self) -> str:
        """The verdict in one sentence."""
        name = self.layout.replace("_", " ")
        if self.strange:
            return f"{name}: contradicted by {', '.join(self.strange)}, which it has no place for"
        if self.contradictions:
            return f"{name}: contradicted, {'; '.join(c.why for c in self.contradictions)}"
        if self.missing:
            return f"{name}: possible; not seen yet: {', '.join(self.missing)}"
        return f"{name}: consistent with every mark"


def identify(points: Mapping[str, Any]) -> list[Candidate]:
    """Hold the layouts of an independent corner against its marked points.

    Parameters
    ----------
    points : names of one left corner (without side and axle) → place (3,) or draws (N, 3), m; a right corner reflected.

    Returns
    -------
    All layouts, likeliest first: consistent before contradicted, then by the share of their points that are seen.
    """
    given = {ALIASES.get(k, k): np.atleast_2d(np.asarray(p, float)) for k, p in points.items()}
    found = []
    for layout in REQUIRED:
        mine = _as_wishbones(given) if layout == "double_wishbone" else given
        if layout == "five_link" and any(k.partition(".")[0] in TELLING["five_link"] for k in given):
            mine = as_five_link(mine)  # a wishbone below single links, or above them
        found.append(_held(layout, mine))
    return sorted(found, key=lambda c: (not c.consistent, -c.seen))


def _held(layout: str, points: Mapping[str, Array]) -> Candidate:
    need = REQUIRED[layout]
    allowed = {*TELLING[layout], "track_rod", *parts_of(EXTRA)}
    strange = tuple(p for p in points if p.partition(".")[0] not in allowed)
    missing = tuple(p for p in need if p not in points)
    seen = 1 - len(missing) / len(need)
    return Candidate(layout, seen, missing, strange, tuple(_contradictions(layout, points)))


def _contradictions(layout: str, p: Mapping[str, Array]) -> list[Contradiction]:
    found = []

    def must(names: tuple[str, ...], why: str, true: Any) -> None:
        if all(n in p for n in names):
            share = float(np.mean(true(*(p[n] for n in names))))
            if share < UNLIKELY:
                found.append(Contradiction(names, why, share))

    for name in p:
        if name.endswith(".inner") and name.replace("inner", "outer") in p and name in REQUIRED[layout]:
            outer = name.replace("inner", "outer")
            must((name, outer), f"{outer} lies inboard of {name}", lambda a, b: b[:, 1] > a[:, 1])
    low, high = "lower_wishbone", "upper_wishbone"
    for w in (low, high):
        for inner in ("front_inner", "rear_inner"):
            pair = (f"{w}.{inner}", f"{w}.outer")
            must(pair, f"{pair[1]} lies inboard of {pair[0]}", lambda a, b: b[:, 1] > a[:, 1])
    if layout == "double_wishbone":
        names = (f"{high}.outer", f"{low}.outer")
        must(names, "the upper ball joint lies under the lower one", lambda a, b: a[:, 2] > b[:, 2])
    if layout == "strut":
        names = ("strut.top", "strut.lower")
        must(names, "the strut's top lies under its lower end", lambda a, b: a[:, 2] > b[:, 2])
        must(names, "the strut leans more than 40°, too much to slide", lambda a, b: _lean(a - b) < np.radians(40))
        names3 = ("strut.lower", "wheel.centre")
        must(names3, "the strut's lower end lies outboard of the wheel", lambda a, b: a[:, 1] < b[:, 1])
    if layout == "five_link":
        for a, b in (("upper_front_link", "upper_rear_link"), ("lower_front_link", "lower_rear_link")):
            names = (f"{a}.inner", f"{b}.inner")
            must(names, f"{names[0]} lies behind {names[1]}", lambda x, y: x[:, 0] > y[:, 0])
    return found


def _lean(d: Array) -> Array:
    return np.arctan2(np.hypot(d[:, 0], d[:, 1]), d[:, 2])


def _as_wishbones(p: Mapping[str, Array]) -> dict[str, Array]:
    """Two links whose outer ends meet in one joint are a wishbone by another name."""
    out = dict(p)
    for level in ("upper", "lower"):
        a, b = (f"{level}_{k}_link" for k in ("front", "rear"))
        names = [f"{x}.{e}" for x in (a, b) for e in ("inner", "outer")]
        if not all(n in p for n in names):
            continue
        gap = np.linalg.norm(p[f"{a}.outer"] - p[f"{b}.outer"], axis=-1)
        if np.mean(gap < ONE_JOINT) > UNLIKELY:
            for n in names:
                out.pop(n)
            out[f"{level}_wishbone.front_inner"], out[f"{level}_wishbone.rear_inner"] = p[names[0]], p[names[2]]
            out[f"{level}_wishbone.outer"] = 0.5 * (p[f"{a}.outer"] + p[f"{b}.outer"])
    return out


def as_five_link(points: Mapping[str, Any]) -> dict[str, Any]:
    """A wishbone's legs as two links that share their outer end: then a wishbone below and two links above can be
    solved too.

    Works on arrays of any shape (..., 3); points of other parts stay.
    """
    out = dict(points)
    for level in ("upper", "lower"):
        w = f"{level}_wishbone"
        if all(f"{w}.{k}" in points for k in ("front_inner", "rear_inner", "outer")):
            for k in ("front", "rear"):
                out[f"{level}_{k}_link.inner"] = out.pop(f"{w}.{k}_inner")
                out[f"{level}_{k}_link.outer"] = points[f"{w}.outer"]
            out.pop(f"{w}.outer")
    return out


def carried_by(points: Mapping[str, Any], name: str) -> dict[str, float]:
    """What carries a point such as ``pushrod.outer``: body → share of the draws in which it is the likeliest.

    A point nearer to a wishbone's triangle than to the other's sits on that one; nearest to the line of both ball
    joints, and farther than a bracket (60 mm; common practice, no source) from both triangles, on the upright.
    """
    p = {k: np.atleast_2d(np.asarray(x, float)) for k, x in points.items()}
    at = p[name]
    distance = {}
    for w in ("lower_wishbone", "upper_wishbone"):
        if all(f"{w}.{k}" in p for k in ("front_inner", "rear_inner", "outer")):
            distance[w] = _from_triangle(at, *(p[f"{w}.{k}"] for k in ("front_inner", "rear_inner", "outer")))
    if not distance:
        return {"upright": 1.0}
    bodies = list(distance)
    table = np.stack(np.broadcast_arrays(*distance.values()))
    if "lower_wishbone.outer" in p and "upper_wishbone.outer" in p:
        line = _from_segment(at, p["lower_wishbone.outer"], p["upper_wishbone.outer"])
        far = np.min(table, axis=0) > 0.06
        bodies.append("upright")
        table = np.concatenate([table, np.where(far, line, np.inf)[None]])
    best = np.argmin(table, axis=0)
    return {b: float(np.mean(best == k)) for k, b in enumerate(bodies) if np.any(best == k)}


def _from_segment(p: Array, a: Array, b: Array) -> Array:
    d = b - a
    k = np.clip(np.sum((p - a) * d, axis=-1) / np.sum(d * d, axis=-1), 0, 1)
    return np.linalg.norm(p - a - k[:, None] * d, axis=-1)


def _from_triangle(p: Array, a: Array, b: Array, c: Array) -> Array:
    """Distance of points from triangles: of the foot of the normal where that is inside, else from the nearest side."""
    n = np.cross(b - a, c - a)
    n = n / np.linalg.norm(n, axis=-1, keepdims=True)
    inside = np.ones(len(np.broadcast_arrays(p, a)[0]), bool)
    for u, w in ((a, b), (b, c), (c, a)):
        inside &= np.sum(np.cross(w - u, p - u) * n, axis=-1) >= 0
    edges = np.min([_from_segment(p, u, w) for u, w in ((a, b), (b, c), (c, a))], axis=0)
    return np.where(inside, np.abs(np.sum((p - a) * n, axis=-1)), edges)


def actuation(points: Mapping[str, Any]) -> dict[str, float]:
    """How the wheel's load gets to the spring: ``pushrod``, ``pullrod``, ``direct`` or ``unknown`` → share of the
    draws."""
    p = {ALIASES.get(k, k): np.atleast_2d(np.asarray(x, float)) for k, x in points.items()}
    if "pushrod.outer" in p and "pushrod.inner" in p:
        push = float(np.mean(p["pushrod.inner"][:, 2] > p["pushrod.outer"][:, 2]))
        return {k: s for k, s in (("pushrod", push), ("pullrod", 1 - push)) if s > 0}
    return {"direct" if "spring.outer" in p or "strut.top" in p else "unknown": 1.0}
