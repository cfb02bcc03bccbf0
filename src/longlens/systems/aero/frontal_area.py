"""Frontal area from an outline drawn on a photograph, with the survey's perspective taken out.

Each corner of the outline is carried along its line of sight to a plane across the car, and the area of the polygon there is
taken. The outline of a car is not in one plane: its parts lie at different distances, so the plane's place along the car is a
draw between the parts that make the outline, and travels as model error. Where a corner lies on a marked point, that point's own
place is used.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from longlens.dossier.records import Mark
from longlens.errors import NotSolvable, UnusableInput
from longlens.numbers.number import Number, joint
from longlens.numbers.streams import Array, stratified
from longlens.numbers.trail import Origin
from longlens.survey.camera import rays

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

#: Beyond this between the line of sight and the car's axis the outline is not the front (rad).
MOST_OBLIQUE = np.radians(14.0)


def carried(centre: ArrayLike, rays: ArrayLike, station: ArrayLike) -> Array:
    """(..., n, 2) places y, z where lines of sight meet the plane x = station.

    centre (..., 3) m, rays (..., n, 3) directions in vehicle axes, station (...) or (..., n) m.
    """
    c, r = np.asarray(centre, float), np.asarray(rays, float)
    s = np.asarray(station, float)
    s = s[..., None] if s.ndim < r.ndim - 1 else s
    along = (s - c[..., None, 0]) / r[..., 0]
    return c[..., None, 1:] + along[..., None] * r[..., 1:]


def polygon(places: ArrayLike) -> Array:
    """Area of plane polygons (..., n, 2), m², whichever way round; it must not cross itself."""
    p = np.asarray(places, float)
    q = np.roll(p, -1, axis=-2)
    return 0.5 * np.abs(np.sum(p[..., 0] * q[..., 1] - q[..., 0] * p[..., 1], axis=-1))


def crosses_itself(path: ArrayLike) -> bool:
    """True where two sides of a closed outline (n, 2) cross."""
    p = np.asarray(path, float)
    n = len(p)
    a, b = p, np.roll(p, -1, axis=0)

    def side(o: Array, d: Array, e: Array) -> float:
        return float((d[0] - o[0]) * (e[1] - o[1]) - (d[1] - o[1]) * (e[0] - o[0]))

    for i in range(n):
        for j in range(i + 2, n):
            if i == 0 and j == n - 1:
                continue
            if (
                side(a[i], b[i], a[j]) * side(a[i], b[i], b[j]) < 0
                and side(a[j], b[j], a[i]) * side(a[j], b[j], b[i]) < 0
            ):
                return True
    return False


def frontal_area(centre: ArrayLike, rays: ArrayLike, station: ArrayLike) -> Array:
    """Frontal area (m²) of draws: camera centres (N, 3), rays (N, n, 3), stations (N,) or (N, n).

    Raises NotSolvable where the picture is not taken from nearly straight ahead or behind.
    """
    c, r = np.asarray(centre, float), np.asarray(rays, float)
    middle = np.mean(r / np.linalg.norm(r, axis=-1, keepdims=True), axis=-2)
    oblique = np.arccos(np.clip(np.abs(middle[..., 0]) / np.linalg.norm(middle, axis=-1), 0, 1))
    if float(np.median(oblique)) > MOST_OBLIQUE:
        raise NotSolvable(
            f"the picture looks at the car {np.degrees(np.median(oblique)):.0f}° off its axis: its outline is not the front",
            needs=["an outline on a picture from straight ahead or behind (within 14°)"],
        )
    return polygon(carried(c, r, station))


#: The part's name under which an outline is taken for the car's front.
PART = "frontal area"
#: Where along the wheelbase the outline's parts lie: from the front wheels to the widest place before the rear ones.
STATION = (-0.1, 1.05)


def from_solution(solution: Solution, marks: Iterable[Mark]) -> Number | None:
    """The frontal area from an outline mark whose part is named ``frontal area``, with the survey's joint draws of its camera.

    Corners that lie on marked points (``along``) take those points' own stations; the others one station between the axles, a
    draw of its own. None where there is no such outline, or its shot is not in this survey.

    Raises NotSolvable where the picture is too oblique, UnusableInput where the outline crosses itself.
    """
    net = solution.net
    found = [
        m
        for m in marks
        if m.form == "outline" and m.part.strip().lower() == PART and not m.set_aside and m.shot in net.shots
    ]
    if not found:
        return None
    mark = found[-1]
    path = np.asarray(mark.path, float)
    if crosses_itself(path):
        raise UnusableInput(
            "the outline of the frontal area crosses itself", where=mark.id, fix="draw it once round the car"
        )
    state, s = solution.drawn.state, net.shots.index(mark.shot)
    g = net.camera_of[s]
    sd = mark.sd_px / np.sqrt(len(path))  # errors of single corners average out over the outline
    noise = np.random.default_rng(zlib.crc32(mark.id.encode())).normal(0.0, sd, (len(state.logf), len(path), 2))
    seen = rays(
        path + noise,
        np.exp(state.logf[:, g])[:, None, None],
        state.kappa[:, g][:, None],
        net.rho[g],
        state.principal[:, s][:, None],
    )
    ahead = np.einsum("nki,nij->nkj", seen, state.R[:, s])
    station = _stations(solution, mark, len(path))
    area = frontal_area(state.C[:, s], ahead, station)
    origin = Origin(f"mark on {mark.shot}", "measured", record=f"mark:{mark.id}")
    return joint({"frontal_area": area}, "m2", rests_on=[origin], draws=len(area))["frontal_area"]


def _stations(solution: Solution, mark: Mark, corners: int) -> Array:
    """(N, n) place along the car of each corner."""
    places = solution.places()
    wheels = [
        p[:, 0] for name, p in places.items() if name.endswith(("rim_centre", "wheel.centre", "wheel_centre", "hub"))
    ]
    count = len(solution.drawn.state.logf)
    if not wheels:
        raise NotSolvable("no wheel is marked, so nothing says where the outline stands", needs=["the wheels' centres"])
    x = np.stack(wheels)
    front, rear = x.max(axis=0), x.min(axis=0)
    u = stratified("frontal area: station", count)
    shared = front + (rear - front) * (STATION[0] + (STATION[1] - STATION[0]) * u)
    out = np.repeat(shared[:, None], corners, axis=1)
    for k, name in enumerate(mark.along or []):
        if k < corners and name in places:
            out[:, k] = places[name][:, 0]
    return out
