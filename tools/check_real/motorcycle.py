"""Exchange documents of the *Motorcycle* pair (Scharstein et al. 2014), and what must come out of them.

The marks were made by hand and are committed (`tests/published/data/motorcycle_marks.json`, with how they
were made); the truth of each point is the shipped depth map read at its left mark. World axes of these
documents: x to the right in the picture (the vehicle's forward), y away from the camera (its left), z up;
the left camera stands at (0, -2.4, 0.9) m.

The millimetres of this data set agree among themselves, but the vehicle comes out at about two thirds of
any real one's size: it serves for shape, and the scale is always taken from the depth map, never from a
real part.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
DATA = Path(__file__).resolve().parents[2] / "tests" / "published" / "data"
LEFT_CAMERA = np.array([0.0, -2.4, 0.9])

#: Standard deviation of a mark in each coordinate, px. Honest by two checks that need no depth map: on the
#: scan lines of a rectified pair the vertical difference should be nil, and came out at 0.04 (matched,
#: clean spots), 0.12 (matched, outlines) and 0.20 px (read by eye); horizontally a patch slides more
#: easily, so about twice that is claimed.
SD_MATCHED, SD_OUTLINE, SD_READ, SD_EDGE = 0.10, 0.20, 0.50, 0.15

#: Eight points that the second kind of document knows to ±3 mm: spread over length, height and depth.
KNOWN = (
    "tail.screw",
    "rear_tyre.groove_b",
    "stand.far_foot",
    "panel.rear_corner",
    "lever.ball",
    "fork.box_corner",
    "front_tyre.sipe_b",
    "cover.badge_left",
)
#: The one length of the first kind of document.
ONE_LENGTH = ("tail.screw", "fork.axle_nut")

#: Lengths across the vehicle, in all directions and over all depths.
LENGTHS = (
    ("tail.screw", "tank.rear_top"),
    ("tail.screw", "fork.box_corner"),
    ("tail.lamp_corner", "rear_tyre.dot"),
    ("rear_tyre.dot", "fork.axle_nut"),
    ("rear_tyre.dot", "engine.drain"),
    ("seat.scratch", "tank.letters_first"),
    ("seat.scratch", "engine.case_bolt"),
    ("tank.rear_top", "tank.letters_first"),
    ("tank.rear_top", "peg.bolt"),
    ("tank.letters_first", "lamp.mount_bolt"),
    ("tank.letters_first", "engine.sump_bolt"),
    ("lever.ball", "fork.axle_nut"),
    ("lamp.mount_bolt", "fork.axle_nut"),
    ("lamp.mount_bolt", "engine.head_bolt"),
    ("fork.box_corner", "fender.tip"),
    ("fork.brace_bolt", "fork.axle_nut"),
    ("fender.tip", "fork.axle_nut"),
    ("fender.tip", "engine.drain"),
    ("engine.head_bolt", "fork.brace_bolt"),
    ("engine.head_bolt", "engine.drain"),
    ("engine.carb_screw", "engine.hole"),
    ("engine.case_bolt", "engine.sump_bolt"),
    ("peg.bolt", "engine.hole"),
    ("muffler.end", "peg.bolt"),
    ("muffler.end", "panel.screw"),
    ("swingarm.bolt", "panel.letters_end"),
    ("panel.rear_corner", "tail.screw"),
    ("lever.far_ball", "lever.ball"),
    ("lever.far_ball", "lamp.mount_bolt"),
    ("hub.bolt_b", "fork.brace_bolt"),
)


def marks() -> dict[str, Any]:
    """The committed marks with the calibration of the pair."""
    return json.loads((DATA / "motorcycle_marks.json").read_text())


def depth(disparity: Array | float, calibration: dict[str, Any]) -> Array | float:
    """Depth, m, of a disparity, px: f · baseline / (disparity + doffs)."""
    return calibration["focal_px"] * calibration["baseline_m"] / (disparity + calibration["doffs_px"])


def place(left: Any, disparity: float, calibration: dict[str, Any]) -> Array:
    """World place (3,), m, of a left mark and its disparity."""
    z = depth(disparity, calibration)
    u = (np.asarray(left, float) - calibration["principal_px"]) / calibration["focal_px"]
    return LEFT_CAMERA + np.array([u[0] * z, z, -u[1] * z])


def truth() -> tuple[dict[str, Array], dict[str, Array]]:
    """World places of all points, and the covariance (3, 3) that the scatter of the map at each gives it."""
    data = marks()
    cal = data["calibration"]
    places, covariances = {}, {}
    for name, p in data["points"].items():
        places[name] = place(p["left"], p["disparity"], cal)
        ray = place(p["left"], p["disparity"] + p["disparity_sd"], cal) - places[name]
        covariances[name] = np.outer(ray, ray)
    return places, covariances


def true_length(a: str, b: str) -> tuple[float, float]:
    """A length by the depth map, m, and its standard deviation by the map's own scatter."""
    places, cov = truth()
    d = places[b] - places[a]
    n = float(np.linalg.norm(d))
    return n, float(np.sqrt(d @ (cov[a] + cov[b]) @ d) / n)


def pair(kind: str = "matched", facts: str = "length", focal: str = "known", circles: bool = False) -> dict[str, Any]:
    """Both pictures as one exchange document.

    Parameters
    ----------
    kind : "matched" (right marks by correlation) or "read" (both by eye).
    facts : "length" (a single one) or "positions" (eight points, ±3 mm).
    focal : "known" (to 2 %) or "free".
    circles : with the rims and the brake disc, of unknown tilt.
    """
    data = marks()
    key = f"right_{kind}"
    names = [n for n, p in data["points"].items() if key in p]
    places, _ = truth()
    document: dict[str, Any] = {
        "format": "longlens-exchange",
        "version": 1,
        "vehicle": {"name": "motorcycle of a stereo data set"},
        "shots": [_shot("left", data, focal), _shot("right", data, focal)],
        "points": [{"id": n} for n in names],
        "circles": [],
        "facts": [],
        "marks": [],
        "measures": [{"id": f"{a} to {b}", "distance": [a, b]} for a, b in LENGTHS if a in names and b in names],
    }
    for n in names:
        p = data["points"][n]
        sd = SD_READ if kind == "read" else SD_OUTLINE if p["contour"] else SD_MATCHED
        for shot, (x, y) in (("left", p["left"]), ("right", p[key])):
            document["marks"].append({"shot": shot, "point": n, "x": x, "y": y, "sd_px": sd})
    if facts == "length":
        length, sd = true_length(*ONE_LENGTH)
        document["facts"].append(
            {
                "id": "one length",
                "distance": list(ONE_LENGTH),
                "value": round(length, 4),
                "sd": max(round(sd, 4), 0.002),
                "unit": "m",
                "source": "depth map of the data set",
            }
        )
    else:
        document["facts"] += [_position(n, places[n]) for n in KNOWN if n in names]
    if circles:
        _add_circles(document, data)
    return document


def _shot(side: str, data: dict[str, Any], focal: str) -> dict[str, Any]:
    cal = data["calibration"]
    shift = cal["doffs_px"] if side == "right" else 0.0
    shot: dict[str, Any] = {
        "id": side,
        "width": data["size"][0],
        "height": data["size"][1],
        "camera": "stereo rig",
        "principal_px": [round(cal["principal_px"][0] + shift), round(cal["principal_px"][1])],
        "principal_sd_px": 2.0,
    }
    if focal == "known":
        shot |= {"focal_px": 1000.0, "focal_sd_px": 20.0}
    return shot


def _position(name: str, xyz: Array) -> dict[str, Any]:
    return {
        "id": f"place of {name}",
        "position": name,
        "value": [round(float(v), 4) for v in xyz],
        "sd": 0.003,
        "unit": "m",
        "source": "depth map of the data set",
    }


def _add_circles(document: dict[str, Any], data: dict[str, Any]) -> None:
    for name, edges in data["circles"].items():
        document["circles"].append({"id": name})
        document["measures"].append({"id": f"{name} diameter", "diameter": name})
        for shot in ("left", "right"):
            document["marks"].append({"shot": shot, "circle": name, "edge": edges[shot], "sd_px": SD_EDGE})


def single(kind: str = "matched", known: int = 24) -> dict[str, Any]:
    """The right picture alone, said to be cropped, focal length unknown, from points of known place (±3 mm).

    The right picture, because the places come from the left marks and the depth map: its marks know nothing
    of them.
    """
    data = marks()
    places, _ = truth()
    key = f"right_{kind}"
    usable = [n for n, p in data["points"].items() if key in p and p["disparity_sd"] < 0.15]
    names = [n for n in KNOWN if n in usable] + [n for n in usable if n not in KNOWN]
    names = names[:known]
    document = pair(kind, "positions")
    document["shots"] = [{"id": "right", "width": data["size"][0], "height": data["size"][1], "cropped": True}]
    document["points"] = [{"id": n} for n in names]
    document["facts"] = [_position(n, places[n]) for n in names]
    document["marks"] = [m for m in document["marks"] if m["shot"] == "right" and m["point"] in names]
    document["measures"] = [{"id": f"{names[0]} to {names[6]}", "distance": [names[0], names[6]]}]
    return document


def right_camera() -> dict[str, Any]:
    """Focal length (px), principal point (px) and place (m) of the right camera by the pair's calibration."""
    cal = marks()["calibration"]
    return {
        "focal_px": cal["focal_px"],
        "principal_px": np.array([cal["principal_px"][0] + cal["doffs_px"], cal["principal_px"][1]]),
        "position_m": LEFT_CAMERA + np.array([cal["baseline_m"], 0.0, 0.0]),
    }


def true_circle(name: str) -> dict[str, Any]:
    """Centre, axis, radius (m) and residual (px) of a rim by the pair's calibration alone.

    Least squares over the six parameters of a circle in space, both cameras held at their calibration; the
    residual is the first-order distance of an edge point to the projected conic (Hartley & Zisserman,
    Sampson error).
    """
    from scipy.optimize import least_squares

    data = marks()
    cal = data["calibration"]
    f = cal["focal_px"]
    edges = {s: np.array(data["circles"][name][s]) for s in ("left", "right")}
    principal = {
        "left": np.array(cal["principal_px"]),
        "right": np.array(cal["principal_px"]) + np.array([cal["doffs_px"], 0.0]),
    }
    camera = {"left": LEFT_CAMERA, "right": LEFT_CAMERA + np.array([cal["baseline_m"], 0.0, 0.0])}
    to_camera = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])

    def residuals(q: Array) -> Array:
        centre, axis, r = q[:3], q[3:6], np.exp(q[6])
        axis = axis / np.linalg.norm(axis)
        u = np.cross(axis, [0.0, 0.0, 1.0])
        u /= np.linalg.norm(u)
        v = np.cross(axis, u)
        out = [[np.linalg.norm(q[3:6]) - 1.0]]
        for side in ("left", "right"):
            plane = np.diag([f, f, 1.0]) @ to_camera @ np.stack([r * u, r * v, centre - camera[side]], 1)
            back = np.linalg.inv(plane)
            conic = back.T @ np.diag([1.0, 1.0, -1.0]) @ back
            p = np.c_[edges[side] - principal[side], np.ones(len(edges[side]))]
            h = p @ conic
            out.append(np.sum(h * p, axis=1) / (2 * np.linalg.norm(h[:, :2], axis=1)))
        return np.concatenate(out)

    best = None
    c = {s: e.mean(0) for s, e in edges.items()}
    centre = place(c["left"], c["left"][0] - c["right"][0], cal)
    for yaw in (-50, -20, 20, 50):
        axis = [np.sin(np.radians(yaw)), -np.cos(np.radians(yaw)), 0.0]
        fit = least_squares(residuals, [*centre, *axis, np.log(0.15)], x_scale="jac")
        if best is None or fit.cost < best.cost:
            best = fit
    q = best.x
    axis = q[3:6] / np.linalg.norm(q[3:6])
    cov = np.linalg.inv(best.jac.T @ best.jac) * SD_EDGE**2
    return {
        "centre": q[:3],
        "axis": axis if axis[1] < 0 else -axis,
        "diameter": 2 * np.exp(q[6]),
        "diameter_sd": 2 * np.exp(q[6]) * np.sqrt(cov[6, 6]),
        "rms_px": float(np.sqrt(np.mean(best.fun[1:] ** 2))),
    }
