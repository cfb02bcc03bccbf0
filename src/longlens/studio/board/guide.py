"""What the survey says about a photograph: where a point must lie on it, and where its marks should be.

A point that the survey has placed lies within an ellipse (95 times in 100), from the joint draws of camera and point. A
point marked on one other solved photograph only lies on a line: the picture of its ray (bent a little by the lens).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from longlens.survey.answer import Solution
from longlens.survey.camera import Array, project, rays
from longlens.survey.circle import basis

#: Draws used for an ellipse: its half axes are then known to 5 %.
DRAWS = 200
#: Radius of the 95 % region of two normal coordinates, in standard deviations: √(χ²₂ quantile) = √5.991.
REGION = 2.4477
#: A ray is drawn between these distances from its camera, in parts of the camera's distance to the car.
NEAR, FAR = 0.35, 2.5


def predicted(solution: Solution, shot: str, points: list[str]) -> dict[str, tuple[Array, Array]]:
    """Pixels (2,) and their covariance (2, 2) px² on a shot, of those points that the survey has placed.

    The covariance is the prediction's: of the camera and the point, without a new mark's own error.
    """
    net, drawn = solution.net, solution.drawn.state
    if shot not in net.shots:
        return {}
    s = net.shots.index(shot)
    g = net.camera_of[s]
    known = {p: i for i, p in enumerate(net.points)}
    wanted = [p for p in points if p in known]
    if not wanted:
        return {}
    pick = np.linspace(0, len(drawn.logf) - 1, min(DRAWS, len(drawn.logf))).astype(int)
    at = np.array([known[p] for p in wanted])
    X = drawn.X[pick][:, net.body_of[at]].copy()
    X[..., 1] *= net.sign[at]
    best = solution.fit.state
    Xb = best.X[net.body_of[at]].copy()
    Xb[..., 1] *= net.sign[at]
    f = np.exp(drawn.logf[pick, g])
    many = project(
        X,
        drawn.R[pick, s][:, None],
        drawn.C[pick, s][:, None],
        f[:, None],
        (drawn.kappa[pick, g] * (f / net.rho[g]) ** 2)[:, None],
        drawn.principal[pick, s][:, None],
    )
    fb = float(np.exp(best.logf[g]))
    one = project(Xb, best.R[s], best.C[s], fb, best.kappa[g] * (fb / net.rho[g]) ** 2, best.principal[s])
    out = {}
    for k, p in enumerate(wanted):
        fine = many[np.isfinite(many[:, k]).all(axis=1), k]
        if np.isfinite(one[k]).all() and len(fine) > DRAWS // 2:
            out[p] = (one[k], np.cov(fine.T))
    return out


def line_of(solution: Solution, seen_on: str, at: tuple[float, float], shot: str) -> Array | None:
    """(n, 2) pixels on ``shot`` of the ray through a mark on another photograph; None where it is out of the picture."""
    net, best = solution.net, solution.fit.state
    if shot not in net.shots or seen_on not in net.shots or shot == seen_on:
        return None
    a, b = net.shots.index(seen_on), net.shots.index(shot)
    ga, gb = net.camera_of[a], net.camera_of[b]
    f = float(np.exp(best.logf[ga]))
    ray = rays(np.array([at]), f, best.kappa[ga], net.rho[ga], best.principal[a])[0] @ best.R[a]
    ray = ray / np.linalg.norm(ray)
    middle = np.median(best.X, axis=0)
    reach = float(np.linalg.norm(middle - best.C[a]))
    steps = np.geomspace(NEAR, FAR, 120)[:, None] * reach
    fb = float(np.exp(best.logf[gb]))
    xy = project(
        best.C[a] + steps * ray, best.R[b], best.C[b], fb, best.kappa[gb] * (fb / net.rho[gb]) ** 2, best.principal[b]
    )
    w, h = net.size[b]
    margin = 0.02 * w
    fine = np.isfinite(xy).all(axis=1)
    fine &= (xy[:, 0] > -margin) & (xy[:, 1] > -margin) & (xy[:, 0] < w + margin) & (xy[:, 1] < h + margin)
    return xy[fine] if fine.sum() >= 2 else None


def rim_of(solution: Solution, shot: str, circle: str, steps: int = 96) -> Array | None:
    """(steps, 2) pixels of a circle that the survey has placed, as this shot should show it."""
    net, best = solution.net, solution.fit.state
    if shot not in net.shots or circle not in net.circles:
        return None
    s, m = net.shots.index(shot), net.circles.index(circle)
    g = net.camera_of[s]
    centre = best.X[net.circle_body[m]] * [1, net.circle_sign[m], 1]
    u, v = basis(best.normal[m])
    t = np.linspace(0, 2 * np.pi, steps, endpoint=False)[:, None]
    ring = centre + best.radius[net.radius_of[m]] * (np.cos(t) * u + np.sin(t) * v)
    f = float(np.exp(best.logf[g]))
    xy = project(ring, best.R[s], best.C[s], f, best.kappa[g] * (f / net.rho[g]) ** 2, best.principal[s])
    return xy if np.isfinite(xy).all() else None


def ellipse_of(mean: Array, cov: Array, least: float = 1.0) -> dict[str, float]:
    """The 95 % ellipse of a pixel as centre, half axes (px, not under ``least``) and angle (rad)."""
    values, vectors = np.linalg.eigh(cov)
    a, b = (max(REGION * float(np.sqrt(max(v, 0.0))), least) for v in values[::-1])
    angle = float(np.arctan2(vectors[1, 1], vectors[0, 1]))
    return {"x": float(mean[0]), "y": float(mean[1]), "a": a, "b": b, "angle": angle}


def guides(
    solution: Solution, shot: str, point: str, twin: str | None, marks: list[Any], name: Any
) -> list[dict[str, Any]]:
    """What to draw on ``shot`` for a chosen point and its twin: ellipses, or lines from the only other photograph.

    ``marks`` are the dossier's point marks; ``name`` makes words of an id.
    """
    out: list[dict[str, Any]] = []
    wanted = [p for p in (point, twin) if p]
    found = predicted(solution, shot, wanted)
    for p in wanted:
        if p in found:
            out.append({"name": name(p), "twin": p == twin, "ellipse": ellipse_of(*found[p])})
            continue
        for m in marks:
            if m.point == p and m.shot != shot and (xy := line_of(solution, m.shot, (m.x, m.y), shot)) is not None:
                said = f"{name(p)} by {m.shot}"
                out.append({"name": said, "twin": p == twin, "path": np.round(xy, 1).tolist()})
    return out
