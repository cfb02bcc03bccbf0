"""What is published of the invented cars and what is asked of their photographs: facts and measures."""

from __future__ import annotations

from typing import Any

from longlens.demo.tyres import INCH, Tyre

Item = dict[str, Any]


def wheel_facts(front: Tyre, rear: Tyre, circles: list[str]) -> list[Item]:
    """Facts that tyres and rims give: flange diameters and tyre diameters less the drop to the tread's edge.

    Tolerances: a flange within ±1.5 mm, a tyre's diameter to 1 % of its designation, as a standard deviation: worn and inflated
    as nobody knows (common practice, no source).
    """
    out: list[Item] = []
    for where, t in (("front", front), ("rear", rear)):
        rims = [c for c in circles if c.split("@")[0].endswith(f".{where}.rim")]
        tyres = [c for c in circles if c.split("@")[0].endswith(f".{where}.tyre")]
        if rims:
            out.append(
                {
                    "id": f"{where}_rim_flange",
                    "value": round(t.nominal_flange_diameter, 4),
                    "sd": 0.0012,
                    "unit": "m",
                    "diameter": rims,
                    "source": f"rim {t.rim_width_inch:g} J x {t.rim_inch:g}: nominal and two flanges of 17.3 mm",
                }
            )
        if tyres:
            out.append(
                {
                    "id": f"{where}_tyre",
                    "value": round(t.nominal_diameter - 0.009, 4),
                    "sd": round(0.01 * t.nominal_diameter, 4),
                    "unit": "m",
                    "diameter": tyres,
                    "source": f"tyre {t.designation}; the edge of the tread stands some 4.5 mm under the crown",
                }
            )
    return out


def layout_facts(
    front: Tyre, rear: Tyre, wheelbase: float, track_front: float, track_rear: float, step: float
) -> list[Item]:
    """Wheelbase and tracks as published (rounded to ``step`` m), put on the centres of the rims' outer flanges.

    The track is between the wheels' middle planes; the rims' faces stand further out by half the rim's width
    and a flange.
    """
    out: list[Item] = [
        {
            "id": "wheelbase",
            "value": wheelbase,
            "sd": round(step / 12**0.5 + 0.0006, 4),
            "unit": "m",
            "along": "x",
            "distance": ["left.front.rim_centre", "left.rear.rim_centre"],
            "source": "maker's sheet, rounded to 5 mm",
        },
    ]
    for where, t, track in (("front", front, track_front), ("rear", rear, track_rear)):
        out.append(
            {
                "id": f"{where}_rim_faces",
                "value": round(track + t.rim_width_inch * INCH + 2 * 0.0115, 4),
                "sd": 0.0045,
                "unit": "m",
                "along": "y",
                "distance": [f"left.{where}.rim_centre", f"right.{where}.rim_centre"],
                "source": f"maker's track {track * 1000:.0f} mm, rim {t.rim_width_inch:g} J and two flanges",
            }
        )
    return out


def length(name: str, a: str, b: str, **more: Any) -> Item:
    """The distance between two points, as a measure."""
    return {"id": name, "distance": [a, b], **more}


def suspension(
    side: str, rod: str, rear_tie: str, front_levers: tuple[str, ...], rear_levers: tuple[str, ...]
) -> list[Item]:
    """Lengths of a side's links, the lever ratios of its rockers."""
    out: list[Item] = []
    for end, tie, levers in (("front", "track_rod", front_levers), ("rear", rear_tie, rear_levers)):
        p = f"{side}.{end}"
        for level in ("upper", "lower"):
            for leg in ("front", "rear"):
                out.append(
                    length(
                        f"{p}.{level}_wishbone.{leg}_leg",
                        f"{p}.{level}_wishbone.{leg}_inner",
                        f"{p}.{level}_wishbone.outer",
                    )
                )
            out.append(
                length(
                    f"{p}.{level}_wishbone.base",
                    f"{p}.{level}_wishbone.front_inner",
                    f"{p}.{level}_wishbone.rear_inner",
                )
            )
        out.append(length(f"{p}.{rod}", f"{p}.{rod}.inner", f"{p}.{rod}.outer"))
        out.append(length(f"{p}.{tie}", f"{p}.{tie}.inner", f"{p}.{tie}.outer"))
        out.append(length(f"{p}.kingpin", f"{p}.lower_wishbone.outer", f"{p}.upper_wishbone.outer"))
        out.append(length(f"{p}.rocker.{rod}_lever", f"{p}.rocker.pivot", f"{p}.{rod}.inner"))
        for lever in levers:
            out.append(length(f"{p}.rocker.{lever}_lever", f"{p}.rocker.pivot", f"{p}.rocker.{lever}"))
            out.append(
                {"id": f"{p}.rocker.{lever}_ratio", "ratio": [f"{p}.rocker.{lever}_lever", f"{p}.rocker.{rod}_lever"]}
            )
        out.append(
            {
                "id": f"{p}.{rod}.angle",
                "angle": [f"{p}.{rod}.inner", f"{p}.{rod}.outer", f"{p}.lower_wishbone.front_inner"],
            }
        )
    return out


def in_reach(asked: list[Item], points: set[str], circles: set[str]) -> list[Item]:
    """Those measures whose points and circles are all there; ratios of measures that are."""
    keep: list[Item] = []
    for q in asked:
        need = [n for kind in ("distance", "angle", "area", "rise", "least_rise") for n in q.get(kind, [])]
        need += [n for rail in q.get("face_area", []) for n in rail]
        need += [q["height"]] if "height" in q else []
        if "rod_diameter" in q:
            need += [
                q["rod_diameter"]["at"],
                *([q["rod_diameter"]["towards"]] if q["rod_diameter"].get("towards") else []),
            ]
        if all(n in points for n in need) and q.get("diameter", next(iter(circles), None)) in circles | {None}:
            keep.append(q)
    ids = {q["id"] for q in keep}
    return [q for q in keep if "ratio" not in q or all(n in ids for n in q["ratio"])]
