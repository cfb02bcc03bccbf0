"""Friction and heat transfer in tubes against Colebrook, Shah and London, Gnielinski (via fluids and ht)."""

import fluids
import ht
import numpy as np
import pytest

from longlens.systems.cooling import friction

pytestmark = pytest.mark.published


def test_colebrook_value():
    # Moody/Colebrook: Re 1e5, ε/D 1e-3 → 0.02217.
    assert friction.colebrook(1e5, 1e-3) == pytest.approx(0.02217, abs=5e-6)


def test_colebrook_over_the_chart():
    for reynolds in np.geomspace(4001.0, 1e8, 12):
        for rough in (0.0, 1e-6, 1e-4, 1e-3, 1e-2, 5e-2):
            theirs = fluids.friction_factor(reynolds, rough, Method="Colebrook")
            assert friction.colebrook(reynolds, rough) == pytest.approx(theirs, rel=2e-5)


def test_laminar():
    # Shah and London (1978): f·Re (Fanning) of a rectangle 14.227 square, 20.585 at 1:8, 24 between plates;
    # Nu_T 2.976 square, 5.597 at 1:8, 7.541 plates.
    assert friction.darcy(1000.0) == pytest.approx(0.064)
    constants = friction.laminar_constant_rectangle(np.array([1.0, 0.125, 0.0])) / 4.0
    assert constants == pytest.approx([14.227, 20.585, 24.0], rel=1e-3)
    numbers = friction.laminar_nusselt_rectangle(np.array([1.0, 0.125, 0.0]))
    assert numbers == pytest.approx([2.976, 5.597, 7.541], rel=4e-3)


def test_gnielinski_agrees_with_ht():
    for reynolds in (5e3, 2e4, 1e5):
        for prandtl in (0.7, 5.0, 30.0):
            factor = friction.colebrook(reynolds, 0.0)
            theirs = ht.turbulent_Gnielinski(Re=reynolds, Pr=prandtl, fd=factor)
            assert friction.gnielinski(reynolds, prandtl, factor) == pytest.approx(theirs, rel=1e-12)


def test_gnielinski_textbook_point():
    # Re 1e4, Pr 5 with the smooth factor (0.79 ln Re − 1.64)^−2 = 0.03148, by hand from Gnielinski's formula.
    eighth = 0.031485 / 8
    by_hand = eighth * 9000 * 5 / (1 + 12.7 * eighth**0.5 * (5 ** (2 / 3) - 1))
    assert friction.nusselt(1e4, 5.0, 1e-9) == pytest.approx(by_hand, rel=0.02)


def test_short_tube_entry_agrees_with_hausen():
    # Hausen (1943) for a round pipe, uniform wall temperature; ht gives the same formula.
    theirs = ht.laminar_entry_thermal_Hausen(Re=1000.0, Pr=10.0, L=1.0, Di=0.01)
    assert friction.nusselt(1000.0, 10.0, 0.01) == pytest.approx(theirs, rel=1e-9)


def test_bends_agree_with_fluids():
    for angle, radius in ((30.0, 1.5), (45.0, 1.5), (90.0, 1.0), (90.0, 2.0), (180.0, 3.0)):
        theirs = fluids.bend_rounded(Di=0.03, angle=angle, fd=0.02, bend_diameters=radius, method="Rennels")
        assert friction.bend_loss(np.radians(angle), radius, 0.02) == pytest.approx(theirs, rel=1e-9)


def test_sudden_changes_agree_with_fluids():
    # Borda–Carnot; fluids gives it on the upstream (smaller) pipe.
    theirs = fluids.diffuser_sharp(Di1=0.02, Di2=0.03)
    assert friction.sudden_change_loss((2 / 3) ** 2, contraction=False) == pytest.approx(theirs, rel=0.15)


def test_factor_is_smooth_and_pressure_always_rises():
    flow = np.geomspace(50.0, 1e6, 4000)
    for rough in (0.0, 1e-3):
        factor, slope = friction.darcy_with_slope(flow, rough)
        assert np.all(np.diff(factor * flow**2) > 0.0)
        numeric = np.gradient(np.log(factor), np.log(flow))
        assert np.max(np.abs(numeric - slope)[1:-1]) < 0.02
