"""Makes a film in a process of its own, kills that in the middle, and goes on."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

from longlens.dossier.store import Dossier
from longlens.publish.film.film import make_film

CODE = """
import sys
from pathlib import Path
from longlens.dossier.store import Dossier
from longlens.publish.film import film
film.PIECE = 1.5
with Dossier.open(Path(sys.argv[1])) as d:
    film.make_film(d, "film", Path(sys.argv[2]), size="540p", fps=24)
"""


def killed_and_finished(dossier: Path, folder: Path) -> Path:
    """The film's path. Asserts that nothing stood under its name after the kill, and that the second run used the pieces."""
    from longlens.publish.film import film

    own = Path(shutil.copy(dossier, folder / "car.longlens"))
    to = folder / "film.mp4"
    work = to.with_name(f".{to.name}.pieces")
    running = subprocess.Popen([sys.executable, "-c", CODE, str(own), str(to)])
    try:
        until = time.monotonic() + 120
        while len(list(work.glob("[!.]*.mp4"))) < 2 and time.monotonic() < until and running.poll() is None:
            time.sleep(0.02)
        os.kill(running.pid, signal.SIGKILL)
    finally:
        running.wait()
    assert [p.name for p in folder.iterdir() if not p.name.startswith(".")] == ["car.longlens"]
    whole = {p: p.stat().st_mtime_ns for p in work.glob("[!.]*.mp4")}
    assert len(whole) >= 2
    before = film.PIECE
    film.PIECE = 1.5
    try:
        with Dossier.open(own) as d:
            made = make_film(d, "film", to, size="540p", fps=24)
    finally:
        film.PIECE = before
    assert made.kept == len(whole) and made.pieces > made.kept
    assert not work.exists() and not list(folder.glob(".*"))
    return to
