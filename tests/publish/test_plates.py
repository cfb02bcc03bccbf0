"""Plates: what lies on the car lies where the car is; certainty, credit, rights and words; one drawing, three painters."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from longlens.dossier.records import Mark, Measure, Shot
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.basis import Bases
from longlens.publish.charts import ticks
from longlens.publish.compose import DASHES, Composed, compose, dimension_ends
from longlens.publish.drawing import Drawing, Fill, Picture, Plain, Stroke, Words, box_path, dashes
from longlens.publish.perspective import Camera, dimension_line, ring, scale_bar
from longlens.publish.plates import Highlight, Plate, View
from longlens.publish.raster import cropped, paint
from longlens.publish.reading import mark_read, to_read
from longlens.publish.rights import hurdles, terms
from longlens.publish.shooting import fitted
from longlens.publish.styles import STYLES
from longlens.publish.vector import pdf, svg
from tests.cli.little_car import TRACK


def made(d: Dossier, plate: str, style: str = "wide", **more: bool) -> Composed:
    return compose(d.get(Plate, plate), STYLES[style], Bases(d).of(None), **more)


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("plate", ["track", "side", "chart"])
def test_every_style_is_painted_with_labels_in_the_frame(opened: Callable[[], Dossier], plate: str, style: str) -> None:
    out = made(opened(), plate, style)
    assert out.notes == [] and out.lost == [] and out.changed == []
    pixels = paint(out.drawing, 0.5)
    assert pixels.shape == (STYLES[style].height // 2, STYLES[style].width // 2, 3) and pixels.std() > 10
    boxes = list(out.placed.boxes.values())
    for x0, y0, x1, y1 in boxes:
        assert x0 >= 0 and y0 >= 0 and x1 <= STYLES[style].width and y1 <= STYLES[style].height
    for word in (i for i in out.drawing.items if isinstance(i, Words)):
        assert -1 <= word.x <= STYLES[style].width + 1 and 0 <= word.y <= STYLES[style].height


def test_a_dimension_lies_on_the_car(opened: Callable[[], Dossier]) -> None:
    """The little car's hubs are known (tests/cli/little_car.py); the dimension runs 0.2 m over them."""
    d = opened()
    basis = Bases(d).of(None)
    ends = dimension_ends("track", basis)
    assert not isinstance(ends, str)
    a, b = ends
    assert abs(np.linalg.norm(b - a) - TRACK) < 0.03
    out = made(d, "track")
    (line,) = (i for i in out.drawing.items if isinstance(i, Stroke) and i.name == "track")
    camera = basis.camera("front")
    assert camera is not None and out.window is not None and out.box is not None
    k = (out.box[2] - out.box[0]) / (out.window[2] - out.window[0])
    up = np.array([0, 0, 0.2])
    marks = {m.point: (m.x, m.y) for m in basis.marks if m.shot == "front" and m.form == "point"}
    for end, point in ((line.path[0], "left.front.hub"), (line.path[-1], "right.front.hub")):
        back = np.array(out.window[:2]) + (end - np.array(out.box[:2])) / k
        foot = camera.project(basis.point(point))
        assert np.hypot(*(foot - np.array(marks[point]))) < 12  # the camera sees the hub where it was marked
        assert np.hypot(*(back - camera.project(basis.point(point) + up))) < 0.5


def test_a_dimension_line_is_square_to_its_way_out_and_as_long_as_the_distance() -> None:
    a, b = np.array([0.0, 0, 0]), np.array([1.2, 0.5, 0])
    got = dimension_line(a, b, np.array([0, 0, 0.3]), 0.05)
    assert np.linalg.norm(got.line[-1] - got.line[0]) == pytest.approx(1.3)
    assert abs((got.line[-1] - got.line[0]) @ (got.out[0][-1] - got.out[0][0])) < 1e-12
    for head, end in zip(got.heads, (got.line[0], got.line[-1]), strict=True):
        assert np.allclose(head[0], end) and np.linalg.norm(head[1:].mean(axis=0) - end) == pytest.approx(0.05)
    bar = scale_bar(np.zeros(3), "x", 0.4, 0.01, np.array([0, 0, 1.0]))
    assert len(bar) == 4 and np.ptp(np.vstack(bar)[:, 0]) == pytest.approx(0.4)
    circle = ring(np.zeros(3), np.array([0, 1.0, 0]), 0.2)
    assert np.allclose(np.linalg.norm(circle, axis=1), 0.2) and np.allclose(circle[:, 1], 0)


def test_a_camera_looks_where_opencv_says() -> None:
    """cv2.projectPoints with the same pose, focal length, principal point and one radial term (OpenCV's documentation)."""
    import cv2

    rng = np.random.default_rng(3)
    R, _ = cv2.Rodrigues(rng.normal(0, 0.2, 3))
    C = np.array([0.1, 0.2, -6.0])
    camera = Camera(R, C, 1400.0, -0.03, np.array([700.0, 520.0]))
    X = rng.uniform(-1, 1, (50, 3))
    K = np.array([[1400.0, 0, 700], [0, 1400, 520], [0, 0, 1]])
    want, _ = cv2.projectPoints(X, cv2.Rodrigues(R)[0], -R @ C, K, np.array([-0.03, 0, 0, 0, 0]))
    assert np.allclose(camera.project(X), want[:, 0], atol=1e-6)


def test_certainty_is_the_line(opened: Callable[[], Dossier]) -> None:
    d = opened()
    out = made(d, "track")
    drawn = {i.name.rpartition(": ")[2]: i.dash for i in out.drawing.items if isinstance(i, Stroke) and ": " in i.name}
    assert drawn["inferred"] == DASHES["inferred"] and drawn["seen"] == ()
    assert "inferred" in out.drawing.words and "seen" in out.drawing.words  # the key
    mark = next(m for m in d.all(Mark) if m.point == "left.rocker" and m.shot == "front")
    d.change(Mark, mark.id, certainty="partly seen")
    again = made(d, "track")
    assert any(i.dash == DASHES["partly seen"] for i in again.drawing.items if isinstance(i, Stroke))
    assert len(dashes(np.array([(0.0, 0), (100, 0)]), (10.0, 10.0))) == 5


def test_credit_and_licence_stand_on_every_plate(opened: Callable[[], Dossier]) -> None:
    for style in ("wide", "square", "tall", "print"):
        text = " ".join(made(opened(), "side", style).drawing.words)
        assert "Photograph: Ada Quill · CC BY 4.0 · marks added" in text


def test_without_rights_nothing_is_published_but_a_marked_draft(opened: Callable[[], Dossier]) -> None:
    d = opened()
    d.change(Shot, "front", may_show="unknown")
    with pytest.raises(UnusableInput, match="nobody has said yet"):
        made(d, "track")
    words = made(d, "track", draft=True).drawing.words
    assert "DRAFT" in words and any(w.startswith("DRAFT, not cleared for publishing") for w in words)
    d.change(Shot, "front", may_show="yes", licence="CC BY-ND 4.0")
    with pytest.raises(UnusableInput, match="allows no changes"):
        made(d, "track")


def test_licences_are_understood() -> None:
    """Creative Commons' licence elements (creativecommons.org/share-your-work/cclicenses); the others by common practice."""
    assert terms("CC BY-NC-SA 4.0").not_commercial and terms("CC BY-NC-SA 4.0").share_alike
    assert terms("CC BY-ND 2.0").no_changes and not terms("CC BY 4.0").remarks
    assert terms("CC0 1.0").remarks == [] and terms("Editorial use with credit").editorial
    assert not terms("Unclear: found on a web site").understood
    shot = Shot(id="s", width=60, height=40, photograph="p", credit="A", licence="CC BY-NC 4.0", may_show="yes")
    assert [h.stops for h in hurdles([shot])] == [False] and [h.stops for h in hurdles([shot], commercial=True)] == [
        True
    ]


def test_words_follow_the_numbers_and_say_when_they_moved(opened: Callable[[], Dossier]) -> None:
    d = opened()
    assert to_read(Bases(d)) == []
    out = made(d, "track")
    assert any(re.fullmatch(r"It is \d+ \(\d+–\d+\) mm wide\.", w) for w in out.drawing.words)
    d.change(Plate, "track", read={"measure:track": "1300 (1290–1310) mm"})
    (found, *_) = to_read(Bases(d))
    assert found.before.startswith("1300") and not found.stops
    assert mark_read(Bases(d)) == 1 and to_read(Bases(d)) == []
    d.remove(Measure, "track")
    assert any(r.stops and "no value" in r.why for r in to_read(Bases(d)))


def test_one_drawing_three_painters(opened: Callable[[], Dossier]) -> None:
    from pypdf import PdfReader

    drawing = made(opened(), "track").drawing
    text = svg(drawing)
    assert (
        "<text" in text
        and "The track" in text
        and "@font-face" in text
        and "http" not in text.replace("http://www.w3.org", "")
    )
    page = PdfReader(io.BytesIO(pdf(drawing))).pages[0]
    assert "The track" in page.extract_text() and "Ada Quill" in page.extract_text()
    sheet = PdfReader(io.BytesIO(pdf(made(opened(), "track", "print").drawing))).pages[0].mediabox
    assert float(sheet.width) == pytest.approx(297 / 25.4 * 72, abs=1)


def test_svg_and_pixels_look_alike(opened: Callable[[], Dossier]) -> None:
    """The typesetter's own renderer paints the SVG; the two pictures agree but for the letters' edges."""
    import typst

    from longlens.publish.typefaces import folders

    drawing = made(opened(), "track").drawing
    source = '#set page(width: 960pt, height: 540pt, margin: 0pt)\n#image(bytes(sys.inputs.at("s")), format: "svg", width: 100%)'
    data = typst.compile(source.encode(), font_paths=[str(f) for f in folders()], ignore_system_fonts=True, format="png", ppi=72,
                         sys_inputs={"s": svg(drawing, fonts=False)})  # fmt: skip
    assert isinstance(data, bytes)
    theirs = np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)
    ours = paint(drawing, 0.5).astype(int)
    assert theirs.shape == ours.shape
    assert np.abs(theirs - ours).mean() < 4


def test_nothing_of_a_stranger_becomes_markup(opened: Callable[[], Dossier]) -> None:
    d = opened()
    bad = "</text><script>alert(1)</script> #panic() {measure:track} \u202e"
    d.change(Plate, "side", title=bad, text=bad)
    drawing = made(d, "side").drawing
    text = svg(drawing)
    assert "<script" not in text and "\u202e" not in text
    assert pdf(drawing).startswith(b"%PDF")


@pytest.mark.parametrize("window", [None, (100, 100, 900, 700), (0, 0, 1499, 200), (1000, 0, 1490, 990)])
def test_a_window_keeps_what_was_asked_for(window: tuple[float, ...] | None) -> None:
    for style in STYLES.values():
        got, box = fitted(window, (1500, 1000), style.picture)
        asked = window or (-0.5, -0.5, 1499.5, 999.5)
        assert got[0] >= -0.51 and got[1] >= -0.51 and got[2] <= 1499.51 and got[3] <= 999.51
        assert (got[2] - got[0]) / (got[3] - got[1]) == pytest.approx((box[2] - box[0]) / (box[3] - box[1]), rel=1e-6)
        for k in (0, 1):
            shown = min(got[k + 2], asked[k + 2]) - max(got[k], asked[k])
            assert shown >= 0.8 * (asked[k + 2] - asked[k])
        assert box[0] >= style.picture[0] - 1e-6 and box[3] <= style.picture[3] + 1e-6


def test_a_crop_puts_things_where_they_were() -> None:
    pixels = np.zeros((400, 600, 3), np.uint8)
    pixels[200:208, 300:308] = 255
    for size in ((300, 200), (1200, 800)):
        out = cropped(pixels, (100, 50, 500, 316.67), size)[..., 0].astype(float)
        y, x = (np.sum(g * out) / out.sum() for g in np.mgrid[: size[1], : size[0]])
        k = size[0] / 400
        assert x == pytest.approx((303.5 - 100) * k, abs=0.6) and y == pytest.approx((203.5 - 50) * k, abs=0.6)


def test_darkening_leaves_what_is_lit() -> None:
    pixels = np.full((300, 400, 3), 200, np.uint8)
    lit = (np.array([(150.0, 100), (250, 100), (250, 200), (150, 200)]),)
    d = Drawing(
        400,
        300,
        "#000000",
        items=[Picture(Plain(pixels), (-0.5, -0.5, 399.5, 299.5), (0, 0, 400, 300), lit=lit, dim=0.6)],
    )
    out = paint(d)
    assert out[150, 200].mean() > 190 and out[5, 5].mean() < 90
    d.add(Fill(box_path((0, 0, 50, 50)), "#ff0000"))
    assert tuple(paint(d)[20, 20]) == (255, 0, 0)


def test_ticks_are_round_and_cover() -> None:
    rng = np.random.default_rng(1)
    for _ in range(200):
        a = float(rng.normal(0, 10 ** rng.uniform(-3, 4)))
        b = a + float(10 ** rng.uniform(-3, 4))
        got = ticks(a, b)
        steps = np.diff(got)
        assert 2 <= len(got) <= 11 and np.allclose(steps, steps[0])
        assert steps[0] / 10 ** np.floor(np.log10(steps[0]) + 1e-9) == pytest.approx(
            round(steps[0] / 10 ** np.floor(np.log10(steps[0]) + 1e-9))
        )


def test_what_cannot_be_drawn_is_said(opened: Callable[[], Dossier]) -> None:
    d = opened()
    plate = Plate(
        id="x",
        title="x",
        view=View(shot="front"),
        highlights=[Highlight(parts=["nothing"]), Highlight(rods=[["left.rocker", "no"]])],
    )
    out = compose(plate, STYLES["wide"], Bases(d).of(None))
    assert any("nothing is drawn of nothing" in n for n in out.notes) and any(
        "not placed by the survey: no" in n for n in out.notes
    )


def test_gallery(opened: Callable[[], Dossier], tmp_path: Path) -> None:
    """A plate of each kind is written as PNG of the right size."""
    from longlens.publish.edition import write_plate

    d = opened()
    files = write_plate(Bases(d), d.get(Plate, "side"), "square", tmp_path, ("png", "svg", "pdf"), 0.5)
    assert [f.name for f in files] == ["side.square.png", "side.square.svg", "side.square.pdf"]
    with Image.open(files[0]) as image:
        assert image.size == (540, 540)
    assert sorted(p.name for p in tmp_path.iterdir() if p.name.startswith("side")) == sorted(f.name for f in files)


def test_a_straightened_picture_is_true_to_scale_in_its_plane(opened: Callable[[], Dossier]) -> None:
    """Marks in the plane come to where their places say, in millimetres per pixel; the bar is as long as it claims."""
    from longlens.publish.plates import ScaleBar, Straight

    d = opened()
    basis = Bases(d).of(None)
    bar = ScaleBar(through="left.front.hub", length=0.5)
    plate = Plate(
        id="x", title="x", view=View(shot="side"), straight=Straight(through="left.front.hub", width=3.0), scale_bar=bar
    )
    out = compose(plate, STYLES["wide"], basis)
    assert out.notes == []
    bars = [i.path for i in out.drawing.items if isinstance(i, Fill) and len(i.path) == 10]
    left, right = (f(p[:, 0].min() if f is min else p[:, 0].max() for p in bars) for f in (min, max))
    units_per_metre = STYLES["wide"].width / 3.0
    assert right - left == pytest.approx(0.5 * units_per_metre, rel=2e-3)
    source = out.drawing.items[0]
    assert isinstance(source, Picture) and source.source.pixels.std() > 10
