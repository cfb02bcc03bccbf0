import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from longlens.numbers import interval
from longlens.numbers.interval import Share


@pytest.mark.parametrize(("hits", "n"), [(0, 20), (3, 20), (10, 20), (20, 20), (1999, 2000)])
def test_share_is_wilsons_interval(hits, n):
    """Against scipy.stats.binomtest."""
    ours = interval.share(hits, n)
    theirs = stats.binomtest(hits, n).proportion_ci(method="wilson")
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), abs=1e-9)
    assert ours.value == hits / n


def test_share_of_nothing_says_nothing():
    s = interval.share(0, 0)
    assert np.isnan(s.value) and (s.low, s.high) == (0.0, 1.0)
    assert Share(0.2, 0.1, 0.4).opposite == Share(0.8, 0.6, 0.9)


@given(st.integers(0, 2**31), st.integers(0, 40))
def test_draws_without_a_value_are_left_out(seed, holes):
    rng = np.random.default_rng(seed)
    x = rng.normal(size=100)
    whole = np.concatenate([x, np.full(holes, np.nan)])
    assert interval.of_draws(rng.permutation(whole)) == interval.of_draws(x)


def test_a_place_without_any_value_stays_without():
    a = np.ones((50, 2))
    a[:, 1] = np.nan
    i = interval.of_draws(a)
    assert i.value[0] == 1 and np.isnan(i.value[1]) and np.isnan(i.low[1])
