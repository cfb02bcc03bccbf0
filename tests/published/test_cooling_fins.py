"""Finned surfaces: published correlations at worked points.

Sources of the formulas: Chang and Wang 1997 (j); Chang, Hsu, Lin and Wang 2000, with the correction of 2006 (f); Manglik and
Bergles 1995 (j and f). The papers themselves were not read: the values were computed with two independent public
implementations that agree with one another (one of them in an open Modelica fluid library, whose verification geometry is taken,
the tube pitch set to fin height plus tube height); the second f was read in that library alone.
"""

import numpy as np
import pytest

from longlens.systems.cooling import fins

pytestmark = pytest.mark.published

FIN = fins.LouvredFin(
    fin_pitch=1.8e-3,
    fin_height=19e-3,
    fin_depth=26e-3,
    fin_thickness=0.1e-3,
    louvre_pitch=1.534e-3,
    louvre_length=16.07e-3,
    louvre_angle=np.radians(28.0),
    tube_depth=26e-3,
    tube_pitch=24e-3,
)


@pytest.mark.parametrize(
    ("reynolds", "j", "f"),
    [
        (60, 0.0632426, 0.757205),
        (120, 0.0450304, 0.410954),
        (200, 0.0350590, 0.234850),
        (500, 0.0223774, 0.136122),
        (1000, 0.0159332, 0.0965252),
        (2000, 0.0113449, 0.0715351),
    ],
)
def test_louvred_fins(reynolds, j, f):
    assert fins.louvred_j(FIN, reynolds) == pytest.approx(j, rel=1e-4)
    assert fins.louvred_f(fins.louvred_friction(FIN), float(reynolds)) == pytest.approx(f, rel=1e-4)


def test_friction_has_no_jump_where_its_branches_meet():
    reynolds = np.geomspace(12.0, 2000.0, 4000)
    f = fins.louvred_f(fins.louvred_friction(FIN), reynolds)
    assert np.max(np.abs(np.diff(np.log(f)))) < 0.02
    assert np.all(np.diff(f * reynolds**2) > 0.0)  # more flow, more pressure


def test_offset_strip_fin():
    # s 1.5, h 5, t 0.1, l 3 mm at Re 1,000: the formulas of Manglik and Bergles worked by hand,
    # α 0.3, δ 0.03333, γ 0.06667.
    strip = fins.OffsetStrip(1.5e-3, 5e-3, 0.1e-3, 3e-3)
    a, d, g, re = 0.3, 1 / 30, 1 / 15, 1000.0
    j = 0.6522 * re**-0.5403 * a**-0.1541 * d**0.1499 * g**-0.0678
    j *= (1 + 5.269e-5 * re**1.340 * a**0.504 * d**0.456 * g**-1.055) ** 0.1
    f = 9.6243 * re**-0.7422 * a**-0.1856 * d**0.3053 * g**-0.2659
    f *= (1 + 7.669e-8 * re**4.429 * a**0.920 * d**3.767 * g**0.236) ** 0.1
    assert fins.offset_strip_j(strip, re) == pytest.approx(j, rel=1e-12)
    assert fins.offset_strip_f(strip, re) == pytest.approx(f, rel=1e-12)
    assert fins.offset_strip_hydraulic_diameter(strip) == pytest.approx(
        90.0 / 40.15e3, rel=1e-9
    )  # 4 s h l over its edges, by hand


def test_fin_efficiency():
    # Incropera: straight fin with adiabatic tip, mL = 1 → tanh(1)/1 = 0.7616.
    film, k, t = 50.0, 200.0, 1e-4
    length = 1.0 / np.sqrt(2 * film / (k * t))
    assert fins.fin_efficiency(film, k, t, length) == pytest.approx(0.76159, abs=1e-5)
