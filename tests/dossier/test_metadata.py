"""Date, creator, credit, licence: from EXIF, IPTC and XMP, and nothing from a hostile block.

Tag numbers and layouts: Exif 2.3 (CIPA DC-008), IPTC-IIM 4.2, XMP (ISO 16684-1), from memory.
"""

from __future__ import annotations

import io

import pytest
from PIL import Image

from longlens.dossier.metadata import Metadata, read_metadata
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Photograph, Shot
from longlens.dossier.store import Dossier
from tests.dossier.pictures import FORMATS, encode, exif, scene, with_iptc, xmp

SMALL = scene(64, 48)
RIGHTS = xmp(
    "<dc:creator><rdf:Seq><rdf:li>Ada Quill</rdf:li><rdf:li>Ben Rook</rdf:li></rdf:Seq></dc:creator>"
    '<dc:rights><rdf:Alt><rdf:li xml:lang="de">Alle Rechte</rdf:li>'
    '<rdf:li xml:lang="x-default">© Skerry</rdf:li>'
    "</rdf:Alt></dc:rights>"
    '<cc:license rdf:resource="https://creativecommons.org/licenses/by/4.0/"/>',
    'photoshop:Credit="Skerry press" photoshop:DateCreated="2031-05-04T10:20:30+02:00"',
)


def read(data: bytes) -> Metadata:
    if data[4:8] == b"ftyp":
        import pillow_heif

        pillow_heif.register_heif_opener()
    return read_metadata(Image.open(io.BytesIO(data)))


@pytest.mark.parametrize("kind", FORMATS)
def test_xmp_is_read_in_every_format(kind: str) -> None:
    found = read(encode(SMALL, kind, xmp=RIGHTS))
    assert found.creator == "Ada Quill; Ben Rook"
    assert found.credit == "Skerry press"
    assert found.copyright == "© Skerry"
    assert found.licence == "https://creativecommons.org/licenses/by/4.0/"
    assert found.date == "2031-05-04T10:20:30+02:00"
    assert found.remarks == []


@pytest.mark.parametrize("kind", FORMATS)
def test_exif_is_read_in_every_format(kind: str) -> None:
    block = exif(
        {0x013B: "Ada Quill", 0x8298: "(c) Skerry"},
        {0x9003: "2031:05:04 10:20:30", 0x9011: "+02:00", 0x920A: 85.0, 0xA405: 127,
         0xA002: 6000, 0xA003: 4000, 0xA20E: 4000.0, 0xA20F: 4000.0, 0xA210: 3},
    )  # fmt: skip
    found = read(encode(SMALL, kind, exif=block))
    assert (found.creator, found.copyright) == ("Ada Quill", "(c) Skerry")
    assert found.date == "2031-05-04T10:20:30+02:00"
    assert found.optics.focal_mm == 85 and found.optics.focal_35mm == 127
    assert (found.optics.exif_width, found.optics.exif_height) == (6000, 4000)
    assert found.optics.sensor_px_per_mm == (400.0, 400.0)


def test_iptc_is_read_from_a_jpeg() -> None:
    sets = {
        (1, 90): b"\x1b%G",
        (2, 55): b"20310504",
        (2, 60): b"102030+0200",
        (2, 80): "Åda Quill".encode(),
        (2, 110): b"Skerry press",
        (2, 116): "© Skerry".encode(),
    }
    found = read(with_iptc(encode(SMALL), sets))
    assert (found.creator, found.credit, found.copyright) == ("Åda Quill", "Skerry press", "© Skerry")
    assert found.date == "2031-05-04T10:20:30+02:00"


def test_iptc_is_read_from_a_tiff() -> None:
    out = io.BytesIO()
    data = b"\x1c\x02\x6e\x00\x0cSkerry press\x1c\x02\x50\x00\x03Ada"
    tags = Image.Exif()
    tags[33723] = data
    SMALL.save(out, "TIFF", exif=tags)
    found = read(out.getvalue())
    assert (found.credit, found.creator) == ("Skerry press", "Ada")


def test_the_later_hand_wins_and_the_disagreement_is_told() -> None:
    block = exif({0x013B: "Camera owner"}, {0x9003: "2031:05:03 23:00:00"})
    found = read(with_iptc(encode(SMALL, exif=block, xmp=RIGHTS), {(2, 80): b"Desk"}))
    assert found.creator == "Ada Quill; Ben Rook"
    assert found.date == "2031-05-03T23:00:00"
    told = "\n".join(found.remarks)
    assert "IPTC says 'Desk'" in told and "EXIF says 'Camera owner'" in told and "date: took" in told


LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>'
)
OUTSIDE = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]>'


@pytest.mark.parametrize("head", [LAUGHS, OUTSIDE])
def test_no_entity_is_ever_expanded(dossier: Dossier, head: str) -> None:
    data = encode(SMALL, xmp=xmp("<dc:creator>&a;</dc:creator>", head=head))
    (arrival,) = add_photographs(dossier, [("x.jpg", data)])
    assert arrival.outcome == "added"
    assert dossier.get(Shot, "x").creator == ""
    (photograph,) = dossier.all(Photograph)
    assert photograph.remarks == ["its XMP block cannot be read (DTDForbidden) and was passed over"]


@pytest.mark.parametrize("block", [b"<not xml", b"\xff\xfe\0", b"<a>" * 100_000])
def test_a_broken_block_costs_only_itself(block: bytes) -> None:
    found = read(encode(SMALL, "WEBP", exif=exif({0x013B: "Ada"}), xmp=block))
    assert found.creator == "Ada"
    assert len(found.remarks) == 1 and "XMP" in found.remarks[0]


def test_odd_exif_values_are_passed_over() -> None:
    block = exif(
        {0x013B: "A\0\x1b[31m\u202e" + "x" * 5000},
        {0x9003: "0000:00:00 00:00:00", 0x920A: float("nan"), 0xA405: 0, 0xA002: 2**31 - 1},
    )
    found = read(encode(SMALL, exif=block))
    assert found.date == "" and found.optics.focal_mm is None and found.optics.focal_35mm is None
    assert "\x1b" not in found.creator and len(found.creator) <= 2000
