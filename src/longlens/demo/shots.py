"""Every photograph of the demo: where the camera stood, with which lens, what it saw, who is credited.

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


_PRESS = "Skerry Cars press office (invented)"
_MARRAM = "Marram Picture Desk (invented)"
_HILL = "Hillside Club photographers (invented)"
_EDITORIAL = "Editorial use with credit"
_OPEN = "CC BY 4.0"

FULMAR: tuple[Shot, ...] = (
    Shot(
        "t1_paddock_front",
        "fulmar",
        "test",
        "static",
        (2.75, 1.75, 1.72),
        (-0.50, 0.05, 0.30),
        40,
        8,
        (0.1, 0.75, 0.3),
        "paddock",
        "2031-03-14T10:22:31",
        _HILL,
        _OPEN,
        ("front_hatch",),
        radial=-0.006,
        roll_deg=0.4,
        seed=1,
        sun=(0.50, 0.60, 0.62),
        iso=160,
        shutter="1/320",
        caption="Fulmar E4 test car in the paddock, front hatch off",
    ),
    Shot(
        "t2_side_crop",
        "fulmar",
        "test",
        "static",
        (-1.15, 6.4, 1.05),
        (-1.20, 0.0, 0.46),
        50,
        6.3,
        (-1.3, 0.7, 0.4),
        "paddock",
        "2031-03-14T11:05:02",
        _MARRAM,
        _EDITORIAL,
        ("left.pod_cover",),
        crop=(310, 520, 4020, 1990),
        size=(4608, 3072),
        radial=-0.008,
        roll_deg=-0.3,
        seed=2,
        sun=(0.35, 0.66, 0.66),
        iso=125,
        shutter="1/400",
        caption="Test car without its left pod cover; cropped by the picture desk",
    ),
    Shot(
        "t3_turning_rear",
        "fulmar",
        "test",
        "turning",
        (-7.6, 4.3, 1.55),
        (-1.6, 0.1, 0.45),
        85,
        7.1,
        (-2.4, 0.6, 0.4),
        "paddock",
        "2031-03-14T14:41:47",
        _HILL,
        None,
        ("engine_cover", "left.pod_cover"),
        radial=0.003,
        roll_deg=0.6,
        seed=3,
        sun=(-0.25, 0.72, 0.64),
        iso=320,
        shutter="1/800",
        caption="Leaving the paddock, wheels turned",
    ),
    Shot(
        "s1_studio_front",
        "fulmar",
        "shown",
        "static",
        (3.75, 2.95, 0.66),
        (-0.85, 0.05, 0.40),
        50,
        11,
        (0.2, 0.7, 0.3),
        "studio",
        "2031-09-02T09:00:00",
        _PRESS,
        _EDITORIAL,
        (),
        radial=-0.005,
        seed=4,
        iso=100,
        shutter="1/160",
        caption="The Fulmar E4 as shown",
    ),
    Shot(
        "s2_studio_side",
        "fulmar",
        "shown",
        "static",
        (-1.35, 7.8, 0.95),
        (-1.12, 0.0, 0.46),
        58,
        11,
        (-1.3, 0.7, 0.4),
        "studio",
        "2031-09-02T09:24:00",
        _PRESS,
        _EDITORIAL,
        (),
        radial=-0.003,
        seed=5,
        iso=100,
        shutter="1/160",
        caption="Side",
    ),
    Shot(
        "s3_front_suspension",
        "fulmar",
        "shown",
        "static",
        (1.42, 1.20, 1.72),
        (-0.08, -0.02, 0.27),
        40,
        13,
        (0.0, 0.35, 0.36),
        "studio",
        "2031-09-02T10:12:00",
        _PRESS,
        _EDITORIAL,
        ("front_hatch", "nose_cover"),
        radial=-0.006,
        seed=6,
        iso=100,
        shutter="1/125",
        caption="Front suspension with nose and hatch off",
    ),
    Shot(
        "s4_left_pod",
        "fulmar",
        "shown",
        "static",
        (-0.42, 2.55, 0.98),
        (-1.36, 0.42, 0.30),
        40,
        11,
        (-1.25, 0.55, 0.28),
        "studio",
        "2031-09-02T10:40:00",
        _PRESS,
        _EDITORIAL,
        ("left.pod_cover", "engine_cover"),
        radial=-0.009,
        roll_deg=-0.5,
        seed=7,
        iso=100,
        shutter="1/125",
        caption="Left side pod open",
    ),
    Shot(
        "s5_backlit_rear",
        "fulmar",
        "shown",
        "static",
        (-5.0, 2.25, 0.86),
        (-1.95, 0.0, 0.40),
        50,
        8,
        (-2.7, 0.4, 0.4),
        "backlit",
        "2031-09-02T18:20:00",
        _MARRAM,
        _EDITORIAL,
        ("engine_cover", "left.pod_cover", "right.pod_cover"),
        radial=-0.005,
        roll_deg=0.3,
        seed=8,
        exposure=-0.25,
        iso=800,
        shutter="1/100",
        caption="Rear against the light",
    ),
    Shot(
        "s6_front_right",
        "fulmar",
        "shown",
        "static",
        (1.66, -1.22, 1.30),
        (-0.10, 0.10, 0.29),
        40,
        11,
        (0.1, -0.1, 0.42),
        "garage",
        "2031-09-21T08:48:12",
        _HILL,
        _OPEN,
        ("front_hatch", "nose_cover"),
        radial=-0.007,
        roll_deg=1.2,
        seed=9,
        iso=400,
        shutter="1/200",
        sun=(0.30, -0.55, 0.78),
        wall_y=4.6,
        caption="Front suspension from the right",
    ),
    Shot(
        "s8_rear_right",
        "fulmar",
        "shown",
        "static",
        (-4.45, -2.05, 1.18),
        (-2.25, -0.12, 0.40),
        50,
        11,
        (-2.6, -0.1, 0.35),
        "garage",
        "2031-09-21T08:55:30",
        _HILL,
        _OPEN,
        ("engine_cover",),
        radial=-0.006,
        roll_deg=-0.6,
        seed=11,
        iso=400,
        shutter="1/160",
        caption="Rear suspension and drive unit",
    ),
    Shot(
        "s9_left_pod_rear",
        "fulmar",
        "shown",
        "static",
        (-2.95, 2.15, 1.22),
        (-1.32, 0.42, 0.27),
        45,
        11,
        (-1.4, 0.5, 0.28),
        "garage",
        "2031-09-21T09:02:11",
        _HILL,
        _OPEN,
        ("engine_cover", "left.pod_cover"),
        radial=-0.006,
        roll_deg=0.7,
        seed=12,
        iso=400,
        shutter="1/160",
        caption="Coolers of the left pod from behind",
    ),
    Shot(
        "s7_trestles_web",
        "fulmar",
        "shown",
        "hanging",
        (2.9, 2.55, 0.95),
        (-0.55, 0.05, 0.25),
        40,
        8,
        (0.1, 0.6, 0.3),
        "garage",
        "2031-09-21T09:15:40",
        "www.hillclimb-notes.example (invented)",
        "Unclear: found on a web site",
        ("front_hatch", "nose_cover", "left.pod_cover"),
        resize=2000,
        radial=-0.010,
        roll_deg=-0.8,
        seed=10,
        iso=640,
        shutter="1/125",
        size=(4000, 2662),
        sun=(0.62, 0.45, 0.64),
        caption="On trestles, wheels hanging",
    ),
    Shot(
        "s10_left_pod_above",
        "fulmar",
        "shown",
        "static",
        (-1.72, 2.05, 1.48),
        (-1.40, 0.46, 0.22),
        50,
        11,
        (-1.35, 0.5, 0.25),
        "garage",
        "2031-09-21T09:31:05",
        _HILL,
        _OPEN,
        ("engine_cover", "left.pod_cover"),
        radial=-0.005,
        roll_deg=0.4,
        seed=14,
        iso=400,
        shutter="1/160",
        caption="Coolers of the left pod from above",
    ),
)


GANNET: tuple[Shot, ...] = (
    Shot(
        "t1_paddock_front",
        "gannet",
        "test",
        "static",
        (2.85, 2.05, 1.50),
        (-0.45, 0.05, 0.30),
        40,
        8,
        (0.2, 0.7, 0.3),
        "paddock",
        "2031-05-08T09:41:10",
        _HILL,
        _OPEN,
        ("nose_cover", "left.fender"),
        radial=-0.006,
        roll_deg=0.5,
        seed=21,
        sun=(0.55, 0.52, 0.65),
        iso=160,
        shutter="1/320",
        caption="Gannet test car, nose and left mudguard off",
    ),
    Shot(
        "t2_rear_left",
        "gannet",
        "test",
        "static",
        (-5.3, 2.75, 1.55),
        (-1.75, 0.05, 0.36),
        50,
        8,
        (-2.3, 0.4, 0.4),
        "paddock",
        "2031-05-08T10:02:55",
        _MARRAM,
        _EDITORIAL,
        ("engine_cover", "left.pod_cover"),
        radial=-0.004,
        roll_deg=-0.4,
        seed=22,
        sun=(-0.35, 0.62, 0.70),
        iso=160,
        shutter="1/250",
        caption="Gannet test car, engine bay and left cooler",
    ),
    Shot(
        "t3_front_right",
        "gannet",
        "test",
        "static",
        (2.60, -2.10, 1.40),
        (-0.35, -0.05, 0.28),
        40,
        8,
        (0.2, -0.6, 0.3),
        "paddock",
        "2031-05-08T09:58:20",
        _HILL,
        _OPEN,
        ("nose_cover", "left.fender", "right.fender"),
        radial=-0.006,
        roll_deg=-0.8,
        seed=27,
        sun=(0.66, 0.10, 0.74),
        iso=160,
        shutter="1/320",
        caption="Gannet test car from the right, both mudguards off",
    ),
    Shot(
        "s1_studio_nose_off",
        "gannet",
        "shown",
        "static",
        (2.55, 1.85, 1.55),
        (-0.20, 0.02, 0.28),
        40,
        11,
        (0.2, 0.5, 0.3),
        "studio",
        "2032-01-20T10:00:00",
        _PRESS,
        _EDITORIAL,
        ("nose_cover", "left.fender", "right.fender"),
        radial=-0.006,
        seed=23,
        iso=100,
        shutter="1/160",
        caption="Front suspension and radiator",
    ),
    Shot(
        "s2_studio_rear",
        "gannet",
        "shown",
        "static",
        (-5.1, 2.9, 1.70),
        (-1.80, 0.05, 0.36),
        50,
        11,
        (-2.2, 0.4, 0.4),
        "studio",
        "2032-01-20T10:35:00",
        _PRESS,
        _EDITORIAL,
        ("engine_cover", "left.pod_cover"),
        radial=-0.005,
        roll_deg=0.3,
        seed=24,
        iso=100,
        shutter="1/160",
        caption="Engine bay",
    ),
    Shot(
        "s3_front_right",
        "gannet",
        "shown",
        "static",
        (2.65, -1.95, 1.35),
        (-0.30, 0.0, 0.28),
        40,
        11,
        (0.2, -0.3, 0.3),
        "garage",
        "2032-02-11T16:10:20",
        _HILL,
        _OPEN,
        ("nose_cover", "right.fender", "right.pod_cover"),
        radial=-0.007,
        roll_deg=-0.7,
        seed=25,
        iso=400,
        shutter="1/160",
        caption="Front from the right",
    ),
    Shot(
        "s4_side_steered",
        "gannet",
        "shown",
        "steered",
        (0.85, 7.2, 1.25),
        (-1.04, 0.0, 0.45),
        55,
        8,
        (-1.0, 0.8, 0.4),
        "paddock",
        "2032-02-11T14:32:00",
        _HILL,
        _OPEN,
        (),
        radial=-0.004,
        roll_deg=0.2,
        seed=26,
        sun=(0.40, 0.66, 0.63),
        iso=125,
        shutter="1/500",
        caption="Ready to leave, wheels turned",
    ),
    Shot(
        "s5_left_pod",
        "gannet",
        "shown",
        "static",
        (-1.05, 2.55, 1.28),
        (-1.42, 0.55, 0.30),
        40,
        11,
        (-1.3, 0.65, 0.3),
        "garage",
        "2032-02-11T16:22:45",
        _HILL,
        _OPEN,
        ("engine_cover", "left.pod_cover"),
        radial=-0.006,
        roll_deg=-0.4,
        seed=28,
        iso=400,
        shutter="1/160",
        caption="Charge and oil cooler of the left pod",
    ),
)


def shots_of(car: str, stage: str | None = None) -> list[Shot]:
    """The photographs of a car, of one stage or of all."""
    everything: dict[str, tuple[Shot, ...]] = {"fulmar": FULMAR, "gannet": GANNET}
    return [s for s in everything[car] if stage in (None, s.stage)]
