"""Publishing the Fulmar: a film against the encoder alone on the same frames, a plate, a brief, memory at 4K."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

#: Frames taken from each scene; ready-made ones must fit into memory.
FRAMES = 90
SCENES = ("first-look", "front-suspension", "linkage", "rocker", "left-pod")
#: Its peak is read from the kernel's count of this process alone: ``ru_maxrss`` of a child begins with its parent's peak.
FOUR_K = """
import sys
from pathlib import Path
from longlens.dossier.store import Dossier
from longlens.publish.plates import Sequence
from longlens.publish.film.film import make_film
with Dossier.open(Path(sys.argv[1])) as d:
    s = d.get(Sequence, "fulmar")
    d.change(Sequence, "fulmar", stops=[x.model_dump(exclude_none=True) | {"seconds": 5.0} for x in s.stops[3:6]])
    make_film(d, "fulmar", Path(sys.argv[2]), size="4K", fps=30)
peak = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
print(float(peak.split()[1]) * 1024 / 1e9)
"""


def dossier(folder: Path) -> Path:
    """The Fulmar's shown stage, surveyed, with its plates."""
    from longlens.demo.gather import gather_stage
    from longlens.demo.plates import plates, sequence
    from longlens.demo.stages import Result, stages_of, truth_of
    from longlens.dossier.records import Vehicle
    from longlens.dossier.store import Dossier
    from longlens.publish.basis import Bases
    from longlens.publish.reading import mark_read

    path = folder / "fulmar.longlens"
    with Dossier.create(path, Vehicle(name="Fulmar E4", maker="Skerry (invented)")) as d:
        for stage in stages_of("fulmar"):
            gather_stage(d, Result("fulmar", stage, path, path, {}), truth_of("fulmar", stage))
        for p in plates():
            d.add(p)
        d.add(sequence())
        bases = Bases(d)
        mark_read(bases)
        bases.of("shown").sheet("suspension")
    return path


def rows() -> Iterator[dict[str, Any]]:
    """Ratios and times of one run."""
    from longlens.dossier.store import Dossier

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        path = dossier(folder)
        with Dossier.open(path) as d:
            yield from _film(d, folder)
            yield from _plates(d, folder)
            yield from _brief(d)
        out = subprocess.run(
            [sys.executable, "-c", FOUR_K, str(path), str(folder / "four.mp4")],
            capture_output=True,
            text=True,
            check=True,
        )
        yield {
            "what": "memory of a film at 4K, its process at its largest (under 1.5 wanted)",
            "value": float(out.stdout),
            "unit": "GB",
        }


def _film(d: Any, folder: Path) -> Iterator[dict[str, Any]]:
    from longlens.publish.film.encode import encode
    from longlens.publish.film.film import plan_film
    from longlens.publish.film.frames import SceneFrames

    film = plan_film(d, "fulmar")
    spent = {"painted": 0.0, "alone": 0.0}
    frames, wall = 0, 0.0

    def timed(what: str, work: Callable[[], Any]) -> float:
        """Processor time of all threads, added up: what others on the machine do does not count."""
        began, there = time.perf_counter(), time.process_time()
        work()
        spent[what] += time.process_time() - there
        return time.perf_counter() - began

    for scene in film.scenes:
        if scene.name not in SCENES:
            continue
        made: list[SceneFrames] = []
        there = time.process_time()
        made.append(SceneFrames(scene, 1.0, 30, None))
        spent["painted"] += (time.process_time() - there) * FRAMES / made[0].count  # built once for the whole scene

        def paint(scene: Any = scene, made: list[SceneFrames] = made) -> None:
            first = max((made[0].count - FRAMES) // 4, 0)
            encode(made[0].between(first, first + FRAMES), (1920, 1080), 30, folder / "a.mp4")

        wall += timed("painted", paint)
        first = max((made[0].count - FRAMES) // 4, 0)
        ready = list(made[0].between(first, first + FRAMES))
        timed("alone", lambda ready=ready: encode(ready, (1920, 1080), 30, folder / "b.mp4"))  # type: ignore[misc]
        frames += FRAMES
    what = "film at 1080p30, scenes built, painted and encoded, against the same frames ready-made: processor time (under 1.3)"
    yield {"what": what, "value": spent["painted"] / spent["alone"], "unit": "times"}
    yield {"what": "film at 1080p30: processor time of a frame", "value": 1e3 * spent["painted"] / frames, "unit": "ms"}
    yield {
        "what": "film at 1080p30, as the clock saw it (over 30 is faster than it plays)",
        "value": frames / wall,
        "unit": "frames/s",
    }


def _plates(d: Any, folder: Path) -> Iterator[dict[str, Any]]:
    from longlens.publish.basis import Bases
    from longlens.publish.edition import write_plate
    from longlens.publish.plates import Plate

    bases, times = Bases(d), []
    for plate in d.all(Plate):
        began = time.perf_counter()
        write_plate(bases, plate, "wide", folder, ("png",))
        times.append(time.perf_counter() - began)
    times.sort()
    yield {
        "what": "a plate as PNG at 1920 x 1080, the middle one (under 1.5 wanted)",
        "value": times[len(times) // 2],
        "unit": "s",
    }
    yield {"what": "the slowest plate", "value": times[-1], "unit": "s"}


def _brief(d: Any) -> Iterator[dict[str, Any]]:
    from longlens.publish.brief import gather
    from longlens.publish.brief_pdf import brief_pdf
    from longlens.publish.page import page

    began = time.process_time()
    brief = gather(d, stage="shown")
    page(brief)
    html = time.process_time() - began
    began = time.process_time()
    brief_pdf(brief)
    what = "brief, gathered with its plates, and its page: processor time (under 6 wanted)"
    yield {"what": what, "value": html, "unit": "s"}
    yield {"what": "its PDF besides", "value": time.process_time() - began, "unit": "s"}
