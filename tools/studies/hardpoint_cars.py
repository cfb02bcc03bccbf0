"""Invented cars whose points are a true linkage, photographed in one stance or two.

Front and rear axle are random double wishbones with pushrod, rocker and coil-over (from the plain ranges below); in a second
stance the wheels have moved as the linkage takes them. Marks, lenses and noise are made as in ``simulated_cars``.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from longlens.survey.camera import look_at, project
from longlens.systems.suspension.axes import mirror
from longlens.systems.suspension.corner import Corner, spin_axis
from longlens.systems.suspension.figures import over_travel, springs_over_travel
from longlens.systems.suspension.kinematics import solve
from tools.studies.simulated_cars import rim_edge

Array = np.ndarray

#: Middle places of a left corner's points, the wheel centre's x and the ground at zero, m.
MIDDLE = {
    "upper_wishbone.front_inner": (0.17, 0.25, 0.36),
    "upper_wishbone.rear_inner": (-0.20, 0.25, 0.35),
    "upper_wishbone.outer": (-0.014, 0.65, 0.41),
    "lower_wishbone.front_inner": (0.21, 0.22, 0.16),
    "lower_wishbone.rear_inner": (-0.27, 0.23, 0.155),
    "lower_wishbone.outer": (0.006, 0.675, 0.17),
    "track_rod.inner": (0.13, 0.235, 0.255),
    "track_rod.outer": (0.122, 0.655, 0.275),
    "pushrod.outer": (-0.004, 0.62, 0.20),
    "pushrod.inner": (-0.02, 0.20, 0.50),
    "rocker.pivot": (-0.02, 0.165, 0.43),
    "rocker.axis": (0.08, 0.165, 0.43),
    "spring.outer": (-0.02, 0.11, 0.50),
    "spring.inner": (-0.02, 0.05, 0.33),
    "wheel_centre": (0.0, 0.73, 0.30),
}
#: What moves with the wheel and is marked anew in another stance.
WHEEL_SIDE = ("upper_wishbone.outer", "lower_wishbone.outer", "track_rod.outer", "wheel_centre", "pushrod.outer")
NAMES = ("spring_per_wheel", "roll_centre", "camber_gain", "bump_steer")
TRAVEL = np.linspace(-0.03, 0.03, 31)


@dataclass
class HardpointCar:
    """The exchange document, the true corners by axle, and the true figures as ``NAME_END``."""

    document: dict
    corners: dict[str, Corner]
    truth: dict[str, float]
    xyz: dict[str, Array] = field(default_factory=dict)


def true_figures(c: Corner, end: str) -> dict[str, float]:
    """The figures of a true corner, by the sheet's own functions on one car."""
    one = Corner(c.layout, {k: p[None] for k, p in c.points.items()}, c.spin[None], c.radius[None], c.mounts)
    m, curves = over_travel(one, TRAVEL)
    springs = springs_over_travel(one, m, TRAVEL, end)
    return {f"{n}_{end}": float({**curves, **springs}[n][0]) for n in NAMES}


def true_corner(
    rng: np.random.Generator, x: float, sd: float = 0.012, camber: tuple[float, float] = (-1.5, 0.5)
) -> Corner:
    """A random corner that reaches its travel, its wheel at x; ``camber``: mean and standard deviation, degrees."""
    while True:
        points = {k: np.array(p) + rng.normal(0, sd if "rocker" not in k else sd / 3, 3) for k, p in MIDDLE.items()}
        points["rocker.axis"] = points["rocker.pivot"] + [0.1, rng.normal(0, 0.005), rng.normal(0, 0.005)]
        height = points["wheel_centre"][2]
        spin = spin_axis(np.radians(rng.normal(*camber)), np.radians(rng.normal(0, 0.1)))
        radius = height / np.sqrt(1 - spin[2] ** 2)  # the contact centre stands on z = 0
        c = Corner("double_wishbone", points, spin, radius).moved(lambda p: p + np.array([x, 0.0, 0.0]))
        if solve(c.over_travel(), TRAVEL).reached.all():
            return c


def car(
    seed: int,
    *,
    shots: int | None = None,
    bump: float = 0.0,
    bump_shots: int = 0,
    rims: bool = True,
    size: tuple[int, int] = (6000, 4000),
    sd: tuple[float, float] = (1.5, 3.0),
    seen: float = 0.8,
    camber: tuple[float, float] = (-1.5, 0.5),
) -> HardpointCar:
    """One car. ``bump_shots`` of the shots are of a second stance, its wheels risen by ``bump`` m against the body."""
    rng = np.random.default_rng(seed)
    n = shots if shots is not None else int(rng.integers(4, 8))
    wheelbase = rng.uniform(2.3, 2.8)
    corners = {
        "front": true_corner(rng, 0.0, camber=camber), "rear": true_corner(rng, -wheelbase, camber=camber)
    }  # fmt: skip
    xyz: dict[str, Array] = {}
    stance_of: dict[str, str] = {}
    points: list[dict] = []

    def twin(name: str, p: Array, stance: str = "") -> None:
        at = f"@{stance}" if stance else ""
        left, right = f"left.{name}{at}", f"right.{name}{at}"
        xyz[left], xyz[right] = p, mirror(p)
        stance_of[left] = stance_of[right] = stance
        points.extend(({"id": left, "mirror": right}, {"id": right}))

    for end, c in corners.items():
        high = solve(c, bump)
        for k in MIDDLE:
            name = "wheel.centre" if k == "wheel_centre" else k
            twin(f"{end}.{k}", c.points[name])
            if bump_shots and k in WHEEL_SIDE:
                twin(f"{end}.{k}", high.point(name), "bump")
                stance_of[f"left.{end}.{k}"] = stance_of[f"right.{end}.{k}"] = "static"
    for k in range(int(rng.integers(6, 12))):  # the body: wings, fixings, edges
        twin(f"part{k}", np.array([rng.uniform(-wheelbase - 0.5, 0.7), rng.uniform(0.1, 0.7), rng.uniform(0.1, 0.9)]))
    for k in range(4):
        xyz[f"ground{k}"] = np.array([rng.uniform(-wheelbase - 0.5, 0.9), rng.uniform(-1.2, 1.2), 0.0])
        stance_of[f"ground{k}"] = "static"
        points.append({"id": f"ground{k}", "on": "ground"})
    doc: dict = {"format": "longlens-exchange", "version": 1, "vehicle": {"name": f"invented linkage {seed}"}}
    rim, axes = rng.uniform(0.18, 0.23), {}
    if rims:
        for side in ("left", "right"):
            for end, c in corners.items():
                axes[f"{side}.{end}.rim"] = c.spin if side == "left" else mirror(c.spin)
        doc["circles"] = [
            {"id": r, "centre": r.replace(".rim", ".wheel_centre"), "axis": "lateral", "axis_sd_deg": 2.0} for r in axes
        ]
    doc["points"], doc["shots"], doc["marks"] = points, [], []
    middle, (w, h) = np.mean(list(xyz.values()), axis=0), size
    for i in range(n + bump_shots):
        stance, sid = ("bump" if i >= n else "static"), f"s{i + 1}"
        f, kappa = np.exp(rng.uniform(np.log(0.8), np.log(2.5))) * w, rng.normal(0, 0.01)
        k1, pp = (
            kappa * (f / (np.hypot(w, h) / 2)) ** 2,
            np.array([(w - 1) / 2, (h - 1) / 2]) + rng.normal(0, 0.005 * w, 2),
        )
        azimuth = rng.uniform(-np.pi, np.pi)
        place = middle + 4.4 * f / w * rng.uniform(0.9, 1.3) * np.array([np.cos(azimuth), np.sin(azimuth), 0.0])
        place[2] = rng.uniform(0.4, 2.2)
        R = look_at(place, middle + rng.normal(0, 0.15, 3))
        doc["shots"].append({"id": sid, "width": w, "height": h, "stance": stance})
        s, side = rng.uniform(*sd), 1 if place[1] > 0 else -1
        names = [p for p in xyz if stance_of[p] in ("", stance)]
        for p, q in zip(names, project(np.array([xyz[k] for k in names]), R, place, f, k1, pp), strict=True):
            hidden = 0.35 if xyz[p][1] * side < -0.1 else 0.0
            if rng.random() < seen - hidden and 0 <= q[0] < w and 0 <= q[1] < h:
                x, y = q + rng.normal(0, s, 2)
                doc["marks"].append({"shot": sid, "point": p, "x": float(x), "y": float(y), "sd_px": float(s)})
        for r, axis in axes.items() if stance == "static" else ():
            c0 = xyz[r.replace(".rim", ".wheel_centre")]
            if c0[1] * side < 0 or abs((place - c0) @ axis) < 0.25 * np.linalg.norm(place - c0):
                continue
            edge = rim_edge(rng, c0, axis, rim, R, place, f, k1, pp, s, w, h)
            if len(edge) >= 5:
                doc["marks"].append({"shot": sid, "circle": r, "edge": edge, "sd_px": float(s)})
    base = float(np.linalg.norm(xyz["left.front.wheel_centre"] - xyz["left.rear.wheel_centre"]) + rng.normal(0, 0.002))
    doc["facts"] = [
        {"id": "wheelbase", "value": base, "sd": 0.002, "unit": "m", "source": "invented",
         "distance": ["left.front.wheel_centre", "left.rear.wheel_centre"]}
    ]  # fmt: skip
    if rims:
        doc["facts"].append(
            {"id": "rim", "value": float(2 * rim + rng.normal(0, 0.001)), "sd": 0.001, "unit": "m", "source": "invented",
             "diameter": list(axes)}
        )  # fmt: skip
    truth = {k: v for end, c in corners.items() for k, v in true_figures(c, end).items()}
    return HardpointCar(doc, corners, truth, xyz)


def other_inputs(case: HardpointCar, rng: np.random.Generator) -> dict[str, object]:
    """What the sheet needs beside the points, each with an error of its stated size."""
    out: dict[str, object] = {}
    for end, c in case.corners.items():
        camber, toe = -np.arcsin(c.spin[2]), np.arctan2(c.spin[0], c.spin[1])
        for name, value, sd, unit in (
            ("camber", np.degrees(camber), 0.3, "deg"),
            ("toe", np.degrees(toe), 0.1, "deg"),
            ("radius", 1e3 * float(c.radius), 3.0, "mm"),
        ):
            out[f"{name}_{end}"] = {"value": float(value + rng.normal(0, sd)), "sd": sd, "unit": unit}
    return out
