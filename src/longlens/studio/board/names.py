"""The names offered while something is being marked: those in the dossier, then those of the vocabulary."""

from __future__ import annotations

import re
from typing import Any

from longlens.dossier.records import Circle, Point
from longlens.publish.names import words
from longlens.studio.board.edits import Known
from longlens.studio.desk import Desk


def offered(desk: Desk) -> list[dict[str, Any]]:
    """``{id, name, words, form, known, system, about}``; ``form`` is point, circle or part."""
    out: dict[tuple[str, str], dict[str, Any]] = {}
    for form, model in (("point", Point), ("circle", Circle)):
        for record in desk.dossier.all(model):
            out[form, record.id] = _one(record.id, form, True, record.system)  # type: ignore[attr-defined]
    for mark in desk.marks():
        if mark.form in ("line", "outline", "pipe") and mark.part:
            out.setdefault(("part", mark.part), _one(mark.part, "part", True, mark.system))
    return list(out.values())


def describe(id: str) -> Known:
    """What is known of a name before anybody said so."""
    return Known(part=words(id))


def _one(id: str, form: str, known: bool, system: str | None, about: str = "", also: str = "") -> dict[str, Any]:
    name = words(id)
    found = re.findall(r"[a-z0-9]+", f"{name} {also}".lower())
    return {
        "id": id, "name": name, "words": found, "form": form, "known": known, "system": system or "", "about": about
    }  # fmt: skip
