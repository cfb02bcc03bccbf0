"""Sentences of the running sheet, every figure in them computed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from longlens.numbers import display
from longlens.systems import stated
from longlens.systems.run import Outcome
from longlens.systems.running import steps
from longlens.systems.running.brakes import MATERIALS
from longlens.systems.running.grip import CLASSES
from longlens.systems.sheet import Finding
from longlens.systems.told import listed, mostly_from, plain

#: Difference of the axles' lateral limits beyond which a car is not driven: common practice, no source.
UNEVEN = 0.25


def mass(outcome: Outcome) -> Iterator[Finding]:
    """How the mass was had, and what share stands in front."""
    total, how = outcome.number("mass_running"), outcome.inner.get("mass_how", "")
    severity = "caution" if how.startswith("bounded") else "note"
    text = f"with driver it weighs {total} ({how}), {outcome.number('front_share_running')} of it "
    yield Finding(severity, text + "on the front axle", ("mass_running",))  # type: ignore[arg-type]


def grip(outcome: Outcome) -> Iterator[Finding]:
    """Where the band of the friction comes from."""
    if outcome.inputs["grip"].value["peak"] is not None:  # type: ignore[union-attr]
        return
    found = CLASSES[str(outcome.inputs["tyre_class"])]
    yield Finding(
        "note",
        f"friction as of {found.meaning}, {outcome.number('friction_peak')}: {found.source}; a photograph does not show the "
        "compound, the surface or the day",
        ("friction_peak",),
    )


def starting(outcome: Outcome) -> Iterator[Finding]:
    """Whether tyres or power set the start."""
    to = outcome.number("traction_limited_to")
    text = f"from rest to 100 km/h in {outcome.number('zero_to_100')}"
    share = float(np.mean(to.draws > steps.HUNDRED))
    if share > 0.5:
        text += f"; the tyres, not the power, set it up to about {to}"
    elif float(np.median(to.draws)) > steps.SPEEDS[0]:
        text += f"; the tyres set it up to about {to}, the power beyond"
    else:
        text += "; the power sets it nearly from rest"
    yield Finding("note", text, ("zero_to_100",))


def top(outcome: Outcome) -> Iterator[Finding]:
    """Top speed, and what holds it."""
    limit = outcome.get("gear_speed")
    text = f"power against drag allows {outcome.number('top_speed')}"
    if limit is not None:
        bound = float(np.mean(outcome.number("top_speed").draws >= limit.draws - 1e-9))
        text = f"top speed {outcome.number('top_speed')}; the gears end at {limit}"
        text += (
            f", before the power does, in {display.percent(bound)} of the draws"
            if bound > 0
            else ", which it never reaches"
        )
    yield Finding("note", text, ("top_speed",))


def balance(outcome: Outcome) -> Iterator[Finding]:
    """Which axle gives way first, slow and fast."""
    surplus = outcome.number("front_surplus")
    for k, word in ((2, "slow"), (10, "fast")):
        share = float(np.mean(surplus.draws[:, k] < 0))
        speed = steps.SPEEDS[k] * 3.6
        which = "front" if share >= 0.5 else "rear"
        often = display.percent(max(share, 1 - share))
        yield Finding(
            "note",
            f"{word} ({speed:.0f} km/h) the {which} axle gives way first in {often} of the draws, "
            f"at {outcome.number('lateral_limit').at(k)}",
            ("front_surplus", "lateral_limit"),
        )


def uneven(outcome: Outcome) -> Iterator[Finding]:
    """Axles so uneven at speed that nobody would drive the car: something that was taken must be otherwise."""
    surplus = outcome.number("front_surplus").at(10)
    middle = float(np.median(surplus.draws))
    if abs(middle) > UNEVEN:
        end, other = ("front", "rear") if middle > 0 else ("rear", "front")
        found = [d for d in outcome.drivers("front_surplus", 10, count=2) if d.share > 0.1]
        told = f"; the difference comes mostly from {listed([plain(d.name) for d in found])}" if found else ""
        speed = steps.SPEEDS[10] * 3.6
        yield Finding(
            "caution",
            f"at {speed:.0f} km/h the limit of the front axle lies {surplus} from the rear's: no car is driven so; the {end} "
            f"carries less downforce, or the {other} more, than was taken{told}",
            ("front_surplus",),
        )


def discs(outcome: Outcome) -> Iterator[Finding]:
    """Heat of the discs against what they bear."""
    axles = outcome.inputs["brakes"].value["axles"]  # type: ignore[union-attr]
    hot = outcome.number("sequence_temperature")
    for k, end in enumerate(outcome.axes["disc"]):
        material = MATERIALS[axles[end]["material"]]
        over = float(np.mean(hot.draws[:, k] > material.bears))
        low, value, high = (float(np.asarray(x)[k]) - 273.15 for x in (hot.low, hot.value, hot.high))
        yield Finding(
            "caution" if over > 0.5 else "note",
            f"{end} discs settle at {value:.0f} ({low:.0f} to {high:.0f}) °C just after each stop of the sequence; "
            f"{axles[end]['material']} bears about {material.bears - 273.15:.0f} °C ({material.source}): over it in "
            f"{display.percent(over)} of the draws",
            ("sequence_temperature",),
        )


def lap(outcome: Outcome) -> Iterator[Finding]:
    """The lap, for comparing."""
    track = outcome.inputs["track"].value  # type: ignore[union-attr]
    yield Finding(
        "note",
        f"{track.name} ({track.length:.0f} m): {outcome.number('lap_time')}, from {outcome.number('lap_slowest')} to "
        f"{outcome.number('lap_top')}; quasi-steady on the centre line with a perfect driver: for comparing variants",
        ("lap_time",),
    )


def battery(outcome: Outcome) -> Iterator[Finding]:
    """Range and laps."""
    far = outcome.number("range")
    capacity = outcome.inputs["battery"].value  # type: ignore[union-attr]
    laps = capacity["capacity"] * capacity["usable"] / outcome.number("lap_energy").draws
    low, middle, high = np.quantile(laps, [0.025, 0.5, 0.975])
    way = "round" if outcome.inputs["track"].value.closed else "from end to end"  # type: ignore[union-attr]
    yield Finding(
        "note",
        f"at a steady 100 km/h the battery lasts {far}; flat out on this track "
        f"{middle:.3g} ({low:.3g} to {high:.3g}) times {way}, nothing won back in braking",
        ("range", "lap_energy"),
    )


def drivers(outcome: Outcome) -> Iterator[Finding]:
    """What the lap time's width comes from."""
    if told := mostly_from(outcome, "lap_time", "the lap time's"):
        yield Finding("note", told, ("lap_time",))


ALL = (mass, grip, starting, top, balance, uneven, discs, lap, battery, drivers, stated.say)
