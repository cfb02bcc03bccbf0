"""Wakes, turning by wings ahead, and openings of ducts against measured wakes, textbooks and a library of pipe losses.

Read here: the note of the ERCOFTAC database's case 3, a cylinder's far wake (Browne, Antonia and Shah 1987; d = 2.67 mm, Re
1190, half width 12.3 mm at x/d = 420). From memory: Schlichting, Boundary-Layer Theory, ch. XXIII (plane wake, b½ = ¼ √(C_D d
x), deficit 0.98 √(C_D d/x) of his 3/2-power profile, 0.94 of the bell); Johansson and George, J. Fluid Mech. 555, 2006 (disc:
δ*/θ = 1.14 (x/θ)^⅓, deficit 0.77 (x/θ)^−⅔); Froude's actuator disc; Prandtl, NACA Report 116. The widening pipes are computed
by `fluids`.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from longlens.systems.aero import openings, wakes

D = 2.67e-3


def test_plane_wake_of_schlichting():
    """C_D d = 2.67 mm at 60 to 2,000 diameters; between his two profiles' deficits."""
    for far in (60, 420, 2000):
        w = wakes.wake(1.0 * D * 2.0, 2.0, D, far * D)
        assert w.up == pytest.approx(0.25 * np.sqrt(D * far * D), rel=0.03)
        assert 0.92 < w.deficit * np.sqrt(far) < 1.0


def test_cylinder_s_wake_as_measured():
    """C_D of a cylinder at Re 1190 is 1.0 (Schlichting's curve, from memory); our scatter of the growth is ±20 %."""
    w = wakes.wake(1.0 * D * 2.0, 2.0, D, 420 * D, growth=[np.exp(-0.4), np.exp(0.4)])
    assert w.up[0] < 12.3e-3 < w.up[1]
    assert wakes.wake(D * 2.0, 2.0, D, 420 * D).up == pytest.approx(12.3e-3, rel=0.13)


@pytest.mark.parametrize("far", [30, 100])
def test_disc_s_wake(far):
    """C_D 1.17, diameter 1 m; momentum 2π θ² = C_D A/2, bell's half width 1.177 δ*."""
    area = 1.17 * np.pi / 4
    theta = np.sqrt(area / (4 * np.pi))
    w = wakes.wake(area, np.sqrt(np.pi) / 2, np.sqrt(np.pi) / 2, far, wakes.GROWTHS["blunt"].middle)
    assert w.across == pytest.approx(1.1774 * 1.14 * theta * (far / theta) ** (1 / 3), rel=0.02)
    assert w.deficit == pytest.approx(0.77 * (far / theta) ** (-2 / 3), rel=0.02)


@pytest.mark.parametrize("behind", [0.05, 1.0, 30.0])
def test_a_wake_keeps_its_momentum(behind):
    w = wakes.wake(0.4, 0.9, 0.6, behind, 2.0)
    y, z = (np.linspace(-5, 5, 801) * b for b in (w.across, w.up))
    f = np.exp(-np.log(2) * ((y[:, None] / w.across) ** 2 + (z / w.up) ** 2))
    u = 1 - w.deficit * f
    assert np.sum(u * (1 - u)) * (y[1] - y[0]) * (z[1] - z[0]) == pytest.approx(0.2, rel=1e-6)


@pytest.mark.parametrize("thrust", [0.2, 0.5, 0.8])
def test_right_behind_a_body_as_behind_an_actuator_disc(thrust):
    """Froude: the stream far behind a disc of drag coefficient C has √(1 − C) of the speed."""
    assert wakes.wake(thrust * 0.7, 1.0, 0.7, 1e-9).deficit == pytest.approx(1 - np.sqrt(1 - thrust), rel=1e-6)


def test_mean_over_a_part_is_the_integral():
    w = wakes.wake(0.1, 0.3, 0.4, 0.8, 3.0)

    def left(y, z):
        bell = np.exp(-np.log(2) * ((y / w.across) ** 2 + (z / w.up) ** 2))
        return (1 - w.deficit * bell) ** 2

    y, z = np.linspace(0.0, 0.4, 401), np.linspace(0.05, 0.25, 401)
    mean = np.trapezoid(np.trapezoid(left(y[:, None], z), z, axis=1), y) / (0.4 * 0.2)
    assert wakes.pressure_left(w, 0.2, 0.15, 0.4, 0.2) == pytest.approx(mean, rel=1e-5)


def test_turning_far_behind_a_wing_in_free_air():
    """2 C_L/(π A) behind, half of it at the bound vortex's place (Prandtl); the road holds the stream level."""
    span, area, lift = 2.0, 0.5, 0.5
    far = 2 * lift / (np.pi * span**2 / area)
    for share in (0.2, 0.5, 0.9):
        there = wakes.upwash(lift * area, span, 1e3, 1e4, 0.0, 1e3, share * span)
        assert there == pytest.approx(far, rel=0.05)
        assert wakes.upwash(lift * area, span, 1e3, 0.0, 0.0, 1e3, share * span) == pytest.approx(far / 2, rel=0.05)
    assert wakes.upwash(lift * area, span, 0.4, [0.5, 3.0], 0.1, 0.0, 0.5) == pytest.approx(0.0, abs=1e-9)


def test_layer_of_the_seventh_root():
    """Mean of (y/δ)^(2/7); a plate's layer 0.37 x Re^−⅕: 17.5 mm after 1 m at 50 m/s in air of 1.5e-5 m²/s."""
    for depth in (0.004, 0.02, 0.1):
        inside = quad(lambda y: min(y / 0.02, 1.0) ** (2 / 7), 0, depth, points=[min(0.02, depth)])[0] / depth
        assert openings.layer_left(0.02, depth) == pytest.approx(inside, rel=1e-6)
    assert openings.layer_thickness(1.0, 50.0) == pytest.approx(0.37 * (50 / 1.5e-5) ** -0.2, rel=1e-9)


def test_pressure_before_a_core_as_a_textbook_draws_it():
    """Katz, Automotive Aerodynamics, 2016, at fig. 11.28 (read): about 0.8 of the dynamic pressure before the exchanger of a nose
    duct with a short diffuser. Ours: a nose inlet or a facing one at a flow ratio of 0.4 (common practice, no source) that widens
    threefold; static pressure, so less the speed before the core."""
    ratio, loss = 3.0, openings.diffuser_loss(3.0, 0.25, 0.04)
    found = [openings.INLETS[kind].band.centre - (loss + 1 / ratio**2) * 0.4**2 for kind in ("nose", "facing")]
    assert found[0] == pytest.approx(0.8, abs=0.06) and found[1] == pytest.approx(0.8, abs=0.12)


@pytest.mark.parametrize(("ratio", "length"), [(1.5, 0.2), (2.0, 0.3), (4.0, 0.5), (3.0, 0.1), (2.0, 1.0)])
def test_widening_ducts(ratio, length):
    """`fluids` 1.x: Crane's formula for cones exactly, Borda and Carnot as the bound, Idelchik's within 0.12 heads."""
    from fluids.fittings import diffuser_conical, diffuser_sharp

    small = np.sqrt(4 * 0.03 / np.pi)
    large = small * np.sqrt(ratio)
    loss = float(openings.diffuser_loss(ratio, length, 0.03))
    assert loss == pytest.approx(diffuser_conical(small, large, l=length, method="Crane"), rel=1e-9)
    assert loss == pytest.approx(diffuser_conical(small, large, l=length, fd=0.015, method="Idelchik"), abs=0.12)
    assert loss <= diffuser_sharp(small, large) * 1.0001
