"""A straightened picture's map, put in between every eighth pixel, against the camera asked at every pixel."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.publish.perspective import Camera
from longlens.publish.straight import Flat, flat


def seen(yaw: float, distance: float, k1: float, side: str = "left") -> Flat:
    """A plane of a car's left side before a long lens: 6000 × 4000 pixels, from the front to square on."""
    ahead = np.array([np.cos(yaw) * np.cos(0.1), np.sin(yaw) * np.cos(0.1), -np.sin(0.1)])
    right = np.cross(ahead, [0, 0, 1.0])
    right /= np.linalg.norm(right)
    R = np.stack([right, np.cross(ahead, right), ahead])
    middle = np.array([0.0, 0.8, 0.5])
    return flat(Camera(R, middle - distance * ahead, 5000.0, k1, np.array([2999.5, 1999.5])), middle, side, 3.0, 16 / 9)


@settings(max_examples=12, deadline=None)
@given(yaw=st.floats(-2.6, -0.5), distance=st.floats(4.0, 20.0), k1=st.floats(-0.1, 0.1), first=st.integers(0, 1000))
def test_what_lies_between_is_right_to_a_hundredth_of_a_pixel(
    yaw: float, distance: float, k1: float, first: int
) -> None:
    one = seen(yaw, distance, k1)
    w, _ = one.size
    every = one._projected(np.arange(w, dtype=float), first + np.arange(20, dtype=float))
    on = (every > -50).all(axis=-1) & (every[..., 0] < 6050) & (every[..., 1] < 4050)
    assert on.any() or first > 600
    assert np.abs(one._seen(first, 20) - every)[on].max(initial=0.0) < 0.01


def test_strips_fit_together_and_a_plane_seen_from_behind_stays_grey() -> None:
    """A chequered photograph straightened in strips is what OpenCV makes of the whole map at once."""
    import cv2

    one = seen(-1.2, 9.0, 0.02)
    w, h = one.size
    photograph = np.kron(np.indices((40, 60)).sum(axis=0) % 2, np.ones((100, 100))).astype(np.uint8)[..., None] * 255
    photograph = np.repeat(photograph, 3, axis=2)
    p = one._projected(np.arange(w, dtype=float), np.arange(h, dtype=float)).astype(np.float32)
    whole = cv2.remap(photograph, p[..., 0], p[..., 1], cv2.INTER_CUBIC, borderValue=(46, 48, 50))
    off = np.abs(one.picture(photograph).astype(int) - whole.astype(int))
    assert off.mean() < 0.1 and (off > 12).mean() < 1e-3
    behind = Flat(one.camera, one.camera.C + np.array([0.0, 5.0, 0.0]), one.right, one.up, 3.0, 1.7, 100.0)
    assert np.unique(behind.picture(photograph).reshape(-1, 3), axis=0).tolist() == [[46, 48, 50]]
