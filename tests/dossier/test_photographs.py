"""Photographs coming in: every format, upright; bad ones refused in one line while the rest goes on."""

from __future__ import annotations

import io
import os
import re
import struct
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from longlens.dossier import photographs
from longlens.dossier.photographs import add_photographs, preview, read_photograph, safe_name, upright_image
from longlens.dossier.records import Photograph, Shot
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from tests.dossier.pictures import FORMATS, encode, exif, png_header, scene


@pytest.mark.parametrize("kind", FORMATS)
def test_every_format_comes_in_whole(dossier: Dossier, kind: str) -> None:
    data = encode(scene(), kind)
    (arrival,) = add_photographs(dossier, [("front.jpg", data)])  # the name may lie, the content decides
    assert arrival.outcome == "added" and arrival.shot == "front"
    shot = dossier.get(Shot, "front")
    photograph = dossier.get(Photograph, shot.photograph or "")
    assert (shot.width, shot.height) == (640, 480)
    assert photograph.media_type == photographs.MEDIA_TYPES[kind]
    assert dossier.original(photograph.id) == data
    decoded = np.asarray(upright_image(data), dtype=float)
    assert np.abs(decoded - np.asarray(scene(), dtype=float)).mean() < 6  # grey levels; lossy formats


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_picture_is_turned_upright(kind: str, orientation: int) -> None:
    data = encode(scene(320, 200), kind, exif=exif({0x0112: orientation}))
    photograph, _ = read_photograph(data)
    # Pillow's own turning, an independent reading of the Exif table.
    expected = ImageOps.exif_transpose(Image.open(io.BytesIO(data)))
    assert (photograph.width, photograph.height) == expected.size
    assert (photograph.stored_width, photograph.stored_height) == (320, 200)
    assert np.array_equal(np.asarray(upright_image(data)), np.asarray(expected.convert("RGB")))


def test_heic_is_turned_once_not_twice() -> None:
    data = encode(scene(320, 200), "HEIF", exif=exif({0x0112: 6}))
    turned = np.asarray(scene(320, 200).transpose(Image.Transpose.ROTATE_270), dtype=float)
    assert np.abs(np.asarray(upright_image(data), dtype=float) - turned).mean() < 6


def test_sixteen_bit_grey_is_shown_in_its_own_range() -> None:
    ramp = np.linspace(1000, 9000, 64 * 64).reshape(64, 64).astype(np.uint16)
    out = io.BytesIO()
    Image.fromarray(ramp).save(out, "TIFF")
    grey = np.asarray(upright_image(out.getvalue()))[..., 0]
    assert grey.min() == 0 and grey.max() == 255 and np.unique(grey).size > 200


def bad_files() -> dict[str, tuple[bytes, str]]:
    whole = {kind: encode(scene(), kind) for kind in FORMATS}
    raw = encode(scene(64, 64), "TIFF", exif=exif({254: 1}))
    broken = bytearray(whole["PNG"])
    broken[len(broken) // 2 : len(broken) // 2 + 40] = bytes(40)
    big_webp = bytearray(whole["WEBP"])
    big_webp = bytearray(b"RIFF" + struct.pack("<I", 22) + b"WEBPVP8X" + struct.pack("<I", 10) + bytes(4))
    big_webp += (16383).to_bytes(3, "little") + (16383).to_bytes(3, "little")
    return {
        "empty": (b"", "not a photograph but an empty file"),
        "page.jpg": (b"<!DOCTYPE html><html>", "but a web page"),
        "drawing.png": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "but an SVG drawing"),
        "archive.jpg": (b"PK\x03\x04" + bytes(100), "but a ZIP archive"),
        "program.heic": (b"\x7fELF" + bytes(100), "but a program"),
        "film.heic": (b"\0\0\0\x18ftypmp42" + bytes(100), "but a film"),
        "avif.heic": (b"\0\0\0\x18ftypavif\0\0\0\0avifmif1" + bytes(100), "but an AVIF picture"),
        "noise": (os.urandom(5) + b"\1" * 5000, "of an unknown kind"),
        "bomb.png": (png_header(100_000, 100_000), "100000 × 100000 pixels: more than"),
        "wide.png": (png_header(100_000, 20), "100000 × 20 pixels: more than"),
        "large.png": (png_header(16_000, 16_000), "16000 × 16000 pixels: more than 250 megapixels"),
        "large.webp": (bytes(big_webp), "16384 × 16384 pixels: more than"),
        "small.png": (encode(scene(8, 8), "PNG"), "too small to mark"),
        "raw.tif": (raw, "a camera's raw file"),
        "claims.png": (png_header(640, 480), "cannot be decoded|ends too early"),
        "crc.png": (bytes(broken), "cannot be decoded|ends too early"),
        **{
            f"cut.{kind.lower()}": (data[: len(data) * 2 // 3], "ends too early|cannot be decoded")
            for kind, data in whole.items()
        },
        **{f"head.{kind.lower()}": (data[:30], "ends too early|cannot be decoded") for kind, data in whole.items()},
    }


@pytest.mark.parametrize("name", bad_files())
def test_a_bad_file_gets_one_clear_line_and_the_rest_goes_on(dossier: Dossier, name: str) -> None:
    data, told = bad_files()[name]
    arrivals = add_photographs(
        dossier, [("a.jpg", encode(scene(seed=1))), (name, data), ("b.jpg", encode(scene(seed=2)))]
    )
    assert [a.outcome for a in arrivals] == ["added", "refused", "added"]
    line = arrivals[1].line
    assert line.startswith(f"{name}: ") and "\n" not in line and len(line) < 250
    assert re.search(told, line)
    assert dossier.ids(Shot) == ["a", "b"] and dossier.verify() == []


def test_the_limit_on_bytes_holds_before_anything_is_decoded(
    dossier: Dossier, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photographs, "MAX_BYTES", 10_000)
    path = tmp_path / "large.png"
    path.write_bytes(encode(scene(), "PNG"))
    (arrival,) = add_photographs(dossier, [path])
    assert arrival.outcome == "refused" and "larger than" in arrival.line


def test_what_is_no_plain_file_is_refused_without_waiting(dossier: Dossier, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.jpg"
    os.mkfifo(pipe)
    arrivals = add_photographs(dossier, [pipe, tmp_path, tmp_path / "none.jpg"])
    assert [a.outcome for a in arrivals] == ["refused"] * 3
    assert "not a plain file" in arrivals[0].line and "no such file" in arrivals[2].line


def test_one_run_is_one_step_and_undo_takes_it_back(dossier: Dossier) -> None:
    files = [(f"{i}.png", encode(scene(seed=i), "PNG")) for i in range(3)]
    add_photographs(dossier, files, stage=None, source="press kit")
    assert dossier.steps(1)[0].label == "add 3 photographs"
    assert {s.source for s in dossier.all(Shot)} == {"press kit"}
    dossier.undo()
    assert dossier.ids(Shot) == [] and dossier.ids(Photograph) == []
    assert [a.outcome for a in add_photographs(dossier, files)] == ["added"] * 3


def test_the_same_file_twice_is_noticed_under_any_name(dossier: Dossier) -> None:
    data = encode(scene())
    first, again = add_photographs(dossier, [("a.jpg", data), ("b.jpg", data)])
    (later,) = add_photographs(dossier, [("c.jpg", data)])
    assert (first.outcome, again.outcome, later.outcome) == ("added", "same", "same")
    assert later.shot == "a" and dossier.ids(Shot) == ["a"]


def test_a_resized_or_turned_copy_is_noticed_and_named(dossier: Dossier) -> None:
    small = scene().resize((320, 240), Image.Resampling.LANCZOS)
    flipped = scene().transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    arrivals = add_photographs(
        dossier,
        [
            ("a.png", encode(scene(), "PNG")),
            ("small.jpg", encode(small)),
            ("flipped.jpg", encode(flipped)),
            ("other.jpg", encode(scene(seed=9))),
        ],
    )
    assert [a.copy_of for a in arrivals] == [None, "a", "a", None]
    assert "resized or recompressed" in arrivals[1].line and "left to right" in arrivals[2].line
    assert dossier.get(Shot, "small").copy_of == "a"


def test_two_files_of_one_name_get_two_shots(dossier: Dossier) -> None:
    add_photographs(dossier, [("front view.jpg", encode(scene(seed=1))), ("x/front view.jpg", encode(scene(seed=2)))])
    assert dossier.ids(Shot) == ["front-view", "front-view-2"]


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\photos\\a.jpg", "a.jpg"),
        ("..", "photograph"),
        ("", "photograph"),
        ("a\0b\n.jpg", "ab.jpg"),
        ("gpj.\u202eexe.jpg", "gpj.exe.jpg"),
        ("x" * 500 + ".jpeg", "x" * 100 + ".jpeg"),
        (".hidden", "hidden"),
    ],
)
def test_names_lead_nowhere(name: str, safe: str) -> None:
    assert safe_name(name) == safe


@given(st.text(max_size=300))
def test_any_name_becomes_a_plain_one(name: str) -> None:
    safe = safe_name(name)
    assert safe and len(safe) <= 111 and not set(safe) & set('/\\\0\n<>:"|?*') and safe not in (".", "..")


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(FORMATS),
    st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=60),
)
def test_scrambled_files_are_read_or_refused_and_nothing_else(kind: str, flips: list[tuple[float, int]]) -> None:
    data = bytearray(WHOLE[kind])
    for place, value in flips:
        data[min(int(place * len(data)), len(data) - 1)] = value
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # a decoder's own words must not reach the user
            photograph, _ = read_photograph(bytes(data), "x")
    except UnusableInput as e:
        one_line(e)
    else:
        assert photograph.width * photograph.height <= photographs.MAX_PIXELS


def one_line(error: UnusableInput) -> None:
    assert str(error) and "\n" not in str(error)


WHOLE = {kind: encode(scene(96, 64), kind, exif=exif({0x013B: "A"}, {0x920A: 50.0})) for kind in FORMATS}


def test_a_preview_is_small_upright_and_made_once(dossier: Dossier) -> None:
    add_photographs(dossier, [("a.jpg", encode(scene(800, 400), exif=exif({0x0112: 6})))])
    name = dossier.get(Shot, "a").photograph or ""
    before = dossier.revision
    made = preview(dossier, name, longest=200)
    assert Image.open(io.BytesIO(made)).size == (100, 200)
    assert preview(dossier, name, longest=200) == made and dossier.revision == before


def test_progress_is_told(dossier: Dossier) -> None:
    told: list[tuple[int, str]] = []
    add_photographs(dossier, [("a.jpg", b""), ("b.jpg", b"")], progress=lambda n, name: told.append((n, name)))
    assert told == [(0, "a.jpg"), (1, "b.jpg")]
