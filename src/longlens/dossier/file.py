"""The one file: made whole or not at all, checked before it is opened, errors told in plain words.

The file is an SQLite database with a rollback journal (not a write-ahead log), so that outside a change in
progress the one file is all there is to copy. Every change is one transaction with full synchronising: after
``kill -9`` the next opening rolls an unfinished change back.
"""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from longlens.dossier import journal
from longlens.errors import NewerFile, UnusableInput

APPLICATION_ID = 0x4C4F4E47
FORMAT = 1
SUFFIX = ".longlens"
BUSY_SECONDS = 5.0
MAX_VALUE_BYTES = 256 * 1024 * 1024

TABLES = (
    *journal.TABLES,
    "CREATE TABLE original (sha256 TEXT PRIMARY KEY, bytes BLOB NOT NULL)",
    "CREATE TABLE derived (name TEXT NOT NULL, key TEXT NOT NULL, made TEXT NOT NULL, body BLOB NOT NULL, "
    "PRIMARY KEY (name, key))",
)


def create(path: Path) -> None:
    """Make an empty dossier file. It appears under its name only when whole, and never over another file."""
    if path.exists() or path.is_symlink():
        raise UnusableInput("there is already a file of this name", where=path.name, fix="choose another name")
    if not path.parent.is_dir():
        raise UnusableInput("the folder does not exist", where=str(path.parent), fix="make it first")
    with speaking(path):
        try:
            handle, raw = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
        except OSError as e:
            raise UnusableInput(f"cannot be written ({e.strerror})", where=path.name, fix="check the folder") from None
        os.close(handle)
        draft = Path(raw)
        try:
            db = sqlite3.connect(draft, isolation_level=None)
            db.execute("PRAGMA page_size = 8192")
            db.execute("PRAGMA journal_mode = DELETE")
            db.execute("BEGIN")
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {FORMAT}")
            for sql in TABLES:
                db.execute(sql)
            db.execute("COMMIT")
            db.close()
            os.chmod(draft, 0o666 & ~_umask())
            _appear(draft, path)
        finally:
            draft.unlink(missing_ok=True)


def connect(path: Path, *, readonly: bool = False) -> sqlite3.Connection:
    """Open an existing dossier file.

    Raises
    ------
    NewerFile : written by a newer version; the file was only read.
    UnusableInput : not there, not a dossier, damaged, or with tables that no dossier has.
    """
    check_header(path)
    with speaking(path):
        readonly = readonly or not os.access(path, os.W_OK)
        mode = "ro" if readonly else "rw"
        db = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode={mode}",
            uri=True,
            timeout=BUSY_SECONDS,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            db.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MAX_VALUE_BYTES)
            db.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 0)
            # A dossier may come from a stranger: nothing stored in it may run.
            db.execute("PRAGMA trusted_schema = OFF")
            db.execute("PRAGMA cell_size_check = ON")
            db.execute("PRAGMA mmap_size = 0")
            db.execute("PRAGMA synchronous = FULL")
            found = {sql for (sql,) in db.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL")}
            if found != set(TABLES):
                raise UnusableInput(
                    "its tables are not those of a dossier",
                    where=path.name,
                    fix="go back to a copy of the file",
                )
            _check_types(db, path)
        except BaseException:
            db.close()
            raise
        return db


def _check_types(db: sqlite3.Connection, path: Path) -> None:
    """A column may hold another type than it says (a blob for a text): no dossier does, so a file that does was tampered
    with. Only the rows' headers are read."""
    for (table,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
        wrong = []
        for _, name, kind, needed, _, key in db.execute(f"PRAGMA table_info({table})"):
            allowed = f"'{kind.lower()}'" + ("" if needed or key else ", 'null'")
            wrong.append(f"typeof({name}) NOT IN ({allowed})")
        if db.execute(f"SELECT 1 FROM {table} WHERE {' OR '.join(wrong)} LIMIT 1").fetchone():  # noqa: S608 (our own names)
            raise UnusableInput(
                f"holds what no dossier does (table {table})", where=path.name, fix="go back to a copy of the file"
            )


def check_header(path: Path) -> None:
    """Decide from the first 100 bytes alone, so that a newer file stays as it is to the byte."""
    try:
        if not path.is_file():
            what = "is not a file" if path.exists() else "there is no such file"
            raise UnusableInput(what, where=str(path), fix="check the path, or make one with: longlens new")
        with path.open("rb") as f:
            header = f.read(100)
    except OSError as e:
        raise UnusableInput(f"cannot be read ({e.strerror})", where=path.name, fix="check its permissions") from None
    if len(header) < 100 or header[:16] != b"SQLite format 3\0":
        raise UnusableInput("is not a dossier", where=path.name, fix="a dossier is made with: longlens new")
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise UnusableInput("is a database, but not a dossier", where=path.name, fix="choose a .longlens file")
    version = int.from_bytes(header[60:64], "big")
    if version > FORMAT:
        raise NewerFile(
            f"was written by a newer longlens (file format {version}; this one reads up to {FORMAT}); "
            "nothing was touched",
            where=path.name,
            fix="update longlens",
        )
    if version < 1:
        raise UnusableInput("has no file format number", where=path.name, fix="go back to a copy of the file")


@contextmanager
def speaking(path: Path) -> Iterator[None]:
    """Turn the database's errors into one clear line each."""
    try:
        yield
    except (UnicodeDecodeError, json.JSONDecodeError) as e:
        raise UnusableInput("the file is damaged", where=path.name, fix="go back to a copy") from e
    except sqlite3.Error as e:
        text = str(e).lower()
        for sign, what, fix in _SIGNS:
            if sign in text:
                raise UnusableInput(what, where=path.name, fix=fix) from e
        if isinstance(e, (sqlite3.ProgrammingError, sqlite3.IntegrityError, sqlite3.InterfaceError)):
            raise  # ours to answer for
        raise UnusableInput(f"the file does not answer ({e})", where=path.name, fix="check the disk") from e


_SIGNS = (
    ("locked", "another program is writing to it", "try again when that is done"),
    ("full", "the disk is full; nothing was changed", "make room and try again"),
    ("readonly", "cannot be written", "check the permissions of the file and its folder"),
    ("unable to open", "cannot be opened", "check the permissions of the file and its folder"),
    ("malformed", "the file is damaged", "go back to a copy"),
    ("decode", "the file is damaged", "go back to a copy"),
    ("not a database", "the file is damaged", "go back to a copy"),
    ("string or blob too big", "too large to keep", "give something smaller"),
    ("too big", "too large to keep", "give something smaller"),
)


def _appear(draft: Path, path: Path) -> None:
    """Give the finished draft its name, unless the name has been taken meanwhile."""
    try:
        os.link(draft, path)  # refuses to overwrite, in one step
    except FileExistsError:
        raise UnusableInput("there is already a file of this name", where=path.name, fix="choose another") from None
    except OSError:  # a file system without hard links
        if path.exists():
            raise UnusableInput("there is already a file of this name", where=path.name, fix="choose another") from None
        os.rename(draft, path)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
