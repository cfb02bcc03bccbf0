"""JCGM 101:2008 (GUM Supplement 1), the worked examples of clause 9 with the numbers of their tables.

9.2.3 as in the project's list of checks; 9.2.2, 9.2.4, 9.3 (table 6) and 9.4 from memory.
"""

import numpy as np
import pytest

from longlens.numbers import Normal, Uniform, lift, stated

pytestmark = pytest.mark.published
MANY = 200_000


def four(distribution, last=None):
    kinds = [distribution] * 3 + [last or distribution]
    terms = [stated(f"x{i}", d, "1", draws=MANY) for i, d in enumerate(kinds)]
    return sum(terms[1:], terms[0])


def rectangular(sd):
    half = np.sqrt(3) * sd
    return Uniform(-half, half)


def test_9_2_2_sum_of_four_normals():
    y = four(Normal(0, 1))
    assert y.sd == pytest.approx(2.0, abs=0.01)
    assert (y.low, y.high) == pytest.approx((-3.92, 3.92), abs=0.025)


def test_9_2_3_sum_of_four_rectangulars():
    y = four(rectangular(1))
    assert y.sd == pytest.approx(2.0, abs=0.01)
    assert (y.low, y.high) == pytest.approx((-3.88, 3.88), abs=0.015)


def test_9_2_3_with_the_usual_number_of_draws():
    """Two thousand draws hold the interval to about 2 %."""
    x = [stated(f"rect {i}", rectangular(1), "1") for i in range(4)]
    y = x[0] + x[1] + x[2] + x[3]
    assert (y.low, y.high) == pytest.approx((-3.88, 3.88), abs=0.15)


def test_9_2_4_one_rectangular_ten_times_as_wide():
    y = four(rectangular(1), rectangular(10))
    assert y.sd == pytest.approx(10.1, abs=0.06)
    assert (y.low, y.high) == pytest.approx((-17.0, 17.0), abs=0.1)


def deviation(m, dm, rho_air, rho_w, rho_r):
    """Mass of a weight from its nominal 100 g, mg; air buoyancy as in equation 32."""
    return (m + dm) * (1 + (rho_air - 1.2) * (1 / rho_w - 1 / rho_r)) - 100_000.0


def test_9_3_mass_calibration():
    y = lift(
        deviation,
        stated("reference", Normal(100_000.000, 0.050), "1", draws=MANY),
        stated("added", Normal(1.234, 0.020), "1", draws=MANY),
        stated("air", Uniform(1.10, 1.30), "1", draws=MANY),
        stated("weight", Uniform(7000, 9000), "1", draws=MANY),
        stated("standard", Uniform(7950, 8050), "1", draws=MANY),
        unit="1",
    )
    assert float(np.mean(y.draws)) == pytest.approx(1.2341, abs=0.0006)
    assert y.sd == pytest.approx(0.0754, abs=0.0004)
    assert (y.low, y.high) == pytest.approx((1.0834, 1.3825), abs=0.002)


def test_9_4_comparison_loss_at_zero():
    """x₁ = x₂ = 0: the result is exponential, mean and standard deviation 50 × 10⁻⁶; the first-order answer is 0."""
    x = [stated(f"loss {i}", Normal(0, 0.005), "1", draws=MANY) for i in (1, 2)]
    y = x[0] ** 2 + x[1] ** 2
    assert float(np.mean(y.draws)) == pytest.approx(50e-6, rel=0.01)
    assert y.sd == pytest.approx(50e-6, rel=0.02)
    # shortest 95 % interval of the table: [0, 150] × 10⁻⁶
    assert np.quantile(y.draws, 0.95) == pytest.approx(150e-6, rel=0.02)
