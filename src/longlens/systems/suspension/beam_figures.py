"""The numbers of a beam axle for all draws: the sheet's steps where the axle is one body."""

from __future__ import annotations

from typing import Any

import numpy as np

from longlens.systems.sheet import Refusal
from longlens.systems.suspension import beam, geometry, rates
from longlens.systems.suspension.axes import UP, mirror
from longlens.systems.suspension.beam import BeamAxle, BeamMotion
from longlens.systems.suspension.corner import spin_axis
from longlens.systems.suspension.figures import RollSprings, with_wheel
from longlens.systems.suspension.forces import BEARING
from longlens.systems.suspension.names import TELLING, parts_of
from longlens.systems.suspension.readings import Hardpoints, LoadCase
from longlens.systems.suspension.vectors import Array
from longlens.systems.suspension.wheel_loads import Car, elastic_moment, wheel_loads

Values = dict[str, Any]


def is_beam(hardpoints: Hardpoints, end: str) -> bool:
    """Do the marks name a part that only a beam axle has?"""
    named = parts_of([*hardpoints.corners.get(end, ()), *hardpoints.middle.get(end, ())])
    return bool(named & set(TELLING["beam"]))


def build(
    hardpoints: Hardpoints, end: str, camber: Array, toe: Array, radius: Array, rim_offset: Array
) -> BeamAxle | Refusal:
    """The axle, the right side from the mirror where it was not seen."""
    left, right = (
        with_wheel(side, spin_axis(camber, toe), rim_offset)
        for side in (hardpoints.corners.get(end, {}), hardpoints.other.get(end, hardpoints.corners.get(end, {})))
    )
    points = {f"left.{k}": p for k, p in left.items()} | {f"right.{k}": mirror(p) for k, p in right.items()}
    points |= dict(hardpoints.middle.get(end, {}))
    if "wheel.centre" not in left:
        return Refusal(f"the {end} beam axle's wheel is not marked", (f"left.{end}.wheel.centre",))
    try:
        return BeamAxle(points, spin_axis(camber, toe), radius)
    except ValueError as e:
        return Refusal(str(e), tuple(f"{end}: {r}.inner and .outer" for r in beam.RODS))


def over_travel(a: BeamAxle, travel: Array, end: str) -> tuple[BeamMotion, Values]:
    """Curves over equal travel of both wheels (N, M)."""
    m = beam.solve(a.over_travel(), travel, travel)
    still = int(np.argmin(np.abs(travel)))
    wheel, right = m.point("left.wheel.centre"), m.point("right.wheel.centre")
    track = wheel[..., 1] - right[..., 1]
    no_axis = Refusal(f"the {end} beam axle has no steering axis", ("an axle with steered uprights",))
    no_arm = Refusal(f"the {end} beam axle's wheels do not swing in heave", ("an independent axle",))
    height = m.roll_centre_height()
    w, _ = m.twist(1.0, 1.0)
    return m, {
        "camber_curve": m.camber[0],
        "toe_curve": geometry.axes.toe(m.spins()[0]),
        "roll_centre_curve": height,
        "roll_centre": height[:, still],
        "track_curve": track - track[:, still : still + 1],
        "wheelbase_curve": wheel[..., 0] - wheel[:, still : still + 1, 0],
        "camber_gain": -w[:, still, 0],
        "bump_steer": -w[:, still, 2],
        "front_swing_arm": no_arm,
        "side_swing_arm": no_arm,
        **dict.fromkeys(("scrub_radius", "mechanical_trail", "caster", "kingpin_inclination"), no_axis),
    }


def springs(m: BeamMotion, travel: Array, end: str) -> Values:
    """Motion ratios of the springs in heave; in roll under ``_roll_ratio``."""
    none = Refusal(f"no spring is marked on the {end} axle", (f"left.{end}.spring.outer and .spring.inner",))
    other = Refusal(f"a beam axle has no rocker here ({end})", ("an independent axle",))
    bar: Any = Refusal(f"no anti-roll bar is marked on the {end} beam axle", tuple(f"left.{end}.{p}" for p in beam.BAR))
    if beam.has_bar(m.axle):
        bar = _bar_ratio(m.axle)
    out: Values = {"rocker_per_wheel": other, "heave_per_wheel": other, "bar_per_wheel": bar, "_torsion_ratio": None}
    out["damper_per_wheel"] = Refusal(f"a beam axle's dampers are not computed ({end})", ("an independent axle",))
    names = ("spring_ratio_curve", "spring_per_wheel", "wheel_per_spring", "spring_per_wheel_bump", "progression")
    if "left.spring.inner" not in m.axle.points or "left.spring.outer" not in m.axle.points:
        return out | dict.fromkeys(names, none) | {"_compression": None}
    still = int(np.argmin(np.abs(travel)))
    curve = beam.spring_per_wheel(m, "left")
    length = np.linalg.norm(m.point("left.spring.outer") - m.point("left.spring.inner"), axis=-1)
    slope = np.gradient(curve, travel, axis=1)[:, still]
    values = (curve, curve[:, still], 1 / curve[:, still], curve[:, -1], slope)
    return (
        out
        | dict(zip(names, values, strict=True))
        | {
            "_compression": length[:, still : still + 1] - length,
            "_roll_ratio": beam.spring_per_wheel(m, "left", roll=True)[:, still],
        }
    )


def _bar_ratio(a: BeamAxle) -> Array:
    """Size of the turn of the bar's arms per wheel travel in roll; the mean of both sides, rad/m (N,)."""
    at_rest = beam.solve(_flat(a), 0.0, 0.0)
    one, two = (np.abs(beam.bar_arm_per_wheel(at_rest, s)) for s in ("left", "right"))
    return 0.5 * (one + two)


def _flat(a: BeamAxle) -> BeamAxle:
    """Draws (N,) again, where an axis for positions was put behind them."""
    if a.radius.ndim == 2:
        return BeamAxle({k: p[:, 0] for k, p in a.points.items()}, a.spin[:, 0], a.radius[:, 0])
    return a


def roll_stiffness(ratio: Values, rate: Array, track: Array) -> Array:
    """Of the springs, by their own ratio in roll, which is smaller than in heave, N m/rad."""
    return rates.roll_stiffness_of_springs(rate * ratio["_roll_ratio"] ** 2, track)


def antis(m: BeamMotion, travel: Array, end: str, wheelbase: Array, cg: Array, brake: Array, drive: Array) -> Values:
    """Anti-dive and its kin; brake and drive torque both act on the axle itself."""
    still = int(np.argmin(np.abs(travel)))
    w, u = m.twist(1.0, 1.0)
    contact = m.point("left.wheel.centre") - UP * m.axle.radius[..., None]
    v = u + np.cross(w, contact - m.place)
    slope = (v[..., 0] / v[..., 2])[:, still]
    if end == "front":
        return {
            "anti_braking": geometry.anti_dive(slope, wheelbase, cg, brake),
            "anti_driving": geometry.anti_lift_driving(slope, wheelbase, cg, drive),
        }
    return {
        "anti_braking": geometry.anti_lift(slope, wheelbase, cg, 1 - brake),
        "anti_driving": geometry.anti_squat(slope, wheelbase, cg, 1 - drive),
    }


def rod_loads(
    a: BeamAxle, cases: list[LoadCase], car: Car, end: str, roll: RollSprings | None = None
) -> tuple[list[str], Values] | Refusal:
    """Axial forces of the four rods over the load cases, (N, rods, cases).

    With ``roll`` the anti-roll bar is twisted by the axle's share of the roll moment, as on an independent axle; its left link is
    then one of the rods, and both links' pulls are in the axle's balance.
    """
    if "left.spring.inner" not in a.points or "left.spring.outer" not in a.points:
        return Refusal(f"no spring is marked on the {end} axle", (f"left.{end}.spring.outer and .spring.inner",))
    m = beam.solve(a, 0.0, 0.0)
    with_bar = roll is not None and beam.has_bar(a)
    names = [*a.rods, *(["bar_link"] if with_bar else [])]
    columns, torques = [], []
    for case in cases:
        to_left = -np.asarray(case.cornering)
        load = wheel_loads(car, case.forward, to_left, case.downforce["front"], case.downforce["rear"])
        links = None
        if roll is not None and with_bar:
            torque = roll.torque_per_roll * -elastic_moment(car, to_left, load, end) / roll.stiffness
            turn = {s: np.sign(beam.bar_arm_per_wheel(m, s)) for s in ("left", "right")}
            links = (
                beam.bar_link_tension(m, "left", turn["left"] * torque),
                beam.bar_link_tension(m, "right", -turn["right"] * torque),
            )
            torques.append(np.broadcast_to(torque, m.reached.shape))
        found = beam.forces(m, load.at("left", end), load.at("right", end), links)
        if links is not None:
            found["bar_link"] = links[0]
        columns.append(np.stack([np.broadcast_to(found[n], m.reached.shape) for n in names], axis=-1))
    force = np.stack(columns, axis=-1)
    return names, {
        "rod_force": force,
        "chassis_points": [f"{n}.inner" if n != "bar_link" else BEARING for n in names],
        "chassis_force": np.abs(force),
        "_bending": [],
        "_bar_torque": np.stack(torques, axis=-1) if torques else None,
    }
