"""What hangs on what: removing whole, renaming, loose ends."""

from __future__ import annotations

import pytest

from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.links import dangling, referrers, remove_whole, rename
from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Shot
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import to_exchange
from longlens.errors import UnusableInput
from tests.dossier.test_exchange_round_trip import whole


@pytest.fixture
def filled(dossier: Dossier) -> Dossier:
    from_exchange(dossier, whole())
    return dossier


def test_a_point_goes_with_what_cannot_stand_without_it(filled: Dossier) -> None:
    before = to_exchange(filled)
    remove_whole(filled, Point, "left.hub")
    assert dangling(filled) == []
    assert filled.get(Circle, "rim").centre is None and filled.get(Point, "right.hub").mirror is None
    wheelbase = filled.get(Fact, "wb")  # the published figure stays, of nothing for now
    assert not wheelbase.surveyed and wheelbase.value == 2500.0
    assert not [m for m in filled.all(Mark) if m.point == "left.hub"]
    assert set(filled.ids(Measure)) == {"wheel", "high"}  # the ratio of two removed measures is gone as well
    to_exchange(filled)
    filled.undo()
    assert to_exchange(filled) == before


def test_a_shot_goes_with_its_marks(filled: Dossier) -> None:
    remove_whole(filled, Shot, "s1")
    assert {m.shot for m in filled.all(Mark)} == {"s2"}
    assert "pipe" not in filled.ids(Measure)  # measured on that very shot
    assert dangling(filled) == []


def test_a_position_fact_cannot_stand_without_its_point(filled: Dossier) -> None:
    remove_whole(filled, Point, "patch")
    assert "at" not in filled.ids(Fact)


def test_renaming_tells_everyone(filled: Dossier) -> None:
    rename(filled, Point, "left.hub", "hub, left")
    assert dangling(filled) == []
    assert filled.get(Point, "right.hub").mirror == "hub, left"
    assert filled.get(Circle, "rim").centre == "hub, left"
    assert filled.get(Measure, "pipe").rod_diameter.towards == "hub, left"  # type: ignore[union-attr]
    assert filled.get(Measure, "angle").angle == ("nose", "hub, left", "right.hub")
    assert len(referrers(filled, Point, "hub, left")) == 10 and referrers(filled, Point, "left.hub") == []
    with pytest.raises(UnusableInput, match="exists already"):
        rename(filled, Point, "nose", "patch")
    filled.undo()
    assert "left.hub" in filled.ids(Point) and dangling(filled) == []


def test_loose_ends_are_named(filled: Dossier) -> None:
    assert dangling(filled) == []
    filled.remove(Circle, "disc")
    assert dangling(filled) == ["fact 'tyre': diameter names the circle 'disc', which is not there"]
