"""Weighs a question: what each item of evidence says, what depends on what, where belief ends and what would turn it.

>>> from longlens.claims.records import Alternative, Evidence, Judgement, Question
>>> question = Question(id="q", text="One loop or two?", alternatives=[
...     Alternative(id="one", text="one loop", prior=0.5, why="no reason either way"),
...     Alternative(id="two", text="two loops", prior=0.5, why="no reason either way")])
>>> seen = Evidence(id="e", question="q", kind="observation", text="one pump", on=["mark:m1"],
...     judged=Judgement(favours=["one"], ratio=9.0, low=3.0, high=27.0))
>>> found = weigh(question, [seen], there={"mark:m1"})
>>> found.lead.id, round(found.belief["one"][0], 2)
('one', 0.9)
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from longlens.claims import bayes, dependence, verbal
from longlens.claims.density import DOUBT, log_likelihoods, tried
from longlens.claims.dependence import Basis, Shared
from longlens.claims.records import Alternative, Evidence, Prediction, Question
from longlens.claims.sources import Sources
from longlens.dossier.reading import Reader
from longlens.dossier.records import Mark
from longlens.numbers.number import Number

Array = Any
#: A number as it stood: value, the ends of its 95 % interval, unit.
Figure = tuple[float, float, float, str]
#: Draws over the judged ranges, and the seed they are drawn with.
RANGE_DRAWS, SEED = 2000, 7
#: Kinds of record that an item may rest on.
RECORDS = ("mark", "fact", "measure", "point", "circle", "shot", "output")


@dataclass
class Item:
    """One item weighed. ``log`` (3, A): natural log likelihoods, likely, at the weak and the strong end; None: does not count.

    ``tries`` (T, A): of a computed item, its log likelihoods with every doubt drawn anew; they are its range, not the two ends.

    ``lost``: what it rested on and is no longer there. ``why``: why it does not count. ``figures``: the numbers it took, by
    reference: measures, facts, sheets' outputs (of a curve with the place, of a variant with its name), a sheet's own readings.
    """

    evidence: Evidence
    log: Array | None = None
    tries: Array | None = None
    basis: Basis = field(default_factory=Basis)
    lost: tuple[str, ...] = ()
    why: str = ""
    how: str = ""
    figures: dict[str, Figure] = field(default_factory=dict)


@dataclass
class Group:
    """Items that count once; the weightiest, ``speaks``, stands for all. ``contribution``: log10, leader over runner-up."""

    items: tuple[str, ...]
    speaks: str
    log: Array
    tries: Array | None = None
    contribution: float = 0.0
    low: float = 0.0
    high: float = 0.0
    without: dict[str, float] = field(default_factory=dict)
    turns: bool = False


@dataclass
class Weighed:
    """A question weighed. ``belief``: alternative → (now, low, high); ``path`` (G + 1, A): beliefs group by group."""

    question: Question
    items: list[Item]
    groups: list[Group]
    shared: list[Shared]
    belief: dict[str, tuple[float, float, float]]
    path: Array
    support: tuple[float, float, float]
    turn: list[str] | None
    assumptions: list[tuple[str, str]]
    remarks: list[str]
    refuted: bool = False

    @property
    def order(self) -> list[Alternative]:
        """Alternatives, the most probable first."""
        return sorted(self.question.alternatives, key=lambda a: -np.nan_to_num(self.belief[a.id][0], nan=-1.0))

    @property
    def lead(self) -> Alternative:
        return self.order[0]

    @property
    def strength(self) -> str:
        """How strongly the evidence alone supports the leader over the next, in the guideline's words."""
        ratio, low, high = self.support
        if ratio < 1:
            other = verbal.told(1 / ratio, 1 / high, 1 / low)
            return f"the evidence speaks rather for {self.order[1].text}, with {other}; the prior leads"
        return verbal.told(ratio, low, high)

    @property
    def sides(self) -> bool:
        """True where the ranges leave open which alternative leads."""
        first, second = (self.belief[a.id] for a in self.order[:2])
        return first[1] <= second[2]

    def sentence(self) -> str:
        """One careful sentence; never "proved"."""
        if self.refuted:
            return "The evidence excludes every alternative that was given a chance: one of them, or a prior of zero, is wrong."
        if not self.groups:
            return f"Nothing weighs yet: {self.lead.text} leads by its prior alone."
        p = self.belief[self.lead.id]
        ratio = self.support[0]
        if 0.5 < ratio < 1:
            words = f"The prior leads to {self.lead.text}; the evidence hardly tells it from {self.order[1].text}"
        elif ratio < 1:
            words = f"The prior leads to {self.lead.text}, though {self.strength.removesuffix('; the prior leads')}"
        elif ratio < 2:
            words = f"The evidence hardly tells {self.lead.text} from {self.order[1].text} (ratio about {verbal.figure(ratio)})"
        else:
            words = f"The evidence gives {self.strength} for {self.lead.text} over {self.order[1].text}"
        out = f"{words}; with the priors taken here its probability is {percent(p)}."
        if self.sides:
            out += " Within the ranges judged, another answer may lead."
        return out

    def as_json(self) -> dict[str, Any]:
        """Plain types."""
        return {
            "id": self.question.id,
            "text": self.question.text,
            "sentence": self.sentence(),
            "leads": self.lead.id,
            "strength": self.strength if self.groups and not self.refuted else "",
            "open": self.sides,
            "support": {"ratio": self.support[0], "low": self.support[1], "high": self.support[2]},
            "scale": verbal.GUIDELINE,
            "alternatives": [
                {"id": a.id, "text": a.text, "prior": a.prior, "why": a.why,
                 "probability": self.belief[a.id][0], "low95": self.belief[a.id][1], "high95": self.belief[a.id][2]}
                for a in self.order
            ],
            "evidence": [
                {"id": i.evidence.id, "text": i.evidence.text, "kind": i.evidence.kind, "counts": i.log is not None,
                 "why_not": i.why, "how": i.how, "rests_on": sorted(i.basis.records), "lost": list(i.lost),
                 "likelihood": None if i.log is None else dict(zip(self.question.ids, _relative(i.log[0]), strict=True))}
                for i in self.items
            ],
            "groups": [
                {"items": list(g.items), "speaks": g.speaks, "log10": g.contribution, "log10_low": g.low,
                 "log10_high": g.high, "without": g.without, "turns": g.turns}
                for g in self.groups
            ],
            "shared": [{"items": [s.first, s.second], "on": list(s.on), "once": s.once} for s in self.shared],
            "path": [dict(zip(self.question.ids, map(float, row), strict=True)) for row in self.path],
            "turned_by_leaving_out": self.turn,
            "assumptions_that_turn_it": [{"assumption": a, "then": b} for a, b in self.assumptions],
            "remarks": self.remarks,
        }  # fmt: skip


def percent(p: tuple[float, float, float]) -> str:
    """``62 % (40 to 81)``, never nought or a hundred where it is not exactly so."""
    return f"{_pc(p[0])} % ({_pc(p[1])} to {_pc(p[2])})"


def _pc(p: float) -> str:
    if not np.isfinite(p):
        return "no"
    if 0 < p < 0.005:
        return "under 0.5"
    if 0.995 < p < 1:
        return "over 99.5"
    return f"{100 * p:.0f}"


def weigh_all(reader: Reader, sources: Sources | None = None) -> list[Weighed]:
    """Every question of a dossier, in order."""
    made: dict[str | None, Sources] = {}
    out = []
    for question in reader.all(Question):
        own = sources or made.setdefault(question.stage, Sources(reader, question.stage))
        out.append(weigh_in(reader, question, own))
    return out


def weigh_in(reader: Reader, question: Question, sources: Sources | None = None) -> Weighed:
    """One question with the evidence that the dossier holds for it."""
    evidence = [e for e in reader.all(Evidence) if e.question == question.id]
    wanted = {ref for e in evidence for ref in (*e.on, *([e.of] if e.of else []))}
    there = {ref for ref in wanted if ref.startswith("output:") or reader.raw(*ref.split(":", 1)) is not None}
    return weigh(question, evidence, sources or Sources(reader, question.stage), there)


def weigh(
    question: Question, evidence: Sequence[Evidence], sources: Sources | None = None, there: Iterable[str] = ()
) -> Weighed:
    """Weigh a question.

    Parameters
    ----------
    sources : where numbers come from; needed by predicted evidence and readings only.
    there : which of the records that evidence names exist.
    """
    present = set(there)
    items = [_item(question, e, sources, present) for e in evidence]
    counted = [i for i in items if i.log is not None]
    bases = {i.evidence.id: i.basis for i in counted}
    groups = [_group(members, {i.evidence.id: i for i in counted}) for members in dependence.groups(bases)]
    prior = np.array([a.prior for a in question.alternatives])
    weights = np.array([g.log[0] for g in groups]).reshape(-1, len(prior))
    now = np.asarray(bayes.posterior(prior, weights.sum(axis=0)))
    spread = np.nan_to_num(bayes.posterior(prior, _in_ranges(groups, len(prior))), nan=0.0)
    belief = {
        a.id: (float(now[k]), *_central(spread[:, k], float(now[k]))) for k, a in enumerate(question.alternatives)
    }
    found = Weighed(question, items, groups, dependence.shared(bases), belief, bayes.path(prior, weights),
                    (1.0, 1.0, 1.0), None, [], [], not bool(np.all(np.isfinite(now))))  # fmt: skip
    if not found.refuted:
        _explain(found, prior, weights)
    _remark(found, prior, sources)
    return found


# Items -----------------------------------------------------------------------------------------------------


def _item(question: Question, e: Evidence, sources: Sources | None, there: set[str]) -> Item:
    out = Item(e)
    names = [*e.on, *([e.of] if e.of else [])]
    out.lost = tuple(ref for ref in names if ref not in there and not ref.startswith("output:"))
    records: set[str] = set(names)
    assumptions: set[str] = set()
    unknown = _unknown(question, e)
    if unknown:
        out.why = f"it names {', '.join(unknown)}, which is no alternative of this question"
    elif not e.counts:
        out.why = "set aside by the user"
    elif out.lost:
        out.why = f"it rests on {', '.join(out.lost)}, which is no longer there: look at it again"
    elif e.judged is not None:
        out.log, out.how = _judged(question, e), f"judged: {e.judged.words or 'a ratio'}"
        number = sources.number(e.of) if sources is not None and e.of else None
        _gather(records, assumptions, number)
        _note(out, e.of or "", number)
    elif e.reading:
        _read(question, e, sources, out, records)
    else:
        _predicted(question, e, sources, out, records, assumptions)
    own = {r for r in names if not r.startswith("output:")}
    out.basis = Basis(frozenset(records), frozenset(assumptions), frozenset(own), e.group, e.apart)
    return out


def _unknown(question: Question, e: Evidence) -> list[str]:
    named = set(e.predicted)
    if e.judged is not None:
        named |= {*e.judged.favours, *e.judged.over}
    for ids in e.means.values():
        named |= set(ids)
    return sorted(named - set(question.ids))


def _vectors(
    question: Question, favours: Sequence[str], over: Sequence[str], ratio: tuple[float, float, float]
) -> Array:
    """(3, A) log likelihoods: log ratio where favoured, 0 where not, half of it between."""
    over = over or [a for a in question.ids if a not in favours]
    place = np.array([1.0 if a in favours else 0.0 if a in over else 0.5 for a in question.ids])
    return np.log(np.asarray(ratio))[:, None] * place


def _judged(question: Question, e: Evidence) -> Array:
    assert e.judged is not None
    return _vectors(question, e.judged.favours, e.judged.over, e.judged.range)


def _read(question: Question, e: Evidence, sources: Sources | None, out: Item, records: set[str]) -> None:
    found = next((r for r in readings(sources, e.area) if reading_name(r) == e.reading), None) if sources else None
    if found is None:
        out.why = f"the {e.area} sheet does not say so now"
        return
    favours, over = e.means.get(found.favours, []), e.means.get(found.over, [])
    if not favours:
        out.why = f"nothing here stands for {found.favours!r}"
        return
    out.log = _vectors(question, favours, over, (found.ratio, found.low, found.high))
    out.how = f"{e.area} sheet: {found.seen}; {found.rule} ({found.source})"
    out.figures[f"reading:{e.area}, {found.favours} over {found.over}"] = (
        float(found.ratio), float(found.low), float(found.high), "1",
    )  # fmt: skip
    records.update(found.rests_on)
    points = {r.partition(":")[2] for r in found.rests_on if r.startswith("point:")}
    if points and sources is not None:  # a point was seen by its marks
        records.update(f"mark:{m.id}" for m in sources.reader.all(Mark) if m.point in points and not m.set_aside)


def readings(sources: Sources, area: str) -> list[Any]:
    """A sheet's own evidence: what was seen, and, of cooling, what the calculation says for one plumbing over another."""
    runs = sources.outcomes(area)
    first = runs.get("")
    out = list(first.inner.get("evidence", [])) if first is not None else []
    out = [r for r in out if hasattr(r, "favours")]
    if area == "cooling" and len(runs) > 1:
        from longlens.systems.cooling.variants import evidence

        out += evidence(runs)
    return out


def reading_name(r: Any) -> str:
    """How a reading is named in an item of evidence."""
    return f"{r.subject}|{r.favours}|{r.over}"


def _predicted(
    question: Question, e: Evidence, sources: Sources | None, out: Item, records: set[str], assumptions: set[str]
) -> None:
    assert e.of is not None
    measured = sources.number(e.of) if sources is not None else None
    if measured is None or measured.shape:
        out.why = f"{e.of} has no value now"
        return
    _gather(records, assumptions, measured)
    _note(out, e.of, measured)
    draws: dict[str, Array] = {}
    for a in question.alternatives:
        p = e.predicted.get(a.id)
        if p is None:
            draws[a.id] = np.array([])
            continue
        made = _prediction(p, e.id, a.id, measured, sources)
        if made is None:
            out.why = f"what {a.text} predicts has no value now"
            return
        _gather(set(), assumptions, made if p.output else None)
        if p.output:
            place = f" [{p.at}]" if p.at is not None else ""
            _note(out, f"output:{p.area}.{p.output}{place}{f', {p.variant}' if p.variant else ''}", made)
        draws[a.id] = made.draws
    # no prediction at all from something that is not the rest would be a free pass
    bare = [a.text for a in question.alternatives if a.id not in e.predicted and not a.rest]
    logs = log_likelihoods(draws, measured.draws, e.model_sd)
    table = np.array([logs[a] for a in question.ids]).T
    out.log = table - table.max(axis=1, keepdims=True)
    doubted = tried(draws, measured.draws, e.model_sd)
    out.tries = doubted - doubted.max(axis=1, keepdims=True)
    out.how = (
        f"computed: density of {measured} under each prediction; its range takes each predicted spread "
        f"as 1/{DOUBT:g} to {DOUBT:g} times what was given (assumed) and other draws as likely"
    )
    if bare:
        out.how += f"; {', '.join(bare)} predicts nothing and gets a wide spread"


def _prediction(p: Prediction, item: str, alternative: str, measured: Number, sources: Sources | None) -> Number | None:
    from longlens.errors import UnusableInput
    from longlens.numbers import units
    from longlens.numbers.distributions import Normal
    from longlens.numbers.number import assumed

    if p.output:
        found = sources.output(p.area, p.variant, p.output, p.at) if sources is not None else None
        unit = found.unit if found is not None else measured.unit
    else:
        assert p.value is not None and p.sd is not None
        found = assumed(
            f"{item}/{alternative}", Normal(p.value, p.sd), p.unit, reason=p.why or "predicted", draws=measured.n
        )
        unit = found.unit
    if found is not None and unit != measured.unit and not units.same_quantity(unit, measured.unit):
        raise UnusableInput(
            f"{alternative} predicts {unit}, but {measured.unit} was measured",
            where=f"evidence {item!r}",
            fix="give the prediction's unit",
        )
    return found


def _note(out: Item, ref: str, number: Number | None) -> None:
    if number is not None and not number.shape:
        out.figures[ref] = (float(number.value), float(number.low), float(number.high), number.unit)


def _gather(records: set[str], assumptions: set[str], number: Number | None) -> None:
    if number is None:
        return
    records.update(number.origin.records())
    assumptions.update(o.line() for o in number.origin.walk() if o.kind == "assumed")


# Groups and ranges -----------------------------------------------------------------------------------------


def _group(members: tuple[str, ...], items: dict[str, Item]) -> Group:
    logs = [items[m].log for m in members]
    weight = [float(np.ptp(x[0])) for x in logs]  # type: ignore[index]
    k = int(np.argmax(weight))
    chosen, tries = np.array(logs[k]), items[members[k]].tries
    if len({int(np.argmax(x[0])) for x, w in zip(logs, weight, strict=True) if w > 0}) > 1:  # type: ignore[index]
        chosen[1], tries = 0.0, None  # members of one group contradict each other: at its weak end it says nothing
    return Group(members, members[k], chosen, tries)


def _in_ranges(groups: Sequence[Group], count: int) -> Array:
    """Log likelihoods (draws, A) of all groups together, each anywhere in its range; (1, A) where nothing has a range.

    A judged range is taken as the central 95 % of a normal with two halves about the likely weight; of a computed one its
    tries are drawn. Groups vary independently.
    """
    if all(g.tries is None and np.all(g.log == g.log[0]) for g in groups):
        return np.sum([g.log[0] for g in groups], axis=0).reshape(1, -1) if groups else np.zeros((1, count))
    rng = np.random.default_rng(SEED)
    total = np.zeros((RANGE_DRAWS, count))
    for g in groups:
        if g.tries is not None:
            total += g.tries[rng.integers(0, len(g.tries), RANGE_DRAWS)]
            continue
        z = rng.standard_normal((RANGE_DRAWS, 1)) / 1.959963984540054
        total += g.log[0] + np.where(z < 0, -z * (g.log[1] - g.log[0]), z * (g.log[2] - g.log[0]))
    return total


def _central(values: Array, likely: float) -> tuple[float, float]:
    """Ends of the central 95 %, drawn out to hold the likely value."""
    low, high = (float(x) for x in np.quantile(values, (0.025, 0.975)))
    return min(low, likely), max(high, likely)


def _explain(found: Weighed, prior: Array, weights: Array) -> None:
    ids = found.question.ids
    lead, second = (ids.index(a.id) for a in found.order[:2])
    spread = _in_ranges(found.groups, len(prior))
    ratio = float(np.sum(weights[:, lead] - weights[:, second]))
    ends = _central(spread[:, lead] - spread[:, second], ratio)
    with np.errstate(over="ignore"):
        found.support = (float(np.exp(ratio)), float(np.exp(ends[0])), float(np.exp(ends[1])))
    without = bayes.dropped(prior, weights)
    for g, row in zip(found.groups, without, strict=True):
        ranged = (g.log if g.tries is None else g.tries) / np.log(10)
        g.contribution = float(g.log[0, lead] - g.log[0, second]) / float(np.log(10))
        d = ranged[:, lead] - ranged[:, second]
        g.low, g.high = (float(d.min()), float(d.max())) if g.tries is None else _central(d, g.contribution)
        g.without = dict(zip(ids, map(float, row), strict=True))
        g.turns = int(np.argmax(row)) != lead
    turn = bayes.fewest_to_turn(prior, weights)
    found.turn = None if turn is None else [found.groups[i].speaks for i in turn]
    found.assumptions = _that_turn(found, prior, weights, lead)


def _that_turn(found: Weighed, prior: Array, weights: Array, lead: int) -> list[tuple[str, str]]:
    """Assumptions and records without which another alternative leads: everything that rests on one goes with it."""
    bases = {i.evidence.id: i.basis for i in found.items}
    resting: dict[str, set[int]] = {}
    for k, g in enumerate(found.groups):
        for what in (*bases[g.speaks].assumptions, *bases[g.speaks].records):
            resting.setdefault(what, set()).add(k)
    out = []
    for what, which in resting.items():
        if len(which) < 2 and what.partition(":")[0] in RECORDS:  # one item alone: told by leaving it out
            continue
        left = np.delete(weights, sorted(which), axis=0).sum(axis=0)
        then = int(np.argmax(bayes.posterior(prior, left)))
        if then != lead:
            out.append((what, found.question.ids[then]))
    return sorted(out, key=lambda x: (x[0].partition(":")[0] in RECORDS, x[0]))[:12]


def _remark(found: Weighed, prior: Array, sources: Sources | None) -> None:
    say = found.remarks.append
    if found.refuted:
        say(found.sentence())
    for k, a in enumerate(found.question.alternatives):
        if prior[k] == 0:
            weight = sum(g.log[0] for g in found.groups) if found.groups else np.zeros(len(prior))
            if np.argmax(weight) == k and np.ptp(weight) > np.log(10):
                say(
                    f"the evidence speaks for {a.text}, but its prior is zero, which no evidence can raise: give it a small one"
                )
            else:
                say(f"{a.text} has a prior of zero: no evidence can ever raise it")
    for i in found.items:
        if i.log is None:
            say(f"{i.evidence.text}: does not count ({i.why})")
    for g in found.groups:
        if len(g.items) > 1:
            say(f"{', '.join(g.items)} rest on the same and count once, as {g.speaks}")
    if not any(a.rest for a in found.question.alternatives):
        say("no alternative stands for something else: the probabilities hold only if one of these is right")
    say(f"words after the {verbal.GUIDELINE}; they grade the evidence, not the explanation")
    if sources is not None:
        found.remarks += list(dict.fromkeys(sources.remarks))


def _relative(log: Array) -> list[float]:
    return [float(x) for x in np.exp(log - np.max(log))]
