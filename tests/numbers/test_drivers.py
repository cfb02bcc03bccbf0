import numpy as np
import pytest
from scipy import stats

from longlens.numbers import Normal, Number, Uniform, exact, stated
from longlens.numbers.drivers import Drivers, _ranks, drivers, first_order, squared_rank_correlation
from longlens.numbers.trail import Origin


def inputs(k=""):
    return {n: stated(f"{n}{k}", Normal(0, 1), "1") for n in ("a", "b", "c")}


@pytest.mark.parametrize("method", ["rank", "sobol"])
def test_shares_of_a_linear_sum(method):
    x = inputs()
    y = 3 * x["a"] + 1 * x["b"]
    found = drivers(y, x, method)
    assert [d.name for d in found][:2] == ["a", "b"]
    shares = {d.name: d.share for d in found}
    assert shares["a"] == pytest.approx(0.9, abs=0.03)
    assert shares["b"] == pytest.approx(0.1, abs=0.04)
    assert shares["c"] < 0.01


def test_ranks_agree_with_scipy():
    x = inputs()
    y = (x["a"] + x["b"]).draws
    rho = stats.spearmanr(x["a"].draws, y).statistic
    share, _ = squared_rank_correlation(x["a"].draws, y)
    assert share == pytest.approx(rho**2 - (1 - rho**2) / 1998, abs=1e-9)


def test_ties_share_their_mean_rank():
    x = np.random.default_rng(1).integers(0, 20, size=(300, 4)).astype(float)
    assert np.array_equal(_ranks(x), stats.rankdata(x, axis=0))


def test_the_claimed_standard_errors_are_met():
    """Over repetitions the estimates scatter as they say, for both estimators, with and without influence."""
    rng = np.random.default_rng(3)
    for estimate in (squared_rank_correlation, first_order):
        shares, errors = [], []
        for _ in range(150):
            a, b = rng.normal(size=(2, 1000))
            s, e = estimate(a, a + b)
            shares.append(s), errors.append(e)
        assert np.std(shares) == pytest.approx(np.mean(errors), rel=0.3)
        # for a Gaussian pair Spearman's rho lies a little under Pearson's: (6/π asin(r/2))²
        want = 0.5 if estimate is first_order else (6 / np.pi * np.arcsin(np.sqrt(0.5) / 2)) ** 2
        assert np.mean(shares) == pytest.approx(want, abs=0.01)


def test_without_influence_the_mean_share_is_about_nought():
    rng = np.random.default_rng(4)
    for estimate in (squared_rank_correlation, first_order):
        shares = [estimate(*rng.normal(size=(2, 2000)))[0] for _ in range(50)]
        assert np.mean(shares) < 0.005


def test_inputs_and_outputs_without_spread():
    x = inputs() | {"fixed": exact("fixed", 2.0)}
    assert "fixed" not in [d.name for d in drivers(x["a"] * 2, x)]
    assert drivers(exact("y", 1.0), x) == []
    assert drivers(x["a"], {}) == []


def test_places_count_by_coordinate_and_lost_draws_are_left_out():
    place = Number(np.random.default_rng(2).normal(size=(2000, 3)), "m", Origin("ball", "measured"))
    y = place.at(2).draws.copy()
    y[::3] = np.nan
    found = drivers(Number(y, "m", Origin("y", "computed")), {"ball": place})
    assert found[0].name == "ball.z" and found[0].share == pytest.approx(1, abs=1e-6)
    with pytest.raises(ValueError, match="plain number"):
        Drivers({"ball": place}).of(place)


def test_symmetric_influence_needs_the_sobol_index():
    x = stated("x", Uniform(-1, 1), "1")
    y = x**2
    assert drivers(y, {"x": x}, "rank")[0].share < 0.01
    assert drivers(y, {"x": x}, "sobol")[0].share > 0.97
