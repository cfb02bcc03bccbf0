"""Exchange documents of the chessboard pictures in Debian's `opencv-doc`, and OpenCV's result on them.

The corners are committed (`tests/published/data/chessboard_corners.json`, with how they were found). The
board was moved before a fixed pair of cameras; to the survey a board at rest before moving cameras is the
same thing.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tools.check_real.motorcycle import DATA

Array = NDArray[np.float64]

#: Scatter of a refined corner in each coordinate, px: OpenCV's residual with its full lens model is 0.20.
SD_CORNER = 0.2
#: Shots used where not all thirteen are needed: near, far, and tilted to all sides.
SOME = ("01", "02", "04", "06", "08", "11", "12", "14")


def corners() -> dict[str, Any]:
    """The committed corners."""
    return json.loads((DATA / "chessboard_corners.json").read_text())


def grid() -> Array:
    """True places (54, 3) of the corners in the board's own axes, m."""
    data = corners()
    c, r = data["columns"], data["rows"]
    out = np.zeros((c * r, 3))
    out[:, :2] = np.mgrid[0:c, 0:r].T.reshape(-1, 2) * data["square_m"]
    return out


def name(index: int) -> str:
    """The point id of a corner."""
    c = corners()["columns"]
    return f"r{index // c}c{index % c}"


def opencv_calibration(
    sides_and_numbers: list[tuple[str, str]],
    k1_only: bool = True,
    principal: tuple[float, float] | None = None,
    marks: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """`cv2.calibrateCamera` on the same corners: square pixels, no tangential term.

    Parameters
    ----------
    sides_and_numbers : such as ("left", "01"); all of one camera.
    k1_only : one radial term, as in the exchange document's camera (else the three of OpenCV's usual model).
    principal : held there, px; free when None.
    marks : other corners than the committed ones, by shot.
    """
    import cv2

    data = corners()
    found = marks if marks is not None else data["shots"]
    image = [np.array(found[s + n], np.float32).reshape(-1, 1, 2) for s, n in sides_and_numbers]
    flags = cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_ASPECT_RATIO
    if k1_only:
        flags |= cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3
    px = principal if principal is not None else (319.5, 239.5)
    if principal is not None:
        flags |= cv2.CALIB_FIX_PRINCIPAL_POINT
    start = np.array([[535.0, 0, px[0]], [0, 535.0, px[1]], [0, 0, 1.0]])
    board = [grid().astype(np.float32)] * len(image)
    rms, K, lens, rotations, places = cv2.calibrateCamera(board, image, tuple(data["size"]), start, None, flags=flags)
    turns = [cv2.Rodrigues(r)[0] for r in rotations]
    return {
        "rms_px": rms,
        "focal_px": float(K[0, 0]),
        "principal_px": (float(K[0, 2]), float(K[1, 2])),
        "k1": float(np.ravel(lens)[0]),
        "lens": np.ravel(lens),
        "rotations": turns,
        "positions_m": [(-R.T @ t).ravel() for R, t in zip(turns, places, strict=True)],
    }


def straightened(sides_and_numbers: list[tuple[str, str]]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Corners as a lens without distortion would show them, by OpenCV's full calibration, and the latter."""
    import cv2

    result = opencv_calibration(sides_and_numbers, k1_only=False)
    f, (cx, cy) = result["focal_px"], result["principal_px"]
    K = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1.0]])
    found = corners()["shots"]
    return {
        s + n: cv2.undistortPoints(np.array(found[s + n]).reshape(-1, 1, 2), K, result["lens"], P=K)
        .reshape(-1, 2)
        .tolist()
        for s, n in sides_and_numbers
    }, result


def document(
    sides_and_numbers: list[tuple[str, str]],
    principal: dict[str, tuple[float, float]] | None = None,
    principal_sd_px: float = 0.5,
    marks: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Several shots, all corners free in space (no plane is told), the side of one square as the only fact.

    Parameters
    ----------
    sides_and_numbers : the shots; those of one side share their camera.
    principal : known principal point of each side, px; free ("cropped") where not given.
    principal_sd_px : how well.
    marks : other corners than the committed ones, by shot.
    """
    data = corners()
    found = marks if marks is not None else data["shots"]
    width, height = data["size"]
    shots = []
    for side, number in sides_and_numbers:
        shot: dict[str, Any] = {"id": side + number, "width": width, "height": height, "camera": side}
        if principal is not None and side in principal:
            shot |= {"principal_px": list(principal[side]), "principal_sd_px": principal_sd_px}
        else:
            shot |= {"cropped": True}
        shots.append(shot)
    count = data["columns"] * data["rows"]
    return {
        "format": "longlens-exchange",
        "version": 1,
        "vehicle": {"name": "chessboard"},
        "shots": shots,
        "points": [{"id": name(i)} for i in range(count)],
        "facts": [
            {
                "id": "one square",
                "distance": ["r2c4", "r2c5"],
                "value": data["square_m"],
                "sd": 0.00005,
                "unit": "m",
                "source": "left_intrinsics.yml of the package",
            }
        ],
        "marks": [
            {"shot": s + n, "point": name(i), "x": x, "y": y, "sd_px": SD_CORNER}
            for s, n in sides_and_numbers
            for i, (x, y) in enumerate(found[s + n])
        ],
        "measures": [
            {"id": f"{a} to {b}", "distance": [a, b]}
            for a, b in (
                ("r0c0", "r0c8"),
                ("r5c0", "r5c8"),
                ("r0c0", "r5c0"),
                ("r0c8", "r5c8"),
                ("r0c0", "r5c8"),
                ("r0c8", "r5c0"),
                ("r2c2", "r2c6"),
                ("r1c1", "r4c7"),
                ("r0c4", "r5c4"),
                ("r3c0", "r3c8"),
                ("r1c3", "r2c3"),
                ("r4c6", "r4c7"),
            )
        ]
        + [{"id": "corner angle", "angle": ["r0c8", "r0c0", "r5c0"]}],
    }


def true_length(a: str, b: str) -> float:
    """A length on the known grid, m."""
    g = {name(i): p for i, p in enumerate(grid())}
    return float(np.linalg.norm(g[a] - g[b]))


def mirrored(shot: tuple[str, str] = ("left", "01")) -> dict[str, Any]:
    """One picture of the board as a symmetric thing: mirrored pairs, one length, focal length known to 2 %.

    The corners are those of a straightened picture. The board's middle column is the centre plane (y = 0).
    """
    everything = [("left", n[4:]) for n in corners()["shots"] if n.startswith("left")]
    marks, calibration = straightened(everything)
    doc = document([shot], marks=marks)
    doc["shots"][0] = {
        "id": "".join(shot),
        "width": 640,
        "height": 480,
        "focal_px": round(calibration["focal_px"] * 1.01, 1),
        "focal_sd_px": round(calibration["focal_px"] * 0.02, 1),
        "principal_px": [round(v) for v in calibration["principal_px"]],
        "principal_sd_px": 3.0,
    }
    columns, rows = corners()["columns"], corners()["rows"]
    doc["points"] = []
    for r in range(rows):
        for c in range(columns):
            p: dict[str, Any] = {"id": f"r{r}c{c}"}
            if c == columns // 2:
                p["on"] = "centre_plane"
            elif c < columns // 2:
                p["mirror"] = f"r{r}c{columns - 1 - c}"
            doc["points"].append(p)
    doc["facts"][0] |= {"distance": ["r2c0", "r2c8"], "value": 8 * corners()["square_m"], "sd": 0.0005}
    doc["vehicle"]["name"] = "chessboard, mirrored"
    return doc
