"""``longlens history``, ``undo`` and ``redo``: the journal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, table, tell

if TYPE_CHECKING:
    from longlens.dossier.journal import Entry
    from longlens.dossier.store import Dossier

Times = Annotated[int, typer.Option("--times", min=1, help="How many steps.")]


def history(
    path: DossierFile,
    kind: Annotated[str | None, typer.Argument(help="Of one record: its kind …", show_default=False)] = None,
    id: Annotated[str | None, typer.Argument(help="… and its id.", show_default=False)] = None,
    last: Annotated[int, typer.Option("--last", min=1, help="How many steps to show.")] = 30,
    as_json: Json = False,
) -> None:
    """Show what was done, newest first; or every change of one record, oldest first."""
    if (kind is None) != (id is None):
        raise typer.BadParameter("give a kind and an id, e.g. point left.hub", param_hint="KIND ID")
    with opened(path) as dossier:
        if kind is not None and id is not None:
            _record(dossier, kind, id, as_json)
        else:
            _steps(dossier, last, as_json)


def _steps(dossier: Dossier, last: int, as_json: bool) -> None:
    steps = dossier.steps(last)
    if as_json:
        emit(
            {
                "revision": dossier.revision,
                "chain_head": dossier.chain_head,
                "steps": [vars(s) for s in steps],
            }
        )
        return
    table(
        f"{dossier.path.name}: the last steps",
        ("step", "time (UTC)", "by", "what"),
        [(str(s.number), s.at, s.by, s.label if s.target is None else f"{s.role}: {s.label}") for s in steps],
        right=(0,),
    )
    back, again = dossier.can_undo(), dossier.can_redo()
    tell(f"undo takes back: {back.label}" if back else "nothing to undo")
    if again:
        tell(f"redo does again: {again.label}")


def _record(dossier: Dossier, kind: str, id: str, as_json: bool) -> None:
    from longlens.errors import UnusableInput

    entries = dossier.history(kind, id)
    if not entries:
        raise UnusableInput(
            f"there never was a {kind} {id!r}", where=dossier.path.name, fix="check the kind and the id"
        )
    if as_json:
        emit({"kind": kind, "id": id, "changes": [_entry(e) for e in entries]})
        return
    table(
        f"{kind} {id}",
        ("entry", "time (UTC)", "by", "step", "change"),
        [(str(e.seq), e.step.at, e.step.by, e.step.label, _change(e)) for e in entries],
        right=(0,),
    )


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "entry": entry.seq,
        "hash": entry.hash,
        "step": vars(entry.step),
        "before": entry.before,
        "after": entry.after,
    }


def _change(entry: Entry) -> str:
    if entry.before is None:
        return "made"
    if entry.after is None:
        return "removed"
    names = sorted({*entry.before, *entry.after})
    return "; ".join(
        f"{n}: {entry.before.get(n, '—')} → {entry.after.get(n, '—')}"
        for n in names
        if entry.before.get(n) != entry.after.get(n)
    )


def undo(path: DossierFile, times: Times = 1, as_json: Json = False) -> None:
    """Take back the last step."""
    _walk(path, "undo", times, as_json)


def redo(path: DossierFile, times: Times = 1, as_json: Json = False) -> None:
    """Do the last undone step again."""
    _walk(path, "redo", times, as_json)


def _walk(path: DossierFile, way: str, times: int, as_json: bool) -> None:
    done = []
    with opened(path) as dossier:
        for _ in range(times):
            step = dossier.undo() if way == "undo" else dossier.redo()
            if step is None:
                break
            done.append(step.label)
    if as_json:
        emit({way: done})
    elif done:
        tell(*(f"{way}: {label}" for label in done))
    else:
        tell(f"nothing to {way}")


def attach(app: typer.Typer) -> None:
    app.command("history")(history)
    app.command("undo")(undo)
    app.command("redo")(redo)
