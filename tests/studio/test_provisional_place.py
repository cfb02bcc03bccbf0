"""On the board: a new point's provisional place, then the survey's own in its stead."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from longlens.dossier.exchange import read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.records import Mark, Measure, Vehicle
from longlens.dossier.store import Dossier
from longlens.studio.board import edits
from tests.survey.cars import small

#: All that was ever to be read in the panel.
SEEN = """() => {
  const panel = document.querySelector('.ll-side');
  window.seen = [];
  const look = () => window.seen.push([panel.innerText, panel.querySelectorAll('.ll-dimension.provisional').length]);
  new MutationObserver(look).observe(panel, { childList: true, subtree: true });
  look();
}"""


@pytest.mark.browser
def test_a_new_point_is_placed_at_once_and_then_by_the_survey(
    studio: Callable[..., Any], window: Callable[..., Any], tmp_path: Path
) -> None:
    file = tmp_path / "car.longlens"
    with Dossier.create(file, Vehicle(name="Fulmar E4")) as dossier:
        from_exchange(dossier, read_exchange(small(5).document)[0])
        marks = [m for m in dossier.all(Mark) if m.point]
        copied, other = sorted({m.point for m in marks}, key=lambda p: -sum(m.point == p for m in marks))[:2]
        places = [(m.shot, (m.x or 0.0, m.y or 0.0)) for m in marks if m.point == copied]
        edits.place(dossier, places[0][0], "point", "new_thing", [places[0][1]])
        dossier.put(Measure(id="to new thing", distance=(str(other), "new_thing")))
    page = window(studio(file), "/board?point=new_thing")
    page.get_by_text("one more photograph that shows it would place it").wait_for(timeout=60000)
    page.evaluate(SEEN)
    with Dossier.open(file, by="somebody else") as dossier, dossier.batch("mark it elsewhere"):
        for shot, xy in places[1:]:
            edits.place(dossier, shot, "point", "new_thing", [xy])
    page.wait_for_function(  # at last by the survey: no word of provisional, whole dimension lines, and the distance to it
        "() => { const t = document.querySelector('.ll-side').innerText; return t.includes('Where it lies') && "
        "!t.includes('provisional') && !t.includes('not determined') && !t.includes('worked out'); }",
        timeout=60000,
    )
    assert page.locator(".ll-side .ll-dimension.provisional").count() == 0
    early = [(t, n) for t, n in page.evaluate("window.seen") if "cameras as they stand" in t]
    assert early and all(n >= 2 for _, n in early)
    told = next(t for t, _ in early)
    assert f"by {len(places)} marks" in told and told.count("provisional") >= 2  # the place, and the distance to it
