"""Marks proposed on a photograph: what the survey has placed, moved to where it looks like its other marks.

A place foretold loosely is searched by patch matching (:mod:`longlens.survey.proposals`) within its ellipse, or along its line
while only one photograph shows the point. Where the survey knows better, or nothing matches, the foretold place itself is
proposed, and says so.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.dossier.records import Mark, Shot
from longlens.dossier.store import Dossier
from longlens.publish.names import words
from longlens.studio import pictures
from longlens.survey.answer import Solution
from longlens.survey.camera import Array
from longlens.survey.foretold import Region, where_all
from longlens.survey.proposals import NoProposal, propose

#: A proposal is made only where the survey says the place this well: half the long axis of its ellipse, px.
VAGUE = 60.0
MOST = 60
#: Where the ellipse is smaller than this (px), the foretold place is taken: on the demo's photographs matching came within 3 to
#: 12 px of the engineer's marks, the survey of well-marked points within 2 to 5.
SURE = 12.0
#: Matching ends after so long, s; what is left is proposed where it is foretold.
PATIENCE = 5.0


@dataclass(frozen=True)
class Wanted:
    """A point to propose, and a mark that shows what it looks like (None: there is none on a solved photograph)."""

    point: str
    seen: Mark | None
    mirrored: bool = False


class Greys(Mapping[str, Array]):
    """Grey pictures of shots, decoded when asked for, kept for one run."""

    def __init__(self, dossier: Dossier, shots: Mapping[str, Shot]) -> None:
        self._dossier, self._shots = dossier, shots
        self._made: dict[str, Array] = {}

    def __getitem__(self, shot: str) -> Array:
        if shot not in self._made:
            photograph = self._shots[shot].photograph
            if photograph is None:
                raise KeyError(shot)
            import cv2

            self._made[shot] = cv2.cvtColor(pictures.pixels(self._dossier, photograph), cv2.COLOR_RGB2GRAY)
        return self._made[shot]

    def __iter__(self) -> Any:
        return iter(self._shots)

    def __len__(self) -> int:
        return len(self._shots)


def proposals(
    dossier: Dossier, solution: Solution, shot: Shot, wanted: list[Wanted], shots: Mapping[str, Shot]
) -> list[dict[str, Any]]:
    """What to propose on ``shot``, the best known first. Reads photographs: call it in a thread."""
    places = where_all(solution, [w.point for w in wanted], shot.id)
    greys = Greys(dossier, {k: s for k, s in shots.items() if s.photograph})
    end = time.monotonic() + PATIENCE
    out = []
    for w in sorted(wanted, key=lambda w: _vague(places.get(w.point))):
        place = places.get(w.point)
        if place is not None and (not _inside(place.xy, shot) or _vague(place) > VAGUE):
            continue
        worth = _vague(place) > SURE and time.monotonic() < end
        found = _matched(solution, greys, shot, w, place is not None) if worth else None
        if found is not None:
            out.append(found)
        elif place is not None:
            x, y = (round(float(v), 2) for v in place.xy)
            out.append({"id": w.point, "name": words(w.point), "x": x, "y": y, "by": "the survey"})
        if len(out) >= MOST:
            break
    return out


def _matched(solution: Solution, greys: Greys, shot: Shot, w: Wanted, placed: bool) -> dict[str, Any] | None:
    if w.seen is None or w.seen.x is None or w.seen.y is None or shot.photograph is None:
        return None
    source = (w.seen.shot, w.seen.x, w.seen.y)
    try:
        pair = {shot.id: greys[shot.id], w.seen.shot: greys[w.seen.shot]}
    except KeyError:
        return None
    point = w.point if placed else ""
    got = propose(solution, pair, source, shot.id, point=point, mirrored=w.mirrored)
    if isinstance(got, NoProposal) or not _inside(np.array([got.x, got.y]), shot):
        return None
    by = f"its look on {w.seen.shot} ({got.score:.2f})"
    return {"id": w.point, "name": words(w.point), "x": round(got.x, 2), "y": round(got.y, 2), "by": by}


def _vague(place: Region | None) -> float:
    return float("inf") if place is None else place.ellipse()[0]


def _inside(xy: Array, shot: Shot) -> bool:
    return bool(0 <= xy[0] < shot.width and 0 <= xy[1] < shot.height)
