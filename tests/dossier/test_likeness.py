"""Copies are recognised, other pictures are not: photographs of the scikit-image wheel, and drawn ones."""

from __future__ import annotations

import io
import itertools

import numpy as np
import pytest
from PIL import Image
from skimage import data

from longlens.dossier.likeness import ALIKE_BITS, alike, distance, likeness
from tests.dossier.pictures import encode, scene

NAMES = (
    "astronaut",
    "camera",
    "coffee",
    "chelsea",
    "coins",
    "page",
    "clock",
    "moon",
    "rocket",
    "brick",
    "grass",
)


@pytest.fixture(scope="module")
def photographs() -> dict[str, Image.Image]:
    found = {name: Image.fromarray(getattr(data, name)()).convert("RGB") for name in NAMES}
    left, right, _ = data.stereo_motorcycle()
    # One scene from two places 193 mm apart: the hardest "other" picture there is.
    return found | {"left": Image.fromarray(left), "right": Image.fromarray(right)}


def test_resized_and_recompressed_copies_are_alike(photographs: dict[str, Image.Image]) -> None:
    for name, image in photographs.items():
        whole = likeness(image)
        for scale, quality in ((0.25, 40), (0.5, 75), (1.0, 20), (2.0, 60)):
            size = (int(image.width * scale), int(image.height * scale))
            copy = Image.open(io.BytesIO(encode(image.resize(size, Image.Resampling.LANCZOS))))
            out = io.BytesIO()
            copy.save(out, "JPEG", quality=quality)
            again = likeness(Image.open(out).convert("RGB"))
            assert alike(whole, again), (name, scale, quality, distance(whole, again))
        assert alike(whole, likeness(image.point(lambda v: min(255, int(v * 1.1 + 5))))), name


def test_other_photographs_are_not_alike(photographs: dict[str, Image.Image]) -> None:
    hashes = {name: likeness(image) for name, image in photographs.items()}
    flipped = {name: likeness(image, flipped=True) for name, image in photographs.items()}
    for a, b in itertools.combinations(hashes, 2):
        nearest = min(distance(hashes[a], hashes[b]), distance(flipped[a], hashes[b]))
        assert nearest > 1.5 * ALIKE_BITS, (a, b, nearest)
    for name in hashes:
        assert not alike(flipped[name], hashes[name]), name


def test_no_false_alarm_among_150_drawn_pictures() -> None:
    hashes = [likeness(scene(160, 120, seed)) for seed in range(150)]
    assert not any(alike(a, b) for a, b in itertools.combinations(hashes, 2))


def test_the_flipped_hash_is_the_hash_of_the_flipped_picture() -> None:
    image = scene(256, 128)
    assert likeness(image, flipped=True) == likeness(image.transpose(Image.Transpose.FLIP_LEFT_RIGHT))


def test_an_even_picture_is_like_nothing() -> None:
    even = likeness(Image.new("RGB", (64, 64), (90, 90, 90)))
    assert even == "" and not alike(even, even)
    noise = Image.fromarray(np.random.default_rng(0).integers(0, 256, (64, 64, 3), dtype=np.uint8))
    assert len(likeness(noise)) == 64
