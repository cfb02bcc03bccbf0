"""The running page: acceleration, braking, corners, the lap, the maker's figures, loads under the wheels in the photograph."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from longlens.numbers.number import Number, lift
from longlens.studio import elements as el
from longlens.studio import sheet_parts as parts
from longlens.studio.frame import text
from longlens.studio.look import colour_of
from longlens.studio.pages import Page
from longlens.systems.running.grip import GRAVITY

if TYPE_CHECKING:
    from longlens.studio.desk import Desk
    from longlens.systems.run import Outcome

SYSTEM = "running"
PLAIN = (
    "zero_to_100", "zero_to_200", "top_speed", "traction_limited_to", "braking_distance_100", "lateral_limit_low", "mass_running",
    "front_share_running", "friction_peak", "gear_speed", "shaft_at_top", "range", "lap_time", "lap_top", "lap_slowest",
    "lap_full_share", "lap_energy", "lap_brake_energy",
)  # fmt: skip


def build(desk: Desk) -> None:
    """Fill the page."""
    parts.sheet_page(desk, "running", lambda outcomes: _filled(desk, outcomes))


def _filled(desk: Desk, outcomes: parts.Outcomes) -> None:
    first = outcomes[""]
    text("p", "An ideal driver on an ideal road: for comparing and excluding, not for driving by.", "ll-quiet")
    names = (("zero_to_100", "from rest to 100 km/h"), ("top_speed", "top speed"), ("braking_distance_100",
         "from 100 km/h to rest"),
             ("lateral_limit_low", "greatest lateral acceleration, slow"), ("lap_time", "time for the track"))  # fmt: skip
    el.named_numbers(desk, [(word, first.numbers.get(name)) for name, word in names], system=SYSTEM)
    parts.verdicts_told(desk, first, SYSTEM)
    if "transfer_front" in first.numbers:
        text("h2", "Loads under the wheels")
        parts.on_photograph(
            desk,
            shapes(desk, first),
            "Road on tyre in a hard left-hand corner at low speed: at rest, and what moves across",
        )
    text("h2", "Over speed")
    parts.curves(
        outcomes, (("acceleration", "driving"), ("braking_deceleration", "braking"), ("lateral_limit", "cornering")), "speed",
             "g0",
        says="Greatest driving, braking and lateral acceleration over speed, with 95 % bands", system=SYSTEM,
        title="acceleration", every=False,
    )  # fmt: skip
    parts.curves(
        outcomes, (("front_surplus", "front axle over rear axle"),), "speed", "%", title="front over rear",
        says="Lateral limit of the front axle over the rear axle: above zero the rear gives way first", system=SYSTEM,
             height="16rem",
    )  # fmt: skip
    parts.curves(
        outcomes, (("power_needed", "power for a steady speed"),), "speed", "kW", title="power",
        says="Shaft power needed for a steady speed", system=SYSTEM, height="16rem", every=False,
    )  # fmt: skip
    if "lap_speed" in first.numbers:
        track = first.inputs["track"].value  # type: ignore[union-attr]
        text("h2", f"The track: {track.name}, {track.length:.0f} m")
        parts.curves(
            outcomes,
            (("lap_speed", "speed"),),
            "way",
            "km/h",
            title="speed",
            says="Speed along the track",
            system=SYSTEM,
        )
        _map(first)
    text("h2", "Numbers")
    parts.side_by_side(desk, outcomes, PLAIN, SYSTEM, "by variant")
    parts.along(desk, first, "disc", ("stop_rise", "sequence_temperature", "brake_torque"), SYSTEM, "brakes")
    parts.variants_told(outcomes, ("zero_to_100", "top_speed", "braking_distance_100", "lateral_limit_low", "lap_time"))
    parts.sentences(first)
    parts.below(desk, first)


def _map(outcome: Outcome) -> None:
    """The track from above, its line the broader the faster it is driven."""
    track = outcome.inputs["track"].value  # type: ignore[union-attr]
    speed = np.interp(track.way, outcome.axes["way"], np.asarray(outcome.number("lap_speed").value)) * 3.6
    fig = el.figure("x (m)", "y (m)")
    ink = colour_of(SYSTEM)
    low, high = float(speed.min()), float(speed.max())
    fig.add_scatter(
        x=track.place[:, 0], y=track.place[:, 1], mode="markers", name="",
        marker={"size": 4 + 8 * (speed - low) / max(high - low, 1e-9), "color": ink, "line": {"width": 0}},
        text=[f"{v:.0f} km/h at {w:.0f} m" for v, w in zip(speed, track.way, strict=True)], hoverinfo="text",
    )  # fmt: skip
    fig.update_yaxes(scaleanchor="x", scaleratio=1)
    fig.update_layout(hovermode="closest", showlegend=False)
    el.chart(fig, f"The track from above, broad where it is fast: {low:.0f} to {high:.0f} km/h", height="24rem")
    text("p", f"Broad where it is fast, {low:.0f} to {high:.0f} km/h in the middle of the draws.", "ll-quiet")


def shapes(desk: Desk, outcome: Outcome) -> list[el.Shape]:
    """Loads under the wheels in a left-hand corner; empty where the wheels are not placed."""
    wheels = parts.wheels(desk)
    if len(wheels) < 4 or "mass_running" not in outcome.numbers:
        return []
    weight = lift(lambda mass: mass * GRAVITY, outcome.number("mass_running"), unit="N", name="weight", model="m g")
    share = outcome.number("front_share_running")
    out: list[el.Shape] = []
    most = 0.0
    loads: dict[str, tuple[Number, Number]] = {}
    for end, part in (("front", share), ("rear", 1 - share)):
        rest, moved = weight * part / 2, outcome.number(f"transfer_{end}")
        for side, sign in (("left", -1.0), ("right", 1.0)):
            now = Number(np.maximum((rest + moved * sign).draws, 0.0), "N", moved.origin)
            loads[f"{side}.{end}"] = (Number(rest.draws, "N", moved.origin), now)
            most = max(most, float(now.value))
    per_newton = 0.55 / max(most, 1.0)
    for name, (rest, now) in loads.items():
        middle = wheels[name]
        ground = np.array([middle[0], middle[1] * 1.04, 0.0])
        out += parts.force(now, ground, (0, 0, 1), per_newton, SYSTEM, label=parts.kilonewtons(now), to=False)
        level = ground + np.array([0.0, 0.0, float(rest.value) * per_newton])
        half = np.array([0.07, 0.0, 0.0])
        out.append(el.Shape(xyz=np.stack([level - half, level + half]), system=SYSTEM, certainty="inferred"))
    return out


PAGE = Page(
    "/running",
    "Running",
    build,
    key="r",
    order=350,
    about="Acceleration, braking, corners, energy, a lap; the maker's figures judged",
)
