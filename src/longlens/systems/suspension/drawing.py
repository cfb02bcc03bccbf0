"""The linkage as lines to draw: named polylines in vehicle axes, at any wheel travel, rack travel or roll.

For pictures, films and models: places only, no looks. ``middle`` makes one car of the draws; ``segments`` moves it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from longlens.systems.suspension import beam
from longlens.systems.suspension.axes import mirror
from longlens.systems.suspension.beam import BeamAxle, BeamMotion
from longlens.systems.suspension.corner import LINKS, Corner
from longlens.systems.suspension.kinematics import Motion, solve
from longlens.systems.suspension.names import ENDS, SIDES
from longlens.systems.suspension.vectors import Array

#: Corners of the polygon that stands for a tyre's circle.
ROUND = 48

#: What a segment can be, and what is meant: ``Segment.kind`` is one of these.
KINDS: Mapping[str, str] = {
    "wishbone": "both legs of a wishbone, from pivot over ball joint to pivot",
    "link": "a single rod between chassis and upright or axle",
    "track_rod": "track rod or toe link",
    "upright": "the upright: its joints and the wheel centre, closed",
    "strut": "from the top mount down the strut's axis",
    "push_or_pullrod": "push- or pullrod",
    "rocker": "the rocker: pivot and joints, closed",
    "rocker_axis": "the rocker's axis, or the torsion bar on it",
    "spring": "spring or coil-over",
    "damper": "damper apart from the spring",
    "heave_element": "element between the two rockers",
    "bar_link": "link of the anti-roll bar",
    "anti_roll_bar": "arm, bar across the car, arm",
    "beam": "the beam between the wheel centres",
    "tyre": "circle of the loaded radius about the wheel centre, in the wheel's plane, closed",
}


@dataclass(frozen=True)
class Segment:
    """One part as a polyline.

    ``name``: ``left.front.upper_wishbone``, or without a side for what spans the car. ``kind``: see :data:`KINDS`.
    ``points`` (..., K, 3), m, vehicle axes; leading axes are those of travel, roll and rack. NaN where the linkage cannot
    be there.
    """

    name: str
    kind: str
    points: Array


def middle(model: Corner | BeamAxle) -> Corner | BeamAxle:
    """One car of the draws: the mean of every hardpoint, spin axis and radius (means of places keep the linkage to second
    order of the spread)."""
    points = {k: np.asarray(p, float).reshape(-1, 3).mean(axis=0) for k, p in model.points.items()}
    spin = np.asarray(model.spin).reshape(-1, 3).mean(axis=0)
    radius = np.asarray(np.mean(model.radius))
    return replace(model, points=points, spin=spin / np.linalg.norm(spin), radius=radius)


def models(inner: Mapping[str, object]) -> dict[str, Corner | BeamAxle]:
    """The middle car's axles, by ``front`` and ``rear``, from a run of the sheet: ``models(outcome.inner)``."""
    found = {end: inner.get(f"corner_{end}") for end in ENDS}
    return {end: middle(m) for end, m in found.items() if isinstance(m, (Corner, BeamAxle))}


def segments(
    model: Corner | BeamAxle,
    travel: ArrayLike = 0.0,
    *,
    end: str = "front",
    roll: ArrayLike = 0.0,
    rack: ArrayLike = 0.0,
    sides: Sequence[str] = SIDES,
) -> list[Segment]:
    """Polylines of an axle's parts in vehicle (body) axes.

    Parameters
    ----------
    model : without draws, as :func:`middle` makes it; a corner is the left one, the right one is its mirror image.
    travel : of both wheels from the design position, bump positive, m; any shape.
    end : ``front`` or ``rear``, for the names.
    roll : of the body, rad, its left side up: the left wheel goes into rebound and the right one into bump, each by
        half the track times tan(roll) (small camber changes of the contact left out).
    rack : rack travel to the left, m; ignored by a beam axle.
    sides : which sides to draw; what spans the car comes only with both.
    """
    z, phi, r = np.broadcast_arrays(*(np.asarray(x, float) for x in (travel, roll, rack)))
    name = "wheel.centre" if isinstance(model, Corner) else "left.wheel.centre"
    lift = np.tan(phi) * np.abs(model.points[name][..., 1])
    if isinstance(model, BeamAxle):
        return _beam(beam.solve(model, z - lift, z + lift), end, sides)
    moved = {"left": solve(model, z - lift, r), "right": solve(model, z + lift, -r)}
    out = []
    for side in sides:
        for part, kind, points in _corner(moved[side]):
            out.append(Segment(f"{side}.{end}.{part}", kind, points if side == "left" else mirror(points)))
    if set(sides) == set(SIDES):
        out += _across(moved["left"], moved["right"], end)
    return out


def _line(m: Motion, names: Sequence[str], *, closed: bool = False) -> Array:
    places = [m.point(n) for n in names]
    return np.stack(places + places[:1] * closed, axis=-2)


def _corner(m: Motion) -> list[tuple[str, str, Array]]:
    c = m.corner
    there = c.points

    def has(*names: str) -> bool:
        return all(n in there for n in names)

    out: list[tuple[str, str, Array]] = []
    for arm in ("upper_wishbone", "lower_wishbone"):
        joints = [f"{arm}.{k}" for k in ("front_inner", "outer", "rear_inner")]
        if c.layout != "five_link" and has(*joints):
            out.append((arm, "wishbone", _line(m, joints)))
    for rod, a, b in LINKS[c.layout]:
        if "leg" not in rod:
            out.append((rod, "track_rod" if rod == "track_rod" else "link", _line(m, (a, b))))
    joints = [b for _, _, b in LINKS[c.layout] if b != "strut.top"]
    outer = list(dict.fromkeys([*joints, *(["strut.lower"] if c.layout == "strut" else [])]))
    out.append(("upright", "upright", _line(m, _in_order(m, [*outer, "wheel.centre"]), closed=True)))
    if c.layout == "strut":
        out.append(("strut", "strut", _line(m, ("strut.top", "strut.lower"))))
    if has("pushrod.outer", "pushrod.inner"):
        out.append(("pushrod", "push_or_pullrod", _line(m, ("pushrod.outer", "pushrod.inner"))))
    if c.has_rocker:
        joints = [n for n in ("pushrod.inner", "heave.outer", "spring.outer", "bar_link.outer") if n in there]
        mine = [n for n in joints if c.body_of(n) == "rocker"]
        out.append(("rocker", "rocker", _line(m, ["rocker.pivot", *mine], closed=True)))
        if has("rocker.axis"):
            out.append(("rocker_axis", "rocker_axis", _line(m, ("rocker.pivot", "rocker.axis"))))
    for part in ("spring", "damper"):
        if has(f"{part}.outer", f"{part}.inner"):
            out.append((part, part, _line(m, (f"{part}.outer", f"{part}.inner"))))
    if c.has_bar:
        out.append(("bar_link", "bar_link", _line(m, ("bar_link.outer", "bar_link.inner"))))
    out.append(("tyre", "tyre", _circle(m.point("wheel.centre"), m.spin, c.radius)))
    return out


def _in_order(m: Motion, names: list[str]) -> list[str]:
    """The upright's joints around their middle as seen from outside, so that the outline does not cross itself."""
    p = np.stack([np.asarray(m.corner.points[n], float).reshape(-1, 3)[0] for n in names])
    d = p - p.mean(axis=0)
    return [names[k] for k in np.argsort(np.arctan2(d[:, 2], d[:, 0]))]


def _across(left: Motion, right: Motion, end: str) -> list[Segment]:
    """What spans the car: heave element and anti-roll bar."""
    out = []
    if left.corner.has_rocker and "heave.outer" in left.corner.points:
        both = [left.point("heave.outer"), mirror(right.point("heave.outer"))]
        out.append(Segment(f"{end}.heave_element", "heave_element", np.stack(both, axis=-2)))
    if left.corner.has_bar:
        mine = [left.point(n) for n in ("bar_link.inner", "anti_roll_bar.pivot")]
        yours = [mirror(right.point(n)) for n in ("anti_roll_bar.pivot", "bar_link.inner")]
        out.append(Segment(f"{end}.anti_roll_bar", "anti_roll_bar", np.stack(mine + yours, axis=-2)))
    return out


def _circle(centre: Array, spin: Array, radius: Array) -> Array:
    """Circle (..., ROUND + 1, 3) about a centre (..., 3) in the plane square to ``spin`` (..., 3)."""
    forward = np.cross(spin, np.array([0.0, 0.0, 1.0]))
    forward = forward / np.linalg.norm(forward, axis=-1, keepdims=True)
    up = np.cross(forward, spin)
    t = np.linspace(0.0, 2 * np.pi, ROUND + 1)[:, None]
    spoke = np.cos(t) * forward[..., None, :] + np.sin(t) * up[..., None, :]
    return centre[..., None, :] + np.asarray(radius)[..., None, None] * spoke


def _beam(m: BeamMotion, end: str, sides: Sequence[str]) -> list[Segment]:
    out = []

    def line(*names: str) -> Array:
        return np.stack([m.point(n) for n in names], axis=-2)

    for rod in m.axle.rods:
        side = rod.partition(".")[0]
        if side not in SIDES or side in sides:
            label = rod.replace(".", f".{end}.", 1) if side in SIDES else f"{end}.{rod}"
            out.append(Segment(label, "link", line(f"{rod}.inner", f"{rod}.outer")))
    for side, spin in zip(SIDES, m.spins(), strict=True):
        if side not in sides:
            continue
        for part in ("spring", "damper"):
            if all(f"{side}.{part}.{e}" in m.axle.points for e in ("inner", "outer")):
                points = line(f"{side}.{part}.outer", f"{side}.{part}.inner")
                out.append(Segment(f"{side}.{end}.{part}", part, points))
        tyre = _circle(m.point(f"{side}.wheel.centre"), spin, m.axle.radius)
        out.append(Segment(f"{side}.{end}.tyre", "tyre", tyre))
    out.append(Segment(f"{end}.beam", "beam", line("left.wheel.centre", "right.wheel.centre")))
    return out
