"""The survey in space: points with their ellipsoids of uncertainty, cameras with their fields of view; for the page's 3D scene.

The geometry is worked out here, without any page, so that it can be tested; :class:`Scene` hands it to NiceGUI's three.js scene.
Vehicle axes as everywhere: x ahead, y to the left, z up, metres.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from nicegui import ui

from longlens.studio.look import PAGE, QUIET, TEXT, colour_of

if TYPE_CHECKING:
    from longlens.survey.camera import Array
    from longlens.survey.planner import Pose

#: √ of the 95 % point of χ² with three degrees of freedom.
REGION3 = 2.7955
#: An ellipsoid is drawn at least this thick (m), so that it can be seen.
LEAST = 0.004
#: How far from its place a camera's field of view is drawn (m).
REACH = 0.55
PLANNED, FAINT = "#FF9F6B", "#363c42"
View = Literal["free", "top", "side", "front"]


@dataclass(frozen=True)
class Ellipsoid:
    """Where a point lies 95 times in 100: centre (3,) m, half axes (3,) m, ``axes`` (3, 3) with right-handed columns."""

    centre: Array
    half: Array
    axes: Array


def ellipsoid(xyz: Array, cov: Array, times: float = 1.0) -> Ellipsoid:
    """The 95 % ellipsoid of a place and its covariance, drawn ``times`` as large."""
    w, V = np.linalg.eigh(np.asarray(cov, float))
    if np.linalg.det(V) < 0:
        V = V * [1.0, 1.0, -1.0]
    half = np.maximum(times * REGION3 * np.sqrt(np.maximum(w, 0.0)), LEAST)
    return Ellipsoid(np.asarray(xyz, float), half, V)


def field_of_view(
    position: Array | Sequence[float],
    rotation: Array | Sequence[Sequence[float]],
    focal_px: float,
    width: float,
    height: float,
) -> Array:
    """(4, 3) corners of what a camera sees at ``REACH``: top left, top right, bottom right, bottom left; m, vehicle axes."""
    u, v = width / 2 / focal_px, height / 2 / focal_px
    d = np.array([[-u, -v, 1.0], [u, -v, 1.0], [u, v, 1.0], [-u, v, 1.0]])
    d *= REACH / np.linalg.norm(d[0])
    return np.asarray(position, float) + d @ np.asarray(rotation, float)


def ring_of(centre: Sequence[float], axis: Sequence[float] | Array, radius: float, steps: int = 24) -> Array:
    """(steps + 1, 3) places round a circle, the first again at the end."""
    n = np.asarray(axis, float) / np.linalg.norm(axis)
    a = np.cross(n, [0.0, 0.0, 1.0] if abs(n[2]) < 0.9 else [1.0, 0.0, 0.0])
    a /= np.linalg.norm(a)
    t = np.linspace(0, 2 * np.pi, steps + 1)[:, None]
    return np.asarray(centre, float) + radius * (np.cos(t) * a + np.sin(t) * np.cross(n, a))


def eye_for(view: View, low: Array, high: Array) -> tuple[Array, Array, Array]:
    """Where to look at a box (low, high) from: place, target and up, for the scene's own camera (field of view 75°)."""
    middle = (np.asarray(low) + high) / 2
    size = float(np.max(np.asarray(high) - low))
    far = 0.52 * size + 0.6
    way = {
        "free": np.array([0.75, 0.62, 0.42]),
        "top": np.array([0.0, 0.0, 1.0]),
        "side": np.array([0.0, 1.0, 0.0]),
        "front": np.array([1.0, 0.0, 0.0]),
    }[view]
    up = np.array([1.0, 0.0, 0.0]) if view == "top" else np.array([0.0, 0.0, 1.0])
    return middle + way / np.linalg.norm(way) * far, middle, up


class Scene:
    """The 3D scene of one page. ``chosen`` is called with ("point", id) or ("shot", id) on a click."""

    def __init__(self, chosen: Callable[[str, str], Any], width: int = 900, height: int = 560) -> None:
        self.box = (np.array([-3.0, -1.0, 0.0]), np.array([1.0, 1.0, 1.2]))
        self.scene = ui.scene(
            width=width, height=height, grid=False, background_color=PAGE, on_click=lambda e: self._clicked(e, chosen)
        )
        self.planned: list[Any] = []

    def _clicked(self, event: Any, chosen: Callable[[str, str], Any]) -> None:
        for hit in event.hits:
            kind, _, name = (hit.object_name or "").partition(":")
            if kind in ("point", "shot"):
                chosen(kind, name)
                return

    def show(
        self,
        points: dict[str, dict[str, Any]],
        shots: dict[str, dict[str, Any]],
        systems: dict[str, str],
        times: float,
        *,
        lines: Sequence[tuple[str, str]] = (),
        circles: dict[str, dict[str, Any]] | None = None,
    ) -> None:
        """Draw everything anew: points (``xyz_m``, ``cov_m2``), shots (of the answer, with ``size``), lines between points, and
        circles (``centre_m``, ``axis``, ``radius_m``)."""
        self.scene.clear()
        self.planned = []
        if points:
            places = np.array([p["xyz_m"] for p in points.values()])
            standing = (
                places[places[:, 2] > 0.05] if (places[:, 2] > 0.05).sum() > 3 else places
            )  # no marks on the ground
            self.box = np.percentile(standing, 3, axis=0), np.percentile(standing, 97, axis=0)
        with self.scene:
            self._ground()
            for a, b in lines:
                if a in points and b in points:
                    ink = colour_of(systems.get(a, ""))
                    self.scene.line(list(points[a]["xyz_m"]), list(points[b]["xyz_m"])).material(ink, 0.75)
            for circle in (circles or {}).values():
                ring = ring_of(circle["centre_m"], circle["axis"], circle["radius_m"])
                for k in range(len(ring) - 1):
                    self.scene.line(ring[k].tolist(), ring[k + 1].tolist()).material(colour_of("running"), 0.6)
            for name, p in points.items():
                self._point(name, p, systems.get(name, ""), times)
            for name, camera in shots.items():
                self._camera(name, camera)

    def _ground(self) -> None:
        """A strip of ground with a line every metre, and which way is ahead."""
        low, high = self.box
        x = np.arange(np.floor(low[0] - 0.5), np.ceil(high[0] + 0.5) + 0.5)
        for v in x:  # a metre apart
            self.scene.line([float(v), -1.0, 0.0], [float(v), 1.0, 0.0]).material(FAINT)
        for y in (-1.0, 1.0):
            self.scene.line([float(x[0]), y, 0.0], [float(x[-1]), y, 0.0]).material(FAINT)
        tip = [float(high[0]) + 0.6, 0.0, 0.0]
        self.scene.line([float(low[0]) - 0.4, 0.0, 0.0], tip).material(QUIET)
        for side in (0.08, -0.08):
            self.scene.line(tip, [tip[0] - 0.16, side, 0.0]).material(QUIET)
        self.scene.text("ahead", f"color:{QUIET};font:.78rem system-ui").move(tip[0] + 0.1, 0, 0)

    def _point(self, name: str, p: dict[str, Any], system: str, times: float) -> None:
        got = ellipsoid(np.array(p["xyz_m"]), np.array(p.get("cov_m2") or np.zeros((3, 3))), times)
        body = self.scene.sphere(1.0, 10, 8).with_name(f"point:{name}").material(colour_of(system), 0.85)
        body.scale(*(float(v) for v in got.half)).rotate_R(got.axes.tolist()).move(*(float(v) for v in got.centre))

    def _camera(self, name: str, camera: dict[str, Any]) -> None:
        width, height = camera["size"]
        corners = field_of_view(camera["position_m"], camera["rotation"], camera["focal_px"], width, height)
        self._frustum(np.array(camera["position_m"]), corners, TEXT, f"shot:{name}", name)
        sd = camera.get("position_sd_m") or [0, 0, 0]
        body = self.scene.sphere(1.0, 12, 8).with_name(f"shot:{name}").material(TEXT, 0.9)
        half = [max(1.96 * float(s), 0.03) for s in sd]
        body.scale(*half).move(*(float(v) for v in camera["position_m"]))

    def _frustum(self, eye: Array, corners: Array, colour: str, name: str, said: str) -> list[Any]:
        made = []
        for k in range(4):
            made.append(self.scene.line(eye.tolist(), corners[k].tolist()))
            made.append(self.scene.line(corners[k].tolist(), corners[(k + 1) % 4].tolist()))
        for line in made:
            line.material(colour).with_name(name)
        label = self.scene.text(said, f"color:{colour};font:.78rem system-ui;background:{PAGE}b3;padding:0 4px")
        label.move(float(eye[0]), float(eye[1]), float(eye[2]) + 0.12)
        return [*made, label]

    def plan(self, pose: Pose | None, said: str = "") -> None:
        """Draw a photograph that is not taken yet, from its place to what it looks at; None takes it away."""
        for thing in self.planned:
            thing.delete()
        self.planned = []
        if pose is None:
            return
        with self.scene:
            corners = field_of_view(pose.position, pose.rotation, pose.focal_px, pose.width, pose.height)
            self.planned = self._frustum(pose.position, corners, PLANNED, "planned", said)
            body = self.scene.sphere(0.06, 12, 8).material(PLANNED)
            body.move(*(float(v) for v in pose.position))
            self.planned.append(body)
            reach = (
                pose.position + 0.8 * np.linalg.norm(pose.position - (self.box[0] + self.box[1]) / 2) * pose.rotation[2]
            )
            self.planned.append(self.scene.line(pose.position.tolist(), reach.tolist()).material(PLANNED))

    def look(self, view: View) -> None:
        """From the top, the side, the front, or freely from the front left. Seconds are few: nothing flies about."""
        low, high = self.box
        eye, at, up = eye_for(view, low, high)
        self._fly(eye, at, up)

    def _fly(self, eye: Array, at: Array, up: Array) -> None:
        names = [f"{of}{axis}" for of in ("", "look_at_", "up_") for axis in "xyz"]
        values = [float(v) for v in (*eye, *at, *up)]
        self.scene.move_camera(**dict(zip(names, values, strict=True)), duration=0.3)

    def look_over(self, pose: Pose) -> None:
        """From behind and above a planned photograph's place, so that it and the car are both in view."""
        middle = (self.box[0] + self.box[1]) / 2
        away = np.asarray(pose.position) - middle
        turn = np.array([[0.88, -0.47, 0.0], [0.47, 0.88, 0.0], [0.0, 0.0, 1.0]])  # 28 degrees to the side
        eye = middle + 1.35 * turn @ away + np.array([0.0, 0.0, 1.2])
        self._fly(eye, middle, np.array([0.0, 0.0, 1.0]))
