"""What collectors, connectors and pipes that were seen say about passes and direction.

Each reading is evidence: a likelihood ratio with its range between two alternatives, the rule behind it, and the
records of the dossier that it rests on. The rules are common practice in the trade, without a published source; the
ratios are this project's judgement and are marked so. A reading that was not made says nothing and yields no evidence.
Where a reading hangs on measured diameters, its strength goes with the share of the draws in which it holds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

Array = Any
COMMON_PRACTICE = "common practice, no source"
#: A collector that narrows by less than a tenth is straight for the eye.
STRAIGHT = 0.9
#: Between 0.71 (half the flow at the same speed) and 1 (all of it).
HALF_FLOW_DIAMETER = 0.88
#: What the plumbing of two cores can be; "one loop" is the first two together.
SCHEMES = ("parallel", "series", "two loops")
_ODD_AND_EVEN = "with an odd number of passes inlet and outlet lie on opposite collectors, with an even number on one"
_HALF_THE_FLOW = "half the flow at the same speed needs 0.71 of the diameter; in series the diameter stays"


@dataclass(frozen=True)
class CollectorReading:
    """What was seen of one core; None means not seen.

    same_side : both connectors on one collector. same_end : on different collectors, both at the same end.
    taper : small over large diameter of a collector along its length (1 = straight), a figure or its draws.
    thick_at_connector : the collector is thickest at its connector. step : a step or a blank weld half-way along a collector.
    inlet_diameter, outlet_diameter : of the connectors, m. connectors : how many on the core.
    inlet_high : the warm connector lies higher than the cold one. bleed_at_top : a bleed stub at the top.
    rests_on : records of the dossier looked at, ``kind:id``.
    """

    core: str
    same_side: bool | None = None
    same_end: bool | None = None
    taper: Array | None = None
    thick_at_connector: bool | None = None
    step: bool | None = None
    inlet_diameter: Array | None = None
    outlet_diameter: Array | None = None
    connectors: int | None = None
    inlet_high: bool | None = None
    bleed_at_top: bool | None = None
    rests_on: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlumbingReading:
    """What was seen of the pipes between two cores; None means not seen.

    pipes_between : pipes from one core straight to the other. tees : branchings in the supply or return.
    supply_diameter, branch_diameter : m, of the pipe before and behind a branching, figures or draws. pumps, tanks :
    how many were seen of each. rests_on : records of the dossier looked at, ``kind:id``.
    """

    cores: tuple[str, str]
    pipes_between: int | None = None
    tees: int | None = None
    supply_diameter: Array | None = None
    branch_diameter: Array | None = None
    pumps: int | None = None
    tanks: int | None = None
    rests_on: tuple[str, ...] = ()


class Evidence(NamedTuple):
    """One item for the claims floor: what it favours over what, and how strongly (ratio with range).

    subject : the core, or "left and right".
    question : "passes", "feed", "connector" or "plumbing".
    favours, over : alternatives; of a core "single pass" or "even number of passes", "top feed" or "bottom feed",
        "connector where seen" or "connector elsewhere (hidden)"; of two cores those of :data:`SCHEMES`, or "one loop".
    ratio, low, high : probability of the reading under ``favours`` over that under ``over``; ratio at least 1 (low may
        lie below).
    seen : the reading, in words. rule, source : why it speaks. rests_on : records of the dossier, ``kind:id``.
    """

    subject: str
    favours: str
    over: str
    ratio: float
    low: float
    high: float
    seen: str
    rule: str
    source: str = COMMON_PRACTICE
    rests_on: tuple[str, ...] = ()
    question: str = ""

    def as_json(self) -> dict[str, Any]:
        """Plain types."""
        return {**self._asdict(), "rests_on": list(self.rests_on)}


_QUESTIONS = {
    "single pass": "passes",
    "even number of passes": "passes",
    "top feed": "feed",
    "bottom feed": "feed",
    "connector where seen": "connector",
    "connector elsewhere (hidden)": "connector",
}


def read_collectors(reading: CollectorReading) -> list[Evidence]:
    """Evidence on passes and flow direction of one core."""
    return _kept([rule(reading) for rule in _COLLECTOR_RULES], reading.rests_on)


def read_plumbing(reading: PlumbingReading) -> list[Evidence]:
    """Evidence on parallel, series or two loops for a pair of cores."""
    return _kept([rule(reading) for rule in _PLUMBING_RULES], reading.rests_on)


def _kept(found: list[Evidence | None], rests_on: tuple[str, ...]) -> list[Evidence]:
    return [
        item._replace(rests_on=rests_on, question=_QUESTIONS.get(item.favours, "plumbing"))
        for item in found
        if item is not None
    ]


def _weighed(
    subject: str,
    pair: tuple[str, str],
    if_so: tuple[float, ...],
    if_not: tuple[float, ...],
    share: float,
    seen: str,
    rule: str,
) -> Evidence | None:
    """Evidence of a reading that holds in ``share`` of the draws: the logarithms of both ratios, averaged.

    ``if_so`` and ``if_not``: ratio, low, high for the first of the pair over the second; below one it turns round.
    """
    ratio, low, high = np.exp(share * np.log(if_so) + (1.0 - share) * np.log(if_not))
    favours, over = pair
    if ratio < 1.0:
        favours, over = over, favours
        ratio, low, high = 1.0 / ratio, 1.0 / high, 1.0 / low
    if ratio < 1.05:
        return None  # it says nothing
    middle, least, most = (float(f"{value:.2g}") for value in (ratio, low, high))
    return Evidence(subject, favours, over, middle, least, most, seen, rule)


def _same_side(r: CollectorReading) -> Evidence | None:
    if r.same_side is None:
        return None
    if r.same_side:
        return Evidence(
            r.core, "even number of passes", "single pass", 15.0, 5.0, 50.0,
            "both connectors on one collector",
            _ODD_AND_EVEN,
        )  # fmt: skip
    return Evidence(
        r.core, "single pass", "even number of passes", 15.0, 5.0, 50.0,
        "connectors on opposite collectors",
        _ODD_AND_EVEN,
    )  # fmt: skip


def _step(r: CollectorReading) -> Evidence | None:
    if not r.step:
        return None
    return Evidence(
        r.core, "even number of passes", "single pass", 5.0, 2.0, 15.0,
        "a step or weld half-way along a collector",
        "a baffle divides a collector where a pass turns, and often shows as a step or a weld",
    )  # fmt: skip


def _taper(r: CollectorReading) -> Evidence | None:
    if r.taper is None or r.thick_at_connector is None:
        return None
    tapers = float(np.mean(np.asarray(r.taper) < STRAIGHT))
    taper = float(np.median(r.taper))
    if tapers < 0.05:
        return None
    if not r.thick_at_connector:
        return _weighed(
            r.core, ("connector elsewhere (hidden)", "connector where seen"), (3.0, 1.5, 8.0), (1.0, 1.0, 1.0), tapers,
            f"collector tapers to {taper:.2f} away from no connector",
            "a collector is thickest at its connector, because all of the flow passes there",
        )  # fmt: skip
    strength = 3.0 if taper > 0.7 else 6.0
    return _weighed(
        r.core, ("single pass", "even number of passes"), (strength, 1.5, 15.0), (1.0, 1.0, 1.0), tapers,
        f"collector tapers to {taper:.2f} from its connector",
        "a taper all along suits one pass, whose flow falls off steadily; a baffled collector is straight",
    )  # fmt: skip


def _inlet_high(r: CollectorReading) -> Evidence | None:
    if r.inlet_high is None:
        return None
    favours, over = ("top feed", "bottom feed") if r.inlet_high else ("bottom feed", "top feed")
    return Evidence(
        r.core, favours, over, 3.0, 1.5, 8.0,
        "the warm connector is the " + ("higher" if r.inlet_high else "lower") + " one",
        "warm coolant enters high and air gathers at the bleed; bottom feed pushes the air out with it",
    )  # fmt: skip


def _between(r: PlumbingReading) -> Evidence | None:
    if r.pipes_between is None:
        return None
    if r.pipes_between == 1:
        return Evidence(
            " and ".join(r.cores), "series", "parallel", 10.0, 3.0, 30.0,
            "one pipe runs straight from core to core",
            "in series one pipe links the cores; in parallel each has a branch of supply and return",
        )  # fmt: skip
    if r.pipes_between >= 2:
        return Evidence(
            " and ".join(r.cores), "parallel", "series", 4.0, 1.5, 10.0,
            f"{r.pipes_between} pipes run between the cores",
            "a supply and a return cross over when both cores hang on the same pair of pipes",
        )  # fmt: skip
    return Evidence(
        " and ".join(r.cores), "two loops", "series", 5.0, 2.0, 15.0,
        "no pipe runs between the cores",
        "without a pipe between them the cores are fed from elsewhere, each by its own pair",
    )  # fmt: skip


def _own_pairs(r: PlumbingReading) -> Evidence | None:
    """Without a pipe from core to core, one loop that is left can only be parallel."""
    if r.pipes_between != 0:
        return None
    return Evidence(
        " and ".join(r.cores), "parallel", "series", 5.0, 2.0, 15.0,
        "no pipe runs between the cores",
        "in series one pipe links the cores; in parallel each has a branch of supply and return",
    )  # fmt: skip


def _tees(r: PlumbingReading) -> Evidence | None:
    if not r.tees:
        return None
    return Evidence(
        " and ".join(r.cores), "parallel", "series", 12.0, 4.0, 40.0,
        f"{r.tees} branching{'s' if r.tees > 1 else ''} in the pipes",
        "a parallel circuit needs a branching before and a joining behind the cores",
    )  # fmt: skip


def _diameters(r: PlumbingReading) -> Evidence | None:
    if r.supply_diameter is None or r.branch_diameter is None:
        return None
    ratio = np.asarray(r.branch_diameter, dtype=float) / np.asarray(r.supply_diameter, dtype=float)
    return _weighed(
        " and ".join(r.cores), ("parallel", "series"), (4.0, 1.5, 12.0), (1 / 1.5, 1 / 3.0, 1.0),
        float(np.mean(ratio < HALF_FLOW_DIAMETER)),
        f"the pipe at the core is {np.median(ratio):.2f} of the supply's diameter",
        _HALF_THE_FLOW,
    )  # fmt: skip


def _pumps(r: PlumbingReading) -> Evidence | None:
    seen = max(r.pumps or 0, r.tanks or 0)
    if r.pumps is None and r.tanks is None:
        return None
    if seen >= 2:
        return Evidence(
            " and ".join(r.cores), "two loops", "one loop", 8.0, 3.0, 25.0,
            f"{r.pumps or '?'} pumps, {r.tanks or '?'} tanks",
            "each loop has a pump and a place to fill and bleed it",
        )  # fmt: skip
    return Evidence(
        " and ".join(r.cores), "one loop", "two loops", 2.0, 1.0, 5.0,
        "no more than one pump and one tank seen",
        "each loop has a pump and a place to fill and bleed it; a second one may be hidden",
    )  # fmt: skip


_COLLECTOR_RULES: tuple[Callable[[Any], Evidence | None], ...] = (_same_side, _step, _taper, _inlet_high)
_PLUMBING_RULES: tuple[Callable[[Any], Evidence | None], ...] = (_between, _own_pairs, _tees, _diameters, _pumps)
