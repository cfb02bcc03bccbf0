"""Coolants and air against CoolProp, IAPWS, ISO 2533 and coolant handbooks."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from longlens.systems.cooling import air
from longlens.systems.cooling.liquids import Coolant, Oil, water_vapour_pressure

pytestmark = pytest.mark.published

KEYS = {"D": "density", "C": "heat_capacity", "V": "viscosity", "L": "conductivity"}
#: Largest relative difference from CoolProp allowed over the fitted range.
ALLOWED = {"D": 0.002, "C": 0.006, "V": 0.02, "L": 0.003}


@pytest.mark.parametrize(("kind", "fluid"), [("ethylene", "MEG"), ("propylene", "MPG")])
@pytest.mark.parametrize("fraction", [0.1, 0.25, 0.33, 0.5, 0.57])
def test_mixtures_follow_coolprop(kind, fluid, fraction):
    name = f"INCOMP::{fluid}[{fraction}]"
    temperatures = np.linspace(max(PropsSI("T_freeze", "T", 300, "P", 1e5, name) + 3, 253.15), 373.15, 25)
    ours = Coolant(fraction, kind).properties(temperatures)
    for key, field in KEYS.items():
        theirs = np.array([PropsSI(key, "T", t, "P", 3e5, name) for t in temperatures])
        assert np.max(np.abs(getattr(ours, field) / theirs - 1.0)) < ALLOWED[key], field


def test_water_follows_coolprop():
    temperatures = np.linspace(275.0, 415.0, 30)
    ours = Coolant(0.0).properties(temperatures)
    for key, field in KEYS.items():
        theirs = np.array([PropsSI(key, "T", t, "P", 6e5, "Water") for t in temperatures])
        assert np.max(np.abs(getattr(ours, field) / theirs - 1.0)) < 0.001, field


def test_half_glycol_at_80_degrees():
    # CoolProp 8.0 INCOMP::MEG[0.5], 353.15 K: 1026.4 kg/m³, 3581.6 J/(kg K) (also in the project's list of
    # checks).
    ours = Coolant(0.5).properties(353.15)
    assert ours.density == pytest.approx(1026.4, abs=1.0)
    assert ours.heat_capacity == pytest.approx(3581.6, rel=0.003)


def test_reading_on_above_100_degrees_stays_near_another_coolant():
    # CoolProp's ZMC (a commercial ethylene glycol mixture) runs to 110 °C: another product, so only near.
    # Its viscosity is left out: CoolProp's own fit turns flat at its end.
    ours = Coolant(0.5).properties(383.15)
    for key, field, within in (
        ("D", "density", 0.02),
        ("C", "heat_capacity", 0.05),
        ("L", "conductivity", 0.15),
    ):
        theirs = PropsSI(key, "T", 383.15, "P", 3e5, "INCOMP::ZMC[0.5]")
        assert getattr(ours, field) == pytest.approx(theirs, rel=within)


def test_boiling():
    # Water: 100 °C at 101,418 Pa (IAPWS, Wagner and Pruß 2002). Half glycol by mass at 1 atm: 107.2 °C
    # (coolant handbooks, from memory; Raoult's law is ours).
    assert water_vapour_pressure(373.15) == pytest.approx(101_418.0, rel=1e-4)
    assert Coolant(0.0).boiling_temperature(101_325.0) - 273.15 == pytest.approx(99.97, abs=0.02)
    assert Coolant(0.5).boiling_temperature(101_325.0) - 273.15 == pytest.approx(107.2, abs=1.0)
    temperatures = np.linspace(300.0, 420.0, 9)
    theirs = [PropsSI("P", "T", t, "Q", 0, "Water") for t in temperatures]
    assert water_vapour_pressure(temperatures) == pytest.approx(theirs, rel=2e-4)


def test_engine_oil_is_of_the_order_of_the_textbook():
    # Incropera and DeWitt, table A.5, unused engine oil at 380 K (from memory): ρ 836, cp 2250, k 0.136, ν
    # 16.9e-6;
    # at 310 K ν 288e-6. An SAE 50 grade; ours is set to its viscosity at 40 and 100 °C.
    ours = Oil(viscosity_40=242e-6, viscosity_100=20.3e-6, density_15=890.0).properties(380.0)
    assert ours.density == pytest.approx(836.0, rel=0.02)
    assert ours.heat_capacity == pytest.approx(2250.0, rel=0.06)
    assert ours.conductivity == pytest.approx(0.136, rel=0.12)
    assert ours.viscosity / ours.density == pytest.approx(16.9e-6, rel=0.10)


def test_standard_atmosphere():
    # ISO 2533:1975: sea level 288.15 K, 101,325 Pa, 1.225 kg/m³; 2,000 m: 275.154 K, 79,501 Pa, 1.00655
    # kg/m³;
    # 11,000 m (geopotential 10,981 m): 216.774 K, 22,700 Pa.
    sea, hill, high = (air.standard_atmosphere(h) for h in (0.0, 2000.0, 11_000.0))
    assert sea.density == pytest.approx(1.225, abs=1e-4)
    assert hill.temperature == pytest.approx(275.154, abs=2e-3)
    assert hill.pressure == pytest.approx(79_501.4, rel=1e-5)
    assert hill.density == pytest.approx(1.00655, rel=1e-4)
    assert high.temperature == pytest.approx(216.774, abs=2e-3)
    assert high.pressure == pytest.approx(22_700.0, rel=2e-4)


def test_standard_atmosphere_agrees_with_fluids():
    from fluids.atmosphere import ATMOSPHERE_1976

    for height in (-500.0, 300.0, 3000.0, 15_000.0):
        theirs, ours = ATMOSPHERE_1976(height, dT=12.0), air.standard_atmosphere(height, 12.0)
        assert ours.density == pytest.approx(theirs.rho, rel=1e-5)


def test_air_transport_properties():
    # ISO 2533 at 288.15 K: μ 1.7894e-5 Pa s, λ 2.5343e-2 W/(m K). CoolProp elsewhere.
    assert air.viscosity(288.15) == pytest.approx(1.7894e-5, rel=1e-4)
    assert air.conductivity(288.15) == pytest.approx(2.5343e-2, rel=1e-4)
    for t in (260.0, 320.0, 400.0, 480.0):
        assert air.heat_capacity(t) == pytest.approx(PropsSI("C", "T", t, "P", 101325, "Air"), rel=5e-4)
        assert air.viscosity(t) == pytest.approx(PropsSI("V", "T", t, "P", 101325, "Air"), rel=0.015)
        assert air.conductivity(t) == pytest.approx(PropsSI("L", "T", t, "P", 101325, "Air"), rel=0.015)
