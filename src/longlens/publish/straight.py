"""A photograph straightened to a plane of the car, seen square on: what lies in the plane is true to scale.

What stands before or behind the plane is where the photograph shows it, so it is shifted and of another size there.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np

from longlens.dossier.records import Shot
from longlens.dossier.store import Dossier
from longlens.publish.drawing import Array
from longlens.publish.perspective import Camera
from longlens.publish.shooting import FromDossier
from longlens.survey.camera import rays

#: Right and up of the picture in vehicle axes, by the side it is seen from. From the left and from above the car heads left.
SIDES: dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "left": ((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "right": ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "front": ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "rear": ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0)),
    "top": ((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
}
#: Largest side of a straightened picture, px.
LARGEST = 4000
#: The camera is asked at every so many pixels of a straightened picture, which is made in strips of so many rows.
NODES, STRIP = 8, 256


@dataclass(frozen=True)
class Flat:
    """A plane through ``middle`` (3,) m, ``right`` and ``up`` (3,) unit, of which ``width`` × ``height`` m are shown."""

    camera: Camera
    middle: Array
    right: Array
    up: Array
    width: float
    height: float
    per_metre: float

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the straightened picture, px."""
        return max(round(self.width * self.per_metre), 2), max(round(self.height * self.per_metre), 2)

    def from_shot(self, pixels: Array) -> Array:
        """Pixels (n, 2) of the photograph to pixels of the straightened one, along the rays onto the plane; NaN where a ray
        does not meet it ahead."""
        c = self.camera
        rho = 1000.0
        d = rays(np.asarray(pixels, float), c.f, c.k1 * (rho / c.f) ** 2, rho, c.principal) @ c.R
        n = np.cross(self.right, self.up)
        with np.errstate(divide="ignore", invalid="ignore"):
            t = ((self.middle - c.C) @ n) / (d @ n)
        X = c.C + np.where(t > 0, t, np.nan)[:, None] * d
        return self.of_plane(X)

    def of_plane(self, X: Array) -> Array:
        """Points (n, 3) in the plane to pixels of the straightened picture."""
        w, h = self.size
        x = (X - self.middle) @ self.right * self.per_metre + (w - 1) / 2
        y = -((X - self.middle) @ self.up) * self.per_metre + (h - 1) / 2
        return np.stack([x, y], axis=-1)

    def picture(self, photograph: Array) -> Array:
        """The photograph (h, w, 3) straightened; grey where it does not reach."""
        import cv2

        w, h = self.size
        out = np.empty((h, w, 3), np.uint8)
        for first in range(0, h, STRIP):  # in strips: a whole map of this size takes hundreds of MB
            rows = min(STRIP, h - first)
            p = self._seen(first, rows)
            cv2.remap(
                photograph, p[..., 0], p[..., 1], cv2.INTER_CUBIC, out[first : first + rows],
                borderMode=cv2.BORDER_CONSTANT, borderValue=(46, 48, 50),
            )  # fmt: skip
        return out

    def _seen(self, first: int, rows: int) -> Array:
        """Where the photograph shows each pixel of some rows: (rows, w, 2) pixels, far outside behind the camera.

        The camera is asked at every eighth pixel and what lies between is put in linearly: the road from plane to picture
        bends so little over so few pixels that the error stays below a hundredth of a pixel (a test looks).
        """
        import cv2

        w, _ = self.size
        n, m = -(-w // NODES) + 2, -(-rows // NODES) + 2
        half = (NODES - 1) / 2  # a node stands in the middle of its pixels; one more on every side
        nodes = self._projected((np.arange(n) - 1) * NODES + half, first + (np.arange(m) - 1) * NODES + half)
        if np.isfinite(nodes).all():
            whole = cv2.resize(nodes.astype(np.float32), (n * NODES, m * NODES), interpolation=cv2.INTER_LINEAR)
            return np.ascontiguousarray(whole[NODES : NODES + rows, NODES : NODES + w])
        every = self._projected(np.arange(w, dtype=float), first + np.arange(rows, dtype=float))
        return np.nan_to_num(every, nan=-1e4).astype(np.float32)

    def _projected(self, x: Array, y: Array) -> Array:
        """Pixels (len(y), len(x), 2) of the photograph at columns and rows of the straightened picture."""
        w, h = self.size
        u, v = (x - (w - 1) / 2) / self.per_metre, ((h - 1) / 2 - y) / self.per_metre
        return self.camera.project(self.middle + u[None, :, None] * self.right + v[:, None, None] * self.up)


def flat(camera: Camera, middle: Array, side: str, width: float, aspect: float) -> Flat:
    """The plane through a point seen from a side, ``width`` m wide, as fine as the photograph shows it in the middle."""
    right, up = (np.array(v) for v in SIDES[side])
    per_metre = min(1.3 * camera.pixels_per_metre(middle), LARGEST / width)
    return Flat(camera, np.asarray(middle, float), right, up, width, width / aspect, per_metre)


@dataclass(frozen=True)
class Straightened:
    """A straightened photograph as a drawing's source of pixels."""

    dossier: Dossier
    shot: Shot
    flat: Flat

    @property
    def key(self) -> str:
        f = self.flat
        parts = [
            self.shot.photograph,
            f.middle.tolist(),
            f.right.tolist(),
            f.up.tolist(),
            f.width,
            f.height,
            f.per_metre,
        ]
        c = f.camera
        parts += [c.R.tolist(), c.C.tolist(), c.f, c.k1, c.principal.tolist()]
        return hashlib.sha256(repr(parts).encode()).hexdigest()

    @property
    def pixels(self) -> Array:
        return self.flat.picture(FromDossier(self.dossier, self.shot).pixels)
