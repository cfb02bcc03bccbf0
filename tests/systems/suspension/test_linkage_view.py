"""The linkage as SVG: views look from where they say, what is not there breaks the line, certainty is the line."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from longlens.studio import linkage_view as lv
from longlens.systems.suspension.drawing import Segment, segments
from tests.systems.suspension.cars import corner


def test_views_look_from_where_they_say() -> None:
    axle = segments(corner(rocker=True))
    for name, ahead, left, up in (
        ("from the front", (0, 0), (1, 0), (0, -1)),  # one who looks from ahead sees the car's left on the right
        ("from the left", (-1, 0), (0, 0), (0, -1)),
        ("from above", (0, 1), (1, 0), (0, 0)),
    ):
        view = lv.view_of(axle, *lv.VIEWS[name])
        origin = view(np.zeros(3))
        for axis, wanted in zip(np.eye(3), (ahead, left, up), strict=True):
            d = (view(axis) - origin) / view.scale
            assert d == pytest.approx(np.array(wanted, float), abs=1e-9), (name, axis)


def test_everything_stays_in_the_picture_whichever_way_it_is_turned() -> None:
    axle = segments(corner(rocker=True))
    every = np.concatenate([s.points.reshape(-1, 3) for s in axle])
    for azimuth in range(0, 360, 45):
        for elevation in (0, 30, 90):
            p = lv.view_of(axle, azimuth, elevation)(every)
            assert p.min() > -1 and p[:, 0].max() < lv.WIDE + 1 and p[:, 1].max() < lv.HIGH + 1


def test_the_markup_is_whole_and_says_certainty_by_the_line() -> None:
    axle = segments(corner(rocker=True))
    view = lv.view_of(axle, 30, 20)
    made = lv.drawn(axle, view, inferred={"left.front.track_rod"}, labels={"left.front.pushrod": "−4.1 <kN>"})
    tree = ElementTree.fromstring(f"<svg>{made}{lv.ground(view, axle)}</svg>")
    groups = {g.find("title").text: g for g in tree.findall("g")}  # type: ignore[union-attr]
    assert len(groups) == len(axle)
    assert "inferred" in groups["left front track rod"].get("class", "")
    assert "inferred" not in groups["right front track rod"].get("class", "")
    assert groups["left front pushrod"].find("text").text == "−4.1 <kN>"  # type: ignore[union-attr]


def test_a_place_that_cannot_be_breaks_the_line() -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [np.nan, 0, 0], [2, 0, 0], [3, 0, 0]])
    assert re.findall("[ML]", lv.path(points[:, :2])) == ["M", "L", "M", "L"]
    gone = Segment("left.front.spring", "spring", np.full((2, 3), np.nan))
    assert lv.drawn([gone], lambda p: p[:, :2]) == ""
