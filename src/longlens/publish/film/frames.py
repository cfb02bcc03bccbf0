"""The frames of a scene, one after another: the eye's move, the darkening, things drawing themselves on, the linkage's swing.

Only what changes is painted: what stands is kept in one picture, and a frame in which nothing changes is the same array as the
one before it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from longlens.publish.drawing import EDGE, Array, Fill, Picture, Stroke, Words, rgb
from longlens.publish.film.scenes import Scene
from longlens.publish.film.timing import APPEAR, DIM, DRAW, FADE, eased
from longlens.publish.raster import bright, darkened, masks, paint_item, picture_pixels

_SOFT = 18  # of 255: how soft the end of a line is that is being drawn


@dataclass
class _Layer:
    """Something laid over the picture: premultiplied colour, alpha, and where along its path each pixel comes (0 to 255)."""

    box: tuple[int, int, int, int]
    colour: Array
    alpha: Array
    along: Array | None
    begins: float
    lasts: float

    def over(self, frame: Array, part: float) -> None:
        """Blend onto a frame in place; ``part`` 0 to 1."""
        x0, y0, x1, y1 = self.box
        roi = frame[y0:y1, x0:x1]
        if part >= 1:
            alpha, colour = self.alpha, self.colour
        else:
            if self.along is not None:
                reach = part * (255 + _SOFT)
                keep = np.clip((reach - self.along.astype(np.float32)) * (255.0 / _SOFT), 0, 255).astype(np.uint8)
            else:
                keep = np.full(self.alpha.shape, round(255 * part), np.uint8)
            alpha = cv2.multiply(self.alpha, keep, scale=1 / 255)
            colour = cv2.multiply(self.colour, cv2.merge([keep] * 3), scale=1 / 255)
        rest = cv2.bitwise_not(cv2.merge([alpha] * 3))
        roi[:] = cv2.add(cv2.multiply(roi, rest, scale=1 / 255), colour)


class SceneFrames:
    """The frames of one scene at a size and rate. ``before`` is the last frame of the scene before, for the fade."""

    def __init__(self, scene: Scene, scale: float, fps: int, before: Array | None = None) -> None:
        self.scene, self.scale, self.fps, self.before = scene, scale, fps, before
        self.plan = scene.plan
        d = scene.drawing
        self.shape = (round(d.height * scale) & ~1, round(d.width * scale) & ~1)
        self.pictures = [i for i in d.items if isinstance(i, Picture) and i.step == 0]
        self.plain = self._base([self._bare(p) for p in self.pictures])
        self.dark = self._darkened() if any(p.dim > 0 and p.lit for p in self.pictures) else None
        self.words = _layer(
            [i for i in d.items if i.step == 0 and not isinstance(i, Picture)], scale, self.shape, 0, FADE
        )
        self.layers = self._steps()
        self.moving = self._moving()
        self._source: tuple[Array, float] | None = None

    @property
    def count(self) -> int:
        """Frames in the scene."""
        return frames_between(self.scene.begins, self.scene.begins + self.scene.seconds, self.fps)

    def last(self) -> Array:
        """The scene's last frame."""
        (frame,) = self.between(self.count - 1, self.count)
        return frame

    def between(self, first: int, end: int) -> Iterator[Array]:
        """Frames ``first`` to ``end - 1``, (h, w, 3) RGB bytes. A frame equal to the one before may be the same array."""
        settled: Array | None = None
        done: set[int] = set()
        for i in range(first, end):
            t = (i + 0.5) / self.fps
            base, still = self._ground(t)
            if not still:
                frame, settled, done = base, None, set()
            else:
                if settled is None:
                    settled, done = base, set()
                frame = settled
            order = [(-1, self.words), *enumerate(self.layers)]
            active = []
            for k, layer in order:
                if layer is None or k in done:
                    continue
                part = (t - layer.begins) / layer.lasts
                if part >= 1 and still:
                    settled = frame = _own(frame, settled)
                    layer.over(frame, 1.0)
                    done.add(k)
                elif part > 0:
                    active.append((layer, part))
            if active or self._swings(t):
                frame = frame.copy()
                for layer, part in active:
                    layer.over(frame, eased(part))
                if self._swings(t):
                    self._swing(frame, t)
                    if self.words is not None:
                        self.words.over(frame, 1.0)
            if self.before is not None and t < FADE:
                frame = cv2.addWeighted(frame, eased(t / FADE), self.before, 1 - eased(t / FADE), 0)
            elif self.before is None and t < FADE:
                frame = cv2.convertScaleAbs(frame, alpha=eased(t / FADE))
            yield frame

    # The ground: photograph, moved and darkened ---------------------------------------------------------------

    def _base(self, pictures: list[Picture]) -> Array:
        d = self.scene.drawing
        out = np.empty((*self.shape, 3), np.uint8)
        out[:] = rgb(d.ground)
        for p in pictures:
            paint_item(out, p, self.scale)
        return out

    def _darkened(self) -> Array:
        """The plain picture with the rest darkened. The fade at the foot stays: both only scale a pixel."""
        out = self.plain.copy()
        for p in self.pictures:
            if p.dim > 0 and p.lit:
                x0, y0, x1, y1 = (round(v * self.scale) for v in p.box)
                mask = bright(p, self.scale)[: out.shape[0] - y0, : out.shape[1] - x0]
                out[y0:y1, x0:x1] = darkened(out[y0:y1, x0:x1], np.ascontiguousarray(mask), p.dim)
        return out

    @staticmethod
    def _bare(p: Picture) -> Picture:
        from longlens.publish.drawing import moved

        return moved(p, dim=0.0)

    def _ground(self, t: float) -> tuple[Array, bool]:
        """The picture at a time, and whether it stands still from now on."""
        plan = self.plan
        if self.scene.start is not None and t < plan.arrived:
            return self._travelled(eased((t - 0.2) / max(plan.arrived - 0.2, 0.1))), False
        if self.dark is None:
            return self.plain, True
        if t < plan.lit:
            k = eased((t - plan.arrived) / DIM)
            return cv2.addWeighted(self.dark, k, self.plain, 1 - k, 0), False
        return self.dark, True

    def _travelled(self, k: float) -> Array:
        """The photograph seen through a window between the first and the last one (its width grows or shrinks evenly)."""
        picture = self.pictures[0]
        assert self.scene.start is not None
        a, b = np.array(self.scene.start), np.array(picture.window)
        wa, wb = a[2] - a[0], b[2] - b[0]
        w = wa ** (1 - k) * wb**k
        s = (w - wa) / (wb - wa) if abs(wb - wa) > 1e-9 * wa else k
        window = a + (b - a) * s
        x0, y0, x1, y1 = (round(v * self.scale) for v in picture.box)
        source, q = self._coarse(min(wa, wb) / (x1 - x0))
        kx, ky = (x1 - x0) / w, (y1 - y0) / (window[3] - window[1])
        shift = (q - 1) / 2  # the middle of a coarse pixel, in pixels of the photograph
        m = np.array([[kx * q, 0, kx * (shift - window[0])], [0, ky * q, ky * (shift - window[1])]])
        seen = cv2.warpAffine(source, m, (x1 - x0, y1 - y0), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        if picture.foot > 0:
            self._foot(seen, picture.foot)
        if (y0, x0) == (0, 0) and seen.shape[:2] == self.shape:
            return seen
        out = np.empty((*self.shape, 3), np.uint8)
        out[:] = rgb(self.scene.drawing.ground)
        out[y0:y1, x0:x1] = seen[: self.shape[0] - y0, : self.shape[1] - x0]
        return out

    def _coarse(self, pixels_per_pixel: float) -> tuple[Array, float]:
        """The photograph averaged down (1/q), so that the finest window stays sharp and wide ones do not flicker."""
        if self._source is None:
            q = max(pixels_per_pixel, 1.0)
            source = self.pictures[0].source.pixels
            if q > 1.05:
                size = (round(source.shape[1] / q), round(source.shape[0] / q))
                q = source.shape[1] / size[0]
                source = cv2.resize(source, size, interpolation=cv2.INTER_AREA)
            else:
                q = 1.0
            self._source = source, q
        return self._source

    def _foot(self, seen: Array, part: float) -> None:
        n = max(round(seen.shape[0] * part), 1)
        if not hasattr(self, "_shade"):
            keep = np.round(255 * (1 - 0.86 * np.linspace(0, 1, n) ** 1.5)).astype(np.uint8)[:, None, None]
            self._shade = np.broadcast_to(keep, (n, *seen.shape[1:])).copy()
        seen[-n:] = cv2.multiply(seen[-n:], self._shade, scale=1 / 255)

    # What comes over it ---------------------------------------------------------------------------------------

    def _steps(self) -> list[_Layer]:
        out: list[_Layer] = []
        if self.words is not None:
            self.words.begins, self.words.lasts = max(self.plan.arrived - 0.3, 0.0), FADE
        for step in range(1, self.scene.drawing.steps + 1):
            items = [i for i in self.scene.drawing.items if i.step == step]
            begins = self.plan.begins(step)
            lines = [
                i for i in items if (isinstance(i, Stroke) and len(i.path) > 2) or (isinstance(i, Stroke) and i.name)
            ]
            drawn = {id(i) for i in lines}
            rest = [i for i in items if id(i) not in drawn]
            after = 0.55 * DRAW if lines else 0.0
            for layer in (
                _layer(lines, self.scale, self.shape, begins, DRAW, along=True),
                _layer(rest, self.scale, self.shape, begins + after, APPEAR),
            ):
                if layer is not None:
                    out.append(layer)
        return out

    # The linkage ----------------------------------------------------------------------------------------------

    def _moving(self) -> list[Array]:
        if self.scene.moving is None:
            return []
        return [np.asarray(p, float) * self.scale for p in self.scene.moving.paths]

    def _swings(self, t: float) -> bool:
        return bool(self.moving) and t > self.plan.begins(1)

    def _swing(self, frame: Array, t: float) -> None:
        assert self.scene.moving is not None
        begins = self.plan.begins(1)
        n = len(self.moving[0])
        wave = np.sin(2 * np.pi * (t - begins) / self.scene.moving.period) * eased((t - begins) / 1.2)
        at = (0.5 + 0.5 * wave) * (n - 1)
        k, u = min(int(at), n - 2), at - min(int(at), n - 2)
        lines = [np.round(((1 - u) * p[k] + u * p[k + 1]) * 16).astype(np.int32) for p in self.moving]
        for width, colour in ((6.5, EDGE), (3.2, self.scene.moving.colour)):
            cv2.polylines(frame, lines, False, rgb(colour), max(round(width * self.scale), 1), cv2.LINE_AA, 4)


def frames_between(begins: float, ends: float, fps: int) -> int:
    """Frames of a scene: cut on the film's own raster, so that scenes do not drift from the sound."""
    return round(ends * fps) - round(begins * fps)


def _own(frame: Array, settled: Array | None) -> Array:
    """The frame, as an array of its own that may be painted on for good."""
    return frame.copy()


def _layer(
    items: Sequence[Stroke | Fill | Words | Picture],
    scale: float,
    shape: tuple[int, int],
    begins: float,
    lasts: float,
    *,
    along: bool = False,
) -> _Layer | None:
    """Items painted together on nothing."""
    parts: list[tuple[tuple[int, int, int, int], Array, Array | tuple[int, int, int]]] = []
    for item in items:
        if isinstance(item, Picture):
            (x0, y0, x1, y1), pixels = picture_pixels(item, scale)
            full = np.full(pixels.shape[:2], 255, np.uint8)
            parts.append(((x0, y0, min(x1, shape[1]), min(y1, shape[0])), full, pixels))
        else:
            parts += masks(item, scale, shape)
    if not parts:
        return None
    x0, y0 = min(b[0] for b, _, _ in parts), min(b[1] for b, _, _ in parts)
    x1, y1 = max(b[2] for b, _, _ in parts), max(b[3] for b, _, _ in parts)
    alpha = np.zeros((y1 - y0, x1 - x0), np.uint8)
    colour = np.zeros((y1 - y0, x1 - x0, 3), np.uint8)
    for (bx0, by0, bx1, by1), mask, c in parts:
        at = np.s_[by0 - y0 : by1 - y0, bx0 - x0 : bx1 - x0]
        mask = np.ascontiguousarray(mask[: by1 - by0, : bx1 - bx0])
        keep = cv2.bitwise_not(mask)
        alpha[at] = cv2.add(cv2.multiply(np.ascontiguousarray(alpha[at]), keep, scale=1 / 255), mask)
        flat = np.empty((*mask.shape, 3), np.uint8)
        flat[:] = c[: mask.shape[0], : mask.shape[1]] if isinstance(c, np.ndarray) else c
        three, rest = cv2.merge([mask] * 3), cv2.merge([keep] * 3)
        colour[at] = cv2.add(
            cv2.multiply(np.ascontiguousarray(colour[at]), rest, scale=1 / 255),
            cv2.multiply(flat, three, scale=1 / 255),
        )
    order = _along([i for i in items if isinstance(i, Stroke)], scale, (x0, y0, x1, y1)) if along else None
    return _Layer((x0, y0, x1, y1), colour, alpha, order, begins, lasts)


def _along(strokes: list[Stroke], scale: float, box: tuple[int, int, int, int]) -> Array:
    """For every pixel of the strokes how far along its own stroke it lies, 0 to 255."""
    out = np.full((box[3] - box[1], box[2] - box[0]), 255, np.uint8)
    for s in strokes:
        p = np.asarray(s.path, float) * scale - np.array(box[:2])
        if s.closed:
            p = np.vstack([p, p[:1]])
        length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(p, axis=0), axis=1))])
        if length[-1] <= 0:
            continue
        at = np.linspace(0, length[-1], 161)
        q = np.stack([np.interp(at, length, p[:, i]) for i in (0, 1)], axis=1)
        fixed = np.round(q * 16).astype(np.int32)
        thick = max(round((s.width + 2 * s.edge + 4) * scale), 1)
        for k in range(160, 0, -1):  # the beginning last, so that it lies above
            cv2.line(out, fixed[k - 1].tolist(), fixed[k].tolist(), round(255 * (k - 1) / 160), thick, cv2.LINE_8, 4)
    return out
