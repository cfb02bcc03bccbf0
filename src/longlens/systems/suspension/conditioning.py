"""What is known about distances makes uncertain points surer: joint draws conditioned on observations of functions of
them.

Each draw is a sample of the prior; for each, the nearest point (in the prior's own metric) that meets its own disturbed
observations is found by Gauss and Newton, all draws at once. For functions that are straight over the draws' spread
this is exact conditioning; for curved ones it is the randomised maximum-likelihood sampler (Oliver, He & Reynolds
1996), good while the curvature over one standard deviation is small. The prior must be near to Gaussian.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from longlens.systems.suspension.vectors import Array


@dataclass(frozen=True)
class Knowledge:
    """One thing known: ``function`` of the state (N, d) is ``value`` ± ``sd``.

    ``function`` gives values (N, k) and slopes (N, k, d). ``pair`` names the two points concerned, for messages.
    """

    name: str
    function: Callable[[Array], tuple[Array, Array]]
    value: float
    sd: float
    pair: tuple[str, str] = ("", "")


@dataclass(frozen=True)
class Conditioned:
    """Draws after conditioning, and how well what was known agrees with the prior.

    ``draws`` (N, d). ``tests``: name → how many standard deviations the prior's mean is from what is known (root mean
    square over its components, prior and knowledge together): above 3 they contradict each other.
    ``misfit``: largest distance from a draw's own observations, in their standard deviations.
    """

    draws: Array
    tests: dict[str, float]
    misfit: float

    @property
    def contradicted(self) -> list[str]:
        """What the draws contradict, worst first."""
        return sorted((k for k, t in self.tests.items() if t > 3.0), key=lambda k: -self.tests[k])


def condition(
    draws: Array, known: Sequence[Knowledge], *, seed: int = 0, iterations: int = 12, prior_mean: Array | None = None
) -> Conditioned:
    """Condition joint draws (N, d) on what is known.

    Parameters
    ----------
    seed : of the disturbances of the observations.
    prior_mean : (d,) of the prior; default the draws' mean.

    The prior covariance is the draws' own; N must be several times d. Directions in which the draws do not vary stay
    as they are.
    """
    x0 = np.asarray(draws, float)
    n = len(x0)
    mean = x0.mean(axis=0) if prior_mean is None else np.asarray(prior_mean, float)
    # Work in the prior's principal directions, scaled: z ~ N(0, 1); columns beyond the draws' rank fall away.
    u, s, vt = np.linalg.svd((x0 - mean) / np.sqrt(n - 1), full_matrices=False)
    keep = s > 1e-12 * max(float(s[0]), 1e-300)
    root = vt[keep].T * s[keep]
    z0 = (u[:, keep] * np.sqrt(n - 1)).copy()
    rng = np.random.default_rng(seed)
    sizes = [k.function(x0[:1])[0].shape[1] for k in known]
    noise = [rng.standard_normal((n, m)) for m in sizes]
    noise = [e - e.mean(axis=0) for e in noise]
    z = z0.copy()
    last = np.inf
    for _ in range(iterations):
        r, G = _residuals(mean + z @ root.T, known, root, noise)
        # minimise |z − z0|² + |r(z)|²; the dual form, since observations are usually fewer than unknowns
        rhs = r - np.einsum("nkd,nd->nk", G, z - z0)
        K = G @ np.swapaxes(G, -1, -2) + np.eye(G.shape[1])
        step = z0 - np.einsum("nkd,nk->nd", G, np.linalg.solve(K, rhs[..., None])[..., 0]) - z
        z = z + step
        last = float(np.max(np.abs(step)))
        if last < 1e-5:  # of a prior standard deviation
            break
    r, _ = _residuals(mean + z @ root.T, known, root, noise)
    return Conditioned(mean + z @ root.T, _tests(mean, known, root), float(np.max(np.abs(r))))


def _residuals(x: Array, known: Sequence[Knowledge], root: Array, noise: list[Array]) -> tuple[Array, Array]:
    rs, Gs = [], []
    for k, e in zip(known, noise, strict=True):
        f, slope = k.function(x)
        rs.append((f - k.value) / k.sd - e)
        Gs.append(slope @ root / k.sd)
    return np.concatenate(rs, axis=1), np.concatenate(Gs, axis=1)


def _tests(mean: Array, known: Sequence[Knowledge], root: Array) -> dict[str, float]:
    out = {}
    for k in known:
        f, slope = k.function(mean[None])
        g = slope[0] @ root
        c = g @ g.T + k.sd**2 * np.eye(len(g))
        miss = f[0] - k.value
        out[k.name] = float(np.sqrt(miss @ np.linalg.solve(c, miss) / len(miss)))
    return out


# Functions of a state: all take the places of points in it -------------------------------------------------


@dataclass(frozen=True)
class Places:
    """Where points stand in a state vector: name → first of its three columns. Names not in it can be given as
    fixed."""

    names: tuple[str, ...]

    @property
    def size(self) -> int:
        return 3 * len(self.names)

    def column(self, name: str) -> int:
        return 3 * self.names.index(name)

    def state(self, points: dict[str, Array]) -> Array:
        """Draws (N, 3) by name to (N, d)."""
        return np.concatenate([np.asarray(points[n], float) for n in self.names], axis=-1)

    def points(self, state: Array) -> dict[str, Array]:
        """(N, d) back to draws (N, 3) by name."""
        return {n: state[:, 3 * i : 3 * i + 3] for i, n in enumerate(self.names)}

    def distance(self, a: str, b: str) -> Callable[[Array], tuple[Array, Array]]:
        """The distance of two points."""
        i, j, d = self.column(a), self.column(b), self.size

        def f(x: Array) -> tuple[Array, Array]:
            v = x[:, j : j + 3] - x[:, i : i + 3]
            length = np.linalg.norm(v, axis=1)
            e = v / length[:, None]
            slope = np.zeros((len(x), 1, d))
            slope[:, 0, j : j + 3], slope[:, 0, i : i + 3] = e, -e
            return length[:, None], slope

        return f

    def difference(self, one: tuple[str, str], other: tuple[str, str]) -> Callable[[Array], tuple[Array, Array]]:
        """The distance of one pair less that of another: equal rods left and right, or in two stances."""
        f, g = self.distance(*one), self.distance(*other)

        def h(x: Array) -> tuple[Array, Array]:
            a, da = f(x)
            b, db = g(x)
            return a - b, da - db

        return h

    def off_plane(self, point: str, plane: tuple[str, str, str]) -> Callable[[Array], tuple[Array, Array]]:
        """Distance of a point from the plane through three others: a pivot on the rocker's plane."""
        i = self.column(point)
        p, q, r = (self.column(k) for k in plane)
        d = self.size

        def f(x: Array) -> tuple[Array, Array]:
            a, b, c, s = (x[:, k : k + 3] for k in (p, q, r, i))
            n = np.cross(b - a, c - a)
            size = np.linalg.norm(n, axis=1, keepdims=True)
            n = n / size
            slope = np.zeros((len(x), 1, d))
            slope[:, 0, i : i + 3] = n
            # The plane's own points carry the rest, by the barycentric weights of the foot.
            weights = _barycentric(a, b, c, s, n)
            for k, w in zip((p, q, r), weights, strict=True):
                slope[:, 0, k : k + 3] -= w[:, None] * n
            return np.sum((s - a) * n, axis=1, keepdims=True), slope

        return f

    def offset(self, point: str, other: str) -> Callable[[Array], tuple[Array, Array]]:
        """The three coordinates of a point less another's: a bearing inside its boss."""
        i, j, d = self.column(point), self.column(other), self.size

        def f(x: Array) -> tuple[Array, Array]:
            slope = np.zeros((len(x), 3, d))
            slope[:, range(3), range(i, i + 3)] = 1.0
            slope[:, range(3), range(j, j + 3)] = -1.0
            return x[:, i : i + 3] - x[:, j : j + 3], slope

        return f


def _barycentric(a: Array, b: Array, c: Array, s: Array, n: Array) -> tuple[Array, Array, Array]:
    def twice(u: Array, v: Array) -> Array:
        return np.sum(np.cross(u, v) * n, axis=1)

    whole = twice(b - a, c - a)
    wb, wc = twice(s - a, c - a) / whole, twice(b - a, s - a) / whole
    return 1 - wb - wc, wb, wc
