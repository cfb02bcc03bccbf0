"""The gallery of the documentation: the Fulmar's plates in every style, frames of its film. Made anew when LONGLENS_PICTURES
names a folder (it takes the survey of the shown car); the pictures in docs/pictures/plates were made so and looked at."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from PIL import Image

from longlens.demo.gather import gather_stage
from longlens.demo.plates import add_plates, plates, sequence
from longlens.demo.stages import Result, stages_of, truth_of
from longlens.dossier.records import Shot, Vehicle
from longlens.dossier.store import Dossier
from longlens.publish.plates import Plate
from tests.cli.test_docs import DOCS

FOLDER = os.environ.get("LONGLENS_PICTURES")
STYLES = {"left-pod": "square", "front-suspension": "tall", "proportions": "print"}


def test_the_demos_plates_name_what_is_there(tmp_path: Path) -> None:
    """Every photograph, measure, fact, point and part that the plates name is in the dossier; nothing is surveyed here."""
    from longlens.dossier.records import Fact, Mark, Measure, Point
    from longlens.publish.reading import texts_of
    from longlens.publish.references import references

    made = plates()
    assert len(made) >= 8 and {s.plate for s in sequence().stops} <= {p.id for p in made}
    with Dossier.create(tmp_path / "f.longlens", Vehicle(name="Fulmar E4")) as d:
        for stage in stages_of("fulmar"):
            gather_stage(d, Result("fulmar", stage, tmp_path, tmp_path, {}), truth_of("fulmar", stage))
        parts = {(m.shot, m.part) for m in d.all(Mark)}
        for plate in made:
            assert plate.view is not None
            for view in (plate.view, plate.beside, *(i.view for i in plate.insets)):
                if view is not None:
                    assert d.get(Shot, view.shot).may_show == "yes"
            assert all((plate.view.shot, p) in parts for h in plate.highlights for p in h.parts)
            named = [p for h in plate.highlights for p in [*h.outline, *(q for chain in h.rods for q in chain)]]
            assert all(d.find(Point, p) is not None for p in named)
            for ref in references(*texts_of(plate), *(s.narration for s in sequence().stops)):
                kind, _, id = ref.partition(":")
                assert d.find({"measure": Measure, "fact": Fact}[kind], id) is not None, ref


def test_the_gallery_is_there() -> None:
    folder = DOCS / "pictures" / "plates"
    for plate in plates():
        with Image.open(folder / f"{plate.id}.jpg") as image:
            assert image.width >= 900


@pytest.mark.skipif(not FOLDER, reason="LONGLENS_PICTURES names no folder")
def test_make_the_gallery(tmp_path: Path) -> None:
    from longlens.dossier.to_exchange import to_exchange
    from longlens.publish.basis import Bases
    from longlens.publish.edition import write_plate
    from longlens.publish.film.film import plan_film
    from longlens.publish.film.frames import SceneFrames
    from longlens.systems.surveying import solve

    out = Path(str(FOLDER)) / "plates"
    out.mkdir(parents=True, exist_ok=True)
    path = tmp_path / "fulmar.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4", maker="Skerry (invented)", note="This car is invented.")) as d:
        for stage in stages_of("fulmar"):
            gather_stage(d, Result("fulmar", stage, path, path, {}), truth_of("fulmar", stage))
        document = to_exchange(d, stage="shown")
        answer = solve(document).answer()
        add_plates(d, Result("fulmar", "shown", path, path, {}, answer=answer), lambda what, part: None)
        bases = Bases(d)
        for plate in d.all(Plate):
            for style in ("wide", *filter(None, [STYLES.get(plate.id)])):
                (png,) = write_plate(bases, plate, style, tmp_path, ("png",), 0.6)
                name = plate.id if style == "wide" else f"{plate.id}.{style}"
                Image.open(png).convert("RGB").save(out / f"{name}.jpg", quality=82)
        film = plan_film(d, "fulmar", bases=bases)
        sheet = Image.new("RGB", (480 * 4, 270 * 3))
        for k, scene in enumerate(film.scenes[:12]):
            frames = SceneFrames(scene, 0.25, 30)
            (frame,) = frames.between(int(0.62 * frames.count), int(0.62 * frames.count) + 1)
            sheet.paste(Image.fromarray(frame), (480 * (k % 4), 270 * (k // 4)))
        sheet.save(out / "film.jpg", quality=82)
