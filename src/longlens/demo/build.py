"""The demo from end to end: dossiers of the invented cars, their surveys, the numbers beside the truth, first briefs.

The photographs, marks and facts are those committed beside this module. The truth is known only because the cars are
invented; nothing but the comparison at the end looks at it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from longlens.demo.naming import part_of, system_of
from longlens.dossier.answers import keep_answer
from longlens.dossier.exchange import ExchangeDocument, read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.photographs import add_photographs
from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Shot, Stage, Vehicle
from longlens.dossier.store import Dossier
from longlens.dossier.to_exchange import to_exchange
from longlens.errors import NotSolvable, UnusableInput

DATA = Path(__file__).parent / "data"
PICTURES = Path(__file__).parent / "pictures"
NOTE = (
    "This car is invented, and so are its maker, its photographs, its figures and everybody named here. "
    "The photographs were rendered by a computer from a made-up car."
)
CARS = ("fulmar", "gannet")
STAGES = {"test": Stage(id="test", name="test car", order=1), "shown": Stage(id="shown", name="shown car", order=2)}
#: What a maker rounds to, by the unit that ends the name of a published figure.
ROUNDED_TO = {"mm": 5.0, "kg": 5.0, "kW": 5.0, "kWh": 1.0, "percent": 1.0, "km_h": 5.0, "s": 0.1}
UNITS = {"percent": "%", "km_h": "km/h"}
#: Where the photographs were published, by a word of their credit.
SOURCES = {
    "press office": "press kit (invented)",
    "Picture Desk": "picture agency (invented)",
    "Club": "the club's pages (invented)",
}

Progress = Callable[[str, float], None]


@dataclass
class Result:
    """One stage: its survey's answer, or why there is none, and the true values of its measures."""

    car: str
    stage: str
    dossier: Path
    brief: Path
    truth: dict[str, float]
    answer: dict[str, Any] | None = None
    unsolved: NotSolvable | None = None
    asked: list[str] = field(default_factory=list)
    unphotographed: list[str] = field(default_factory=list)

    def rows(self) -> Iterator[tuple[str, dict[str, Any], float, bool]]:
        """Measure, its answer, the truth, and whether the interval holds it."""
        for name, got in ((self.answer or {}).get("measures") or {}).items():
            if name in self.truth:
                true = self.truth[name]
                yield name, got, true, got["low95"] <= true <= got["high95"]


def build_demo(to: Path, progress: Progress) -> str:
    """Build everything into a folder and say what came out.

    Parameters
    ----------
    to : the folder; made when it is not there. What an earlier demo left in it is replaced.
    progress : called with what is being done and how far the whole is, 0 to 1.
    """
    try:
        to.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnusableInput(f"cannot be made ({error.strerror})", where=str(to), fix="choose another folder") from None
    results: list[Result] = []
    for n, car in enumerate(CARS):
        results += _car(car, to, _share(progress, n, len(CARS)))
    text = report(results, to)
    (to / "beside-the-truth.txt").write_text(text, encoding="utf-8")
    return text


def stages_of(car: str) -> list[str]:
    """The stages of a car for which data are committed, earliest first."""
    return [s for s in STAGES if (DATA / f"{car}_{s}.exchange.json").exists()]


# One car -------------------------------------------------------------------------------------------------------------


def _car(car: str, to: Path, progress: Progress) -> list[Result]:
    path = to / f"{car}.longlens"
    _clear(path)
    stages = stages_of(car)
    truths = {s: _truth(car, s) for s in stages}
    results = [
        Result(car, s, path, to / f"{car}-{s}.html", {m["id"]: m["true"] for m in truths[s]["measures"]})
        for s in stages
    ]
    name = truths[stages[0]]["vehicle"]["name"].removeprefix("Skerry ")
    with Dossier.create(path, Vehicle(name=name, maker="Skerry (invented)", note=NOTE), by="longlens demo") as dossier:
        for result in results:
            progress(f"{car}, {STAGES[result.stage].name}: photographs and marks", 0.02)
            gather_stage(dossier, result, truths[result.stage])
        for i, result in enumerate(results):
            _survey(dossier, result, _share(progress, i, len(results), f"{car}, {STAGES[result.stage].name}: "))
    return results


def _share(progress: Progress, n: int, of: int, prefix: str = "") -> Progress:
    """Progress of the n-th of some equal shares. It never goes back, whatever those below report."""
    reached = 0.0

    def show(what: str, part: float) -> None:
        nonlocal reached
        reached = max(reached, part)
        progress(prefix + what, (n + reached) / of)

    return show


def _clear(path: Path) -> None:
    """Remove an earlier demo's dossier; anything else under its name is the user's and stays."""
    if not path.exists():
        return
    with Dossier.open(path, readonly=True) as old:
        ours = any(v.note == NOTE for v in old.all(Vehicle))
    if not ours:
        raise UnusableInput(
            "is there already, and is no dossier of the demo", where=str(path), fix="choose another folder"
        )
    path.unlink()


def _truth(car: str, stage: str) -> dict[str, Any]:
    return json.loads((DATA / f"{car}_{stage}.truth.json").read_text(encoding="utf-8"))


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
            path = PICTURES / shot["file"]
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


def _survey(dossier: Dossier, result: Result, progress: Progress) -> None:
    from longlens.publish.brief import write_brief
    from longlens.survey.answer import solve

    document = to_exchange(dossier, stage=result.stage)
    try:
        result.answer = solve(document, progress=lambda word, part: progress(word, 0.05 + 0.85 * part)).answer()
        keep_answer(dossier, document, result.answer)
    except NotSolvable as error:
        result.unsolved = error
    write_brief(dossier, result.brief, stage=result.stage, progress=lambda word, part: progress(word, max(part, 0.9)))


# What came out -------------------------------------------------------------------------------------------------------


def report(results: list[Result], to: Path) -> str:
    """The numbers beside the truth, and how to go on."""
    out = [
        "Two invented cars, surveyed from their photographs and set beside the truth, which is known only because they "
        "are invented.",
        "",
    ]
    hits = total = 0
    for r in results:
        lines, held, given = _stage_report(r)
        out += [*lines, ""]
        hits, total = hits + held, total + given
    if total:
        out.append(
            f"All together: the truth lies in {hits} of {total} intervals ({100 * hits / total:.0f} %; 95 % is claimed)."
        )
    missing = [s for r in results for s in r.unphotographed]
    if missing:
        out.append(
            f"{len(missing)} photographs are not in this checkout (make demo-pictures renders them): {', '.join(missing)}"
        )
    return "\n".join([*out, "", *_go_on(results, to)])


def _stage_report(r: Result) -> tuple[list[str], int, int]:
    from longlens.numbers.display import format_interval

    title = f"{r.car.capitalize()}, {STAGES[r.stage].name}"
    if r.unsolved is not None:
        return [title, f"  not solvable: {r.unsolved.what}", *(f"    needs {n}" for n in r.unsolved.needs)], 0, 0
    rows = [
        (name, format_interval(got["value"], got["low95"], got["high95"], got["unit"]),
         _true_text(true, got), "inside" if held else "OUTSIDE")
        for name, got, true, held in r.rows()
    ]  # fmt: skip
    widths = [max((len(row[k]) for row in rows), default=0) for k in range(3)]
    lines = [f"{title}: value (95 % interval), the truth, and whether the interval holds it"]
    lines += [f"  {a:<{widths[0]}}  {b:>{widths[1]}}  {c:>{widths[2]}}  {d}" for a, b, c, d in rows]
    held = sum(1 for row in rows if row[3] == "inside")
    refused = sum(1 for name in (r.answer or {}).get("refused") or {} if name in r.asked)
    lines.append(f"  {held} of {len(rows)} intervals hold the truth; {refused} refused")
    groups: dict[tuple[str, str], list[float]] = {}
    for s in (r.answer or {}).get("suspect_marks") or []:
        groups.setdefault((str(s.get("point") or s.get("circle")), str(s["shot"])), []).append(float(s["test"]))
    for (name, shot), tests in groups.items():
        what = "suspect mark" if len(tests) == 1 else f"{len(tests)} suspect marks"
        lines.append(f"  {what}: {name} on {shot}, test value {max(tests):.1f}")
    return lines, held, len(rows)


def _true_text(true: float, got: dict[str, Any]) -> str:
    """The truth in the unit of the interval beside it."""
    from longlens.numbers import units
    from longlens.numbers.display import people_unit, pretty

    unit = got["unit"]
    size = max(abs(got[k]) for k in ("value", "low95", "high95"))
    shown = people_unit(unit, size if unit != "rad" else 1.0)
    value = true if shown == pretty(unit) else units.from_si(units.to_si(true, unit), shown)
    return f"{value:.4g}{'' if shown == '°' else ' '}{shown}".strip() if abs(value) < 1000 else f"{value:.1f} {shown}"


def _go_on(results: list[Result], to: Path) -> list[str]:
    first = next((r for r in results if r.stage == "shown"), results[0])
    return [
        f"In {to}:",
        *(f"  {r.brief.name:<22} the brief: photographs with their marks, numbers, trails" for r in results),
        *(f"  {p.name:<22} the dossier: photographs, marks, facts" for p in dict.fromkeys(r.dossier for r in results)),
        "  beside-the-truth.txt   this table",
        "",
        "Go on:",
        f"  open {first.brief} in a browser",
        f"  longlens numbers {first.dossier} --stage {first.stage}",
        f"  longlens history {first.dossier}",
        "  README.md: the same with photographs of your own",
        "",
        "Estimates from photographs are for understanding and discussion; they are no basis for building, repairing,",
        "certifying or driving a vehicle.",
    ]
