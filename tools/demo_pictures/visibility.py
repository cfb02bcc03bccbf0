"""What each shot sees: rays from the true camera to points and circles, against the meshes of that picture."""

from __future__ import annotations

from typing import Any

import mitsuba as mi
import numpy as np

from longlens.demo.ground import PLACE_OF
from longlens.demo.model import Model
from longlens.demo.shots import Shot, camera_of, project


def _first_hit(scene: Any, origin: np.ndarray, to: np.ndarray) -> np.ndarray:
    """Distance (n,) of the first surface from the camera towards points (n, 3); inf where there is none."""
    d = to - origin
    d = d / np.linalg.norm(d, axis=1, keepdims=True)
    ray = mi.Ray3f(
        mi.Point3f(*[float(c) for c in origin]),
        mi.Vector3f(*[mi.Float(np.ascontiguousarray(d[:, k], np.float32)) for k in range(3)]),
    )
    si = scene.ray_intersect_preliminary(ray)
    t = si.t.numpy()
    return np.where(si.is_valid().numpy(), t, np.inf)


def seen(
    scene: Any, model: Model, shot: Shot, rays: int = 24
) -> tuple[dict[str, float], dict[str, list[float]], dict[str, list[float]]]:
    """Visible share of each point's feature (0 to 1; only points in the frame), visible angles of each circle (rad).

    A point's ray counts as seeing it when the first surface lies at the feature itself: not nearer than 1.6 of its
    radii before the point.
    """
    cam = camera_of(shot)
    C = np.asarray(cam["position_m"])
    R = np.asarray(cam["rotation"])
    w, h = cam["published"]["width"], cam["published"]["height"]
    rng = np.random.default_rng(11)
    shares: dict[str, float] = {}
    names, targets, dist, limit = [], [], [], []
    for name, p in model.points.items():
        px = project(p.xyz, cam)
        if p.place and p.place != PLACE_OF[shot.light]:
            continue
        if not (np.all(np.isfinite(px)) and 6 < px[0] < w - 7 and 6 < px[1] < h - 7):
            continue
        a = rng.uniform(0, 2 * np.pi, rays)
        r = p.radius * 0.62 * np.sqrt(rng.uniform(0, 1, rays))
        q = p.xyz + (r * np.cos(a))[:, None] * R[0] + (r * np.sin(a))[:, None] * R[1]
        names.append(name)
        targets.append(q)
        dist.append(np.linalg.norm(q - C, axis=1))
        limit.append(np.full(rays, 1.6 * p.radius + 0.003))
    t = _first_hit(scene, C, np.vstack(targets)).reshape(len(names), rays)
    ok = (t > np.array(dist) - np.array(limit)) & (t < np.array(dist) + np.maximum(3 * np.array(limit), 0.06))
    for name, row in zip(names, ok, strict=True):
        shares[name] = round(float(row.mean()), 3)
    arcs: dict[str, list[float]] = {}
    for name, c in model.circles.items():
        e1 = np.cross(c.axis, [0, 0, 1.0])
        e1 /= np.linalg.norm(e1)
        e2 = np.cross(c.axis, e1)
        ang = np.linspace(0, 2 * np.pi, 180, endpoint=False)
        q = c.centre + c.radius * (np.cos(ang)[:, None] * e1 + np.sin(ang)[:, None] * e2)
        px = project(q, cam)
        inside = np.all(np.isfinite(px), 1) & (px[:, 0] > 3) & (px[:, 0] < w - 4) & (px[:, 1] > 3) & (px[:, 1] < h - 4)
        facing = float((C - c.centre) @ c.axis) > 0
        # just outside and just inside of the edge: the edge is seen when both rays reach the circle's neighbourhood
        good = inside & facing
        for f in (0.994, 1.0):
            d = np.linalg.norm(c.centre + f * (q - c.centre) - C, axis=1)
            good &= _first_hit(scene, C, c.centre + f * (q - c.centre)) > d - 0.012
        # not where the tyre stands on the ground
        good &= q[:, 2] > model.ground[0] + model.ground[1] * q[:, 0] + 0.02
        arcs[name] = [round(float(a), 4) for a in ang[good]]
    return shares, arcs, {}
