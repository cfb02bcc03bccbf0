"""A dossier's numbers for the sheets: its facts, and the joint draws of its survey.

A sheet's input takes, in this order: what is kept for it (:class:`~longlens.systems.records.SheetInput`), a measure
or a fact of the input's own name, its assumption. A fact that the survey used is better taken as a measure of the same
length: only there is it joint with the rest.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from longlens.dossier.reading import Reader
from longlens.dossier.records import Fact, Mark, Vehicle
from longlens.dossier.store import Dossier
from longlens.errors import NotSolvable, UnusableInput
from longlens.numbers.distributions import Distribution, Exact, Normal
from longlens.numbers.number import DRAWS, Number, assumed, stated
from longlens.systems.given import Given
from longlens.systems.records import SheetInput, sheet_input

#: What rims tell unasked (:mod:`longlens.systems.suspension.rims`).
WHEEL_ANGLES = ("camber_front", "camber_rear", "toe_front", "toe_rear")


def given_of(reader: Reader, area: str, known: Mapping[str, Number]) -> Given:
    """What the dossier holds for one area."""
    inputs: dict[str, object] = {}
    variants: dict[str, dict[str, object]] = {}
    for record in reader.all(SheetInput):
        if record.area == area:
            target = variants.setdefault(record.variant, {}) if record.variant else inputs
            target[record.input] = record.value
    draws = next((n.n for n in known.values()), DRAWS)
    return Given(inputs, variants, known, _scope(reader), where="the dossier", draws=draws)


def merged(below: Given, over: Given) -> Given:
    """Inputs and variants of ``over`` put over those of the dossier."""
    variants = {name: {**below.variants.get(name, {}), **v} for name, v in over.variants.items()}
    return Given(
        {**below.inputs, **over.inputs},
        {**below.variants, **variants},
        below.known,
        below.scope,
        over.where,
        below.draws,
    )


def keep_given(dossier: Dossier, area: str, given: Given) -> None:
    """Write a file's inputs and variants into the dossier, as one step of its journal."""
    with dossier.batch(f"inputs of {area} from {given.where}"):
        for name, value in given.inputs.items():
            dossier.put(sheet_input(area, name, value))
        for variant, overrides in given.variants.items():
            for name, value in overrides.items():
                dossier.put(sheet_input(area, name, value, variant))


def known_numbers(
    dossier: Dossier, stage: str | None = None, draws: int = DRAWS
) -> tuple[dict[str, Number], list[str]]:
    """Numbers by ``fact:ID``, ``measure:ID``, ``point:ID``, and remarks on what could not be had."""
    known = fact_numbers(dossier, stage, draws)
    remarks: list[str] = []
    try:
        known = with_survey(known, _surveyed(dossier, stage, draws))
    except NotSolvable as e:
        remarks.append(f"no numbers from the photographs: {e}")
    return known, remarks


def with_survey(facts: Mapping[str, Number], surveyed: Mapping[str, Number]) -> dict[str, Number]:
    """Facts and the survey's numbers together. Nobody asked for a rim's angles: a figure that is stated goes before."""
    stated_ = {f"measure:{name}" for name in WHEEL_ANGLES if f"fact:{name}" in facts}
    return {**facts, **{k: n for k, n in surveyed.items() if k not in stated_}}


def fact_numbers(reader: Reader, stage: str | None = None, draws: int = DRAWS) -> dict[str, Number]:
    """The facts as numbers, under their id and, where free, under what they are of (``of``, with underscores).

    A tyre designation gives the lengths that it states: ``fact:ID.overall_diameter`` and so on.
    """
    out: dict[str, Number] = {}
    names: dict[str, Number] = {}
    for fact in reader.all(Fact):
        if stage is not None and fact.stage not in (None, stage):
            continue
        if isinstance(fact.value, float | int):
            number = _fact_number(fact, _scope(reader), draws)
            if number is not None:
                out[f"fact:{fact.id}"] = number
                if fact.of:
                    names.setdefault(f"fact:{_plain(fact.of)}", number)
        elif re.search(r"ty?i?re", f"{fact.of} {fact.id}", re.I) and fact.text:
            out.update(_tyre_numbers(fact, draws))
    return names | out


def _fact_number(fact: Fact, scope: str, draws: int) -> Number | None:
    assert isinstance(fact.value, float | int)
    distribution: Distribution = Normal(fact.value, fact.sd) if fact.sd else Exact(fact.value)
    record = f"fact:{fact.id}"
    try:
        if fact.basis == "assumed":
            return assumed(fact.id, distribution, fact.unit, reason=fact.reason, record=record, draws=draws)
        return stated(fact.id, distribution, fact.unit, source=fact.source, record=record, scope=scope, draws=draws)
    except UnusableInput:
        return None  # a figure in a unit of its own kind: kept in the dossier, no use to a sheet


def _tyre_numbers(fact: Fact, draws: int) -> dict[str, Number]:
    from longlens.numbers.tyre import read_tyre

    try:
        tyre = read_tyre(fact.text)
    except UnusableInput:
        return {}
    numbers = tyre.numbers(source=fact.source, draws=draws)
    return {f"fact:{fact.id}.{name}": number for name, number in numbers.items()}


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")


def _scope(reader: Reader) -> str:
    vehicles = reader.all(Vehicle)
    return vehicles[0].name if vehicles else ""


def _surveyed(dossier: Dossier, stage: str | None, draws: int) -> dict[str, Number]:
    """Measures and points of the survey of one stage, row by row of one car."""
    from longlens.dossier.to_exchange import stages_with_marks, to_exchange

    stages = stages_with_marks(dossier)
    if not stages:
        return {}
    if stage is None and len(stages) > 1:
        named = ", ".join(repr(s) if s else "shots of no stage" for s in stages)
        raise UnusableInput(f"the marked shots show more than one stage ({named})", fix="say which with --stage")
    document = to_exchange(dossier, stage=stage if stage is not None else stages[0])
    from longlens.systems.survey_numbers import numbers_of, solution_of

    return numbers_of(solution_of(document, draws), dossier.all(Mark))
