"""The demo's photographs: python -m tools.demo_pictures.shoot [CAR[:SHOT] …].

``--spp`` paths a pixel and ``--fine`` rendered lines over published ones; ``--small`` makes the whole set in minutes (few
lines enlarged to full size: every step runs, nothing is sharp); ``--draft W`` makes quick looks W pixels wide, as PNG.
"""

from __future__ import annotations

import argparse
import time
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from longlens.demo.shots import Shot, camera_of, shots_of
from longlens.demo.truth import PICTURES
from tools.demo_pictures import render, textures
from tools.demo_pictures.materials import _bitmap, materials
from tools.demo_pictures.photo import develop, save

#: Rendered lines over published ones, and paths a pixel.
FINE, SPP = 1.0, 2
#: The same for a run that only proves that every step works.
SMALL = (0.06, 1)


def stage_for(s: Shot, ground: tuple[float, float], tex: dict[str, Any]) -> dict[str, object]:
    """Lights and surroundings of a shot."""
    if s.light == "paddock":
        return render.paddock(ground, tex, s.sun, s.wall_y)
    if s.light == "garage":
        return render.garage(ground, tex)
    return render.studio(ground, s.light == "backlit")


@lru_cache(maxsize=1)
def _prepared(car: str, stage: str, stance: str) -> tuple[Any, list[render.Solid], tuple[float, float]]:
    """The car's module, its solids and its ground; kept for the next shot of the same car as it stands."""
    module = import_module(f"longlens.demo.{car}")
    model = module.build(stage, stance)
    return module, render.ready(model), model.ground


@lru_cache(maxsize=1)
def _surroundings() -> dict[str, Any]:
    """The pictures on ground and walls; drawn once."""
    return {"tarmac": _bitmap(textures.tarmac()), "concrete": _bitmap(textures.concrete())}


def scaled(c: dict[str, Any], w: int, h: int, k: float) -> tuple[dict[str, Any], int, int]:
    """A camera for a smaller picture of the same view, and that picture's size (pixel centres at whole numbers)."""
    rw, rh = round(w * k), round(h * k)
    kx, ky = rw / w, rh / h
    px, py = c["principal_px"]
    small = {
        "focal_px": c["focal_px"] * kx,
        "principal_px": [(px + 0.5) * kx - 0.5, (py + 0.5) * ky - 0.5],
        "aspect": ky / kx,
    }
    return {**c, **small}, rw, rh


def shoot(s: Shot, spp: int, draft: int | None, out: Path, fine: float) -> None:
    """Render, develop and save one shot; ``draft`` is the width of a quick look."""
    t0 = time.time()
    car, solids, ground = _prepared(s.car, s.stage, s.stance)
    surfaces = materials(car.FRONT_TYRE.designation, car.REAR_TYRE.designation)
    scene = render.scene_of(solids, s.hidden, surfaces, stage_for(s, ground, _surroundings()))
    cam = camera_of(s)
    c = dict(cam["full"])
    x0, y0, w, h = s.crop or (0, 0, c["width"], c["height"])
    c["principal_px"] = [c["principal_px"][0] - x0, c["principal_px"][1] - y0]
    if draft:
        k = draft / w
        c |= {"focal_px": c["focal_px"] * k, "principal_px": [(p + 0.5) * k - 0.5 for p in c["principal_px"]]}
        w, h = draft, round(h * k)
    c |= {key: cam[key] for key in ("rotation", "position_m", "focus_m", "aperture_m")}
    # below 1 as a sensor behind its colour mosaic: some of the lines are real, the rest interpolated
    small, rw, rh = scaled(c, w, h, 1.0 if draft else fine)
    t1 = time.time()
    light = render.trace(scene, small, rw, rh, spp, 1000 + s.seed, say=s.id)
    t2 = time.time()
    clean = render.denoised(light)
    if (rw, rh) != (w, h):
        clean = cv2.resize(clean, (w, h), interpolation=cv2.INTER_LANCZOS4)
        light["color"] = cv2.resize(light["color"], (w, h), interpolation=cv2.INTER_LINEAR)
        clean = np.maximum(clean, 0)
    mixed = 0.97 * clean + 0.03 * np.minimum(light["color"], clean * 2.5)
    if draft:
        im = develop(mixed, s, noise=False)
        Image.fromarray(im).save(out / f"{s.car}_{s.stage}_{s.id}.png")
    else:
        im = develop(mixed, s)
        save(im, s, out / s.file)
    print(
        f"{s.car} {s.stage} {s.id}: build {t1 - t0:.0f} s, trace {t2 - t1:.0f} s, rest {time.time() - t2:.0f} s",
        flush=True,
    )


def main() -> None:
    a = argparse.ArgumentParser()
    a.add_argument("what", nargs="*", default=["fulmar", "gannet"])
    a.add_argument("--draft", type=int, default=None)
    a.add_argument("--spp", type=int, default=SPP)
    a.add_argument("--fine", type=float, default=FINE)
    a.add_argument("--small", action="store_true")
    a.add_argument("--out", type=Path, default=PICTURES)
    o = a.parse_args()
    if o.small:
        o.fine, o.spp = SMALL
    for item in o.what:
        car, _, name = item.partition(":")
        for s in shots_of(car):
            if name in ("", s.id):
                shoot(s, o.spp, o.draft, o.out, o.fine)


if __name__ == "__main__":
    main()
