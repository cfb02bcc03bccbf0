"""Labels: never on each other, never out of the frame, in 500 random plates; those put by hand stay where they were put."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from longlens.publish.layout import Room, Wish, leader, place


def _random(seed: int) -> tuple[list[Wish], Room]:
    rng = np.random.default_rng(seed)
    w, h = ((1920, 1080), (1080, 1080), (1080, 1420), (1614, 940))[seed % 4]
    wishes = []
    for _ in range(int(rng.integers(1, 13))):
        targets = rng.uniform((-50, -50), (w + 50, h + 50), size=(int(rng.integers(1, 40)), 2))
        middle = (float(rng.uniform(-100, w + 100)), float(rng.uniform(-100, h + 100))) if rng.random() < 0.25 else None
        wishes.append(Wish(float(rng.uniform(60, 420)), float(rng.uniform(30, 120)), targets, middle))
    kept = [(0.0, h - 180.0, float(w), float(h))] if rng.random() < 0.7 else []
    if rng.random() < 0.4:
        kept.append((w - 500.0, 30.0, w - 30.0, 330.0))
    ink = rng.uniform((0, 0), (w, h), size=(int(rng.integers(0, 600)), 2))
    return wishes, Room((18.0, 18.0, w - 18.0, h - 18.0), kept, ink)


def _overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] and a[2] > b[0] and a[1] < b[3] and a[3] > b[1]


def test_500_random_plates() -> None:
    left_out = 0
    for seed in range(500):
        wishes, room = _random(seed)
        boxes = place(wishes, room)
        given_place = [(w, b) for w, b in zip(wishes, boxes, strict=True) if b is not None]
        left_out += len(wishes) - len(given_place)
        for wish, box in given_place:
            assert box[2] - box[0] == np.float64(wish.width) or abs(box[2] - box[0] - wish.width) < 1e-6
            assert box[0] >= room.frame[0] - 1e-6 and box[2] <= room.frame[2] + 1e-6, seed
            assert box[1] >= room.frame[1] - 1e-6 and box[3] <= room.frame[3] + 1e-6, seed
        placed = [b for _, b in given_place]
        assert not any(_overlap(a, b) for i, a in enumerate(placed) for b in placed[:i]), seed
        by_itself = [b for w, b in given_place if w.middle is None]
        assert not any(_overlap(b, k) for b in by_itself for k in room.kept), seed
    assert left_out < 25  # of some 3,250: where twelve large labels meet a small frame


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 1000), st.floats(0, 1000))
def test_a_label_put_by_hand_stays_there_within_the_frame(x: float, y: float) -> None:
    (box,) = place([Wish(200, 80, np.array([[500.0, 500.0]]), (x, y))], Room((0, 0, 1000, 1000)))
    assert box is not None
    assert abs((box[0] + box[2]) / 2 - np.clip(x, 100, 900)) < 1e-6
    assert abs((box[1] + box[3]) / 2 - np.clip(y, 40, 960)) < 1e-6


def test_a_label_stands_near_what_it_names_and_off_the_ink() -> None:
    line = np.stack([np.linspace(200, 800, 200), np.full(200, 300.0)], axis=1)
    (box,) = place([Wish(200, 60, line)], Room((0, 0, 1000, 1000), ink=line))
    assert box is not None
    a, b = leader(box, line)
    assert np.hypot(*(a - b)) < 90
    assert not (box[1] < 300 < box[3])


def test_no_room_is_said_and_not_forced() -> None:
    assert place([Wish(300, 50, np.array([[5.0, 5.0]]))], Room((0, 0, 200, 200))) == [None]
    boxes = place([Wish(180, 150, np.array([[5.0, 5.0]]))] * 2, Room((0, 0, 200, 200)))
    assert sorted(b is None for b in boxes) == [False, True]
