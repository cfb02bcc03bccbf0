"""The truth of one car and stage as plain data: points, circles, measures, cameras and what each shot sees.

The file is the exchange document's shape with the answers filled in. Wheel-side points that stand elsewhere in another
stance are other points there, with ``@stance`` behind their name.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from longlens.demo.camera import Shot, camera_of
from longlens.demo.model import Model

Array = NDArray[np.float64]
DATA = Path(__file__).parent / "data"
PICTURES = Path(__file__).parent / "pictures"

#: From this share of its feature on a point counts as seen, partly seen, or hidden below the second.
SEEN, PARTLY = 0.70, 0.25


def name_in(name: str, stance: str, here: Array, static: Array | None) -> str:
    """The point's name in a stance: with ``@stance`` where it stands elsewhere than in the static one."""
    if stance == "static" or (static is not None and float(np.linalg.norm(here - static)) < 1e-9):
        return name
    return f"{name}@{stance}"


def twin_of(name: str) -> str | None:
    """The name of a point's reflection, or None."""
    if name.startswith("left."):
        return "right." + name[5:]
    if name.startswith("right."):
        return "left." + name[6:]
    return None


def assemble(
    vehicle: str,
    stage: str,
    models: dict[str, Model],
    shots: list[Shot],
    seen: dict[str, tuple[dict[str, float], dict[str, list[float]]]],
    facts: list[dict[str, Any]],
    measures: list[dict[str, Any]],
    sheet: dict[str, Any],
) -> dict[str, Any]:
    """The truth file of a stage.

    Parameters
    ----------
    models : by stance; ``static`` must be there.
    seen : by shot id, the visible share of each point and the visible angles of each circle.
    sheet : the maker's published figures.
    """
    static = models["static"]
    points: dict[str, dict[str, Any]] = {}
    circles: dict[str, dict[str, Any]] = {}
    out_shots = []
    for stance in dict.fromkeys(["static", *(s.stance for s in shots)]):
        for name, p in models[stance].points.items():
            base = static.points.get(name)
            full = name_in(name, stance, p.xyz, base.xyz if base else None)
            twin = twin_of(name) if p.twin else None
            if twin is not None:
                q = models[stance].points[twin]
                same = np.allclose(q.xyz, p.xyz * [1, -1, 1], atol=1e-9)
                twin = name_in(twin, stance, q.xyz, static.points[twin].xyz) if same else None
            points[full] = {
                "xyz_m": [round(float(v), 9) for v in p.xyz],
                "mirror": twin,
                "on": p.on,  # the ground only where it is the plane z = 0 of the car's own axes
                "radius_m": p.radius,
                "sharp": p.sharp,
                "buried": p.buried,
            }
        for name, c in models[stance].circles.items():
            base_c = static.circles.get(name)
            full = name_in(name, stance, c.centre, base_c.centre if base_c else None)
            circles[full] = {
                "centre_m": [round(float(v), 9) for v in c.centre],
                "axis": [round(float(v), 9) for v in c.axis],
                "radius_m": c.radius,
            }
    for s in shots:
        m = models[s.stance]
        cam = camera_of(s)
        shares, arcs = seen[s.id]
        out_shots.append(
            {
                "id": s.id,
                "file": s.file,
                "stance": s.stance,
                "caption": s.caption,
                "date": s.date,
                "credit": s.credit,
                "licence": s.licence,
                "light": s.light,
                "hidden": list(s.hidden),
                "crop": s.crop,
                "resize": s.resize,
                "camera": cam,
                "ground": {"height_m": m.ground[0], "slope_x": m.ground[1]},
                "seen": {name_in(k, s.stance, m.points[k].xyz, _xyz(static, k)): v for k, v in shares.items() if v > 0},
                "arcs": {
                    name_in(k, s.stance, m.circles[k].centre, _centre(static, k)): v for k, v in arcs.items() if v
                },
            }
        )
    truth: dict[str, Any] = {
        "format": "longlens-truth",
        "version": 1,
        "vehicle": {"name": vehicle},
        "stage": stage,
        "note": "Invented car, made-up figures. Axes as in ISO 8855, origin on the ground under the front axle.",
        "published": sheet,
        "facts": facts,
        "shots": out_shots,
        "points": points,
        "circles": circles,
        "parts": {"rods": static.rods, "pipes": static.pipes, "cores": static.cores, "other": static.other},
        "rods_in_stances": {k: {r: v["length_m"] for r, v in m.rods.items()} for k, m in models.items()},
    }
    truth["measures"] = [{**q, "true": value_of(q, truth, {x["id"]: x for x in measures})} for q in measures]
    return truth


def _xyz(m: Model, name: str) -> Array | None:
    return m.points[name].xyz if name in m.points else None


def _centre(m: Model, name: str) -> Array | None:
    return m.circles[name].centre if name in m.circles else None


def _strips(a: Array, b: Array) -> float:
    """Area between two rails (n, 3): each strip as two triangles, the mean over both diagonals."""

    def triangles(p: Array, q: Array, r: Array) -> float:
        return 0.5 * float(np.linalg.norm(np.cross(q - p, r - p), axis=-1).sum())

    one = triangles(a[:-1], a[1:], b[:-1]) + triangles(a[1:], b[1:], b[:-1])
    two = triangles(a[:-1], b[1:], b[:-1]) + triangles(a[:-1], a[1:], b[1:])
    return (one + two) / 2


def value_of(q: dict[str, Any], truth: dict[str, Any], table: dict[str, dict[str, Any]]) -> float:
    """The true value of a measure of the exchange form, SI (rad for an angle)."""

    def at(name: str) -> Array:
        return np.array(truth["points"][name]["xyz_m"])

    if "distance" in q:
        d = at(q["distance"][1]) - at(q["distance"][0])
        return float(abs(d["xyz".index(q["along"])])) if q.get("along") else float(np.linalg.norm(d))
    if "angle" in q:
        a, v, b = (at(n) for n in q["angle"])
        u, w = a - v, b - v
        return float(np.arctan2(np.linalg.norm(np.cross(u, w)), u @ w))
    if "ratio" in q:
        a_, b_ = (value_of(table[n], truth, table) for n in q["ratio"])
        return a_ / b_
    if "diameter" in q:
        return 2 * float(truth["circles"][q["diameter"]]["radius_m"])
    if "height" in q:
        return float(at(q["height"])[2])
    if "area" in q:
        p = np.array([at(n) for n in q["area"]])
        return 0.5 * float(np.linalg.norm(np.sum(np.cross(p - p[0], np.roll(p, -1, 0) - p[0]), 0)))
    if "face_area" in q:
        a, b = (np.array([at(n) for n in rail]) for rail in q["face_area"])
        return float(_strips(a, b))
    if "rise" in q:
        return float(at(q["rise"][-1])[2] - at(q["rise"][0])[2])
    if "least_rise" in q:
        return float(np.min(np.diff([at(n)[2] for n in q["least_rise"]])))
    if "rod_diameter" in q:
        return float(q["true_diameter"])
    raise KeyError(f"no truth for measure {q['id']!r}")
