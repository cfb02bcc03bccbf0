import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.errors import UnusableInput
from longlens.numbers.tyre import read_tyre

#: typed, form, width mm, overall mm, rim code, load index, speed symbol
READ = [
    ("205/55 R 16", "metric", 205, 631.9, 16, None, ""),
    ("205/55R16 91V", "metric", 205, 631.9, 16, 91, "V"),
    ("  205 / 55  r 16 ", "metric", 205, 631.9, 16, None, ""),
    ("P215/65R15", "metric", 215, 660.5, 15, None, ""),
    ("P215/65R15XL 95H", "metric", 215, 660.5, 15, 95, "H"),
    ("LT235/85R16C", "metric", 235, 805.9, 16, None, ""),
    ("275/35 ZR 19 (100Y)", "metric", 275, 675.1, 19, 100, "Y"),
    ("305/30ZRF20 103Y", "metric", 305, 691.0, 20, 103, "Y"),
    ("T145/80D18 103M", "metric", 145, 689.2, 18, 103, "M"),
    ("185/70SR14", "metric", 185, 614.6, 14, None, ""),
    ("155 R 13 78S", "metric", 155, 584.4, 13, 78, "S"),
    ("210/55 R 390", "metric", 210, 621.0, 390, None, ""),
    ("31x10.50R15", "diameter first", 266.7, 774.7, 15, None, ""),
    ("31x10.5 R15 LT", "diameter first", 266.7, 774.7, 15, None, ""),
    ("24.0x7.0-13", "race", 177.8, 609.6, 13, None, ""),
    ("24,0×7,0–13", "race", 177.8, 609.6, 13, None, ""),
    ("245/640-18", "race", 245, 640, 18, None, ""),
    ("245/640 R 18", "race", 245, 640, 18, None, ""),
    ("30/65-18", "race", 300, 650, 18, None, ""),
    ("8.2/22.0-13", "race", 208.28, 558.8, 13, None, ""),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "form", "width", "overall", "rim", "index", "speed"), READ)
def test_designations(typed, form, width, overall, rim, index, speed):
    tyre = read_tyre(typed)
    assert tyre.form == form and tyre.rim_code == rim
    assert 1e3 * tyre.width == pytest.approx(width)
    assert 1e3 * tyre.facts["overall_diameter"].value == pytest.approx(overall, abs=0.06)
    assert (tyre.load_index, tyre.speed_symbol) == (index, speed)
    assert all(f.sd > 0 and f.reason for f in tyre.facts.values())


@pytest.mark.parametrize("typed", [row[0] for row in READ])
def test_what_is_seen_is_in_order_of_size(typed):
    f = {n: x.value for n, x in read_tyre(typed).facts.items()}
    assert f["rim_diameter"] < f["rim_flange_diameter"] < f["overall_diameter"]
    assert f["loaded_radius"] < f["rolling_radius"] < f["overall_diameter"] / 2


@pytest.mark.parametrize(
    "bad",
    ["", "   ", "hello", "205/55", "205/5 R16", "205/55 R 40", "205/55 R 3", "2055/55R16", "31x3.5R45", "999/20R10",
     "45/20-18", "205/195R16", "205//55R16", "x" * 500, "205/55 R 16 and more", None, 205, "245/640-"],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_a_way_out(bad):
    with pytest.raises(UnusableInput) as e:
        read_tyre(bad)
    assert e.value.fix


@given(st.text(max_size=70))
def test_any_text_is_read_or_refused(text):
    try:
        tyre = read_tyre(text)
    except UnusableInput:
        return
    assert 0.1 < tyre.facts["overall_diameter"].value < 1.5


def test_numbers_are_joint_and_as_wide_as_the_facts():
    tyre = read_tyre("205/55 R 16 91V")
    n = tyre.numbers(source="press sheet")
    for name, fact in tyre.facts.items():
        assert n[name].sd == pytest.approx(fact.sd, rel=0.06), name
        assert n[name].value == pytest.approx(fact.value)
        assert n[name].kind == "stated" and "press sheet" in n[name].origin.source
    r = np.corrcoef(n["overall_diameter"].draws, n["loaded_radius"].draws)[0, 1]
    assert r > 0.2
    assert np.array_equal(n["overall_diameter"].draws, read_tyre("205/55R16").numbers()["overall_diameter"].draws)


def test_race_forms_are_less_sure_than_the_standard():
    race, road = read_tyre("245/640-18").facts, read_tyre("245/35 R 18").facts
    for name in ("overall_diameter", "section_width", "rim_flange_diameter"):
        assert race[name].sd / race[name].value > road[name].sd / road[name].value


def test_a_doubtful_reading_says_so():
    assert "cm" in read_tyre("180/55-17").remarks[0]
    assert "82 %" in read_tyre("155 R 13").remarks[0]


def test_the_width_on_a_rim_needs_a_metric_size_and_a_fitting_rim():
    with pytest.raises(UnusableInput, match="cannot carry"):
        read_tyre("205/55 R 16").section_width_on(0.4)
    with pytest.raises(UnusableInput, match="no standard rim"):
        read_tyre("245/640-18").section_width_on(0.23)
