"""Tyre and rim sizes against tables of the standards.

ETRTO / ISO 4000-1: overall diameter = rim diameter + 2 × section height (205/55 R 16 → 631.9, recomputed in the
project's list of checks). The tables' rounded values, the design section widths on their measuring rims, UN R54's
flotation sizes and ISO 4000-2's specified rim diameters: from memory.
"""

import pytest

from longlens.numbers.tyre import bead_seat_diameter, read_tyre

pytestmark = pytest.mark.published


def test_205_55_r_16():
    assert read_tyre("205/55 R 16").facts["overall_diameter"].value == pytest.approx(0.6319, abs=1e-6)


@pytest.mark.parametrize(
    ("size", "overall_mm"),
    [
        ("205/55 R 16", 632),
        ("195/65 R 15", 635),
        ("225/45 R 17", 634),
        ("175/70 R 13", 576),
        ("185/60 R 14", 578),
        ("235/35 R 19", 647),
        ("255/40 R 18", 661),
        ("215/65 R 16", 686),
    ],
)
def test_overall_diameter_of_the_tables(size, overall_mm):
    fact = read_tyre(size).facts["overall_diameter"]
    # the tables round rim diameter and section height to millimetres first
    assert 1e3 * fact.value == pytest.approx(overall_mm, abs=1.2)


@pytest.mark.parametrize(
    ("size", "overall_mm"), [("31x10.50R15LT", 775), ("33x12.50R15LT", 826), ("30x9.50R15LT", 750)]
)
def test_flotation_sizes_of_un_r54(size, overall_mm):
    assert 1e3 * read_tyre(size).facts["overall_diameter"].value == pytest.approx(overall_mm, abs=1.2)


@pytest.mark.parametrize(
    ("size", "rim_width_in", "width_mm"),
    [("205/55 R 16", 6.5, 214), ("195/65 R 15", 6.0, 201), ("225/45 R 17", 7.5, 225), ("175/70 R 13", 5.0, 177)],
)
def test_design_section_width_on_the_measuring_rim(size, rim_width_in, width_mm):
    fact = read_tyre(size).section_width_on(rim_width_in * 0.0254)
    assert 1e3 * fact.value == pytest.approx(width_mm, abs=1.0)


def test_section_width_grows_five_millimetres_per_half_inch_of_rim():
    """A tyre dealer's technical pages (tyres4u.com.au, passenger tyre data) say about 5 mm per half inch."""
    tyre = read_tyre("205/55 R 16")
    more = tyre.section_width_on(7.0 * 0.0254).value - tyre.section_width_on(6.5 * 0.0254).value
    assert 1e3 * more == pytest.approx(5, abs=0.5)


@pytest.mark.parametrize(
    ("code", "mm"),
    [(13, 329.4), (14, 354.8), (15, 380.2), (16, 405.6), (17, 436.6), (18, 462.0), (19, 487.4), (20, 512.8)],
)
def test_specified_rim_diameters(code, mm):
    assert 1e3 * bead_seat_diameter(code) == pytest.approx(mm, abs=0.06)


def test_rolling_circumference_of_a_common_size():
    """195/65 R 15: 1,935 mm is the usual figure of ETRTO's tables (from memory)."""
    radius = read_tyre("195/65 R 15").facts["rolling_radius"]
    assert 2 * 3.14159265 * 1e3 * radius.value == pytest.approx(1935, abs=2 * 2 * 3.14 * 1e3 * radius.sd / 4)
