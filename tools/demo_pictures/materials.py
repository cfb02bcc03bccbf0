"""Surfaces by name, as Mitsuba descriptions. Colours are linear reflectances."""

from __future__ import annotations

from typing import Any

import mitsuba as mi
import numpy as np

from tools.demo_pictures import textures


def _rgb(v: Any) -> dict[str, Any]:
    return {"type": "rgb", "value": v if isinstance(v, (int, float)) else list(v)}


def _paint(c: Any, rough: float = 0.28, coat: float = 1.0) -> dict[str, Any]:
    return {
        "type": "principled",
        "base_color": _rgb(c),
        "roughness": rough,
        "specular": 0.5,
        "clearcoat": coat,
        "clearcoat_gloss": 0.94,
    }


def _metal(c: Any, rough: float, aniso: float = 0.0) -> dict[str, Any]:
    return {"type": "principled", "base_color": _rgb(c), "metallic": 1.0, "roughness": rough, "anisotropic": aniso}


def _matt(c: Any, rough: float = 0.6, spec: float = 0.4) -> dict[str, Any]:
    return {"type": "principled", "base_color": _rgb(c), "roughness": rough, "specular": spec}


def _bitmap(a: np.ndarray, **more: Any) -> dict[str, Any]:
    return {"type": "bitmap", "bitmap": mi.Bitmap(np.ascontiguousarray(a, np.float32)), "raw": True, **more}


def materials(front_tyre: str, rear_tyre: str) -> dict[str, dict[str, Any]]:
    """All surfaces; the tyres' designations are lettered on their sidewalls."""
    weave = textures.weave()
    return {
        "paint_white": _paint([0.66, 0.67, 0.66]),
        "paint_slate": _paint([0.070, 0.098, 0.125]),
        "paint_ochre": _paint([0.60, 0.34, 0.055]),
        "paint_ink": _paint([0.014, 0.018, 0.024]),
        "mustard": _paint([0.62, 0.40, 0.035]),
        "camouflage": {
            "type": "principled",
            "base_color": _bitmap(textures.camouflage(), to_uv=mi.ScalarTransform4f().scale([0.62, 0.62, 1])),
            "roughness": 0.42,
            "specular": 0.45,
        },
        "carbon_gloss": {
            "type": "principled",
            "base_color": _rgb(0.022),
            "roughness": 0.35,
            "specular": 0.6,
            "clearcoat": 1.0,
            "clearcoat_gloss": 0.95,
        },
        "carbon_matt": _matt([0.030, 0.031, 0.034], 0.42, 0.5),
        "carbon_weave": {
            "type": "principled",
            "base_color": _bitmap(weave, to_uv=mi.ScalarTransform4f().scale([18, 18, 1])),
            "roughness": 0.30,
            "specular": 0.6,
            "clearcoat": 0.7,
            "clearcoat_gloss": 0.9,
        },
        "aluminium": _metal([0.84, 0.85, 0.86], 0.26),
        "machined": _metal([0.72, 0.73, 0.745], 0.33),
        "cast": _metal([0.56, 0.56, 0.555], 0.50),
        "core_tube": _metal([0.60, 0.61, 0.62], 0.42),
        "fins": {"type": "principled", "base_color": _bitmap(textures.fins()), "metallic": 0.85, "roughness": 0.45},
        "weld": _metal([0.55, 0.53, 0.50], 0.36),
        "steel": _metal([0.62, 0.615, 0.60], 0.27),
        "steel_dark": _metal([0.22, 0.22, 0.225], 0.36),
        "steel_black": {
            "type": "principled",
            "base_color": _rgb([0.020, 0.021, 0.023]),
            "roughness": 0.36,
            "specular": 0.6,
            "clearcoat": 0.5,
            "clearcoat_gloss": 0.8,
        },
        "spring_steel": _metal([0.42, 0.41, 0.40], 0.30),
        "spring_yellow": _paint([0.62, 0.40, 0.035], 0.35),
        "anodised": _metal([0.10, 0.36, 0.50], 0.30),
        "rocker": _metal([0.70, 0.66, 0.57], 0.30),
        "pipe": _metal([0.78, 0.785, 0.79], 0.24),
        "titanium": _metal([0.48, 0.43, 0.38], 0.32),
        "exhaust": _metal([0.42, 0.33, 0.25], 0.34),
        "disc": _metal([0.40, 0.395, 0.39], 0.30),
        "caliper": _paint([0.035, 0.30, 0.33], 0.35),
        "pad": _matt([0.07, 0.06, 0.055], 0.9),
        "rim_graphite": {
            "type": "principled",
            "base_color": _rgb([0.13, 0.135, 0.145]),
            "metallic": 0.8,
            "roughness": 0.34,
            "clearcoat": 0.6,
            "clearcoat_gloss": 0.9,
        },
        "rim_silver": {
            "type": "principled",
            "base_color": _rgb([0.58, 0.585, 0.59]),
            "metallic": 0.9,
            "roughness": 0.33,
            "clearcoat": 0.5,
            "clearcoat_gloss": 0.9,
        },
        "rim_bronze": {
            "type": "principled",
            "base_color": _rgb([0.30, 0.20, 0.105]),
            "metallic": 0.85,
            "roughness": 0.34,
            "clearcoat": 0.6,
            "clearcoat_gloss": 0.9,
        },
        "nut": _metal([0.62, 0.40, 0.08], 0.30),
        "tread": _matt([0.022, 0.022, 0.023], 0.80, 0.25),
        "rubber": _matt([0.026, 0.026, 0.027], 0.62, 0.35),
        "sidewall": {
            "type": "principled",
            "base_color": _bitmap(textures.sidewall(front_tyre, 1)),
            "roughness": 0.60,
            "specular": 0.35,
        },
        "sidewall_rear": {
            "type": "principled",
            "base_color": _bitmap(textures.sidewall(rear_tyre, 2)),
            "roughness": 0.60,
            "specular": 0.35,
        },
        "hose": _matt([0.028, 0.036, 0.040], 0.48, 0.4),
        "braided": _metal([0.34, 0.34, 0.345], 0.48),
        "sleeve": _matt([0.020, 0.020, 0.021], 0.5),
        "black": _matt([0.022, 0.022, 0.024], 0.38),
        "plastic": _matt([0.030, 0.031, 0.033], 0.45),
        "void": _matt([0.004, 0.004, 0.004], 0.9, 0.1),
        "fabric": _matt([0.040, 0.042, 0.048], 0.95, 0.15),
        "belt": _matt([0.10, 0.17, 0.20], 0.85, 0.2),
        "orange": _matt([0.78, 0.21, 0.012], 0.42, 0.45),
        "battery": _metal([0.34, 0.35, 0.36], 0.45),
        "tank": _metal([0.74, 0.745, 0.75], 0.36),
        "label": {"type": "principled", "base_color": _bitmap(textures.label()), "roughness": 0.4},
        **{
            f"sticker_{name}": {"type": "principled", "base_color": _bitmap(textures.sticker(name)), "roughness": 0.35}
            for name in textures.STICKERS
        },
        "screen": {"type": "principled", "base_color": _rgb([0.010, 0.012, 0.016]), "roughness": 0.10, "specular": 0.6},
        "smoke": {"type": "principled", "base_color": _rgb([0.020, 0.022, 0.026]), "roughness": 0.10, "specular": 0.7},
        "mirror": _metal([0.90, 0.91, 0.92], 0.03),
        "lamp_red": _paint([0.42, 0.010, 0.012], 0.18),
        "lamp_clear": _metal([0.85, 0.86, 0.88], 0.10),
        "turbo": _metal([0.36, 0.30, 0.25], 0.55),
    }
