"""Sentences of the aero sheet, every figure in them computed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from longlens.numbers import display
from longlens.systems import stated
from longlens.systems.aero.aerofoil import FREE_LIMIT_SOURCE
from longlens.systems.aero.floor import HOLDS_TO
from longlens.systems.aero.lifting_line import prandtl_sigma
from longlens.systems.aero.streams import Stream
from longlens.systems.run import Outcome
from longlens.systems.sheet import Finding
from longlens.systems.told import listed, mostly_from, plain

#: Gaps over the whole chord at which a slot works.
USUAL_GAP = (0.007, 0.035)


def together(outcome: Outcome) -> Iterator[Finding]:
    """Downforce, drag and balance at 200 km/h, as bounds."""
    force = outcome.number("downforce").at(9)
    low, high = float(force.low) / 1e3, float(force.high) / 1e3
    yield Finding(
        "note",
        f"at 200 km/h between {low:.1f} and {high:.1f} kN of downforce, "
        f"{outcome.number('balance')} of it on the front axle, for {outcome.number('drag').at(9)} of drag: bounds of "
        "what such shapes carry, no measurement",
        ("downforce", "drag", "balance"),
    )
    if told := mostly_from(outcome, "lift_area", "the downforce's"):
        yield Finding("note", told, ("lift_area",))


def shares(outcome: Outcome) -> Iterator[Finding]:
    """Which part carries most."""
    part = outcome.number("part_downforce")
    names = outcome.axes["part"]
    middle = np.nanmedian(part.draws, axis=0)
    best = [k for k in np.argsort(-middle) if middle[k] > 0][:3]
    if best:
        told = ", ".join(f"{plain(names[k])} {part.at(int(k))}" for k in best)
        yield Finding("note", f"most of it by {told} at 200 km/h", ("part_downforce",))


def limits(outcome: Outcome) -> Iterator[Finding]:
    """Wings beyond their limit, and too near the road."""
    use = outcome.number("wing_use")
    for k, (wing, found, _) in enumerate(outcome.inner["tables"]):
        over = float(np.mean(use.draws[:, k] > 1))
        name = plain(wing.name)
        if over > 0.05:
            yield Finding(
                "caution" if over > 0.5 else "note",
                f"{name} is set beyond the lift its sections can give in {display.percent(over)} of the draws: its downforce is "
                f"held at that limit, and it may be stalled ({FREE_LIMIT_SOURCE})",
                ("wing_use",),
            )
        choked = float(np.mean(found[1].chokes))
        if choked > 0.05:
            yield Finding(
                "limit",
                f"{name} stands lower than a tenth of its chord in {display.percent(choked)} of the draws: the gap to the road "
                "chokes and the model does not hold",
                ("wing_lift_coefficient",),
            )
        aspect = float(np.median(wing.span**2 / wing.area))
        if aspect < 2:
            yield Finding("limit", f"{name} has an aspect ratio of {aspect:.1f}: a lifting line needs 2", ("wing_use",))
        over_span = float(np.median(wing.height / wing.span))
        if 1 / 30 < over_span < 0.25:
            saved = float(prandtl_sigma(over_span))
            yield Finding(
                "note",
                     f"the road takes {saved:.0%} off the induced drag of {name} (Wieselsberger), {over_span:.2f} spans over it",
                ("wing_drag_share",),
            )  # fmt: skip


def slots(outcome: Outcome) -> Iterator[Finding]:
    """Gaps between elements against those at which a slot works."""
    low, high = USUAL_GAP
    for wing, _, _ in outcome.inner.get("tables", ()):
        for k, element in enumerate(wing.elements):
            if element.gap is None or k == 0:
                continue
            share = np.asarray(element.gap) / np.asarray(wing.chord)
            outside = float(np.mean((share < low) | (share > high)))
            if outside > 0.5:
                yield Finding(
                    "caution",
                    f"the slot before element {k + 1} of {plain(wing.name)} is {np.median(share):.1%} of the "
                    f"chord: slots work "
                    f"at {low:.0%} to {high:.0%} (Smith 1975, from memory), so this flap gives less than is computed",
                    ("wing_angle",),
                )


def underneath(outcome: Outcome) -> Iterator[Finding]:
    """Diffuser angle and area ratio against what holds."""
    under = outcome.inputs["floor"].value  # type: ignore[union-attr]
    if under is None or under["floor"] is None:
        return
    f = under["floor"]
    angle = np.arctan2(f["exit_height"] - f["throat_height"], f["diffuser_length"])
    ratio = f["exit_height"] / f["throat_height"]
    text = f"the diffuser rises at {np.degrees(np.median(angle)):.0f}° and opens {np.median(ratio):.1f} times"
    steep = float(np.mean(angle > HOLDS_TO))
    if steep > 0.5:
        text += f", steeper than the {np.degrees(HOLDS_TO):.0f}° that flow follows without vortices"
    if np.median(ratio) > 3:
        text += ", more than such a short one can use"
    yield Finding("note", text + "; how well its sides seal cannot be seen", ("part_downforce",))


def heights(outcome: Outcome) -> Iterator[Finding]:
    """How far the car is pressed down, and what that wins."""
    drop = outcome.number("front_drop").at(9)
    yield Finding(
        "note",
        f"at 200 km/h the air presses the front down by {drop} and the rear by {outcome.number('rear_drop').at(9)}, which "
        f"changes the "
        f"downforce by {outcome.number('won_by_dropping')} against springs that do not give",
        ("front_drop", "rear_drop", "won_by_dropping"),
    )
    touching = outcome.inner["touching"]
    at = outcome.axes["speed"]
    hit = [k for k in range(len(at)) if touching[k] > 0.05]
    if hit:
        yield Finding(
            "caution",
            f"from {at[hit[0]] * 3.6:.0f} km/h on it touches the road in {display.percent(float(touching[hit[0]]))} of "
            f"the draws: stiffer "
            "springs, a heave element or bump stops must hold it up",
            ("front_drop", "rear_drop"),
        )
    for end, share in outcome.inner["on_stops"].items():
        on = [k for k in range(len(at)) if share[k] > 0.05]
        if on:
            yield Finding(
                "caution" if share[on[-1]] < 0.5 else "limit",
                f"from {at[on[0]] * 3.6:.0f} km/h on the {end} axle rests on its bump stops in "
                f"{display.percent(float(share[on[0]]))} of the draws, at {at[on[-1]] * 3.6:.0f} km/h in "
                f"{display.percent(float(share[on[-1]]))}: all the bump travel that the suspension looked at is used up there, "
                "and heights and balance hang on stops that nobody saw",
                (f"{end}_drop",),
            )  # fmt: skip
    restless = float(np.mean(outcome.inner["restless"][:, 9]))
    if restless > 0.02:
        yield Finding(
            "caution",
                 f"in {display.percent(restless)} of the draws no steady height was found at 200 km/h: it would pitch and heave",
            ("front_drop",),
        )  # fmt: skip


def in_the_way(outcome: Outcome) -> Iterator[Finding]:
    """What the obstacles take."""
    won, front = outcome.number("obstacle_downforce"), outcome.number("obstacle_front")
    names = outcome.axes["obstacle"]
    order = np.argsort(-np.median(won.draws, axis=0))[:3]
    for k in order:
        if np.median(won.draws[:, k]) > 0:
            drag = outcome.number("obstacle_drag").at(int(k))
            less = f", and {drag} less drag" if np.any(drag.draws) else ""
            yield Finding(
                "note",
                f"without {plain(names[k])} there would be {won.at(int(k))} more downforce at 200 km/h, "
                f"{front.at(int(k))} of it on the front axle{less}",
                ("obstacle_downforce", "obstacle_front"),
            )


def reached(outcome: Outcome) -> Iterator[Finding]:
    """What stream the wings behind others get."""
    stream, turn = outcome.number("wing_stream"), outcome.number("wing_turn")
    for k, name in enumerate(outcome.axes["wing"]):
        met = outcome.inner["wing_streams"][name]
        parts = []
        if np.median(stream.draws[:, k]) < 0.98:
            parts.append(f"{stream.at(k)} of the dynamic pressure{_taker(met)}")
        if abs(float(np.median(turn.draws[:, k]))) > np.radians(0.3):
            parts.append(f"a stream that the wing ahead has turned up by {turn.at(k)}, which takes from its angle")
        if parts:
            text = f"{plain(name)} gets {' and '.join(parts)}"
            yield Finding("note", text, ("wing_stream", "wing_turn"))
    yield from _too_close(outcome.inner["wing_streams"], ("wing_stream",))


def ducts(outcome: Outcome) -> Iterator[Finding]:
    """What each inlet gets, and from what; what the outlet's kind gives."""
    total, at_outlet = outcome.number("inlet_recovery"), outcome.number("outlet_pressure")
    inlets = outcome.inner["inlets"]
    told: dict[str, list[str]] = {}
    for k, (name, inlet) in enumerate(inlets.items()):
        why = []
        left = float(np.median(inlet.stream.pressure))
        if left < 0.98:
            why.append(f"wakes ahead leave {left:.0%}{_taker(inlet.stream)}")
        if (layer := float(np.median(inlet.layer))) < 0.995:
            why.append(f"the wall's layer {layer:.0%} of that")
        why.append("the rest is the mouth's own loss")
        text = f"{total.at(k)} of the dynamic pressure as total pressure ({'; '.join(why)})"
        told.setdefault(f"{text}; pressure coefficient {at_outlet.at(k)} at the outlet", []).append(plain(name))
        if np.median(np.abs(inlet.stream.turn)) > STEEP:
            degrees = np.degrees(np.median(inlet.stream.turn))
            text = f"the stream reaches {plain(name)} at {degrees:.0f}°: lips lose more than is said here"
            yield Finding("limit", text, ("opening_turn",))
    for text, names in told.items():
        yield Finding("note", f"{listed(names)}: {text}", ("inlet_recovery", "outlet_pressure"))
    yield from _too_close({n: i.stream for n, i in inlets.items()}, ("inlet_recovery",))


#: Turning of the stream (rad) from which the lips of an inlet lose: common practice, no source.
STEEP = np.radians(15)


def _taker(met: Stream) -> str:
    """Which thing ahead takes most, if it takes enough to be named."""
    worst = min(met.left, key=lambda n: float(np.median(met.left[n])), default="")
    if not worst or np.median(met.left[worst]) > 0.98:
        return ""
    return f" (mostly {plain(worst)})"


def _too_close(streams: Mapping[str, Stream], of: tuple[str, ...]) -> Iterator[Finding]:
    """Parts that a bubble may reach, by the body that makes it."""
    behind: dict[str, list[str]] = {}
    for name, met in streams.items():
        for body in met.close:
            behind.setdefault(body, []).append(plain(name))
    for body, names in behind.items():
        verb = "stand" if len(names) > 1 else "stands"
        yield Finding(
            "limit",
            f"{listed(names)} {verb} less than two widths behind {plain(body)}, where there is a bubble rather than a "
            "wake: the error of what is lost there counts twice",
            of,
        )


def by_position(outcome: Outcome) -> Iterator[Finding]:
    """What the adjustment spans."""
    lift = outcome.number("position_lift_area")
    names = outcome.axes["position"]
    middle = np.median(lift.draws, axis=0)
    a, b = int(np.argmin(middle)), int(np.argmax(middle))
    yield Finding("note",
         f"of the positions, {plain(names[a])} carries least ({lift.at(a)}) and {plain(names[b])} "
         f"most ({lift.at(b)})",
                  ("position_lift_area",))  # fmt: skip


ALL = (together, shares, limits, slots, underneath, heights, in_the_way, reached, ducts, by_position, stated.say)
