"""Sentences of the structure sheet, every figure in them computed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from longlens.numbers import display
from longlens.systems import stated
from longlens.systems.run import Outcome
from longlens.systems.sheet import Finding
from longlens.systems.structure.crash import ABSORBERS, GRAVITY, RULES

#: Slenderness beyond which a member is a tie: columns are kept under 200 to 250 (common practice, no source).
TIE = 250.0


def rules(outcome: Outcome) -> Iterator[Finding]:
    """Each rule against the crush that there is."""
    mean, crush, early = (outcome.number(n) for n in ("rule_deceleration", "crush", "rule_early"))
    for k, name in enumerate(outcome.axes["rule"]):
        rule = RULES[name]
        within = float(np.mean(mean.draws[:, k] <= rule.mean_g * GRAVITY))
        least = outcome.number("rule_least_length").draws[0, k]
        long_enough = float(np.mean(crush.draws >= least))
        text = (
            f"{rule.meaning} ({rule.mass:.0f} kg at {rule.speed:.0f} m/s, {rule.impact / 1e3:.1f} kJ): {crush} of crush mean "
            f"{mean.at(k)} of deceleration against {rule.mean_g:.0f} g allowed, within it in {display.percent(within)} of "
            f"the draws; "
            f"at the rule's limits it takes {least * 1e3:.0f} mm, and that much crushes in {display.percent(long_enough)}"
        )
        yield Finding(
            "note" if min(within, long_enough) > 0.5 else "caution", f"{text} ({rule.source})", ("rule_deceleration",)
        )
        if rule.first_g is not None:
            ok = float(np.mean(early.draws[:, k] <= rule.first_g * GRAVITY))
            yield Finding(
                "note",
                f"over the first 150 mm an even wall gives {early.at(k)} where {rule.first_g:.0f} g are allowed (within in "
                f"{display.percent(ok)}): "
                + ("its wall grows towards the rear" if ok < 0.5 else "an even wall may do"),
                ("rule_early",),
            )


def walls(outcome: Outcome) -> Iterator[Finding]:
    """Which material would need a usual wall."""
    wall = outcome.number("wall_needed")
    for k, name in enumerate(outcome.axes["material"]):
        a = ABSORBERS[name]
        usual = float(outcome.number("wall_usual").draws[0, k])
        under = float(np.mean(wall.draws[:, k] < a.usual[0]))
        word = "usual" if usual > 0.5 else ("thinner than usual" if under > 0.5 else "thicker than usual")
        low, high = (f"{x * 1e3:.1f}" for x in a.usual)
        often = display.percent(usual if usual > 0.5 else 1 - usual)
        yield Finding(
            "note",
            f"in {name} it would take a mean wall of {wall.at(k)}: {word} ({low} to {high} mm) in {often} of the draws; "
            f"{a.source}",
            ("wall_needed",),
        )


def members(outcome: Outcome) -> Iterator[Finding]:
    """What each tube carries, and the use where a load is known."""
    push, slender = outcome.number("member_push"), outcome.number("member_slender")
    for k, name in enumerate(outcome.axes["member"]):
        text = f"{name.replace('_', ' ')} bears {push.at(k)} in compression and {outcome.number('member_pull').at(k)} in tension"
        if float(np.median(slender.draws[:, k])) > TIE:
            text += f"; with a slenderness of {slender.at(k)} it is a tie and not meant to push"
        yield Finding("note", text + "; joints not looked at", ("member_push",))
    use = outcome.get("member_use")
    if use is not None:
        for k, name in enumerate(outcome.axes["loaded_member"]):
            over = float(np.mean(use.draws[:, k] > 1))
            yield Finding(
                "caution" if over > 0.05 else "note",
                f"{name.replace('_', ' ')} uses {use.at(k)} of it; over it in {display.percent(over)} of the draws",
                ("member_use",),
            )


def parts(outcome: Outcome) -> Iterator[Finding]:
    """Use of sections with known moments."""
    use = outcome.number("part_use")
    for k, name in enumerate(outcome.axes["stressed_part"]):
        over = float(np.mean(use.draws[:, k] > 1))
        yield Finding(
            "caution" if over > 0.05 else "note",
            f"{name.replace('_', ' ')}: {outcome.number('part_stress').at(k)}, {use.at(k)} of what its material yields at",
            ("part_use",),
        )


def seen(outcome: Outcome) -> Iterator[Finding]:
    """What the surfaces suggest."""
    for e in outcome.inner["evidence"]:
        yield Finding(
            "note",
            f"{e.subject}: {e.seen}; speaks {e.ratio:g} ({e.low:g} to {e.high:g}) to 1 for {e.favours} over {e.over}, "
            f"because {e.rule} "
            f"({e.source})",
        )


ALL = (rules, walls, members, parts, seen, stated.say)
