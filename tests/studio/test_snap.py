"""Snapping: edges and corners drawn with known places are found to a part of a pixel.

The pictures are made here by area sampling of straight edges (the share of each pixel that is covered), by definition of an
ideal sensor; noise is added as a camera has it.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from longlens.studio.board.snap import Array, snap, snap_rim

OVER = 8


def sampled(shape: tuple[int, int], inside: object) -> Array:
    """(h, w) grey levels 40 and 200 of a region, averaged over OVER × OVER places in each pixel."""
    h, w = shape
    step = (np.arange(OVER) + 0.5) / OVER - 0.5
    y = (np.arange(h)[:, None] + step).ravel()
    x = (np.arange(w)[:, None] + step).ravel()
    xx, yy = np.meshgrid(x, y)
    covered = inside(xx, yy).reshape(h, OVER, w, OVER).mean(axis=(1, 3))  # type: ignore[operator]
    return 40 + 160 * covered


@settings(max_examples=25, deadline=None)
@example(angle=4.0, offset=0.0, dx=4.0, dy=4.0)  # far from the mark: the weighing once drew it back by 0.14 px
@given(st.floats(0, 2 * np.pi), st.floats(-0.5, 0.5), st.floats(-4, 4), st.floats(-4, 4))
def test_an_edge_is_found_along_its_normal(angle: float, offset: float, dx: float, dy: float) -> None:
    n = np.array([np.cos(angle), np.sin(angle)])
    centre = np.array([40.0, 40.0])
    picture = sampled((80, 80), lambda x, y: (x - centre[0]) * n[0] + (y - centre[1]) * n[1] < offset)
    noise = np.random.default_rng(5).normal(0, 1.0, picture.shape)
    got = snap(picture + noise, centre[0] + dx, centre[1] + dy)
    assert got.what == "edge"
    assert abs((np.array([got.x, got.y]) - centre) @ n - offset) < 0.1


@pytest.mark.parametrize("angle", [0.0, 0.3, 0.7])
@pytest.mark.parametrize("at", [(40.0, 40.0), (40.3, 39.6), (39.75, 40.5)])
def test_the_corner_of_a_board_is_found(angle: float, at: tuple[float, float]) -> None:
    c, s = np.cos(angle), np.sin(angle)

    def board(x: Array, y: Array) -> Array:
        u, v = c * (x - at[0]) + s * (y - at[1]), -s * (x - at[0]) + c * (y - at[1])
        return u * v > 0

    picture = sampled((80, 80), board) + np.random.default_rng(2).normal(0, 1.0, (80, 80))
    got = snap(picture, at[0] + 2.0, at[1] - 1.5)
    assert got.what == "corner"
    assert np.hypot(got.x - at[0], got.y - at[1]) < 0.1


def test_where_there_is_nothing_it_stays() -> None:
    flat = np.full((60, 60), 120.0) + np.random.default_rng(0).normal(0, 1.0, (60, 60))
    got = snap(flat, 30.2, 30.7)
    assert (got.x, got.y, got.what) == (30.2, 30.7, "nothing")
    assert snap(flat, -5.0, 30.0).what == "nothing"


def test_rim_points_move_to_the_rim() -> None:
    a, b, x0, y0 = 60.0, 34.0, 90.0, 70.0
    picture = sampled((140, 180), lambda x, y: ((x - x0) / a) ** 2 + ((y - y0) / b) ** 2 < 1)
    t = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    rng = np.random.default_rng(1)
    edge = np.column_stack([x0 + a * np.cos(t), y0 + b * np.sin(t)]) + rng.normal(0, 1.5, (12, 2))
    moved = np.array(snap_rim(picture, edge))

    def off(xy: Array) -> Array:
        """Distance from the ellipse, to first order (Sampson 1982)."""
        f = ((xy[:, 0] - x0) / a) ** 2 + ((xy[:, 1] - y0) / b) ** 2 - 1
        return f / np.hypot(2 * (xy[:, 0] - x0) / a**2, 2 * (xy[:, 1] - y0) / b**2)

    assert np.abs(off(moved)).max() < 0.2 < np.abs(off(edge)).max()
