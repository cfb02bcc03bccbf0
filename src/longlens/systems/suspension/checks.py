"""Hardpoints that cannot be right, refused with the pair of points and what to do."""

from __future__ import annotations

import difflib
from collections.abc import Mapping

import numpy as np

from longlens.errors import UnusableInput
from longlens.systems.suspension.corner import LINKS, REQUIRED
from longlens.systems.suspension.names import ENDS, EXTRA, RODS_OF_BEAM, SIDES, TELLING, split
from longlens.systems.suspension.vectors import Array

#: Rod ends nearer than this are one point, m.
APART = 2e-3
#: No car reaches this far from its origin, m; no linkage is this small, m.
FAR, SMALL = 15.0, 0.02

KNOWN = {p for ps in REQUIRED.values() for p in ps} | set(EXTRA)

PAIRS = tuple(
    dict.fromkeys(
        [(a, b) for links in LINKS.values() for _, a, b in links]
        + [
            ("upper_wishbone.front_inner", "upper_wishbone.rear_inner"),
            ("lower_wishbone.front_inner", "lower_wishbone.rear_inner"),
            ("upper_wishbone.outer", "lower_wishbone.outer"),
            ("track_rod.outer", "lower_wishbone.outer"),
            ("strut.top", "strut.lower"),
            ("pushrod.inner", "pushrod.outer"),
            ("rocker.pivot", "pushrod.inner"),
            ("rocker.pivot", "spring.outer"),
            ("rocker.pivot", "rocker.axis"),
            ("spring.inner", "spring.outer"),
            ("bar_link.inner", "bar_link.outer"),
            ("anti_roll_bar.pivot", "bar_link.inner"),
        ]
    )
)


def check_name(name: str, where: str = "") -> None:
    """Refuse a name that no part has."""
    side, end, point = split(name)
    if not end or (not side and not point.startswith(RODS_OF_BEAM)):
        raise UnusableInput(
            f"{name!r} does not say which corner it belongs to",
            where=where,
            fix=f"write {SIDES[0]}.{ENDS[0]}.{point or 'wheel.centre'}, with left or right, front or rear",
        )
    beam = point.partition(".")[0] in TELLING["beam"] and point.partition(".")[2] in ("inner", "outer")
    if point not in KNOWN and not beam:
        near = difflib.get_close_matches(point, sorted(KNOWN), 2)
        fix = f"did you mean {' or '.join(near)}?" if near else "docs/suspension.md lists the names"
        raise UnusableInput(f"no hardpoint is called {point!r}", where=where, fix=fix)


def check_corner(points: Mapping[str, Array], corner: str, where: str = "") -> None:
    """Refuse a corner whose points cannot be right.

    Parameters
    ----------
    points : name without side and axle → (3,) or (N, 3), m, in vehicle axes as given (not reflected).
    corner : ``left.front`` and so on, for messages and for the side.
    """
    middle = {k: np.median(np.atleast_2d(p), axis=0) for k, p in points.items()}
    _check_units(middle, corner, where)
    _check_apart(middle, corner, where)
    _check_side(middle, corner, where)


def _names(corner: str, a: str, b: str) -> str:
    return f"{corner}.{a} and {corner}.{b}"


def _check_units(p: Mapping[str, Array], corner: str, where: str) -> None:
    names = list(p)
    if len(names) < 2:
        return
    spread = np.ptp(np.stack(list(p.values())), axis=0)
    axis = int(np.argmax(spread))
    order = sorted(names, key=lambda k: p[k][axis])
    a, b = order[0], order[-1]
    gap = float(np.linalg.norm(p[a] - p[b]))
    if gap > FAR:
        raise UnusableInput(
            f"{_names(corner, a, b)} are {gap:.4g} m apart: these look like millimetres given as metres",
            where=where,
            fix='give the unit as "mm"',
        )
    if gap < SMALL:
        raise UnusableInput(
            f"{_names(corner, a, b)}, the farthest of this corner, are only {gap * 1e3:.3g} mm apart: these "
            f"look like metres "
            "given as millimetres",
            where=where,
            fix='give the unit as "m"',
        )


def _check_apart(p: Mapping[str, Array], corner: str, where: str) -> None:
    for a, b in PAIRS:
        if a in p and b in p:
            gap = float(np.linalg.norm(p[a] - p[b]))
            if gap < APART:
                raise UnusableInput(
                    f"{_names(corner, a, b)} coincide ({gap * 1e3:.2g} mm apart)",
                    where=where,
                    fix="mark the two ends apart, or leave one of them out",
                )


def _check_side(p: Mapping[str, Array], corner: str, where: str) -> None:
    side, _, end = corner.partition(".")
    sign = 1.0 if side == "left" else -1.0
    outer = [k for k in p if k == "wheel.centre" or k.endswith("wishbone.outer") or k == "track_rod.outer"]
    other = "right" if side == "left" else "left"
    if outer and all(sign * p[k][1] < 0 for k in outer):
        k = outer[-1]
        raise UnusableInput(
            f"{corner}.{k} has y = {p[k][1]:.3f} m, on the {other} of the car (y points left): {corner}.{k} and "
            f"{other}.{end}.{k} seem swapped",
            where=where,
            fix="swap left and right in the names, or turn the sign of y",
        )
    for links in LINKS.values():
        for _, a, b in links:
            if a in p and b in p and sign * p[b][1] < sign * p[a][1] - 0.05:
                raise UnusableInput(
                    f"{corner}.{b} lies inboard of {corner}.{a} (y = {p[b][1]:.3f} and {p[a][1]:.3f} m)",
                    where=where,
                    fix="swap inner and outer, or turn the sign of y of one of them",
                )


def check_length(points: Mapping[str, Array], rod: tuple[str, str], length: float, sd: float, where: str = "") -> None:
    """Refuse a stated rod length at which the rod cannot meet its two points (more than four standard deviations
    off)."""
    a, b = (np.atleast_2d(points[k]) for k in rod)
    d = np.linalg.norm(a - b, axis=-1)
    between, spread = float(np.median(d)), float(np.hypot(np.std(d), sd))
    if abs(between - length) > max(4 * spread, 1e-6):
        raise UnusableInput(
            f"the rod cannot meet both its points: {rod[0]} and {rod[1]} are {between * 1e3:.4g} ± "
            f"{np.std(d) * 1e3:.2g} mm "
            f"apart, the rod is stated as {length * 1e3:.4g} ± {sd * 1e3:.2g} mm",
            where=where,
            fix="correct the length, or the mark of one of the two points",
        )
