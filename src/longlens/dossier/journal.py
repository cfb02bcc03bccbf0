"""The journal: every change of a record as one entry, chained by hashes, undone in whole steps.

The journal only grows. Undoing a step appends a new step with the opposite changes, so that nothing that was
ever written is lost and any earlier state can be read back. Each entry's hash covers the hash before it and
all that it says:

    hash = SHA-256( previous hash, newline, canonical JSON of
                    [seq, step, at, by, label, role, target, kind, id, before, after] )

so an entry cannot be changed, dropped or slipped in without every later hash changing. Whoever keeps the last
hash (in print, say) can prove later what stood in the dossier by then; the chain alone does not stop someone
from writing the whole of it anew.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from longlens.dossier.reading import canonical
from longlens.errors import UnusableInput

Role = Literal["edit", "undo", "redo", "keep"]

TABLES = (
    "CREATE TABLE record (kind TEXT NOT NULL, id TEXT NOT NULL, born INTEGER NOT NULL, "
    "entry INTEGER NOT NULL, body TEXT NOT NULL, PRIMARY KEY (kind, id)) WITHOUT ROWID",
    "CREATE TABLE step (number INTEGER PRIMARY KEY, at TEXT NOT NULL, by TEXT NOT NULL, label TEXT NOT NULL, "
    "role TEXT NOT NULL, target INTEGER, undo_head INTEGER, redo_head INTEGER)",
    "CREATE TABLE entry (seq INTEGER PRIMARY KEY, step INTEGER NOT NULL, kind TEXT NOT NULL, "
    "id TEXT NOT NULL, before TEXT, after TEXT, previous TEXT NOT NULL, hash TEXT NOT NULL)",
    "CREATE INDEX entry_of_record ON entry (kind, id, seq)",
    "CREATE INDEX entry_of_step ON entry (step)",
)


@dataclass(frozen=True)
class Step:
    """Changes made together: undone and redone as one.

    ``role``: ``edit``; ``undo`` or ``redo`` of the step ``target``; ``keep`` for what cannot be undone (an
    edition).
    """

    number: int
    at: str
    by: str
    label: str
    role: Role
    target: int | None


@dataclass(frozen=True)
class Entry:
    """One record's change. ``before`` is None when it was made, ``after`` is None when it was removed."""

    seq: int
    step: Step
    kind: str
    id: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None
    hash: str


def now() -> str:
    """The time in UTC, ISO 8601, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def head(db: sqlite3.Connection) -> tuple[int, str]:
    """Number and hash of the last entry; (0, "") of an empty journal."""
    return db.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone() or (0, "")


def begin_step(db: sqlite3.Connection, label: str, by: str, role: Role, target: int | None = None) -> Step:
    """Open a step. Keeps the two stacks: what undo and redo would take next (see :func:`_heads`)."""
    number = (db.execute("SELECT max(number) FROM step").fetchone()[0] or 0) + 1
    step = Step(number, now(), by, label, role, target)
    undo_head, redo_head = _heads(db, step)
    db.execute(
        "INSERT INTO step VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (number, step.at, by, label, role, target, undo_head, redo_head),
    )
    return step


def append(db: sqlite3.Connection, step: Step, kind: str, id: str, after: str | None) -> int | None:
    """Write one change to the record and to the journal; the caller holds the transaction.

    Returns the entry's number, or None when nothing changed.
    """
    row = db.execute("SELECT body FROM record WHERE kind = ? AND id = ?", (kind, id)).fetchone()
    before = row[0] if row else None
    if before == after:
        return None
    last, previous = head(db)
    seq = last + 1
    digest = entry_hash(previous, seq, step, kind, id, before, after)
    db.execute(
        "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (seq, step.number, kind, id, before, after, previous, digest),
    )
    if after is None:
        db.execute("DELETE FROM record WHERE kind = ? AND id = ?", (kind, id))
    elif before is None:
        # A record that comes back keeps its place in the order.
        born = db.execute("SELECT min(seq) FROM entry WHERE kind = ? AND id = ?", (kind, id)).fetchone()[0]
        db.execute("INSERT INTO record VALUES (?, ?, ?, ?, ?)", (kind, id, born, seq, after))
    else:
        db.execute("UPDATE record SET body = ?, entry = ? WHERE kind = ? AND id = ?", (after, seq, kind, id))
    return seq


def entry_hash(previous: str, seq: int, step: Step, kind: str, id: str, before: str | None, after: str | None) -> str:
    content = [
        seq, step.number, step.at, step.by, step.label, step.role, step.target, kind, id, before, after
    ]  # fmt: skip
    return hashlib.sha256(f"{previous}\n{canonical(content)}".encode()).hexdigest()


def next_undo(db: sqlite3.Connection) -> Step | None:
    """The step that undo would take back."""
    return _step_at(db, _last_heads(db)[0])


def next_redo(db: sqlite3.Connection) -> Step | None:
    """The step that redo would do again."""
    return _step_at(db, _last_heads(db)[1])


def revert(db: sqlite3.Connection, target: Step, by: str, role: Literal["undo", "redo"]) -> Step:
    """Append the opposite of a step (undo), or the step once more (redo)."""
    rows = db.execute(
        "SELECT kind, id, before, after FROM entry WHERE step = ? ORDER BY seq", (target.number,)
    ).fetchall()
    step = begin_step(db, target.label, by, role, target.number)
    for kind, id, before, after in reversed(rows) if role == "undo" else rows:
        expected, wanted = (after, before) if role == "undo" else (before, after)
        row = db.execute("SELECT body FROM record WHERE kind = ? AND id = ?", (kind, id)).fetchone()
        if (row[0] if row else None) != expected:
            raise UnusableInput(
                f"cannot {role} {target.label!r}: {kind} {id!r} was changed since by a step that stays",
                fix="change the record itself",
            )
        append(db, step, kind, id, wanted)
    return step


def state_at(db: sqlite3.Connection, seq: int, kind: str) -> list[tuple[str, str]]:
    """(id, JSON text) of every record of a kind as it stood after entry ``seq``, in the order of making."""
    return db.execute(
        "SELECT e.id, e.after FROM entry AS e JOIN (SELECT id, max(seq) AS last, min(seq) AS born FROM entry "
        "WHERE kind = ? AND seq <= ? GROUP BY id) AS l ON e.seq = l.last "
        "WHERE e.after IS NOT NULL ORDER BY l.born",
        (kind, seq),
    ).fetchall()


def record_at(db: sqlite3.Connection, seq: int, kind: str, id: str) -> str | None:
    """One record's JSON text as it stood after entry ``seq``."""
    row = db.execute(
        "SELECT after FROM entry WHERE kind = ? AND id = ? AND seq <= ? ORDER BY seq DESC LIMIT 1",
        (kind, id, seq),
    ).fetchone()
    return row[0] if row else None


def entries(db: sqlite3.Connection, where: str = "", values: tuple[Any, ...] = ()) -> Iterator[Entry]:
    """Entries with their steps, oldest first. ``where`` is SQL of this module's callers, never of a user."""
    for row in db.execute(f"{_ENTRY_AND_STEP} {where} ORDER BY e.seq", values):
        seq, _, kind, id, before, after, _, digest, *step = row
        yield Entry(seq, Step(*step), kind, id, _loads(before), _loads(after), digest)


def steps(db: sqlite3.Connection, limit: int | None = None) -> list[Step]:
    """Steps, newest first."""
    rows = db.execute(
        "SELECT number, at, by, label, role, target FROM step ORDER BY number DESC LIMIT ?",
        (-1 if limit is None else limit,),
    )
    return [Step(*row) for row in rows]


def problems(db: sqlite3.Connection) -> Iterator[str]:
    """Walk the whole chain: each entry's number, hash and fit to the one before; then the records."""
    previous, expected = "", 1
    state: dict[tuple[str, str], str | None] = {}
    for row in db.execute(f"{_ENTRY_AND_STEP} ORDER BY e.seq"):
        seq, number, kind, id, before, after, said, digest, *rest = row
        if seq != expected:
            yield f"journal entry {expected} is missing"
        if said != previous or digest != entry_hash(said, seq, _step_of(number, rest), kind, id, before, after):
            yield f"journal entry {seq} ({kind} {id!r}) was changed after it was written"
        if state.get((kind, id)) != before:
            yield f"journal entry {seq} ({kind} {id!r}) does not follow from the one before it"
        state[kind, id] = after
        previous, expected = digest, seq + 1
    standing = {(kind, id): body for kind, id, body in db.execute("SELECT kind, id, body FROM record")}
    told = {key: body for key, body in state.items() if body is not None}
    for kind, id in sorted(standing.keys() | told.keys()):
        if standing.get((kind, id)) != told.get((kind, id)):
            yield f"{kind} {id!r} differs from what the journal says"


_ENTRY_AND_STEP = (
    "SELECT e.seq, e.step, e.kind, e.id, e.before, e.after, e.previous, e.hash, "
    "s.number, s.at, s.by, s.label, s.role, s.target FROM entry AS e LEFT JOIN step AS s ON s.number = e.step"
)


def _step_of(number: int, rest: list[Any]) -> Step:
    return Step(number, *rest[1:])


def _loads(text: str | None) -> dict[str, Any] | None:
    return None if text is None else json.loads(text)


def _last_heads(db: sqlite3.Connection) -> tuple[int | None, int | None]:
    row = db.execute("SELECT undo_head, redo_head FROM step ORDER BY number DESC LIMIT 1").fetchone()
    return row or (None, None)


def _heads(db: sqlite3.Connection, step: Step) -> tuple[int | None, int | None]:
    """(undo_head, redo_head) after a step.

    The two stacks are lists linked through the step table: below an edit in the undo stack stands what was
    the undo head before it; below an undone step in the redo stack stands what was the redo head before that
    undo.
    """
    undo_head, redo_head = _last_heads(db)
    if step.role == "edit":
        return step.number, None
    if step.role == "keep":
        return undo_head, redo_head
    if step.role == "undo":
        below = db.execute("SELECT undo_head FROM step WHERE number < ? ORDER BY number DESC LIMIT 1", (step.target,))
        row = below.fetchone()
        return (row[0] if row else None), step.target
    undone_by = db.execute(
        "SELECT max(number) FROM step WHERE role = 'undo' AND target = ?", (step.target,)
    ).fetchone()[0]
    row = db.execute(
        "SELECT redo_head FROM step WHERE number < ? ORDER BY number DESC LIMIT 1", (undone_by,)
    ).fetchone()
    return step.target, (row[0] if row else None)


def _step_at(db: sqlite3.Connection, number: int | None) -> Step | None:
    if number is None:
        return None
    row = db.execute("SELECT number, at, by, label, role, target FROM step WHERE number = ?", (number,)).fetchone()
    return Step(*row) if row else None
