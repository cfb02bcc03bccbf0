"""What the board writes: names, twins, stances, marks moved and taken away, measures and facts; one undo step each."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from longlens.dossier.records import Circle, Fact, Mark, Measure, Photograph, Point, Shot, Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import to_exchange
from longlens.errors import UnusableInput
from longlens.studio.board import edits
from longlens.studio.board.edits import Known


@pytest.fixture
def dossier(tmp_path: Path) -> Iterator[Dossier]:
    with Dossier.create(tmp_path / "a.longlens", Vehicle(name="Fulmar E4")) as one:
        one.put(Shot(id="s1", width=4000, height=3000))
        one.put(Shot(id="s2", width=4000, height=3000, stance="hanging"))
        yield one


def wheels(id: str) -> Known:
    """A vocabulary of one part: a hub is carried by the wheel."""
    return Known(part="hub", system="running", carried_by="wheel" if "hub" in id else None)


@pytest.mark.parametrize(
    ("said", "id"),
    [
        ("Left front upper wishbone", "left.front.upper_wishbone"),
        ("upper wishbone, front left", "left.front.upper_wishbone"),
        ("left.front.hub_nut", "left.front.hub_nut"),
        ("left.front.rim@hanging", "left.front.rim@hanging"),
        ("Roll hoop", "roll_hoop"),
        ("left", "left"),
    ],
)
def test_words_become_the_trade_s_composed_names(said: str, id: str) -> None:
    assert edits.plain_id(said) == id


@given(st.text(max_size=60))
def test_any_words_give_a_name_that_stays_or_a_refusal(said: str) -> None:
    try:
        id = edits.plain_id(said)
    except UnusableInput:
        return
    assert edits.plain_id(id) == id and 0 < len(id) <= 180


@given(st.sampled_from(["left.hub", "right.front.hub_nut", "roll_hoop.top", "left", "ground.mark_1"]))
def test_a_twin_s_twin_is_itself(id: str) -> None:
    twin = edits.twin_of(id)
    assert twin is None or edits.twin_of(twin) == id


def test_a_point_is_made_with_its_mark_and_tied_to_its_twin(dossier: Dossier) -> None:
    edits.place(dossier, "s1", "point", "left front hub nut", [(10.0, 20.0)], describe=wheels)
    edits.place(dossier, "s1", "point", "right front hub nut", [(30.0, 20.0)], describe=wheels)
    left, right = dossier.get(Point, "left.front.hub_nut"), dossier.get(Point, "right.front.hub_nut")
    assert (left.mirror, right.mirror) == (None, "left.front.hub_nut")
    assert left.system == "running" and left.carried_by == "wheel"
    to_exchange(dossier)  # what was written is what the survey takes


def test_a_point_marked_again_on_the_same_shot_moves(dossier: Dossier) -> None:
    first = edits.place(dossier, "s1", "point", "badge", [(10.0, 20.0)])
    again = edits.place(dossier, "s1", "point", "badge", [(11.0, 21.0)])
    assert first.id == again.id and [(m.x, m.y) for m in dossier.all(Mark)] == [(11.0, 21.0)]


def test_what_a_wheel_carries_has_a_place_of_its_own_in_each_stance(dossier: Dossier) -> None:
    edits.place(dossier, "s1", "point", "left.front.hub_nut", [(1.0, 1.0)], describe=wheels)
    edits.place(dossier, "s2", "point", "left.front.hub_nut", [(2.0, 2.0)], describe=wheels)
    edits.place(dossier, "s2", "point", "badge", [(3.0, 3.0)], describe=wheels)
    assert dossier.ids(Point) == ["left.front.hub_nut", "left.front.hub_nut@hanging", "badge"]
    assert dossier.get(Point, "left.front.hub_nut@hanging").stance == "hanging"


def test_a_rim_has_an_axis_across_the_car_and_a_centre(dossier: Dossier) -> None:
    edge = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0), (5.0, 12.0)]
    edits.place(dossier, "s1", "rim", "left front rim", edge)
    circle = dossier.get(Circle, "left.front.rim")
    assert (circle.axis, circle.centre) == ("lateral", "left.front.rim_centre")
    assert dossier.find(Point, "left.front.rim_centre") is not None


@pytest.mark.parametrize("form", ["line", "outline", "pipe"])
def test_drawings_are_kept_and_not_surveyed(dossier: Dossier, form: str) -> None:
    edits.place(dossier, "s1", form, "left front pushrod", [(0.0, 0.0), (5.0, 5.0), (9.0, 2.0)], width=7.0)
    (mark,) = dossier.all(Mark)
    assert mark.form == form and mark.part == "left front pushrod" and (mark.width_px == 7.0) == (form == "pipe")
    assert to_exchange(dossier).marks == []


def test_corners_move_and_go_one_by_one_and_an_outline_keeps_three(dossier: Dossier) -> None:
    mark = edits.place(dossier, "s1", "outline", "core", [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
    edits.move(dossier, [mark.id], 1.0, -1.0, vertex=2)
    assert dossier.get(Mark, mark.id).path == [(0.0, 0.0), (10.0, 0.0), (11.0, 9.0), (0.0, 10.0)]
    edits.remove(dossier, [mark.id], vertex=0)
    assert len(dossier.get(Mark, mark.id).path or []) == 3
    edits.remove(dossier, [mark.id], vertex=0)  # three are needed: now the outline itself goes
    assert dossier.find(Mark, mark.id) is None


def test_marks_set_aside_stay_but_are_not_given_to_the_survey(dossier: Dossier) -> None:
    a = edits.place(dossier, "s1", "point", "a", [(1.0, 1.0)])
    b = edits.place(dossier, "s1", "point", "b", [(2.0, 2.0)])
    assert edits.set_aside(dossier, [a.id, b.id]) is True
    assert to_exchange(dossier).marks == [] and len(dossier.all(Mark)) == 2
    assert edits.set_aside(dossier, [a.id, b.id]) is False


def ask(dossier: Dossier, marks: list[Mark], words: str) -> edits.Ask:
    return next(a for a in edits.asks_of(dossier, marks) if a.words == words)


def test_what_is_chosen_decides_what_can_be_asked_and_stated(dossier: Dossier) -> None:
    dots = [edits.place(dossier, "s1", "point", f"left.plate.corner_{i}", [(i, i * i)]) for i in range(4)]
    rims = [edits.place(dossier, "s1", "rim", f"left.{e}.rim", [(1.0, 1.0), (2.0, 5.0)]) for e in ("front", "rear")]
    assert next(a.words for a in edits.asks_of(dossier, dots[:2])) == "length, straight"
    assert [a.words for a in edits.asks_of(dossier, dots[:3])] == ["angle"]
    assert [a.words for a in edits.asks_of(dossier, dots)] == ["area"]
    assert [a.words for a in edits.asks_of(dossier, rims)][:2] == ["diameter", "length, straight"]
    assert edits.asks_of(dossier, []) == []
    made = edits.ask_measure(dossier, ask(dossier, dots[:2], "length, straight"))
    assert (
        made.distance == ("left.plate.corner_0", "left.plate.corner_1") and made.id == "left.plate.corner_0_to_corner_1"
    )
    assert (
        edits.ask_measure(dossier, ask(dossier, dots[:2], "length, straight")) == made
        and len(dossier.all(Measure)) == 1
    )
    fact = edits.state_length(dossier, ask(dossier, rims, "length along the car"), 2625, 2, "mm", "maker's sheet", None)
    assert (fact.distance, fact.along) == (("left.front.rim_centre", "left.rear.rim_centre"), "x")
    edits.state_length(dossier, ask(dossier, rims, "diameter"), 415.6, 1.2, "mm", "rim 8 J x 15", None)
    document = to_exchange(dossier)
    assert len(document.facts) == 2 and len(document.measures) == 1


def test_a_figure_without_a_source_is_refused(dossier: Dossier) -> None:
    dots = [edits.place(dossier, "s1", "point", f"c{i}", [(i, i)]) for i in range(2)]
    with pytest.raises(UnusableInput, match="no source"):
        edits.state_length(dossier, ask(dossier, dots, "length, straight"), 100, 1, "mm", "  ", None)
    assert dossier.all(Fact) == []


def test_everything_can_be_taken_back(dossier: Dossier) -> None:
    before = dossier.revision
    with dossier.batch("mark"):
        mark = edits.place(dossier, "s1", "point", "left.hub", [(1.0, 1.0)])
    with dossier.batch("move"):
        edits.move(dossier, [mark.id], 0.25, 0.0)
    assert dossier.get(Mark, mark.id).x == 1.25
    dossier.undo()
    assert dossier.get(Mark, mark.id).x == 1.0
    dossier.undo()
    assert dossier.all(Mark) == [] and dossier.all(Point) == [] and dossier.revision > before
    assert dossier.all(Photograph) == []
