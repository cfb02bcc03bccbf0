"""Straight answers: short sentences, every figure in them computed, with what is usual, what it suggests and what
drives it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from longlens.numbers import display
from longlens.numbers.interval import share
from longlens.numbers.number import Number
from longlens.systems.run import Outcome
from longlens.systems.sheet import Finding
from longlens.systems.suspension.names import ENDS
from longlens.systems.suspension.pressed import SITS
from longlens.systems.suspension.reach import describe
from longlens.systems.suspension.usual import USUAL, Band

_ALONG = {"x": "lengthwise", "y": "across", "z": "in height"}


def _plain(number: Number) -> str:
    """Value and interval without the remark on lost draws, which the sheet makes once."""
    return str(number).partition("; no value")[0]


def _drives(outcome: Outcome, name: str) -> str:
    """What the interval mostly comes from."""
    found = [d for d in outcome.drivers(name, count=4) if d.share > max(0.08, 3 * d.se)]
    told: dict[str, str] = {}
    for d in found:
        told.setdefault(_without_side(d.name), f"{_input_in_words(d.name)} ({display.percent(d.share)})")
    return f"; the interval comes mostly from {' and '.join(list(told.values())[:2])}" if told else ""


def _without_side(name: str) -> str:
    """Left and right twins are one thing seen twice: named once."""
    return name.replace("left.", "").replace("right.", "").rpartition(".")[0]


def _input_in_words(name: str) -> str:
    base, _, axis = name.rpartition(".")
    if axis in _ALONG and base:
        return f"{_rod(base.removeprefix('hardpoints.'))} ({_ALONG[axis]})"
    return _rod(name.removeprefix("hardpoints."))


def _against(number: Number, band: Band) -> str:
    """Where the number lies against its usual band, by probability."""
    inside = share((number.draws >= band.low) & (number.draws <= band.high))
    low, high = (display.show(_like(number, v)) for v in (band.low, band.high))
    unit = high.partition(" ")[2]
    low = low.removesuffix(f" {unit}") if unit else low.removesuffix("°")
    usual = f"usual are {low} to {high} for {band.of} ({band.source})"
    under, over = float(np.mean(number.draws < band.low)), float(np.mean(number.draws > band.high))
    for share_out, where, what in ((over, "above", band.above), (under, "below", band.below)):
        if share_out > 0.9:
            return f"{usual}: {where}, {what}"
        if share_out > 0.5:
            return f"{usual}: {where} with {display.percent(share_out)} probability, then {what}"
    if inside.value > 0.975 and band.inside:
        return f"{usual}: {band.inside}"
    if inside.value < 0.9:
        return f"{usual}: inside with {display.percent(inside.value)} probability"
    return usual


def _like(number: Number, value: float) -> Number:
    return Number(np.full(number.n, value), number.unit, number.origin, shown=number.shown)


def motion_ratio(outcome: Outcome) -> Iterator[Finding]:
    """How far the spring moves."""
    for end in ENDS:
        name = f"spring_per_wheel_{end}"
        now = outcome.get(name)
        if now is None:
            continue
        stretched = float(np.mean(now.draws < 0))
        if stretched > 0.5:
            yield Finding(
                "caution",
                f"{end}: as marked the spring gets longer when the wheel rises "
                f"({display.percent(stretched)} of the draws), {abs(now)} times as far as the wheel: a spring carries "
                f"no car in that way, so rocker or spring ends are marked wrong, or belong to other parts",
                (name,),
            )
            continue
        bump = outcome.number(f"spring_per_wheel_bump_{end}")
        text = f"{end}: the spring moves {now} times as far as the wheel at ride height"
        if np.any(np.isfinite(bump.draws)):
            text += f" and {bump} times at full bump"
        rising = float(np.mean(bump.draws > now.draws))
        if max(rising, 1 - rising) > 0.9 and abs(bump.value / now.value - 1) > 0.02:
            text += ", progressive" if rising > 0.5 else ", falling off"
        yield Finding("note", f"{text}; {_against(now, USUAL['spring_per_wheel'])}{_drives(outcome, name)}", (name,))


def rotary(outcome: Outcome) -> Iterator[Finding]:
    """Rocker, bar and heave element."""
    for end in ENDS:
        said = []
        of = []
        rocker = getattr(outcome.inner.get(f"corner_{end}"), "has_rocker", False)
        for key, what in (
            ("rocker_per_wheel", "the rocker turns {}" if rocker else "the lower wishbone turns {}"),
            ("bar_per_wheel", "the anti-roll bar's arm turns {}"),
            ("damper_per_wheel", "the damper beside the spring moves {} times as far as the wheel"),
            ("heave_per_wheel", "the heave element moves {} times as far as both wheels"),
        ):
            number = outcome.get(f"{key}_{end}")
            if number is not None:
                said.append(
                    what.format(number) + (" of wheel travel" if key in ("rocker_per_wheel", "bar_per_wheel") else "")
                )
                of.append(f"{key}_{end}")
        if said:
            yield Finding("note", f"{end}: {', '.join(said)}", tuple(of))


def geometry(outcome: Outcome) -> Iterator[Finding]:
    """Camber, toe, roll centre, steering axis, anti-dive: one sentence each."""
    words: tuple[tuple[str, Callable[[str], str]], ...] = (
        ("camber_gain", lambda n: f"camber changes by {n} of bump"),
        ("bump_steer", lambda n: f"toe changes by {n} of bump, in positive"),
        ("roll_centre", lambda n: f"the roll centre stands {n} over the ground at ride height"),
        ("anti_braking", lambda n: f"the links take {n} of the load transfer in braking"),
    )
    for end in ENDS:
        for key, say in words:
            number = outcome.get(f"{key}_{end}")
            if number is not None:
                text = f"{end}: {say(str(number))}; {_against(number, USUAL[key])}{_drives(outcome, f'{key}_{end}')}"
                yield Finding("note", text, (f"{key}_{end}",))
        curve = outcome.get(f"roll_centre_curve_{end}")
        if curve is not None:
            low, high = _plain(curve.at(0)), _plain(curve.at(-1))
            yield Finding(
                "note",
                f"{end}: over the travel looked at the roll centre goes from {low} (rebound) to {high} (bump)",
                (f"roll_centre_curve_{end}",),
            )
    for key in ("caster", "kingpin_inclination"):
        number = outcome.get(f"{key}_front")
        if number is not None:
            name = key.replace("_", " ")
            yield Finding("note", f"front: {name} {number}; {_against(number, USUAL[key])}", (f"{key}_front",))


def steering(outcome: Outcome) -> Iterator[Finding]:
    """How much the wheels steer, and how near to rolling about one point."""
    rate, error = outcome.get("steer_per_rack_front"), outcome.get("ackermann_curve_front")
    if rate is not None and error is not None:
        at = error.at(-1)
        way = (
            "towards parallel steer"
            if float(np.mean(at.draws > 0)) > 0.5
            else "more than rolling about one point wants"
        )
        yield Finding(
            "note",
            f"front: the wheels steer {rate} of rack travel; at full rack the outer wheel is {_plain(at)} from "
            f"rolling about one point, {way}",
            ("steer_per_rack_front", "ackermann_curve_front"),
        )


def ride(outcome: Outcome) -> Iterator[Finding]:
    """Rates, frequencies, roll share, downforce."""
    for end in ENDS:
        rate, f = outcome.get(f"wheel_rate_{end}"), outcome.get(f"ride_frequency_{end}")
        if rate is not None and f is not None:
            text = f"{end}: the wheel rate is {rate}, the body rides at {f}; {_against(f, USUAL['ride_frequency'])}"
            text += _drives(outcome, f"ride_frequency_{end}")
            yield Finding("note", text, (f"wheel_rate_{end}", f"ride_frequency_{end}"))
        drop = outcome.get(f"downforce_drop_{end}")
        down = outcome.get(f"downforce_{end}")
        if drop is not None and down is not None and np.any(down.draws != 0):
            camber = outcome.number(f"downforce_camber_{end}")
            text = f"{end}: {down} of downforce lower the body by {_plain(drop)}; the wheels then stand at {_plain(camber)} "
            text += "of camber"
            beyond = 1.0 - float(np.mean(np.isfinite(drop.draws)))
            if beyond > 0.005:
                text += f"; in {display.percent(beyond)} of the draws the wheel goes beyond the travel looked at"
            yield Finding("note", text, (f"downforce_drop_{end}",))
    part = outcome.get("roll_share_front")
    if part is not None:
        text = f"the front axle has {part} of the roll stiffness; {_against(part, USUAL['roll_share_front'])}"
        unknown = [e for e in ENDS if f"bar_roll_{e}" in outcome.refused]
        if unknown:
            text += f"; the {' and '.join(unknown)} anti-roll bar is not known and left out"
        yield Finding("caution" if unknown else "note", text, ("roll_share_front",))


#: Drops found by both sheets may differ by so much, m.
APART = 2e-3


def at_speed(outcome: Outcome) -> Iterator[Finding]:
    """What the air does to each axle at the fastest speed that it stands off its stops, and where it sits on them."""
    for end in ENDS:
        stops = outcome.inner.get(f"stops_{end}")
        if not stops:
            continue
        share, speed, bump = stops["share"], stops["speed"], f"{stops['bump'] * 1e3:.0f} mm"
        given = outcome.get("bump")
        whose = ", assumed" if given is not None and given.kind == "assumed" else ""
        sits = np.flatnonzero(share > SITS)
        if len(sits):
            yield Finding(
                "limit",
                f"{end}: from {speed[sits[0]] * 3.6:.0f} km/h on the air presses the wheels through all their bump travel "
                f"({bump}{whose}) in {display.percent(float(share[sits[0]]))} of the draws: the car sits on its bump stops, and "
                "no travel, camber or ride height is given from there; a stiffer or heave spring that was not seen, or more bump "
                "travel, would change that",
                (f"speed_travel_{end}",),
            )  # fmt: skip
        if len(sits) and sits[0] == 0:
            continue
        upto = int(sits[0]) if len(sits) else len(speed)
        down = np.flatnonzero(stops["held"][:upto] > SITS)
        if len(down):
            yield Finding(
                "limit",
                f"{end}: from {speed[down[0]] * 3.6:.0f} km/h on the car touches the road in "
                f"{display.percent(float(stops['held'][down[0]]))} of the draws, which then carries what the springs do not",
                (f"speed_travel_{end}", f"speed_ride_height_{end}"),
            )  # fmt: skip
        k = (int(down[0]) if len(down) else upto) - 1
        travel, camber = (outcome.get(f"speed_{n}_{end}") for n in ("travel", "camber"))
        if k < 0 or travel is None or camber is None:
            continue
        yield _pressed_down(outcome, end, k, f"{bump} of bump{whose}", travel, camber)
        if stops["apart"] is not None and stops["apart"][k] > APART:
            yield Finding(
                "caution",
                f"{end}: the aero sheet settled {stops['apart'][k] * 1e3:.0f} mm from this drop: it was given another wheel rate "
                "or tyre; its clearance and this travel do not belong together",
                (f"speed_ride_height_{end}",),
            )  # fmt: skip


def _pressed_down(outcome: Outcome, end: str, k: int, bump: str, travel: Number, camber: Number) -> Finding:
    """One axle at one speed."""
    stops = outcome.inner[f"stops_{end}"]
    drop, ride = outcome.number(f"speed_drop_{end}"), outcome.get(f"speed_ride_height_{end}")
    text = f"{end}: at {stops['speed'][k] * 3.6:.0f} km/h the air lifts the wheels by {travel.at(k)} against the body and lowers "
    text += f"it by {drop.at(k)} with the tyres; camber is then {camber.at(k)}"
    text += f", the clearance {ride.at(k)}" if ride is not None else ""
    share, held = float(stops["share"][k]), float(stops["held"][k])
    if share > 0.05:
        text += f"; in {display.percent(share)} of the draws it rests on its stops ({bump})"
    if held > 0.05:
        text += f"; in {display.percent(held)} it touches the road"
    return Finding(
        "caution" if max(share, held) > 0.05 else "note", text, (f"speed_travel_{end}", f"speed_camber_{end}")
    )


def rods(outcome: Outcome) -> Iterator[Finding]:
    """The most loaded rods, and which one sets the limit."""
    for end in ENDS:
        force = outcome.get(f"rod_force_{end}")
        if force is not None:
            names, cases = outcome.axes[f"rod_{end}"], outcome.axes["case"]
            middle = np.nanmedian(force.draws, axis=0)
            k, j = (int(i) for i in np.unravel_index(int(np.nanargmax(np.abs(middle))), middle.shape))
            worst = force.at((k, j))
            kind = "tension" if middle[k, j] > 0 else "compression"
            yield Finding(
                "note",
                f"{end}: most loaded is the {_rod(names[k])}, {abs(worst)} in {kind} ({cases[j]})",
                (f"rod_force_{end}",),
            )
        if (told := _bar(outcome, end)) is not None:
            yield told
        used = outcome.get(f"rod_use_{end}")
        if used is None:
            continue
        names, cases = outcome.axes[f"sized_rod_{end}"], outcome.axes["case"]
        peak = np.nanmax(used.draws, axis=2)
        first = np.argmax(peak, axis=1)
        k = int(np.bincount(first, minlength=len(names)).argmax())
        j = int(np.nanargmax(np.nanmedian(used.draws[:, k], axis=0)))
        slender = outcome.inner.get(f"slender_{end}")
        buckling = slender is not None and float(np.mean(slender[:, k])) > 0.5
        pressed = (
            float(np.nanmedian(force.draws[:, outcome.axes[f"rod_{end}"].index(names[k]), j])) < 0 if force else False
        )
        how = ("buckling" if buckling else "yield with buckling (Johnson)") if pressed else "yield"
        chance = display.percent(float(np.mean(first == k)))
        over = float(np.mean(used.draws[:, k, j] > 1))
        text = (
            f"{end}: of the rods with a known diameter the {_rod(names[k])} sets the limit ({chance} of the "
            f"draws): it uses "
            f"{used.at((k, j))} of its strength in {cases[j]}, by {how}"
        )
        if over > 0.025:
            over_ = display.percent(over)
            text += f"; in {over_} of the draws more than all of it: load, wall or material differ from what is assumed"
        yield Finding("note", text, (f"rod_use_{end}",))
        bent = [w for x in outcome.inner.get(f"bending_{end}", []) for w in x]
        if bent:
            part = bent[0].replace("_", " ")
            yield Finding(
                "caution",
                f"{end}: the push- or pullrod sits on the {part} and bends it; its legs carry more than their "
                f"axial force says",
                (f"rod_use_{end}",),
            )


def _bar(outcome: Outcome, end: str) -> Finding | None:
    """The case in which the anti-roll bar carries most; that it was left out, where the rods are loaded without it."""
    torque, force = outcome.get(f"bar_torque_{end}"), outcome.get(f"rod_force_{end}")
    if force is None:
        return None
    if torque is None:
        why = outcome.refused[f"bar_torque_{end}"].why
        text = f"{end}: the rods' forces are without an anti-roll bar's: {why}"
        return Finding("note", text, (f"rod_force_{end}",)) if "bar_link" in _marked(outcome, end) else None
    middle = np.abs(np.nanmedian(torque.draws, axis=0))
    j = int(np.argmax(middle))
    if middle[j] < 1e-6:
        return None
    link = force.at((list(outcome.axes[f"rod_{end}"]).index("bar_link"), j))
    pushed = "outer" if float(np.nanmedian(link.draws)) < 0 else "inner"
    text = (
        f"{end}: in {outcome.axes['case'][j]} the anti-roll bar is twisted by {abs(torque.at((j,)))}; each of its links "
        f"carries {abs(link)}, the {pushed} wheel's in compression, the other in tension"
    )
    return Finding("note", text, (f"bar_torque_{end}", f"rod_force_{end}"))


def _marked(outcome: Outcome, end: str) -> set[str]:
    points = getattr(outcome.inner.get(f"corner_{end}"), "points", {})
    return {p.partition(".")[0] for p in points}


def _rod(name: str) -> str:
    return name.replace(".", " ").replace("_", " ")


def layout(outcome: Outcome) -> Iterator[Finding]:
    """Which layouts the marks allow, how the spring is actuated, what contradicts."""
    for end in ENDS:
        candidates = outcome.inner.get(f"candidates_{end}") or []
        consistent = [c for c in candidates if c.consistent]
        if candidates:
            told = consistent or candidates[:1]
            severity = "note" if consistent else "caution"
            yield Finding(severity, f"{end}: {'; '.join(c.sentence() for c in told)}")  # type: ignore[arg-type]
        guessed = outcome.inner.get(f"assumed_{end}") or {}
        if guessed:
            what = " and ".join(f"{_rod(p)} ({why})" for p, why in guessed.items())
            yield Finding(
                "caution",
                f"{end}: not seen well enough to place, and assumed where such joints sit: {what}; the figures of this axle "
                f"hang on it, and a mark on a second photograph narrows them",
            )
        joined = outcome.inner.get(f"joined_{end}")
        if joined is not None:
            if joined.gain() > 1.02:  # else the survey has coupled them itself
                yield Finding("note", f"{end}: {joined.summary()}")
            for told, test in joined.disagreeing():
                how = f"does not hold ({test:.1f} standard deviations): a wrong mark there"
                yield Finding("caution", f"{end}: between the stances {told} {how}")
        by = outcome.inner.get(f"actuation_{end}") or {}
        rod = {k: s for k, s in by.items() if k in ("pushrod", "pullrod")}
        if rod:
            best = max(rod, key=lambda k: rod[k])
            sure = "" if rod[best] > 0.995 else f" ({display.percent(rod[best])} of the draws)"
            way = "presses" if best == "pushrod" else "pulls"
            yield Finding("note", f"{end}: a {best}: it {way} on its rocker when the wheel rises{sure}")
        for name, d, test in outcome.inner.get(f"unequal_{end}") or []:
            yield Finding(
                "caution",
                f"{end}: {name} is {abs(d) * 1e3:.1f} mm {'longer' if d > 0 else 'shorter'} on the left than on "
                f"the right "
                f"({test:.1f} standard deviations): rods should be equal, so one of these marks is wrong",
            )


def reach(outcome: Outcome) -> Iterator[Finding]:
    """Positions that the linkage cannot take, with the pair of points."""
    for end in ENDS:
        motion = outcome.inner.get(f"motion_{end}")
        if motion is None:
            continue
        for text, part in describe(motion.reason).items():
            yield Finding(
                "limit",
                f"{end}: in {display.percent(part)} of draws and positions {text}: less travel, or a wrong mark "
                f"at these points",
                (f"spring_ratio_curve_{end}",),
            )


ALL = (layout, motion_ratio, rotary, geometry, steering, ride, at_speed, rods, reach)
