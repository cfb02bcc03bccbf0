"""What is published of the Gannet and what may be asked of its photographs."""

from __future__ import annotations

from typing import Any

from longlens.demo.asked import layout_facts, length, suspension, wheel_facts
from longlens.demo.gannet.shape import FRONT_TYRE, REAR_TYRE
from longlens.demo.model import Model


def sheet(stage: str) -> dict[str, Any]:
    """The maker's published figures of a stage, rounded as makers round."""
    figures: dict[str, Any] = {
        "maker": "Skerry (invented)",
        "car": "Gannet",
        "stage": stage,
        "wheelbase_mm": 2445,
        "track_front_mm": 1565,
        "track_rear_mm": 1550,
        "tyre_front": FRONT_TYRE.designation,
        "tyre_rear": REAR_TYRE.designation,
        "rim_front": "8.5 J x 18",
        "rim_rear": "11 J x 19",
        "source": "Skerry press sheet (invented)",
    }
    if stage == "shown":
        figures |= {
            "length_mm": 4195,
            "width_mm": 1895,
            "height_mm": 1095,
            "mass_kg": 860,
            "power_kW": 305,
            "engine": "four cylinders, 2.0 l, turbocharged",
            "mass_front_percent": 41,
            "top_speed_km_h": 265,
            "zero_to_100_s": 3.2,
        }
    return figures


def facts(circles: list[str]) -> list[dict[str, Any]]:
    """Published lengths as facts of the exchange form; ``circles`` are the ids of rims and tyres that are marked."""
    return [
        *layout_facts(FRONT_TYRE, REAR_TYRE, 2.445, 1.565, 1.550, 0.005),
        *wheel_facts(FRONT_TYRE, REAR_TYRE, circles),
    ]


def measures(stage: str, model: Model) -> list[dict[str, Any]]:
    """All that may be asked of this stage."""
    out: list[dict[str, Any]] = []
    for side in ("left", "right"):
        out += _links_and_wheels(side)
        for core in (f"{side}.charge_cooler", f"{side}.oil_cooler"):
            corners = _core_corners(core)
            out.append({"id": f"{core}.face", "area": corners})
            out.append(length(f"{core}.height", corners[0], corners[3]))
        out += _body_measures(side)
    corners = _core_corners("radiator")
    out.append({"id": "radiator.face", "area": corners})
    out.append(length("radiator.width", corners[3], corners[2]))
    for end in ("front", "rear"):
        out.append(length(f"{end}.rim_faces", f"left.{end}.rim_centre", f"right.{end}.rim_centre", along="y"))
    out.append(length("rear_wing.span", "left.rear_wing.end_plate.rear_upper", "right.rear_wing.end_plate.rear_upper"))
    out.append(length("diffuser.width", "left.diffuser.rear_corner", "right.diffuser.rear_corner"))
    out.append(length("crash_beam.width", "left.crash_structure.beam_end", "right.crash_structure.beam_end"))
    out.append(length("splitter.width", "left.splitter.corner", "right.splitter.corner"))
    return out


def _core_corners(core: str) -> list[str]:
    return [f"{core}.corner.{q}" for q in ("start_lower", "end_lower", "end_upper", "start_upper")]


def _links_and_wheels(side: str) -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = [*suspension(side, "pullrod", "toe_link", ("bar", "spring"), ("spring",))]
    out.append(length(f"{side}.wheelbase", f"{side}.front.rim_centre", f"{side}.rear.rim_centre", along="x"))
    out.append(length(f"{side}.front.bar_link", f"{side}.front.rocker.bar", f"{side}.front.bar_link.upper"))
    for end in ("front", "rear"):
        out.append(length(f"{side}.{end}.spring", f"{side}.{end}.spring.chassis", f"{side}.{end}.rocker.spring"))
        out += [
            {"id": f"{side}.{end}.{what}.diameter", "diameter": f"{side}.{end}.{what}"}
            for what in ("rim", "tyre", "disc")
        ]
    return out


def _body_measures(side: str) -> list[dict[str, Any]]:
    """Heights over the ground, the rear wing's plates."""
    out: list[dict[str, Any]] = []
    out.append({"id": f"{side}.splitter.height", "height": f"{side}.splitter.corner"})
    out.append({"id": f"{side}.floor_rail.height", "height": f"{side}.pod_floor_rail.front"})
    out.append({"id": f"{side}.floor_rail_rear.height", "height": f"{side}.pod_floor_rail.rear"})
    out.append({"id": f"{side}.diffuser.height", "height": f"{side}.diffuser.rear_corner"})
    out.append({"id": f"{side}.roll_hoop.height", "height": f"{side}.roll_hoop.top"})
    out.append(
        length(
            f"{side}.rear_wing.plate_length",
            f"{side}.rear_wing.end_plate.front_upper",
            f"{side}.rear_wing.end_plate.rear_upper",
        )
    )
    return out


def stanced_measures(points: set[str]) -> list[dict[str, Any]]:
    """Rods seen again in another stance: their lengths must come out the same."""
    out = []
    for stance in ("steered", "braking"):
        for side in ("left", "right"):
            for name in ("track_rod", "pullrod"):
                a = f"{side}.front.{name}.inner@{stance}"
                out.append(
                    length(
                        f"{side}.front.{name}@{stance}",
                        a if a in points else f"{side}.front.{name}.inner",
                        f"{side}.front.{name}.outer@{stance}",
                    )
                )
    return out


def rods_to_measure() -> list[tuple[str, str, str, str]]:
    """Rods whose diameters are worth asking: measure, part, the point where edges are marked, a second point."""
    out = []
    for side in ("left", "right"):
        for end, name in (("front", "pullrod"), ("front", "track_rod"), ("rear", "pullrod")):
            p = f"{side}.{end}.{name}"
            out.append((f"{p}.diameter", p, f"{p}.band_outer", f"{p}.band_inner"))
    for q in ("left.charge_cooler.collector_start", "radiator.collector_start"):
        out.append((f"{q}.foot_diameter", f"{q}#0", f"{q}.foot", f"{q}.head"))
        out.append((f"{q}.head_diameter", f"{q}#1", f"{q}.head", f"{q}.foot"))
    for pipe in ("coolant_pipe", "charge_cooler.inlet_pipe", "charge_cooler.outlet_pipe"):
        p = f"left.{pipe}"
        out.append((f"{p}.diameter", p, f"{p}.tape_1", f"{p}.tape_2"))
    return out
