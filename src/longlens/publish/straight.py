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
        u = (np.arange(w) - (w - 1) / 2) / self.per_metre
        v = ((h - 1) / 2 - np.arange(h)) / self.per_metre
        X = self.middle + u[None, :, None] * self.right + v[:, None, None] * self.up
        p = np.nan_to_num(self.camera.project(X), nan=-1e4).astype(np.float32)
        return cv2.remap(
            photograph, p[..., 0], p[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT, borderValue=(46, 48, 50)
        )


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
