"""The running sheet: what goes in, what comes out, and the steps between."""

from __future__ import annotations

from longlens.numbers.distributions import Normal, Triangular, TruncatedNormal, Uniform
from longlens.systems.running import answers, steps
from longlens.systems.running.grip import CLASSES
from longlens.systems.running.readings import (
    PRACTICE,
    read_air,
    read_battery,
    read_brakes,
    read_gears,
    read_grip,
    read_track,
    read_weights,
)
from longlens.systems.sheet import Axis, Choice, Input, Output, Sheet, Step, Structure, Validity, scatter
from longlens.systems.stated import read_stated

GILLESPIE = "Gillespie, Fundamentals of Vehicle Dynamics, 1992, ch. 2 and 3"
MILLIKEN = "Milliken and Milliken, Race Car Vehicle Dynamics, 1995, ch. 2 and 18"
LEVEL = "level road, still air, steady load transfer, no wheel spin"

INPUTS = (
    Structure("weights", "mass and its distribution, or what bounds them: " + (read_weights.__doc__ or ""), read_weights,
              {}, "the stated mass"),
    Structure("grip", "peak friction, where it is known better than by the tyre's class", read_grip, {}, "by its class"),
    Structure("brakes", "discs and the stops asked of them", read_brakes, {}, "none known"),
    Structure("gears", "greatest shaft speed, overall ratio of the top gear, rolling radius", read_gears, {}, "not known"),
    Structure("battery", "capacity of the battery", read_battery, {}, "none"),
    Structure("air", "how lift and drag areas change with speed", read_air, {},
              "they do not; in a dossier the aero sheet's curves, with springs and air in balance"),
    Structure("track", "the track: points of its centre line, or an invented one", read_track, {"invented": "ring"},
              "an invented ring, for comparing"),
    Structure("stated", "the maker's own figures, by the output's name", read_stated, {}, "none given"),
    Choice("tyre_class", "class of the tyres", {c.name: c.meaning for c in CLASSES.values()}, "sport",
           f"sporting cars on the road: {PRACTICE}"),
    Choice("drive", "what drives it", {"electric": "motor, one gear, full power from a base speed",
                                       "combustion": "engine and gears"}, "combustion", f"most cars: {PRACTICE}"),
    Choice("driven", "driven wheels", {"rear": "rear wheels", "front": "front wheels", "all": "all wheels"}, "rear",
           f"most sporting cars: {PRACTICE}"),
    Input("grip_rank", "1", "where in its class the grip lies, 0 the least", assumption=Uniform(0.0, 1.0),
          reason="the whole band of the class", plausible=(0, 1)),
    Input("load_sensitivity", "1", "exponent by which friction falls with load", assumption=TruncatedNormal(0.09, 0.03, 0.0, 0.2),
          reason="measured tyres lose 3 to 12 % per doubled load (Milliken and Milliken 1995, from memory)", plausible=(0, 0.5)),
    Input("front_share", "1", "share of the mass on the front axle, without driver", "%", TruncatedNormal(0.47, 0.04, 0.3, 0.7),
          f"mid-engined and electric track cars 0.40–0.52: {PRACTICE}", (0.2, 0.8)),
    Input("payload", "kg", "driver with equipment", "kg", Normal(82, 8),
          f"a driver in overalls and helmet: {PRACTICE}", (0, 800)),
    Input("payload_behind", "m", "the driver's place behind the front axle", "mm", Normal(1.35, 0.2),
          f"seat in the middle of the wheelbase: {PRACTICE}", (-1, 5)),
    Input("wheelbase", "m", "wheelbase", "mm", Normal(2.60, 0.15), f"cars of this size: {PRACTICE}", (1.2, 6.0)),
    Input("cg_height", "m", "height of the centre of mass", "mm", Triangular(0.24, 0.33, 0.50),
          f"low single-seaters to road-based track cars: {PRACTICE}", (0.1, 1.2)),
    Input("track_front", "m", "front track", "mm", Normal(1.52, 0.06), f"cars of this size: {PRACTICE}", (0.8, 2.5),
          linked="suspension.track_front"),
    Input("track_rear", "m", "rear track", "mm", Normal(1.50, 0.06), f"cars of this size: {PRACTICE}", (0.8, 2.5),
          linked="suspension.track_rear"),
    Input("roll_share_front", "1", "front share of the load moved across in a corner", "%", TruncatedNormal(0.52, 0.07, 0.3, 0.8),
          f"cars of all kinds: {PRACTICE}", (0, 1), linked="suspension.roll_share_front"),
    Input("power", "W", "peak power at the shaft", "kW", plausible=(5e3, 2e6)),
    Input("efficiency", "1", "shaft to wheels", "%", Uniform(0.84, 0.95), "0.80 to 0.95 (Gillespie 1992; Wong)", (0.5, 1.0)),
    Input("power_use", "1", "share of the peak power that the gears let an engine give on average", "%",
          TruncatedNormal(0.80, 0.05, 0.6, 1.0), f"gears spread by 1.4 to 1.7 about the peak: {PRACTICE}", (0.3, 1.0)),
    Input("base_speed", "m/s", "speed from which an electric drive gives full power", "km/h", Triangular(9, 16, 32),
          f"a third to a tenth of the top speed: {PRACTICE}", (1, 120)),
    Input("drive_share_all", "1", "front share of the drive, where all wheels drive", "%", Triangular(0.25, 0.40, 0.55), PRACTICE,
          (0, 1)),
    Input("shift_total", "s", "time without drive in shifts up to 100 km/h", "s", Triangular(0.0, 0.4, 1.6),
          f"one to two shifts of 0.1 to 0.8 s: {PRACTICE}", (0, 5)),
    Input("launch_delay", "s", "clutch, slip and rise of torque at the start", "s", Triangular(0.05, 0.2, 0.5), PRACTICE, (0, 3)),
    Input("rotating", "1", "effective over true mass, for all that turns", "1", TruncatedNormal(1.06, 0.02, 1.02, 1.2),
          "Gillespie 1992, table of mass factors: 1.04 + 0.0025 N² (from memory)", (1, 1.6)),
    Input("rolling", "1", "rolling resistance coefficient", "1", TruncatedNormal(0.013, 0.002, 0.008, 0.022),
          "0.010 to 0.015 on concrete (Wong, from memory)", (0.004, 0.05)),
    Input("brake_use", "1", "share of the friction reached in braking", "%", Triangular(0.85, 0.94, 1.0),
          f"good controls or drivers: {PRACTICE}", (0.3, 1.0)),
    Input("brake_share_front", "1", "front share of the braking force", "%", TruncatedNormal(0.60, 0.05, 0.3, 0.9),
          f"hydraulic balance, 0.5–0.7: {PRACTICE}", (0, 1)),
    Input("radius_front", "m", "loaded radius of the front tyres", "mm", TruncatedNormal(0.315, 0.02, 0.22, 0.42),
          f"tyres of passenger and track cars: {PRACTICE}", (0.15, 0.6)),
    Input("radius_rear", "m", "loaded radius of the rear tyres", "mm", TruncatedNormal(0.315, 0.02, 0.22, 0.42),
          f"tyres of passenger and track cars: {PRACTICE}", (0.15, 0.6)),
    Input("drag_area", "m2", "drag coefficient times area", "m2", TruncatedNormal(0.75, 0.13, 0.45, 1.5),
          f"closed cars 0.6–0.8, open wheels and wings 0.8–1.3: {PRACTICE}", (0.1, 4), linked="aero.drag_area"),
    Input("lift_area_front", "m2", "downforce coefficient times area, front axle", "m2", Normal(0.0, 0.06),
          f"cars without wings, ±0.1: {PRACTICE}", (-1, 5), linked="aero.lift_area_front"),
    Input("lift_area_rear", "m2", "downforce coefficient times area, rear axle", "m2", Normal(0.0, 0.06),
          f"cars without wings, ±0.1: {PRACTICE}", (-1, 5), linked="aero.lift_area_rear"),
    Input("altitude", "m", "height of the place above the sea", "m", TruncatedNormal(200, 150, -100, 1500),
          "most circuits and hill climbs lie low: " + PRACTICE, (-500, 6000)),
    Input("temperature_offset", "K", "air warmer than the standard atmosphere", "K", TruncatedNormal(12, 6, -20, 30),
          "a warm day, about 25 °C at sea level: " + PRACTICE, (-60, 50)),
    scatter("time_error", "error of times from rest: driver, clutch, spacing of the gears", 0.10,
            "one driver's run against another's: " + PRACTICE),
    scatter("lap_error", "error of a lap time: a driver's lines and losses against the quasi-steady lap", 0.05, PRACTICE,
         bias=1.02),
)  # fmt: skip

AXES = (
    Axis("speed", "m/s", "road speed", "km/h"),
    Axis("disc", None, "discs"),
    Axis("way", "m", "way along the track", "m"),
)


def _out(name: str, unit: str, meaning: str, model: str, source: str, shown: str = "", along: tuple[str, ...] = (),
         limits: str = LEVEL) -> Output:  # fmt: skip
    return Output(name, unit, meaning, model, source, limits, shown, along)


_S = ("speed",)
_FORCE = "smaller of power and traction less drag and rolling, over the effective mass"
_LAP = "quasi-steady forward–backward pass on the centre line"
_LAP_SOURCE = "Siegler, Deakin and Crolla, SAE 2000-01-3563 (from memory)"
_LAP_LIMITS = "point mass with four tyres' limits, perfect driver: for comparing"
_STEADY = "drag and rolling over efficiency, and auxiliaries"
_DISC = "all heat evenly into the discs' rings"
_DISC_SOURCE = "Gillespie 1992, ch. 3; Limpert (lumped disc, from memory)"

OUTPUTS = (
    _out("mass_running", "kg", "mass with driver", "sum", "statics", "kg", limits=""),
    _out("front_share_running", "1", "share of it on the front axle", "moments", "statics", "%", limits=""),
    _out("friction_peak", "1", "peak friction coefficient", "band of the tyre's class", "see the finding",
         limits="one surface, warm"),
    _out("zero_to_100", "s", "time from rest to 100 km/h", _FORCE, GILLESPIE),
    _out("zero_to_60_mph", "s", "time from rest to 60 mph", _FORCE, GILLESPIE),
    _out("zero_to_200", "s", "time from rest to 200 km/h", _FORCE, GILLESPIE),
    _out("top_speed", "m/s", "top speed by power, drag and, where known, gears", "power at the wheels = resistance × speed",
         GILLESPIE, "km/h", limits="no limiter"),
    _out("traction_limited_to", "m/s", "speed up to which the tyres limit the drive", "power against traction", GILLESPIE,
         "km/h"),
    _out("braking_distance_100", "m", "braking distance from 100 km/h, without reaction time", "∫ v/a dv", GILLESPIE, "m"),
    _out("acceleration", "m/s2", "greatest acceleration", _FORCE, GILLESPIE, "g0", _S),
    _out("braking_deceleration", "m/s2", "greatest deceleration", "friction on all loads, and drag", GILLESPIE, "g0", _S),
    _out("lateral_limit", "m/s2", "greatest lateral acceleration", "each axle with load transfer and load sensitivity", MILLIKEN,
         "g0", _S, "steady state, level road"),
    _out("lateral_limit_low", "m/s2", "greatest lateral acceleration at 36 km/h", "the same", MILLIKEN, "g0",
         limits="steady state, level road"),
    _out("front_surplus", "1", "lateral limit of the front axle over the rear's, less one", "the same", MILLIKEN, "%", _S,
         "steady state, level road"),
    _out("resistance", "N", "drag and rolling resistance", "½ρv² C_D A + C_R load", GILLESPIE, "N", _S),
    _out("power_needed", "W", "shaft power for a steady speed", "resistance × speed/efficiency", GILLESPIE, "kW", _S),
    _out("transfer_front", "N", "load moved across at the front axle at its low-speed limit", "m a h × roll share/track",
         MILLIKEN, "N"),
    _out("transfer_rear", "N", "load moved across at the rear axle at its low-speed limit", "m a h × roll share/track",
         MILLIKEN, "N"),
    _out("braking_front_share", "1", "front share of the load when braking hard from 100 km/h", "moments", GILLESPIE, "%"),
    _out("stop_energy", "J", "energy of a stop from 100 km/h", "m v²/2", "Newton", "kJ", limits=""),
    _out("stop_rise", "K", "rise of a disc in one stop from 100 km/h", _DISC, _DISC_SOURCE, "K", ("disc",), "upper bound"),
    _out("sequence_temperature", "K", "disc just after each stop of the sequence, at 20 °C ambient", "ΔT/(1 − exp(−t/τ))",
         _DISC_SOURCE, "°C", ("disc",), "lumped; a wide band"),
    _out("brake_torque", "N*m", "torque on one wheel in the hardest stop from 100 km/h", "m a r share/2", GILLESPIE, "",
         ("disc",)),
    _out("gear_speed", "m/s", "road speed at the greatest shaft speed in top gear", "ω r/i", "kinematics", "km/h",
         limits="no slip"),
    _out("shaft_at_top", "rad/s", "shaft speed at the top speed", "v i/r", "kinematics", "rpm", limits="no slip"),
    _out("energy_per_way", "N", "energy from the battery per way at a steady speed", _STEADY, "energy balance", "Wh/km", _S),
    _out("range_steady", "m", "way on one charge at a steady speed", _STEADY, "energy balance", "km", _S),
    _out("range", "m", "way on one charge at a steady 100 km/h", _STEADY, "energy balance", "km"),
    _out("lap_time", "s", "time for the track", _LAP, _LAP_SOURCE, "s", limits=_LAP_LIMITS),
    _out("lap_speed", "m/s", "speed along the track", _LAP, _LAP_SOURCE, "km/h", ("way",), _LAP_LIMITS),
    _out("lap_top", "m/s", "greatest speed on the track", _LAP, _LAP_SOURCE, "km/h", limits=_LAP_LIMITS),
    _out("lap_slowest", "m/s", "least speed on the track", _LAP, _LAP_SOURCE, "km/h", limits=_LAP_LIMITS),
    _out("lap_full_share", "1", "share of the track driven at full power or traction", _LAP, _LAP_SOURCE, "%",
         limits=_LAP_LIMITS),
    _out("lap_energy", "J", "energy at the shaft for the track", _LAP, _LAP_SOURCE, "MJ", limits=_LAP_LIMITS),
    _out("lap_brake_energy", "J", "energy into the brakes on the track", _LAP, _LAP_SOURCE, "MJ", limits=_LAP_LIMITS),
)  # fmt: skip

_CAR = (
    "mass_running", "front_share_running", "cg_height", "wheelbase", "grip", "tyre_class", "grip_rank", "power", "efficiency",
    "power_use", "base_speed", "drive", "driven", "drive_share_all", "brake_use", "rolling", "rotating", "drag_area",
    "lift_area_front", "lift_area_rear", "altitude", "temperature_offset", "track_front", "track_rear", "roll_share_front",
    "load_sensitivity", "air",
)  # fmt: skip

SHEET = Sheet(
    area="running",
    title="How fast it goes, how it stops and corners",
    inputs=INPUTS,
    outputs=OUTPUTS,
    axes=AXES,
    steps=(
        Step("weigh", steps.weigh, ("weights", "front_share", "payload", "payload_behind", "wheelbase"),
             ("mass_running", "front_share_running", "mass_how")),
        Step("car", steps.build_car, _CAR, ("car", "sides", "friction")),
        Step("friction", lambda g: {"friction_peak": g["friction"]}, ("friction",), ("friction_peak",)),
        Step("straight", steps.run_straight, ("car", "drive", "shift_total", "launch_delay", "gears", "time_error"),
             ("zero_to_100", "zero_to_60_mph", "zero_to_200", "top_speed", "speed", "acceleration", "braking_deceleration",
              "resistance", "power_needed", "braking_distance_100", "traction_limited_to")),
        Step("corners", steps.run_corners, ("car", "sides"),
             ("lateral_limit", "front_surplus", "lateral_limit_low", "transfer_front", "transfer_rear", "braking_front_share")),
        Step("brakes", steps.heat_brakes, ("brakes", "mass_running", "brake_share_front", "radius_front", "radius_rear", "car"),
             ("disc", "stop_rise", "sequence_temperature", "brake_torque", "stop_energy")),
        Step("gears", steps.check_gears, ("gears", "top_speed"), ("gear_speed", "shaft_at_top")),
        Step("energy", steps.use_energy, ("battery", "resistance", "efficiency"), ("energy_per_way", "range_steady", "range")),
        Step("lap", steps.run_lap, ("track", "car", "sides", "friction", "lap_error"),
             ("lap_time", "way", "lap_speed", "lap_energy", "lap_brake_energy", "lap_full_share", "lap_top", "lap_slowest")),
    ),
    validity=(
        Validity("top_speed", 15.0, 125.0, "top speeds of road and track cars"),
        Validity("lateral_limit_low", 2.0, 20.0, "tyres on asphalt"),
        Validity("mass_running", 200.0, 4000.0, "cars from 200 to 4,000 kg"),
    ),
    findings=answers.ALL,
    cautions=("Speeds, distances and temperatures are of an ideal driver on an ideal road: nobody should drive by them.",),
)  # fmt: skip

__all__ = ["SHEET"]
