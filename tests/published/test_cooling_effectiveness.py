"""Effectiveness relations against published tables and worked examples."""

import ht
import numpy as np
import pytest

from longlens.systems.cooling import effectiveness as eff

pytestmark = pytest.mark.published


def test_crossflow_both_unmixed_exact_value():
    # ht and the project's list of checks: NTU 2.5, C* 0.6 → 0.7557 exact, 0.7632 by the usual closed form.
    assert eff.crossflow_unmixed_exact(2.5, 0.6) == pytest.approx(0.7557, abs=5e-5)
    assert eff.crossflow_unmixed(2.5, 0.6) == pytest.approx(0.7557, abs=1.5e-4)
    assert eff.crossflow_unmixed_usual(2.5, 0.6) == pytest.approx(0.7632, abs=5e-5)
    assert eff.crossflow_unmixed_exact(2.5, 0.6) == pytest.approx(
        ht.effectiveness_from_NTU(2.5, 0.6, subtype="crossflow"), abs=1e-6
    )


@pytest.mark.parametrize("ntu", [0.25, 1.0, 2.0, 3.0, 5.0])
@pytest.mark.parametrize("ratio", [0.1, 0.25, 0.5, 0.75, 1.0])
def test_crossflow_table(ntu, ratio):
    # The grid of Kays and London's table for crossflow, both unmixed, by ht's numerical quadrature (not a
    # series).
    theirs = ht.effectiveness_from_NTU(ntu, ratio, subtype="crossflow")
    assert eff.crossflow_unmixed_exact(ntu, ratio) == pytest.approx(theirs, abs=2e-6)
    assert eff.crossflow_unmixed(ntu, ratio) == pytest.approx(theirs, abs=1e-4)


def test_crossflow_table_entries():
    # Kays and London, C* = 1 (from memory): NTU 1 → 0.476, 2 → 0.614, 5 → 0.751.
    assert eff.crossflow_unmixed(np.array([1.0, 2.0, 5.0]), 1.0) == pytest.approx([0.476, 0.614, 0.751], abs=6e-4)


def test_crossflow_fit_over_its_range():
    ntu, ratio = np.meshgrid(np.r_[np.linspace(0.01, 1, 25), np.linspace(1.2, 12, 30)], np.linspace(0, 1, 21))
    assert np.max(np.abs(eff.crossflow_unmixed(ntu, ratio) - eff.crossflow_unmixed_exact(ntu, ratio))) < 1e-4


@pytest.mark.parametrize(
    ("ours", "subtype"),
    [
        (eff.counterflow, "counterflow"),
        (eff.parallel_flow, "parallel"),
        (eff.crossflow_mixed_max, "crossflow, mixed Cmax"),
        (eff.crossflow_mixed_min, "crossflow, mixed Cmin"),
        (eff.crossflow_unmixed_usual, "crossflow approximate"),
        (eff.shell_and_tube, "S&T"),
    ],
)
def test_relations_agree_with_ht(ours, subtype):
    for ntu in (0.2, 1.0, 3.0):
        for ratio in (0.1, 0.5, 0.9):
            theirs = ht.effectiveness_from_NTU(ntu, ratio, subtype=subtype)
            assert ours(ntu, ratio) == pytest.approx(theirs, rel=1e-9), (ntu, ratio)


def test_limits():
    assert eff.counterflow(3.0, 1.0) == pytest.approx(0.75)
    for law in (eff.counterflow, eff.parallel_flow, eff.crossflow_unmixed, eff.crossflow_mixed_max):
        assert law(1.7, 0.0) == pytest.approx(1 - np.exp(-1.7), abs=2e-4)


def test_gas_to_water_crossflow_example():
    # Incropera and DeWitt, finned-tube crossflow, both unmixed (from memory): water 1 kg/s 35 → 125 °C, gas
    # 300 → 100 °C, U = 100 W/(m² K): ε 0.75, NTU 2.1, A ≈ 39.7 m² read from the chart.
    water, drop = 4197.0, 90.0
    heat = water * drop
    gas = heat / 200.0
    ratio, wanted = gas / water, heat / (gas * (300.0 - 35.0))
    assert wanted == pytest.approx(0.75, abs=0.006)
    ntu = np.linspace(0.5, 5.0, 20_001)
    found = ntu[np.searchsorted(eff.crossflow_unmixed(ntu, ratio), wanted)]
    assert found * gas / 100.0 == pytest.approx(39.7, rel=0.03)


def test_passes_agree_with_kays_and_london():
    # Many counterflow-connected passes approach pure counterflow; two passes by the book's formula worked by
    # hand.
    one = eff.crossflow_unmixed(0.5, 0.6)
    by_hand = (((1 - one * 0.6) / (1 - one)) ** 2 - 1) / (((1 - one * 0.6) / (1 - one)) ** 2 - 0.6)
    assert eff.counter_passes(one, 0.6, 2) == pytest.approx(by_hand, rel=1e-12)
    many = eff.counter_passes(eff.crossflow_unmixed(2.0 / 40, 0.6), 0.6, 40)
    assert many == pytest.approx(eff.counterflow(2.0, 0.6), abs=2e-3)
    many = eff.parallel_passes(eff.crossflow_unmixed(2.0 / 40, 0.6), 0.6, 40)
    assert many == pytest.approx(eff.parallel_flow(2.0, 0.6), abs=2e-3)
