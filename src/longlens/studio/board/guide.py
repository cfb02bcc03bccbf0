"""What is drawn on a photograph to help: the ellipse or the line on which the survey says that a point must lie.

Where that is, :mod:`longlens.survey.foretold` says; here it becomes plain types for the board.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from longlens.dossier.records import Mark
from longlens.survey.answer import Solution
from longlens.survey.foretold import Region, picked, ray_on, seen_by, where_all
from longlens.survey.provisional import Provisional


def ellipse_of(region: Region, least: float = 1.0) -> dict[str, float]:
    """The 95 % ellipse as centre, half axes (px, not under ``least``, so that it is seen) and angle (rad)."""
    a, b, angle = region.ellipse()
    return {"x": float(region.xy[0]), "y": float(region.xy[1]), "a": max(a, least), "b": max(b, least), "angle": angle}


def guides(
    solution: Solution,
    shot: str,
    point: str,
    twin: str | None,
    marks: Sequence[Mark],
    name: Callable[[str], str],
    provisional: Mapping[str, Provisional] | None = None,
) -> list[dict[str, Any]]:
    """What to draw on ``shot`` for a chosen point and its twin: ellipses, or lines from the only other photograph.

    ``marks`` are the dossier's point marks; ``name`` makes words of an id; ``provisional``: places of what is not surveyed yet.
    """
    out: list[dict[str, Any]] = []
    wanted = [p for p in (point, twin) if p]
    found = where_all(solution, wanted, shot)
    for p in wanted:
        if p in found:
            out.append({"name": name(p), "twin": p == twin, "ellipse": ellipse_of(found[p])})
            continue
        place = (provisional or {}).get(p)
        if place is not None and shot in solution.net.shots:
            pick = picked(solution)
            region = seen_by(solution, shot, place.xyz, place.draws[pick], pick)
            if region is not None:
                said = f"{name(p)}, provisionally"
                out.append({"name": said, "twin": p == twin, "provisional": True, "ellipse": ellipse_of(region)})
                continue
        for m in marks:
            if m.point != p or m.x is None or m.y is None:
                continue
            line = ray_on(solution, (m.shot, m.x, m.y), shot)
            if line is not None:
                said = f"{name(p)} by {m.shot}"
                out.append({"name": said, "twin": p == twin, "path": np.round(line[:, :2], 1).tolist()})
    return out
