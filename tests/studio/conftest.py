"""A studio as a person has it: the command in a process of its own, and Debian's Chromium in front of it."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from longlens.demo import stages
from longlens.demo.gather import gather_stage
from longlens.demo.stages import NOTE, Result, truth_of
from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier

CHROMIUM = next((p for p in map(shutil.which, ("chromium", "chromium-browser")) if p), None)
WHY = "not run: there is no chromium here (Debian: apt-get install chromium)"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Without a browser its tests are reported as not run, each by its name (pytest folds skips of one reason into one line)."""
    if CHROMIUM is None:
        for item in items:
            if item.get_closest_marker("browser"):
                item.add_marker(pytest.mark.skip(reason=f"{item.nodeid} {WHY}"))


@dataclass
class Studio:
    """A running studio. ``address`` is what it printed."""

    file: Path | None
    folder: Path
    address: str = ""
    process: subprocess.Popen[str] | None = None

    @property
    def base(self) -> str:
        return self.address.partition("/enter/")[0]

    def start(self) -> str:
        """Start it (again) and return the address."""
        command = [sys.executable, "-c", "from longlens.cli import main; main()", "studio", "--no-browser"]
        log = (self.folder / "studio.log").open("a")
        self.process = subprocess.Popen(
            command + ([str(self.file)] if self.file else []),
            cwd=self.folder,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
            env={k: v for k, v in os.environ.items() if not k.startswith("PYTEST")} | {"OPENBLAS_NUM_THREADS": "1"},
        )
        log.close()
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        assert self.address.startswith("http://127.0.0.1:"), (self.folder / "studio.log").read_text()
        return self.address

    def kill(self) -> None:
        """As a power cut would: no time to put anything in order."""
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            self.process = None

    def said(self) -> str:
        """What it wrote to the terminal."""
        return (self.folder / "studio.log").read_text()


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Callable[..., Studio]]:
    """``studio(file)`` starts one on a dossier (a copy is the test's business), ``studio()`` on an empty folder."""
    running: list[Studio] = []

    def start(file: Path | None = None) -> Studio:
        one = Studio(file, tmp_path)
        running.append(one)
        one.start()
        return one

    yield start
    for one in running:
        one.kill()


@contextmanager
def lasting_studio(file: Path) -> Iterator[Studio]:
    """A studio on a file for all tests of a module, beside which it lies; the tests write nothing to it."""
    if CHROMIUM is None:
        pytest.skip(WHY)
    one = Studio(file, file.parent)
    one.start()
    try:
        yield one
    finally:
        one.kill()


@contextmanager
def lasting_tab(browser: Any, studio: Studio, *, height: int = 800, until: str = "") -> Iterator[Any]:
    """One tab there for all tests of a module, without movement; ``until``: a selector to be waited for first."""
    context = browser.new_context(viewport={"width": 1280, "height": height}, reduced_motion="reduce")
    page = context.new_page()
    page.goto(studio.address)
    if until:
        page.wait_for_selector(until, timeout=180_000)
    yield page
    context.close()


@pytest.fixture(scope="session")
def fulmar(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The Fulmar's dossier as the demo gathers it, both stages, not surveyed. Copy it before you write to it."""
    path = tmp_path_factory.mktemp("fulmar") / "fulmar.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4", maker="Skerry (invented)", note=NOTE)) as dossier:
        for stage in stages.stages_of("fulmar"):
            truth = truth_of("fulmar", stage)
            gather_stage(dossier, Result("fulmar", stage, path, path, {}), truth)
    return path


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Debian's Chromium; tests that need it are reported as not run where there is none. It is closed after each module: its
    loop would be in the way of tests that run one of their own."""
    if CHROMIUM is None:
        pytest.skip(WHY)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        one = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield one
        one.close()


@pytest.fixture
def window(browser: Any) -> Iterator[Callable[..., Any]]:
    """``window(studio, path, width, height)`` opens a tab there. A script error in any of them fails the test."""
    contexts, wrong = [], []

    def open_(studio: Studio, path: str = "/", width: int = 1280, height: int = 800) -> Any:
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.goto(studio.address)
        if path != "/":
            page.goto(studio.base + path)
        page.wait_for_function("window.socket && window.socket.connected")
        return page

    yield open_
    for context in contexts:
        context.close()
    assert not wrong, wrong
