"""Photographs for plates: decoded once, upright, and the window that a style's shape shows of them."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass

import numpy as np

from longlens.dossier.records import Shot
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.drawing import Array
from longlens.publish.styles import Box

#: A picture may lose this part of what was asked for, to fill its place, before it is shown whole with free edges.
CROP = 0.17
KEPT = 2
_decoded: OrderedDict[tuple[str, str], Array] = OrderedDict()


def pixels(dossier: Dossier, shot: Shot) -> Array:
    """A shot's photograph, (h, w, 3) RGB bytes, upright; the last few are kept. Raises UnusableInput."""
    from longlens.dossier.photographs import upright_image

    if shot.photograph is None:
        raise UnusableInput(
            "the photograph itself is not in the dossier", where=f"shot {shot.id!r}", fix="add the file"
        )
    key = (str(dossier.path), shot.photograph)
    found = _decoded.get(key)
    if found is None:
        found = np.asarray(upright_image(dossier.original(shot.photograph)).convert("RGB"))
    _decoded[key] = found
    _decoded.move_to_end(key)
    while len(_decoded) > KEPT:
        _decoded.popitem(last=False)
    return found


@dataclass(frozen=True)
class FromDossier:
    """A shot's photograph as a drawing's source of pixels."""

    dossier: Dossier
    shot: Shot

    @property
    def key(self) -> str:
        return self.shot.photograph or ""

    @property
    def pixels(self) -> Array:
        return pixels(self.dossier, self.shot)


def fitted(window: Box | None, size: tuple[int, int], place: Box, keep: Box | None = None) -> tuple[Box, Box]:
    """The window shown (pixels) and its box (drawing units), for a window asked for and a place to fill.

    The window is widened to the shape of its place inside the photograph. Where the photograph ends, a little of what was asked
    for is cut off, or much where all that is brought out (``keep``, pixels) still stands in it; else the box becomes smaller.
    """
    w, h = size
    x0, y0, x1, y1 = window or (-0.5, -0.5, w - 0.5, h - 0.5)
    px0, py0, px1, py1 = place
    shape = (px1 - px0) / (py1 - py0)
    ww, hh = x1 - x0, y1 - y0
    if ww / hh < shape:
        ww = hh * shape
    else:
        hh = ww / shape
    if ww > w or hh > h:
        k = min(w / ww, h / hh)
        cut_w, cut_h = ww * k, hh * k
        if min(cut_w / (x1 - x0), cut_h / (y1 - y0), 1.0) >= 1 - CROP:
            ww, hh = cut_w, cut_h
        elif keep is not None and (keep[2] - keep[0]) < 0.8 * cut_w and (keep[3] - keep[1]) < 0.8 * cut_h:
            ww, hh = cut_w, cut_h
            x0, y0, x1, y1 = keep
        else:
            return _whole(x0, y0, x1, y1, size, place)
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    cx = float(np.clip(cx, ww / 2 - 0.5, w - 0.5 - ww / 2))
    cy = float(np.clip(cy, hh / 2 - 0.5, h - 0.5 - hh / 2))
    return (cx - ww / 2, cy - hh / 2, cx + ww / 2, cy + hh / 2), place


def _whole(x0: float, y0: float, x1: float, y1: float, size: tuple[int, int], place: Box) -> tuple[Box, Box]:
    """What was asked for, whole, in a smaller box in the middle of the place."""
    w, h = size
    px0, py0, px1, py1 = place
    shape = (px1 - px0) / (py1 - py0)
    ww, hh = x1 - x0, y1 - y0
    if ww / hh < shape:
        ww = min(hh * shape, w)
    else:
        hh = min(ww / shape, h)
    cx = float(np.clip((x0 + x1) / 2, ww / 2 - 0.5, w - 0.5 - ww / 2))
    cy = float(np.clip((y0 + y1) / 2, hh / 2 - 0.5, h - 0.5 - hh / 2))
    k = min((px1 - px0) / ww, (py1 - py0) / hh)
    bw, bh = ww * k, hh * k
    bx, by = (px0 + px1 - bw) / 2, (py0 + py1 - bh) / 2
    return (cx - ww / 2, cy - hh / 2, cx + ww / 2, cy + hh / 2), (bx, by, bx + bw, by + bh)
