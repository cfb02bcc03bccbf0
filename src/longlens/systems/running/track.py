"""A track's centre line: from points to even stations with curvature and slope; invented tracks.

The curvature is that of the circle through three neighbours (Menger) on evenly spaced stations; a centre line read off a map is
rough, so it may be smoothed first. Limits: the car follows the centre line, where a driver would widen the corners.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from longlens.errors import UnusableInput
from longlens.numbers.streams import Array

MAX_POINTS = 20_000
MAX_STATIONS = 1500
MAX_BYTES = 4 * 1024 * 1024


@dataclass(frozen=True)
class Track:
    """Stations along a centre line.

    way (S,) m from the start; step (S,) m to the next station (the last: to the first of a closed one, else 0);
    curvature (S,) 1/m, left positive; grade (S,) sine of the slope; place (S, 3) m.
    """

    name: str
    way: Array
    step: Array
    curvature: Array
    grade: Array
    place: Array
    closed: bool

    @property
    def length(self) -> float:
        """m."""
        return float(self.way[-1] + self.step[-1])


def from_points(points: ArrayLike, closed: bool, name: str = "", station: float = 4.0, smooth: float = 0.0) -> Track:
    """A track through points (n, 2) or (n, 3), m.

    Parameters
    ----------
    station : aimed distance of stations, m.
    smooth : length over which the line is averaged, m; 0: taken as it is.

    Raises UnusableInput for fewer than three points, repeated ones, or absurd lengths.
    """
    p = np.asarray(points, float)
    if (
        p.ndim != 2
        or p.shape[1] not in (2, 3)
        or p.shape[0] < 3
        or p.shape[0] > MAX_POINTS
        or not np.all(np.isfinite(p))
    ):
        raise UnusableInput(
            "is no centre line", where="track", fix=f"give 3 to {MAX_POINTS} points [x, y] or [x, y, z] in metres"
        )
    p = np.column_stack([p, np.zeros(len(p))]) if p.shape[1] == 2 else p
    if closed and np.linalg.norm(p[0] - p[-1]) < 1e-6:
        p = p[:-1]
    ring = np.vstack([p, p[:1]]) if closed else p
    gap = np.linalg.norm(np.diff(ring, axis=0), axis=1)
    if np.any(gap < 1e-6):
        raise UnusableInput("has the same point twice in a row", where="track", fix="leave one out")
    along = np.concatenate([[0.0], np.cumsum(gap)])
    total = along[-1]
    if not 20.0 <= total <= 100_000.0:
        raise UnusableInput(f"is {total:.0f} m long", where="track", fix="give metres; 20 m to 100 km")
    n = int(np.clip(round(total / station), 24, MAX_STATIONS))
    at = np.linspace(0.0, total, n, endpoint=False) if closed else np.linspace(0.0, total, n + 1)
    fine = _through(along, ring, at, closed)
    if smooth > 0:
        fine = _smoothed(fine, max(1, round(smooth / (total / n))), closed)
    return _stations(name, fine, closed)


def _through(along: Array, ring: Array, at: Array, closed: bool) -> Array:
    from scipy.interpolate import CubicSpline

    if closed:
        ring = ring.copy()
        ring[-1] = ring[0]
    return np.asarray(CubicSpline(along, ring, bc_type="periodic" if closed else "natural")(at))


def _smoothed(p: Array, width: int, closed: bool) -> Array:
    kernel = np.ones(2 * width + 1) / (2 * width + 1)
    padded = np.vstack([p[-width:], p, p[:width]]) if closed else np.pad(p, ((width, width), (0, 0)), mode="edge")
    return np.column_stack([np.convolve(padded[:, k], kernel, mode="valid") for k in range(p.shape[1])])


def _stations(name: str, p: Array, closed: bool) -> Track:
    ahead = np.roll(p, -1, axis=0) - p
    step = np.linalg.norm(ahead, axis=1)
    if not closed:
        step[-1] = 0.0
    a, b, c = np.roll(p, 1, axis=0)[:, :2], p[:, :2], np.roll(p, -1, axis=0)[:, :2]
    u, w = b - a, c - b
    cross = u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]
    size = np.linalg.norm(u, axis=1) * np.linalg.norm(w, axis=1) * np.linalg.norm(c - a, axis=1)
    curvature = np.where(size > 0, 2 * cross / np.where(size > 0, size, 1.0), 0.0)
    if not closed:
        curvature[0], curvature[-1] = curvature[1], curvature[-2]
    grade = np.where(step > 0, ahead[:, 2] / np.where(step > 0, step, 1.0), 0.0)
    way = np.concatenate([[0.0], np.cumsum(step)[:-1]])
    return Track(name, way, step, curvature, grade, p, closed)


def circle(radius: float, stations: int = 200) -> Track:
    """A circle of a radius (m)."""
    angle = np.linspace(0, 2 * np.pi, stations, endpoint=False)
    return _stations("circle", radius * np.column_stack([np.cos(angle), np.sin(angle), 0 * angle]), True)


def stadium(radius: float, straight: float, stations: int = 400) -> Track:
    """Two half circles and two straights, with exact curvatures: for tests and for comparing."""
    total = 2 * np.pi * radius + 2 * straight
    way = (np.arange(stations) + 0.5) * total / stations
    half = straight + np.pi * radius
    local = way % half
    bend = local >= straight
    x = np.where(bend, straight + radius * np.sin((local - straight) / radius), local)
    y = np.where(bend, radius - radius * np.cos((local - straight) / radius), 0.0)
    second = way >= half
    place = np.column_stack([np.where(second, straight - x, x), np.where(second, 2 * radius - y, y), 0 * x])
    step = np.full(stations, total / stations)
    return Track("stadium", way - way[0], step, np.where(bend, 1 / radius, 0.0), 0 * way, place, True)


#: Two invented tracks: x, y, z in m.
_HILL = (
    (0, 0, 0), (120, 4, 5), (210, 40, 11), (260, 110, 18), (330, 150, 25), (430, 140, 33), (500, 90, 40), (545, 110, 46),
    (555, 180, 52), (520, 240, 58), (540, 310, 65), (620, 350, 73), (740, 355, 83), (860, 330, 92), (930, 370, 99),
    (925, 440, 105), (860, 480, 112), (870, 545, 118), (950, 580, 126), (1080, 585, 137),
)  # fmt: skip
_RING = (
    (0, 0), (200, 0), (400, 0), (560, 10), (640, 60), (650, 140), (590, 200), (500, 215), (440, 260), (450, 330), (540, 370),
    (640, 400), (690, 470), (650, 550), (550, 570), (430, 520), (330, 430), (250, 400), (170, 440), (100, 520), (0, 540),
    (-90, 480), (-110, 380), (-60, 290), (-80, 200), (-170, 140), (-190, 60), (-120, 5),
)  # fmt: skip


def invented(name: str) -> Track:
    """``hill``: an open climb of 1.5 km from a standing start; ``ring``: a closed track of 3 km. Both made up."""
    if name == "hill":
        return from_points(np.array(_HILL, float), False, "invented hill", 4.0)
    if name == "ring":
        return from_points(np.array(_RING, float), True, "invented ring", 6.0)
    raise UnusableInput(f"there is no track {name!r}", where="track", fix="hill, ring, or points of your own")


def read_csv(path: Path) -> list[list[float]]:
    """Points of a centre line from a text file: two or three columns (m), commas, semicolons or tabs, a first line of names
    allowed, ``#`` for remarks. Raises UnusableInput with the line."""
    where = path.name
    try:
        if path.stat().st_size > MAX_BYTES:
            raise UnusableInput("is larger than 4 MB", where=where, fix="thin it out")
        text = path.read_text("utf-8")
    except OSError as e:
        raise UnusableInput(f"cannot be read: {e.strerror or e}", where=where, fix="check the path") from None
    except UnicodeDecodeError:
        raise UnusableInput("is not UTF-8 text", where=where, fix="save it as UTF-8") from None
    separator = next((s for s in (";", "\t") if s in text), ",")
    points: list[list[float]] = []
    for number, row in enumerate(csv.reader(text.splitlines(), delimiter=separator), 1):
        if not row or row[0].lstrip().startswith("#"):
            continue
        try:
            points.append([float(cell) for cell in row[:3] if cell.strip()])
        except ValueError:
            if points or number > 3:
                raise UnusableInput(f"line {number} is no point", where=where, fix="two or three numbers") from None
    if len({len(p) for p in points}) > 1 or not points or len(points[0]) not in (2, 3):
        raise UnusableInput("has no even table of points", where=where, fix="x, y or x, y, z on every line")
    return points
