"""Wings against Prandtl, Wieselsberger, Glauert, Hemke and wind-tunnel points.

Elliptic wing: C_L = 2π α/(1 + 2/A), C_Di = C_L²/(π A) (Prandtl, NACA Report 116). Image: σ of two equal elliptic wings, table
in the same report (from memory: 0.655 at a distance of a tenth of the span, 0.485 at a fifth, 0.370 at 0.3, 0.290 at 0.4,
0.230 at a half), and Wieselsberger's formula (NACA TM 77). Wind tunnel: Wenzinger and Harris, NACA Report 664, 1939 (NACA
23012 with a slotted flap of 25.66 %; figures read from memory, ±0.15); Zerihan and Zhang, J. Aircraft 37, 2000 (single wing in
ground effect; from memory); Zhang and Zerihan, AIAA J. 41, 2003 (double-element wing: span 1,100 mm, chord 380 mm, flap 165.7
mm and the course over height read in the paper's first page, coefficients from memory).
"""

import numpy as np
import pytest

from longlens.numbers.distributions import TruncatedNormal
from longlens.systems.aero import aerofoil, lifting_line
from longlens.systems.aero.sheet import SHEET
from longlens.systems.aero.wings import Element, Errors, Wing, loads, section_angle

THETA = lifting_line.stations()
ELLIPSE = 4 / np.pi * np.sin(THETA)


@pytest.mark.parametrize("aspect", [3.0, 6.0, 12.0])
def test_elliptic_wing(aspect):
    w = lifting_line.solve(aspect, 1.0, 0.1, 2 * np.pi, chord_shape=ELLIPSE)
    assert w.lift == pytest.approx(2 * np.pi * 0.1 / (1 + 2 / aspect), rel=1e-9)
    assert w.induced == pytest.approx(w.lift**2 / (np.pi * aspect), rel=1e-9)


def test_rectangular_wing_of_glauert():
    """Glauert 1926, rectangular wing, π A/(slope) with A = 6: δ = 0.046, τ = 0.16 about (read off his curves, from memory)."""
    w = lifting_line.solve(6.0, 1.0, 0.1, 2 * np.pi)
    delta = w.induced / (w.lift**2 / (np.pi * 6)) - 1
    tau = (2 * np.pi * 0.1 / w.lift - 1) * 3 - 1
    assert delta == pytest.approx(0.046, abs=0.006)
    assert tau == pytest.approx(0.16, abs=0.02)


@pytest.mark.parametrize(("gap", "sigma"), [(0.1, 0.655), (0.2, 0.485), (0.3, 0.370), (0.4, 0.290), (0.5, 0.230)])
def test_image_of_an_elliptic_loading(gap, sigma):
    """The image takes σ off the induced drag; its distance from the wing is twice the height."""
    influence = lifting_line.image_influence(np.array(gap / 2))[:, 0]
    weight = np.sin(THETA) ** 2
    assert np.sum(influence * weight) / np.sum(weight) == pytest.approx(sigma, abs=0.012)
    assert lifting_line.prandtl_sigma(gap / 2) == pytest.approx(sigma, abs=0.006)


def test_wing_over_the_ground_gains_as_wieselsberger_says():
    """At one lift the induced drag is (1 − σ) of that in free air, for the loading that the wing then has."""
    for over in (0.05, 0.1, 0.2):
        w = lifting_line.solve(6.0, 1.0, 0.1, 2 * np.pi, height=over * 6, chord_shape=ELLIPSE)
        free = w.lift**2 / (np.pi * 6)
        assert 1 - w.induced / free == pytest.approx(lifting_line.prandtl_sigma(over), abs=0.02)


def test_end_plates_of_hemke():
    """Plates of a tenth of the span: induced drag over 1.19 (NACA Report 267)."""
    assert lifting_line.end_plate_factor(0.1, 1.0) == pytest.approx(1 / 1.19)


@pytest.mark.parametrize(
    ("share", "tau"), [(0.1, 0.396), (0.2, 0.550), (0.25, 0.609), (0.3, 0.661), (0.5, 0.818), (1.0, 1.0)]
)
def test_flap_effectiveness_of_glauert(share, tau):
    """Closed form, values as in Abbott and von Doenhoff's curve (recomputed by hand)."""
    assert aerofoil.flap_effectiveness(share) == pytest.approx(tau, abs=6e-4)
    chain = aerofoil.absolute_angle([1 - share + 1e-12, share], [0.0, 0.1], [0.0, 0.0], losses=False)
    assert chain == pytest.approx(0.1 * tau, rel=2e-3)


def test_parabolic_mean_line():
    """α of no lift = −2 f/c (Glauert)."""
    assert aerofoil.absolute_angle([1.0], [0.0], [0.04]) == pytest.approx(0.08)


@pytest.mark.parametrize(("deflection", "measured"), [(10, 0.65), (20, 1.20), (30, 1.65), (40, 1.95)])
def test_slotted_flap_of_naca_report_664(deflection, measured):
    """Section lift at no incidence. The mean line of the 23012 gives 0.12 (α of no lift −1.2°)."""
    flap_error = SHEET.input("flap_error").assumption.quantile(np.array([0.025, 0.975]))
    flat = aerofoil.absolute_angle([0.7434, 0.2566], [0.0, 0.0], [0.0105, 0.0])
    whole = aerofoil.absolute_angle([0.7434, 0.2566], [0.0, np.radians(deflection)], [0.0105, 0.0])
    low, high = 2 * np.pi * 0.95 * (flat + (whole - flat) * flap_error)
    assert low - 0.15 <= measured <= high + 0.15
    assert low < measured * 1.1 and high > measured * 0.9


def test_greatest_lift_of_naca_report_664():
    """23012 alone 1.55, with the slotted flap 2.8 at full tunnel Reynolds number 3.5 million (from memory): inside our bands, the
    second near their top because the bands are made for lower Reynolds numbers."""
    for count, measured in ((1, 1.55), (2, 2.8)):
        middle, sd = aerofoil.FREE_LIMIT[count]
        band = TruncatedNormal(middle, sd, 0.5, 6.0).quantile(np.array([0.02, 0.98]))
        assert band[0] <= measured <= band[1]


def tunnel_wing(height, chords, angles, camber, plate):
    one = [
        Element(str(k), np.array(c), np.array(a), np.array(camber))
        for k, (c, a) in enumerate(zip(chords, angles, strict=True))
    ]
    return Wing("wing", np.array(1.1), np.asarray(height), np.array(0.0), np.array(plate), tuple(one))


def test_single_wing_in_ground_effect():
    """Zerihan and Zhang 2000: chord 223.4 mm, span 1,100 mm, greatest C_L 1.72 at h/c about 0.08 (from memory)."""
    over = np.array([0.06, 0.08, 0.10, 0.15, 0.2, 0.3, 0.5, 1.0, 2.0])
    found = loads(tunnel_wing(over * 0.2234, [0.2234], [np.radians(3.45)], 0.08, 0.10), Errors()).coefficient
    best = int(np.argmax(found))
    assert found[best] == pytest.approx(1.72, rel=0.12)
    assert 0.07 <= over[best] <= 0.16
    assert np.all(np.diff(found[best:]) < 0), "downforce grows as the wing comes down"
    assert found[0] < found[best], "and falls again where the gap chokes"


def test_double_element_wing_in_ground_effect():
    """Zhang and Zerihan 2003: grows towards the ground, flattens, is greatest near it (2.6 with the small flap angle, about
    3.2 with the large one, from memory), then falls."""
    over = np.array([0.05, 0.08, 0.1, 0.15, 0.2, 0.3, 0.5, 1.0, 2.0])
    chords, rng = [0.2143, 0.1657], np.random.default_rng(1)
    for flap, measured in ((17.0, 2.6), (34.0, 3.2)):
        wing = tunnel_wing(over * 0.38, chords, [np.radians(2), np.radians(2 + flap)], 0.075, 0.17)
        found = loads(wing, Errors()).coefficient
        best = int(np.argmax(found))
        assert over[best] <= 0.2 and found[0] < found[best] and found[-1] < 0.75 * found[best]
        n = 800
        errors = Errors(
            *(
                SHEET.input(f"{e}_error").assumption.quantile(rng.uniform(0.001, 0.999, n))
                for e in ("slope", "flap", "ground", "limit")
            )
        )
        band = np.quantile(loads(tunnel_wing(np.full(n, 0.1 * 0.38), chords, [np.radians(2), np.radians(2 + flap)], 0.075, 0.17),
                                 errors).coefficient, [0.025, 0.975])  # fmt: skip
        assert band[0] <= measured <= band[1], (flap, band)


def test_plate_far_over_the_ground_is_the_lumped_vortex():
    """Katz and Plotkin, Low-Speed Aerodynamics, ch. 5: one vortex at the quarter, its condition at three quarters, and their
    images."""
    for h in (1.0, 2.0, 4.0):
        a = 0.05
        H = 2 * h + 0.5 * np.sin(a)
        r2 = 0.25 + H * H
        G = 1 / (1 - 1 / (4 * r2) - a * H / (2 * r2))
        lumped = G * (1 + a * G / (4 * h))
        assert aerofoil.plate_over_ground(h, a) == pytest.approx(lumped, rel=0.01)
        assert aerofoil.ground_gain(h, 1.0, a).gain == pytest.approx(lumped, rel=0.01)


def test_section_angle_of_the_tunnel_wing_is_of_the_right_size():
    wing = tunnel_wing(1.0, [0.2143, 0.1657], [np.radians(2), np.radians(19)], 0.075, 0.17)
    assert 0.2 < section_angle(wing, Errors()) < 0.5
