import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.numbers.streams import effective_draws, gaussian, resample, stratified

names = st.text(min_size=1, max_size=20)


@given(names)
def test_the_same_identity_gives_the_same_draws(name):
    assert np.array_equal(stratified(name, 100), stratified(name, 100))


def test_draws_do_not_hang_on_the_order_of_asking():
    first = [stratified(n, 50) for n in ("a", "b", "c")]
    again = {n: stratified(n, 50) for n in ("c", "a", "b")}
    assert all(np.array_equal(x, again[n]) for x, n in zip(first, "abc", strict=True))


@given(names, st.integers(2, 300))
def test_every_stratum_is_met_once(name, n):
    u = stratified(name, n)
    assert sorted(np.floor(u * n)) == list(range(n))
    assert np.all((u > 0) & (u < 1))


def test_identities_are_independent():
    draws = np.stack([stratified(f"x{i}") for i in range(40)])
    r = np.corrcoef(draws)[np.triu_indices(40, 1)]
    # 780 correlations of independent columns scatter by 1/√N and stay within five of it
    assert np.std(r) == pytest.approx(1 / np.sqrt(2000), rel=0.15)
    assert np.max(np.abs(r)) < 5 / np.sqrt(2000)


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 6), st.integers(0, 2**31))
def test_gaussian_draws_have_the_given_moments_exactly(d, seed):
    rng = np.random.default_rng(seed)
    A = rng.normal(size=(d, d)) * 10.0 ** rng.integers(-4, 4, size=(d, 1))
    mean, cov = rng.normal(size=d), A @ A.T
    x = gaussian(mean, cov, str(seed), 500)
    scale = np.sqrt(np.diag(cov))
    assert np.mean(x, axis=0) == pytest.approx(mean, abs=1e-9 * scale.max() + 1e-12)
    assert np.cov(x.T).reshape(d, d) / np.outer(scale, scale) == pytest.approx(cov / np.outer(scale, scale), abs=1e-7)


def test_gaussian_draws_of_a_singular_covariance_stay_on_its_line():
    x = gaussian([1.0, 2.0], [[1.0, 2.0], [2.0, 4.0]], "line")
    assert 2 * (x[:, 0] - 1) == pytest.approx(x[:, 1] - 2, abs=1e-6)


@pytest.mark.parametrize("cov", [[[1.0, 2.0], [2.0, 1.0]], [[1.0, 0.5], [0.0, 1.0]], [[1.0]]])
def test_what_is_no_covariance_is_refused(cov):
    with pytest.raises(ValueError, match="covariance"):
        gaussian([0.0, 0.0], cov, "bad")


def test_resampling_meets_the_weighted_mean():
    rng = np.random.default_rng(5)
    x = rng.normal(size=20_000)
    w = np.exp(x)  # tilts the standard normal to mean 1
    rows = resample(w, 20_000, "tilt")
    assert np.mean(x[rows]) == pytest.approx(np.sum(w * x) / np.sum(w), abs=0.01)
    assert np.mean(x[rows]) == pytest.approx(1.0, abs=0.05)


@given(st.lists(st.floats(0, 1e6), min_size=1, max_size=50).filter(lambda w: sum(w) > 0))
def test_no_row_without_weight_is_taken_and_counts_follow_the_weights(w):
    w = np.array(w)
    n = 400
    counts = np.bincount(resample(w, n, "any"), minlength=len(w))
    assert counts.sum() == n
    assert np.all(counts[w == 0] == 0)
    assert np.all(np.abs(counts - n * w / w.sum()) <= 1.0 + 1e-6)


def test_equal_weights_take_each_row_once():
    assert sorted(resample(np.ones(300), 300, "equal")) == list(range(300))
    assert effective_draws(np.ones(300)) == pytest.approx(300)
    assert effective_draws(np.eye(1, 300)[0]) == pytest.approx(1)


@pytest.mark.parametrize("w", [[0.0, 0.0], [1.0, -1.0], [np.nan, 1.0], [np.inf, 1.0], [[1.0]]])
def test_bad_weights_are_refused(w):
    with pytest.raises(ValueError, match="weights"):
        resample(np.array(w), 10, "bad")
