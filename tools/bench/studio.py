"""The studio in Chromium: a photograph shown, a mark's round trip, mark to number with 12 shots and 600 marks, memory with forty
photographs of 24 megapixels.

Times of the browser are taken by its own clock, on one page that stays open. Mark to number is from the moment the board sends
a nudge until the panel beside it shows another text for a number that hangs on the mark. Without Chromium only what needs none
is printed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from longlens.dossier.exchange import read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Mark, Measure, Shot, Vehicle
from longlens.dossier.store import Dossier
from tools.studies.simulated_cars import simulate

WIDTH, HEIGHT = 6000, 4000
SHOTS, MARKS, FORTY = 12, 600, 40
NUDGES = 40

Row = dict[str, Any]


def rows() -> Iterator[Row]:
    """What ``make bench`` prints."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as folder:
        yield from _large(Path(folder), chromium)
        yield from _many_marks(Path(folder), chromium)


# Forty photographs of 24 megapixels ------------------------------------------------------------------------


@cache
def _picture() -> Any:
    """24 megapixels with detail everywhere: smooth noise of several sizes, grain on top."""
    import cv2

    rng = np.random.default_rng(0)
    picture = np.full((HEIGHT, WIDTH, 3), 128, np.float32)
    for size in (12, 60, 300):
        part = rng.normal(0, 30, (size * 2 // 3, size, 3)).astype(np.float32)
        picture += cv2.resize(part, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)
    picture += np.tile(rng.normal(0, 6, (HEIGHT // 4, WIDTH // 4, 3)).astype(np.float32), (4, 4, 1))
    return np.clip(picture, 0, 255).astype(np.uint8)


def photograph(n: int) -> bytes:
    """A JPEG of it, another one for each ``n``."""
    import cv2

    ok, body = cv2.imencode(".jpg", np.roll(_picture(), 149 * n, axis=1), [cv2.IMWRITE_JPEG_QUALITY, 90])
    assert ok
    return body.tobytes()


def _large(folder: Path, chromium: str | None) -> Iterator[Row]:
    path = folder / "forty.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4")) as dossier:
        began = time.perf_counter()
        for n in range(FORTY):
            add_photographs(dossier, [(f"shot-{n:02d}.jpg", photograph(n))])
        took = (time.perf_counter() - began) / FORTY
        shots = dossier.ids(Shot)
    yield {"what": "a photograph of 24 megapixels made and taken in", "value": took, "unit": "s"}
    if chromium is None:
        yield {"what": "not run: no chromium here (photograph shown, memory)", "value": np.nan, "unit": ""}
        return
    with _studio(path) as (address, process), _tab(chromium, address) as page:
        base = address.partition("/enter/")[0]
        first: list[float] = []
        close: list[float] = []
        for shot in shots:
            page.goto(f"{base}/board?shot={shot}")
            page.wait_for_selector(f".ll-stage[data-shown='{shot}']", timeout=60_000)
            first.append(page.evaluate("document.querySelector('.ll-board').board.view.shownAt"))
            page.mouse.move(400, 400)
            close.append(_pixels_shown(page))
        again: list[float] = []
        for shot in shots[-6:]:
            page.goto(f"{base}/board?shot={shot}")
            page.wait_for_selector(f".ll-stage[data-shown='{shot}']", timeout=60_000)
            again.append(page.evaluate("document.querySelector('.ll-board').board.view.shownAt"))
        memory = _memory(process.pid)
    said = "photograph of 24 megapixels: from opening the page until it is shown"
    yield {"what": f"{said}, the first time ever (median of {len(first)})", "value": _ms(first), "unit": "ms"}
    yield {"what": f"{said}, later", "value": _ms(again), "unit": "ms"}
    yield {"what": "from there to its own pixels, one on one", "value": _ms(close), "unit": "ms"}
    yield {
        "what": f"memory of the server after all {FORTY} were looked at closely, its peak",
        "value": memory,
        "unit": "MB",
    }


def _pixels_shown(page: Any) -> float:
    """Milliseconds from the key for one on one until every tile in the window is there."""
    return page.evaluate(
        """async () => {
          const view = document.querySelector('.ll-board').board.view, began = performance.now();
          view.centre(3000, 2000, 1);
          const done = () => view.tiles.size > 0 && [...view.tiles.values()].every((t) => t.complete);
          while (!done() && performance.now() - began < 30000) await new Promise((ok) => setTimeout(ok, 5));
          return performance.now() - began;
        }"""
    )


# Twelve shots, six hundred marks ---------------------------------------------------------------------------


def _many_marks(folder: Path, chromium: str | None) -> Iterator[Row]:
    path = folder / "marks.longlens"
    document = _document()
    with Dossier.create(path, Vehicle(name="Fulmar E4")) as dossier:
        from_exchange(dossier, read_exchange(document)[0])
        marks = [m for m in dossier.all(Mark) if m.form == "point"]
        measured = {p for m in dossier.all(Measure) for p in (m.distance or ())}
    yield {"what": f"marks on {SHOTS} shots", "value": len(document["marks"]), "unit": ""}
    if chromium is None:
        yield {"what": "not run: no chromium here (round trip, mark to number)", "value": np.nan, "unit": ""}
        return
    mark = next(m for m in marks if m.point in measured)
    with _studio(path) as (address, _), _tab(chromium, address) as page:
        base = address.partition("/enter/")[0]
        page.wait_for_selector("text=survey solved", timeout=600_000)
        page.goto(f"{base}/board?mark={mark.id}")
        page.wait_for_selector("[data-measure] b", timeout=60_000)
        page.wait_for_timeout(2000)
        trips, numbers, waits = [], [], []
        for n in range(NUDGES):
            trip, number, wait = page.evaluate(_NUDGE, 3 if n % 2 else -3)
            trips.append(trip)
            numbers.append(number)
            waits.append(wait)
            page.wait_for_timeout(150)
    yield {"what": "a mark's round trip: moved, written, shown again (median)", "value": _ms(trips), "unit": "ms"}
    yield {"what": f"mark to number, median of {NUDGES}", "value": _ms(numbers), "unit": "ms"}
    yield {"what": "mark to number, 95 of 100 are faster", "value": float(np.percentile(numbers, 95)), "unit": "ms"}
    told = "meanwhile another request to the server waits at most"
    yield {"what": f"{told} (median; 95 of 100 less than the next)", "value": _ms(waits), "unit": "ms"}
    yield {"what": told, "value": float(np.percentile(waits, 95)), "unit": "ms"}
    yield {
        "what": "that wait over mark to number: 1 where the answer is reckoned on the loop",
        "value": _ms(waits) / _ms(numbers),
        "unit": "×",
    }
    yield {"what": "mark to number over the round trip alone", "value": _ms(numbers) / _ms(trips), "unit": "×"}


_NUDGE = """async (dx) => {
  const board = document.querySelector('.ll-board').board, panel = document.querySelector('.ll-side');
  const text = () => [...panel.querySelectorAll('[data-measure]')].map((n) => n.innerHTML).join();
  const before = text(), [id] = [...board.selected], mark = board.byId.get(id), x = mark.x + dx;
  const began = performance.now();
  board.tell({ do: 'move', ids: [id], vertex: null, dx, dy: 0 });
  let trip = 0, wait = 0, over = false;
  // another tab's requests, one after the other, until the number is there
  const others = (async () => {
    const own = document.querySelector('link[href*="/assets/"]').href;
    while (!over) {
      const asked = performance.now();
      await fetch(`${own}?${asked}`, { cache: 'no-store' });
      wait = Math.max(wait, performance.now() - asked);
      await new Promise((ok) => setTimeout(ok, 5));
    }
  })();
  for (;;) {
    await new Promise((ok) => setTimeout(ok, 1));
    const now = performance.now() - began;
    if (!trip && Math.abs(board.byId.get(id).x - x) < 1e-6) trip = now;
    if ((trip && panel.querySelector('[data-measure]') && text() !== before) || now > 20000) {
      over = true;
      await others;
      return [trip, now, wait];
    }
  }
}"""


def _document() -> dict[str, Any]:
    """An invented car with twelve shots, thinned to six hundred marks."""
    document = simulate(4, shots=SHOTS, pairs=32).document
    keep = np.sort(np.random.default_rng(0).permutation(len(document["marks"]))[:MARKS])
    rims = [m for m in document["marks"] if "edge" in m]
    chosen = [document["marks"][k] for k in keep if "edge" not in document["marks"][k]]
    document["marks"] = (chosen + rims)[-MARKS:]
    return document


# A server, a tab --------------------------------------------------------------------------------------------


class _studio:
    def __init__(self, path: Path) -> None:
        self.path = path

    def __enter__(self) -> tuple[str, subprocess.Popen[str]]:
        command = [
            sys.executable,
            "-c",
            "from longlens.cli import main; main()",
            "studio",
            str(self.path),
            "--no-browser",
        ]
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        )
        assert self.process.stdout is not None
        return self.process.stdout.readline().strip(), self.process

    def __exit__(self, *_: object) -> None:
        self.process.terminate()
        self.process.wait()


class _tab:
    def __init__(self, chromium: str, address: str) -> None:
        self.chromium, self.address = chromium, address

    def __enter__(self) -> Any:
        from playwright.sync_api import sync_playwright

        self.playwright = sync_playwright().start()
        self.browser = self.playwright.chromium.launch(executable_path=self.chromium, args=["--no-sandbox"])
        page = self.browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(self.address)
        return page

    def __exit__(self, *_: object) -> None:
        self.browser.close()
        self.playwright.stop()


def _memory(pid: int) -> float:
    """Peak resident memory of a process, MB (Linux: VmHWM)."""
    text = Path(f"/proc/{pid}/status").read_text()
    return int(next(line for line in text.splitlines() if line.startswith("VmHWM")).split()[1]) / 1024


def _ms(values: list[float]) -> float:
    return float(np.median(values))
