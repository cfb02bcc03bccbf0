"""All numbers of a dossier as rows: found, sorted, and set as text, CSV or LaTeX. No page in here."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from longlens.numbers import display
from longlens.numbers.number import Number
from longlens.numbers.trail import Origin
from longlens.publish.names import words

if TYPE_CHECKING:
    from longlens.studio.desk import Desk

Group = Literal["measures", "facts", "points", "computed"]
#: Group → its word on the page, in this order.
GROUPS: dict[str, str] = {
    "measures": "Measures",
    "facts": "Facts",
    "points": "Places of points",
    "computed": "From the sheets",
}
SORTS = {"name": "name", "value": "value", "width": "how well known", "kind": "kind", "system": "system"}
#: Why a row has no draws yet: it was never solved, or only the last answer is there.
NOT_YET, KEPT = "not solved yet", "as kept from the last survey"
CAUTION = "Estimates from photographs, for understanding and discussion only; 95 % intervals."


@dataclass(frozen=True)
class Row:
    """One number. ``number`` is None where it is not determined: ``why`` then says so. ``was``: (value, low, high) SI before the
    last change."""

    key: str
    name: str
    group: str
    system: str = ""
    number: Number | None = None
    why: str = ""
    was: tuple[float, float, float] | None = None

    @property
    def kind(self) -> str:
        if self.number is not None:
            return self.number.kind
        return "kept" if self.why.endswith(KEPT) else "not yet" if self.why == NOT_YET else "not determined"

    @property
    def words(self) -> str:
        return words(self.name)

    @property
    def told(self) -> str:
        """Value, interval and unit; a place by its three coordinates; a curve by its range."""
        if self.number is None:
            return self.why or "not determined"
        n = self.number
        if self.group == "points" and n.shape == (3,):
            return ", ".join(f"{a} {display.show(n.at(i))}" for i, a in enumerate("xyz"))
        return display.show(n)

    @property
    def width(self) -> float:
        """Half the interval over the value; of a place, its largest half interval in metres. Infinite where unknown."""
        if self.number is None:
            return float("inf")
        i = self.number.interval
        half = np.max((np.asarray(i.high) - np.asarray(i.low)) / 2)
        if self.group == "points":
            return float(half)
        size = float(np.max(np.abs(np.asarray(i.value))))
        return float(half) / size if size > 0 else float("inf")

    @property
    def size(self) -> float:
        if self.number is None:
            return float("-inf")
        return float(np.max(np.asarray(self.number.interval.value)))


def rows_of(desk: Desk, outcomes: Mapping[str, Mapping] | None = None) -> list[Row]:
    """All rows of the stage looked at: measures, facts, points; with ``outcomes`` (area → variant → Outcome) the sheets' too."""
    from longlens.dossier.records import Circle, Measure, Point

    solved = desk.solved()
    known = desk.numbers()
    before = (solved.before or {}).get("measures") or {}
    systems = {f"measure:{m.id}": m.system for m in desk.dossier.all(Measure)}
    systems |= {f"point:{p.id}": p.system for p in desk.dossier.all(Point)}
    systems |= {f"circle:{c.id}": c.system for c in desk.dossier.all(Circle)}
    out = []
    kept = {
        id: display.format_interval(g["value"], g["low95"], g["high95"], g["unit"]) + f", {KEPT}"
        for id, g in ((solved.answer or {}).get("measures") or {}).items()
    }
    refused = solved.solution.refused if solved.solution is not None else {}
    for m in desk.document().measures:
        key = f"measure:{m.id}"
        got = before.get(m.id)
        was = (got["value"], got["low95"], got["high95"]) if got else None
        why = ""
        if key not in known:
            refusal = refused.get(m.id)
            why = f"not determined: {refusal.reason}" if refusal else kept.get(m.id, NOT_YET)
        out.append(Row(key, m.id, "measures", systems.get(key) or "", known.get(key), why, was))
    for key, number in known.items():
        head, _, name = key.partition(":")
        if head == "fact":
            out.append(Row(key, name, "facts", "", number))
        elif head == "point":
            out.append(Row(key, name, "points", systems.get(key) or "", number))
    for area, variants in (outcomes or {}).items():
        for variant, outcome in variants.items():
            for name, number in outcome.numbers.items():
                said = f"{name} ({variant})" if variant else name
                out.append(Row(f"{area}:{variant}:{name}", said, "computed", area, number))
    return out


def chosen(
    rows: Iterable[Row], *, group: str = "", text: str = "", kind: str = "", sort: str = "name", falling: bool = False
):
    """Rows of a group (all with ""), that hold every word of ``text``, of a kind, sorted."""
    asked = text.lower().replace(".", " ").replace("_", " ").split()
    found = [
        r
        for r in rows
        if (not group or r.group == group)
        and (not kind or r.kind == kind)
        and all(w in f"{r.words} {r.system} {r.kind}".lower() for w in asked)
    ]
    key = {
        "name": lambda r: r.words,
        "value": lambda r: r.size,
        "width": lambda r: r.width,
        "kind": lambda r: (r.kind, r.words),
        "system": lambda r: (r.system or "~", r.words),
    }[sort]
    return sorted(found, key=key, reverse=falling)


def rests_on(origin: Origin) -> tuple[list[str], list[str]]:
    """Ids of the marks and of the facts at the ends of a trail."""
    marks: dict[str, None] = {}
    facts: dict[str, None] = {}
    waiting, seen = [origin], set()
    while waiting:
        at = waiting.pop()
        if id(at) in seen:
            continue
        seen.add(id(at))
        kind, _, name = at.record.partition(":")
        if kind == "mark":
            marks[name] = None
        elif kind == "fact":
            facts[name] = None
        waiting += reversed(at.inputs)
    return list(marks), list(facts)


# To take along -----------------------------------------------------------------------------------------------


def as_text(rows: Sequence[Row]) -> str:
    """Lines of aligned columns."""
    table = [(r.words, r.told, r.kind) for r in rows]
    wide = [max((len(t[i]) for t in table), default=0) for i in range(2)]
    lines = [f"{a:<{wide[0]}}  {b:<{wide[1]}}  {c}" for a, b, c in table]
    return "\n".join([*(line.rstrip() for line in lines), "", CAUTION]) + "\n"


def as_csv(rows: Sequence[Row]) -> str:
    """CSV (RFC 4180) in SI, one line for each value: a place takes three, a curve as many as it has points."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["name", "group", "system", "kind", "value", "low95", "high95", "unit"])
    for r in rows:
        if r.number is None:
            writer.writerow([_harmless(r.name), r.group, r.system, r.kind, "", "", "", ""])
            continue
        i = r.number.interval
        triples = zip(*(np.ravel(np.asarray(v, float)) for v in (i.value, i.low, i.high)), strict=True)
        for k, (v, low, high) in enumerate(triples):
            part = "" if not r.number.shape else f" {'xyz'[k]}" if r.group == "points" else f" [{k}]"
            cells = [repr(float(x)) if np.isfinite(x) else "" for x in (v, low, high)]
            writer.writerow([_harmless(r.name) + part, r.group, r.system, r.kind, *cells, r.number.unit])
    return out.getvalue()


def _harmless(text: str) -> str:
    """A spreadsheet must not take a name for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t") else text


_TEX = {
    "\\": r"\textbackslash{}", "&": r"\&", "%": r"\%", "$": r"\$", "#": r"\#", "_": r"\_", "{": r"\{", "}": r"\}",
    "~": r"\textasciitilde{}", "^": r"\textasciicircum{}", "−": "$-$", "–": "--", "²": "$^2$", "³": "$^3$", "°": r"$^\circ$",
    "·": r"$\cdot$", "\u2009": r"\,", "\u202f": r"\,", "±": r"$\pm$", "…": r"\dots{}",
}  # fmt: skip


def tex(text: str) -> str:
    """Text with what LaTeX would take for commands written out."""
    return "".join(_TEX.get(c, c) for c in text)


def as_latex(rows: Sequence[Row]) -> str:
    """A ``tabular`` that plain LaTeX sets."""
    lines = [r"\begin{tabular}{lll}", r"\hline", r"Number & Value (95\,\% interval) & Kind \\", r"\hline"]
    lines += [rf"{tex(r.words)} & {tex(r.told)} & {tex(r.kind)} \\" for r in rows]
    return "\n".join([*lines, r"\hline", r"\end{tabular}", f"% {CAUTION}"]) + "\n"
