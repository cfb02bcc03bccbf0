"""Suspension: all draws and positions at once, against SciPy's root finder point by point and against stepping MuJoCo.

The case of the issue: 4,096 draws × 61 wheel positions of a double wishbone with pushrod, rocker and spring. The
loops do the upright alone for a few draws and are scaled by count (say so when quoting): the rocker is left out on
their side, to their gain.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np

from longlens.systems.suspension.corner import Corner
from longlens.systems.suspension.kinematics import solve
from longlens.systems.suspension.ratios import spring_length, spring_per_wheel
from longlens.systems.suspension.velocity import twists

DRAWS, POSITIONS, LOOPED, STEPPED = 4096, 61, 6, 3
TRAVEL = np.linspace(-0.05, 0.05, POSITIONS)

POINTS = {
    "upper_wishbone.front_inner": (0.168, 0.240, 0.352), "upper_wishbone.rear_inner": (-0.204, 0.246, 0.342),
    "upper_wishbone.outer": (-0.0138, 0.6482, 0.3962),
    "lower_wishbone.front_inner": (0.206, 0.218, 0.150), "lower_wishbone.rear_inner": (-0.266, 0.226, 0.146),
    "lower_wishbone.outer": (0.0061, 0.6724, 0.1583),
    "track_rod.inner": (0.1284, 0.2315, 0.2432), "track_rod.outer": (0.1221, 0.6554, 0.2618),
    "wheel.centre": (0.0, 0.720, 0.290),
    "pushrod.outer": (-0.004, 0.622, 0.183), "pushrod.inner": (-0.020, 0.170, 0.474),
    "rocker.pivot": (-0.020, 0.135, 0.415), "rocker.axis": (0.080, 0.135, 0.415),
    "spring.outer": (-0.020, 0.085, 0.485), "spring.inner": (-0.020, -0.080, 0.340),
}  # fmt: skip
FIVE = {
    "upper_front_link.inner": (0.14, 0.36, 0.46), "upper_front_link.outer": (0.03, 0.66, 0.49),
    "upper_rear_link.inner": (-0.12, 0.37, 0.45), "upper_rear_link.outer": (-0.05, 0.66, 0.48),
    "lower_front_link.inner": (0.24, 0.34, 0.19), "lower_front_link.outer": (0.04, 0.70, 0.17),
    "lower_rear_link.inner": (-0.16, 0.28, 0.19), "lower_rear_link.outer": (-0.05, 0.71, 0.16),
    "track_rod.inner": (-0.21, 0.33, 0.29), "track_rod.outer": (-0.16, 0.70, 0.27), "wheel.centre": (0.0, 0.76, 0.31),
}  # fmt: skip


def draws(points: dict[str, tuple[float, float, float]], layout: str) -> Corner:
    """The corner with 2 mm on every coordinate."""
    rng = np.random.default_rng(1)
    p = {k: np.array(x) + rng.normal(0, 0.002, (DRAWS, 3)) for k, x in points.items()}
    return Corner(layout, p, np.array([0.0, 1.0, 0.0]), np.array(0.29))  # type: ignore[arg-type]


def seconds(work: Any, repeats: int = 3) -> float:
    """Best of a few."""
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return float(best)


def one(c: Corner, k: int) -> Corner:
    return Corner(c.layout, {n: p[k] for n, p in c.points.items()}, c.spin, c.radius)


def by_scipy(c: Corner) -> tuple[float, float]:
    """Seconds per position of ``scipy.optimize.root`` on six equations (rotation vector and place, started from the
    neighbouring position, with the exact Jacobian), and the largest difference of the track rod's end, m."""
    from scipy.optimize import root
    from scipy.spatial.transform import Rotation

    from longlens.systems.suspension.corner import LINKS

    links = [(a, b) for _, a, b in LINKS["double_wishbone"]]
    worst, count, spent = 0.0, 0, 0.0
    for k in range(LOOPED):
        mine = one(c, k)
        here = solve(mine, TRAVEL).point("track_rod.outer")
        inner = np.array([mine.points[a] for a, _ in links])
        arm = np.array([mine.points[b] for _, b in links]) - mine.points["wheel.centre"]
        l2 = np.sum((arm + mine.points["wheel.centre"] - inner) ** 2, axis=1)

        def miss(x: np.ndarray, height: float, inner: Any = inner, arm: Any = arm, l2: Any = l2) -> np.ndarray:
            d = Rotation.from_rotvec(x[:3]).apply(arm) + x[3:] - inner
            return np.append(np.sum(d * d, axis=1) - l2, x[5] - height)

        for half in (range(POSITIONS // 2, POSITIONS), range(POSITIONS // 2 - 1, -1, -1)):
            x = np.concatenate([np.zeros(3), mine.points["wheel.centre"]])
            for j in half:
                height = mine.points["wheel.centre"][2] + TRAVEL[j]
                start = time.perf_counter()
                x = root(miss, x, args=(height,), tol=1e-13).x
                spent += time.perf_counter() - start
                count += 1
                place = Rotation.from_rotvec(x[:3]).apply(arm[4]) + x[3:]
                worst = max(worst, float(np.linalg.norm(place - here[j])))
    return spent / count, worst


def by_mujoco(c: Corner) -> tuple[float, float]:
    """Seconds per position of stepping MuJoCo with loop constraints until it is at rest, and the largest difference,
    m."""
    import mujoco
    from tests.published.test_suspension_mujoco import model_of, settle

    worst, count, spent = 0.0, 0, 0.0
    for k in range(STEPPED):
        mine = one(c, k)
        here = solve(mine, TRAVEL).point("track_rod.outer")
        plain = Corner(
            mine.layout, {n: mine.points[n] for n in POINTS if n.split(".")[0] in _UPRIGHT}, mine.spin, mine.radius
        )
        model = model_of(plain)
        upright = mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, "upright")
        for half in (range(POSITIONS // 2, POSITIONS, 6), range(POSITIONS // 2 - 1, -1, -6)):
            data = mujoco.MjData(model)
            model.eq_data[-1, 0] = 0.0
            for j in half:
                start = time.perf_counter()
                settle(model, data, float(TRAVEL[j]))
                spent += time.perf_counter() - start
                count += 1
                place = data.xpos[upright] + data.xmat[upright].reshape(3, 3) @ (
                    mine.points["track_rod.outer"] - mine.points["wheel.centre"]
                )
                worst = max(worst, float(np.linalg.norm(place - here[j])))
    return spent / count, worst


_UPRIGHT = {"upper_wishbone", "lower_wishbone", "track_rod", "wheel"}


def rows() -> list[dict[str, Any]]:
    """What ``make bench`` prints."""
    c = draws(POINTS, "double_wishbone")
    wide = c.over_travel()
    batch = seconds(lambda: spring_length(solve(wide, TRAVEL)))
    rates = seconds(lambda: spring_per_wheel(twists(solve(wide, TRAVEL))[0]), 2)
    five = draws(FIVE, "five_link").over_travel()
    links = seconds(lambda: solve(five, TRAVEL), 1)
    count = DRAWS * POSITIONS
    scipy_each, scipy_far = by_scipy(c)
    mujoco_each, mujoco_far = by_mujoco(c)
    case = f"{DRAWS} draws × {POSITIONS} positions"
    looped = f"scipy.optimize.root in a loop, upright only ({LOOPED * POSITIONS} positions timed, scaled by count)"
    table = (
        (f"double wishbone with rocker and spring, {case}", batch, "s"),
        ("the same with exact motion ratios", rates, "s"),
        (f"five-link, {case}", links, "s"),
        (looped, scipy_each * count, "s"),
        ("ratio against the loop of scipy.optimize.root", scipy_each * count / batch, "×"),
        ("largest difference from it", 1e9 * scipy_far, "nm"),
        ("MuJoCo stepped to rest, upright only (scaled by count)", mujoco_each * count, "s"),
        ("ratio against stepping MuJoCo", mujoco_each * count / batch, "×"),
        ("largest difference from it", 1e9 * mujoco_far, "nm"),
    )
    return [{"what": w, "value": v, "unit": u} for w, v, u in table]


if __name__ == "__main__":
    for row in rows():
        print(f"{row['what']:110s} {row['value']:12.4g} {row['unit']}")
