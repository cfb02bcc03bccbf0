"""An edition: whole files, a manifest that notices every change, data that agree with the survey; nothing where it is stopped."""

from __future__ import annotations

import csv
import io
import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from longlens.dossier.exchange import read_exchange
from longlens.dossier.records import Fact, Measure, Shot
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.basis import Bases
from longlens.publish.data.manifest import check_edition
from longlens.publish.edition import Wish, file_name, publish
from longlens.publish.plates import Plate
from longlens.publish.whole import write_whole
from tests.cli.conftest import Done


def test_published_and_checked(run: Callable[..., Done], car: Path, tmp_path: Path) -> None:
    to = tmp_path / "edition"
    done = run("publish", car, "--to", to, "--json")
    assert done.status == 0, done.err
    files = set(done.json["files"])
    assert {
        "plates/track.wide.png",
        "brief/brief.html",
        "brief/brief.pdf",
        "data/all/model.glb",
        "manifest.json",
    } <= files
    assert {p.relative_to(to).as_posix() for p in to.rglob("*") if p.is_file()} == files
    assert run("publish", car, "--to", to, "--check").status == 0
    body = json.loads((to / "manifest.json").read_text(encoding="utf-8"))
    assert body["format"] == "longlens-edition" and {f["path"] for f in body["files"]} == files - {"manifest.json"}
    (to / "plates" / "track.wide.png").write_bytes(b"other")
    (to / "data" / "all" / "numbers.csv").unlink()
    (to / "stranger.txt").write_text("x")
    told = run("publish", car, "--to", to, "--check", "--json")
    assert told.status == 2
    wrong = {w.partition(": ")[0]: w.partition(": ")[2] for w in told.json["wrong"]}
    assert wrong == {
        "data/all/numbers.csv": "missing",
        "plates/track.wide.png": "changed since it was published",
        "stranger.txt": "not named in the manifest",
    }


def test_what_an_earlier_edition_left_goes_and_what_is_not_ours_stays(
    opened: Callable[[], Dossier], tmp_path: Path
) -> None:
    d, to = opened(), tmp_path / "e"
    publish(d, to, Wish(only=("plates",)))
    (to / "plates" / "mine.txt").write_text("x")
    (to / "plates" / "chart.wide.png").write_bytes(b"painted over by somebody")
    d.remove(Plate, "chart")
    publish(d, to, Wish(only=("plates",), plates=("side",)))
    left = {p.name for p in (to / "plates").iterdir()}
    assert left == {
        "side.wide.png",
        "mine.txt",
        "chart.wide.png",
    }  # a file that is not as we wrote it is not ours to remove


def test_a_manifest_of_a_stranger_leads_nowhere(tmp_path: Path) -> None:
    (tmp_path / "manifest.json").write_text(
        json.dumps(
            {"format": "longlens-edition", "files": [{"path": "../x"}, {"path": "/etc/passwd"}, 7, {"path": "a"}]}
        )
    )
    assert len([w for w in check_edition(tmp_path) if "leads out of" in w]) == 3
    for bad in ("{", "[]", '{"format": "x"}'):
        (tmp_path / "manifest.json").write_text(bad)
        with pytest.raises(UnusableInput, match="no manifest"):
            check_edition(tmp_path)


def test_names_of_files_cannot_lead_anywhere() -> None:
    for bad in ("../../x", "/etc/passwd", "..", "a\x00b", "con:aux", "x" * 300, "", "\u202egnp"):
        name = file_name(bad)
        assert (
            name
            and "/" not in name
            and "\\" not in name
            and not name.startswith(".")
            and len(name) <= 100
            and "\x00" not in name
        )


def test_numbers_as_data_agree_with_the_survey(opened: Callable[[], Dossier], tmp_path: Path) -> None:
    d = opened()
    d.add(Fact(id="odd", of="=1+1", text="@x", source='=HYPERLINK("x")'))
    publish(d, tmp_path, Wish(only=("data",)))
    root = tmp_path / "data" / "all"
    rows = {r["reference"]: r for r in csv.DictReader(io.StringIO((root / "numbers.csv").read_text(encoding="utf-8")))}
    body = json.loads((root / "numbers.json").read_text(encoding="utf-8"))
    got = Bases(d).of(None).answer["measures"]["track"]
    track = rows["measure:track"]
    assert float(track["value"]) == got["value"] and float(track["low95"]) == got["low95"] and track["unit"] == "m"
    assert track["kind"] == "measured" and "front hub on front" in track["trail"]
    assert rows["fact:mass"]["kind"] == "stated" and rows["fact:mass"]["source"] == "press sheet"
    assert not any(v.startswith(("=", "@", "+")) for r in rows.values() for v in r.values())
    assert {n["reference"] for n in body["numbers"]} == set(rows) and "no basis for building" in body["caution"]
    document, _ = read_exchange(root / "exchange.json")
    assert len(document.marks) == len(Bases(d).of(None).document.marks)
    points = list(csv.DictReader(io.StringIO((root / "hardpoints.csv").read_text(encoding="utf-8"))))
    hub = next(p for p in points if p["point"] == "left.front.hub")
    assert abs(float(hub["y_mm"]) - 720) < 15 and float(hub["sd_y_mm"]) > 0


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda d: d.change(Shot, "front", may_show="no"), "may not be shown"),
        (lambda d: d.change(Shot, "front", licence=""), "no licence"),
        (lambda d: d.remove(Measure, "track"), "lost its basis"),
    ],
)
def test_what_stops_it_is_said_before_the_work(
    opened: Callable[[], Dossier], tmp_path: Path, change: Callable, why: str
) -> None:
    d, to = opened(), tmp_path / "e"
    change(d)
    with pytest.raises(UnusableInput, match=why):
        publish(d, to)
    assert not to.exists()
    made = publish(d, to, Wish(only=("plates",), draft=True))
    assert len([f for f in made.files if f.suffix == ".png"]) == 3
    assert json.loads((to / "manifest.json").read_text())["draft"] is True


def test_commercial_terms_stop_an_edition_that_earns_money(run: Callable[..., Done], car: Path, tmp_path: Path) -> None:
    with Dossier.open(car) as d:
        d.change(Shot, "front", licence="CC BY-NC 4.0")
    assert run("publish", car, "--to", tmp_path / "a", "--only", "plates").status == 0
    stopped = run("publish", car, "--to", tmp_path / "b", "--only", "plates", "--earns-money")
    assert stopped.status == 2 and "forbids commercial use" in stopped.err and not (tmp_path / "b").exists()


def test_a_kill_leaves_whole_files_only(car: Path, tmp_path: Path) -> None:
    """Whatever stands under a final name after a kill is what a finished edition has there; running again finishes."""
    to = tmp_path / "e"
    code = "import sys; from longlens.cli import main; sys.argv = ['longlens', *sys.argv[1:]]; main()"
    running = subprocess.Popen(
        [sys.executable, "-c", code, "publish", str(car), "--to", str(to)], stdout=subprocess.DEVNULL
    )
    until = time.monotonic() + 60
    while not list(to.glob("plates/*.png")) and time.monotonic() < until and running.poll() is None:
        time.sleep(0.005)
    running.send_signal(signal.SIGKILL)
    running.wait()
    assert not (to / "manifest.json").exists()
    early = {p.relative_to(to): p.read_bytes() for p in to.rglob("*") if p.is_file() and not p.name.startswith(".")}
    with Dossier.open(car) as d:
        publish(d, to)
    for name, data in early.items():
        assert (to / name).read_bytes() == data, name
    assert check_edition(to) == []


def test_a_file_is_whole_or_not_there(tmp_path: Path) -> None:
    write_whole(tmp_path / "a", "one")
    with pytest.raises(UnusableInput, match="cannot be written"):
        write_whole(tmp_path / "no" / "a", "two")
    (tmp_path / "b").mkdir()
    with pytest.raises(UnusableInput, match="cannot be written"):
        write_whole(tmp_path / "b", "two")
    assert [p.name for p in sorted(tmp_path.iterdir())] == ["a", "b"] and (tmp_path / "a").read_text() == "one"
