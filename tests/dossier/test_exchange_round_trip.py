"""Dossier and exchange form, both ways."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.dossier.exchange import exchange_schema, read_exchange, write_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Shot, Stage, Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import document_hash, stages_with_marks, to_exchange
from longlens.errors import UnusableInput
from tests.dossier.pictures import encode, scene

WHOLE: dict[str, Any] = {
    "format": "longlens-exchange",
    "version": 1,
    "vehicle": {"name": "Fulmar E4"},
    "shots": [
        {"id": "s1", "width": 6000, "height": 4000, "camera": "c", "focal_px": 8000.0, "focal_sd_px": 240.0},
        {"id": "s2", "width": 6000, "height": 4000, "stance": "corner", "cropped": True, "credit": "Skerry",
         "principal_px": [2990.0, 2010.5], "principal_sd_px": 30.0, "file": "b.jpg", "date": "2031-05-04"},
    ],
    "points": [
        {"id": "left.hub", "mirror": "right.hub", "mirror_sd": 0.002},
        {"id": "right.hub", "mirror": "left.hub"},
        {"id": "nose", "on": "centre_plane"},
        {"id": "patch", "on": "ground"},
        {"id": "unseen"},
    ],
    "circles": [
        {"id": "rim", "centre": "left.hub", "axis": "lateral", "axis_sd_deg": 2.5},
        {"id": "disc"},
    ],
    "facts": [
        {"id": "wb", "value": 2500.0, "sd": 5.0, "unit": "mm", "source": "press",
         "distance": ["nose", "left.hub"], "along": "x"},
        {"id": "tyre", "value": 0.6319, "sd": 0.003, "diameter": ["rim", "disc"]},
        {"id": "at", "value": [0.0, 1.0, 2.0], "sd": 0.01, "position": "patch"},
    ],
    "marks": [
        {"shot": "s1", "sd_px": 2.0, "point": "nose", "x": 10.25, "y": -3.5},
        {"shot": "s1", "sd_px": 2.0, "point": "nose", "x": 11.0, "y": -3.0},
        {"shot": "s1", "sd_px": 1.5, "circle": "rim", "edge": [[1.0, 2.0], [3.0, 4.5]]},
        {"shot": "s2", "sd_px": 2.0, "point": "left.hub", "x": 1e-3, "y": 1e5, "inferred": True},
    ],
    "measures": [
        {"id": "rod", "distance": ["nose", "left.hub"]},
        {"id": "up", "distance": ["nose", "left.hub"], "along": "z"},
        {"id": "angle", "angle": ["nose", "left.hub", "right.hub"]},
        {"id": "part", "ratio": ["rod", "up"]},
        {"id": "wheel", "diameter": "rim"},
        {"id": "face", "area": ["nose", "left.hub", "right.hub"]},
        {"id": "bend", "radius": ["nose", "left.hub", "right.hub"]},
        {"id": "high", "height": "nose"},
        {"id": "pipe", "rod_diameter": {"at": "nose", "shot": "s1", "edges": [[0.0, 0.0], [5.0, 1.0]],
                                        "towards": "left.hub"}},
    ],
}  # fmt: skip


def whole() -> Any:
    return read_exchange(WHOLE)[0]


def test_a_document_goes_in_and_comes_out_the_same(dossier: Dossier) -> None:
    document = whole()
    done = from_exchange(dossier, document)
    assert done.made == {"stance": 2, "shot": 2, "point": 5, "circle": 2, "fact": 3, "measure": 9, "mark": 4}
    assert dossier.steps(1)[0].label == "import exchange document"
    assert write_exchange(to_exchange(dossier)) == write_exchange(document)
    again = from_exchange(dossier, document)
    assert again.made == {} and again.changed == {}
    dossier.undo()
    assert dossier.ids(Point) == [] and dossier.ids(Mark) == []


def test_equal_lengths_are_not_dropped_without_a_word(dossier: Dossier) -> None:
    rule = {"one": ["nose", "left.hub"], "other": ["nose", "right.hub"]}
    done = from_exchange(dossier, read_exchange({**WHOLE, "equal_lengths": [rule]})[0])
    (told,) = done.remarks
    assert told.startswith("1 equal length is left out") and "longlens survey FILE.json" in told
    assert to_exchange(dossier).equal_lengths == []
    assert from_exchange(dossier, whole()).remarks == ()


def test_importing_again_changes_what_the_document_says_and_nothing_else(dossier: Dossier) -> None:
    from_exchange(dossier, whole())
    dossier.change(Point, "nose", part="bumper")
    dossier.change(Shot, "s1", credit="by hand", stage=None)
    first = next(m.id for m in dossier.all(Mark) if m.point == "nose")
    dossier.change(Mark, first, certainty="partly seen", note="dark")
    dossier.put(Point(id="mine"))
    changed = json.loads(json.dumps(WHOLE))
    changed["marks"][0]["x"] = 99.0
    changed["facts"][1] = {"id": "tyre", "value": 0.5, "sd": 0.01, "distance": ["nose", "patch"]}
    done = from_exchange(dossier, read_exchange(changed)[0])
    assert done.made == {} and done.changed == {"fact": 1, "mark": 1}
    mark = dossier.get(Mark, first)
    assert (mark.x, mark.certainty, mark.note) == (99.0, "partly seen", "dark")
    assert dossier.get(Point, "nose").part == "bumper" and dossier.get(Shot, "s1").credit == "by hand"
    assert dossier.get(Fact, "tyre").diameter is None and "mine" in dossier.ids(Point)


def test_partly_seen_goes_along(dossier: Dossier, tmp_path: Path) -> None:
    from_exchange(dossier, read_exchange(WHOLE)[0])
    first = dossier.all(Mark)[0].id
    dossier.change(Mark, first, certainty="partly seen")
    document = to_exchange(dossier)
    assert [m.certainty for m in document.marks].count("partly seen") == 1
    other = Dossier.create(tmp_path / "other.longlens", Vehicle(id="vehicle", name="Fulmar E4"))
    from_exchange(other, document)
    assert [m.certainty for m in other.all(Mark)].count("partly seen") == 1
    raw = {**WHOLE, "marks": [{**WHOLE["marks"][0], "certainty": "seen", "inferred": True}]}
    with pytest.raises(UnusableInput, match="contradict each other"):
        read_exchange(raw)


def test_a_shot_of_another_size_is_refused_and_nothing_is_written(dossier: Dossier) -> None:
    add_photographs(dossier, [("s1.jpg", encode(scene()))])
    before = dossier.revision
    with pytest.raises(UnusableInput, match=r"shot 's1': 6000 × 4000 pixels in the document, 640 × 480 in"):
        from_exchange(dossier, whole())
    assert dossier.revision == before


def test_what_is_not_surveyed_stays_behind(dossier: Dossier) -> None:
    from_exchange(dossier, whole())
    marks = len(to_exchange(dossier).marks)
    dossier.put(Mark(id="pipe", shot="s1", form="pipe", path=[(0, 0), (9, 9)], width_px=12, part="coolant hose"))
    dossier.put(Fact(id="power", of="power", value=250e3, sd=5e3, unit="W"))
    assert len(to_exchange(dossier).marks) == marks and len(to_exchange(dossier).facts) == 3
    first = next(m.id for m in dossier.all(Mark) if m.form == "rim")
    dossier.change(Mark, first, set_aside=True)
    assert len(to_exchange(dossier).marks) == marks - 1


def test_a_stage_brings_its_own_shots_and_facts_and_what_they_speak_of(dossier: Dossier) -> None:
    from_exchange(dossier, whole())
    dossier.put(Stage(id="shown", order=2))
    dossier.put(Stage(id="test", order=1))
    dossier.change(Shot, "s1", stage="test")
    dossier.change(Shot, "s2", stage="shown")
    dossier.change(Fact, "tyre", stage="shown")
    for measure in ("bend", "face", "angle"):
        dossier.remove(Measure, measure)
    test, shown = to_exchange(dossier, stage="test"), to_exchange(dossier, stage="shown")
    assert [s.id for s in test.shots] == ["s1"] and [s.id for s in shown.shots] == ["s2"]
    assert [f.id for f in test.facts] == ["wb", "at"] and [f.id for f in shown.facts] == ["wb", "tyre", "at"]
    assert "pipe" in [m.id for m in test.measures] and "pipe" not in [m.id for m in shown.measures]  # on s1
    assert "unseen" not in [p.id for p in test.points] and "right.hub" in [p.id for p in test.points]
    assert "disc" not in [c.id for c in test.circles]
    assert stages_with_marks(dossier) == ["test", "shown"]
    with pytest.raises(UnusableInput, match="no stage 'show'"):
        to_exchange(dossier, stage="show")


def test_a_loose_end_is_named(dossier: Dossier) -> None:
    from_exchange(dossier, whole())
    dossier.remove(Point, "patch")
    with pytest.raises(UnusableInput, match="no point has the id 'patch'"):
        to_exchange(dossier)


def test_the_hash_tells_contents_apart(dossier: Dossier) -> None:
    from_exchange(dossier, whole())
    first = document_hash(to_exchange(dossier))
    assert first == document_hash(whole())
    dossier.change(Point, "nose", part="bumper")  # not of the survey
    assert document_hash(to_exchange(dossier)) == first
    dossier.change(Circle, "rim", axis_sd_deg=3.0)
    assert document_hash(to_exchange(dossier)) != first


# Any document.

NAMES = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12)
NUMBER = st.floats(-1e6, 1e6)
POSITIVE = st.floats(1e-6, 1e6)


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    def ids(least: int, most: int) -> list[str]:
        return draw(st.lists(NAMES, unique=True, min_size=least, max_size=most))

    def maybe(**fields: st.SearchStrategy) -> dict[str, Any]:
        return {k: draw(v) for k, v in fields.items() if draw(st.booleans())}

    shots, points, circles = ids(1, 3), ids(3, 6), ids(1, 3)
    pair = st.lists(st.sampled_from(points), min_size=2, max_size=2, unique=True)
    pixel = st.tuples(NUMBER, NUMBER).map(list)
    facts: list[dict[str, Any]] = []
    for name in ids(0, 4):
        fact: dict[str, Any] = {
            "id": name,
            "sd": draw(POSITIVE),
            "unit": draw(st.sampled_from(["m", "mm", "in"])),
        }
        match draw(st.sampled_from(["distance", "along", "diameter", "position"])):
            case "distance":
                fact |= {"value": draw(POSITIVE), "distance": draw(pair)}
            case "along":
                fact |= {"value": draw(NUMBER), "distance": draw(pair), "along": draw(st.sampled_from("xyz"))}
            case "diameter":
                some = draw(st.lists(st.sampled_from(circles), min_size=1, max_size=2, unique=True))
                fact |= {"value": draw(POSITIVE), "diameter": some}
            case _:
                value = draw(st.lists(NUMBER, min_size=3, max_size=3))
                fact |= {"value": value, "position": draw(st.sampled_from(points))}
        facts.append(fact)
    marks: list[dict[str, Any]] = []
    for _ in range(draw(st.integers(0, 8))):
        mark: dict[str, Any] = {"shot": draw(st.sampled_from(shots)), "sd_px": draw(POSITIVE)}
        if draw(st.booleans()):
            mark |= {"point": draw(st.sampled_from(points)), "x": draw(NUMBER), "y": draw(NUMBER)}
        else:
            mark |= {
                "circle": draw(st.sampled_from(circles)),
                "edge": draw(st.lists(pixel, min_size=1, max_size=4)),
            }
        marks.append(mark | maybe(inferred=st.just(True)))
    return {
        "format": "longlens-exchange",
        "version": 1,
        "vehicle": {"name": draw(NAMES)},
        "shots": [
            {"id": s, "width": draw(st.integers(1, 9000)), "height": draw(st.integers(1, 9000))}
            | maybe(stance=NAMES, camera=NAMES, cropped=st.booleans(), credit=NAMES, principal_px=pixel)
            for s in shots
        ],
        "points": [{"id": p} | maybe(on=st.sampled_from(["centre_plane", "ground"])) for p in points],
        "circles": [{"id": c} | maybe(centre=st.sampled_from(points), axis=st.just("lateral")) for c in circles],
        "facts": facts,
        "marks": marks,
        "measures": [{"id": m, "distance": draw(pair)} for m in ids(0, 3)],
    }


@settings(max_examples=50, deadline=None)
@given(documents())
def test_any_document_survives_the_round_trip(tmp_path_factory: pytest.TempPathFactory, raw: dict[str, Any]) -> None:
    document, _ = read_exchange(raw)
    path: Path = tmp_path_factory.mktemp("trip") / "d.longlens"
    with Dossier.create(path, Vehicle(name=document.vehicle.name)) as dossier:
        dossier._db.execute("PRAGMA synchronous = OFF")
        from_exchange(dossier, document)
        assert write_exchange(to_exchange(dossier)) == write_exchange(document)
        before = write_exchange(to_exchange(dossier.at(dossier.revision)))
        assert before == write_exchange(document)


def test_what_comes_out_fits_the_published_schema(dossier: Dossier) -> None:
    import jsonschema

    from_exchange(dossier, whole())
    jsonschema.validate(write_exchange(to_exchange(dossier)), exchange_schema())
