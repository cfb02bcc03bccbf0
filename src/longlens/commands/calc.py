"""``longlens calc`` and ``longlens assess``: the sheets of the systems, from a plain file or from a dossier."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from longlens.commands.console import DossierFile, Json, emit, opened, progress, say, table, tell

if TYPE_CHECKING:
    from longlens.numbers.number import Number
    from longlens.systems.given import Given
    from longlens.systems.run import Outcome

#: So many places of a curve are printed.
PLACES = 6
Area = Annotated[
    str, typer.Argument(metavar="AREA", help="suspension, cooling, aero, structure or running.", show_default=False)
]
Variant = Annotated[str | None, typer.Option("--variant", help="Only under this variant.")]
Track = Annotated[
    Path | None,
    typer.Option("--track", help="Centre line of a track for running: a text file of x, y (and z) in metres."),
]
Sobol = Annotated[
    bool, typer.Option("--sobol", help="Say what drives the intervals by Sobol indices instead of rank correlations.")
]


def calc(
    area: Area,
    path: Annotated[Path, typer.Argument(metavar="FILE", help="Inputs, JSON or TOML.", show_default=False)],
    variant: Variant = None,
    sobol: Sobol = False,
    track: Track = None,
    as_json: Json = False,
) -> None:
    """Run one system's sheet on a file of inputs, as given and under each of its variants.

    What is not given is assumed, with its reason; an output that cannot be had says what it needs.
    """
    from longlens.systems import registry
    from longlens.systems.given import read_file

    registry.sheet(area)  # an unknown area is told before the file is opened
    given = _on_track(read_file(path, area), area, track)
    outcomes = _outcomes(area, given, variant)
    if as_json:
        emit(_json(outcomes, sobol))
    else:
        _show(outcomes, sobol)
    _leave_if_nothing([outcomes])


def assess(
    path: DossierFile,
    areas: Annotated[
        list[str] | None, typer.Argument(metavar="[AREA]…", help="Which areas; default all.", show_default=False)
    ] = None,
    inputs: Annotated[
        Path | None, typer.Option("--with", help="A file of inputs (one area), over those of the dossier.")
    ] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Keep the file's inputs and variants in the dossier.")] = False,
    stage: Annotated[str | None, typer.Option("--stage", help="Which stage of the vehicle.")] = None,
    variant: Variant = None,
    sobol: Sobol = False,
    track: Track = None,
    as_json: Json = False,
) -> None:
    """Run the systems' sheets on a dossier's own numbers: its measures, points and facts.

    What one sheet gives, the next takes: the suspension's springs go to aero, the air's pressures at the openings to cooling, the
    air's load back to the suspension and to running. The maker's own figures are held against what comes out.
    """
    from longlens.errors import LonglensError, UnusableInput
    from longlens.systems import chain, registry, stated
    from longlens.systems.from_dossier import given_of, keep_given, known_numbers, merged
    from longlens.systems.given import read_file

    chosen = list(areas or registry.areas())
    for area in chosen:
        registry.sheet(area)
    if inputs is not None and len(chosen) != 1:
        raise UnusableInput("a file of inputs is for one area", fix="name the area")
    if keep and inputs is None:
        raise UnusableInput("there is nothing to keep", fix="give a file with --with")
    done: dict[str, dict[str, Outcome]] = {}
    verdicts: list[stated.Verdict] = []
    order = chain.plan(chosen, registry.areas())
    with opened(path) as dossier:
        over = None if inputs is None else read_file(inputs, chosen[0])
        if keep and over is not None:
            keep_given(dossier, chosen[0], over)
        with progress(len(order) + 1) as show:
            show("survey", 0)
            known, remarks = known_numbers(dossier, stage)
            facts = stated.facts_of(known)
            for i, step in enumerate(order):
                area = step.area
                show(area, i + 1)
                given = given_of(dossier, area, known)
                if over is not None and area == chosen[0]:
                    given = merged(given, over)
                if not step.asked:  # run only for what it hands on
                    try:
                        known |= chain.outputs_of(area, _outcomes(area, given, "")[""])
                    except LonglensError as e:
                        remarks.append(f"nothing is taken from {area}: {e}")
                    continue
                try:
                    done[area] = _outcomes(area, _on_track(given, area, track), variant)
                except UnusableInput as e:
                    if len(chosen) == 1:
                        raise
                    remarks.append(f"{area} is left out: {e}")
                    continue
                first = next(iter(done[area].values()))
                known |= chain.outputs_of(area, first)
                verdicts += stated.verdicts(first, facts)
    done = {area: done[area] for area in chosen if area in done}
    remarks = list(dict.fromkeys(remarks))
    say(*remarks)
    if as_json:
        areas_json = {area: _json(outcomes, sobol) for area, outcomes in done.items()}
        emit({"areas": areas_json, "stated": [v.as_json() for v in verdicts], "remarks": remarks})
    else:
        for outcomes in done.values():
            _show(outcomes, sobol, caution=False)
        if verdicts:
            rows = [(v.output.replace("_", " "), str(v.stated), str(v.computed), v.word) for v in verdicts]
            table("The maker's own figures", ("what", "stated", "computed", "together"), rows)
            for v in verdicts:
                if v.gives:
                    tell(f"! {v.sentence()}")
        _cautions(done)
    _leave_if_nothing(list(done.values()))


def _outcomes(area: str, given: Given, variant: str | None) -> dict[str, Outcome]:
    from longlens.systems import registry
    from longlens.systems.run import run, run_all

    sheet = registry.sheet(area)
    return run_all(sheet, given) if variant is None else {variant: run(sheet, given, variant)}


def _leave_if_nothing(runs: list[dict[str, Outcome]]) -> None:
    """Status 3 when no output could be given at all; what is needed has been said."""
    if not any(outcome.numbers for outcomes in runs for outcome in outcomes.values()):
        raise typer.Exit(3)


def _json(outcomes: dict[str, Outcome], sobol: bool) -> dict[str, Any]:
    from longlens.systems.compare import compare_all

    made = {name: outcome.as_json("sobol" if sobol else "rank") for name, outcome in outcomes.items()}
    first = next(iter(made.values()))
    rest = {name: one for name, one in made.items() if one is not first}
    out = first | {"variants": rest, "comparisons": [c.as_json() for c in compare_all(outcomes)]}
    if first["area"] == "cooling":
        from longlens.systems.cooling.variants import as_json

        evidence = next(iter(outcomes.values())).inner.get("evidence", [])
        out |= {"plumbing": as_json(outcomes), "evidence": [item.as_json() for item in evidence]}
    return out


# For people ---------------------------------------------------------------------------------------


def _show(outcomes: dict[str, Outcome], sobol: bool, caution: bool = True) -> None:
    import numpy as np

    from longlens.systems.compare import compare_all

    for name, outcome in outcomes.items():
        title = outcome.sheet.title + (f" — {name}" if name else "")
        _plain_outputs(outcome, title, sobol)
        _curves(outcome)
        for finding in outcome.findings:
            tell(f"{'·' if finding.severity == 'note' else '!'} {finding.text}")
        alike: dict[str, list[str]] = {}
        for refused, refusal in outcome.refused.items():
            needs = f"; needs {', '.join(refusal.needs)}" if refusal.needs else ""
            alike.setdefault(f"{refusal.why}{needs}", []).append(_words(refused))
        for why, names in alike.items():
            tell(f"– no {', '.join(names)}: {why}")
        tell("")
    _assumed(next(iter(outcomes.values())))
    for comparison in compare_all(outcomes):
        one = next(iter(outcomes.values())).numbers[comparison.output].draws
        # What is alike but for rounding, or the same in every draw, need not be told.
        if np.nanmax(comparison.difference.draws) - np.nanmin(comparison.difference.draws) > 1e-6 * np.nanmax(
            np.abs(one)
        ):
            tell(f"· {comparison.sentence()}")
    if next(iter(outcomes.values())).sheet.area == "cooling":
        _plumbing(outcomes)
    if caution:
        _cautions({"": outcomes})


def _plumbing(outcomes: dict[str, Outcome]) -> None:
    """Cooling: the plumbing variants side by side, which is better with what probability, and why."""
    import numpy as np

    from longlens.systems.cooling.variants import pairs, side_by_side, verdict

    sides = side_by_side(outcomes)
    if len(sides) < 2:
        return
    rows: list[tuple[str, ...]] = [
        ("closes, of the draws", *(f"{side.closing:.0%}" for side in sides)),
        ("most to spare, of the draws", *(f"{side.best:.0%}" for side in sides)),
        ("to spare (K)", *(side.margin.told() for side in sides)),
        ("heat it could hold over the heat assumed", *(side.bearable.told() for side in sides)),
    ]
    for meaning, entries, scale, offset in (
        ("{} (°C)", [side.temperature for side in sides], 1.0, -273.15),
        ("heat of {} (kW)", [side.heat for side in sides], 1e-3, 0.0),
        ("flow of {} (kg/s)", [side.flow for side in sides], 1.0, 0.0),
    ):
        for name in dict.fromkeys(n for entry in entries for n in entry):
            told = (entry[name].told(scale, offset) if name in entry else "–" for entry in entries)
            rows.append((meaning.format(name), *told))
    rows.append(("power of the pumps (W)", *(side.pump_power.told() for side in sides)))
    speed = np.ravel(next(o.axes["speed"] for o in outcomes.values() if "speed" in o.axes))
    case = next(p.case for p in pairs(outcomes))
    table(f"Plumbing side by side, at {speed[case] * 3.6:.0f} km/h", ("what", *(side.name for side in sides)), rows)
    sentence = verdict(outcomes)
    tell(f"· {sentence}")
    for pair in pairs(outcomes):
        if pair.reason != sentence:
            ahead, behind = (pair.first, pair.second) if pair.probability >= 0.5 else (pair.second, pair.first)
            chance = max(pair.probability, 1.0 - pair.probability)
            tell(f"· {ahead} over {behind}, {chance:.2f}: {pair.reason}")


def _cautions(done: dict[str, dict[str, Outcome]]) -> None:
    from longlens.systems.sheet import CAUTION

    sheets = [next(iter(outcomes.values())).sheet for outcomes in done.values()]
    tell("", *dict.fromkeys(c for sheet in sheets for c in sheet.cautions), CAUTION)


def _on_track(given: Given, area: str, track: Path | None) -> Given:
    """The running sheet's inputs with a centre-line file as their track."""
    if track is None or area != "running":
        return given
    import dataclasses

    from longlens.systems.running.track import read_csv

    points = read_csv(track)
    ends = max(abs(a - b) for a, b in zip(points[0], points[-1], strict=True))
    far = max(abs(a - b) for p in points for a, b in zip(p, points[0], strict=True))
    line = {"points": points, "closed": ends < 0.1 * far, "name": track.stem, "smooth": 8.0}
    return dataclasses.replace(given, inputs={**given.inputs, "track": line})


def _plain_outputs(outcome: Outcome, title: str, sobol: bool) -> None:
    rows = []
    for name, number in outcome.numbers.items():
        if number.shape:
            continue
        drivers = [d for d in outcome.drivers(name, method="sobol" if sobol else "rank", count=2) if d.share > 0.05]
        told = ", ".join(f"{_words(d.name)} {d.share:.0%}" for d in drivers)
        rows.append((outcome.sheet.output(name).meaning, str(number), told))
    table(title, ("what", "value, with its 95 % interval", "driven by"), rows)


def _assumed(outcome: Outcome) -> None:
    """What was assumed, and why; scatter of correlations is told in the trails."""
    rows = [
        (_words(name), str(x), x.origin.reason)
        for name, x in outcome.leaves.items()
        if x.kind == "assumed" and not x.shape
    ]
    if rows:
        table("Assumed", ("what", "value", "why"), rows)


def _curves(outcome: Outcome) -> None:
    sheet = outcome.sheet
    groups: dict[tuple[str, ...], list[str]] = {}
    for name, number in outcome.numbers.items():
        if number.shape and 0 not in number.shape:
            groups.setdefault(sheet.output(name).along, []).append(name)
    for along, names in groups.items():
        if len(along) == 1:
            labels, picked = _places(outcome, along[0])
            rows = [_cells(outcome, name, [(i,) for i in picked]) for name in names]
            table(f"Along the {sheet.axis(along[0]).meaning}", ("what", *labels), rows)
        elif len(along) == 2:
            labels, picked = _places(outcome, along[1])
            firsts, _ = _places(outcome, along[0], every=True)
            for name in names:
                many = [(first, *_cells(outcome, name, [(k, i) for i in picked])[1:]) for k, first in enumerate(firsts)]
                table(_headed(outcome, name), (sheet.axis(along[0]).meaning, *labels), many)


def _places(outcome: Outcome, axis: str, every: bool = False) -> tuple[list[str], list[int]]:
    """Labels and indices of the places printed: all texts, a few figures from end to end."""
    from longlens.systems.run import axis_for_people

    values, unit = axis_for_people(outcome.sheet, axis, outcome.axes[axis])
    n = len(values)
    if every or outcome.sheet.axis(axis).unit is None or n <= PLACES:
        picked = list(range(n))
    else:
        picked = sorted({round(k * (n - 1) / (PLACES - 1)) for k in range(PLACES)})
    return [v if isinstance(v, str) else f"{v:.4g} {unit}".strip() for v in (values[i] for i in picked)], picked


def _headed(outcome: Outcome, name: str) -> str:
    from longlens.numbers import display

    number, declared = outcome.numbers[name], outcome.sheet.output(name)
    unit = display.pretty(_shown(number))
    return f"{declared.meaning} ({unit})" if unit else declared.meaning


def _cells(outcome: Outcome, name: str, places: list[tuple[int, ...]]) -> tuple[str, ...]:
    from longlens.numbers import display

    number = outcome.numbers[name]
    i = number.interval
    out = [_headed(outcome, name)]
    for place in places:
        value, low, high = (float(x[place]) for x in (i.value, i.low, i.high))
        out.append(display.bare(value, low, high, number.unit, _shown(number)))
    return tuple(out)


def _shown(number: Number) -> str:
    """One unit for the whole curve."""
    import numpy as np

    from longlens.numbers import display

    if number.shown:
        return number.shown
    size = np.abs(np.asarray(number.interval.value))
    return display.people_unit(number.unit, float(np.nanmax(size)) if np.any(np.isfinite(size)) else 0.0) or "1"


def _words(name: str) -> str:
    return name.replace("_", " ")


def attach(app: typer.Typer) -> None:
    """Make the commands known."""
    app.command("calc")(calc)
    app.command("assess")(assess)


register = attach
