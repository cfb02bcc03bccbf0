"""The brief as HTML: read strictly by html5lib (WHATWG parsing rules), and by axe in Chromium (WCAG 2.1 AA) at two widths."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from longlens.dossier.store import Dossier
from longlens.publish.brief import write_brief

pytestmark = pytest.mark.published


@pytest.fixture
def page(opened: Callable[[], Dossier], tmp_path: Path) -> Path:
    write_brief(opened(), tmp_path / "brief.html")
    return tmp_path / "brief.html"


def test_no_parse_error(page: Path) -> None:
    import html5lib

    parser = html5lib.HTMLParser(strict=True)
    document = parser.parse(page.read_text(encoding="utf-8"))
    assert document is not None and parser.errors == []
    spaces = "{http://www.w3.org/1999/xhtml}"
    assert len(list(document.iter(f"{spaces}h1"))) == 1
    assert len(list(document.iter(f"{spaces}img"))) == 5  # three plates, two photographs


@pytest.mark.browser
def test_axe_finds_nothing_and_nothing_sticks_out(page: Path) -> None:
    from axe_playwright_python.sync_playwright import Axe
    from playwright.sync_api import sync_playwright

    asked: list[str] = []
    with sync_playwright() as p:
        browser = p.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        for width in (390, 1440):
            tab = browser.new_page(viewport={"width": width, "height": 900})
            tab.on("request", lambda r: asked.append(r.url) if not r.url.startswith(("file:", "data:")) else None)
            tab.goto(page.as_uri())
            found = Axe().run(tab, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa"]})
            assert found.violations_count == 0, found.generate_report()
            assert tab.evaluate("document.documentElement.scrollWidth") <= width
            tab.close()
        browser.close()
    assert asked == []
