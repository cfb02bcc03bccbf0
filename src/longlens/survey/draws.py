"""Joint draws of all unknowns from what the marks say.

The Gaussian of the adjustment is the first guess. Its draws are weighed by the true cost of each; where the weights are
nearly even the Gaussian stands, where they are moderate the draws are resampled by them, and where they are wild (one
photograph, thin geometry) a mixture of Gaussians follows the one direction that bends: focal length against depth.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from longlens.survey.adjust import Covariance, Fit, adjust, covariance, move
from longlens.survey.camera import Array, rotation
from longlens.survey.datum import generators, ground_normals, middle_of, moved_ground, scene_size
from longlens.survey.network import BLOCK, DENSE, Network, State
from longlens.survey.observations import _fact_rows, edge_angles, edge_marks, point_marks, prior_rows

#: Standard deviation of the log weights, over the root of the number of unknowns, below which the Gaussian stands as it is:
#: many unknowns that are each a little skew spread the weights without moving any one measure (checked by coverage).
EVEN = 0.8
#: Above this standard deviation of log f a third of that is asked.
LOOSE_FOCAL = 0.015
#: Share of effective draws above which weights alone correct it.
ENOUGH = 0.4
#: Standard deviation of a focal length's logarithm below which it bends nothing.
WELL_KNOWN = 0.01
#: Windows to each side along the least known focal direction, and the time they may take.
MOST_WINDOWS = 12
MOST_SECONDS = 60.0


@dataclass
class Draws:
    """``state`` with a leading axis of N draws; how they were made; effective share of the first guess's draws."""

    state: State
    method: str
    effective: float


class _Target:
    """The true cost of steps from the solution, beyond the Gaussian's own."""

    def __init__(self, net: Network, fit: Fit, cov: Covariance, weights: dict[str, Array], inflate: float) -> None:
        self.net, self.fit, self.cov, self.weights, self.inflate = net, fit, cov, weights, inflate
        self.base = self.cost(State(**{k: v[None] for k, v in fit.state.__dict__.items()}))[0]

    def unknowns(self, z: Array) -> State:
        """States of standard normals z (N, D + blocks)."""
        return states_of(self.net, self.fit, self.cov, z, self.inflate)

    def size(self) -> int:
        return unknowns_of(self.cov)

    def cost(self, st: State) -> Array:
        with np.errstate(all="ignore"):  # draws far out may overflow: their cost is then infinite, as it should be
            return self._cost(st)

    def _cost(self, st: State) -> Array:
        net, w = self.net, self.weights
        total = np.zeros(st.logf.shape[:-1])
        if len(net.mark_xy):
            r, behind = point_marks(net, st, derivatives=False)
            r = r * w["mark"][:, None]
            total += np.sum(r * r, axis=(-1, -2)) + np.where((behind & (w["mark"] > 0)).any(-1), np.inf, 0)
        if len(net.edge_xy):
            theta = np.broadcast_to(self.fit.theta, (*total.shape, len(self.fit.theta)))
            r, behind = edge_marks(net, st, edge_angles(net, st, theta, 2), derivatives=False)
            r = r * w["edge"][:, None]
            total += np.sum(r * r, axis=(-1, -2)) + np.where(behind.any(-1), np.inf, 0)
        for q in _fact_rows(net, st, w) + prior_rows(net, st):
            total = total + np.sum(q.r**2, axis=(-1, -2))
        if len(net.radius_of):
            total = np.where(np.any(st.radius <= 0, axis=-1), np.inf, total)
        return np.nan_to_num(total / 2, nan=np.inf)

    def excess(self, z: Array) -> tuple[Array, State]:
        """Φ(z): true cost over the Gaussian's, both from the solution; datum directions do not count."""
        with np.errstate(all="ignore"):
            st = self.unknowns(z)
        gauss = 0.5 * np.sum(z * z, axis=1)
        return (self.cost(st) - self.base) / self.inflate**2 - gauss, st

    def hold_datum(self, z: Array) -> Array:
        """Take the free datum directions out of z: they are no knowledge."""
        if self.cov.null.shape[1]:
            D = len(self.cov.root)
            N, _ = np.linalg.qr(np.linalg.lstsq(self.cov.root, self.cov.null, rcond=None)[0])
            z = z.copy()
            z[:, :D] -= z[:, :D] @ N @ N.T
        return z


def states_of(net: Network, fit: Fit, cov: Covariance, z: Array, inflate: float = 1.0) -> State:
    """States (N draws) of standard normals z (N, D + blocks) about a fit."""
    D = len(cov.root)
    d = z[:, :D] @ cov.root.T * inflate
    parts, at = {}, D
    for f, Y in cov.Y.items():
        n, B, _ = Y.shape
        parts[f] = z[:, at : at + n * B].reshape(len(z), n, B) * inflate
        at += n * B
    turn, blocks = _turn_of_the_whole(net, fit.state, d), cov.blocks(d, parts)
    d = d - turn @ generators(net, fit.state)[:, 3:6].T
    for f in blocks:  # out of every body, tied or not: only then does putting it back change nothing to first order
        blocks[f] = blocks[f] - _turn_of_blocks(net, fit.state, f, turn)
    return _on_their_grounds(net, _turned(net, fit.state, move(net, fit.state, d, blocks), turn))


def unknowns_of(cov: Covariance) -> int:
    """How many standard normals a draw takes."""
    return len(cov.root) + sum(Y.shape[0] * Y.shape[1] for Y in cov.Y.values())


def _turn_of_the_whole(net: Network, st: State, d: Array) -> Array:
    """(N, 3) turns of the whole scene, rad, that come nearest to steps ``d`` (N, D) in cameras and tied bodies.

    The ground may be known so badly that the whole car's pitch is open by tens of degrees. Taken as a straight step, such a
    turn would stretch every length; taken out and done as a turn it changes none."""
    weight = np.zeros(net.columns)
    shots = net.at_shot + 8 * np.arange(len(net.shots))[:, None]
    weight[(shots + np.arange(3)).ravel()] = 1.0
    weight[(shots + 3 + np.arange(3)).ravel()] = weight[net.at_body :] = 1 / scene_size(st)
    G = generators(net, st)
    return np.linalg.lstsq(G * weight[:, None], (d * weight).T, rcond=1e-10)[0].T[:, 3:6]


def _turn_of_blocks(net: Network, st: State, f: int, turn: Array) -> Array:
    """(N, count, B) straight steps of a family's bodies that go with turns (N, 3) of the whole about its middle."""
    members = np.flatnonzero(net.family == f)
    out = np.zeros((len(turn), net.count[f], BLOCK[f] // 3, 3))
    arm = st.X[members] - middle_of(net, st)
    out[:, net.slot[members], net.part[members]] = np.cross(turn[:, None, :], arm) * net.free[members]
    return out.reshape(len(turn), net.count[f], BLOCK[f])


def _on_their_grounds(net: Network, st: State) -> State:
    """Points on the ground of another stance laid back on it along their first ray, in place.

    A straight step of plane and point together leaves the plane by the product of both: little beside the pixels, much beside
    the 10 µm by which the point is held to it."""
    b = net.ground_body
    if len(b):
        row = np.array([np.flatnonzero(net.mark_body == k)[0] for k in b])  # a body is there because it was marked
        mirror = np.stack([np.ones(len(b)), net.mark_sign[row], np.ones(len(b))], axis=-1)
        ray = st.X[..., b, :] - st.C[..., net.mark_shot[row], :] * mirror
        g = st.ground[..., np.searchsorted(net.ground_used, net.ground_stance), :]
        n = ground_normals(g)
        off = g[..., 0] - np.sum(n * st.X[..., b, :], axis=-1)
        down = np.sum(n * ray, axis=-1)
        part = np.where(np.abs(down) > 1e-6, off / np.where(down == 0, 1.0, down), 0.0)
        st.X[..., b, :] += np.clip(part, -0.5, 0.5)[..., None] * ray
    return st


def _turned(net: Network, at: State, st: State, turn: Array) -> State:
    """States (N draws) turned by ``turn`` (N, 3) about the middle of the solution ``at``, cameras and circles too."""
    Q, middle = rotation(turn), middle_of(net, at)
    out = st.copy()
    out.X = np.where(net.free, np.einsum("nij,nbj->nbi", Q, st.X - middle) + middle, st.X)
    out.C = np.einsum("nij,nsj->nsi", Q, st.C - middle) + middle
    out.R = st.R @ np.swapaxes(Q, -1, -2)[:, None]
    out.normal = np.einsum("nij,nmj->nmi", Q, st.normal)
    out.ground = moved_ground(st.ground, Q, middle)
    return out


def draw(
    net: Network,
    fit: Fit,
    cov: Covariance,
    weights: dict[str, Array],
    rng: np.random.Generator,
    n: int,
    inflate: float = 1.0,
    progress=None,
) -> Draws:
    """n joint draws. ``inflate`` scales all standard deviations (a misfit larger than the stated errors explain)."""
    target = _Target(net, fit, cov, weights, inflate)
    z = target.hold_datum(rng.standard_normal((n, target.size())))
    if target.size() * n > 40_000_000 or n * (len(net.mark_xy) + 4 * len(net.edge_xy)) > 30_000_000:
        return Draws(target.unknowns(z), "gaussian", 1.0)  # so many marks that the Gaussian is as good as exact
    probe = min(n, 400)
    phi, st = target.excess(z[:probe])
    spread = _spread(phi)
    limit = EVEN if np.std(st.logf, axis=0).max() < LOOSE_FOCAL else EVEN / 3
    if spread < limit * np.sqrt(target.size()):
        rest = target.unknowns(z[probe:]) if probe < n else None
        return Draws(_join(st, rest) if rest is not None else st, "gaussian", 1.0)
    phi = np.concatenate([phi, *(target.excess(z[i : i + 400])[0] for i in range(probe, n, 400))])
    w = np.exp(-(phi - phi.min()))
    w = np.minimum(w, w.mean() * np.sqrt(n))  # truncated weights (Ionides 2008)
    w /= w.sum()
    effective = float(1 / np.sum(w * w) / n)
    if effective > ENOUGH:
        pick = _systematic(rng, w, n)
        return Draws(target.unknowns(z[pick]), "weighted", effective)
    mixed = _along_focal(target, cov.null, rng, n, progress)
    if mixed is None:
        return Draws(target.unknowns(z), "gaussian", effective)
    return Draws(mixed, "mixture", effective)


def mixed(drawn: Draws, others: list[State], rng: np.random.Generator) -> Draws:
    """As many draws as before, those of other solutions taking the place of the last ones, shuffled."""
    n = len(drawn.state.logf)
    keep = n - sum(len(o.logf) for o in others)
    out = State(**{k: v[:keep] for k, v in drawn.state.__dict__.items()})
    for o in others:
        out = _join(out, o)
    order = rng.permutation(n)
    return Draws(State(**{k: v[order] for k, v in out.__dict__.items()}), "rivals", drawn.effective)


def _spread(phi: Array) -> float:
    ok = np.isfinite(phi)
    if ok.mean() < 0.98:
        return np.inf
    return float(np.subtract(*np.percentile(phi[ok], [84, 16])) / 2)


def _systematic(rng: np.random.Generator, w: Array, n: int) -> np.ndarray:
    """Systematic resampling, shuffled."""
    at = (rng.random() + np.arange(n)) / n
    return rng.permutation(np.minimum(np.searchsorted(np.cumsum(w), at), len(w) - 1))


def _along_focal(target: _Target, null: Array, rng: np.random.Generator, n: int, progress) -> State | None:
    """Draws from a mixture of Gaussians along the direction in which the focal lengths are least known.

    That direction (depth against focal length) is the one that bends. It is parted by overlapping windows; within each the
    whole is fitted again and is nearly Gaussian. A window weighs by the profile likelihood, not by its volume: a flat prior on
    every place would let thirty points vote for a distant scene.
    None where the focal lengths are known so well that there is no such direction.
    """
    net, fit, w, inflate = target.net, target.fit, target.weights, target.inflate
    G = len(net.cameras)
    at = net.at_camera + 2 * np.arange(G)
    eig, E = np.linalg.eigh(target.cov.Sigma[np.ix_(at, at)])
    sd, e = float(np.sqrt(max(eig[-1], 0.0))) * inflate, E[:, -1]
    if sd < WELL_KNOWN:
        return None
    step = min(0.8 * sd, 0.35)
    found: list[tuple[float, Fit, Covariance]] = []
    began = time.monotonic()
    best = -np.inf
    for side in (1, -1):
        here = fit
        for k in range(0 if side > 0 else 1, MOST_WINDOWS):
            shift = side * k * step
            if k and not _is_lens(net, fit.state.logf + shift * e):
                break
            net.pin = (e, fit.state.logf.copy(), shift, 0.7 * step / inflate)
            try:
                start = drawn_back(net, here.state, side * step * e) if k else here.state
                got = adjust(net, start, weights=w, iterations=40, tolerance=1e-7, damping=1e-4)
                cov = covariance(net, got.normal, null) if got is not None else None
            finally:
                net.pin = None
            if got is None or cov is None:
                break
            weight = -got.cost / inflate**2
            best = max(best, weight)
            found.append((weight, got, cov))
            here = got
            if progress:
                progress("following the focal length", min(1.0, len(found) / 12))
            if weight < best - 7 or time.monotonic() - began > MOST_SECONDS:
                break
    if not found:
        return None
    weights = np.exp([f[0] - best for f in found])
    pick = np.searchsorted(np.cumsum(weights / weights.sum()), (rng.random() + np.arange(n)) / n)
    parts = []
    for k, (_, got, cov) in enumerate(found):
        number = int(np.sum(np.minimum(pick, len(found) - 1) == k))
        if number:
            one = _Target(net, got, cov, w, inflate)
            parts.append(one.unknowns(one.hold_datum(rng.standard_normal((number, one.size())))))
    out = parts[0]
    for part in parts[1:]:
        out = _join(out, part)
    order = rng.permutation(n)
    return State(**{name: v[order] for name, v in out.__dict__.items()})


def _is_lens(net: Network, logf: Array) -> bool:
    """Whether all free focal lengths are of a lens that exists (0.3 to 15 of the picture's longer side)."""
    side = np.array([net.size[net.camera_of == g].max() for g in range(len(net.cameras))])
    ratio = np.exp(logf) / side
    return bool(np.all((ratio > 0.3) & (ratio < 15) | (net.logf_sd < 0.3)))


def drawn_back(net: Network, st: State, by: Array) -> State:
    """Cameras drawn back (or nearer) from the scene's middle as their focal lengths grow by ``by`` (G,): the picture's
    size stays."""
    out = st.copy()
    middle = np.median(st.X, axis=0)
    out.logf = st.logf + by
    out.C = middle + (st.C - middle) * np.exp(by[net.camera_of])[:, None]
    return out


def _join(a: State, b: State) -> State:
    return State(**{k: np.concatenate([v, getattr(b, k)]) for k, v in a.__dict__.items()})


def body_covariance(net: Network, cov: Covariance, bodies: np.ndarray) -> Array:
    """(n, 3, 3) covariances of bodies by the Gaussian, m²; coordinates that are held have none."""
    out = np.zeros((len(bodies), 3, 3))
    for k, b in enumerate(bodies):
        f, s = net.family[b], net.slot[b]
        if f == DENSE:
            i = net.at_body + 3 * s + np.arange(3)
            C = cov.Sigma[np.ix_(i, i)]
        else:
            part = slice(3 * net.part[b], 3 * net.part[b] + 3)
            Y = cov.Y[f][s, part]
            C = cov.Vi[f][s][part, part] + Y @ cov.Sigma @ Y.T
        free = net.free[b]
        out[k] = C * free[:, None] * free[None, :]
    return out
