"""The suspension sheet: hardpoints in, what the car does out. Both axles; every output carries its axle in its name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from longlens.numbers.distributions import Exact, LogNormal, Normal, Triangular, TruncatedNormal
from longlens.systems.sheet import Axis, Choice, Input, Output, Refusal, Sheet, Step, Structure
from longlens.systems.suspension import answers, beam_figures, figures, pressed, rates
from longlens.systems.suspension.beam import BeamAxle, BeamMotion
from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.names import ENDS
from longlens.systems.suspension.reach import describe
from longlens.systems.suspension.readings import (
    PRACTICE,
    USUAL_CASES,
    Springing,
    read_air,
    read_cases,
    read_hardpoints,
    read_rods,
    read_springs,
)
from longlens.systems.suspension.wheel_loads import Car

DEG = np.pi / 180
KINEMATICS = "rigid links, ideal ball joints; exact positions and rates"
DISTANCES = "distance equations of the linkage; checked against SciPy and MuJoCo (tests/published)"
RIGID = "no bushes, no flexing; from the design position up to the first toggle"
#: Of the wheel, from full rebound to full bump: every 3 mm of a usual 60; the curves are smooth.
POSITIONS = 21
MOUNTS = {
    "lower_wishbone": "on the lower wishbone",
    "upper_wishbone": "on the upper wishbone",
    "upright": "on the upright",
    "as_marked": "on the nearest of these",
}


def _end_inputs(end: str) -> tuple[Input | Choice, ...]:
    return (
        Choice(
            f"layout_{end}",
            f"layout of the {end} axle",
            {
                "double_wishbone": "two wishbones and a track rod",
                "strut": "MacPherson strut",
                "five_link": "five single links",
                "beam": "beam axle on four rods",
                "as_marked": "the likeliest that the marks allow",
            },
            assumption="as_marked",
            reason="found from the names of the marked points",
        ),
        Choice(
            f"rod_on_{end}",
            f"what carries the outer end of the {end} push- or pullrod",
            MOUNTS,
            assumption="as_marked",
            reason="found from the nearest part",
        ),
        Input(
            f"camber_{end}",
            "rad",
            f"static camber of the {end} wheels, top out positive",
            "deg",
            Normal(-1.8 * DEG, 0.9 * DEG),
            f"track cars: {PRACTICE}",
            (-8 * DEG, 5 * DEG),
        ),
        Input(
            f"toe_{end}",
            "rad",
            f"static toe of one {end} wheel, in positive",
            "deg",
            Normal(0.0, 0.15 * DEG),
            PRACTICE,
            (-3 * DEG, 3 * DEG),
        ),
        Input(
            f"radius_{end}",
            "m",
            f"loaded radius of the {end} tyres",
            "mm",
            TruncatedNormal(0.315, 0.02, 0.22, 0.42),
            f"tyres of passenger and track cars: {PRACTICE}",
            (0.15, 0.6),
        ),
        Input(
            f"rim_offset_{end}",
            "m",
            f"from the middle of the {end} rim's outer face in to the wheel centre; used where only rim_centre is marked",
            "mm",
            TruncatedNormal(0.118, 0.015, 0.08, 0.17),
            f"half the width of a rim of 7 to 11 inches and its flange: {PRACTICE}",
            (0.03, 0.25),
        ),
        Input(
            f"tyre_rate_{end}",
            "N/m",
            f"vertical rate of one {end} tyre",
            "N/mm",
            LogNormal(240e3, 0.18),
            f"tyres at usual pressures, 180–320 N/mm: {PRACTICE}",
            (5e4, 2e6),
        ),
        Input(
            f"unsprung_{end}",
            "kg",
            f"unsprung mass of one {end} wheel",
            "kg",
            TruncatedNormal(27.0, 7.0, 8.0, 70.0),
            f"wheel, tyre, upright, brake and half the links: {PRACTICE}",
            (3.0, 150.0),
        ),
        Input(
            f"downforce_{end}",
            "N",
            f"downforce on the {end} axle in the case looked at",
            "N",
            Exact(0.0),
            "none unless given",
            (-2e4, 1e5),
        ),
    )


INPUTS: tuple[Input | Choice | Structure, ...] = (
    Structure(
        "hardpoints",
        "places of the hardpoints, m or mm, in vehicle axes; empty: the survey's points by their names",
        read_hardpoints,
        {},
        "taken from the survey",
    ),
    Structure(
        "springs",
        "rates or sizes of springs, torsion bars, heave elements and anti-roll bars",
        read_springs,
        {},
        "none known",
    ),
    Structure("rods", "outside diameters of rods, with wall and material where known", read_rods, {}, "none known"),
    Structure(
        "air",
        "what the air presses on each axle over speed",
        read_air,
        {},
        "in a dossier from the aero sheet, else none",
    ),
    Structure("cases", "load cases", read_cases, USUAL_CASES, f"steady limits of a track car: {PRACTICE}"),
    *(_end_inputs("front")),
    *(_end_inputs("rear")),
    Input("mass", "kg", "mass of the car with driver", "kg", plausible=(150, 5000)),
    Input(
        "front_share",
        "1",
        "share of the mass on the front axle",
        "%",
        TruncatedNormal(0.47, 0.04, 0.3, 0.7),
        f"mid-engined and electric track cars 0.40–0.52: {PRACTICE}",
        (0.2, 0.8),
    ),
    Input(
        "cg_height",
        "m",
        "height of the centre of mass",
        "mm",
        Triangular(0.24, 0.33, 0.50),
        f"low single-seaters to road-based track cars: {PRACTICE}",
        (0.1, 1.2),
    ),
    Input(
        "roll_moment_front",
        "1",
        "front share of the roll moment in the load cases; once springs and bars are known, roll_share_front",
        "%",
        TruncatedNormal(0.52, 0.07, 0.3, 0.8),
        f"cars of all kinds: {PRACTICE}",
        (0.0, 1.0),
    ),
    Input(
        "wheelbase",
        "m",
        "wheelbase; used where the wheel centres of both axles are not marked",
        "mm",
        Normal(2.60, 0.15),
        f"cars of this size: {PRACTICE}",
        (1.2, 6.0),
    ),
    Input(
        "brake_share_front",
        "1",
        "front share of the braking force",
        "%",
        TruncatedNormal(0.60, 0.05, 0.3, 0.9),
        f"hydraulic balance, 0.5–0.7: {PRACTICE}",
        (0.0, 1.0),
    ),
    Input(
        "drive_share_front",
        "1",
        "front share of the driving force",
        "%",
        Exact(0.0),
        "rear drive unless given",
        (0.0, 1.0),
    ),
    Input(
        "bump",
        "m",
        "bump travel looked at",
        "mm",
        Exact(0.030),
        f"travel of stiff track cars: {PRACTICE}",
        (2e-3, 0.25),
    ),
    Input(
        "rebound",
        "m",
        "rebound travel looked at",
        "mm",
        Exact(0.030),
        f"travel of stiff track cars: {PRACTICE}",
        (2e-3, 0.25),
    ),
    Input(
        "rack_travel",
        "m",
        "rack travel to one side",
        "mm",
        Exact(0.025),
        f"usual racks move 20–40 mm: {PRACTICE}",
        (2e-3, 0.2),
    ),
    Input(
        "roll",
        "rad",
        "roll angle looked at",
        "deg",
        Exact(2 * DEG),
        f"usual roll in hard cornering, 1–4°: {PRACTICE}",
        (0.1 * DEG, 12 * DEG),
    ),
    Input(
        "installation_stiffness",
        "1",
        "rate at the wheel as a share of that with rigid links",
        "%",
        TruncatedNormal(0.93, 0.04, 0.75, 1.0),
        f"mounts, links and joints give 0–20 %: {PRACTICE}",
        (0.3, 1.0),
    ),
)

AXES = (
    Axis("travel", "m", "wheel travel from ride height, up positive", "mm"),
    Axis("rack", "m", "rack travel to the left", "mm"),
    Axis("roll_angle", "rad", "roll of the body", "deg"),
    Axis("case", None, "load case"),
    *(Axis(f"air_speed_{end}", "m/s", "road speed", "km/h") for end in ENDS),
    *(Axis(f"rod_{end}", None, f"rods of the {end} axle") for end in ENDS),
    *(Axis(f"sized_rod_{end}", None, f"{end} rods whose diameter is known") for end in ENDS),
    *(Axis(f"chassis_point_{end}", None, f"points of the {end} axle on the chassis") for end in ENDS),
)

PRESSED = "wheel rate integrated over travel against the air's load; curves read off there"
RATIO = "spring travel per wheel travel; its inverse is wheel_per_spring"

#: name, unit, meaning, model, shown, along; {end} is filled in.
_OUT: tuple[tuple[str, str, str, str, str, tuple[str, ...]], ...] = (
    ("spring_per_wheel", "1", f"motion ratio at ride height: {RATIO}", KINEMATICS, "", ()),
    ("wheel_per_spring", "1", "wheel travel per spring travel: the inverse of spring_per_wheel", KINEMATICS, "", ()),
    ("spring_per_wheel_bump", "1", "spring travel per wheel travel at full bump", KINEMATICS, "", ()),
    ("progression", "1/m", "change of spring_per_wheel per wheel travel", KINEMATICS, "", ()),
    ("spring_ratio_curve", "1", f"over travel: {RATIO}", KINEMATICS, "", ("travel",)),
    (
        "rocker_per_wheel",
        "rad/m",
        "turn of rocker (or torsion-bar wishbone) per wheel travel",
        KINEMATICS,
        "deg/mm",
        (),
    ),
    ("bar_per_wheel", "rad/m", "turn of the anti-roll bar's arm per travel of its wheel", KINEMATICS, "deg/mm", ()),
    ("damper_per_wheel", "1", "travel of a damper apart from the spring, per wheel travel", KINEMATICS, "", ()),
    ("heave_per_wheel", "1", "travel of the heave element per travel of both wheels", KINEMATICS, "", ()),
    ("camber_curve", "rad", "camber over travel", KINEMATICS, "deg", ("travel",)),
    ("toe_curve", "rad", "toe of one wheel over travel, in positive", KINEMATICS, "deg", ("travel",)),
    ("camber_gain", "rad/m", "change of camber per wheel travel at ride height", KINEMATICS, "deg/m", ()),
    ("bump_steer", "rad/m", "change of toe per wheel travel at ride height, in positive", KINEMATICS, "deg/m", ()),
    ("caster", "rad", "caster at ride height", KINEMATICS, "deg", ()),
    ("kingpin_inclination", "rad", "kingpin inclination at ride height", KINEMATICS, "deg", ()),
    ("scrub_radius", "m", "scrub radius, positive: axis inboard of the contact centre", KINEMATICS, "mm", ()),
    ("mechanical_trail", "m", "mechanical trail, positive: axis ahead of the contact centre", KINEMATICS, "mm", ()),
    (
        "roll_centre",
        "m",
        "height of the roll centre at ride height",
        "line square to the contact centre's path",
        "mm",
        (),
    ),
    (
        "roll_centre_curve",
        "m",
        "height of the roll centre over the ground, over equal travel",
        "the same",
        "mm",
        ("travel",),
    ),
    ("front_swing_arm", "m", "length of the front view swing arm", KINEMATICS, "mm", ()),
    (
        "side_swing_arm",
        "m",
        "length of the side view swing arm, positive: its centre lies behind the wheel",
        KINEMATICS,
        "mm",
        (),
    ),
    ("track_curve", "m", "change of track over equal travel", KINEMATICS, "mm", ("travel",)),
    ("wheelbase_curve", "m", "how far the wheel centre moves forward over travel", KINEMATICS, "mm", ("travel",)),
    (
        "roll_camber_curve",
        "rad",
        "camber of the right wheel against the road in roll",
        KINEMATICS,
        "deg",
        ("roll_angle",),
    ),
    (
        "roll_centre_roll_height",
        "m",
        "height of the roll centre in roll",
        "meeting of both lines",
        "mm",
        ("roll_angle",),
    ),
    (
        "roll_centre_roll_side",
        "m",
        "place of the roll centre across the car in roll",
        "meeting of both lines",
        "mm",
        ("roll_angle",),
    ),
    ("steer_curve", "rad", "steer of the left wheel over rack travel", KINEMATICS, "deg", ("rack",)),
    (
        "ackermann_curve",
        "rad",
        "outer wheel's steer less that for rolling about one point",
        "cot δo = cot δi + t/L",
        "deg",
        ("rack",),
    ),
    ("steer_per_rack", "rad/m", "steer per rack travel at the middle", KINEMATICS, "deg/mm", ()),
    (
        "anti_braking",
        "1",
        "front: anti-dive, rear: anti-lift in braking (brakes on the uprights)",
        "virtual work",
        "%",
        (),
    ),
    ("anti_driving", "1", "front: anti-lift, rear: anti-squat (drive through half-shafts)", "virtual work", "%", ()),
    ("wheel_rate", "N/m", "rate at the wheel, springs and heave element, at ride height", "k i² + F di/dz", "N/mm", ()),
    ("wheel_rate_curve", "N/m", "rate at the wheel over equal travel", "k i² + F di/dz", "N/mm", ("travel",)),
    ("ride_frequency", "Hz", "natural frequency of the body on springs and tyres", "one mass on two springs", "Hz", ()),
    ("body_frequency", "Hz", "body mode of the two-mass model", "two masses, no damping", "Hz", ()),
    ("hop_frequency", "Hz", "wheel-hop mode of the two-mass model", "two masses, no damping", "Hz", ()),
    ("spring_roll", "N*m/rad", "roll stiffness of the springs", "k t²/2", "N*m/deg", ()),
    ("bar_roll", "N*m/rad", "roll stiffness of the anti-roll bar", "k (t dθ/dz)²", "N*m/deg", ()),
    ("downforce_travel", "m", "wheel travel by the downforce looked at", "wheel rate integrated", "mm", ()),
    ("downforce_drop", "m", "drop of the body over the axle by that downforce, with the tyres", "the same", "mm", ()),
    ("downforce_camber", "rad", "camber under that downforce", KINEMATICS, "deg", ()),
    ("downforce_toe", "rad", "toe of one wheel under that downforce", KINEMATICS, "deg", ()),
    ("speed_travel", "m", "wheel travel by the air's load, up positive", PRESSED, "mm", ("air_speed_{end}",)),
    (
        "speed_drop",
        "m",
        "drop of the body over the axle by the air's load, with the tyres",
        PRESSED,
        "mm",
        ("air_speed_{end}",),
    ),
    (
        "speed_ride_height",
        "m",
        "ground clearance at the axle under the air's load",
        PRESSED,
        "mm",
        ("air_speed_{end}",),
    ),
    ("speed_camber", "rad", "camber under the air's load", PRESSED, "deg", ("air_speed_{end}",)),
    ("speed_toe", "rad", "toe of one wheel under the air's load, in positive", PRESSED, "deg", ("air_speed_{end}",)),
    ("speed_wheel_rate", "N/m", "wheel rate under the air's load", PRESSED, "N/mm", ("air_speed_{end}",)),
    ("speed_roll_centre", "m", "height of the roll centre under the air's load", PRESSED, "mm", ("air_speed_{end}",)),
    (
        "rod_force",
        "N",
        "axial force of each rod of the outer corner, tension positive",
        "equilibrium of the upright",
        "kN",
        ("rod_{end}", "case"),
    ),
    (
        "chassis_force",
        "N",
        "size of the force at each chassis point",
        "equilibrium",
        "kN",
        ("chassis_point_{end}", "case"),
    ),
    (
        "bar_torque",
        "N*m",
        "torque in the anti-roll bar; its links carry it: rod_force of the bar_link, the inner wheel's the other way round",
        "roll of the body on springs and bar times the bar's rate",
        "",
        ("case",),
    ),
    (
        "rod_use",
        "1",
        "share of its strength that each rod uses",
        "yield; Euler and Johnson columns",
        "%",
        ("sized_rod_{end}", "case"),
    ),
)

SOURCES = {
    "wheel_rate": "virtual work; two-mass model: Gillespie 1992 (from memory)",
    "rod_use": "Shigley (columns); materials as noted at the inputs",
    "bar_torque": "statics; load transfer: Barton & Fieldhouse 2018",
    "rod_force": "statics; load transfer: Barton & Fieldhouse 2018",
    "ackermann_curve": "any chassis text",
}
LIMITS = {
    "rod_force": "quasi-static; weight of the parts left out; wishbones that carry a pushrod are bent besides",
    "rod_use": "straight, centrally loaded, pinned ends; joints, threads and bonds are not looked at",
    **dict.fromkeys(
        (
            "speed_travel",
            "speed_drop",
            "speed_ride_height",
            "speed_camber",
            "speed_toe",
            "speed_wheel_rate",
            "speed_roll_centre",
        ),
        "steady, straight ahead, equal travel; held at full bump where the stops are reached",
    ),
    "roll_centre": "rigid links, body upright, equal travel; kinematic, not the point the car turns about",
    "bar_torque": "steady; lever arms at ride height; droop, bump stops and the bar's own friction left out",
    "wheel_rate": "rate at ride height; bump stops, gas springs and friction left out",
    "wheel_rate_curve": "bump stops, gas springs and friction left out",
}


def _outputs() -> tuple[Output, ...]:
    out = []
    for end in ENDS:
        for name, unit, meaning, model, shown, along in _OUT:
            out.append(
                Output(
                    f"{name}_{end}",
                    unit,
                    f"{end} axle: {meaning}",
                    model,
                    SOURCES.get(name, DISTANCES),
                    LIMITS.get(name, RIGID),
                    shown,
                    tuple(a.format(end=end) for a in along),
                )
            )
    out += [
        Output(
            "roll_share_front",
            "1",
            "front share of the roll stiffness, tyres in series",
            "stiffness by axle",
            "any vehicle-dynamics text",
            "linear, small roll",
            "%",
        ),
        Output(
            "roll_gradient",
            "rad*s2/m",
            "roll per lateral acceleration",
            "m d/(K − m g d)",
            "Barton & Fieldhouse 2018, eq. 3.18",
            "small angles",
            "deg/g0",
        ),
    ]
    return tuple(out)


def _axes_step(g: Mapping[str, Any]) -> dict[str, Any]:
    bump, rebound = float(np.median(g["bump"])), float(np.median(g["rebound"]))
    half = POSITIONS // 2
    below = -rebound * np.arange(half, 0, -1) / half
    above = bump * np.arange(1, half + 1) / half
    rack, roll = float(np.median(g["rack_travel"])), float(np.median(g["roll"]))
    return {
        "travel": np.concatenate([below, [0.0], above]),
        "rack": np.linspace(-rack, rack, 11),
        "roll_angle": np.linspace(-roll, roll, 5),
        "case": [c.name for c in g["cases"]],
    }


def _wheelbase(g: Mapping[str, Any]) -> Any:
    front, rear = g["hardpoints"].wheel("front"), g["hardpoints"].wheel("rear")
    return g["wheelbase"] if front is None or rear is None else front[:, 0] - rear[:, 0]


def _corner_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        layout = g[f"layout_{end}"]
        on = g[f"rod_on_{end}"]
        wheel = (g[f"camber_{end}"], g[f"toe_{end}"], g[f"radius_{end}"], g[f"rim_offset_{end}"])
        corner: Any
        if layout == "beam" or (layout == "as_marked" and beam_figures.is_beam(g["hardpoints"], end)):
            corner = beam_figures.build(g["hardpoints"], end, *wheel)
            candidates: list[Any] = []
            joined = None
        else:
            asked = "" if layout == "as_marked" else layout
            mounts = {} if on == "as_marked" else {"pushrod": on}
            corner, candidates, joined = figures.build(g["hardpoints"], end, asked, mounts, *wheel)
        points = g["hardpoints"].corners.get(end, {})
        return {
            f"assumed_{end}": dict(g["hardpoints"].assumed.get(end, {})),
            f"corner_{end}": corner,
            f"candidates_{end}": candidates,
            f"joined_{end}": joined,
            f"actuation_{end}": figures.how_actuated(points) if points else {},
            f"unequal_{end}": figures.unequal_rods(g["hardpoints"], end),
        }

    return step


def _named(values: Mapping[str, Any], end: str, names: tuple[str, ...]) -> dict[str, Any]:
    return {f"{n}_{end}": values[n] for n in names}


CURVES = (
    "camber_curve",
    "toe_curve",
    "roll_centre_curve",
    "track_curve",
    "wheelbase_curve",
    "scrub_radius",
    "mechanical_trail",
    "caster",
    "kingpin_inclination",
    "roll_centre",
    "camber_gain",
    "bump_steer",
    "front_swing_arm",
    "side_swing_arm",
)
SPRINGS = (
    "spring_ratio_curve",
    "spring_per_wheel",
    "wheel_per_spring",
    "spring_per_wheel_bump",
    "progression",
    "rocker_per_wheel",
    "bar_per_wheel",
    "damper_per_wheel",
    "heave_per_wheel",
)
RATES = (
    "wheel_rate",
    "wheel_rate_curve",
    "ride_frequency",
    "body_frequency",
    "hop_frequency",
    "spring_roll",
)
ROLL = ("roll_camber_curve", "roll_centre_roll_height", "roll_centre_roll_side")
STEER = ("steer_curve", "ackermann_curve", "steer_per_rack")
LOADS = ("rod", "chassis_point", "rod_force", "chassis_force", "bending", "bar_torque")
SPEED = (
    "speed_travel",
    "speed_drop",
    "speed_ride_height",
    "speed_camber",
    "speed_toe",
    "speed_wheel_rate",
    "speed_roll_centre",
)
DROP = ("downforce_travel", "downforce_drop", "downforce_camber", "downforce_toe")


def _motion_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        c: Corner | BeamAxle = g[f"corner_{end}"]
        m: Any
        if isinstance(c, BeamAxle):
            m, curves = beam_figures.over_travel(c, g["travel"], end)
            springs = beam_figures.springs(m, g["travel"], end)
            track = (c.points["left.wheel.centre"] - c.points["right.wheel.centre"])[..., 1]
        else:
            m, curves = figures.over_travel(c, g["travel"])
            springs = figures.springs_over_travel(c, m, g["travel"], end)
            track = 2 * figures.geometry.contact(figures.solve(c))[..., 1]
        return {
            **_named(curves, end, CURVES),
            **_named(springs, end, SPRINGS),
            f"motion_{end}": m,
            f"ratios_{end}": springs,
            f"curves_{end}": curves,
            f"track_{end}": track,
            f"unreached_{end}": describe(m.reason),
        }

    return step


def _side_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        antis = beam_figures.antis if isinstance(g[f"motion_{end}"], BeamMotion) else figures.antis
        found = antis(
            g[f"motion_{end}"],
            g["travel"],
            end,
            _wheelbase(g),
            g["cg_height"],
            g["brake_share_front"],
            g["drive_share_front"],
        )
        return _named(found, end, ("anti_braking", "anti_driving"))

    return step


def _steer_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        why = "the rear axle is taken as not steered" if end == "rear" else "a steered beam axle is not computed"
        if end == "rear" or isinstance(g[f"corner_{end}"], BeamAxle):
            return _named(dict.fromkeys(STEER, Refusal(why, ("a steered independent front axle",))), end, STEER)
        return _named(figures.steering(g[f"corner_{end}"], g["rack"], _wheelbase(g)), end, STEER)

    return step


def _roll_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        c = g[f"corner_{end}"]
        if isinstance(c, BeamAxle):
            why = Refusal(f"the {end} beam axle stays with the road in roll", ("an independent axle",))
            return _named(dict.fromkeys(ROLL, why), end, ROLL)
        return _named(figures.in_roll(c, g["roll_angle"]), end, ROLL)

    return step


def _sprung(g: Mapping[str, Any], end: str) -> Any:
    share = g["front_share"] if end == "front" else 1 - g["front_share"]
    return 0.5 * g["mass"] * share - g[f"unsprung_{end}"]


def _rate_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        springing = g["springs"].get(end, Springing())
        found = figures.stiffness(
            g[f"ratios_{end}"],
            springing,
            g["travel"],
            _sprung(g, end),
            g[f"unsprung_{end}"],
            g[f"tyre_rate_{end}"],
            g["installation_stiffness"],
            g[f"track_{end}"],
            end,
        )
        ratio = g[f"ratios_{end}"]
        if "_roll_ratio" in ratio and springing.coil is not None:
            softer = springing.coil * g["installation_stiffness"]
            found["spring_roll"] = beam_figures.roll_stiffness(ratio, softer, g[f"track_{end}"])
        bar = ratio["bar_per_wheel"]
        if springing.bar is None:
            roll: Any = Refusal(
                f"the {end} anti-roll bar's rate is not known", (f'springs: {{"{end}": {{"anti_roll_bar": …}}}}',)
            )
        elif isinstance(bar, Refusal):
            roll = bar
        else:
            roll = rates.roll_stiffness_of_bar(springing.bar, bar, g[f"track_{end}"]) * g["installation_stiffness"]
        return {
            **_named(found, end, RATES),
            f"bar_roll_{end}": roll,
            f"in_roll_{end}": {"parts": _in_roll(g, found, roll, end)},
        }

    return step


def _in_roll(g: Mapping[str, Any], found: Mapping[str, Any], roll: Any, end: str) -> figures.RollSprings | Refusal:
    """What twists the anti-roll bar; why it cannot be said where bar or springs are not known."""
    for part in (roll, found["spring_roll"]):
        if isinstance(part, Refusal):
            return part
    per_roll = roll / (g[f"ratios_{end}"]["bar_per_wheel"] * g[f"track_{end}"])
    return figures.RollSprings(found["spring_roll"] + roll, per_roll)


def _drop_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        found = figures.under_downforce(
            g[f"corner_{end}"],
            g["travel"],
            g[f"wheel_rate_curve_{end}"],
            g[f"downforce_{end}"],
            g[f"tyre_rate_{end}"],
            g[f"camber_curve_{end}"],
            g[f"toe_curve_{end}"],
        )
        return _named(found, end, DROP)

    return step


def _pressed_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        names = (*_n(SPEED, end), f"air_speed_{end}")
        air = g["air"]
        if air is None:
            why = Refusal(
                "what the air presses is not known",
                ("aero: wings, floor and frontal area of the same car", "or air: {…}"),
            )
            return dict.fromkeys(names, why) | {f"stops_{end}": None}
        read_off = {
            "camber": "camber_curve",
            "toe": "toe_curve",
            "wheel_rate": "wheel_rate_curve",
            "roll_centre": "roll_centre_curve",
        }
        curves = {k: g[f"{name}_{end}"] for k, name in read_off.items()}
        made = pressed.over_speed(air, end, g["travel"], g[f"wheel_rate_curve_{end}"], g[f"tyre_rate_{end}"], curves)
        out: dict[str, Any] = {f"speed_{k}_{end}": made[k] for k in ("travel", "drop", *read_off)}
        ride = made["ride_height"]
        need = Refusal("the ride height at rest is not known", (f"air: ride_height_{end}",))
        out[f"speed_ride_height_{end}"] = need if ride is None else ride
        stops = {
            "speed": made["every_speed"],
            "share": made["stopped"],
            "bump": float(g["travel"][-1]),
            "apart": made["apart"],
            "held": made["held"],
        }
        return out | {f"air_speed_{end}": made["speed"], f"stops_{end}": stops}

    return step


def _total_roll(g: Mapping[str, Any], end: str) -> Any:
    """Roll stiffness of an axle without tyres; a bar that is not known counts as none."""
    bar = g["bars"].get(end)
    return g[f"spring_roll_{end}"] + (0.0 if bar is None else bar)


def _bars_step(g: Mapping[str, Any]) -> dict[str, Any]:
    """Bars that are known, so that an unknown one does not refuse what hangs on both axles."""
    out = {}
    for end in ENDS:
        bar, ratio = g["springs"].get(end, Springing()).bar, g[f"ratios_{end}"]["bar_per_wheel"]
        if bar is not None and not isinstance(ratio, Refusal):
            out[end] = rates.roll_stiffness_of_bar(bar, ratio, g[f"track_{end}"]) * g["installation_stiffness"]
    return {"bars": out}


def _share_step(g: Mapping[str, Any]) -> dict[str, Any]:
    by_end = {end: rates.with_tyres(_total_roll(g, end), g[f"tyre_rate_{end}"], g[f"track_{end}"]) for end in ENDS}
    total = by_end["front"] + by_end["rear"]
    ms = g["mass"] - 2 * (g["unsprung_front"] + g["unsprung_rear"])
    axis = g["front_share"] * g["roll_centre_front"] + (1 - g["front_share"]) * g["roll_centre_rear"]
    return {
        "roll_share_front": by_end["front"] / total,
        "roll_gradient": rates.roll_gradient(ms, g["cg_height"] - axis, total),
    }


def _load_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        track = g[f"track_{end}"]
        # The other axle may not be known: its track and roll centre are taken as this one's.
        car = Car(
            mass=g["mass"],
            wheelbase=_wheelbase(g),
            front_share=g["front_share"],
            cg_height=g["cg_height"],
            track_front=track,
            track_rear=track,
            roll_share_front=g["roll_moment_front"],
            roll_centre_front=g[f"roll_centre_{end}"],
            roll_centre_rear=g[f"roll_centre_{end}"],
            brake_share_front=g["brake_share_front"],
            drive_share_front=g["drive_share_front"],
            unsprung_front=2 * g["unsprung_front"],
            unsprung_rear=2 * g["unsprung_rear"],
            unsprung_height=g[f"radius_{end}"],
        )
        c = g[f"corner_{end}"]
        parts = g[f"in_roll_{end}"]["parts"]
        made: Any
        if isinstance(c, BeamAxle):
            made = beam_figures.rod_loads(c, g["cases"], car, end, None if isinstance(parts, Refusal) else parts)
        else:
            made = figures.rod_loads(c, g["cases"], car, end, None if isinstance(parts, Refusal) else parts)
        if isinstance(made, Refusal):
            return dict.fromkeys(_n(LOADS, end), made)
        names, found = made
        return {
            f"rod_{end}": names,
            f"chassis_point_{end}": found["chassis_points"],
            f"rod_force_{end}": found["rod_force"],
            f"chassis_force_{end}": found["chassis_force"],
            f"bending_{end}": found["_bending"],
            f"bar_torque_{end}": parts if isinstance(parts, Refusal) else found["_bar_torque"],
        }

    return step


def _use_step(end: str) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    def step(g: Mapping[str, Any]) -> dict[str, Any]:
        made = figures.use(g[f"corner_{end}"], g[f"rod_force_{end}"], list(g[f"rod_{end}"]), g["rods"], end)
        if isinstance(made, Refusal):
            return {f"sized_rod_{end}": made, f"rod_use_{end}": made, f"slender_{end}": made}
        return {f"sized_rod_{end}": made[0], f"rod_use_{end}": made[1], f"slender_{end}": made[2]}

    return step


def _n(names: tuple[str, ...], end: str) -> tuple[str, ...]:
    return tuple(f"{n}_{end}" for n in names)


def _steps(end: str) -> tuple[Step, ...]:
    corner = f"corner_{end}"
    side = ("hardpoints", "wheelbase", "cg_height", "brake_share_front", "drive_share_front")
    inner = _n(("motion", "ratios", "curves", "track", "unreached"), end)
    return (
        Step(
            f"{end} corner",
            _corner_step(end),
            ("hardpoints", *_n(("layout", "rod_on", "camber", "toe", "radius", "rim_offset"), end)),
            _n(("corner", "assumed", "candidates", "joined", "actuation", "unequal"), end),
        ),
        Step(f"{end} motion", _motion_step(end), (corner, "travel"), (*_n(CURVES + SPRINGS, end), *inner)),
        Step(
            f"{end} side view",
            _side_step(end),
            (f"motion_{end}", "travel", *side),
            _n(("anti_braking", "anti_driving"), end),
        ),
        Step(f"{end} steering", _steer_step(end), (corner, "rack", "hardpoints", "wheelbase"), _n(STEER, end)),
        Step(f"{end} roll", _roll_step(end), (corner, "roll_angle"), _n(ROLL, end)),
        Step(
            f"{end} rates",
            _rate_step(end),
            (
                f"ratios_{end}",
                f"track_{end}",
                "springs",
                "travel",
                "mass",
                "front_share",
                f"unsprung_{end}",
                f"tyre_rate_{end}",
                "installation_stiffness",
            ),
            (*_n(RATES, end), f"bar_roll_{end}", f"in_roll_{end}"),
            version=2,
        ),
        Step(
            f"{end} under downforce",
            _drop_step(end),
            (corner, "travel", *_n(("wheel_rate_curve", "downforce", "tyre_rate", "camber_curve", "toe_curve"), end)),
            _n(DROP, end),
        ),
        Step(
            f"{end} at speed",
            _pressed_step(end),
            (
                "air",
                "travel",
                *_n(("wheel_rate_curve", "tyre_rate", "camber_curve", "toe_curve", "roll_centre_curve"), end),
            ),
            (*_n(SPEED, end), f"air_speed_{end}", f"stops_{end}"),
        ),
        Step(
            f"{end} loads",
            _load_step(end),
            (
                corner,
                "cases",
                "mass",
                "front_share",
                *side,
                "roll_moment_front",
                "unsprung_front",
                "unsprung_rear",
                *_n(("track", "roll_centre", "radius", "in_roll"), end),
            ),
            _n(LOADS, end),
            version=2,
        ),
        Step(
            f"{end} rods",
            _use_step(end),
            (corner, "rods", f"rod_force_{end}", f"rod_{end}"),
            _n(("sized_rod", "rod_use", "slender"), end),
        ),
    )


SHEET = Sheet(
    area="suspension",
    title="What the suspension's hardpoints make the car do",
    inputs=INPUTS,
    outputs=_outputs(),
    axes=AXES,
    steps=(
        Step(
            "grids",
            _axes_step,
            ("bump", "rebound", "rack_travel", "roll", "cases"),
            ("travel", "rack", "roll_angle", "case"),
        ),
        *_steps("front"),
        *_steps("rear"),
        Step(
            "bars",
            _bars_step,
            ("springs", "installation_stiffness", *(f"{n}_{e}" for e in ENDS for n in ("ratios", "track"))),
            ("bars",),
        ),
        Step(
            "roll share",
            _share_step,
            (
                "bars",
                "mass",
                "front_share",
                "cg_height",
                *(f"{n}_{e}" for e in ENDS for n in ("spring_roll", "tyre_rate", "track", "unsprung", "roll_centre")),
            ),
            ("roll_share_front", "roll_gradient"),
        ),
    ),
    findings=answers.ALL,
    cautions=(
        "Rod forces and strengths are of an idealised linkage under assumed loads: they are no proof that a "
        "part is safe.",
    ),
)
