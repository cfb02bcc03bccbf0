"""A small exchange document with known truth: mirrored pairs, four pinhole photographs, marks of 2 px."""

from __future__ import annotations

from typing import Any

import numpy as np

HALVES = {
    "front.hub": (1.25, 0.72, 0.33),
    "rear.hub": (-1.25, 0.74, 0.34),
    "front.patch": (1.25, 0.72, 0.0),
    "rear.patch": (-1.25, 0.74, 0.0),
    "mirror": (0.55, 0.80, 0.95),
    "lamp": (1.60, 0.45, 0.55),
    "rocker": (0.95, 0.30, 0.62),
    "wing.tip": (-1.70, 0.65, 0.90),
}
MIDDLE = {"nose": (1.95, 0.0, 0.30), "hoop": (-0.35, 0.0, 1.10)}
CAMERAS = {"s1": (6.0, 3.5, 1.5), "s2": (5.5, -4.5, 1.2), "s3": (1.0, 7.0, 2.0), "s4": (-5.5, 4.0, 2.2)}
FOCAL, WIDTH, HEIGHT = 6000.0, 6000, 4000
TRACK, WHEELBASE = 1.44, 2.5


def truth() -> dict[str, np.ndarray]:
    points = {name: np.array(xyz) for name, xyz in MIDDLE.items()}
    for name, (x, y, z) in HALVES.items():
        points[f"left.{name}"] = np.array([x, y, z])
        points[f"right.{name}"] = np.array([x, -y, z])
    return points


def seen(camera: tuple[float, float, float], xyz: np.ndarray) -> tuple[float, float]:
    """Pinhole picture of a point by a camera that looks at the car's middle, upright."""
    place = np.array(camera)
    forward = np.array([0.0, 0.0, 0.5]) - place
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    x, y, z = right @ (xyz - place), down @ (xyz - place), forward @ (xyz - place)
    return float((WIDTH - 1) / 2 + FOCAL * x / z), float((HEIGHT - 1) / 2 + FOCAL * y / z)


def ground(name: str) -> dict[str, str]:
    """A wheelbase along x has a meaning only where something tells which way is level."""
    return {"on": "ground"} if name.endswith("patch") else {}


def document() -> dict[str, Any]:
    points = truth()
    rng = np.random.default_rng(11)
    marks = []
    for shot, camera in CAMERAS.items():
        for name, xyz in points.items():
            x, y = np.array(seen(camera, xyz)) + rng.normal(0.0, 2.0, 2)
            marks.append({"shot": shot, "point": name, "x": round(float(x), 2), "y": round(float(y), 2), "sd_px": 2.0})
    return {
        "format": "longlens-exchange",
        "version": 1,
        "vehicle": {"name": "Fulmar E4"},
        "shots": [{"id": s, "width": WIDTH, "height": HEIGHT} for s in CAMERAS],
        "points": [
            *({"id": name, "on": "centre_plane"} for name in MIDDLE),
            *({"id": f"left.{name}", "mirror": f"right.{name}"} | ground(name) for name in HALVES),
            *({"id": f"right.{name}", "mirror": f"left.{name}"} | ground(name) for name in HALVES),
        ],
        "facts": [
            {"id": "wheelbase", "distance": ["left.front.hub", "left.rear.hub"], "along": "x", "value": WHEELBASE,
             "sd": 0.003, "unit": "m", "source": "maker's sheet"},
        ],
        "marks": marks,
        "measures": [{"id": "track", "distance": ["left.front.hub", "right.front.hub"]}],
    }  # fmt: skip
