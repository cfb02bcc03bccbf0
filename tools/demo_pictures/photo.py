"""From linear light to a photograph file: exposure, tone, sensor noise, JPEG, and the metadata that real ones carry."""

from __future__ import annotations

import io
import struct
from fractions import Fraction
from pathlib import Path
from xml.sax.saxutils import escape

import cv2
import numpy as np
from PIL import Image

from longlens.demo.shots import Shot, camera_of

MAKER, MODEL = "Skua", "Skua F36"
QUALITY = 90


def develop(light: np.ndarray, s: Shot, noise: bool = True) -> np.ndarray:
    """8-bit picture: exposure, falling light towards the corners, noise, a soft shoulder, sRGB."""
    rng = np.random.default_rng(4000 + s.seed)
    h, w = light.shape[:2]
    y = light @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    mid = y[h // 5 : 4 * h // 5, w // 6 : 5 * w // 6]
    bright = float(np.percentile(mid, 93 if s.light != "backlit" else 97))
    x = np.maximum(light * (0.62 / max(bright, 1e-6) * 2.0**s.exposure), 0)
    cam = camera_of(s)
    c = cam["full"]
    k = w / (s.crop[2] if s.crop else c["width"])
    x0, y0 = (s.crop[0], s.crop[1]) if s.crop else (0, 0)
    px, py = ((p - o + 0.5) * k - 0.5 for p, o in zip(c["principal_px"], (x0, y0), strict=True))
    gx, gy = np.meshgrid((np.arange(w) - px) / (c["focal_px"] * k), (np.arange(h) - py) / (c["focal_px"] * k))
    x = x / (1 + 1.1 * (gx**2 + gy**2))[..., None].astype(np.float32)
    if noise:
        # photon noise and a read floor, linear, by ISO; slightly correlated as a demosaiced sensor's is
        full = 9000.0 * 200 / s.iso
        g = rng.standard_normal(x.shape).astype(np.float32)
        g = 0.75 * g + 0.45 * cv2.GaussianBlur(g, (0, 0), 0.8)
        x = x + g * np.sqrt(np.maximum(x, 0) / full + (3.0 / full * (s.iso / 200) ** 0.5) ** 2)
    x = np.maximum(x, 0)
    x = np.where(x < 0.55, x, 0.55 + 0.45 * (1 - np.exp(-(x - 0.55) / 0.45)))
    x = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 1e-9), 1 / 2.4) - 0.055)
    x = x + 0.018 * np.sin(2 * np.pi * (x - 0.25)) * 0.6  # a mild S for contrast
    return np.clip(x * 255 + rng.uniform(-0.5, 0.5, x.shape) + 0.5, 0, 255).astype(np.uint8)


def save(im: np.ndarray, s: Shot, path: Path) -> None:
    """Write the JPEG with EXIF, XMP and IPTC as its source would leave them."""
    picture = Image.fromarray(im)
    quality = QUALITY
    if s.resize is not None:
        picture = picture.resize(
            (s.resize, round(im.shape[0] * s.resize / im.shape[1])),
            Image.Resampling.BOX if im.shape[1] == 2 * s.resize else Image.Resampling.LANCZOS,
        )
        quality = 78
    buffer = io.BytesIO()
    picture.save(
        buffer,
        "JPEG",
        quality=quality,
        subsampling=2 if s.resize else 0,
        optimize=True,
        exif=exif(s, picture.size),
        **({"xmp": xmp(s)} if s.resize is None and s.credit else {}),
    )
    data = buffer.getvalue()
    if s.credit and s.resize is None:
        data = _with_iptc(data, s)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


def exif(s: Shot, size: tuple[int, int]) -> bytes:
    """EXIF as the camera wrote it; a web site keeps the date and the software only."""
    e = Image.Exif()
    date = s.date.replace("-", ":").replace("T", " ")
    if s.resize is not None:
        e[0x0131] = "web export (invented)"
        e[0x0132] = date
        return e.tobytes()
    e[0x010F], e[0x0110], e[0x0112] = MAKER, MODEL, 1
    e[0x0132] = date
    e[0x0131] = "Skua 2.1" if s.crop is None else "picture desk crop (invented)"
    if s.credit:
        e[0x013B] = s.credit
    if s.licence:
        e[0x8298] = s.licence
    sub = e.get_ifd(0x8769)
    sub[0x9003] = date
    sub[0x829A] = float(Fraction(s.shutter))
    sub[0x829D] = float(s.f_number)
    sub[0x8827] = s.iso
    sub[0x920A] = float(s.focal_mm)
    sub[0xA405] = round(s.focal_mm)
    sub[0xA002], sub[0xA003] = size
    sub[0xA434] = f"Skua {s.focal_mm:g} mm"
    return e.tobytes()


def xmp(s: Shot) -> bytes:
    """XMP: creator, rights, usage terms, caption (Dublin Core and xmpRights)."""

    def alt(tag: str, text: str) -> str:
        return f'<{tag}><rdf:Alt><rdf:li xml:lang="x-default">{escape(text)}</rdf:li></rdf:Alt></{tag}>'

    body = alt("dc:description", s.caption + " (invented car)")
    if s.credit:
        body += f"<dc:creator><rdf:Seq><rdf:li>{escape(s.credit)}</rdf:li></rdf:Seq></dc:creator>"
    if s.licence:
        body += alt("dc:rights", s.licence) + alt("xmpRights:UsageTerms", s.licence)
    if s.licence and s.licence.startswith("CC BY"):
        body += "<xmpRights:WebStatement>https://creativecommons.org/licenses/by/4.0/</xmpRights:WebStatement>"
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmpRights="http://ns.adobe.com/xap/1.0/rights/">'
        f'{body}</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>'
    ).encode()


def _with_iptc(data: bytes, s: Shot) -> bytes:
    """The JPEG with an IPTC-IIM block (APP13): by-line, credit, copyright notice, caption, date."""
    fields = [(2, 0, struct.pack(">H", 4)), (1, 90, b"\x1b%G")]
    if s.credit:
        fields += [(2, 80, s.credit.encode()[:32]), (2, 110, s.credit.encode()[:32])]
    if s.licence:
        fields.append((2, 116, s.licence.encode()[:128]))
    fields += [(2, 120, (s.caption + " (invented car)").encode()), (2, 55, s.date[:10].replace("-", "").encode())]
    fields.sort(key=lambda f: (f[0], f[1]))
    iim = b"".join(b"\x1c" + bytes([r, n]) + struct.pack(">H", len(v)) + v for r, n, v in fields)
    block = b"8BIM\x04\x04\x00\x00" + struct.pack(">I", len(iim)) + iim + (b"\x00" if len(iim) % 2 else b"")
    app13 = b"Photoshop 3.0\x00" + block  # the segment's name is fixed by the file format
    segment = b"\xff\xed" + struct.pack(">H", len(app13) + 2) + app13
    at = 2
    while data[at : at + 2] in (b"\xff\xe0", b"\xff\xe1"):
        at += 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]
    return data[:at] + segment + data[at:]
