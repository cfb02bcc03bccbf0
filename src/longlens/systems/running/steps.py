"""The running sheet's steps: from its inputs to the car of each draw, and on to what it does."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from longlens.errors import NotSolvable
from longlens.numbers.streams import Array
from longlens.systems.cooling.air import standard_atmosphere
from longlens.systems.running import brakes, cornering, energy, gears, straight, weights
from longlens.systems.running.grip import GRAVITY, peak_friction
from longlens.systems.running.lap import drive_lap
from longlens.systems.running.straight import Car, speeds_last
from longlens.systems.sheet import Refusal

#: Road speeds of the curves, m/s.
SPEEDS = np.array([20, 40, 60, 80, 100, 120, 140, 160, 180, 200, 225, 250, 275, 300]) / 3.6
HUNDRED, TWO_HUNDRED, SIXTY_MPH = 100 / 3.6, 200 / 3.6, 26.8224
#: Draws times stations of a lap.
MOST = 20_000_000
#: Lift or drag area (m²) under which its change with speed is not looked at.
LEAST_AREA = 0.03
LOW = 10.0  # m/s, where the air does next to nothing


def weigh(g: Mapping[str, Any]) -> dict[str, Any]:
    """Mass with driver and front share, and how the mass was had."""
    w, base = g["weights"], g["wheelbase"]
    share = w["front_share"] if w["front_share"] is not None else g["front_share"]
    if w["mass"] is not None:
        mass, how = w["mass"], "stated"
    elif w["parts"] is not None:
        summed = weights.sum_parts([m for _, m, _ in w["parts"]], [x for _, _, x in w["parts"]])
        mass, how = summed.mass, "summed from its parts"
        if w["front_share"] is None:
            share = 1 - summed.behind / base
    elif w["tyre_use"] is not None:
        mass = weights.mass_from_tyres(w["tyre_load_front"], w["tyre_load_rear"], w["tyre_use"])
        how = "bounded by what its tyres may carry"
    else:
        raise NotSolvable(
            "the mass is not known", needs=["weights: mass (kg)", "or the parts' masses", "or what its tyres may carry"]
        )
    full, front = weights.with_payload(mass, share, g["payload"], g["payload_behind"], base)
    return {"mass_running": full, "front_share_running": np.clip(front, 0.05, 0.95), "mass_how": how}


def build_car(g: Mapping[str, Any]) -> dict[str, Any]:
    """The car of each draw, for straight and corner."""
    electric = g["drive"] == "electric"
    peak = g["grip"]["peak"]
    friction = peak if peak is not None else peak_friction(g["tyre_class"], g["grip_rank"])
    air = standard_atmosphere(np.asarray(g["altitude"]), g["temperature_offset"])
    driven = {"rear": 0.0 * friction, "front": 0.0 * friction + 1.0, "all": g["drive_share_all"]}[g["driven"]]
    base = g["power"] * g["efficiency"] / g["base_speed"] if electric else np.full_like(friction, np.inf)
    fields = {
        "mass": g["mass_running"], "front_share": g["front_share_running"], "cg_height": g["cg_height"],
        "wheelbase": g["wheelbase"], "friction": friction, "power": g["power"], "efficiency": g["efficiency"],
        "base_force": base, "power_use": np.ones_like(friction) if electric else g["power_use"], "drive_front": driven,
        "brake_use": g["brake_use"], "rolling": g["rolling"], "rotating": g["rotating"], "drag_area": g["drag_area"],
        "lift_front": g["lift_area_front"], "lift_rear": g["lift_area_rear"], "density": air.density,
    }  # fmt: skip
    sides = cornering.Sides(
        *(np.asarray(g[n])[:, None] for n in ("track_front", "track_rear", "roll_share_front", "load_sensitivity"))
    )
    return {"car": speeds_last(fields, air_over(g["air"])), "sides": sides, "friction": friction}


def air_over(air: Mapping[str, Any] | None) -> straight.AirOver | None:
    """The aero sheet's curves as factors on the areas at 200 km/h: a figure given for this run keeps the curve's shape.

    An area near nothing has no shape: it stays as it is."""
    if air is None:
        return None
    speed = air["speed"]
    k = int(np.argmin(np.abs(speed - TWO_HUNDRED)))

    def shape(curve: Array) -> Array:
        there = curve[:, k : k + 1]
        some = np.abs(there) > LEAST_AREA
        return np.where(some, np.clip(curve / np.where(some, there, 1.0), 0.0, 3.0), 1.0)

    return straight.AirOver(speed, *(shape(air[n]) for n in ("drag", "lift_front", "lift_rear")))


def run_straight(g: Mapping[str, Any]) -> dict[str, Any]:
    """Acceleration, top speed, braking."""
    car: Car = g["car"]
    electric = g["drive"] == "electric"
    shifts = 0.0 if electric else g["shift_total"]
    times = {
        name: straight.time_to_speed(car, to, shifts, g["launch_delay"]) * g["time_error"]
        for name, to in (("zero_to_100", HUNDRED), ("zero_to_60_mph", SIXTY_MPH))
    }
    far = straight.time_to_speed(car, TWO_HUNDRED, 2 * np.asarray(shifts), g["launch_delay"]) * g["time_error"]
    slow = Refusal("200 km/h is not reached in every draw", ("more power or less drag",))
    top = straight.top_speed(car)[:, 0]
    limit = gear_limit(g["gears"])
    if not isinstance(limit, Refusal):
        top = np.minimum(top, limit)
    v = SPEEDS
    drive, grip = straight.drive_force(car, v), straight.traction(car, v)
    crossing = np.argmax(drive < grip, axis=1)
    never = ~np.any(drive < grip, axis=1)
    return {
        **times, "zero_to_200": far if np.mean(np.isfinite(far)) > 0.9 else slow, "top_speed": top, "speed": v,
        "acceleration": straight.acceleration(car, v), "braking_deceleration": straight.braking(car, v),
        "resistance": straight.resistance(car, v),
        "power_needed": straight.resistance(car, v) * v / np.asarray(car.efficiency),
        "braking_distance_100": straight.braking_distance(car, HUNDRED),
        "traction_limited_to": np.where(never, v[-1], v[crossing]),
    }  # fmt: skip


def run_corners(g: Mapping[str, Any]) -> dict[str, Any]:
    """Lateral limit over speed, and which axle gives way."""
    car, sides = g["car"], g["sides"]
    ay, surplus = cornering.lateral_limit(car, sides, SPEEDS)
    low, _ = cornering.lateral_limit(car, sides, np.array([LOW]))
    weight = np.asarray(car.mass) * GRAVITY
    moved = weight * low * np.asarray(car.cg_height) / GRAVITY
    front = moved * np.asarray(sides.roll_share_front) / np.asarray(sides.track_front)
    rear = moved * (1 - np.asarray(sides.roll_share_front)) / np.asarray(sides.track_rear)
    return {
        "lateral_limit": ay, "front_surplus": surplus, "lateral_limit_low": low[:, 0],
        "transfer_front": front[:, 0], "transfer_rear": rear[:, 0],
        "braking_front_share": straight.wheel_shares(car, -straight.braking(car, HUNDRED), HUNDRED)[:, 0],
    }  # fmt: skip


def heat_brakes(g: Mapping[str, Any]) -> dict[str, Any]:
    """Rise of the discs in one stop and in a sequence, and the torque they must hold."""
    axles = g["brakes"]["axles"]
    if not axles:
        raise NotSolvable("no disc is known", needs=["brakes: diameter of the front or rear disc (mm)"])
    mass = g["mass_running"]
    stop = brakes.stop_energy(mass, np.asarray(HUNDRED))
    hard = brakes.stop_energy(mass, g["brakes"]["from"], g["brakes"]["to"])
    one, many, torque = [], [], []
    for end, disc in axles.items():
        share = g["brake_share_front"] if end == "front" else 1 - g["brake_share_front"]
        material = brakes.MATERIALS[disc["material"]]
        m = brakes.disc_mass(disc["diameter"], disc["ring"], disc["thickness"], disc["solid"], material.density)
        one.append(brakes.stop_rise(stop, share, m, material.heat_capacity))
        rise = brakes.stop_rise(hard, share, m, material.heat_capacity)
        many.append(brakes.sequence_peak(rise, g["brakes"]["interval"], disc["cooling_time"]) + 293.15)
        deceleration = straight.braking(g["car"], HUNDRED)[:, 0]
        torque.append(brakes.brake_torque(mass, deceleration, g[f"radius_{end}"], share))
    return {
        "disc": list(axles), "stop_rise": np.stack(one, 1), "sequence_temperature": np.stack(many, 1),
        "brake_torque": np.stack(torque, 1), "stop_energy": stop,
    }  # fmt: skip


def gear_limit(given: Mapping[str, Any]) -> Any:
    """Speed at the greatest shaft speed, or why not."""
    if not given:
        return Refusal("the gears are not known", ("gears: shaft_speed (rpm), overall_ratio, rolling_radius (mm)",))
    return gears.speed_at(given["shaft_speed"], given["overall_ratio"], given["rolling_radius"])


def check_gears(g: Mapping[str, Any]) -> dict[str, Any]:
    """Speed in top gear at the greatest shaft speed, and the shaft speed at the top speed."""
    limit = gear_limit(g["gears"])
    if isinstance(limit, Refusal):
        return {"gear_speed": limit, "shaft_at_top": limit}
    shaft = gears.shaft_speed(g["top_speed"], g["gears"]["overall_ratio"], g["gears"]["rolling_radius"])
    return {"gear_speed": limit, "shaft_at_top": shaft}


def use_energy(g: Mapping[str, Any]) -> dict[str, Any]:
    """Energy per way and range at steady speeds."""
    names = ("energy_per_way", "range_steady", "range")
    if not g["battery"]:
        return dict.fromkeys(names, Refusal("the battery is not known", ("battery: capacity (kWh)",)))
    b = {k: np.asarray(x)[:, None] for k, x in g["battery"].items()}
    per = energy.energy_per_way(g["resistance"], np.asarray(g["efficiency"])[:, None], b["auxiliary"], SPEEDS)
    far = energy.range_of(b["capacity"], b["usable"], per)
    return {"energy_per_way": per, "range_steady": far, "range": far[:, int(np.argmin(np.abs(SPEEDS - HUNDRED)))]}


def run_lap(g: Mapping[str, Any]) -> dict[str, Any]:
    """The lap: time, speeds, energy."""
    track, car = g["track"], g["car"]
    count = len(g["friction"])
    if count * len(track.way) > MOST:
        raise NotSolvable("so many draws on so long a track do not fit", needs=["fewer draws, or a shorter track"])
    lap = drive_lap(car, g["sides"], track.curvature, track.step, track.grade, track.closed, count)
    efficiency = np.asarray(car.efficiency)[:, 0]
    picked = np.arange(0, len(track.way), max(1, round(len(track.way) / 120)))
    # of an open track the start from rest is no corner
    moving = track.way > (0.0 if track.closed else min(150.0, 0.2 * track.length))
    return {
        "lap_time": lap.time * g["lap_error"], "way": track.way[picked], "lap_speed": lap.speed[:, picked],
        "lap_energy": lap.drive / efficiency, "lap_brake_energy": lap.brake,
        "lap_full_share": np.mean(lap.limit == 1, axis=1), "lap_top": lap.speed.max(axis=1),
        "lap_slowest": lap.speed[:, moving].min(axis=1),
    }  # fmt: skip
