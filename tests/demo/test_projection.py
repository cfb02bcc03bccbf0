"""The rendered camera equals our projection over the whole frame, distortion included (held against Mitsuba's rays)."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from longlens.demo.shots import camera_of, project, shots_of

RESULT = Path(__file__).parents[2] / "tools" / "demo_pictures" / "projection_check.json"
ROWS = json.loads(RESULT.read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", ROWS, ids=[r["shot"] for r in ROWS])
def test_rendered_targets_lie_where_we_project_them(row: dict) -> None:
    shot = next(s for s in shots_of("fulmar") if s.id == row["shot"])
    cam = camera_of(shot)
    assert cam["published"] == row["camera"]["published"], "the check was made with another camera: run it again"
    places, seen = np.array(row["places_m"]), np.array(row["found_px"])
    error = np.linalg.norm(project(places, cam) - seen, axis=1)
    assert error.max() < 0.2
    c = cam["published"]
    # the targets do reach the corners, and the distortion there is far more than the error allowed
    reach = np.abs(seen - [c["width"] / 2, c["height"] / 2]) / [c["width"] / 2, c["height"] / 2]
    assert reach.min(axis=1).max() > 0.95
    straight = {**cam, "published": {**c, "k1": 0.0}}
    assert np.linalg.norm(project(places, straight) - seen, axis=1).max() > 5


def test_the_check_covers_several_lenses() -> None:
    assert len(ROWS) >= 3
    assert len({round(r["camera"]["published"]["focal_px"]) for r in ROWS}) == len(ROWS)
