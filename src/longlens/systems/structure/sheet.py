"""The structure sheet: what goes in, what comes out, and the steps between."""

from __future__ import annotations

from longlens.numbers.distributions import Normal, Uniform
from longlens.systems.sheet import Axis, Input, Output, Sheet, Step, Structure, Validity
from longlens.systems.stated import read_stated
from longlens.systems.structure import answers, steps
from longlens.systems.structure.readings import PRACTICE, read_crash, read_members, read_sections, read_seen

MEAN = "m v²/2 = F s, over the length that crushes"
MEAN_SOURCE = "mechanics; the rules' own texts"
MEAN_LIMITS = "mean over the way; along the axis; no trigger, no buckling sideways"
WALL = "E/(SEA ρ P s)"
WALL_SOURCE = "Jacob et al. 2002; Lu and Yu 2003 (from memory)"
COLUMN = "Euler's column where slender, Johnson's where stout"
SHIGLEY = "Shigley, Mechanical Engineering Design"
COLUMN_LIMITS = "straight, centrally loaded; joints, welds and bonds not looked at"

INPUTS = (
    Structure("crash", "the crash structure: length, section at both ends", read_crash, {}, "not measured"),
    Structure("members", "tubes: stays, braces, body-support rods", read_members, {}, "none known"),
    Structure("sections", "sections of bars, rockers, uprights", read_sections, {}, "none known"),
    Structure("seen", "what was seen of surfaces", read_seen, [], "nothing seen"),
    Structure("stated", "the maker's own figures, by the output's name", read_stated, {}, "none given"),
    Input("mass", "kg", "mass of the car, without driver", "kg", plausible=(150, 5000)),
    Input("payload", "kg", "driver with equipment", "kg", Normal(82, 8), f"a driver in overalls and helmet: {PRACTICE}", (0,
         800)),
    Input("impact_speed", "m/s", "speed of the car's own impact looked at", "m/s", Normal(15.0, 1e-9),
          "as in the rule for fast single-seaters", (1, 60)),
    Input("absorber_rank", "1", "where in its band a material's specific energy absorption lies", assumption=Uniform(0, 1),
          reason="the whole band", plausible=(0, 1)),
)  # fmt: skip


def _crash(name: str, unit: str, meaning: str, shown: str = "", along: tuple[str, ...] = ()) -> Output:
    return Output(name, unit, meaning, MEAN, MEAN_SOURCE, MEAN_LIMITS, shown, along)


_R, _M, _P = ("rule",), ("material",), ("part",)

OUTPUTS = (
    _crash("crush", "m", "length that crushes", "mm"),
    _crash("rule_energy", "J", "energy of each rule's impact", "kJ", _R),
    _crash("rule_deceleration", "m/s2", "mean deceleration in each rule's impact, if all of it is crushed", "g0", _R),
    _crash("rule_force", "N", "mean force in each rule's impact", "kN", _R),
    _crash("rule_margin", "1", "what is left of the mean deceleration allowed", "%", _R),
    _crash("rule_least_length", "m", "least crush at the rule's own limits", "mm", _R),
    _crash("rule_early", "m/s2", "deceleration over the first 150 mm with an even wall", "g0", _R),
    _crash("own_energy", "J", "energy of the car's own impact", "kJ"),
    _crash("own_deceleration", "m/s2", "mean deceleration of the car's own impact", "g0"),
    _crash("own_force", "N", "mean force of the car's own impact", "kN"),
    Output("wall_needed", "m", "mean wall needed for the hardest rule", WALL, WALL_SOURCE, MEAN_LIMITS, "mm", _M),
    Output("wall_usual", "1", "chance that this wall is usual", WALL, WALL_SOURCE, MEAN_LIMITS, "%", _M),
    Output("absorption_needed", "J/kg", "specific absorption needed with the wall known, else with a usual one", "E/(ρ P t s)",
           WALL_SOURCE, MEAN_LIMITS, "kJ/kg", _M),
    Output("member_push", "N", "compression that a member bears", COLUMN, SHIGLEY, COLUMN_LIMITS, "kN", ("member",)),
    Output("member_pull", "N", "tension that a member bears", "strength × area", SHIGLEY, COLUMN_LIMITS, "kN", ("member",)),
    Output("member_slender", "1", "slenderness of a member", "L/(√C r)", SHIGLEY, COLUMN_LIMITS, "", ("member",)),
    Output("member_use", "1", "share of its capacity that a member uses", COLUMN, SHIGLEY, COLUMN_LIMITS, "%",
         ("loaded_member",)),
    Output("bending_capacity", "N*m", "bending moment at yield", "σ I/c", SHIGLEY, "no stress concentration", "", _P),
    Output("torsion_capacity", "N*m", "torque at yield", "τ T/τ_max, τ = σ/√3", SHIGLEY, "no stress concentration", "", _P),
    Output("part_stress", "Pa", "equivalent stress", "von Mises", SHIGLEY, "no stress concentration", "MPa", ("stressed_part",)),
    Output("part_use", "1", "share of the yield stress", "von Mises", SHIGLEY, "no stress concentration", "%",
         ("stressed_part",)),
    Output("torsion_rate", "N*m/rad", "torsional rate", "G J/L", SHIGLEY, "no warping held back", "", ("sprung_part",)),
)  # fmt: skip

SHEET = Sheet(
    area="structure",
    title="What it must take in a crash, and what its tubes carry",
    inputs=INPUTS,
    outputs=OUTPUTS,
    axes=(
        Axis("rule", None, "class rules"),
        Axis("material", None, "materials"),
        Axis("member", None, "members"),
        Axis("loaded_member", None, "members with a load"),
        Axis("part", None, "sections"),
        Axis("stressed_part", None, "sections with a moment"),
        Axis("sprung_part", None, "sections with a length"),
    ),
    steps=(
        Step("stop", lambda g: steps.stop({**g, "mass": 0.0, "payload": 0.0, "impact_speed": 1.0}), ("crash",),
             ("rule", "rule_energy", "rule_deceleration", "rule_force", "rule_margin", "rule_least_length", "rule_early", "crush",
              "around")),
        Step("own", lambda g: {k: v for k, v in steps.stop(g).items() if k.startswith("own")},
             ("crash", "mass", "payload", "impact_speed"), ("own_energy", "own_deceleration", "own_force")),
        Step("walls", steps.walls, ("crash", "around", "crush", "absorber_rank"),
             ("material", "wall_needed", "absorption_needed", "wall_usual")),
        Step("carry", steps.carry, ("members",),
             ("member", "member_push", "member_pull", "member_slender", "loaded_member", "member_use")),
        Step("bend", steps.bend, ("sections",),
             ("part", "bending_capacity", "torsion_capacity", "stressed_part", "part_stress", "part_use", "sprung_part",
              "torsion_rate")),
        Step("look", steps.look, ("seen",), ("evidence",)),
    ),
    validity=(Validity("crush", 0.08, 1.5, "crash structures of cars"),),
    findings=answers.ALL,
    cautions=(
        "No structure is safe because a number here says so: crash and strength are proved by tests under the class' rules.",
    ),
)  # fmt: skip

__all__ = ["SHEET"]
