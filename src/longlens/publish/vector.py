"""A drawing as SVG with real text, and as PDF by the typesetter.

The photograph goes in as a JPEG with its darkening; everything above it stays lines and letters.
"""

from __future__ import annotations

import base64
from pathlib import Path

import cv2
import numpy as np

from longlens.publish import typefaces
from longlens.publish.drawing import EDGE, Drawing, Fill, Item, Picture, Stroke, Words
from longlens.publish.markup import e
from longlens.publish.raster import picture_pixels, rounded
from longlens.publish.whole import write_whole

QUALITY = 90


def svg(drawing: Drawing, *, scale: float = 1.0, fonts: bool = True) -> str:
    """The drawing as an SVG document.

    Parameters
    ----------
    scale : pixels of the photographs in it per drawing unit.
    fonts : put the letters used into the file, so that it looks the same everywhere.
    """
    body = "".join(_item(i, scale) for i in drawing.items)
    w, h = drawing.width, drawing.height
    family = f"font-family:'{typefaces.FAMILY}','{typefaces.FALLBACK}',sans-serif"
    faces = "".join(_face(drawing, weight) for weight in ("regular", "strong")) if fonts else ""
    style = f"<style>{faces}text{{{family}}}</style>" if fonts else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" width="{w}" height="{h}" role="img" '
        f'font-family="{typefaces.FAMILY}"><title>{e(drawing.title)}</title>{style}'
        f'<rect width="{w}" height="{h}" fill="{drawing.ground}"/>{body}</svg>\n'
    )


def save_svg(drawing: Drawing, to: Path, scale: float = 1.0) -> None:
    """Write an SVG file."""
    write_whole(to, svg(drawing, scale=scale))


def pdf(drawing: Drawing, *, scale: float = 1.0) -> bytes:
    """The drawing as one PDF page, of its size on paper or of 72 units to the inch."""
    from longlens.publish.typeset import compile_pdf

    mm = drawing.mm or drawing.width * 25.4 / 96
    size = f"width: {mm:.3f}mm, height: {mm * drawing.height / drawing.width:.3f}mm"
    source = f'#set page({size}, margin: 0pt)\n#image("plate.svg", width: 100%)\n'
    return compile_pdf(source, {"plate.svg": svg(drawing, scale=scale, fonts=False).encode()}, title=drawing.title)


def save_pdf(drawing: Drawing, to: Path, scale: float = 1.0) -> None:
    """Write a PDF file."""
    write_whole(to, pdf(drawing, scale=scale))


def _face(drawing: Drawing, weight: typefaces.Weight) -> str:
    letters = frozenset(c for i in drawing.items if isinstance(i, Words) and i.weight == weight for c in i.text)
    if not letters:
        return ""
    data = base64.b64encode(typefaces.subset(weight, letters)).decode()
    number = 600 if weight == "strong" else 400
    return (
        f"@font-face{{font-family:'{typefaces.FAMILY}';font-weight:{number};"
        f"src:url(data:font/ttf;base64,{data}) format('truetype')}}"
    )


def _item(item: Item, scale: float) -> str:
    if isinstance(item, Picture):
        return _picture(item, scale)
    if isinstance(item, Stroke):
        return _stroke(item)
    if isinstance(item, Fill):
        d = _d(rounded(np.asarray(item.path, float), item.round), True)
        return f'<path d="{d}" fill="{item.colour}"{_alpha(item.alpha)}/>'
    return _words(item)


def _picture(item: Picture, scale: float) -> str:
    (_, _, _, _), pixels = picture_pixels(item, scale)
    ok, data = cv2.imencode(".jpg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    assert ok
    x0, y0, x1, y1 = item.box
    return (
        f'<image x="{x0:.1f}" y="{y0:.1f}" width="{x1 - x0:.1f}" height="{y1 - y0:.1f}" preserveAspectRatio="none" '
        f'href="data:image/jpeg;base64,{base64.b64encode(data.tobytes()).decode()}"><title>{e(item.alt)}</title></image>'
    )


def _d(path: np.ndarray, closed: bool) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in path) + ("Z" if closed else "")


def _alpha(a: float) -> str:
    return f' opacity="{a:.2f}"' if a < 1 else ""


def _stroke(item: Stroke) -> str:
    d = _d(np.asarray(item.path, float), item.closed)
    dash = f' stroke-dasharray="{" ".join(f"{v:g}" for v in item.dash)}"' if item.dash else ""
    common = f'd="{d}" fill="none" stroke-linecap="round" stroke-linejoin="round"{dash}'
    below = f'<path {common} stroke="{EDGE}" stroke-opacity=".6" stroke-width="{item.width + 2 * item.edge:.1f}"/>'
    name = f"<title>{e(item.name)}</title>" if item.name else ""
    return (
        f"<g{_alpha(item.alpha)}>{name}{below if item.edge else ''}"
        f'<path {common} stroke="{item.colour}" stroke-width="{item.width:.1f}"/></g>'
    )


def _words(item: Words) -> str:
    weight = ' font-weight="600"' if item.weight == "strong" else ""
    anchor = f' text-anchor="{item.anchor}"' if item.anchor != "start" else ""
    at = f'x="{item.x:.1f}" y="{item.y:.1f}" font-size="{item.size:.1f}"{weight}{anchor}'
    halo = ""
    if item.halo:
        halo = f' stroke="{EDGE}" stroke-opacity=".7" stroke-width="{2 * item.halo:.1f}"'
        halo += ' stroke-linejoin="round" paint-order="stroke"'
    return f'<text {at} fill="{item.colour}"{halo}>{e(item.text)}</text>'
