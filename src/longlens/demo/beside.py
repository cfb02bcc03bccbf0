"""What came out of the demo: the numbers beside the truth, and how to go on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from longlens.demo.stages import STAGES, Result


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
        "  plates                 the Fulmar's plates, for an audience",
        "  beside-the-truth.txt   this table",
        "",
        "Go on:",
        f"  open {first.brief} in a browser",
        f"  longlens numbers {first.dossier} --stage {first.stage}",
        f"  longlens history {first.dossier}",
        f"  longlens publish {first.dossier} --to {to}/edition",
        f"  longlens film {first.dossier} --to {to}/film.mp4",
        "  README.md: the same with photographs of your own",
        "",
        "Estimates from photographs are for understanding and discussion; they are no basis for building, repairing,",
        "certifying or driving a vehicle.",
    ]
