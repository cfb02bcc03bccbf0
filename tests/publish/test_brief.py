"""The brief, read by the standard library's HTML parser and held against what a reader must find on it."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from PIL import Image

from longlens.dossier.exchange import read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Fact, Mark, Measure, Point, Shot, Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish import page
from longlens.publish.brief import Brief, write_brief
from longlens.publish.names import LINES, SUSPECT, SYSTEMS
from longlens.publish.overlay import overlay
from tests.cli.conftest import Done
from tests.dossier.pictures import encode, scene
from tests.publish.conftest import small_document

HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>\u202e"
#: Elements without an end tag (HTML Living Standard, 13.1.2).
VOID = {"meta", "img", "br", "link", "input", "hr", "source"}


@dataclass
class Element:
    tag: str
    attrs: dict[str, str]
    parent: Element | None
    text: str = ""
    children: list[Element] = field(default_factory=list)

    def all(self, tag: str, cls: str = "") -> Iterator[Element]:
        for child in self.children:
            if child.tag == tag and (not cls or cls in child.attrs.get("class", "").split()):
                yield child
            yield from child.all(tag, cls)

    @property
    def words(self) -> str:
        return " ".join((self.text + " " + " ".join(c.words for c in self.children)).split())


class Reader(HTMLParser):
    """A tree that insists on every element being closed in order."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.root = self.here = Element("", {}, None)
        self.feed(html)
        self.close()
        assert self.here is self.root, f"<{self.here.tag}> is not closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({k for k, _ in attrs}) == len(attrs), f"an attribute twice on <{tag}>"
        made = Element(tag, {k: v or "" for k, v in attrs}, self.here)
        self.here.children.append(made)
        if tag not in VOID:
            self.here = made

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.here.children.append(Element(tag, {k: v or "" for k, v in attrs}, self.here))

    def handle_endtag(self, tag: str) -> None:
        assert tag == self.here.tag, f"</{tag}> closes <{self.here.tag}>"
        assert self.here.parent is not None
        self.here = self.here.parent

    def handle_data(self, data: str) -> None:
        self.here.text += data


def made(tmp_path: Path, change: Callable[[Dossier], None] = lambda d: None) -> tuple[Element, Brief, str]:
    """The brief of the little car on two small photographs, of which ``front`` may be shown."""
    document, _ = read_exchange(small_document())
    with Dossier.create(tmp_path / "car.longlens", Vehicle(name="Fulmar E4", note="An invented car.")) as dossier:
        add_photographs(dossier, [(f"{s}.jpg", encode(scene(600, 400, i))) for i, s in enumerate(("front", "side"))])
        from_exchange(dossier, document)
        dossier.change(
            Shot, "front", credit="Ada Quill", licence="CC BY 4.0", may_show="yes", focal_px=833.0, focal_sd_px=25.0
        )
        dossier.change(Shot, "side", credit="Ada Quill", licence="CC BY 4.0", focal_px=833.0, focal_sd_px=25.0)
        change(dossier)
        brief = write_brief(dossier, tmp_path / "brief.html")
    html = (tmp_path / "brief.html").read_text(encoding="utf-8")
    return Reader(html).root, brief, html


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> tuple[Element, Brief, str]:
    def more(dossier: Dossier) -> None:
        a, b = (dossier.get(Mark, f"front:left.{n}") for n in ("front.hub", "rear.hub"))
        for certainty in ("partly seen", "inferred"):
            dossier.add(Mark(id=f"sill {certainty}", shot="front", form="line", path=[(a.x, a.y), (b.x, b.y)],
                             certainty=certainty, part=f"sill {certainty}", system="structure"))  # fmt: skip
        dossier.change(Mark, a.id, system="running")
        dossier.add(Fact(id="mass", of="mass", value=620.0, sd=1.5, unit="kg", source="press sheet"))

    return made(tmp_path_factory.mktemp("brief"), more)


def test_it_is_one_page_with_nothing_from_outside(plain: tuple[Element, Brief, str]) -> None:
    root, _, html = plain
    assert not list(root.all("script")) and not list(root.all("link")) and not list(root.all("iframe"))
    for image in root.all("img"):
        assert image.attrs["src"].startswith("data:image/jpeg;base64,")
    for link in root.all("a"):
        assert link.attrs["href"].startswith("#")
    assert not re.search(r"https?://|url\(|@import|//[a-z]", re.sub(r"base64,[A-Za-z0-9+/=]+", "", html))
    assert not any(k.startswith("on") for e in _every(root) for k in e.attrs)


def _every(element: Element) -> Iterator[Element]:
    for child in element.children:
        yield child
        yield from _every(child)


def test_it_can_be_read_by_everybody(plain: tuple[Element, Brief, str]) -> None:
    """WCAG 2.2: language (3.1.1), title (2.4.2), headings in order (1.3.1), text alternatives (1.1.1), table heads."""
    root, _, _ = plain
    (html,) = root.all("html")
    assert html.attrs["lang"] == "en"
    assert next(root.all("title")).words
    levels = [int(e.tag[1]) for e in _every(root) if re.fullmatch("h[1-6]", e.tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    assert all(len(i.attrs["alt"]) > 20 for i in root.all("img"))
    assert len(list(root.all("main"))) == 1
    for table in root.all("table"):
        assert next(table.all("caption")).words
        assert all(th.attrs.get("scope") for th in table.all("th"))
    ids = [e.attrs["id"] for e in _every(root) if "id" in e.attrs]
    assert len(set(ids)) == len(ids)
    assert {a.attrs["href"][1:] for a in root.all("a")} <= set(ids)


def luminance(colour: str) -> float:
    """Relative luminance by its definition in WCAG 2.2."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    lin = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * lin[0] + 0.7152 * lin[1] + 0.0722 * lin[2]


def test_contrast_is_enough(plain: tuple[Element, Brief, str]) -> None:
    """WCAG 2.2: 4.5 for text (1.4.3), 3 for drawings (1.4.11), on the page's own ground."""
    _, _, html = plain
    named = dict(re.findall(r"--(page|raised|text|quiet|link):(#[0-9a-f]{6})", html.partition("@media print")[0]))

    def contrast(a: str, b: str) -> float:
        light, dark = sorted((luminance(a), luminance(b)), reverse=True)
        return (light + 0.05) / (dark + 0.05)

    for text in ("text", "quiet", "link"):
        for ground in ("page", "raised"):
            assert contrast(named[text], named[ground]) >= 4.5
    for colour in [c for _, c in SYSTEMS.values()] + [SUSPECT]:
        assert contrast(colour, named["page"]) >= 3


def test_colours_are_okabe_and_itos() -> None:
    """Okabe and Ito 2008, "Color Universal Design": the palette's RGB values (from memory, as tabulated there)."""
    palette = {
        (230, 159, 0),
        (86, 180, 233),
        (0, 158, 115),
        (240, 228, 66),
        (0, 114, 178),
        (213, 94, 0),
        (204, 121, 167),
    }
    used = [c for key, (_, c) in SYSTEMS.items() if key] + [SUSPECT]
    assert len(set(used)) == len(used)
    assert {tuple(int(c[i : i + 2], 16) for i in (1, 3, 5)) for c in used} <= palette


def test_every_number_has_its_interval_its_kind_and_its_trail(plain: tuple[Element, Brief, str]) -> None:
    root, brief, _ = plain
    (section,) = (s for s in root.all("section") if s.attrs.get("id") == "numbers")
    rows = [r for r in section.all("tr") if "id" in r.attrs]
    assert len(rows) == sum(1 for line in brief.lines if line.value) == 1
    cells = [c.words for c in rows[0].all("td")]
    assert re.fullmatch(r"\d+ \(\d+–\d+\) mm", cells[0]) and cells[1] == "measured"
    got = brief.lines[0].value
    low, high = (int(x) for x in re.findall(r"\d+", cells[0])[1:3])
    assert got and abs(low - 1e3 * got["low95"]) < 50 and abs(high - 1e3 * got["high95"]) < 50
    (link,) = rows[0].all("a")
    (trail,) = (u for u in root.all("ul") if u.attrs.get("id") == link.attrs["href"][1:])
    assert "left front hub at" in trail.words and "right front hub at" in trail.words
    assert cells[2] == f"{len(brief.lines[0].trail.marks)} marks on 2 photographs"


def test_facts_show_their_source_and_spread(plain: tuple[Element, Brief, str]) -> None:
    root, _, _ = plain
    (section,) = (s for s in root.all("section") if s.attrs.get("id") == "facts")
    text = section.words
    assert "2500 (2494–2506) mm" in text and "maker's sheet" in text
    assert "620.0 (617–623) kg" in text and "not used by the survey" in text


def test_only_what_may_be_shown_is_shown(plain: tuple[Element, Brief, str]) -> None:
    root, brief, _ = plain
    assert len(list(root.all("img"))) == 1
    assert [p.shot.id for p in brief.withheld] == ["side"]
    (kept,) = root.all("ul", "withheld")
    assert "side" in kept.words and "nobody has said yet" in kept.words
    caption = next(root.all("figcaption")).words
    assert "Ada Quill" in caption and "CC BY 4.0" in caption


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"may_show": "no"}, "may not be shown"),
        ({"may_show": "yes", "credit": None}, "no credit"),
        ({"may_show": "yes", "licence": " "}, "no licence"),
        ({"may_show": "unknown"}, "nobody has said"),
        ({"may_show": "yes", "photograph": None}, "not in the dossier"),
    ],
)
def test_reasons_to_withhold(fields: dict, why: str) -> None:
    from longlens.publish.rights import withheld

    whole = {"id": "s", "width": 60, "height": 40, "photograph": "p", "credit": "A", "licence": "B", "may_show": "yes"}
    assert withheld(Shot(**whole)) == ""
    assert why in withheld(Shot(**{**whole, **fields}))


def test_the_embedded_picture_is_small_and_whole(plain: tuple[Element, Brief, str]) -> None:
    root, _, _ = plain
    data = base64.b64decode(next(root.all("img")).attrs["src"].partition(",")[2])
    with Image.open(io.BytesIO(data)) as image:
        image.load()
        assert image.format == "JPEG" and max(image.size) <= 1600


def test_certainty_is_drawn_by_the_line(plain: tuple[Element, Brief, str]) -> None:
    root, _, html = plain
    (figure,) = (f for f in root.all("figure") if list(f.all("img")))
    drawn = list(figure.all("g", "mark"))
    for certainty, (name, dash) in LINES.items():
        assert any(name in g.attrs["class"].split() for g in drawn), certainty
        assert f".{name}{{--dash:{dash}}}" in html
    assert len({dash for _, dash in LINES.values()}) == 3
    assert any("s-structure" in g.attrs["class"].split() for g in drawn)
    named = next(figure.all("ul", "parts")).words
    assert "sill partly seen (partly seen)" in named and "sill inferred (inferred)" in named


def test_marks_lie_where_they_were_set(plain: tuple[Element, Brief, str]) -> None:
    root, brief, _ = plain
    (svg,) = (s for s in root.all("svg") if s.attrs["viewbox"].startswith("-0.5"))
    assert svg.attrs["viewbox"] == "-0.5 -0.5 600 400"  # pixel (0, 0) has its centre at the origin
    rings = [(float(c.attrs["cx"]), float(c.attrs["cy"])) for c in svg.all("circle", "ink")]
    marks = [(m.x, m.y) for m in brief.pictures[0].marks if m.form == "point"]
    assert len(rings) == len(marks)
    assert all(abs(a - c) < 0.06 and abs(b - d) < 0.06 for (a, b), (c, d) in zip(rings, marks, strict=True))


def test_a_rim_is_cut_where_it_was_not_seen() -> None:
    import numpy as np

    shot = Shot(id="s", width=600, height=400)
    angles = np.radians([*range(0, 120, 10), *range(200, 300, 10)])
    edge = [(float(300 + 90 * np.cos(a)), float(200 + 20 * np.sin(a))) for a in angles]
    mark = Mark(id="m", shot="s", form="rim", circle="rim", edge=edge[::-1])
    svg = overlay(shot, [mark], [], lambda m: m.id)
    d = re.findall(r' d="([^"]*)"', svg)[0]
    assert d.count("M") == 2 and d.count("L") == len(edge) - 2
    whole = [(float(300 + 90 * np.cos(a)), float(200 + 20 * np.sin(a))) for a in np.radians(range(0, 360, 10))]
    svg = overlay(shot, [mark.model_copy(update={"edge": whole})], [], lambda m: m.id)
    assert re.findall(r' d="([^"]*)"', svg)[0].count("M") == 1


def test_nothing_of_a_strangers_dossier_becomes_markup(tmp_path: Path) -> None:
    def hostile(dossier: Dossier) -> None:
        dossier.change(Vehicle, "vehicle", name=HOSTILE, maker=HOSTILE, note=HOSTILE)
        dossier.change(Shot, "front", credit=HOSTILE, licence=HOSTILE, note=HOSTILE, source=HOSTILE, date=HOSTILE)
        dossier.add(Point(id=HOSTILE, part=HOSTILE))
        dossier.add(
            Mark(id=HOSTILE, shot="front", form="point", point=HOSTILE, x=3, y=4, part=HOSTILE, certainty="inferred")
        )
        dossier.add(Fact(id=HOSTILE, of=HOSTILE, text=HOSTILE, source=HOSTILE))
        dossier.add(Measure(id=HOSTILE, distance=("left.lamp", "right.lamp")))

    root, _, html = made(tmp_path, hostile)
    assert not list(root.all("script"))
    assert len(list(root.all("img"))) == 1
    assert not any(k.startswith("on") for e in _every(root) for k in e.attrs)
    assert "alert(1)" in root.words
    assert "\u202e" not in html


def test_what_is_not_determined_is_said_instead_of_a_number(tmp_path: Path) -> None:
    def lonely(dossier: Dossier) -> None:
        dossier.add(Point(id="loose"))
        dossier.add(Mark(id="loose", shot="front", form="point", point="loose", x=100, y=100))
        dossier.add(Measure(id="reach", distance=("loose", "left.front.hub")))

    root, brief, _ = made(tmp_path, lonely)
    (section,) = (s for s in root.all("section") if s.attrs.get("id") == "unsure")
    assert "reach" in section.words and "What would help" in section.words
    assert [line.measure.id for line in brief.lines if line.refused] == ["reach"]
    (numbers,) = (s for s in root.all("section") if s.attrs.get("id") == "numbers")
    assert "reach" not in numbers.words


def test_a_dossier_that_cannot_be_solved_still_gets_its_brief(tmp_path: Path) -> None:
    def thin(dossier: Dossier) -> None:
        for mark in dossier.all(Mark)[3:]:
            dossier.remove(Mark, mark.id)

    root, brief, _ = made(tmp_path, thin)
    assert brief.unsolved is not None
    assert brief.unsolved.needs[0].lower()[:20] in root.words.lower()


def test_the_caution_stands_on_the_page(plain: tuple[Element, Brief, str]) -> None:
    root, _, _ = plain
    assert root.words.count(page.CAUTION) == 2


def test_a_dossier_without_marks_is_refused(tmp_path: Path) -> None:
    with (
        Dossier.create(tmp_path / "a.longlens", Vehicle(name="Fulmar E4")) as dossier,
        pytest.raises(UnusableInput, match="no photograph has marks"),
    ):
        write_brief(dossier, tmp_path / "a.html")


def test_rights_need_a_shot_to_change(run: Callable[..., Done], folder: Path) -> None:
    run("new", "a.longlens", "--name", "Fulmar E4")
    run("add", "a.longlens", "front.jpg")
    assert run("rights", "a.longlens", "--show", "yes").status == 2
    told = run("rights", "a.longlens", "front", "--show", "no", "--json").json
    assert told["shots"][0]["may_show"] == "no" and told["shots"][0]["withheld"] == "it may not be shown"
    assert run("undo", "a.longlens").status == 0
    assert run("rights", "a.longlens", "--json").json["shots"][0]["may_show"] == "unknown"
