"""The fixtures of the command line's tests, and marks that fit its small photographs."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from longlens.dossier.store import Dossier
from tests.cli.conftest import folder as plain_folder  # noqa: F401
from tests.cli.conftest import run  # noqa: F401
from tests.cli.little_car import FOCAL, WIDTH, document

#: Marks of the little car on the two photographs of 600 × 400 pixels, whose files tell 50 mm in 35 mm terms.
SIZE = (600, 400)


def small_document() -> dict:
    """The little car's marks on its shots s1 and s3, brought to the size of the photographs front and side."""
    doc = document()
    scale = (SIZE[0] * 50 / 36) / FOCAL
    names = {"s1": "front", "s3": "side"}
    doc["shots"] = [{"id": names[s], "width": SIZE[0], "height": SIZE[1]} for s in names]
    middle = ((WIDTH - 1) / 2, (WIDTH * 2 / 3 - 1) / 2)
    marks = []
    for m in doc["marks"]:
        if m["shot"] in names:
            x, y = ((m[k] - c) * scale + (n - 1) / 2 for k, c, n in zip("xy", middle, SIZE, strict=True))
            marks.append({**m, "shot": names[m["shot"]], "x": x, "y": y, "sd_px": 2.0 * scale})
    doc["marks"] = marks
    return doc


@pytest.fixture
def folder(plain_folder: Path) -> Path:  # noqa: F811
    """A folder with photographs and the file of their marks."""
    (plain_folder / "marks.json").write_text(json.dumps(small_document()))
    return plain_folder


@pytest.fixture(scope="session")
def _published_car(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The little car on two photographs, surveyed, with three plates and a sequence; made once."""
    from longlens.dossier.exchange import read_exchange
    from longlens.dossier.from_exchange import from_exchange
    from longlens.dossier.photographs import add_photographs
    from longlens.dossier.records import Fact, Mark, Measure, Point, Shot, Vehicle
    from longlens.publish.basis import Bases
    from longlens.publish.plates import (
        Arrow,
        Chart,
        Dimension,
        Highlight,
        Inset,
        Plate,
        ScaleBar,
        Sequence,
        Series,
        Stop,
        View,
    )
    from longlens.publish.reading import mark_read
    from tests.dossier.pictures import encode, scene

    path = tmp_path_factory.mktemp("published") / "car.longlens"
    raw = small_document()
    scale = 1500 / SIZE[0]
    for shot in raw["shots"]:
        shot["width"], shot["height"] = 1500, 1000
    for m in raw["marks"]:
        m["x"], m["y"], m["sd_px"] = ((m["x"] + 0.5) * scale - 0.5), ((m["y"] + 0.5) * scale - 0.5), m["sd_px"] * scale
    document, _ = read_exchange(raw)
    with Dossier.create(path, Vehicle(name="Fulmar E4", maker="Skerry (invented)", note="An invented car.")) as dossier:
        add_photographs(dossier, [(f"{s}.jpg", encode(scene(1500, 1000, i))) for i, s in enumerate(("front", "side"))])
        from_exchange(dossier, document)
        focal = 833.0 * scale
        for s in ("front", "side"):
            dossier.change(
                Shot, s, credit="Ada Quill", licence="CC BY 4.0", may_show="yes", focal_px=focal, focal_sd_px=60.0
            )
        for p in ("left.rocker", "right.rocker"):
            dossier.change(Point, p, system="suspension")
        a, b = (dossier.get(Mark, f"front:left.{n}") for n in ("front.hub", "rear.hub"))
        dossier.add(Mark(id="sill", shot="front", form="line", path=[(a.x, a.y), (b.x, b.y)], certainty="inferred",
                         along=["left.front.hub", "left.rear.hub"], part="sill", system="structure"))  # fmt: skip
        dossier.add(Fact(id="mass", of="mass", value=620.0, sd=1.5, unit="kg", source="press sheet"))
        dossier.add(Measure(id="lamp_height", height="left.lamp"))
        plates = [
            Plate(id="track", title="The track", text="It is {measure:track} wide.", view=View(shot="front"),
                  dimensions=[Dimension(measure="track", towards="z", away=0.2, label="Track")],
                  highlights=[Highlight(parts=["sill"], label="Sill"),
                              Highlight(rods=[["left.rocker", "left.front.hub"]], label="Rod")]),
            Plate(id="side", title="From the side", view=View(shot="side", window=(200, 200, 1300, 800)),
                  scale_bar=ScaleBar(through="left.front.hub", length=0.5, label="in the wheels' plane"),
                  arrows=[Arrow(path=[(300, 500), (500, 450), (700, 500)], label="Air", system="aero")],
                  insets=[Inset(view=View(shot="front", window=(600, 400, 900, 600)), label="Nose")]),
            Plate(id="chart", title="Figures", model_from="left",
                  chart=Chart(series=[Series(of="measure:track"), Series(of="measure:lamp_height")], width=0.5)),
        ]  # fmt: skip
        for plate in plates:
            dossier.add(plate)
        stops = [
            Stop(plate="track", chapter="Track", narration="The track is {measure:track}. It weighs {fact:mass}."),
            Stop(plate="side", chapter="Side", narration="A bar of half a metre & some air."),
        ]
        dossier.add(Sequence(id="film", title="A small film", stops=stops, words_per_minute=200))
        mark_read(Bases(dossier))
    return path


@pytest.fixture
def car(_published_car: Path, tmp_path: Path) -> Path:
    """A copy of the surveyed little car's dossier, to do with as one likes."""
    return Path(shutil.copy(_published_car, tmp_path / "car.longlens"))


@pytest.fixture
def opened(car: Path) -> Callable[[], Dossier]:
    """Opens the copy."""
    return lambda: Dossier.open(car)


@pytest.fixture(scope="session")
def film_of_car(_published_car: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The little car's film, 540p: killed once while it was made, and made to its end by a second run."""
    from tests.publish.killing import killed_and_finished

    return killed_and_finished(_published_car, tmp_path_factory.mktemp("film"))
