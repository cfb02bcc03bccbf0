"""Quantiles against SciPy's distributions (a general-purpose library)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from longlens.numbers import distributions as d

U = np.linspace(0.0005, 0.9995, 199)


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (d.Normal(3, 0.5), stats.norm(3, 0.5)),
        (d.Uniform(-1, 4), stats.uniform(-1, 5)),
        (d.Triangular(1, 2, 5), stats.triang(0.25, 1, 4)),
        (d.Triangular(1, 1, 5), stats.triang(0.0, 1, 4)),
        (d.Triangular(1, 5, 5), stats.triang(1.0, 1, 4)),
        (d.LogNormal(2.5, 0.3), stats.lognorm(0.3, scale=2.5)),
        (d.TruncatedNormal(1, 2, 0, 5), stats.truncnorm(-0.5, 2, 1, 2)),
        (d.TruncatedNormal(0, 1, 4, 9), stats.truncnorm(4, 9, 0, 1)),
        (d.TruncatedNormal(0, 1, -9, -4), stats.truncnorm(-9, -4, 0, 1)),
    ],
)
def test_quantiles_agree_with_scipy(ours, theirs):
    assert ours.quantile(U) == pytest.approx(theirs.ppf(U), rel=1e-8, abs=1e-10)


shapes = st.sampled_from(
    [d.Exact(2.0), d.Normal(2, 0.3), d.Uniform(1, 3), d.Triangular(1, 2, 4), d.TruncatedNormal(2, 1, 0, 3)]
)


@given(shapes, st.floats(-10, 10).filter(lambda x: abs(x) > 1e-3), st.floats(-5, 5))
def test_scaling_a_distribution_scales_its_draws(shape, factor, offset):
    moved = shape.scaled(factor, offset).quantile(U)
    want = shape.quantile(U if factor > 0 else 1 - U) * factor + offset
    assert moved == pytest.approx(want, abs=1e-9 * (abs(factor) + abs(offset) + 1))
    assert shape.scaled(factor, offset).centre == pytest.approx(shape.centre * factor + offset)


@pytest.mark.parametrize(("scatter", "share"), [(0.15, 0.95), (0.15, 0.89), (0.30, 0.83), (0.05, 0.68)])
def test_the_published_share_of_a_correlation_lies_within_its_scatter(scatter, share):
    factor = d.model_factor(scatter, share).quantile(np.linspace(0, 1, 40_001)[1:-1])
    inside = np.mean((factor <= 1 + scatter) & (factor >= 1 / (1 + scatter)))
    assert inside == pytest.approx(share, abs=2e-4)


def test_within_and_relative():
    x = d.within(10.0, 0.5, 0.9)
    assert stats.norm(10, x.sd).cdf(10.5) == pytest.approx(0.95)
    assert d.relative(-20.0, 0.03) == d.Normal(-20.0, 20.0 * 0.03)


@pytest.mark.parametrize(
    "make",
    [
        lambda: d.Normal(1, -1),
        lambda: d.Normal(math.nan, 1),
        lambda: d.Normal(1, math.inf),
        lambda: d.Uniform(2, 1),
        lambda: d.Triangular(1, 5, 4),
        lambda: d.LogNormal(0, 1),
        lambda: d.LogNormal(1, -1),
        lambda: d.TruncatedNormal(0, 0, -1, 1),
        lambda: d.TruncatedNormal(0, 1, 1, 1),
        lambda: d.TruncatedNormal(0, 1, 8, 9),
        lambda: d.model_factor(-0.1),
        lambda: d.model_factor(0.1, 1.0),
        lambda: d.within(1, 1, 0),
        lambda: d.LogNormal(1, 1).scaled(-1),
    ],
)
def test_what_cannot_be_is_refused(make):
    with pytest.raises(ValueError):
        make()


def test_in_words():
    assert d.in_words(d.Normal(650, 10)) == "650 ± 10 (one standard deviation)"
    assert d.in_words(d.Triangular(1, 2, 4)) == "1 to 4, likeliest 2"
