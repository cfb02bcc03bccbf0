"""What a file survives: a writer killed in mid-write, newer versions, strangers' files, damage.

Killing a process is tested for real. A loss of power is not: that rests on SQLite's own synchronising (FULL).
"""

from __future__ import annotations

import hashlib
import os
import random
import signal
import sqlite3
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from longlens.dossier import file
from longlens.dossier.records import Fact, Point, Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import NewerFile, UnusableInput

WRITER = """
import os, sys
from pathlib import Path
from longlens.dossier.records import Fact, Point
from longlens.dossier.store import Dossier

def write_for_ever(path):
    # Each step writes three things that belong together, with enough bytes to be caught in the middle.
    dossier = Dossier.open(path, by="writer")
    n = max((int(p.note) for p in dossier.all(Point)), default=0)
    print("ready", flush=True)
    while True:
        n += 1
        with dossier.batch(f"step {n}"):
            dossier.put(Point(id="p", note=str(n)))
            name = dossier.keep_original(os.urandom(200_000) + b"%d" % n)
            dossier.put(Fact(id="f", text=str(n), source=name))
        if n % 3 == 0:
            dossier.undo()
            n -= 1
            if n % 2:
                dossier.redo()
                n += 1

if __name__ == "__main__":
    write_for_ever(Path(sys.argv[1]))
"""


def holds_together(path: Path) -> int:
    with Dossier.open(path) as d:
        assert d.verify() == []
        if not d.ids(Point):
            assert d.ids(Fact) == []
            return 0
        point, fact = d.get(Point, "p"), d.get(Fact, "f")
        assert point.note == fact.text
        assert d.original(fact.source).endswith(point.note.encode())
        return d.revision


def kill_in_mid_write(path: Path, rng: random.Random) -> bool:
    """Fork a writer, kill it at a random moment; True when it left an unfinished change behind."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:  # pragma: no cover - killed
        try:
            os.dup2(writing, 1)
            sys.stdout = os.fdopen(1, "w")
            space: dict = {"__name__": "writer"}
            exec(WRITER, space)
            space["write_for_ever"](path)
        finally:
            os._exit(3)
    os.close(writing)
    assert os.read(reading, 5) == b"ready"
    os.close(reading)
    time.sleep(rng.uniform(0.0, 0.05))
    os.kill(child, signal.SIGKILL)
    assert os.WIFSIGNALED(os.waitpid(child, 0)[1])
    journal = path.with_name(path.name + "-journal")
    return journal.exists() and journal.stat().st_size > 0


def test_kill_9_in_mid_write_leaves_no_torn_state(path: Path) -> None:
    Dossier.create(path, Vehicle(name="Fulmar E4")).close()
    rng = random.Random(4)
    caught = kills = 0
    last = 0
    while kills < 40 or caught < 10:
        assert kills < 300, "the kills never fell into a write: the test shows nothing"
        caught += kill_in_mid_write(path, rng)
        kills += 1
        revision = holds_together(path)
        assert revision >= last  # what was finished stays
        last = revision
    assert last > 0


def test_kill_9_of_a_separate_program(path: Path) -> None:
    Dossier.create(path, Vehicle(name="Fulmar E4")).close()
    for wait in (0.01, 0.03):
        with subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE) as job:
            assert job.stdout is not None and job.stdout.readline() == b"ready\n"
            time.sleep(wait)
            job.kill()
        holds_together(path)


def with_header(path: Path, offset: int, number: int) -> None:
    data = bytearray(path.read_bytes())
    data[offset : offset + 4] = number.to_bytes(4, "big")
    path.write_bytes(data)


def test_a_newer_file_says_so_and_not_a_byte_changes(path: Path, dossier: Dossier) -> None:
    dossier.close()
    with_header(path, 60, file.FORMAT + 1)
    before, told = hashlib.sha256(path.read_bytes()).hexdigest(), path.stat()
    with pytest.raises(NewerFile, match=r"newer longlens .*nothing was touched"):
        Dossier.open(path)
    after = path.stat()
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before
    assert (after.st_mtime_ns, after.st_ino) == (told.st_mtime_ns, told.st_ino)
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_what_is_no_dossier_is_refused_in_one_line(path: Path, tmp_path: Path) -> None:
    for content, told in (
        (b"", "not a dossier"),
        (b"hello" * 100, "not a dossier"),
        (b"SQLite format 3\0" + bytes(84), "not a dossier"),
    ):
        path.write_bytes(content)
        with pytest.raises(UnusableInput, match=told):
            Dossier.open(path)
    with pytest.raises(UnusableInput, match="no such file"):
        Dossier.open(tmp_path / "none.longlens")
    with pytest.raises(UnusableInput, match="not a file"):
        Dossier.open(tmp_path)
    other = tmp_path / "other.db"
    db = sqlite3.connect(other)
    db.execute("CREATE TABLE t (x)")
    db.close()
    with pytest.raises(UnusableInput, match="not a dossier"):
        Dossier.open(other)
    with pytest.raises(UnusableInput, match="folder does not exist"):
        Dossier.create(tmp_path / "none" / "d.longlens", Vehicle(name="x"))


@pytest.mark.parametrize(
    "sql",
    [
        "CREATE TRIGGER t AFTER INSERT ON record BEGIN DELETE FROM entry; END",
        "CREATE VIEW v AS SELECT * FROM record",
        "CREATE TABLE more (x)",
        "DROP TABLE derived",
    ],
)
def test_a_file_with_foreign_tables_or_triggers_is_refused(path: Path, dossier: Dossier, sql: str) -> None:
    dossier.close()
    db = sqlite3.connect(path)
    db.execute(sql)
    db.commit()
    db.close()
    with pytest.raises(UnusableInput, match="not those of a dossier"):
        Dossier.open(path)


def test_a_truncated_or_scrambled_file_gets_one_clear_line(path: Path, dossier: Dossier) -> None:
    for i in range(50):
        dossier.put(Point(id=f"p{i}", note="x" * 500))
    dossier.close()
    whole = path.read_bytes()
    rng = random.Random(1)
    told = 0
    for _ in range(25):
        data = bytearray(whole)
        if rng.random() < 0.3:
            data = data[: rng.randrange(200, len(data))]
        else:
            for _ in range(400):
                data[rng.randrange(100, len(data))] = rng.randrange(256)
        path.write_bytes(data)
        try:
            with Dossier.open(path) as d:
                told += bool(d.verify())
                d.all(Point)
        except UnusableInput:
            told += 1
        path.with_name(path.name + "-journal").unlink(missing_ok=True)
    assert told >= 24  # one flipped byte may fall on one that was the same


def test_a_record_that_does_not_fit_is_named(path: Path, dossier: Dossier) -> None:
    dossier.put(Point(id="hub"))
    dossier.close()
    db = sqlite3.connect(path)
    db.execute('UPDATE record SET body = \'{"id": "hub", "on": "moon"}\' WHERE kind = \'point\'')
    db.commit()
    db.close()
    with Dossier.open(path) as again, pytest.raises(UnusableInput, match=r"point 'hub': .*does not fit: on"):
        again.all(Point)


def test_a_busy_file_says_so(path: Path, dossier: Dossier, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(file, "BUSY_SECONDS", 0.05)
    with Dossier.open(path) as other, dossier.batch("long work"):
        dossier.put(Point(id="a"))
        with pytest.raises(UnusableInput, match="another program is writing"):
            other.put(Point(id="b"))
    assert dossier.ids(Point) == ["a"]


def test_a_file_that_may_not_be_written_is_read_and_says_so(path: Path, dossier: Dossier) -> None:
    dossier.put(Point(id="a"))
    dossier.close()
    path.chmod(stat.S_IRUSR)
    with Dossier.open(path, readonly=True) as again:
        assert again.ids(Point) == ["a"]
        again.keep_derived("survey", "k", b"x")  # in silence
        with pytest.raises(UnusableInput, match="cannot be written"):
            again.put(Point(id="b"))


def test_a_full_disk_leaves_the_last_state(dossier: Dossier) -> None:
    dossier.put(Point(id="a"))
    pages = dossier._db.execute("PRAGMA page_count").fetchone()[0]
    dossier._db.execute(f"PRAGMA max_page_count = {pages + 2}")  # what SQLite reports is the same: SQLITE_FULL
    with pytest.raises(UnusableInput, match="disk is full; nothing was changed"):
        dossier.keep_original(os.urandom(500_000))
    assert dossier.ids(Point) == ["a"] and dossier.verify() == []


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [("step", "label", b"\x00\xff"), ("entry", "before", b"x"), ("record", "body", b"x"), ("step", "target", "junk")],
)
def test_a_column_of_another_type_is_told(path: Path, dossier: Dossier, table: str, column: str, value) -> None:
    """A stranger's file may hold a blob where a text belongs."""
    dossier.close()
    with sqlite3.connect(path) as db:
        db.execute(f"UPDATE {table} SET {column} = ? WHERE rowid = (SELECT min(rowid) FROM {table})", (value,)) if (
            table != "record"
        ) else db.execute(f"UPDATE {table} SET {column} = ?", (value,))
    db.close()
    with pytest.raises(UnusableInput, match="no dossier does"):
        Dossier.open(path)
