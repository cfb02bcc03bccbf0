"""Likelihoods from draws: how dense what was measured lies under what an alternative predicts.

The likelihood of an alternative is the density, at zero, of *predicted − measured*: for independent draws ∫ q(v) p(v) dv with
p the prediction and q what the measurement says, and draws of one car keep what the two have in common. The density is a Gaussian
kernel estimate (Silverman 1986, eq. 3.31 for its width). An alternative's model may be wrong in a way that its scatter does not
tell: with the probability :data:`SURPRISE` the value comes from a spread ten times as wide, the
same for all alternatives. That bounds every ratio: 2,000
draws know nothing of tails, and no single number settles a question.

The range of a ratio holds three doubts. How often predictions miss (:data:`SURPRISE`); how wide each prediction should be, its
standard deviation anywhere between half and twice what was given (:data:`DOUBT`, for each alternative by itself); and that other
draws would have been as good (the draws resampled, Efron 1979). It is the central 95 % of :data:`TRIES` tries of all three.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

Array = Any
Z95 = 1.959963984540054
#: Probability that a prediction misses altogether: likely, and its range (assumed; common practice, no source).
SURPRISE = (0.02, 0.005, 0.1)
WIDER = 10.0
#: By what factor a prediction's standard deviation may be wrong either way, as a 95 % range (assumed; no source).
DOUBT = 2.0
TRIES = 160


def density_at(draws: Array, at: float = 0.0) -> float:
    """Kernel density of the finite draws (N,) at a place, in 1/unit; 0 where there are none.

    Draws without any spread have no density: then infinite where they all lie there, else 0.
    """
    x = np.asarray(draws, float)
    x = x[np.isfinite(x)]
    if not x.size:
        return 0.0
    sd = float(np.std(x))
    if sd == 0:
        return float("inf") if x[0] == at else 0.0
    q1, q3 = np.quantile(x, (0.25, 0.75))
    spread = min(sd, (q3 - q1) / 1.349) or sd
    width = 0.9 * spread * x.size ** (-0.2)
    z = (x - at) / width
    return float(np.mean(np.exp(-0.5 * z * z)) / (width * np.sqrt(2 * np.pi)))


def log_likelihoods(
    predicted: Mapping[str, Array], measured: Array, model_sd: float = 0.0
) -> dict[str, tuple[float, float, float]]:
    """Natural logarithms (likely, at few surprises, at many) of each alternative's likelihood, spreads taken as given.

    Parameters
    ----------
    predicted : alternative → (N,) draws, model error included; an empty array: it predicts nothing (something else) and gets the
        wide spread.
    measured : (N,) draws in the same unit, joint with the predictions where these come from the same survey.
    model_sd : a further normal model error, in the unit, where the predictions do not hold it.
    """
    made = _Gaps(predicted, measured, model_sd)
    columns = [made.logs(s) for s in SURPRISE]
    return {name: (columns[0][k], columns[1][k], columns[2][k]) for k, name in enumerate(predicted)}


def tried(predicted: Mapping[str, Array], measured: Array, model_sd: float = 0.0, tries: int = TRIES) -> Array:
    """(tries, A) natural log likelihoods, alternatives in the order of ``predicted``, with every doubt drawn anew in each try.

    The surprises from a normal with two halves on their logarithm, the factor on each prediction's standard deviation from a
    log-normal whose 95 % range is 1/DOUBT to DOUBT, the draws with replacement. Parameters as in :func:`log_likelihoods`.
    """
    made = _Gaps(predicted, measured, model_sd)
    rng = np.random.default_rng(20150311)
    out = np.empty((tries, len(predicted)))
    about = made.about()
    likely, few, many = np.log(SURPRISE)
    for t in range(tries):
        z = rng.standard_normal() / Z95
        surprise = float(np.exp(likely + (z * (many - likely) if z > 0 else -z * (few - likely))))
        factors = {name: float(DOUBT ** (rng.standard_normal() / Z95)) for name in predicted}
        out[t] = made.again(factors, about, rng).logs(surprise)
    return out


class _Gaps:
    """*Predicted − measured* of each alternative, and the wide spread that all of them share."""

    def __init__(self, predicted: Mapping[str, Array], measured: Array, model_sd: float = 0.0) -> None:
        self.measured = np.asarray(measured, float)
        self.predicted: dict[str, Array] = {}
        rng = np.random.default_rng(20150309)
        for name, draws in predicted.items():
            x = np.asarray(draws, float)
            if x.size:
                shape = np.broadcast_shapes(x.shape, self.measured.shape)
                x = x + (model_sd * rng.standard_normal(shape) if model_sd else 0.0)
            self.predicted[name] = x
        gaps = {name: x - self.measured for name, x in self.predicted.items() if x.size}
        self.gaps = gaps
        self.floor = self.broad = 1.0
        if gaps:
            pooled = np.concatenate([g[np.isfinite(g)] for g in gaps.values()])
            own = max(float(np.nanstd(g)) for g in gaps.values())
            sd_measured = float(np.nanstd(self.measured))
            self.floor = max(own, sd_measured, 1e-9 * float(np.max(np.abs(pooled), initial=0.0)), 1e-300)
            wide = WIDER * self.floor
            centre = float(np.median(pooled))
            self.broad = float(np.exp(-0.5 * (centre / wide) ** 2) / (wide * np.sqrt(2 * np.pi)))

    def about(self) -> dict[str, Array]:
        """Each prediction about its median."""
        return {name: x - np.nanmedian(x) for name, x in self.predicted.items() if x.size}

    def again(self, factors: Mapping[str, float], about: Mapping[str, Array], rng: np.random.Generator) -> _Gaps:
        """The same with predictions drawn out about their medians, and all draws taken anew row by row."""
        out = object.__new__(_Gaps)
        out.measured, out.predicted, out.floor, out.broad = self.measured, self.predicted, self.floor, self.broad
        out.gaps = {}
        for name, gap in self.gaps.items():
            # only the prediction widens; what it has in common with the measurement stays
            moved = gap + (factors[name] - 1.0) * about[name]
            out.gaps[name] = moved[rng.integers(0, moved.size, moved.size)]
        return out

    def logs(self, surprise: float) -> list[float]:
        """The logarithm of each alternative's likelihood."""
        if not self.gaps:
            return [0.0] * len(self.predicted)
        out = []
        for name in self.predicted:
            narrow = _density(self.gaps[name], self.floor) if name in self.gaps else None
            both = self.broad if narrow is None else (1 - surprise) * narrow + surprise * self.broad
            out.append(float(np.log(max(both, 1e-300))))
        return out


def _density(gap: Array, floor: float) -> float:
    """Density at zero; figures without any spread get a narrow one."""
    if float(np.nanstd(gap)) < 1e-6 * floor:
        z = float(np.nanmedian(gap)) / (0.01 * floor)
        return float(np.exp(-0.5 * z * z) / (0.01 * floor * np.sqrt(2 * np.pi)))
    return density_at(gap)


def expected_bits(belief: Array, predicted: list[Array], sd: float, bins: int = 200) -> float:
    """Bits expected of measuring a quantity with a standard deviation ``sd``; ``predicted`` one (N,) per alternative.

    The quantity is cut into bins as fine as the measurement allows; mutual information as in
    :func:`longlens.claims.bayes.expected_information`.
    """
    from longlens.claims.bayes import expected_information

    rng = np.random.default_rng(20150310)
    seen = []
    for draws in predicted:
        fine = np.asarray(draws, float)[np.isfinite(draws)]
        if fine.size == 0:
            return 0.0
        seen.append(fine + sd * rng.standard_normal(fine.size))
    every = np.concatenate(seen)
    a, b = np.quantile(every, (0.001, 0.999))
    if not b > a:
        return 0.0
    # as many bins as the draws can fill: empty cells would pass for information
    n = int(np.clip(min(bins, min(map(len, seen)) / 40, 4 * (b - a) / max(sd, 1e-300)), 4, bins))
    edges = np.linspace(a, b, n + 1)[1:-1]
    table = np.stack([np.bincount(np.searchsorted(edges, s), minlength=n) / len(s) for s in seen], axis=1)
    return expected_information(belief, table)
