"""Photographs for the screen: scaled ones for a first look, tiles for going close.

Originals are never changed. A scaled picture is made once and kept in the dossier; the decoded picture of the last two
photographs stays in memory while the board goes close, so that forty of 24 megapixels never stand there together.
"""

from __future__ import annotations

import io
import re
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING

import numpy as np

from longlens.dossier.photographs import preview, upright_image
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput

if TYPE_CHECKING:
    from longlens.survey.camera import Array

TILE = 512
#: Longest sides offered; a request takes the next larger one.
SIZES = (320, 1600, 2560)
#: Decoded photographs kept, at most so many and so many bytes.
KEPT, KEPT_BYTES = 2, 220 * 2**20

_ID = re.compile(r"[0-9a-f]{64}")
_decoded: OrderedDict[tuple[str, int], Array] = OrderedDict()
_lock = threading.Lock()
#: One photograph is decoded at a time, however many threads ask.
_decoding = threading.Lock()
_making: dict[str, threading.RLock] = {}


def scaled(dossier: Dossier, photograph: str, longest: int) -> bytes:
    """JPEG of the upright picture, not larger than the next of SIZES."""
    _known(dossier, photograph)
    size = next((s for s in SIZES if s >= longest), SIZES[-1])
    known = dossier.derived("preview", f"{photograph}:{size}")
    if known is not None:
        return known
    with _lock_of(f"{photograph}:{size}"), _decoding:
        return preview(dossier, photograph, longest=size)


def tile(dossier: Dossier, photograph: str, level: int, column: int, row: int) -> bytes:
    """JPEG of one tile. Level 0 is the photograph's own pixels, each further one half as fine.

    Raises UnusableInput where there is no such tile.
    """
    if not (0 <= level <= 12 and 0 <= column < 1024 and 0 <= row < 1024):
        raise UnusableInput("there is no such tile", where=photograph[:12])
    picture = pixels(dossier, photograph, level)
    part = picture[row * TILE : (row + 1) * TILE, column * TILE : (column + 1) * TILE]
    if not part.size:
        raise UnusableInput("there is no such tile", where=photograph[:12])
    import cv2

    ok, body = cv2.imencode(".jpg", part[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 93])
    assert ok
    return body.tobytes()


def pixels(dossier: Dossier, photograph: str, level: int = 0) -> Array:
    """(height, width, 3) RGB of the upright picture, halved ``level`` times. Not to be written to."""
    found = _recall(photograph, level)
    if found is not None:
        return found
    with _lock_of(photograph):
        found = _recall(photograph, level)
        if found is not None:
            return found
        if level == 0:
            _known(dossier, photograph)
            with _decoding:
                made = np.asarray(upright_image(dossier.original(photograph)))
        else:
            import cv2

            finer = pixels(dossier, photograph, level - 1)
            h, w = finer.shape[:2]
            made = cv2.resize(finer, ((w + 1) // 2, (h + 1) // 2), interpolation=cv2.INTER_AREA)
        _remember(photograph, level, made)
        return made


def forget() -> None:
    """Drop every decoded picture (another dossier was opened)."""
    with _lock:
        _decoded.clear()


def _known(dossier: Dossier, photograph: str) -> None:
    """Refuse an id that is none of the dossier's photographs, before anything is looked up by it."""
    if not _ID.fullmatch(photograph) or not dossier.has_original(photograph):
        raise UnusableInput("there is no such photograph", fix="load the page again")


def _recall(photograph: str, level: int) -> Array | None:
    with _lock:
        found = _decoded.get((photograph, level))
        if found is not None:
            _decoded.move_to_end((photograph, level))
        return found


def _remember(photograph: str, level: int, picture: Array) -> None:
    with _lock:
        _decoded[photograph, level] = picture
        while len({p for p, _ in _decoded}) > KEPT or (
            len(_decoded) > 1 and sum(a.nbytes for a in _decoded.values()) > KEPT_BYTES
        ):
            _decoded.popitem(last=False)


def _lock_of(key: str) -> threading.RLock:
    with _lock:
        return _making.setdefault(key, threading.RLock())


def thumbnail(picture: Array, longest: int) -> bytes:
    """JPEG of an array, scaled down."""
    from PIL import Image

    image = Image.fromarray(picture)
    image.thumbnail((longest, longest))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=88)
    return out.getvalue()
