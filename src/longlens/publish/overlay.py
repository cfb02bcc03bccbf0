"""Marks as an SVG drawing over a photograph, in the photograph's own pixels.

Every shape is drawn twice, a dark edge below and its colour above, so that it shows on light and on dark pictures.
Strokes keep their width on the screen whatever the picture's size.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from longlens.dossier.records import Mark, Shot
from longlens.publish.markup import e
from longlens.publish.names import LINES, words

#: A ring's radius as a part of the picture's width.
RING = 1 / 170
#: A gap along a rim longer than this many usual steps is a place where it was not seen.
GAP = 2.6


def overlay(
    shot: Shot, marks: Iterable[Mark], suspects: Sequence[dict[str, Any]], anchor: Callable[[Mark], str]
) -> str:
    """The SVG of a shot's marks: drawings below, then rims, then points, then the suspects.

    Parameters
    ----------
    suspects : of the survey's answer, those of this shot.
    anchor : gives the id under which a trail links to a mark.
    """
    r = max(shot.width * RING, 2.0)
    layers = {"line": 0, "outline": 0, "pipe": 0, "rim": 1, "point": 2}
    ordered = sorted(marks, key=lambda m: layers[m.form])
    shapes = [_mark(m, r, anchor(m)) for m in ordered if not m.set_aside]
    shapes += [_suspect(s, r) for s in suspects]
    box = f"-0.5 -0.5 {shot.width} {shot.height}"
    return f'<svg viewBox="{box}" aria-hidden="true" focusable="false">{"".join(shapes)}</svg>'


def _mark(mark: Mark, r: float, anchor: str) -> str:
    name = mark.part or words(mark.point or mark.circle or "")
    if mark.point and mark.part:
        name = words(mark.point)
    title = f"{name}: {mark.certainty}" + (f", ±{mark.sd_px:g} px" if mark.form in ("point", "rim") else "")
    line = LINES[mark.certainty][0]
    width = f' style="--across:{mark.width_px:.1f}px"' if mark.width_px else ""
    return (
        f'<g id="{e(anchor)}" class="mark {mark.form} {line} s-{mark.system or "none"}"{width}>'
        f"<title>{e(title)}</title>{_shape(mark, r)}</g>"
    )


def _shape(mark: Mark, r: float) -> str:
    if mark.form == "point":
        x, y = mark.x or 0.0, mark.y or 0.0
        ring = f'cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}"'
        dot = f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="{r / 6:.1f}"/>'
        return f'<circle class="edge" {ring}/><circle class="ink" {ring}/>{dot}'
    if mark.form == "rim":
        d = "".join(_path(run) for run in _runs(mark.edge or []))
    else:
        d = _path(mark.path or []) + ("Z" if mark.form == "outline" else "")
    return f'<path class="edge" d="{d}"/><path class="ink" d="{d}"/>'


def _path(points: Sequence[Sequence[float]]) -> str:
    if len(points) == 1:
        points = [points[0], points[0]]
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _runs(edge: Sequence[Sequence[float]]) -> list[list[Sequence[float]]]:
    """Edge points in order round their middle, cut where the rim was not seen."""
    xy = np.asarray(edge, float)
    if len(xy) < 3:
        return [[p] for p in edge]
    mid = xy - xy.mean(axis=0)
    # Round the ellipse rather than round the picture: a rim seen nearly edge-on would fold over otherwise.
    _, size, axes = np.linalg.svd(mid, full_matrices=False)
    round_ = mid @ axes.T / np.maximum(size, 1e-9)
    order = np.argsort(np.arctan2(round_[:, 1], round_[:, 0]))
    xy = xy[order]
    steps = np.linalg.norm(np.roll(xy, -1, axis=0) - xy, axis=1)
    far = steps > GAP * float(np.median(steps))
    if not far.any():
        return [[*xy.tolist(), xy[0].tolist()]]
    start = int(np.argmax(far)) + 1
    runs: list[list[Sequence[float]]] = [[]]
    for i in (np.arange(len(xy)) + start) % len(xy):
        runs[-1].append(xy[i].tolist())
        if far[i]:
            runs.append([])
    return [run for run in runs if run]


def _suspect(s: dict[str, Any], r: float) -> str:
    x, y, k = float(s["x"]), float(s["y"]), 2.2 * r
    d = f"M{x - k:.1f} {y:.1f}L{x:.1f} {y - k:.1f}L{x + k:.1f} {y:.1f}L{x:.1f} {y + k:.1f}Z"
    name = words(str(s.get("point") or s.get("circle") or ""))
    title = f"suspect mark of {name}, test value {float(s.get('test') or 0):.1f}"
    return (
        f'<g class="mark suspect"><title>{e(title)}</title><path class="edge" d="{d}"/><path class="ink" d="{d}"/></g>'
    )
