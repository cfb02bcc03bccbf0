"""A survey solved once: the demo's Fulmar solved against read back, and commands that need it with nothing kept and with it kept.

Commands run as processes of their own, one with nothing kept (``LONGLENS_CACHE=off``) beside one that finds the survey, in turn.
Times are the processor's own (other people's work does not count), the wall's beside them.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from longlens.demo import build, stages
from longlens.demo.questions import keep_questions
from longlens.demo.stages import Result
from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import to_exchange
from longlens.systems import surveying, user_cache

CAR, STAGE, TIMES = "fulmar", "shown", 2
COMMANDS = (
    ("questions show, an item by the cooling sheet", ["questions", "show", "{car}", "plumbing"]),
    ("assess suspension", ["assess", "{car}", "suspension", "--stage", STAGE]),
    ("plan for one number", ["plan", "{car}", "--stage", STAGE, "--for", "{measure}"]),
    ("survey", ["survey", "{car}", "--stage", STAGE]),
)

Row = dict[str, Any]


def rows() -> Iterator[Row]:
    """What ``make bench`` prints."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = dossier(folder)
        with Dossier.open(path, readonly=True) as opened:
            document = to_exchange(opened, stage=STAGE)
        with _cache(str(folder / "cache")):
            yield from _in_process(document)
            yield from _commands(path, document.measures[0].id)


def dossier(folder: Path) -> Path:
    """The demo's car before anything was solved."""
    path = folder / f"{CAR}.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4", maker="Skerry (invented)")) as made:
        results = [Result(CAR, stage, path, folder / "brief.html", {}) for stage in stages.stages_of(CAR)]
        for step in (build.gather, build.keep_sheets, keep_questions):
            for result in results:
                step(made, result, lambda what, part: None)
    return path


def _in_process(document: Any) -> Iterator[Row]:
    solved = [_took(lambda: surveying.solve(document, fresh=True)) for _ in range(TIMES)]
    read = [_took(lambda: surveying.recall(document)) for _ in range(5 * TIMES)]
    size = f"{len(document.shots)} shots, {len(document.marks)} marks, {len(document.measures)} measures"
    yield {"what": f"solved and kept ({size}), processor time", "value": min(solved), "unit": "s"}
    yield {"what": "read back, processor time", "value": 1000 * min(read), "unit": "ms"}
    yield {"what": "solving over reading back", "value": min(solved) / min(read), "unit": "times"}
    yield {"what": "its file", "value": user_cache.kept().size / 2**20, "unit": "MB"}


def _commands(path: Path, measure: str) -> Iterator[Row]:
    for what, words in COMMANDS:
        args = [w.format(car=path, measure=measure) for w in words]
        cold, warm = [], []
        for _ in range(TIMES):
            cold.append(_process(args, "off"))
            warm.append(_process(args, os.environ[user_cache.VARIABLE]))
        (cold_own, cold_wall), (warm_own, warm_wall) = min(cold), min(warm)
        yield {"what": f"{what}: nothing kept, processor time (wall {cold_wall:.1f} s)", "value": cold_own, "unit": "s"}
        yield {"what": f"{what}: survey kept, processor time (wall {warm_wall:.1f} s)", "value": warm_own, "unit": "s"}
        yield {"what": f"{what}: nothing kept over survey kept", "value": cold_own / warm_own, "unit": "times"}


def _process(args: list[str], cache: str) -> tuple[float, float]:
    """(processor's own, wall) seconds of one command."""
    script = [sys.executable, "-c", "from longlens.cli import main; main()", *args]
    before, began = os.times(), time.perf_counter()
    done = subprocess.run(script, env={**os.environ, user_cache.VARIABLE: cache}, capture_output=True, text=True)
    after = os.times()
    if done.returncode:
        raise RuntimeError(done.stderr)
    own = after.children_user + after.children_system - before.children_user - before.children_system
    return own, time.perf_counter() - began


def _took(work: Any) -> float:
    own = time.process_time()
    work()
    return time.process_time() - own


@contextmanager
def _cache(folder: str) -> Iterator[None]:
    """Never the user's own."""
    was = os.environ.get(user_cache.VARIABLE)
    os.environ[user_cache.VARIABLE] = folder
    try:
        yield
    finally:
        if was is None:
            del os.environ[user_cache.VARIABLE]
        else:
            os.environ[user_cache.VARIABLE] = was
