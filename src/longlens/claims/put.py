"""Questions and evidence into the dossier from a file, and a sheet's own readings taken over as evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from longlens.claims.records import Evidence, Question
from longlens.claims.sources import Sources
from longlens.claims.weigh import reading_name, readings
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput


def put(dossier: Dossier, data: Any, where: str = "") -> Question:
    """Write a question and its evidence, as one step: ``{"question": {…}, "evidence": [{…}, …]}``. Same ids are replaced.

    Raises UnusableInput with the place and the reason; then nothing was written.
    """
    if not isinstance(data, Mapping) or not isinstance(data.get("question"), Mapping):
        raise UnusableInput("no question in it", where=where, fix='write {"question": {…}, "evidence": […]}')
    unknown = set(data) - {"question", "evidence"}
    if unknown:
        raise UnusableInput(
            f"{', '.join(sorted(unknown))} is not known", where=where, fix="write question and evidence only"
        )
    question = _made(Question, data["question"], f"{where} question".strip())
    items = data.get("evidence", [])
    if not isinstance(items, Sequence) or isinstance(items, str):
        raise UnusableInput("evidence is a list", where=where)
    evidence = [
        _made(
            Evidence,
            {"question": question.id, **item} if isinstance(item, Mapping) else item,
            f"{where} evidence {k + 1}".strip(),
        )
        for k, item in enumerate(items)
    ]
    for e in evidence:
        check(dossier, question, e)
    with dossier.batch(f"question {question.id}"):
        dossier.put(question)
        for e in evidence:
            dossier.put(e)
    return question


def check(dossier: Dossier, question: Question, e: Evidence) -> None:
    """Refuse evidence that names what is not there. Raises UnusableInput."""
    where = f"evidence {e.id!r}"
    if e.question != question.id:
        raise UnusableInput(f"belongs to the question {e.question!r}", where=where)
    named = [*e.predicted, *(a for ids in e.means.values() for a in ids)]
    if e.judged is not None:
        named += [*e.judged.favours, *e.judged.over]
    for a in named:
        if a not in question.ids:
            raise UnusableInput(
                f"there is no alternative {a!r}", where=where, fix=f"take from: {', '.join(question.ids)}"
            )
    for ref in (*e.on, *([e.of] if e.of else [])):
        kind, _, id = ref.partition(":")
        if kind != "output" and dossier.raw(kind, id) is None:
            raise UnusableInput(
                f"there is no {kind} {id!r}", where=where, fix="name a record of the dossier, as kind:id"
            )


def take_readings(
    dossier: Dossier, question: Question, area: str, means: Mapping[str, list[str]], sources: Sources
) -> list[Evidence]:
    """What a sheet says by itself, as evidence on a question; ``means``: the sheet's words → alternatives. One step.

    Readings whose words are not in ``means`` are left. Those taken already stay as they are.
    """
    out = []
    for r in readings(sources, area):
        name = reading_name(r)
        if not means.get(r.favours) or r.over not in means:
            continue
        out.append(
            Evidence(
                id=f"{question.id}/{area}/{name}"[:190], question=question.id, kind="reading", text=r.seen, area=area,
                reading=name, means={r.favours: list(means[r.favours]), r.over: list(means[r.over])}, note=r.rule,
            )
        )  # fmt: skip
    with dossier.batch(f"evidence of the {area} sheet"):
        for e in out:
            if dossier.find(Evidence, e.id) is None:
                dossier.put(e)
    return out


def _made(model: Any, data: Any, where: str) -> Any:
    try:
        return model.model_validate(data)
    except ValidationError as e:
        first = e.errors()[0]
        place = ".".join(map(str, first["loc"]))
        raise UnusableInput(
            f"{place + ': ' if place else ''}{first['msg'].removeprefix('Value error, ')}", where=where
        ) from None
