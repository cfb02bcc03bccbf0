"""A place at once for a point that the solution does not hold yet, by its marks and the cameras as they stand.

The full survey lets a new mark move cameras and points as well; until it has been asked, each joint draw of the cameras meets the
marks of the new point by itself (randomise, then optimise: the marks are moved by their own error, the point is fitted by least
squares; Bardsley et al. 2014). So the interval holds the doubt about the cameras and the marks' error, and draw k belongs to the
same car as draw k of everything else. What the new marks say about the cameras is not used: on eight invented cars (14 points)
the intervals were 0.96 to 1.45 times as wide as the full survey's, 1.02 in the median, and held the truth 42 times of 42.

Limits: it takes the marks for right (two marks hardly show that one of them is wrong; where they do not meet, the interval is
widened and that is said), and a twin for exactly mirrored unless the document says how well. Rays that meet flatter than
:data:`FLATTEST` are refused.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from longlens.dossier.exchange import ExchangeDocument, Measure
from longlens.survey.answer import Solution
from longlens.survey.camera import Array, project, rays
from longlens.survey.network import Network, State, place_points

#: Depth known worse than this part of the distance asks for another photograph.
FLATTEST = 0.2
#: Steps of the fit, and of the differences for its derivatives, m.
STEPS, STEP = 6, 1e-5


@dataclass(frozen=True)
class Provisional:
    """A provisional place. ``xyz`` (3,) m; ``draws`` (N, 3) m, joint with the solution's; ``how``: in words, by what.

    misfit : how far its marks miss each other, in their own standard deviations (root mean square); NaN where they cannot.
    """

    point: str
    xyz: Array
    draws: Array
    how: str
    misfit: float = float("nan")

    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True)
class NotYet:
    """No place; false, and says why."""

    why: str

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True)
class _Seen:
    """Marks of one point: shots (M,), pixels (M, 2), their sd (M,) px, sign of y (M,): −1 for its twin's."""

    shot: np.ndarray
    xy: Array
    sd: Array
    sign: Array


def place_provisionally(solution: Solution, document: ExchangeDocument, point: str) -> Provisional | NotYet:
    """Where a point of ``document`` lies that ``solution`` does not hold; the same arguments give the same draws.

    Parameters
    ----------
    document : as it is now, with the marks of the point; the solution is of an earlier one.
    """
    net = solution.net
    of = {p.id: p for p in document.points}
    if point in net._point_index:
        return NotYet("the survey has placed it")
    if point not in of:
        return NotYet("there is no such point")
    twin = _twin(document, point)
    if twin is not None and twin[0] in net._point_index:
        return _by_twin(solution, point, *twin)
    seen = _marks(solution, document, point, twin)
    held = _held(of[point].on, seen, net)
    if len(seen.xy) == 0:
        return NotYet("it is not marked on a photograph that is solved")
    if 2 * len(seen.xy) < int(np.sum(~held)):
        return NotYet("one more photograph that shows it would place it")
    return _meet(solution, point, seen, held)


def measure_provisionally(
    solution: Solution, measure: Measure, places: dict[str, Provisional]
) -> tuple[float, Array] | None:
    """Value and (N,) draws, m, of a distance that rests on provisional places; None for what is no such measure."""
    best, draws = [], []
    fit, drawn = place_points(solution.net, solution.fit.state), None
    for p in measure.distance or ():
        if p in places:
            best.append(places[p].xyz)
            draws.append(places[p].draws)
        elif p in solution.net._point_index:
            drawn = place_points(solution.net, solution.drawn.state) if drawn is None else drawn
            i = solution.net.point(p)
            best.append(fit[i])
            draws.append(drawn[:, i])
        else:
            return None
    if len(best) != 2:
        return None
    a, d = best[1] - best[0], draws[1] - draws[0]
    if measure.along:
        k = "xyz".index(measure.along)
        return abs(float(a[k])), np.abs(d[:, k])
    return float(np.linalg.norm(a)), np.linalg.norm(d, axis=1)


def _twin(document: ExchangeDocument, point: str) -> tuple[str, float] | None:
    """The id of its twin across the car, and how exactly it is mirrored, m."""
    for p in document.points:
        if p.id == point and p.mirror:
            return p.mirror, p.mirror_sd
        if p.mirror == point:
            return p.id, p.mirror_sd
    return None


def _by_twin(solution: Solution, point: str, twin: str, sd: float) -> Provisional:
    net, turn = solution.net, np.array([1.0, -1.0, 1.0])
    i = net.point(twin)
    xyz = place_points(net, solution.fit.state)[i] * turn
    draws = place_points(net, solution.drawn.state)[:, i] * turn
    return Provisional(point, xyz, draws + sd * _rng(point).standard_normal(draws.shape), "by its twin across the car")


def _marks(solution: Solution, document: ExchangeDocument, point: str, twin: tuple[str, float] | None) -> _Seen:
    """Its own marks and, where the twin is mirrored exactly, the twin's."""
    net = solution.net
    names = {point: 1.0} | ({twin[0]: -1.0} if twin is not None and twin[1] == 0 else {})
    rows = [
        (net.shot(m.shot), m.x, m.y, m.sd_px, names[m.point])
        for m in document.marks
        if m.point in names and m.shot in net._shot_index and not m.inferred
    ]
    table = np.array(rows, float).reshape(-1, 5)
    return _Seen(table[:, 0].astype(int), table[:, 1:3], table[:, 3] * max(1.0, solution.inflate), table[:, 4])


def _held(on: str | None, seen: _Seen, net: Network) -> np.ndarray:
    """(3,) coordinates that are nought by where it lies; the ground is taken for shots in the static stance only."""
    held = np.zeros(3, bool)
    if on == "centre_plane":
        held[1] = True
    elif on == "ground" and len(seen.shot) and not np.any(net.stance_of[seen.shot]):
        held[2] = True
    return held


def _meet(solution: Solution, point: str, seen: _Seen, held: np.ndarray) -> Provisional | NotYet:
    rng = _rng(point)
    n, m = len(solution.drawn.state.logf), len(seen.xy)
    noise = rng.standard_normal((n, m, 2)) * seen.sd[:, None]
    st = solution.fit.state
    alone = type(st)(**{k: v[None] for k, v in st.__dict__.items()})
    best = _fit(solution, alone, seen, seen.xy[None], held)
    if best is None:
        return NotYet("its marks do not meet in front of the cameras")
    xyz, misses = best[0][0], best[1][0]
    spare = 2 * m - int(np.sum(~held))
    misfit = float(np.sqrt(np.sum((misses / seen.sd[:, None]) ** 2) / spare)) if spare > 0 else float("nan")
    got = _fit(solution, solution.drawn.state, seen, seen.xy + noise * max(1.0, np.nan_to_num(misfit, nan=1.0)), held)
    if got is None:
        return NotYet("its marks do not meet in front of the cameras")
    draws = got[0]
    reach = float(
        np.median([np.linalg.norm(xyz * [1, s, 1] - st.C[k]) for k, s in zip(seen.shot, seen.sign, strict=True)])
    )
    if not np.isfinite(draws).all() or float(np.sqrt(np.linalg.eigvalsh(np.cov(draws.T))[-1])) > FLATTEST * reach:
        return NotYet("its rays meet too flat: a photograph from another side would place it")
    shots = len(set(seen.shot.tolist()))
    plane = " and the centre plane" if held[1] else " and the ground" if held[2] else ""
    twins = ", its twin's among them," if np.any(seen.sign < 0) else ""
    how = f"by {m} mark{'s' * (m > 1)}{twins} on {shots} photograph{'s' * (shots > 1)}{plane}"
    return Provisional(point, xyz, draws, how, misfit)


def _fit(solution: Solution, st: State, seen: _Seen, xy: Array, held: np.ndarray) -> tuple[Array, Array] | None:
    """Least-squares places (N, 3) under N states, and what the marks miss by (N, M, 2) px; None where half of them fail.

    Begins where the rays come nearest to each other; then Gauss–Newton on the pixels.
    """
    net, s = solution.net, seen.shot
    g = net.camera_of[s]
    turn = np.stack([np.ones(len(s)), seen.sign, np.ones(len(s))], axis=1)
    R, C, principal = st.R[:, s], st.C[:, s], st.principal[:, s]
    f = np.exp(st.logf[:, g])
    kappa = st.kappa[:, g]
    k1, free = kappa * (f / net.rho[g]) ** 2, np.flatnonzero(~held)
    weight = 1 / seen.sd

    d = np.stack(
        [rays(xy[:, j], f[:, j, None], kappa[:, j], net.rho[g[j]], principal[:, j]) for j in range(len(s))], axis=1
    )
    d = np.einsum("nmij,nmi->nmj", R, d)
    d = d / np.linalg.norm(d, axis=-1, keepdims=True) * turn
    P = np.eye(3) - d[..., :, None] * d[..., None, :]
    A, b = P.sum(axis=1), np.einsum("nmij,nmj->ni", P, C * turn)
    X = np.zeros((len(xy), 3))
    small = A[:, free][:, :, free]
    fine = np.linalg.eigvalsh(small)[:, 0] > 1e-9
    X[np.ix_(fine, free)] = np.linalg.solve(small[fine], b[fine][:, free][..., None])[..., 0]

    def misses(X: Array) -> Array:
        with np.errstate(invalid="ignore"):
            return project(X[:, None] * turn, R, C, f, k1, principal) - xy

    for _ in range(STEPS):
        r = misses(X) * weight[:, None]
        J = np.stack([(misses(X + STEP * np.eye(3)[k]) * weight[:, None] - r) / STEP for k in free], axis=-1)
        J, r = J.reshape(len(X), -1, len(free)), r.reshape(len(X), -1)
        N = np.einsum("nri,nrj->nij", J, J)
        fine &= np.isfinite(N).all((1, 2)) & np.isfinite(r).all(1)
        N[~fine] = np.eye(len(free))
        step = np.linalg.solve(N + 1e-9 * np.trace(N, axis1=1, axis2=2)[:, None, None] * np.eye(len(free)),
                               np.einsum("nri,nr->ni", J, np.where(fine[:, None], r, 0.0))[..., None])[..., 0]  # fmt: skip
        X[:, free] -= np.where(fine[:, None], step, 0.0)
    left = misses(X)
    fine &= np.isfinite(left).all((1, 2))
    if np.mean(fine) < 0.5:
        return None
    if (
        not fine.all()
    ):  # a draw whose rays do not meet takes the place of another one that does: few, and told by the spread
        X[~fine] = X[fine][np.arange(int(np.sum(~fine))) % int(np.sum(fine))]
    return X, left


def _rng(point: str) -> np.random.Generator:
    """A stream of the point's own: the same marks give the same draws, whatever else is marked."""
    return np.random.default_rng(zlib.crc32(point.encode()))
