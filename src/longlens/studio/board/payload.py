"""Records as the board draws them: plain types, pixels of the upright picture."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from longlens.dossier.records import Mark, Shot
from longlens.publish.names import words
from longlens.studio.desk import Desk, Solved
from longlens.studio.pictures import TILE
from longlens.survey.camera import project
from longlens.survey.foretold import rim_on


def photo_of(shot: Shot) -> dict[str, Any]:
    """What the board needs to show a photograph."""
    levels = max(0, int(np.ceil(np.log2(max(shot.width, shot.height) / TILE))))
    return {
        "id": shot.id,
        "name": shot.name or shot.id,
        "picture": shot.photograph,
        "width": shot.width,
        "height": shot.height,
        "tile": TILE,
        "levels": levels,
    }


def marks_of(desk: Desk, shot: str) -> list[dict[str, Any]]:
    """The marks of a shot with their names, and what the survey says of each."""
    solved = desk.solved()
    suspects = {(s["shot"], s.get("point") or s.get("circle")): s for s in _suspects(solved)}
    mine = [m for m in desk.marks() if m.shot == shot]
    placed = _placed(solved, shot, [m.point for m in mine if m.point])
    out = []
    for mark in mine:
        one = plain_mark(mark)
        suspect = suspects.get((shot, mark.point or mark.circle or ""))
        if suspect and not mark.set_aside:
            one["suspect"] = [suspect["x"], suspect["y"]]
        if mark.point in placed:
            x, y = placed[mark.point]
            one["residual"] = [round(x - (mark.x or 0), 3), round(y - (mark.y or 0), 3)]
        if (
            mark.circle
            and solved.solution is not None
            and (rim := rim_on(solved.solution, mark.circle, shot)) is not None
        ):
            one["fitted"] = np.round(rim, 1).tolist()
        out.append(one)
    return out


def plain_mark(mark: Mark) -> dict[str, Any]:
    """One mark without the survey."""
    name = words(mark.point or mark.circle or "") or mark.part or "without a name"
    one: dict[str, Any] = {
        "id": mark.id,
        "form": mark.form,
        "certainty": mark.certainty,
        "system": mark.system or "",
        "name": name,
        "aside": mark.set_aside,
        "point": mark.point,
        "circle": mark.circle,
    }
    if mark.form == "point":
        one |= {"x": mark.x, "y": mark.y}
    elif mark.form == "rim":
        one["edge"] = [list(p) for p in mark.edge or []]
    else:
        one |= {"path": [list(p) for p in mark.path or []], "width": mark.width_px}
    return one


def _suspects(solved: Solved) -> Iterable[dict[str, Any]]:
    return (solved.answer or {}).get("suspect_marks") or []


def _placed(solved: Solved, shot: str, points: list[str]) -> dict[str, Any]:
    """Pixels where the survey puts points on a shot."""
    answer = solved.answer or {}
    camera = (answer.get("shots") or {}).get(shot)
    places = answer.get("points") or {}
    found = [p for p in points if p in places]
    if camera is None or "rotation" not in camera or not found:
        return {}
    xy = project(
        np.array([places[p]["xyz_m"] for p in found]),
        np.asarray(camera["rotation"]),
        np.asarray(camera["position_m"]),
        camera["focal_px"],
        camera["k1"],
        np.asarray(camera["principal_px"]),
    )
    return {p: q for p, q in zip(found, xy, strict=True) if np.isfinite(q).all()}
