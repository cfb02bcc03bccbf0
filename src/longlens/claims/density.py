"""Likelihoods from draws: how dense what was measured lies under what an alternative predicts.

The likelihood of an alternative is the density, at zero, of *predicted − measured*: for independent draws ∫ q(v) p(v) dv with
p the prediction and q what the measurement says, and draws of one car keep what the two have in common. The density is a Gaussian
kernel estimate (Silverman 1986, eq. 3.31 for its width). An alternative's model may be wrong in a way that its scatter does not
tell: with the probability :data:`SURPRISE` the value comes from a spread ten times as wide, the
same for all alternatives. That bounds every ratio: 2,000
draws know nothing of tails, and no single number settles a question.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

Array = Any
#: Probability that a prediction misses altogether: likely, and its range (assumed; common practice, no source).
SURPRISE = (0.02, 0.005, 0.1)
WIDER = 10.0


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
    """Natural logarithms (likely, at few surprises, at many) of each alternative's likelihood.

    Parameters
    ----------
    predicted : alternative → (N,) draws, model error included; an empty array: it predicts nothing (something else) and gets the
        wide spread.
    measured : (N,) draws in the same unit, joint with the predictions where these come from the same survey.
    model_sd : a further normal model error, in the unit, where the predictions do not hold it.
    """
    measured = np.asarray(measured, float)
    sd_measured = float(np.nanstd(measured))
    gaps: dict[str, Array] = {}
    rng = np.random.default_rng(20150309)
    for name, draws in predicted.items():
        draws = np.asarray(draws, float)
        if draws.size:
            gap = draws - measured
            gaps[name] = gap + (model_sd * rng.standard_normal(gap.shape) if model_sd else 0.0)
    if not gaps:
        return dict.fromkeys(predicted, (0.0, 0.0, 0.0))
    pooled = np.concatenate([g[np.isfinite(g)] for g in gaps.values()])
    own = max(float(np.nanstd(g)) for g in gaps.values())
    floor = max(own, sd_measured, 1e-9 * float(np.max(np.abs(pooled), initial=0.0)), 1e-300)
    wide = WIDER * floor
    centre = float(np.median(pooled))
    broad = float(np.exp(-0.5 * (centre / wide) ** 2) / (wide * np.sqrt(2 * np.pi)))
    out = {}
    for name in predicted:
        narrow = _density(gaps[name], floor) if name in gaps else None
        out[name] = tuple(
            float(np.log(max(broad if narrow is None else (1 - s) * narrow + s * broad, 1e-300))) for s in SURPRISE
        )
    return out  # type: ignore[return-value]


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
