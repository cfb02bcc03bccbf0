"""JCGM 100:2008 (GUM), annex H.2: resistance and reactance measured together.

Tables H.2 and H.4 (the five sets of observations, means, correlations and results), from memory, the results as in
the project's list of checks, where they were recomputed.
"""

import numpy as np
import pytest

from longlens.numbers import joint, lift
from longlens.numbers.streams import gaussian

pytestmark = pytest.mark.published

VOLTAGE = np.array([5.007, 4.994, 5.005, 4.990, 4.999])  # V
CURRENT = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3  # A
PHASE = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])  # rad


def impedance(v, i, phase):
    """R, X and Z of one component from amplitudes and phase shift."""
    return v / i * np.cos(phase), v / i * np.sin(phase), v / i


def mean_and_covariance():
    sets = np.column_stack([VOLTAGE, CURRENT, PHASE])
    return sets.mean(axis=0), np.cov(sets.T) / len(sets)


@pytest.fixture(scope="module")
def results():
    mean, cov = mean_and_covariance()
    draws = gaussian(mean, cov, "GUM H.2")
    names = ("V", "I", "phase")
    inputs = joint(dict(zip(names, draws.T, strict=True)), {"V": "V", "I": "A", "phase": "rad"})
    return lift(impedance, *(inputs[n] for n in names), unit=["ohm"] * 3, name=["R", "X", "Z"])


def test_means_and_correlations_of_the_observations():
    mean, cov = mean_and_covariance()
    assert mean == pytest.approx([4.9990, 19.6610e-3, 1.04446], abs=5e-6)
    sd = np.sqrt(np.diag(cov))
    assert sd == pytest.approx([0.0032, 0.0095e-3, 0.00075], rel=0.02)
    r = cov / np.outer(sd, sd)
    assert (r[0, 1], r[0, 2], r[1, 2]) == pytest.approx((-0.36, 0.86, -0.65), abs=0.006)


def test_joint_draws_give_the_published_results(results):
    values = [float(np.mean(x.draws)) for x in results]
    assert values == pytest.approx([127.732, 219.847, 254.260], abs=0.001)
    assert [x.sd for x in results] == pytest.approx([0.071, 0.295, 0.236], abs=0.0006)


def test_joint_draws_give_the_published_correlations(results):
    r = np.corrcoef([x.draws for x in results])
    assert (r[0, 1], r[0, 2], r[1, 2]) == pytest.approx((-0.588, -0.485, 0.993), abs=0.001)


def test_first_order_propagation_gives_the_same_digits():
    mean, cov = mean_and_covariance()
    J = np.empty((3, 3))
    for k in range(3):
        h = np.zeros(3)
        h[k] = 1e-6 * mean[k]
        J[:, k] = (np.array(impedance(*(mean + h))) - np.array(impedance(*(mean - h)))) / (2 * h[k])
    out = J @ cov @ J.T
    sd = np.sqrt(np.diag(out))
    assert np.array(impedance(*mean)) == pytest.approx([127.732, 219.847, 254.260], abs=0.0006)
    # the annex gives 0.295 by its first approach and 0.296 by its second
    assert sd == pytest.approx([0.071, 0.2955, 0.236], abs=0.0006)
    r = out / np.outer(sd, sd)
    assert (r[0, 1], r[0, 2], r[1, 2]) == pytest.approx((-0.588, -0.485, 0.993), abs=0.0006)


def test_without_the_correlation_the_answer_is_another():
    """Drawn as if independent, u(Z) is not 0.236: the check can fail."""
    mean, cov = mean_and_covariance()
    draws = gaussian(mean, np.diag(np.diag(cov)), "GUM H.2 apart")
    z = draws[:, 0] / draws[:, 1]
    assert abs(np.std(z) - 0.236) > 0.02
