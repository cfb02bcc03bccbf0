"""Pictures made for the tests: a drawn scene in every format that is read, with any metadata."""

from __future__ import annotations

import io
import struct
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, PngImagePlugin

FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "HEIF")


def scene(width: int = 640, height: int = 480, seed: int = 0) -> Image.Image:
    """A drawn picture without symmetry: a graded ground, boxes and discs."""
    rng = np.random.default_rng(seed)
    ramp = np.linspace(0, 90, width)[None, :] + np.linspace(0, 60, height)[:, None]
    image = Image.fromarray(np.repeat(ramp[:, :, None], 3, axis=2).astype(np.uint8))
    draw = ImageDraw.Draw(image)
    for _ in range(25):
        x, y = rng.uniform(0, width), rng.uniform(0, height)
        w, h = rng.uniform(0.04, 0.35, 2) * (width, height)
        colour = tuple(int(c) for c in rng.integers(0, 256, 3))
        (draw.ellipse if rng.random() < 0.5 else draw.rectangle)((x - w / 2, y - h / 2, x + w / 2, y + h / 2), colour)
    return image


def exif(tags: dict[int, Any] | None = None, detail: dict[int, Any] | None = None) -> Image.Exif:
    block = Image.Exif()
    for tag, value in (tags or {}).items():
        block[tag] = value
    if detail:
        block.get_ifd(0x8769).update(detail)
        block._ifds[0x8769] = dict(detail)
    return block


def xmp(body: str = "", attributes: str = "", head: str = "") -> bytes:
    return (
        f'{head}<x:xmpmeta xmlns:x="adobe:ns:meta/">'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" '
        'xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/" '
        'xmlns:xmpRights="http://ns.adobe.com/xap/1.0/rights/" xmlns:cc="http://creativecommons.org/ns#" '
        'xmlns:crs="http://ns.adobe.com/camera-raw-settings/1.0/">'
        f'<rdf:Description rdf:about="" {attributes}>{body}</rdf:Description></rdf:RDF></x:xmpmeta>'
    ).encode()


def encode(image: Image.Image, kind: str = "JPEG", **blocks: Any) -> bytes:
    """The image as file bytes with the blocks ``exif`` (Image.Exif) and ``xmp`` (bytes)."""
    out = io.BytesIO()
    if kind == "HEIF":
        import pillow_heif

        more = {"exif": blocks["exif"].tobytes()} if "exif" in blocks else {}
        more |= {"xmp": blocks["xmp"]} if "xmp" in blocks else {}
        pillow_heif.from_pillow(image).save(out, quality=80, **more)
    elif kind == "PNG":
        info = PngImagePlugin.PngInfo()
        if "xmp" in blocks:
            info.add_itxt("XML:com.adobe.xmp", blocks["xmp"].decode())
        image.save(out, "PNG", pnginfo=info, **({"exif": blocks["exif"]} if "exif" in blocks else {}))
    elif kind == "TIFF":
        tags = blocks.get("exif", Image.Exif())
        if "xmp" in blocks:
            tags[700] = blocks["xmp"]
        more = {"compression": "tiff_lzw"}
        if 0x8769 in tags._ifds:  # the library writes this block only when it is named, and uncompressed
            tags[0x8769], more = 0, {}
        image.save(out, "TIFF", exif=tags, **more)
    else:
        image.save(out, kind, quality=90, **blocks)
    return out.getvalue()


def with_iptc(jpeg: bytes, sets: dict[tuple[int, int], bytes]) -> bytes:
    """Put an IPTC-IIM block into a JPEG, as its APP13 segment (IPTC-IIM 4.2, image resource 0x0404)."""
    data = b"".join(bytes([0x1C, r, n]) + struct.pack(">H", len(d)) + d for (r, n), d in sets.items())
    resource = b"8BIM" + b"\x04\x04" + b"\0\0" + struct.pack(">I", len(data)) + data + b"\0" * (len(data) % 2)
    body = b"Photoshop 3.0\0" + resource
    return jpeg[:2] + b"\xff\xed" + struct.pack(">H", len(body) + 2) + body + jpeg[2:]


def png_header(width: int, height: int) -> bytes:
    """A PNG that claims a size and has nothing inside."""
    import zlib

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    size = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", size) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")
