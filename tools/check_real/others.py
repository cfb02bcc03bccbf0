"""More real pictures with a known truth, of things that are no vehicles: boxes on a shelf, sheets on a table.

Marks are committed in `tests/published/data/` (`garage_marks.json`, `sheet_marks.json`, each with how it
was made).
"""

from __future__ import annotations

import json
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tools.check_real import motorcycle

Array = NDArray[np.float64]

#: Scatter of a detected corner on the sheets, px: a plane fits the board to 0.15 and the markers to 0.14 px.
SD_SHEET = 0.2
#: A mark on the boxes, px (as on the vehicle, a little more: edges of cardboard and wood are less sharp).
SD_GARAGE = 0.15

GARAGE_LENGTHS = (
    ("box_a.tape_top_left", "box_a.bottom_right"),
    ("box_a.tape_top_right", "box_b.print"),
    ("box_a.top_right", "box_d.notch"),
    ("box_b.top_left", "box_c.label_top_right"),
    ("box_b.label_bottom_left", "box_b.label_bottom_right"),
    ("box_b.print", "shelf.bolt"),
    ("box_c.dot", "can.print"),
    ("box_c.bottom_left", "post.hole_c"),
    ("box_d.sticker_top_left", "box_d.sticker_bottom_right"),
    ("box_d.sticker_top_right", "shelf.bolt"),
    ("post.bolt", "post.hole_c"),
    ("post.hole_a", "jug.logo"),
    ("bottle.print", "can.label_corner"),
    ("bottle.print", "box_a.tape_top_left"),
    ("bench.rail_end_top", "bench.brace_top"),
    ("bench.rail_end_bottom", "bench.brace_foot"),
    ("bench.slat_white", "bottle.print"),
    ("bench.brace_foot", "box_d.sticker_bottom_left"),
)
GARAGE_FACT = ("bench.rail_end_top", "shelf.bolt")


def _read(name: str) -> dict[str, Any]:
    return json.loads((motorcycle.DATA / name).read_text())


def _empty(what: str) -> dict[str, Any]:
    return {"format": "longlens-exchange", "version": 1, "vehicle": {"name": what}}


def garage_truth() -> dict[str, Array]:
    """World places of the marked spots by the depth map, m."""
    cal = motorcycle.marks()["calibration"]
    return {
        n: motorcycle.place(p["left"], p["disparity"], cal) for n, p in _read("garage_marks.json")["points"].items()
    }


def garage() -> dict[str, Any]:
    """Boxes, shelf and bench 3.5 to 3.9 m away in both pictures: one long length as the only fact."""
    points = _read("garage_marks.json")["points"]
    places = garage_truth()
    doc = motorcycle.pair()
    a, b = GARAGE_FACT
    return _empty("boxes on a shelf") | {
        "shots": doc["shots"],
        "points": [{"id": n} for n in points],
        "facts": [
            {
                "id": "one length",
                "distance": [a, b],
                "value": round(float(np.linalg.norm(places[a] - places[b])), 4),
                "sd": 0.005,
                "unit": "m",
                "source": "depth map of the data set",
            }
        ],
        "marks": [
            {"shot": shot, "point": n, "x": p[key][0], "y": p[key][1], "sd_px": SD_GARAGE}
            for n, p in points.items()
            for shot, key in (("left", "left"), ("right", "right_matched"))
        ],
        "measures": [{"id": f"{a} to {b}", "distance": [a, b]} for a, b in GARAGE_LENGTHS],
    }


def board_place(corner: str) -> Array:
    """Place (3,) of an inner corner of the board, m; z is up out of the sheet.

    Seen from above, columns run along x and rows along -y.
    """
    data = _read("sheet_marks.json")["board"]
    column, row = int(corner[1]), int(corner[3])
    return np.array([column, -row, 0.0]) * data["square_m"]


def board() -> dict[str, Any]:
    """A sheet on a table, one picture, focal length unknown: four corners known, the rest on the ground."""
    data = _read("sheet_marks.json")
    corners = data["board"]["corners"]
    known = ("c0r0", "c3r0", "c0r5", "c3r5")
    asked = [
        ("c0r0", "c3r5"),
        ("c1r1", "c2r1"),
        ("c1r1", "c1r4"),
        ("c2r2", "c2r3"),
        ("c0r2", "c3r2"),
        ("c1r0", "c1r5"),
        ("c2r0", "c3r4"),
        ("c0r3", "c2r5"),
        ("c1r2", "c3r3"),
        ("c0r1", "c2r4"),
        ("c2r1", "c1r3"),
        ("c0r4", "c3r1"),
    ]
    return _empty("board on a table") | {
        "shots": [{"id": "board", "width": data["size"][0], "height": data["size"][1]}],
        "points": [{"id": n, "on": "ground"} for n in corners],
        "facts": [
            {
                "id": f"place of {n}",
                "position": n,
                "value": [float(v) for v in board_place(n)],
                "sd": 0.0002,
                "unit": "m",
                "source": "the grid of the board",
            }
            for n in known
        ],
        "marks": [{"shot": "board", "point": n, "x": x, "y": y, "sd_px": SD_SHEET} for n, (x, y) in corners.items()],
        "measures": [{"id": f"{a} to {b}", "distance": [a, b]} for a, b in asked],
    }


def board_by_opencv(principal: tuple[float, float] = (319.5, 239.5)) -> dict[str, Any]:
    """Focal length (px) and camera place (m) of the board's picture by `cv2.calibrateCamera`.

    Principal point held at the picture's centre, no lens distortion, all corners on the known grid.
    """
    import cv2

    data = _read("sheet_marks.json")
    corners = data["board"]["corners"]
    grid = np.array([board_place(n) for n in corners], np.float32)
    image = np.array(list(corners.values()), np.float32).reshape(-1, 1, 2)
    flags = (
        cv2.CALIB_USE_INTRINSIC_GUESS
        | cv2.CALIB_FIX_ASPECT_RATIO
        | cv2.CALIB_FIX_PRINCIPAL_POINT
        | cv2.CALIB_ZERO_TANGENT_DIST
        | cv2.CALIB_FIX_K1
        | cv2.CALIB_FIX_K2
        | cv2.CALIB_FIX_K3
    )
    start = np.array([[600.0, 0, principal[0]], [0, 600.0, principal[1]], [0, 0, 1.0]])
    rms, K, _, r, t = cv2.calibrateCamera([grid], [image], tuple(data["size"]), start, None, flags=flags)
    R = cv2.Rodrigues(r[0])[0]
    return {"rms_px": rms, "focal_px": float(K[0, 0]), "position_m": (-R.T @ t[0]).ravel()}


def markers() -> dict[str, Any]:
    """A sheet with six markers of one size, one picture, nothing known of the camera.

    Facts: the four corners of one marker, and the sides and diagonals of two others; all corners lie on the
    ground. Asked: the sides and diagonals of the remaining three, whose truth is the same size.
    """
    data = _read("sheet_marks.json")
    side = data["markers"]["side_m"]
    everything = data["markers"]["corners"]
    ids = list(everything)
    first, also, asked = ids[0], ids[1:3], ids[3:]
    places = np.array([[0, 0, 0], [1, 0, 0], [1, -1, 0], [0, -1, 0]]) * side

    def lengths(m: str) -> list[tuple[str, str, float]]:
        return [(f"{m}.{i}", f"{m}.{j}", side if (j - i) % 2 else side * 2**0.5) for i, j in combinations(range(4), 2)]

    facts: list[dict[str, Any]] = [
        {
            "id": f"place of {first}.{i}",
            "position": f"{first}.{i}",
            "value": [float(v) for v in places[i]],
            "sd": 0.0001,
            "unit": "m",
            "source": "the marker's own size as the unit",
        }
        for i in range(4)
    ]
    facts += [
        {
            "id": f"{a} to {b}",
            "distance": [a, b],
            "value": value,
            "sd": 0.0002,
            "unit": "m",
            "source": "all markers are of one size",
        }
        for m in also
        for a, b, value in lengths(m)
    ]
    return _empty("markers on a sheet") | {
        "shots": [{"id": "sheet", "width": data["size"][0], "height": data["size"][1]}],
        "points": [{"id": f"{m}.{i}", "on": "ground"} for m in ids for i in range(4)],
        "facts": facts,
        "marks": [
            {"shot": "sheet", "point": f"{m}.{i}", "x": x, "y": y, "sd_px": SD_SHEET}
            for m, corners in everything.items()
            for i, (x, y) in enumerate(corners)
        ],
        "measures": [{"id": f"{a} to {b}", "distance": [a, b]} for m in asked for a, b, _ in lengths(m)],
    }


def marker_length(a: str, b: str) -> float:
    """True length between two corners of one marker, m."""
    side = _read("sheet_marks.json")["markers"]["side_m"]
    return side if (int(a[-1]) - int(b[-1])) % 2 else side * 2**0.5
