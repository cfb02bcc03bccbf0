"""Bayes' rule over several alternatives, on logarithms: one function for a handbook's example and for 2,000 draws.

Shapes: ``prior`` (A,); ``log_likelihood`` (..., A), natural logarithms up to a constant in each row; ``weights`` (..., I, A)
holds I items. Source of the rule: Bayes 1763; of the weight of evidence as the logarithm of a likelihood ratio: Good 1950,
*Probability and the Weighing of Evidence*.
"""

from __future__ import annotations

from typing import Any

import numpy as np

Array = Any
#: How far priors may miss one together: what typing two decimals leaves.
SUM_TOLERANCE = 0.005


def posterior(prior: Array, log_likelihood: Array) -> Array:
    """Probabilities (..., A) after the evidence.

    An alternative of prior zero stays at zero whatever the evidence says. Where the evidence excludes every alternative that had
    a chance, no probability is left to share out and the row is NaN.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        joint = np.log(np.asarray(prior, float)) + np.asarray(log_likelihood, float)
        top = np.max(joint, axis=-1, keepdims=True)
        scaled = np.exp(joint - np.where(np.isfinite(top), top, 0.0))
        return np.where(np.isfinite(top), scaled / np.sum(scaled, axis=-1, keepdims=True), np.nan)


def ratio(log_likelihood: Array, one: int, other: int) -> Array:
    """Likelihood ratio (...) of one alternative over another; infinite where the other is excluded."""
    a = np.asarray(log_likelihood, float)
    with np.errstate(over="ignore"):
        return np.exp(a[..., one] - a[..., other])


def path(prior: Array, weights: Array) -> Array:
    """Beliefs (I + 1, A) as items (I, A) are taken in one after the other, the prior first."""
    weights = np.asarray(weights, float).reshape(-1, np.size(prior))
    gathered = np.vstack([np.zeros((1, np.size(prior))), np.cumsum(weights, axis=0)])
    return posterior(prior, gathered)


def dropped(prior: Array, weights: Array) -> Array:
    """Posteriors (I, A), each with one of the items (I, A) left out."""
    weights = np.asarray(weights, float).reshape(-1, np.size(prior))
    out = [posterior(prior, np.sum(np.delete(weights, i, axis=0), axis=0)) for i in range(len(weights))]
    return np.array(out).reshape(-1, np.size(prior))


def fewest_to_turn(prior: Array, weights: Array) -> list[int] | None:
    """The smallest set of items (indices, heaviest first) without which another alternative leads; None where the prior alone
    gives the same leader against every rival.

    Exact: against one rival it is best to drop the items that favour the leader over it most, so each rival is tried.
    """
    weights = np.asarray(weights, float).reshape(-1, np.size(prior))
    now = np.asarray(posterior(prior, weights.sum(axis=0)))
    if not np.all(np.isfinite(now)):
        return None
    lead = int(np.argmax(now))
    best: list[int] | None = None
    for rival in range(np.size(prior)):
        if rival == lead or np.asarray(prior)[rival] <= 0:
            continue
        with np.errstate(invalid="ignore"):
            margin = weights[:, lead] - weights[:, rival]
            left = float(np.log(np.asarray(prior)[lead] / np.asarray(prior)[rival]) + margin.sum())
        found: list[int] = []
        for i in np.argsort(-margin, kind="stable"):
            if left < 0 or margin[i] <= 0:
                break
            left -= float(margin[i])
            found.append(int(i))
        if left < 0 and (best is None or len(found) < len(best)):
            best = found
    return best


def entropy(p: Array) -> Array:
    """Shannon's entropy (...) of probabilities (..., A), in bits (Shannon 1948)."""
    p = np.asarray(p, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return -np.sum(np.where(p > 0, p * np.log2(np.where(p > 0, p, 1.0)), 0.0), axis=-1)


def expected_information(belief: Array, chances: Array) -> float:
    """Bits that an observation is expected to give about the alternatives: their mutual information (Lindley 1956).

    Parameters
    ----------
    belief : (A,) probabilities now.
    chances : (O, A): how likely each of the O things that could be seen is under each alternative; columns add up to one.
    """
    belief, chances = np.asarray(belief, float), np.asarray(chances, float)
    joint = chances * belief
    seen = joint.sum(axis=1)
    after = np.divide(joint, seen[:, None], out=np.zeros_like(joint), where=seen[:, None] > 0)
    return max(0.0, float(entropy(belief) - np.sum(seen * entropy(after))))


def chance_of_turning(belief: Array, chances: Array) -> float:
    """Probability that another alternative than now leads after the observation; arguments as above."""
    belief, chances = np.asarray(belief, float), np.asarray(chances, float)
    joint = chances * belief
    turned = np.argmax(joint, axis=1) != int(np.argmax(belief))
    return float(np.clip(np.sum(joint.sum(axis=1)[turned]), 0.0, 1.0))
