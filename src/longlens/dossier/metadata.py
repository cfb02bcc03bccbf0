"""What a photograph file says of itself, read from EXIF, IPTC-IIM and XMP.

Where they disagree: for creator, credit, copyright and licence the order is XMP, IPTC, EXIF (the later hand
wins: EXIF is written by the camera, the others by picture desks); for the date of taking it is EXIF, XMP,
IPTC. That order is our choice; the disagreement is told as a remark.

Sources: Exif 2.3 (CIPA DC-008) tag numbers; IPTC-IIM 4.2 datasets; XMP (ISO 16684) namespaces dc, photoshop,
xmp, xmpRights, exif, crs and the Creative Commons rights expression cc. Places (GPS) are not read.
"""

from __future__ import annotations

import math
import re
import struct
import unicodedata
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element  # the type only; parsing is defusedxml's

if TYPE_CHECKING:
    from PIL.Image import Image

MAX_XMP_BYTES = 4 * 1024 * 1024
MAX_IPTC_BYTES = 1024 * 1024
MAX_TEXT = 2_000


@dataclass(frozen=True)
class Optics:
    """What the file says of lens and sensor. Lengths in mm, resolution in pixels per mm on the sensor."""

    focal_mm: float | None = None
    focal_35mm: float | None = None
    sensor_px_per_mm: tuple[float, float] | None = None
    exif_width: int | None = None
    exif_height: int | None = None
    digital_zoom: float | None = None
    cropped_by_editor: bool = False


@dataclass
class Metadata:
    """Texts ("" when not said), the optics, and remarks on what could not be read or did not agree."""

    date: str = ""
    creator: str = ""
    credit: str = ""
    copyright: str = ""
    licence: str = ""
    source: str = ""
    camera: str = ""
    optics: Optics = field(default_factory=Optics)
    remarks: list[str] = field(default_factory=list)
    found: dict[str, str] = field(default_factory=dict)


def read_metadata(image: Image) -> Metadata:
    """Read all three blocks of an opened image. A block that cannot be read is passed over with a remark."""
    out = Metadata()
    blocks: dict[str, dict[str, str]] = {}
    optics: dict[str, Any] = {}
    for name, read in (("EXIF", _exif), ("IPTC", _iptc), ("XMP", _xmp)):
        try:
            blocks[name], more = read(image)
            optics.update(more)
        except Exception as e:  # a stranger's bytes: whatever they break stays here
            blocks[name] = {}
            out.remarks.append(f"its {name} block cannot be read ({type(e).__name__}) and was passed over")
    for key, order in (
        ("date", ("EXIF", "XMP", "IPTC")),
        *((key, ("XMP", "IPTC", "EXIF")) for key in ("creator", "credit", "copyright", "licence", "source", "camera")),
    ):
        said = [(name, blocks[name][key]) for name in order if blocks[name].get(key)]
        if said:
            setattr(out, key, said[0][1])
        for name, text in said:
            out.found[f"{name} {key}"] = text
        others = [f"{name} says {text!r}" for name, text in said[1:] if not _agree(key, text, said[0][1])]
        if others:
            out.remarks.append(f"{key}: took {said[0][1]!r} from {said[0][0]}; {', '.join(others)}")
    out.optics = Optics(**optics)
    return out


def _agree(key: str, a: str, b: str) -> bool:
    if key == "date":
        return a[:10] == b[:10] or a.startswith(b) or b.startswith(a)
    return a.casefold() == b.casefold()


# EXIF.


def _exif(image: Image) -> tuple[dict[str, str], dict[str, Any]]:
    base = image.getexif()
    detail = base.get_ifd(0x8769)
    date = _exif_date(detail.get(0x9003) or detail.get(0x9004), detail.get(0x9011))
    texts = {
        "date": date,
        "creator": _text(base.get(0x013B)),
        "copyright": _text(base.get(0x8298)),
        "camera": _text(base.get(0x0110)),
    }
    optics: dict[str, Any] = {
        "focal_mm": _positive(detail.get(0x920A)),
        "focal_35mm": _positive(detail.get(0xA405)),
        "exif_width": _whole(detail.get(0xA002)),
        "exif_height": _whole(detail.get(0xA003)),
        "digital_zoom": _positive(detail.get(0xA404)),
    }
    # Exif allows inch and cm; mm and µm are written by some cameras all the same.
    unit_mm = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}.get(_whole(detail.get(0xA210)) or 2)
    across, down = _positive(detail.get(0xA20E)), _positive(detail.get(0xA20F))
    if across and down and unit_mm:
        optics["sensor_px_per_mm"] = (across / unit_mm, down / unit_mm)
    return texts, optics


def _exif_date(value: Any, offset: Any) -> str:
    m = re.match(r"(\d{4}):(\d\d):(\d\d)(?: (\d\d:\d\d:\d\d))?", _text(value))
    if not m or m[1] == "0000":
        return ""
    zone = _text(offset)
    zone = zone if re.fullmatch(r"[+-]\d\d:\d\d", zone) else ""
    return f"{m[1]}-{m[2]}-{m[3]}" + (f"T{m[4]}{zone}" if m[4] else "")


# IPTC-IIM.


def _iptc(image: Image) -> tuple[dict[str, str], dict[str, Any]]:
    sets: dict[tuple[int, int], list[bytes]] = {}
    for record, number, data in _datasets(_iptc_bytes(image)[:MAX_IPTC_BYTES]):
        sets.setdefault((record, number), []).append(data)
    utf8 = sets.get((1, 90), [b""])[0] == b"\x1b%G"

    def text(number: int) -> str:
        return _text("; ".join(d.decode("utf-8" if utf8 else "latin-1", "replace") for d in sets.get((2, number), [])))

    day, time = text(55), text(60)
    date = f"{day[:4]}-{day[4:6]}-{day[6:8]}" if re.fullmatch(r"\d{8}", day) and day[:4] != "0000" else ""
    m = re.match(r"(\d\d)(\d\d)(\d\d)(?:([+-]\d\d)(\d\d))?", time)
    if date and m:
        date += f"T{m[1]}:{m[2]}:{m[3]}" + (f"{m[4]}:{m[5]}" if m[4] else "")
    return {
        "date": date,
        "creator": text(80),
        "credit": text(110),
        "source": text(115),
        "copyright": text(116),
    }, {}


def _iptc_bytes(image: Image) -> bytes:
    resources = image.info.get("photoshop")
    if isinstance(resources, dict):  # of a JPEG, taken apart already
        return bytes(resources.get(0x0404) or b"")
    tags = getattr(image, "tag_v2", None)  # of a TIFF
    if tags is None:
        return b""
    raw = tags.get(33723)
    if isinstance(raw, tuple):  # written as 32-bit words
        raw = struct.pack(f"{tags._endian}{len(raw)}L", *raw)  # the words keep the file's byte order
    return bytes(raw or b"")


def _datasets(data: bytes) -> Iterator[tuple[int, int, bytes]]:
    at = 0
    while at + 5 <= len(data) and data[at] == 0x1C:
        record, number = data[at + 1], data[at + 2]
        size = int.from_bytes(data[at + 3 : at + 5], "big")
        if size > 0x7FFF or at + 5 + size > len(data):
            return  # extended sets are of no use to us
        yield record, number, data[at + 5 : at + 5 + size]
        at += 5 + size


# XMP.

_NS = {
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "xmpRights": "http://ns.adobe.com/xap/1.0/rights/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "crs": "http://ns.adobe.com/camera-raw-settings/1.0/",
    "cc": "http://creativecommons.org/ns#",
}
_XML_LANG = "{http://www.w3.org/XML/1998/namespace}lang"


def _xmp(image: Image) -> tuple[dict[str, str], dict[str, Any]]:
    raw = _xmp_bytes(image)
    if not raw:
        return {}, {}
    if len(raw) > MAX_XMP_BYTES:
        raise ValueError("too large")
    from defusedxml.ElementTree import fromstring

    # No document type at all: no entities, no external anything.
    root = fromstring(raw.strip(b"\0 \r\n\t"), forbid_dtd=True, forbid_entities=True, forbid_external=True)

    def first(*names: str) -> str:
        return next((t for t in (_property(root, n) for n in names) if t), "")

    texts = {
        "date": first("photoshop:DateCreated", "exif:DateTimeOriginal", "xmp:CreateDate"),
        "creator": first("dc:creator"),
        "credit": first("photoshop:Credit"),
        "source": first("photoshop:Source", "dc:source"),
        "copyright": first("dc:rights"),
        "licence": first("cc:license", "xmpRights:UsageTerms", "xmpRights:WebStatement"),
    }
    cropped = first("crs:HasCrop").casefold() == "true"
    return texts, {"cropped_by_editor": True} if cropped else {}


def _xmp_bytes(image: Image) -> bytes:
    raw = image.info.get("xmp") or image.info.get("XML:com.adobe.xmp")
    if raw is None and hasattr(image, "tag_v2"):
        raw = image.tag_v2.get(700)
    if isinstance(raw, str):
        raw = raw.encode()
    return bytes(raw or b"")


def _property(root: Element, name: str) -> str:
    prefix, local = name.split(":")
    tag = f"{{{_NS[prefix]}}}{local}"
    for description in root.iter(f"{{{_NS['rdf']}}}Description"):
        if tag in description.attrib:
            return _text(description.attrib[tag])
        node = description.find(tag)
        if node is not None:
            return _value(node)
    return ""


def _value(node: Element) -> str:
    resource = node.attrib.get(f"{{{_NS['rdf']}}}resource")
    if resource:
        return _text(resource)
    items = list(node.iter(f"{{{_NS['rdf']}}}li"))
    if not items:
        return _text(node.text)
    alternatives = node.find(f"{{{_NS['rdf']}}}Alt")
    if alternatives is not None:
        default = [i for i in items if i.attrib.get(_XML_LANG) == "x-default"]
        return _text((default or items)[0].text)
    return _text("; ".join(t for t in (_text(i.text) for i in items) if t))


# Values from strangers.


def _text(value: Any) -> str:
    """Plain text: no control or direction-changing characters, white space folded, not too long."""
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return ""
    with suppress(UnicodeError):  # Exif text is read byte by byte, but UTF-8 is what is written nowadays
        value = value.encode("latin-1").decode("utf-8")
    value = "".join(" " if c in "\r\n\t" else c for c in value)
    return " ".join("".join(c for c in value if unicodedata.category(c)[0] != "C").split())[:MAX_TEXT]


def _positive(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) and number > 0 else None


def _whole(value: Any) -> int | None:
    number = _positive(value)
    return int(number) if number is not None and number < 2**31 else None
