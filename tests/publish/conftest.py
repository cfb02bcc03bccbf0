"""The fixtures of the command line's tests, and marks that fit its small photographs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

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
