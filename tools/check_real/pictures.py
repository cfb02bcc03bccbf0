"""The pictures, from where packages put them; marked copies go to a scratch folder only."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

PACKAGE = Path("/usr/share/doc/opencv-doc")
CHESSBOARDS = PACKAGE / "examples" / "data"
#: The single pictures of sheets, from the package's manual, by the id of their shot.
SHEETS = {
    "board": PACKAGE / "opencv4" / "html" / "choriginal.jpg",
    "sheet": PACKAGE / "opencv4" / "html" / "singlemarkersoriginal.jpg",
}


def motorcycle() -> dict[str, Any] | None:
    """The pair (BGR, uint8) and its disparity map from the scikit-image wheel; None when not installed."""
    try:
        from skimage.data import stereo_motorcycle
    except ImportError:
        return None
    left, right, disparity = stereo_motorcycle()
    return {"left": left[..., ::-1].copy(), "right": right[..., ::-1].copy(), "disparity": disparity}


def opencv_doc(shot: str) -> NDArray[np.uint8] | None:
    """One picture of Debian's opencv-doc, BGR; None when the package is not installed."""
    import cv2

    path = SHEETS.get(shot, CHESSBOARDS / f"{shot}.jpg")
    return cv2.imread(str(path)) if path.exists() else None


def mark(
    image: NDArray[np.uint8], document: dict[str, Any], answer: dict[str, Any], shot: str, scale: int = 2
) -> NDArray[np.uint8]:
    """A copy with its marks: crosses at points, dots on rim edges, a ring around a suspect one."""
    import cv2

    out = cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)

    def at(x: float, y: float) -> tuple[int, int]:
        return int((x + 0.5) * scale), int((y + 0.5) * scale)

    for m in document["marks"]:
        if m["shot"] != shot:
            continue
        if "point" in m:
            cv2.drawMarker(out, at(m["x"], m["y"]), (255, 255, 0), cv2.MARKER_CROSS, 11, 1, cv2.LINE_AA)
            if len(document["marks"]) < 120:
                x, y = at(m["x"], m["y"])
                cv2.putText(out, m["point"], (x + 5, y - 5), 0, 0.33, (0, 0, 0), 2, cv2.LINE_AA)
                cv2.putText(out, m["point"], (x + 5, y - 5), 0, 0.33, (255, 255, 255), 1, cv2.LINE_AA)
        else:
            for x, y in m["edge"]:
                cv2.circle(out, at(x, y), 2, (0, 165, 255), -1, cv2.LINE_AA)
    for s in answer.get("suspect_marks", []):
        if s["shot"] == shot and "x" in s:
            cv2.circle(out, at(s["x"], s["y"]), 14, (0, 0, 255), 2, cv2.LINE_AA)
    return out
