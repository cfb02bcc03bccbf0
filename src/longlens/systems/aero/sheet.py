"""The aero sheet: what goes in, what comes out, and the steps between."""

from __future__ import annotations

from longlens.numbers.distributions import Exact, LogNormal, Normal, TruncatedNormal
from longlens.systems.aero import answers, steps
from longlens.systems.aero.readings import (
    PRACTICE,
    read_bodies,
    read_floor,
    read_frontal,
    read_obstacles,
    read_openings,
    read_springing,
    read_wings,
)
from longlens.systems.sheet import Axis, Choice, Input, Output, Sheet, Step, Structure, Validity, scatter
from longlens.systems.stated import read_stated

LINE = "lifting line with its image in the ground, thin-aerofoil sections, limit of lift"
LINE_SOURCE = "Glauert 1926; Wieselsberger 1922; Phillips and Hunsaker 2013; Hemke 1927; Smith 1975"
LINE_LIMITS = (
    "aspect ratio over 2, height over a tenth of the chord, no wakes of parts but the wings ahead and the bodies named"
)
WHOLE = "sum of wings, floor and body at the heights where springs and air balance"
WHOLE_SOURCE = "as for wings and floor; Cooper et al. 1998 (floor); Hucho 1987 (body)"
WHOLE_LIMITS = "bounds of what such shapes carry; no interaction but the named obstacles; still air, straight ahead"

INPUTS = (
    Structure("wings", "the wings, by name", read_wings, {}, "none known"),
    Structure("floor", "floor, diffuser and splitter", read_floor, {}, "none known"),
    Structure("obstacles", "what stands in the flow, by name", read_obstacles, {}, "none known"),
    Structure("bodies", "what leaves a wake that reaches parts behind it, by name", read_bodies, {}, "none but the wings"),
    Structure("openings", "inlet and outlet of the cooling ducts, by the ducts' names", read_openings, {}, "none known"),
    Structure("frontal", "frontal area, or width and height", read_frontal, {}, "from an outline where there is one"),
    Structure("stated", "the maker's own figures, by the output's name", read_stated, {}, "none given"),
    Choice("body", "what kind of body", {k: v[2] for k, v in steps.BODIES.items()}, "closed", f"most cars: {PRACTICE}"),
    Input("body_rank", "1", "where in its kind the body's drag lies", assumption=Normal(0, 1), reason="the band of its kind",
          plausible=(-4, 4)),
    Input("body_lift", "1", "lift coefficient of the body alone, up positive", assumption=Normal(0.06, 0.07),
          reason=f"bodies without devices lift a little, −0.05 to 0.2: {PRACTICE}", plausible=(-1, 1)),
    Input("wheelbase", "m", "wheelbase", "mm", Normal(2.60, 0.15), f"cars of this size: {PRACTICE}", (1.2, 6.0)),
    Input("drag_height", "m", "height at which the drag acts", "mm", TruncatedNormal(0.42, 0.07, 0.15, 0.9),
          f"somewhat over half of the car's height, with a high rear wing: {PRACTICE}", (0.05, 1.5)),
    Input("ride_front", "m", "ground clearance at the front axle at rest", "mm", TruncatedNormal(0.055, 0.02, 0.015, 0.16),
          f"track cars 30–90 mm: {PRACTICE}", (0.005, 0.4)),
    Input("ride_rear", "m", "ground clearance at the rear axle at rest", "mm", TruncatedNormal(0.065, 0.02, 0.015, 0.2),
          f"track cars 40–100 mm: {PRACTICE}", (0.005, 0.4)),
    Input("wheel_rate_front", "N/m", "rate of one front wheel in heave, without tyre", "N/mm", LogNormal(60e3, 0.35),
          f"track cars with downforce, 30–120 N/mm: {PRACTICE}", (5e3, 1e6), linked="suspension.wheel_rate_front"),
    Input("wheel_rate_rear", "N/m", "rate of one rear wheel in heave, without tyre", "N/mm", LogNormal(65e3, 0.35),
          f"track cars with downforce, 30–120 N/mm: {PRACTICE}", (5e3, 1e6), linked="suspension.wheel_rate_rear"),
    Structure("springing", "force over wheel travel of each axle up to its bump stops", read_springing, {},
              "straight lines of the wheel rates; in a dossier the suspension's curves"),
    Input("heave_rate_front", "N/m",
         "what a heave element adds at the front axle, both wheels, where the wheel rate does not hold it", "N/mm", Exact(0.0),
          "none unless given", (0, 2e6)),
    Input("heave_rate_rear", "N/m",
         "what a heave element adds at the rear axle, both wheels, where the wheel rate does not hold it", "N/mm", Exact(0.0),
          "none unless given", (0, 2e6)),
    Input("tyre_rate_front", "N/m", "vertical rate of one front tyre", "N/mm", LogNormal(240e3, 0.18),
          f"tyres at usual pressures, 180–320 N/mm: {PRACTICE}", (5e4, 2e6)),
    Input("tyre_rate_rear", "N/m", "vertical rate of one rear tyre", "N/mm", LogNormal(240e3, 0.18),
          f"tyres at usual pressures, 180–320 N/mm: {PRACTICE}", (5e4, 2e6)),
    Input("cooling_drag_area", "m2", "drag area of the cooling air", "m2", TruncatedNormal(0.03, 0.015, 0.0, 0.12),
          f"2 to 8 % of the drag: {PRACTICE}", (-0.05, 0.5), linked="cooling.drag_area"),
    Input("altitude", "m", "height of the place above the sea", "m", TruncatedNormal(200, 150, -100, 1500),
          "most circuits and hill climbs lie low: " + PRACTICE, (-500, 6000)),
    Input("temperature_offset", "K", "air warmer than the standard atmosphere", "K", TruncatedNormal(12, 6, -20, 30),
          "a warm day, about 25 °C at sea level: " + PRACTICE, (-60, 50)),
    scatter("slope_error", "error of the sections' lift slope", 0.08,
         "Abbott and von Doenhoff: sections of one family (from memory)"),
    scatter("flap_error", "error of the flaps' effect", 0.20,
         "NACA Reports 664 and 679: slots at their best and off it (from memory)"),
    scatter("ground_error", "error of the ground's gain", 0.35, "Zerihan and Zhang 2000 against potential flow (from memory)"),
    scatter("limit_error", "error of the limit of lift", 0.20, "sections of one family, Reynolds number: " + PRACTICE),
    scatter("profile_error", "error of the profile drag", 0.45, PRACTICE),
    scatter("wake_error", "error of the deficit in wakes", 0.35,
            "nearer than the far wake for which the law was made; parts of a car stand there: " + PRACTICE),
    scatter("upwash_error", "error of the turning by a wing ahead", 0.40,
            "vortices that roll up and break at wheels against straight ones: " + PRACTICE),
    scatter("floor_error", "error of the area-ratio model of the floor", 0.45,
         "one-dimensional model of a leaking duct: " + PRACTICE),
)  # fmt: skip

_S, _W, _P = ("speed",), ("wing",), ("part",)


def _wing(name: str, unit: str, meaning: str, shown: str = "", along: tuple[str, ...] = _W) -> Output:
    return Output(name, unit, meaning, LINE, LINE_SOURCE, LINE_LIMITS, shown, along)


def _whole(
    name: str, unit: str, meaning: str, shown: str = "", along: tuple[str, ...] = (), model: str = WHOLE
) -> Output:
    return Output(name, unit, meaning, model, WHOLE_SOURCE, WHOLE_LIMITS, shown, along)


_WAKE = "momentum of bell-shaped wakes; horseshoe vortices of the wings ahead with their images"
_WAKE_SOURCE = "Schlichting, ch. XXIII; Johansson and George 2006; Prandtl 1918"
_WAKE_LIMITS = "far wakes, straight back; deficits of near parts known to a third; no swirl"
_DUCT_SOURCE = "Küchemann and Weber 1953; NACA ACR 5I20; Hoerner 1965"


def _stream(name: str, unit: str, meaning: str, shown: str, along: tuple[str, ...], model: str = _WAKE,
            source: str = _WAKE_SOURCE, limits: str = _WAKE_LIMITS) -> Output:  # fmt: skip
    return Output(name, unit, meaning, model, source, limits, shown, along)


_BLOCK = "share of the stream that feeds a device taken by what stands in it"

OUTPUTS = (
    _whole("lift_area", "m2", "downforce coefficient times area at 200 km/h", "m2"),
    _whole("lift_area_front", "m2", "its part on the front axle", "m2"),
    _whole("lift_area_rear", "m2", "its part on the rear axle", "m2"),
    _whole("drag_area", "m2", "drag coefficient times area at 200 km/h", "m2"),
    _whole("balance", "1", "front share of the downforce at 200 km/h", "%"),
    _whole("lift_over_drag", "1", "downforce over drag at 200 km/h"),
    _whole("won_by_dropping", "1", "change of the downforce at 200 km/h by the drop of the car", "%"),
    _whole("frontal_area", "m2", "frontal area", "m2", model="outline with its perspective taken out, or width × height × fill"),
    _whole("downforce", "N", "downforce", "N", _S),
    _whole("downforce_front", "N", "downforce on the front axle", "N", _S),
    _whole("downforce_rear", "N", "downforce on the rear axle", "N", _S),
    _whole("drag", "N", "drag", "N", _S),
    _whole("drag_power", "W", "power against the drag", "kW", _S),
    _whole("balance_curve", "1", "front share of the downforce", "%", _S),
    _whole("ride_height_front", "m", "ground clearance at the front axle", "mm", _S, "springs and tyres against the air"),
    _whole("ride_height_rear", "m", "ground clearance at the rear axle", "mm", _S, "springs and tyres against the air"),
    _whole("front_drop", "m", "drop of the front axle", "mm", _S, "springs and tyres against the air"),
    _whole("rear_drop", "m", "drop of the rear axle", "mm", _S, "springs and tyres against the air"),
    _whole("part_downforce", "N", "downforce of each part at 200 km/h", "N", _P),
    _whole("part_drag", "N", "drag of each part at 200 km/h", "N", _P),
    _wing("wing_lift_coefficient", "1", "downforce coefficient of each wing at rest, on its plan area"),
    _wing("wing_use", "1", "lift of the sections over what they can give, before it is held", "%"),
    _wing("wing_angle", "rad", "angle between the flow and the direction of no lift", "deg"),
    _wing("wing_drag_share", "1", "share of the wing's drag that is induced", "%"),
    _stream("wing_stream", "1", "dynamic pressure that reaches each wing, over the car's own", "%", _W),
    _stream("wing_turn", "rad", "turning of the stream that reaches each wing, upwards", "deg", _W),
    _stream("taken", "1", "what each thing ahead takes of the dynamic pressure before wings and openings", "%",
            ("reached", "lies_ahead")),
    _stream("opening_stream", "1", "dynamic pressure that reaches each inlet, over the car's own", "%", ("opening",)),
    _stream("opening_turn", "rad", "turning of the stream that reaches each inlet, upwards", "deg", ("opening",)),
    _stream("inlet_recovery", "1", "total pressure that each inlet gets, over the car's dynamic pressure", "%", ("opening",),
            "stream × what the wall's layer leaves × what the inlet keeps", _DUCT_SOURCE, "sound lips, flow ratios of 0.2 to 1"),
    _stream("outlet_pressure", "1", "pressure coefficient at each outlet", "1", ("opening",), "band of the outlet's kind",
            _DUCT_SOURCE, "as the body around it makes it"),
    _wing("wing_loading", "m", "downforce per dynamic pressure and span, tip to middle", "m", ("wing", "station")),
    _wing("position_lift_area", "m2", "lift area of a wing in each of its positions, at rest", "m2", ("position",)),
    _wing("position_drag_area", "m2", "drag area of a wing in each of its positions, at rest", "m2", ("position",)),
    _whole("obstacle_downforce", "N", "downforce won at 200 km/h without each obstacle", "N", ("obstacle",), _BLOCK),
    _whole("obstacle_front", "N", "its part on the front axle", "N", ("obstacle",), _BLOCK),
    _whole("obstacle_drag", "N", "drag of each obstacle at 200 km/h", "N", ("obstacle",), "C_D A q (Hoerner 1965)"),
)  # fmt: skip

_ERRORS = ("slope_error", "flap_error", "ground_error", "limit_error", "profile_error")
_RATES = tuple(f"{n}_{e}" for e in ("front", "rear") for n in ("wheel_rate", "heave_rate", "tyre_rate", "ride"))

SHEET = Sheet(
    area="aero",
    title="What the air presses and what it costs",
    inputs=INPUTS,
    outputs=OUTPUTS,
    axes=(
        Axis("speed", "m/s", "road speed", "km/h"),
        Axis("part", None, "parts"),
        Axis("wing", None, "wings"),
        Axis("station", "1", "place along the half span, middle 0, tip 1", "1"),
        Axis("position", None, "positions of the wings"),
        Axis("opening", None, "openings of cooling ducts"),
        Axis("reached", None, "wings and openings"),
        Axis("lies_ahead", None, "what lies ahead"),
        Axis("obstacle", None, "what stands in the flow"),
    ),
    steps=(
        Step("wings", steps.solve_wings, ("wings", "obstacles", "bodies", "wake_error", "upwash_error", *_ERRORS),
             ("tables", "left", "ahead", "wing_streams", "wing_stream", "wing_turn", "wing", "wing_lift_coefficient",
              "wing_use", "wing_angle", "wing_drag_share", "station", "wing_loading",
              "position", "position_lift_area", "position_drag_area"), version=2),
        Step("openings", steps.open_ducts, ("openings", "ahead", "wing_streams"),
             ("inlets", "opening", "opening_stream", "opening_turn", "inlet_recovery", "outlet_pressure", "reached", "lies_ahead",
              "taken")),
        Step("assemble", steps.assemble,
             ("tables", "floor", "obstacles", "frontal", "body", "body_rank", "body_lift", "wheelbase", "drag_height",
                  "floor_error",
              "cooling_drag_area", "altitude", "temperature_offset", "slope_error"),
             ("whole", "density", "frontal_area")),
        Step("over speed", steps.over_speed, ("whole", "density", "springing", *_RATES),
             ("speed", "downforce", "downforce_front", "downforce_rear", "drag", "drag_power", "front_drop", "rear_drop", "part",
              "part_downforce", "part_drag", "lift_area_front", "lift_area_rear", "lift_area", "drag_area", "balance",
                   "balance_curve",
              "lift_over_drag", "won_by_dropping", "restless", "touching", "places", "unsettled", "on_stops", "held", "curves",
              "ride_height_front", "ride_height_rear"), version=2),
        Step("freed", steps.freed, ("whole", "tables", "obstacles", "density"),
             ("obstacle", "obstacle_downforce", "obstacle_front", "obstacle_drag")),
    ),
    validity=(
        Validity("drag_area", 0.15, 3.0, "cars, not lorries"),
        Validity("frontal_area", 0.5, 3.5, "frontal areas of cars"),
    ),
    findings=answers.ALL,
    cautions=("Downforce read from shapes is a bound: no car should be set up, and no corner taken, by it.",),
)  # fmt: skip

__all__ = ["SHEET"]
