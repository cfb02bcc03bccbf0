"""A drawing as pixels: strokes and fills by OpenCV at twice the size and averaged down, letters by FreeType."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np

from longlens.publish.drawing import EDGE, Array, Drawing, Fill, Item, Picture, Stroke, Words, dashes, rgb
from longlens.publish.typefaces import font, runs

#: Everything is drawn this many times larger and averaged.
FINE = 2
_BITS = 4


def paint(drawing: Drawing, scale: float = 1.0) -> Array:
    """The drawing as (h, w, 3) RGB bytes."""
    h, w = round(drawing.height * scale), round(drawing.width * scale)
    out = np.empty((h, w, 3), np.uint8)
    out[:] = rgb(drawing.ground)
    for item in drawing.items:
        paint_item(out, item, scale)
    return out


def save_png(drawing: Drawing, to: Path, scale: float = 1.0) -> None:
    """Write a PNG file."""
    from longlens.publish.whole import write_whole

    pixels = paint(drawing, scale)
    ok, data = cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_PNG_COMPRESSION, 4])
    assert ok
    write_whole(to, data.tobytes())


def paint_item(out: Array, item: Item, scale: float) -> None:
    """Paint one item onto (h, w, 3) bytes, in place."""
    if isinstance(item, Picture):
        (x0, y0, x1, y1), pixels = picture_pixels(item, scale)
        out[y0:y1, x0:x1] = pixels[: out.shape[0] - y0, : out.shape[1] - x0]
        return
    for (x0, y0, x1, y1), mask, colour in masks(item, scale, out.shape):
        blend(out[y0:y1, x0:x1], mask, colour)


def blend(roi: Array, mask: Array, colour: Any) -> None:
    """Colour over pixels by a mask of bytes, in place. ``colour`` is one RGB or an array like ``roi``."""
    a = mask[..., None].astype(np.int32)
    roi[:] = roi + ((np.asarray(colour, np.int32) - roi) * a + 127) // 255


def masks(item: Stroke | Fill | Words, scale: float, shape: Any) -> list[tuple[tuple[int, int, int, int], Array, Any]]:
    """What an item covers: boxes (x0, y0, x1, y1), masks of bytes and their colours, lowest first."""
    if isinstance(item, Stroke):
        return _stroke(item, scale, shape)
    if isinstance(item, Fill):
        return _fill(item, scale, shape)
    return _words(item, scale, shape)


def _room(path: Array, pad: float, shape: Any) -> tuple[int, int, int, int] | None:
    """The box round a path, within the picture; None where it lies outside."""
    low, high = np.floor(path.min(axis=0) - pad), np.ceil(path.max(axis=0) + pad)
    x0, y0 = max(int(low[0]), 0), max(int(low[1]), 0)
    x1, y1 = min(int(high[0]) + 1, shape[1]), min(int(high[1]) + 1, shape[0])
    return (x0, y0, x1, y1) if x1 > x0 and y1 > y0 else None


def _fixed(path: Array, box: tuple[int, int, int, int]) -> Array:
    """Path in the fine raster of a box, as OpenCV's fixed-point numbers."""
    p = ((path - np.array(box[:2])) * FINE + (FINE - 1) / 2) * (1 << _BITS)
    return np.round(np.clip(p, -(2**30), 2**30)).astype(np.int32)


def _down(fine: Array, alpha: float) -> Array:
    small = cv2.resize(fine, None, fx=1 / FINE, fy=1 / FINE, interpolation=cv2.INTER_AREA)
    return small if alpha >= 1 else cv2.convertScaleAbs(small, alpha=alpha)


def _canvas(box: tuple[int, int, int, int]) -> Array:
    return np.zeros(((box[3] - box[1]) * FINE, (box[2] - box[0]) * FINE), np.uint8)


def _stroke(item: Stroke, scale: float, shape: Any) -> list[tuple[tuple[int, int, int, int], Array, Any]]:
    path = np.asarray(item.path, float) * scale
    box = _room(path, (item.width / 2 + item.edge + 1) * scale, shape)
    if box is None:
        return []
    out = []
    whole = [np.vstack([path, path[:1]]) if item.closed else path]
    pieces = dashes(path, tuple(d * scale for d in item.dash), item.closed)
    layers = ((item.width + 2 * item.edge, whole if not item.dash else pieces, EDGE, 0.6),) if item.edge else ()
    for width, parts, colour, alpha in (*layers, (item.width, pieces, item.colour, 1.0)):
        fine = _canvas(box)
        thick = max(round(width * scale * FINE), 1)
        cv2.polylines(fine, [_fixed(p, box) for p in parts], False, 255, thick, cv2.LINE_AA, _BITS)
        out.append((box, _down(fine, alpha * item.alpha), rgb(colour)))
    return out


def _fill(item: Fill, scale: float, shape: Any) -> list[tuple[tuple[int, int, int, int], Array, Any]]:
    path = rounded(np.asarray(item.path, float), item.round) * scale
    box = _room(path, 1, shape)
    if box is None:
        return []
    fine = _canvas(box)
    cv2.fillPoly(fine, [_fixed(path, box)], 255, cv2.LINE_AA, _BITS)
    return [(box, _down(fine, item.alpha), rgb(item.colour))]


def rounded(path: Array, r: float) -> Array:
    """A polygon with its corners rounded."""
    if r <= 0 or len(path) < 3:
        return path
    out = []
    for a, b, c in zip(np.roll(path, 1, axis=0), path, np.roll(path, -1, axis=0), strict=True):
        p = b + (a - b) * min(r / max(float(np.linalg.norm(a - b)), 1e-9), 0.5)
        q = b + (c - b) * min(r / max(float(np.linalg.norm(c - b)), 1e-9), 0.5)
        t = np.linspace(0, 1, 7)[:, None]
        out.append((1 - t) ** 2 * p + 2 * t * (1 - t) * b + t**2 * q)
    return np.vstack(out)


def _words(item: Words, scale: float, shape: Any) -> list[tuple[tuple[int, int, int, int], Array, Any]]:
    from PIL import Image, ImageDraw

    size = max(round(item.size * scale), 1)
    parts = [(t, font(item.weight, size, second)) for t, second in runs(item.text, item.weight)]
    length = sum(f.getlength(t) for t, f in parts)
    halo = round(item.halo * scale)
    shift = {"start": 0.0, "middle": -length / 2, "end": -length}[item.anchor]
    left, base = item.x * scale + shift, round(item.y * scale)
    box = _room(np.array([[left, base - size], [left + length, base + 0.4 * size]]), halo + 2, shape)
    if box is None:
        return []
    out: list[tuple[tuple[int, int, int, int], Array, Any]] = []
    for stroke, colour in ((halo, EDGE), (0, item.colour)):
        if stroke or colour != EDGE:
            image = Image.new("L", (box[2] - box[0], box[3] - box[1]))
            pen, x = ImageDraw.Draw(image), left - box[0]
            for t, f in parts:
                pen.text((round(x), base - box[1]), t, fill=255, font=f, anchor="ls", stroke_width=stroke)
                x += f.getlength(t)
            mask = np.asarray(image)
            out.append((box, cv2.convertScaleAbs(mask, alpha=0.7) if stroke else mask, rgb(colour)))
    return out


def picture_pixels(item: Picture, scale: float) -> tuple[tuple[int, int, int, int], Array]:
    """A picture's box in whole pixels and what stands in it, darkened as it asks."""
    x0, y0, x1, y1 = (round(v * scale) for v in item.box)
    plain = cropped(item.source.pixels, item.window, (x1 - x0, y1 - y0))
    if item.dim > 0 and item.lit:
        plain = darkened(plain, bright(item, scale), item.dim)
    if item.foot > 0:
        _fade_foot(plain, item.foot)
    if item.border:
        cv2.rectangle(plain, (0, 0), (x1 - x0 - 1, y1 - y0 - 1), rgb(item.border), max(round(2 * scale), 1))
    return (x0, y0, x1, y1), plain


def cropped(pixels: Array, window: Any, size: tuple[int, int]) -> Array:
    """A window (x0, y0, x1, y1; pixel centres at whole numbers) of a picture at another size (w, h)."""
    x0, y0, x1, y1 = (float(v) for v in window)
    k = size[0] / (x1 - x0)
    if k < 1:  # smaller: average first over whole pixels, then place exactly
        gx0, gy0 = max(int(np.floor(x0)) - 2, 0), max(int(np.floor(y0)) - 2, 0)
        gx1, gy1 = min(int(np.ceil(x1)) + 3, pixels.shape[1]), min(int(np.ceil(y1)) + 3, pixels.shape[0])
        part = pixels[gy0:gy1, gx0:gx1]
        w, h = max(round(part.shape[1] * k), 1), max(round(part.shape[0] * k), 1)
        kx, ky = w / part.shape[1], h / part.shape[0]
        part = cv2.resize(part, (w, h), interpolation=cv2.INTER_AREA)
        sx, sy = size[0] / (x1 - x0) / kx, size[1] / (y1 - y0) / ky
        m = np.array([[sx, 0, ((gx0 - x0) * kx) * sx], [0, sy, ((gy0 - y0) * ky) * sy]])
        return cv2.warpAffine(part, m, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    ky = size[1] / (y1 - y0)
    m = np.array([[k, 0, -x0 * k], [0, ky, -y0 * ky]])
    return cv2.warpAffine(pixels, m, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)


def bright(item: Picture, scale: float) -> Array:
    """What stays bright of a picture, (h, w) bytes with soft edges."""
    x0, y0, x1, y1 = (round(v * scale) for v in item.box)
    q = max(4.0 * scale, 1.0)  # made small: it is soft anyway
    w, h = max(round((x1 - x0) / q), 4), max(round((y1 - y0) / q), 4)
    mask: Array = np.zeros((h, w), np.uint8)
    corner = np.array(item.box[:2], float)
    for path in item.lit:
        p = np.round((np.asarray(path, float) - corner) * (scale / q)).astype(np.int32)
        if len(p) >= 3:
            cv2.fillPoly(mask, [p], 255)
        cv2.polylines(mask, [p], len(p) >= 3, 255, max(round(16 * scale / q), 1))
    mask = cv2.dilate(mask, np.ones((5, 5), np.uint8))
    mask = cv2.GaussianBlur(mask, (0, 0), 14 * scale / q)
    return cv2.resize(mask, (x1 - x0, y1 - y0), interpolation=cv2.INTER_LINEAR)


def darkened(plain: Array, mask: Array, dim: float) -> Array:
    """The picture with everything outside the mask darker and greyer."""
    grey = cv2.cvtColor(cv2.cvtColor(plain, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
    dark = cv2.addWeighted(plain, 0.55 * (1 - dim), grey, 0.45 * (1 - dim), 0)
    m = cv2.merge([mask] * 3)
    return cv2.add(cv2.multiply(plain, m, scale=1 / 255), cv2.multiply(dark, cv2.bitwise_not(m), scale=1 / 255))


def _fade_foot(pixels: Array, part: float) -> None:
    h = pixels.shape[0]
    n = max(round(h * part), 1)
    t = np.linspace(0, 1, n) ** 1.5
    keep = np.round(255 * (1 - 0.86 * t)).astype(np.uint8)[:, None, None]
    pixels[h - n :] = cv2.multiply(pixels[h - n :], np.broadcast_to(keep, (n, *pixels.shape[1:])).copy(), scale=1 / 255)
