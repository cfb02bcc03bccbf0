"""Labels placed without overlap: near what they name, off the lines that are drawn, their leaders not crossing.

A label never leaves the room it is given and never lies on another or on a kept-free box. Where there is no place for one it
gets none, and the caller says so; it is not squeezed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from longlens.publish.drawing import Array
from longlens.publish.styles import Box

#: Free space kept between labels, drawing units.
GAP = 10.0
#: Places tried: a grid of this pitch.
PITCH = 16.0
#: The likeliest places, for which crossings are looked at.
LIKELY = 300


@dataclass(frozen=True)
class Wish:
    """A label to place: its size, the points (n, 2) that it may lead to, and where its middle was put by hand."""

    width: float
    height: float
    targets: Array
    middle: tuple[float, float] | None = None
    near: float = 1.0  # how much distance costs
    off: float = 46.0  # how far off what it names it likes to stand


@dataclass
class Room:
    """Where labels may stand: the frame, boxes kept free, and points (n, 2) of drawn lines that are better left bare."""

    frame: Box
    kept: list[Box] = field(default_factory=list)
    ink: Array = field(default_factory=lambda: np.empty((0, 2)))


def place(wishes: Sequence[Wish], room: Room, rounds: int = 1) -> list[Box | None]:
    """A box for each label, or None where there is none left. Labels put by hand come first and are kept in the frame."""
    made: list[Box | None] = [None] * len(wishes)
    ink = _Ink(room)
    order = sorted(range(len(wishes)), key=lambda i: (wishes[i].middle is None, -wishes[i].width * wishes[i].height))
    for i in order:
        made[i] = _best(i, wishes, made, room, ink)
    for _ in range(rounds):  # each again, now that the others stand
        for i in order:
            if wishes[i].middle is None:
                made[i] = _best(i, wishes, made, room, ink) or made[i]
    for i in order:  # one that found no place may find one now
        if made[i] is None:
            made[i] = _best(i, wishes, made, room, ink)
    return made


def leader(box: Box, targets: Array) -> tuple[Array, Array]:
    """The two ends of a label's leader: on the edge of its box, and on what it names."""
    x0, y0, x1, y1 = box
    targets = np.atleast_2d(targets)
    near = np.clip(targets, (x0, y0), (x1, y1))
    k = int(np.argmin(np.linalg.norm(near - targets, axis=1)))
    return near[k], targets[k]


class _Ink:
    """Summed table of the drawn points, for counting them under boxes."""

    def __init__(self, room: Room) -> None:
        self.x0, self.y0, x1, y1 = room.frame
        self.cell = 6.0
        nx, ny = int((x1 - self.x0) / self.cell) + 2, int((y1 - self.y0) / self.cell) + 2
        count = np.zeros((ny, nx))
        if len(room.ink):
            i = np.clip(((room.ink[:, 1] - self.y0) / self.cell).astype(int), 0, ny - 1)
            j = np.clip(((room.ink[:, 0] - self.x0) / self.cell).astype(int), 0, nx - 1)
            count[i, j] = 1
        self.sum = np.pad(count.cumsum(0).cumsum(1), ((1, 0), (1, 0)))

    def under(self, x: Array, y: Array, w: float, h: float) -> Array:
        ny, nx = np.array(self.sum.shape) - 1

        def at(px: Array, py: Array) -> tuple[Array, Array]:
            j = np.clip(((px - self.x0) / self.cell).astype(int), 0, nx)
            i = np.clip(((py - self.y0) / self.cell).astype(int), 0, ny)
            return i, j

        i0, j0 = at(x, y)
        i1, j1 = at(x + w + self.cell, y + h + self.cell)
        return self.sum[i1, j1] - self.sum[i0, j1] - self.sum[i1, j0] + self.sum[i0, j0]


def _best(i: int, wishes: Sequence[Wish], made: list[Box | None], room: Room, ink: _Ink) -> Box | None:
    wish = wishes[i]
    x0, y0, x1, y1 = room.frame
    w, h = wish.width, wish.height
    if w > x1 - x0 or h > y1 - y0:
        return None
    if wish.middle is not None:
        x = np.array([np.clip(wish.middle[0] - w / 2, x0, x1 - w)])
        y = np.array([np.clip(wish.middle[1] - h / 2, y0, y1 - h)])
        others = [b for k, b in enumerate(made) if b is not None and k != i]
        if not _hits(x, y, w, h, others, 0.0)[0]:
            return float(x[0]), float(y[0]), float(x[0] + w), float(y[0] + h)
    gx = np.linspace(x0, x1 - w, max(int((x1 - x0 - w) / PITCH), 1) + 1)
    gy = np.linspace(y0, y1 - h, max(int((y1 - y0 - h) / PITCH), 1) + 1)
    x, y = (g.ravel() for g in np.meshgrid(gx, gy))
    others = [b for k, b in enumerate(made) if b is not None and k != i]
    free = ~_hits(x, y, w, h, [*others, *room.kept], GAP)
    if not free.any():
        free = ~_hits(x, y, w, h, [*others, *room.kept], 1.0)
        if not free.any():
            return None
    x, y = x[free], y[free]
    x, y, cost = _costs(x, y, wish, i, wishes, made, ink)
    k = int(np.argmin(cost))
    return float(x[k]), float(y[k]), float(x[k] + w), float(y[k] + h)


def _hits(x: Array, y: Array, w: float, h: float, boxes: Sequence[Box], gap: float) -> Array:
    out = np.zeros(len(x), bool)
    for bx0, by0, bx1, by1 in boxes:
        out |= (x < bx1 + gap) & (x + w > bx0 - gap) & (y < by1 + gap) & (y + h > by0 - gap)
    return out


def _costs(
    x: Array, y: Array, wish: Wish, i: int, wishes: Sequence[Wish], made: list[Box | None], ink: _Ink
) -> tuple[Array, Array, Array]:
    """The likeliest places and their costs: distance and what is covered for all, crossings for the best of them."""
    w, h = wish.width, wish.height
    targets = np.atleast_2d(wish.targets)
    targets = targets[:: max(len(targets) // 10, 1)]
    tx, ty = targets[:, 0], targets[:, 1]
    ox = np.maximum(np.maximum(x[:, None] - tx, tx - x[:, None] - w), 0.0)
    oy = np.maximum(np.maximum(y[:, None] - ty, ty - y[:, None] - h), 0.0)
    d = ox * ox + oy * oy
    k = np.argmin(d, axis=1)
    dist = np.sqrt(d[np.arange(len(x)), k])
    if wish.middle is not None:
        dist = np.hypot(x + w / 2 - wish.middle[0], y + h / 2 - wish.middle[1])
    reach = np.abs(dist - wish.off) * np.where(dist < wish.off, 1.4, 1.0)
    cost = wish.near * reach + 3.2 * ink.under(x, y, w, h)
    if len(cost) > LIKELY:
        best = np.argpartition(cost, LIKELY)[:LIKELY]
        best.sort()  # ties fall as they did before
        x, y, k, cost = x[best], y[best], k[best], cost[best]
    end = np.stack([tx[k], ty[k]], axis=1)
    start = np.stack([np.clip(end[:, 0], x, x + w), np.clip(end[:, 1], y, y + h)], axis=1)
    for j, box in enumerate(made):
        if j == i or box is None:
            continue
        a, b = leader(box, wishes[j].targets)
        cost += 420.0 * _cross(start, end, a, b)
        cost += 300.0 * _through(start, end, box)
        cost += 300.0 * _covers(x, y, w, h, a, b)
    return x, y, cost


def _cross(p: Array, q: Array, a: Array, b: Array) -> Array:
    """Do the segments p–q (n, 2) cross a–b?"""

    def side(u: Array, v: Array, w: Array) -> Array:
        return (v[..., 0] - u[..., 0]) * (w[..., 1] - u[..., 1]) - (v[..., 1] - u[..., 1]) * (w[..., 0] - u[..., 0])

    a, b = np.broadcast_to(a, p.shape), np.broadcast_to(b, p.shape)
    return ((side(p, q, a) * side(p, q, b) < 0) & (side(a, b, p) * side(a, b, q) < 0)).astype(float)


def _through(p: Array, q: Array, box: Box) -> Array:
    """Do the segments p–q pass through a box? Told by points along them."""
    t = np.linspace(0.05, 1.0, 12)[:, None, None]
    s = p + (q - p) * t
    inside = (s[..., 0] > box[0]) & (s[..., 0] < box[2]) & (s[..., 1] > box[1]) & (s[..., 1] < box[3])
    return inside.any(axis=0).astype(float)


def _covers(x: Array, y: Array, w: float, h: float, a: Array, b: Array) -> Array:
    """Does the box at each place lie on the leader a–b?"""
    s = a + (b - a) * np.linspace(0, 1, 12)[:, None]
    inside = (s[:, 0] > x[:, None]) & (s[:, 0] < x[:, None] + w) & (s[:, 1] > y[:, None]) & (s[:, 1] < y[:, None] + h)
    return inside.any(axis=1).astype(float)
