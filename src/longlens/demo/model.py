"""What an invented car is made of: parts (mesh and material), markable points, circles, rods, pipes, cores.

A builder collects them. Inside ``side(…)`` everything is given as on the left and lands on the left or, reflected, on
the right; names get their ``left.`` or ``right.`` in front.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from longlens.demo.solids import Array, Mesh

_FLIP = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True)
class Part:
    """A solid with one material. ``group`` is what is taken off together (``nose_cover``, ``left.pod_cover``)."""

    name: str
    mesh: Mesh
    material: str
    group: str = ""


@dataclass(frozen=True)
class Point:
    """A point that can be marked. ``radius``: how large the feature is (m); ``sharp``: 0 (blurry) to 1 (crisp).

    ``moves``: a wheel-side point, another one in each stance. ``place``: only seen where the car stands in that place.
    """

    xyz: Array
    radius: float = 0.012
    sharp: float = 0.6
    moves: bool = False
    twin: bool = True
    on: str | None = None
    ask: bool = True
    buried: bool = False
    place: str = ""


@dataclass(frozen=True)
class Circle:
    """A circle that can be marked on its rim: centre, axis (unit, outwards), radius in m."""

    centre: Array
    axis: Array
    radius: float
    moves: bool = False


@dataclass
class Model:
    """Everything of one car, stage and stance."""

    parts: list[Part] = field(default_factory=list)
    points: dict[str, Point] = field(default_factory=dict)
    circles: dict[str, Circle] = field(default_factory=dict)
    rods: dict[str, dict[str, Any]] = field(default_factory=dict)
    pipes: dict[str, dict[str, Any]] = field(default_factory=dict)
    cores: dict[str, dict[str, Any]] = field(default_factory=dict)
    other: dict[str, Any] = field(default_factory=dict)
    ground: tuple[float, float] = (0.0, 0.0)
    _side: int = 0
    _group: str = ""

    @contextmanager
    def side(self, s: int) -> Iterator[None]:
        """Left (+1) or right (−1)."""
        before, self._side = self._side, s
        yield
        self._side = before

    def both_sides(self) -> Iterator[int]:
        """Left (+1), then right (−1): what a loop over it adds is given as on the left and lands on each side."""
        for s in (1, -1):
            with self.side(s):
                yield s

    @contextmanager
    def group(self, name: str) -> Iterator[None]:
        """Parts that come off together."""
        before, self._group = self._group, name
        yield
        self._group = before

    def named(self, name: str) -> str:
        """The full name on the present side."""
        return {0: "", 1: "left.", -1: "right."}[self._side] + name

    def placed(self, p: ArrayLike) -> Array:
        """A left-hand point or direction on the present side."""
        return np.asarray(p, float) * (_FLIP if self._side < 0 else 1.0)

    def left_hand(self, name: str) -> Array:
        """A point of the present side, as on the left: what is built on there is given so."""
        return self.placed(self.points[self.named(name)].xyz)

    def add(self, name: str, mesh: Mesh, material: str, group: str | None = None) -> None:
        """A solid, given as on the left."""
        g = self._group if group is None else group
        if g and self._side and not g.startswith("*"):
            g = self.named(g)
        self.parts.append(Part(self.named(name), mesh.mirrored() if self._side < 0 else mesh, material, g.lstrip("*")))

    def point(self, name: str, xyz: ArrayLike, radius: float = 0.012, sharp: float = 0.6, **more: Any) -> None:
        """A markable point, given as on the left; ``more``: the other fields of :class:`Point`."""
        more.setdefault("twin", self._side != 0)
        self.points[self.named(name)] = Point(self.placed(xyz), radius, sharp, **more)

    def circle(self, name: str, centre: ArrayLike, axis: ArrayLike, radius: float, moves: bool = False) -> None:
        """A markable circle, given as on the left."""
        self.circles[self.named(name)] = Circle(self.placed(centre), self.placed(axis), radius, moves)

    def rod(self, name: str, a: str, b: str, diameter: float, xa: ArrayLike, xb: ArrayLike) -> None:
        """A two-force member between two named points."""
        pa, pb = self.placed(xa), self.placed(xb)
        self.rods[self.named(name)] = {
            "ends": [self.named(a), self.named(b)],
            "length_m": float(np.linalg.norm(pb - pa)),
            "diameter_m": diameter,
            "xyz_m": [pa.tolist(), pb.tolist()],
        }

    def pipe(self, name: str, path: Array, diameter: float, **more: Any) -> None:
        """A pipe by its centre line."""
        d = np.linalg.norm(np.diff(path, axis=0), axis=1).sum()
        self.pipes[self.named(name)] = {
            "diameter_m": diameter,
            "length_m": float(d),
            "centre_line_m": np.round(self.placed(path), 6).tolist(),
            **more,
        }
