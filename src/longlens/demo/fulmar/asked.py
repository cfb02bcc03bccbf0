"""What is published of the Fulmar and what may be asked of its photographs."""

from __future__ import annotations

from longlens.demo.asked import layout_facts, length, suspension, wheel_facts
from longlens.demo.fulmar.shape import FRONT_TYRE, REAR_TYRE
from longlens.demo.model import Model


def sheet(stage: str) -> dict[str, object]:
    """The maker's published figures of a stage, rounded as makers round."""
    figures: dict[str, object] = {
        "maker": "Skerry (invented)",
        "car": "Fulmar E4",
        "stage": stage,
        "wheelbase_mm": 2625,
        "track_front_mm": 1520,
        "track_rear_mm": 1475,
        "tyre_front": FRONT_TYRE.designation,
        "tyre_rear": REAR_TYRE.designation,
        "rim_front": "8 J x 15",
        "rim_rear": "10 J x 15",
        "source": "Skerry press sheet (invented)",
    }
    if stage == "shown":
        figures |= {
            "length_mm": 4305,
            "width_mm": 1770,
            "height_mm": 1110,
            "mass_kg": 620,
            "power_kW": 320,
            "battery_kWh": 19,
            "mass_front_percent": 43,
            "top_speed_km_h": 245,
            "zero_to_100_s": 2.4,
        }
    return figures


def facts(circles: list[str]) -> list[dict[str, object]]:
    """Published lengths as facts of the exchange form; ``circles`` are the ids of rims and tyres that are marked."""
    return [
        *layout_facts(FRONT_TYRE, REAR_TYRE, 2.625, 1.520, 1.475, 0.005),
        *wheel_facts(FRONT_TYRE, REAR_TYRE, circles),
    ]


def measures(stage: str, model: Model) -> list[dict[str, object]]:
    """All that may be asked of this stage; see :func:`longlens.demo.asked.in_reach` for what the marks can answer."""
    out: list[dict[str, object]] = []
    for side in ("left", "right"):
        out += _links_and_wheels(side)
        for core in (f"{side}.cooler", f"{side}.second_cooler"):
            out += _core_measures(core, model)
        out += _body_measures(side)
    for end in ("front", "rear"):
        out.append(length(f"{end}.rim_faces", f"left.{end}.rim_centre", f"right.{end}.rim_centre", along="y"))
    out.append(length("front.heave", "left.front.rocker.heave", "right.front.rocker.heave"))
    out.append(length("front.rack", "left.front.track_rod.inner", "right.front.track_rod.inner"))
    out.append(
        length("front_wing.span", "left.front_wing.end_plate.rear_upper", "right.front_wing.end_plate.rear_upper")
    )
    out.append(length("rear_wing.span", "left.rear_wing.end_plate.rear_upper", "right.rear_wing.end_plate.rear_upper"))
    out.append(length("crash_structure.width", "left.crash_structure.front_upper", "right.crash_structure.front_upper"))
    out.append(
        length("crash_structure.length", "left.crash_structure.front_upper", "left.crash_structure.bolt_2", along="x")
    )
    out.append({"id": "roll_hoop.height", "height": "roll_hoop.top"})
    return out


def _links_and_wheels(side: str) -> list[dict[str, object]]:
    out: list[dict[str, object]] = [*suspension(side, "pushrod", "toe_link", ("bar", "heave"), ("spring",))]
    out.append(length(f"{side}.wheelbase", f"{side}.front.rim_centre", f"{side}.rear.rim_centre", along="x"))
    out.append(length(f"{side}.front.bar_link", f"{side}.front.rocker.bar", f"{side}.front.bar_link.upper"))
    out.append(length(f"{side}.front.torsion_bar", f"{side}.front.rocker.pivot", f"{side}.front.torsion_bar.anchor"))
    out.append(length(f"{side}.rear.spring", f"{side}.rear.spring.chassis", f"{side}.rear.rocker.spring"))
    for end in ("front", "rear"):
        for what in ("rim", "tyre", "disc"):
            out.append({"id": f"{side}.{end}.{what}.diameter", "diameter": f"{side}.{end}.{what}"})
    return out


def _core_measures(core: str, model: Model) -> list[dict[str, object]]:
    corners = [f"{core}.corner.{k}" for k in ("start_lower", "end_lower", "end_upper", "start_upper")]
    rails = model.cores.get(core, {}).get("rails")
    collector = f"{core}.collector_start"
    return [
        {"id": f"{core}.face", "face_area": rails} if rails else {"id": f"{core}.face", "area": corners},
        length(f"{core}.height", corners[0], corners[3]),
        length(collector, f"{collector}.foot", f"{collector}.head"),
    ]


def _body_measures(side: str) -> list[dict[str, object]]:
    """The bleed line's rise, heights over the ground, the wings' plates."""
    out: list[dict[str, object]] = []
    bleed = [f"{side}.bleed_line.{p}" for p in ("low_end", "bracket_1", "bracket_2")]
    out.append({"id": f"{side}.bleed_rise", "rise": bleed})
    out.append({"id": f"{side}.bleed_least_rise", "least_rise": bleed})
    out.append({"id": f"{side}.floor_edge.height", "height": f"{side}.floor.edge_front"})
    out.append({"id": f"{side}.floor_edge_rear.height", "height": f"{side}.floor.edge_rear"})
    out.append({"id": f"{side}.diffuser.height", "height": f"{side}.diffuser.rear_corner"})
    out.append({"id": f"{side}.front_wing.height", "height": f"{side}.front_wing.end_plate.rear_lower"})
    out.append(
        length(
            f"{side}.front_wing.plate_length",
            f"{side}.front_wing.end_plate.front",
            f"{side}.front_wing.end_plate.rear_upper",
        )
    )
    out.append(
        length(
            f"{side}.rear_wing.plate_length",
            f"{side}.rear_wing.end_plate.front_upper",
            f"{side}.rear_wing.end_plate.rear_upper",
        )
    )
    return out


def stanced_measures(points: set[str]) -> list[dict[str, object]]:
    """The same rods again where another stance shows them: their lengths must come out the same."""
    out: list[dict[str, object]] = []
    for stance in ("hanging", "turning"):
        for side in ("left", "right"):
            for name, a, b in (
                ("track_rod", "track_rod.inner", "track_rod.outer"),
                ("pushrod", "pushrod.inner", "pushrod.outer"),
            ):
                pa = f"{side}.front.{a}@{stance}"
                if pa not in points:
                    pa = f"{side}.front.{a}"
                out.append(length(f"{side}.front.{name}@{stance}", pa, f"{side}.front.{b}@{stance}"))
    return out


def rods_to_measure() -> list[tuple[str, str, str, str]]:
    """Rods whose diameters are worth asking: measure, part, the point where edges are marked, a second point."""
    out = []
    for side in ("left", "right"):
        for rod in ("front.pushrod", "front.track_rod", "rear.pushrod"):
            p = f"{side}.{rod}"
            out.append((f"{p}.diameter", p, f"{p}.band_outer", f"{p}.band_inner"))
        p = f"{side}.cooler.collector_start"
        out.append((f"{p}.foot_diameter", f"{p}#0", f"{p}.foot", f"{p}.head"))
        out.append((f"{p}.head_diameter", f"{p}#1", f"{p}.head", f"{p}.foot"))
        for pipe in ("feed_pipe", "return_pipe"):
            p = f"{side}.{pipe}"
            out.append((f"{p}.diameter", p, f"{p}.tape_1", f"{p}.tape_2"))
    return out
