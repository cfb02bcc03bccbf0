"""Hardpoints that no photograph shows: placed by what is known about them, with the survey's draws.

A hidden point starts with a wide prior about a guess (the middle of the part it must be in); each thing known about
it narrows it: a rod as long as its twin, a pivot on the rocker's plane, a bearing inside its boss. The others move
with it, as they should.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from longlens.errors import NotSolvable
from longlens.systems.suspension.conditioning import Knowledge, Places, condition
from longlens.systems.suspension.vectors import Array


@dataclass(frozen=True)
class Guess:
    """Where a hidden point may be: ``near`` (3,) m with ``sd`` (3,) or one number, m; or ``near`` another point's
    name."""

    near: tuple[float, float, float] | str
    sd: float | tuple[float, float, float] = 0.05


@dataclass(frozen=True)
class SameLength:
    """Two rods of equal length within ``sd`` m: left and right, or two of one kind."""

    one: tuple[str, str]
    other: tuple[str, str]
    sd: float = 5e-4


@dataclass(frozen=True)
class Length:
    """A rod's length, m: measured on another photograph, or published."""

    rod: tuple[str, str]
    value: float
    sd: float


@dataclass(frozen=True)
class OnPlane:
    """A point on the plane through three others within ``sd`` m: pivot and joints of a flat rocker."""

    point: str
    plane: tuple[str, str, str]
    sd: float = 2e-3


@dataclass(frozen=True)
class Inside:
    """A point within a part whose middle is a marked point: within ``radius`` m in 95 % (a bearing in its boss)."""

    point: str
    of: str
    radius: float


Known = SameLength | Length | OnPlane | Inside


@dataclass(frozen=True)
class Placed:
    """All points after: name → (N, 3); hidden ones with the standard deviation before and after, m (3,); and what
    contradicts."""

    points: dict[str, Array]
    before: dict[str, Array]
    after: dict[str, Array]
    contradicted: list[str]


def place(seen: Mapping[str, Array], hidden: Mapping[str, Guess], known: Sequence[Known], *, seed: int = 0) -> Placed:
    """Place hidden points.

    Parameters
    ----------
    seen : name → (N, 3) joint draws of the survey, m.
    hidden : name → where it may be.
    known : what ties them.

    Raises
    ------
    NotSolvable : a hidden point stays as wide as its guess: nothing that is known touches it.
    """
    n = next(iter(seen.values())).shape[0]
    rng = np.random.default_rng(seed)
    points = {k: np.asarray(p, float) for k, p in seen.items()}
    before = {}
    for name, g in hidden.items():
        middle = points[g.near].mean(axis=0) if isinstance(g.near, str) else np.asarray(g.near, float)
        e = rng.standard_normal((n, 3))
        points[name] = middle + (e - e.mean(axis=0)) * np.broadcast_to(np.asarray(g.sd, float), 3)
        before[name] = points[name].std(axis=0)
    used = [p for p in points if any(p in _points_of(k) for k in known)]
    places = Places(tuple(used))
    loose = [h for h in hidden if h not in used]
    if loose:
        raise NotSolvable(
            f"nothing is known about {', '.join(loose)}",
            needs=[f"a length, an equal rod, a plane or a part that {h} is in" for h in loose],
        )
    done = condition(places.state(points), [_knowledge(k, places) for k in known], seed=seed + 1)
    points |= places.points(done.draws)
    return Placed(points, before, {h: points[h].std(axis=0) for h in hidden}, done.contradicted)


def _points_of(k: Known) -> tuple[str, ...]:
    if isinstance(k, SameLength):
        return (*k.one, *k.other)
    if isinstance(k, Length):
        return k.rod
    if isinstance(k, OnPlane):
        return (k.point, *k.plane)
    return (k.point, k.of)


def _knowledge(k: Known, places: Places) -> Knowledge:
    if isinstance(k, SameLength):
        name = f"{k.one[0]} to {k.one[1]} is as long as {k.other[0]} to {k.other[1]}"
        return Knowledge(name, places.difference(k.one, k.other), 0.0, k.sd, k.one)
    if isinstance(k, Length):
        name = f"{k.rod[0]} to {k.rod[1]} is {k.value:.4g} ± {k.sd:.2g} m"
        return Knowledge(name, places.distance(*k.rod), k.value, k.sd, k.rod)
    if isinstance(k, OnPlane):
        name = f"{k.point} lies on the plane of {', '.join(k.plane)}"
        return Knowledge(name, places.off_plane(k.point, k.plane), 0.0, k.sd, (k.point, k.plane[0]))
    # Within the radius in 95 %: a three-dimensional Gaussian whose 95 % sphere has that radius (χ₃ = 2.795).
    return Knowledge(f"{k.point} is in {k.of}", places.offset(k.point, k.of), 0.0, k.radius / 2.795, (k.point, k.of))
