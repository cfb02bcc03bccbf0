"""The dossier: records by kind and id in one file, every change journaled in the same transaction.

>>> from pathlib import Path
>>> from tempfile import mkdtemp
>>> from longlens.dossier.records import Point, Vehicle
>>> dossier = Dossier.create(Path(mkdtemp()) / "fulmar.longlens", Vehicle(name="Fulmar E4"))
>>> with dossier.batch("name two points"):
...     dossier.put(Point(id="left.hub", part="upright"))
...     dossier.put(Point(id="right.hub", part="upright", mirror="left.hub"))
>>> dossier.ids(Point)
['left.hub', 'right.hub']
>>> dossier.undo().label, dossier.ids(Point)
('name two points', [])
>>> dossier.redo().label, dossier.get(Point, "right.hub").mirror
('name two points', 'left.hub')
>>> dossier.close()
"""

from __future__ import annotations

import hashlib
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self, TypeVar

from pydantic import ValidationError

from longlens.dossier import file, journal
from longlens.dossier.journal import Entry, Step
from longlens.dossier.kinds import Record, kind_named, kind_of
from longlens.dossier.reading import Reader, record_text
from longlens.dossier.records import Vehicle
from longlens.errors import UnusableInput

R = TypeVar("R", bound=Record)


class Dossier(Reader):
    """An open dossier. Safe to share between threads; other processes may have it open too.

    Every writing call is one undo step, unless it stands inside :meth:`batch`.
    """

    def __init__(self, path: Path, db: sqlite3.Connection, *, by: str = "") -> None:
        self.path, self.by = path, by
        self._db = db
        self._lock = threading.RLock()
        self._batch: _Batch | None = None
        self._seen_version = self._data_version()
        self._seen_revision = self.revision

    @classmethod
    def create(cls, path: Path, vehicle: Vehicle, *, by: str = "") -> Self:
        """Make the file and write the vehicle into it. Never overwrites."""
        file.create(path)
        dossier = cls.open(path, by=by)
        with dossier.batch("new dossier", keep=True):
            dossier.put(vehicle)
        return dossier

    @classmethod
    def open(cls, path: Path, *, readonly: bool = False, by: str = "") -> Self:
        """Open an existing file; ``by`` is written into each journal entry (the program or person at work).

        Raises
        ------
        NewerFile : written by a newer version; not a byte was touched.
        UnusableInput : no such file, no dossier, or damaged.
        """
        path = Path(path)
        db = file.connect(path, readonly=readonly)
        try:
            with file.speaking(path):
                return cls(path, db, by=by)
        except BaseException:
            db.close()
            raise

    def close(self) -> None:
        with self._lock:
            self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # Reading: find, get, all and ids come from Reader.

    def raw(self, kind: str, id: str) -> str | None:
        row = self._one("SELECT body FROM record WHERE kind = ? AND id = ?", kind, id)
        return row[0] if row else None

    def raw_all(self, kind: str) -> list[tuple[str, str]]:
        return self._rows("SELECT id, body FROM record WHERE kind = ? ORDER BY born", kind)

    def count(self, model: type[Record]) -> int:
        return self._one("SELECT count(*) FROM record WHERE kind = ?", kind_of(model).name)[0]

    @property
    def vehicle(self) -> Vehicle:
        return self.all(Vehicle)[0]

    # Writing.

    @contextmanager
    def batch(self, label: str, *, keep: bool = False) -> Iterator[None]:
        """Make several changes one undo step, written together or not at all.

        A batch inside a batch joins its step; when the inner one fails, what it wrote goes, and the outer one
        may go on.

        With ``keep`` the step cannot be undone; records of append-only kinds are written in such a step only.
        """
        with self._lock:
            if self._batch is not None:
                if keep and not self._batch.keep:
                    raise ValueError("a step that stays cannot begin inside one that can be undone")
                with self._inner(self._batch):
                    yield
                return
            self._do("BEGIN IMMEDIATE")
            self._batch = _Batch(label, keep)
            try:
                yield
                self._do("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise
            finally:
                self._batch = None
                self._note_own_change()

    def put(self, record: Record, *, label: str = "") -> None:
        """Write a record, new or changed."""
        kind = kind_of(record)
        text = record_text(record)
        with self.batch(label or f"{kind.name} {record.id}", keep=kind.append_only):
            self._write(kind.name, record.id, text)

    def add(self, record: Record, *, label: str = "") -> None:
        """Write a new record. Raises UnusableInput when its id is taken."""
        kind = kind_of(record)
        with self.batch(label or f"new {kind.name} {record.id}", keep=kind.append_only):
            if self.raw(kind.name, record.id) is not None:
                raise UnusableInput(f"the {kind.name} {record.id!r} exists already", fix="choose another id")
            self._write(kind.name, record.id, record_text(record))

    def change(self, model: type[R], id: str, *, label: str = "", **fields: Any) -> R:
        """Change some fields of a record (not its id) and give back the new one, validated as a whole."""
        kind = kind_of(model)
        if fields.get("id", id) != id:
            raise ValueError("an id is changed with links.rename")
        with self.batch(label or f"change {kind.name} {id}"):
            old = self.get(model, id)
            try:
                new = model.model_validate({**old.model_dump(exclude_none=True), **fields})
            except ValidationError as e:
                first = e.errors()[0]
                place = ".".join(str(p) for p in first["loc"])
                raise UnusableInput(
                    f"{place}: {first['msg']}" if place else first["msg"], where=f"{kind.name} {id!r}"
                ) from None
            self._write(kind.name, id, record_text(new))
        return new

    def remove(self, model: type[Record], id: str, *, label: str = "") -> None:
        """Remove one record alone (see :func:`longlens.dossier.links.remove_whole` for what hangs on it)."""
        kind = kind_of(model)
        with self.batch(label or f"remove {kind.name} {id}"):
            if self.raw(kind.name, id) is None:
                raise UnusableInput(f"there is no {kind.name} {id!r}", fix="check the name")
            self._write(kind.name, id, None)

    # The journal.

    @property
    def revision(self) -> int:
        """Number of the last journal entry: grows by one with every change of a record."""
        with self._lock, file.speaking(self.path):
            return journal.head(self._db)[0]

    @property
    def chain_head(self) -> str:
        """Hash of the last journal entry: stands for everything written up to now."""
        with self._lock, file.speaking(self.path):
            return journal.head(self._db)[1]

    def changed_elsewhere(self) -> bool:
        """True when another connection changed records since this was last asked (or since opening).

        Cheap enough to be asked several times a second: one look at the file's change counter while all is
        quiet.
        """
        with self._lock, file.speaking(self.path):
            version = self._data_version()
            if version == self._seen_version:
                return False
            self._seen_version = version
            before, self._seen_revision = self._seen_revision, self.revision
            return self._seen_revision != before

    def can_undo(self) -> Step | None:
        """The step that undo would take back, or None."""
        with self._lock:
            return journal.next_undo(self._db)

    def can_redo(self) -> Step | None:
        """The step that redo would do again, or None."""
        with self._lock:
            return journal.next_redo(self._db)

    def undo(self) -> Step | None:
        """Take back the last step and return it; None when there is nothing to undo."""
        return self._revert("undo")

    def redo(self) -> Step | None:
        """Do the last undone step again and return it; None when there is nothing to redo."""
        return self._revert("redo")

    def history(self, model: type[Record] | str, id: str) -> list[Entry]:
        """Every change of one record, oldest first."""
        name = model if isinstance(model, str) else kind_of(model).name
        with self._lock, file.speaking(self.path):
            return list(journal.entries(self._db, "WHERE e.kind = ? AND e.id = ?", (name, id)))

    def entries_since(self, revision: int) -> list[Entry]:
        """Every change after a revision, oldest first."""
        with self._lock, file.speaking(self.path):
            return list(journal.entries(self._db, "WHERE e.seq > ?", (revision,)))

    def entries_of(self, step: Step) -> list[Entry]:
        with self._lock, file.speaking(self.path):
            return list(journal.entries(self._db, "WHERE e.step = ?", (step.number,)))

    def steps(self, limit: int | None = None) -> list[Step]:
        """Steps, newest first."""
        with self._lock, file.speaking(self.path):
            return journal.steps(self._db, limit)

    def at(self, revision: int) -> Snapshot:
        """The records as they stood after that journal entry, to be read like the dossier itself."""
        return Snapshot(self, revision)

    def verify(self) -> list[str]:
        """All that is wrong: damage, a broken journal, originals that are not what they claim."""
        with self._lock, file.speaking(self.path):
            found = [f"damage: {t}" for (t,) in self._db.execute("PRAGMA integrity_check(20)") if t != "ok"]
            if found:
                return found
            found.extend(journal.problems(self._db))
            for name, data in self._db.execute("SELECT sha256, bytes FROM original"):
                if hashlib.sha256(data).hexdigest() != name:
                    found.append(f"photograph {name[:12]}…: its bytes are not those that came in")
            return found

    # Bytes beside the records.

    def keep_original(self, data: bytes) -> str:
        """Keep a file's bytes unchanged; returns their SHA-256, by which a photograph record names them."""
        name = hashlib.sha256(data).hexdigest()
        with self.batch("keep a photograph"):
            self._do("INSERT OR IGNORE INTO original VALUES (?, ?)", name, data)
        return name

    def original(self, sha256: str) -> bytes:
        row = self._one("SELECT bytes FROM original WHERE sha256 = ?", sha256)
        if row is None:
            raise UnusableInput(f"the photograph {sha256[:12]}… is not in the dossier", where=self.path.name)
        return row[0]

    def has_original(self, sha256: str) -> bool:
        return self._one("SELECT 1 FROM original WHERE sha256 = ?", sha256) is not None

    def derived(self, name: str, key: str) -> bytes | None:
        """Something computed and kept for speed: ``name`` what, ``key`` the hash of all it hangs on."""
        row = self._one("SELECT body FROM derived WHERE name = ? AND key = ?", name, key)
        return row[0] if row else None

    def keep_derived(self, name: str, key: str, body: bytes, *, newest: int | None = None) -> None:
        """Keep something computed, outside the journal; with ``newest`` only that many of the name stay.

        Nothing is lost when it goes. A file that cannot be written is passed over in silence.
        """
        try:
            with self.batch("keep a result"):
                self._do("INSERT OR REPLACE INTO derived VALUES (?, ?, ?, ?)", name, key, journal.now(), body)
                if newest is not None:
                    self._do(
                        "DELETE FROM derived WHERE name = ? AND rowid NOT IN "
                        "(SELECT rowid FROM derived WHERE name = ? ORDER BY rowid DESC LIMIT ?)",
                        name,
                        name,
                        newest,
                    )
        except UnusableInput:
            if self._batch is not None:
                raise

    # Inside.

    def _write(self, kind: str, id: str, text: str | None) -> None:
        batch = self._batch
        if batch is None:
            raise RuntimeError("a write outside a batch")
        known = kind_named(kind)
        standing = self.raw(kind, id)
        if standing == text:
            return
        if known is not None and known.append_only:
            if standing is not None:
                raise UnusableInput(f"{kind} {id!r} is kept as it was written", fix="make a new one")
            if not batch.keep:
                raise ValueError(f"a {kind} is written in a step that stays: batch(…, keep=True)")
        if not self._db.in_transaction:  # SQLite gave it up (a full disk) and somebody went on all the same
            raise UnusableInput("the step was given up after an error", where=self.path.name, fix="do it again")
        with file.speaking(self.path):
            if batch.step is None:
                role: journal.Role = "keep" if batch.keep else "edit"
                batch.step = journal.begin_step(self._db, batch.label, self.by, role)
            journal.append(self._db, batch.step, kind, id, text)

    @contextmanager
    def _inner(self, batch: _Batch) -> Iterator[None]:
        step = batch.step
        self._do("SAVEPOINT part")
        try:
            yield
        except BaseException:
            if self._db.in_transaction:
                self._db.execute("ROLLBACK TO part")
                self._db.execute("RELEASE part")
                batch.step = step
            raise
        self._do("RELEASE part")

    def _revert(self, role: Any) -> Step | None:
        with self._lock:
            if self._batch is not None:
                raise ValueError(f"{role} inside a batch")
            with self.batch(role):
                find = journal.next_undo if role == "undo" else journal.next_redo
                with file.speaking(self.path):
                    target = find(self._db)
                    if target is not None:
                        journal.revert(self._db, target, self.by, role)
                return target

    def _note_own_change(self) -> None:
        # The counter moves for other connections' writes only, but between them the revision must not lag
        # behind.
        if self._data_version() == self._seen_version:
            self._seen_revision = journal.head(self._db)[0]

    def _data_version(self) -> int:
        return self._db.execute("PRAGMA data_version").fetchone()[0]

    def _do(self, sql: str, *values: Any) -> None:
        with file.speaking(self.path):
            self._db.execute(sql, values)

    def _one(self, sql: str, *values: Any) -> Any:
        with self._lock, file.speaking(self.path):
            return self._db.execute(sql, values).fetchone()

    def _rows(self, sql: str, *values: Any) -> list[Any]:
        with self._lock, file.speaking(self.path):
            return self._db.execute(sql, values).fetchall()


class Snapshot(Reader):
    """A dossier's records as they stood after one journal entry. The dossier must stay open."""

    def __init__(self, dossier: Dossier, revision: int) -> None:
        self.dossier, self.revision = dossier, revision

    def raw(self, kind: str, id: str) -> str | None:
        with self.dossier._lock, file.speaking(self.dossier.path):
            return journal.record_at(self.dossier._db, self.revision, kind, id)

    def raw_all(self, kind: str) -> list[tuple[str, str]]:
        with self.dossier._lock, file.speaking(self.dossier.path):
            return journal.state_at(self.dossier._db, self.revision, kind)

    @property
    def vehicle(self) -> Vehicle:
        return self.all(Vehicle)[0]


class _Batch:
    def __init__(self, label: str, keep: bool) -> None:
        self.label, self.keep = label, keep
        self.step: Step | None = None
