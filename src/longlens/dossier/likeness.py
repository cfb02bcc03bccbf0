"""Is this the same photograph again, resized or recompressed? A perceptual hash of 256 bits.

The picture is brought to 64 × 64 grey values; of its two-dimensional cosine transform the 16 × 16 lowest
frequencies (without the mean) are compared with their median, one bit each. Resizing and recompressing turn
few bits; another picture turns about half of them. A crop or a strong retouch is not recognised; a picture
turned left to right is, by the hash of the flipped one.

Limits: two frames of one burst, or two plain studio views that differ in a detail, may come out alike. That
is why a likeness is told and never acted upon.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from PIL.Image import Image

SIDE = 64
LOW = 16
BITS = LOW * LOW
ALIKE_BITS = 40  # of 256: see tests/dossier/test_likeness.py for how far copies and others lie apart
MIN_CONTRAST = 2.0  # grey levels: an even picture has no likeness to tell


def likeness(image: Image, *, flipped: bool = False) -> str:
    """The hash of an upright 8-bit image as 64 hexadecimal digits; "" for a picture without contrast."""
    from PIL import Image as Pillow

    small = image.resize((SIDE, SIDE), Pillow.Resampling.BOX, reducing_gap=3.0).convert("L")
    grey = np.asarray(small, dtype=float)
    if grey.std() < MIN_CONTRAST:
        return ""
    if flipped:
        grey = grey[:, ::-1]
    k, n = np.mgrid[0:LOW, 0:SIDE]
    cosines = np.cos(np.pi * k * (2 * n + 1) / (2 * SIDE))
    low = (cosines @ grey @ cosines.T).ravel()[1:]
    bits = np.concatenate([[0], (low > np.median(low)).astype(np.uint8)])
    return np.packbits(bits).tobytes().hex()


def distance(a: str, b: str) -> int:
    """How many bits differ, 0 to 256; 256 when either picture has no hash."""
    if len(a) != BITS // 4 or len(b) != BITS // 4:
        return BITS
    return (int(a, 16) ^ int(b, 16)).bit_count()


def alike(a: str, b: str) -> bool:
    """True when two hashes say: one picture."""
    return distance(a, b) <= ALIKE_BITS
