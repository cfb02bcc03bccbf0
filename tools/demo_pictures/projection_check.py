"""Does the rendered camera equal our projection? python -m tools.demo_pictures.projection_check [SHOT …]

Small bright balls are strewn over the frame of a real shot's camera (its focal length, distortion and principal point),
rendered and enlarged by the same code as the pictures, found again as centroids, and written beside their true places
to projection_check.json. tests/demo/test_projection.py projects the places and compares.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import cv2
import mitsuba as mi
import numpy as np

from longlens.demo.shots import Shot, camera_of, project, shots_of
from tools.demo_pictures import render
from tools.demo_pictures.shoot import FINE, scaled

RESULT = Path(__file__).with_name("projection_check.json")
COLUMNS, ROWS, RADIUS_PX = 9, 7, 5.0


def targets(s: Shot, rng: np.random.Generator) -> np.ndarray:
    """Places (n, 3) whose pictures cover the frame to its corners, at distances from 1.5 to 6 m."""
    cam = camera_of(s)
    c = cam["published"]
    x, y = np.meshgrid(np.linspace(25, c["width"] - 26, COLUMNS), np.linspace(25, c["height"] - 26, ROWS))
    px = np.stack([x.ravel(), y.ravel()], 1) + rng.uniform(-9, 9, (COLUMNS * ROWS, 2))
    depth = rng.uniform(1.5, 6.0, len(px))
    # the inverse of the projection, by fixed-point steps; only near is needed, since the truth is projected afterwards
    q = (px - c["principal_px"]) / c["focal_px"]
    u = q.copy()
    for _ in range(30):
        u = q / (1 + c["k1"] * np.sum(u * u, 1, keepdims=True))
    X = np.concatenate([u, np.ones((len(u), 1))], 1) * depth[:, None]
    return X @ np.asarray(cam["rotation"]) + np.asarray(cam["position_m"])


def found(s: Shot, places: np.ndarray, spp: int = 8) -> np.ndarray:
    """Centroids (n, 2) of the balls in the rendered picture, px of the published picture."""
    cam = camera_of(s)
    c = cam["published"]
    at = np.asarray(cam["position_m"])
    d: dict[str, Any] = {"type": "scene"}
    light = {"type": "area", "radiance": {"type": "rgb", "value": 1.0}}
    for i, p in enumerate(places):
        r = float(RADIUS_PX / c["focal_px"] * ((p - at) @ np.asarray(cam["rotation"])[2]))
        d[f"ball_{i}"] = {"type": "sphere", "center": p.tolist(), "radius": r, "emitter": light}
    scene = mi.load_dict(d)
    small, w, h = scaled({**c, **{k: cam[k] for k in ("rotation", "position_m")}}, c["width"], c["height"], FINE)
    small["aperture_m"] = 0.0
    picture = render.trace(scene, small, w, h, spp, 77, depth=2, guide_spp=1)["color"][..., 0]
    picture = cv2.resize(picture, (c["width"], c["height"]), interpolation=cv2.INTER_LANCZOS4)
    out = []
    for q in project(places, cam):
        x0, y0 = (round(float(v)) - 16 for v in q)
        x0, y0 = max(x0, 0), max(y0, 0)
        tile = picture[y0 : y0 + 33, x0 : x0 + 33].astype(float)
        yy, xx = np.mgrid[y0 : y0 + tile.shape[0], x0 : x0 + tile.shape[1]]
        out.append([float((tile * xx).sum() / tile.sum()), float((tile * yy).sum() / tile.sum())])
    return np.array(out)


def main() -> None:
    names = sys.argv[1:] or ["s4_left_pod", "t2_side_crop", "t3_turning_rear"]
    rows = []
    for s in shots_of("fulmar"):
        if s.id not in names:
            continue
        places = targets(s, np.random.default_rng(s.seed))
        px = found(s, places)
        error = np.linalg.norm(px - project(places, camera_of(s)), axis=1)
        print(f"{s.id}: {len(px)} targets, rms {np.sqrt(np.mean(error**2)):.3f} px, largest {error.max():.3f} px")
        rows.append(
            {
                "shot": s.id,
                "camera": camera_of(s),
                "places_m": np.round(places, 9).tolist(),
                "found_px": np.round(px, 4).tolist(),
            }
        )
    RESULT.write_text(json.dumps(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
