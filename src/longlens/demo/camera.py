"""One photograph of the demo, and the camera that took it.

Cameras stand in vehicle axes (the sprung body's), so a stance moves wheels and ground, not the camera. The focal length
engraved on a lens is rarely the real one: each shot's true focal length departs from it by a seeded per cent or so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FULL = (4256, 2832)


@dataclass(frozen=True)
class Shot:
    """One photograph.

    ``place`` and ``target`` in m; ``focal_mm`` as engraved (36 mm wide sensor); ``focus`` a point (m) that is sharp;
    ``crop`` (x, y, w, h) in pixels of the full picture; ``resize`` the width a web site made of it; ``hidden`` the
    groups taken off; ``light`` one of ``studio``, ``paddock``, ``garage``, ``backlit``; ``radial`` the relative shift
    in the corner; ``exposure`` in stops on the automatic one.
    """

    id: str
    car: str
    stage: str
    stance: str
    place: tuple[float, float, float]
    target: tuple[float, float, float]
    focal_mm: float
    f_number: float
    focus: tuple[float, float, float]
    light: str
    date: str
    credit: str | None
    licence: str | None
    hidden: tuple[str, ...] = ()
    crop: tuple[int, int, int, int] | None = None
    resize: int | None = None
    radial: float = -0.004
    roll_deg: float = 0.0
    exposure: float = 0.0
    iso: int = 200
    shutter: str = "1/200"
    sun: tuple[float, float, float] = (0.45, 0.62, 0.64)
    wall_y: float = -4.4
    seed: int = 0
    size: tuple[int, int] = FULL
    caption: str = ""

    @property
    def file(self) -> str:
        return f"{self.car}_{self.stage}_{self.id}.jpg"


def rotation_of(s: Shot) -> Array:
    """Vehicle axes to camera axes (x right, y down, z ahead), with the shot's small roll."""
    z = np.asarray(s.target, float) - np.asarray(s.place, float)
    z /= np.linalg.norm(z)
    x = np.cross(z, [0, 0, 1.0])
    x /= np.linalg.norm(x)
    y = np.cross(z, x)
    c, d = np.cos(np.radians(s.roll_deg)), np.sin(np.radians(s.roll_deg))
    return np.stack([c * x + d * y, -d * x + c * y, z])


def camera_of(s: Shot) -> dict[str, Any]:
    """The shot's true camera in the pixels of the published picture (after crop and resize), and of the full one.

    ``published`` and ``full`` each hold width, height, focal_px, k1, principal_px; the rest is shared.
    """
    rng = np.random.default_rng(7000 + s.seed)
    w, h = s.size
    f = s.focal_mm / 36.0 * w * (1 + float(rng.normal(0, 0.009)))
    rho = 0.5 * float(np.hypot(w, h))
    k1 = s.radial * (f / rho) ** 2
    pp = np.array([(w - 1) / 2, (h - 1) / 2]) + rng.normal(0, 0.0016 * w, 2)
    full = {"width": w, "height": h, "focal_px": f, "k1": k1, "principal_px": pp.tolist()}
    pw, ph, px = w, h, pp.copy()
    scale = 1.0
    if s.crop is not None:
        x0, y0, pw, ph = s.crop
        px = px - [x0, y0]
    if s.resize is not None:
        scale = s.resize / pw
        pw, ph = s.resize, round(ph * scale)
        px = (px + 0.5) * scale - 0.5
    published = {"width": pw, "height": ph, "focal_px": f * scale, "k1": k1, "principal_px": px.tolist()}
    R, C = rotation_of(s), np.asarray(s.place, float)
    depth = float((R @ (np.asarray(s.focus) - C))[2])
    return {
        "published": published,
        "full": full,
        "scale": scale,
        "rotation": R.tolist(),
        "position_m": C.tolist(),
        "focus_m": depth,
        "aperture_m": s.focal_mm / 1000 / (2 * s.f_number),
        "focal_mm": s.focal_mm,
        "f_number": s.f_number,
    }


def project(points: Array, cam: dict[str, Any], which: str = "published") -> Array:
    """Pixels (..., 2) of points (..., 3): x = principal + f · u · (1 + k1 |u|²); NaN behind the camera."""
    c = cam[which]
    X = (np.asarray(points, float) - np.asarray(cam["position_m"])) @ np.asarray(cam["rotation"]).T
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.where(X[..., 2:] > 1e-6, X[..., :2] / X[..., 2:], np.nan)
    r2 = np.sum(u * u, -1, keepdims=True)
    return np.asarray(c["principal_px"]) + c["focal_px"] * u * (1 + c["k1"] * r2)
