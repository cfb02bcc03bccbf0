"""One stage of an invented car into its dossier: photographs, marks, facts, measures, rights and the names of parts.

All of it is what an engineer would have; of the truth file only the maker's sheet, captions and credits are read.
"""

from __future__ import annotations

from typing import Any

from longlens.demo import stages
from longlens.demo.naming import part_of, system_of
from longlens.demo.stages import DATA, STAGES, Result
from longlens.dossier.exchange import ExchangeDocument, read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Shot
from longlens.dossier.store import Dossier

#: What a maker rounds to, by the unit that ends the name of a published figure.
ROUNDED_TO = {"mm": 5.0, "kg": 5.0, "kW": 5.0, "kWh": 1.0, "percent": 1.0, "km_h": 5.0, "s": 0.1}
UNITS = {"percent": "%", "km_h": "km/h"}
#: Where the photographs were published, by a word of their credit.
SOURCES = {
    "press office": "press kit (invented)",
    "Picture Desk": "picture agency (invented)",
    "Club": "the club's pages (invented)",
}


def gather_stage(dossier: Dossier, result: Result, truth: dict[str, Any]) -> None:
    """Photographs, marks, facts, measures and the names of parts of one stage into the dossier."""
    stage = result.stage
    document, _ = read_exchange(DATA / f"{result.car}_{stage}.exchange.json")
    dossier.add(STAGES[stage].model_copy(update={"date": min(s.date or "" for s in document.shots)[:10]}))
    _photographs(dossier, result, truth)
    _tell_apart(dossier, document, result)
    for shot in document.shots:
        shot.file = None
    from_exchange(dossier, document, stage=stage)
    with dossier.batch(f"{STAGES[stage].name}: rights, names, facts"):
        _rights(dossier, truth)
        _names(dossier)
        _draw_parts(dossier, document, truth)
        for fact in document.facts:
            if fact.diameter:
                dossier.change(Fact, fact.id, of=fact.id.partition("@")[0].replace("_", " "), stage=stage)
        _published(dossier, truth["published"])


def _photographs(dossier: Dossier, result: Result, truth: dict[str, Any]) -> None:
    for stance in dict.fromkeys(s["stance"] for s in truth["shots"]):
        files = []
        for shot in truth["shots"]:
            path = stages.PICTURES / shot["file"]
            if shot["stance"] == stance and path.exists():
                files.append((f"{shot['id']}.jpg", path.read_bytes()))
            elif shot["stance"] == stance:
                result.unphotographed.append(shot["id"])
        add_photographs(dossier, files, stage=result.stage, stance=stance)


def _tell_apart(dossier: Dossier, document: ExchangeDocument, result: Result) -> None:
    """What belongs to the shots of this stage gets a name of its own: a published diameter with the circles marked
    here, and a measure taken on a shot where an earlier stage has one like it."""
    for fact in document.facts:
        if fact.diameter:
            fact.id = f"{fact.id}@{result.stage}"
    taken = set(dossier.ids(Measure))
    for measure in document.measures:
        if measure.rod_diameter is not None and measure.id in taken:
            new = f"{measure.id}@{result.stage}"
            if measure.id in result.truth:
                result.truth[new] = result.truth[measure.id]
            measure.id = new
    result.asked = [m.id for m in document.measures]


def _rights(dossier: Dossier, truth: dict[str, Any]) -> None:
    """The engineer's decision: an open licence or editorial use with credit may be shown; unclear ones stay undecided."""
    for shot in truth["shots"]:
        clear = (shot["licence"] or "").startswith(("CC BY", "Editorial use"))
        dossier.change(
            Shot,
            shot["id"],
            note=shot["caption"],
            source=next((s for word, s in SOURCES.items() if word in (shot["credit"] or "")), "a web site (invented)"),
            may_show="yes" if clear else "unknown",
        )


def _names(dossier: Dossier) -> None:
    moving = {p.partition("@")[0] for p in dossier.ids(Point) if "@" in p}
    for point in dossier.all(Point):
        base, _, stance = point.id.partition("@")
        named = point.model_copy(
            update={
                "part": part_of(point.id),
                "system": system_of(point.id),
                "carried_by": "wheel" if base in moving else None,
                "stance": stance or None,
            }
        )
        if named != point:
            dossier.put(named)
    for model in (Circle, Measure):
        for record in dossier.all(model):
            system = system_of(record.id)
            if record.system != system:  # type: ignore[attr-defined]
                dossier.change(model, record.id, system=system)
    for mark in dossier.all(Mark):
        target = mark.point or mark.circle
        if target and not mark.part:
            dossier.change(Mark, mark.id, part=part_of(target), system=system_of(target))


def _draw_parts(dossier: Dossier, document: ExchangeDocument, truth: dict[str, Any]) -> None:
    """Rods as lines and cores as outlines, through the marks that were set on them; the worst end gives the line."""
    for shot in document.shots:
        marked = {m.point: m for m in document.marks if m.shot == shot.id and m.point is not None}
        things = [(rod, "line", r["ends"]) for rod, r in truth["parts"]["rods"].items()]
        things += [
            (core, "outline", [*c["rails"][0], *reversed(c["rails"][1])])
            for core, c in truth["parts"]["cores"].items()
            if c["rails"]
        ]
        for part, form, through in things:
            ids = [f"{p}@{shot.stance}" if f"{p}@{shot.stance}" in marked else p for p in through]
            if len(ids) > 1 and all(p in marked for p in ids):
                marks = [marked[p] for p in ids]
                dossier.add(
                    Mark(
                        id=f"{shot.id}:{form}:{part}"[:190],
                        shot=shot.id,
                        form=form,
                        path=[(m.x or 0.0, m.y or 0.0) for m in marks],
                        along=ids,
                        certainty="inferred" if any(m.inferred for m in marks) else "seen",
                        part=part.replace(".", " ").replace("_", " "),
                        system=system_of(part),
                    )
                )


def _published(dossier: Dossier, sheet: dict[str, Any]) -> None:
    """The maker's other figures, for the floors above the survey, with the spread that their rounding leaves."""
    source = sheet.get("source", "")
    for key, value in sheet.items():
        if key in ("maker", "car", "stage", "source") or key == "wheelbase_mm":
            continue
        id = f"sheet.{key}"
        if dossier.find(Fact, id) is not None:
            continue
        if isinstance(value, (int, float)):
            unit = next((u for u in sorted(ROUNDED_TO, key=len, reverse=True) if key.endswith(f"_{u}")), "")
            if not unit:
                continue
            of = key.removesuffix(f"_{unit}").replace("_", " ")
            sd = ROUNDED_TO[unit] / 12**0.5
            shown = UNITS.get(unit, unit)
            dossier.add(
                Fact(
                    id=id,
                    of=of,
                    value=float(value),
                    sd=round(sd, 4),
                    unit=shown,
                    text=f"{value} {shown}",
                    source=source,
                )
            )
        else:
            dossier.add(Fact(id=id, of=key.replace("_", " "), text=str(value), source=source))
