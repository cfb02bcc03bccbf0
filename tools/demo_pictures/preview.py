"""A small quick picture while modelling.

python -m tools.demo_pictures.preview CAR STAGE STANCE OUT.png x y z tx ty tz focal_mm [hide,…] [light] [width] [spp]
"""

from __future__ import annotations

import sys
import time

import numpy as np
from PIL import Image


def tone(light: np.ndarray, exposure: float | None = None) -> np.ndarray:
    """Linear light to 8-bit values: exposure, a soft shoulder, the sRGB curve."""
    y = light @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    if exposure is None:
        exposure = 0.55 / max(float(np.percentile(y, 90)), 1e-6)
    x = np.maximum(light * exposure, 0)
    x = np.where(x < 0.6, x, 0.6 + 0.4 * (1 - np.exp(-(x - 0.6) / 0.4)))
    x = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 1e-9), 1 / 2.4) - 0.055)
    return np.clip(x * 255 + 0.5, 0, 255).astype(np.uint8)


def main() -> None:
    from longlens.demo import fulmar
    from longlens.survey.camera import look_at
    from tools.demo_pictures import render, textures
    from tools.demo_pictures.materials import _bitmap, materials

    car, stage, stance, out = sys.argv[1:5]
    p, t = np.array(sys.argv[5:8], float), np.array(sys.argv[8:11], float)
    mm = float(sys.argv[11])
    hide = tuple(sys.argv[12].split(",")) if len(sys.argv) > 12 else ()
    light = sys.argv[13] if len(sys.argv) > 13 else "studio"
    w = int(sys.argv[14]) if len(sys.argv) > 14 else 720
    spp = int(sys.argv[15]) if len(sys.argv) > 15 else 6
    h = w * 2 // 3
    t0 = time.time()
    if car == "fulmar":
        mod = fulmar
    else:
        from longlens.demo import gannet as mod
    m = mod.build(stage, stance)
    tex = {"tarmac": _bitmap(textures.tarmac()), "concrete": _bitmap(textures.concrete())}
    if light == "paddock":
        place = render.paddock(m.ground, tex, (0.45, 0.62, 0.64))
    else:
        place = render.studio(m.ground, light == "backlit")
    sc = render.scene_of(render.ready(m), hide, materials(mod.FRONT_TYRE.designation, mod.REAR_TYRE.designation), place)
    t1 = time.time()
    cam = {
        "focal_px": mm / 36 * w,
        "k1": 0.0,
        "principal_px": [(w - 1) / 2, (h - 1) / 2],
        "rotation": look_at(p, t),
        "position_m": p,
    }
    li = render.trace(sc, cam, w, h, spp, 1)
    t2 = time.time()
    im = tone(render.denoised(li))
    Image.fromarray(im).save(out)
    print(f"build {t1 - t0:.1f} trace {t2 - t1:.1f} denoise {time.time() - t2:.1f} s")


if __name__ == "__main__":
    main()
