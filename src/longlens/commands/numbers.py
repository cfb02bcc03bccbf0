"""``longlens numbers``: every number of the dossier with its interval, its kind and its trail."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from longlens.commands.console import CAUTION, DossierFile, Json, emit, not_solvable, opened, say, table, tell
from longlens.commands.survey import document_of, solved

if TYPE_CHECKING:
    from longlens.dossier.exchange import ExchangeDocument, Measure
    from longlens.dossier.records import Fact
    from longlens.dossier.store import Dossier


def numbers(
    path: DossierFile,
    stage: Annotated[str | None, typer.Option("--stage", help="Which stage of the vehicle.")] = None,
    as_json: Json = False,
) -> None:
    """Show every number with its interval, its kind and what it rests on.

    Measures are solved first when something was changed since the last survey. Leaves with status 3 when they
    cannot be; the facts are shown all the same.
    """
    from longlens.errors import NotSolvable

    unsolved: NotSolvable | None = None
    with opened(path) as dossier:
        document = document_of(dossier, stage)
        answer: dict[str, Any] = {"measures": {}}
        try:
            answer = _answer(document) if document.measures else answer
        except NotSolvable as e:
            unsolved = e
        rows = [*_measured(document, answer), *(_fact(f) for f in _facts(dossier, stage))]
    if as_json:
        emit({"numbers": rows, "caution": CAUTION})
    elif not rows:
        tell("no numbers yet: give the dossier measures and facts")
    else:
        table(
            "Numbers, with the interval that holds the truth 95 times in 100",
            ("name", "value", "kind", "trail"),
            [(r["id"], r["text"], r["kind"], r["trail"]) for r in rows],
        )
        tell("", CAUTION)
    if unsolved is not None:
        say(*not_solvable(unsolved))
        raise typer.Exit(unsolved.exit_status)


def _answer(document: ExchangeDocument) -> dict[str, Any]:
    from longlens.systems.surveying import recall

    found = recall(document)
    if found is not None:
        return found.answer()
    say("solving: something was changed since the last survey, or there was none")
    return solved(document)


def _measured(document: ExchangeDocument, answer: dict[str, Any]) -> list[dict[str, Any]]:
    from longlens.numbers.display import format_interval

    out = []
    for measure in document.measures:
        got = answer["measures"].get(measure.id)
        row: dict[str, Any] = {
            "id": measure.id,
            "kind": "measured",
            "text": "not determined: longlens survey says why",
        }
        if got is not None:
            row |= {k: got[k] for k in ("value", "low95", "high95", "unit")}
            row["text"] = format_interval(got["value"], got["low95"], got["high95"], got["unit"])
        out.append(row | _trail(document, measure))
    return out


def _trail(document: ExchangeDocument, measure: Measure) -> dict[str, Any]:
    """The marks that place what is measured (a twin's too), and the facts that give the scale."""
    from longlens.dossier.kinds import kind_of, linked_ids
    from longlens.dossier.records import Measure as Record

    kind = kind_of(Record)
    spoken: dict[str, set[str]] = {"point": set(), "circle": set(), "measure": {measure.id}}
    waiting = [measure]
    known = {m.id: m for m in document.measures}
    while waiting:
        body = waiting.pop().model_dump(exclude_none=True)
        for path, named in kind.links.items():
            for one in linked_ids(body, path):
                if named == "measure" and one not in spoken["measure"]:
                    waiting.append(known[one])
                spoken.setdefault(named, set()).add(one)
    spoken["point"] |= {c.centre for c in document.circles if c.id in spoken["circle"] and c.centre}
    spoken["point"] |= {p.mirror for p in document.points if p.id in spoken["point"] and p.mirror}
    marks = [
        m for m in document.marks if not m.inferred and (m.point in spoken["point"] or m.circle in spoken["circle"])
    ]
    shots = list(dict.fromkeys(m.shot for m in marks))
    facts = [f.id for f in document.facts]
    trail = f"{len(marks)} mark{'s' if len(marks) != 1 else ''} on {', '.join(shots) or 'no shot'}"
    if facts:
        trail += f"; scale from {', '.join(facts)}"
    return {"trail": trail, "marks": len(marks), "shots": shots, "facts": facts}


def _facts(dossier: Dossier, stage: str | None) -> list[Fact]:
    from longlens.dossier.records import Fact

    return [f for f in dossier.all(Fact) if stage is None or f.stage in (None, stage)]


def _fact(fact: Fact) -> dict[str, Any]:
    from longlens.numbers.display import format_interval

    row: dict[str, Any] = {"id": fact.id, "kind": fact.basis}
    if isinstance(fact.value, tuple):
        row |= {"value": list(fact.value), "unit": fact.unit, "sd": fact.sd}
        row["text"] = "({}) {}".format(", ".join(f"{v:g}" for v in fact.value), fact.unit)
    elif fact.value is not None:
        half = 1.96 * (fact.sd or 0.0)
        low, high = fact.value - half, fact.value + half
        row |= {"value": fact.value, "low95": low, "high95": high, "unit": fact.unit}
        row["text"] = format_interval(fact.value, low, high, fact.unit, shown=fact.unit)
    else:
        row["text"] = fact.text
    what = f"{fact.of}: " if fact.of else ""
    row["trail"] = what + (fact.reason if fact.basis == "assumed" else fact.source or "no source given")
    return row


def attach(app: typer.Typer) -> None:
    app.command("numbers")(numbers)
