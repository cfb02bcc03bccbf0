import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.numbers import DRAWS, Normal, Number, Origin, Uniform, assumed, beats, exact, joint, lift, stated
from longlens.numbers.streams import gaussian


def metres(name, value=2.5, sd=0.01):
    return stated(name, Normal(value, sd), "m", source="press sheet")


def test_the_same_fact_draws_the_same_everywhere():
    assert np.array_equal(metres("a").draws, metres("a").draws)
    assert metres("a").key == metres("a").key != metres("b").key


def test_a_corrected_figure_keeps_its_ranks():
    before, after = metres("a", 2.50), metres("a", 2.52)
    assert (after - before).sd == pytest.approx(0, abs=1e-12)


def test_facts_of_two_cars_are_apart_and_assumptions_shared():
    x = [stated("mass", Normal(650, 10), "kg", scope=car) for car in ("Fulmar E4", "Gannet")]
    y = [assumed("grip", Normal(1.4, 0.1), "1", reason="common practice, no source") for _ in range(2)]
    assert abs(np.corrcoef(x[0].draws, x[1].draws)[0, 1]) < 0.1
    assert (y[0] - y[1]).sd == 0


def test_units_are_kept_in_si_and_shown_as_typed():
    t = stated("water", Normal(80, 2), "°C")
    assert t.unit == "K" and t.value == pytest.approx(353.15) and t.sd == pytest.approx(2, rel=0.01)
    assert str(t) == "80 (76–84) °C"


def test_arithmetic_keeps_correlation():
    a, b = metres("a"), metres("b")
    assert (a - a).sd == 0
    assert ((a + b) - b - a).draws == pytest.approx(0, abs=1e-12)
    assert (a / a).unit == "1" and (a / a).sd == pytest.approx(0, abs=1e-15)
    assert (a + b).sd == pytest.approx(0.01 * np.sqrt(2), rel=0.06)


def test_units_of_results():
    a, f = metres("a"), stated("f", Normal(100, 1), "N")
    assert (f * a).unit == "J" and (f / (a * a)).unit == "Pa" and (a**2).unit == "m2" and (a * a).sqrt().unit == "m"
    assert (1 / a).unit == "1/m" and (3 * a).unit == "m" and abs(-a).unit == "m"


def test_unlike_quantities_are_not_added():
    with pytest.raises(ValueError, match="cannot add"):
        metres("a") + stated("f", Normal(1, 1), "N")
    with pytest.raises(ValueError, match="cannot add"):
        metres("a") + 1.0
    with pytest.raises(ValueError, match="cannot compare"):
        beats(metres("a"), exact("k", 1, "kg"))
    with pytest.raises(TypeError):
        metres("a") * "two"


def test_sum_of_many():
    assert sum([metres("a"), metres("b")]).value == pytest.approx(5, abs=0.01)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.5, 5), st.floats(0.001, 0.1), st.floats(-3, 3))
def test_scaling_a_number_scales_its_interval(value, sd, factor):
    x = stated("x", Normal(value, sd), "m")
    y = x * factor
    ends = sorted([x.low * factor, x.high * factor])
    assert (y.low, y.high) == pytest.approx(ends, abs=1e-12)


def test_draws_cannot_be_changed():
    with pytest.raises(ValueError):
        metres("a").draws[0] = 1


def test_different_numbers_of_draws_do_not_mix():
    with pytest.raises(ValueError, match="different numbers of draws"):
        metres("a") + stated("b", Normal(1, 1), "m", draws=500)


def test_lift_takes_curves_and_plain_numbers_together():
    speed = exact("speed", 10, "m/s")
    curve = Number(np.linspace(1, 2, 5) * np.ones((DRAWS, 5)), "1", Origin("grip", "computed"))
    out = lift(lambda v, g: v * g, speed, curve, unit="m/s", name="limit")
    assert out.shape == (5,) and out.draws[0] == pytest.approx(10 * np.linspace(1, 2, 5))
    assert out.at(2).value == pytest.approx(15)


def test_lift_of_several_results_and_its_trail():
    a, b = metres("a"), metres("b")
    s, d = lift(lambda x, y: (x + y, x - y), a, b, unit="m", name=["sum", "difference"], model="plain")
    assert (s.name, d.name) == ("sum", "difference")
    assert {leaf.name for leaf in s.origin.leaves()} == {"a", "b"}
    assert s.origin.model == "plain" and s.kind == "computed"


def test_lift_wants_si_and_whole_draws():
    with pytest.raises(ValueError, match="gives SI"):
        lift(lambda x: x, metres("a"), unit="mm")
    with pytest.raises(ValueError, match="shape"):
        lift(lambda x: x[:10], metres("a"), unit="m")


def test_values_without_solution_are_counted_not_hidden():
    x = stated("x", Uniform(-1, 3), "1")
    root = lift(np.sqrt, x, unit="1")
    assert root.lost == pytest.approx(0.25, abs=0.002)
    assert root.high == pytest.approx(np.sqrt(3), rel=0.03)
    assert "no value in 25 % of the draws" in str(root)
    assert root.as_json()["lost"] == pytest.approx(0.25, abs=0.002)


def test_json_has_no_nan():
    never = lift(lambda x: x * np.nan, metres("a"), unit="m")
    assert never.as_json()["value"] is None and never.as_json()["text"] == "no value"


# Joint draws --------------------------------------------------------------------------------------


def survey(n=DRAWS):
    cov = np.array([[4e-6, 3.9e-6], [3.9e-6, 4e-6]])
    return gaussian([0.4, 0.5], cov, "survey", n)


def test_numbers_of_one_survey_keep_their_correlation():
    d = survey()
    x = joint({"rod": d[:, 0], "arm": d[:, 1]}, "m")
    assert (x["rod"] - x["arm"]).sd == pytest.approx(np.sqrt(2 * 0.1e-6), rel=1e-6)
    assert x["rod"].kind == "measured" and x["rod"].origin.record == "measure:rod"


def test_weights_are_taken_once_for_all():
    d = survey(5000)
    w = np.exp((d[:, 0] - 0.4) / 0.002)
    x = joint({"rod": d[:, 0], "arm": d[:, 1]}, "m", weights=w)
    pairs = {(a, b) for a, b in d}
    assert all((a, b) in pairs for a, b in zip(x["rod"].draws, x["arm"].draws, strict=True))
    assert np.mean(x["rod"].draws) == pytest.approx(0.402, abs=1e-4)
    assert x["rod"].n == DRAWS


def test_places_are_numbers_too():
    p = joint({"ball": np.random.default_rng(1).normal(size=(DRAWS, 3))}, "mm")["ball"]
    assert p.shape == (3,) and p.at(2).shape == () and p.unit == "m"
    assert p.value.shape == (3,)


def test_joint_rows_must_match():
    with pytest.raises(ValueError, match="one length"):
        joint({"a": np.zeros(5), "b": np.zeros(6)}, "m")


def test_probability_that_one_beats_another():
    a = stated("a", Normal(0, 1), "1")
    b = stated("b", Normal(1, 1), "1")
    p = beats(b, a)
    assert p.value == pytest.approx(0.760, abs=0.03)  # Φ(1/√2)
    assert p.low < 0.760 < p.high
    assert p.value + beats(a, b).value == pytest.approx(1)
    assert beats(a, a).value == 0.5


# Simulated truth ----------------------------------------------------------------------------------


def test_intervals_hold_the_truth_as_often_as_they_claim():
    """The truth is drawn from what is known; a product and a quotient are computed from noisy readings."""
    rng = np.random.default_rng(7)
    inside, trials = 0, 1500
    for k in range(trials):
        true = np.array([2.5, 0.3, 1.2]) * (1 + 0.05 * rng.normal(size=3))
        sds = np.array([0.01, 0.006, 0.05])
        read = true + sds * rng.normal(size=3)
        a, b, c = (
            stated(f"{k} {i}", Normal(m, s), "1", draws=400) for i, (m, s) in enumerate(zip(read, sds, strict=True))
        )
        y = a * b / c
        inside += y.low <= true[0] * true[1] / true[2] <= y.high
    assert 0.935 <= inside / trials <= 0.965
