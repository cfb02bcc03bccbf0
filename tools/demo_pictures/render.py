"""From a model and a shot to linear light: Mitsuba traces the rays that the shot's own camera says, pixel by pixel.

The camera is not Mitsuba's. For every pixel (centre at whole numbers) and every sample the ray is the inverse of
``x_pixel = principal + f · u · (1 + k1 |u|²)``, so the picture obeys the exchange document's camera without resampling.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from typing import Any

import mitsuba as mi

try:
    mi.set_variant("llvm_ad_rgb")
except ImportError as error:
    raise SystemExit(
        f"the pictures need Mitsuba's LLVM mode, which does not start ({error}): install a libLLVM, 16 or newer, from the "
        "system's packages, and give its path in DRJIT_LIBLLVM_PATH where it is not found by itself"
    ) from None

import drjit as dr
import numpy as np

from longlens.demo.ground import drawing
from longlens.demo.model import Model
from longlens.demo.solids import shaded


@dataclass(frozen=True)
class Solid:
    """A part made ready: its group, material and corners with normals."""

    group: str
    material: str
    v: np.ndarray
    n: np.ndarray
    f: np.ndarray
    uv: np.ndarray | None


def ready(model: Model, smooth: bool = True) -> list[Solid]:
    """The model's parts with shading normals (``smooth``) or bare, to be put into several scenes."""
    out = []
    for p in model.parts:
        m = p.mesh
        v, n, f, uv = shaded(m) if smooth else (m.v, np.zeros_like(m.v), m.f, None)
        out.append(Solid(p.group, p.material, v.astype(np.float32), n.astype(np.float32), f.astype(np.uint32), uv))
    return out


def scene_of(
    solids: list[Solid], hidden: tuple[str, ...], surfaces: dict[str, Any] | None, stage: dict[str, Any]
) -> Any:
    """A Mitsuba scene: solids merged by material, without the groups in ``hidden``, in a ``stage`` (lights, floor)."""
    groups: dict[str, list[Solid]] = {}
    for s in solids:
        if s.group not in hidden:
            groups.setdefault(s.material, []).append(s)
    d: dict[str, Any] = {"type": "scene", **stage}
    for name, parts in sorted(groups.items()):
        d[f"car_{name}"] = _mesh(name, parts, surfaces[name] if surfaces else {"type": "diffuse"})
    return mi.load_dict(d)


def _mesh(name: str, parts: list[Solid], bsdf: dict[str, Any]) -> Any:
    base = np.cumsum([0] + [len(s.v) for s in parts[:-1]]).astype(np.uint32)
    v = np.concatenate([s.v for s in parts])
    n = np.concatenate([s.n for s in parts])
    f = np.concatenate([s.f + b for s, b in zip(parts, base, strict=True)])
    textured = any(s.uv is not None for s in parts)
    props = mi.Properties()
    props["mesh_bsdf"] = mi.load_dict({"type": "twosided", "nested": bsdf})
    mesh = mi.Mesh(name, len(v), len(f), has_vertex_normals=True, has_vertex_texcoords=textured, props=props)
    p = mi.traverse(mesh)
    p["vertex_positions"] = mi.Float(v.ravel())
    p["vertex_normals"] = mi.Float(n.ravel())
    p["faces"] = mi.UInt32(f.ravel())
    if textured:
        uv = np.concatenate([s.uv if s.uv is not None else np.zeros((len(s.v), 2)) for s in parts])
        p["vertex_texcoords"] = mi.Float(uv.astype(np.float32).ravel())
    p.update()
    return mesh


def camera_rays(x: Any, y: Any, cam: dict[str, Any], lens: tuple[Any, Any] | None) -> Any:
    """Rays through pixels (x, y); ``lens`` are two samples in [0, 1) for the aperture."""
    f, k1 = cam["focal_px"], cam["k1"]
    px, py = cam["principal_px"]
    qx, qy = (x - px) / f, (y - py) / (f * cam.get("aspect", 1.0))
    rq = dr.sqrt(qx * qx + qy * qy)
    r = mi.Float(rq)
    for _ in range(6):
        r = r - (r * (1 + k1 * r * r) - rq) / dr.maximum(1 + 3 * k1 * r * r, 0.05)
    s = dr.select(rq > 1e-9, r / dr.maximum(rq, 1e-9), 1.0)
    d = mi.Vector3f(qx * s, qy * s, 1.0)
    o = mi.Vector3f(0.0)
    if lens is not None and cam.get("aperture_m", 0) > 0:
        rad, ang = cam["aperture_m"] * dr.sqrt(lens[0]), 2 * dr.pi * lens[1]
        o = mi.Vector3f(rad * dr.cos(ang), rad * dr.sin(ang), 0.0)
        d = d * cam["focus_m"] - o
    R = np.asarray(cam["rotation"], float).T  # camera to vehicle
    C = np.asarray(cam["position_m"], float)

    def turned(v: Any) -> Any:
        return mi.Vector3f(*[float(R[i, 0]) * v.x + float(R[i, 1]) * v.y + float(R[i, 2]) * v.z for i in range(3)])

    return mi.RayDifferential3f(
        mi.Ray3f(mi.Point3f(turned(o)) + mi.Point3f(*[float(c) for c in C]), dr.normalize(turned(d)))
    )


def trace(
    scene: Any,
    cam: dict[str, Any],
    width: int,
    height: int,
    spp: int,
    seed: int,
    depth: int = 4,
    guide_spp: int = 4,
    say: str = "",
) -> dict[str, np.ndarray]:
    """Linear light (h, w, 3) from ``spp`` paths a pixel; albedo and normals from ``guide_spp`` first hits.

    Rendered in bands to bound memory.
    """
    integrator = mi.load_dict({"type": "path", "max_depth": depth, "rr_depth": 3})
    out = {k: np.zeros((height, width, 3), np.float32) for k in ("color", "albedo", "normal")}
    t0 = time.time()
    for kind, n_s in (("guide", guide_spp), ("light", spp)):
        rows = max(1, int(8e6 // (width * n_s)))
        for y0 in range(0, height, rows):
            y1 = max(min(y0, height - rows), 0)  # every band is as high as the first: one compiled kernel serves all
            h = min(rows, height)
            n = h * width * n_s
            pix = dr.arange(mi.UInt32, n) // n_s
            sampler = mi.load_dict({"type": "independent"})
            sampler.seed(seed * 100003 + y0 + (50021 if kind == "guide" else 0), n)
            jx, jy, l0, l1 = (sampler.next_1d() for _ in range(4))
            x = mi.Float(pix % width) + jx - 0.5
            y = mi.Float(pix // width) + dr.opaque(mi.Float, float(y1)) + jy - 0.5
            ray = camera_rays(x, y, cam, (l0, l1))
            if kind == "guide":
                si = scene.ray_intersect(ray)
                bsdf = si.bsdf(ray)
                alb = dr.clip(dr.select(si.is_valid(), bsdf.eval_diffuse_reflectance(si), 0.0), 0, 1)
                nrm = dr.select(si.is_valid(), si.sh_frame.n, 0.0)
                got = {"albedo": alb, "normal": nrm}
            else:
                L, _, _ = integrator.sample(scene, sampler, ray)
                # a lid on single samples: fireflies would otherwise streak after denoising
                got = {
                    "color": mi.Color3f(*[dr.select(dr.isfinite(L[c]), dr.minimum(L[c], 40.0), 0.0) for c in range(3)])
                }
            means = {k: [dr.block_sum(v[c], n_s) / n_s for c in range(3)] for k, v in got.items()}
            dr.eval(*[c for v in means.values() for c in v])
            for k, v in means.items():
                for c in range(3):
                    out[k][y1 : y1 + h, :, c] = v[c].numpy().reshape(h, width)
            if say and sys.stderr.isatty():
                print(
                    f"\r{say} {kind} {100 * (y0 + h) // height:3d} % {time.time() - t0:.0f} s", end="", file=sys.stderr
                )
    return out


def denoised(light: dict[str, np.ndarray]) -> np.ndarray:
    """The light with its Monte-Carlo noise taken out, guided by albedo and normals; as is if not installed."""
    try:
        from pyoidn import denoise
    except ImportError:
        return light["color"]
    return denoise(light["color"], np.clip(light["albedo"], 0, 1), light["normal"], hdr=True)


def bare(ground: tuple[float, float]) -> dict[str, Any]:
    """Only the floor: for asking what hides what."""
    return {
        "floor": {
            "type": "rectangle",
            "to_world": _on_ground(ground) @ mi.ScalarTransform4f().scale([16, 16, 1]),
            "bsdf": {"type": "diffuse"},
        }
    }


def _on_ground(ground: tuple[float, float], x: float = -1.2, y: float = 0.0, lift: float = 0.0) -> Any:
    """The frame of the ground at (x, y): a slope about the lateral axis."""
    T = mi.ScalarTransform4f
    return T().translate([x, y, ground[0] + ground[1] * x + lift]) @ T().rotate(
        [0, 1, 0], float(np.degrees(-np.arctan(ground[1])))
    )


def _draw(d: dict[str, Any], place: str, ground: tuple[float, float], colour: list[float], rough: float) -> None:
    """The strips drawn on a place's floor, a hair above it."""
    bsdf = {"type": "principled", "base_color": {"type": "rgb", "value": colour}, "roughness": rough, "specular": 0.2}
    T = mi.ScalarTransform4f
    for i, s in enumerate(drawing(place).strips):
        d[f"strip_{place}_{i}"] = {
            "type": "rectangle",
            "to_world": _on_ground(ground, s.x, s.y, 0.0012)
            @ T().rotate([0, 0, 1], float(np.degrees(s.turn)))
            @ T().scale([s.half_x, s.half_y, 1]),
            "bsdf": bsdf,
        }


def studio(ground: tuple[float, float], backlit: bool = False) -> dict[str, Any]:
    """A light grey cove with softboxes overhead and at the sides."""
    T = mi.ScalarTransform4f
    d: dict[str, Any] = {
        "floor": {
            "type": "rectangle",
            "to_world": _on_ground(ground) @ T().scale([14, 14, 1]),
            "bsdf": {
                "type": "principled",
                "base_color": {"type": "rgb", "value": [0.36, 0.36, 0.365]},
                "roughness": 0.32,
                "specular": 0.35,
            },
        },
        "wall": {
            "type": "sphere",
            "center": [-1.2, 0, 0],
            "radius": 13.5,
            "flip_normals": True,
            "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.42 if not backlit else 0.12}},
        },
    }

    def soft(
        name: str, at: list[float], to: list[float], w: float, h: float, power: float, tint: Any = (1, 1, 1)
    ) -> None:
        d[name] = {
            "type": "rectangle",
            "to_world": T().look_at(origin=at, target=to, up=[0.01, 0.02, 1]) @ T().scale([w / 2, h / 2, 1]),
            "emitter": {"type": "area", "radiance": {"type": "rgb", "value": [power * t for t in tint]}},
            "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.0}},
        }

    if backlit:
        soft("rim_l", [-6.2, 2.6, 2.6], [-1.0, 0, 0.5], 1.6, 3.0, 20, (1, 0.97, 0.92))
        soft("rim_r", [-6.2, -2.6, 2.6], [-1.0, 0, 0.5], 1.6, 3.0, 20, (1, 0.97, 0.92))
        soft("top", [-2.2, 0, 3.6], [-1.6, 0, 0.4], 3.0, 0.8, 7)
        soft("kick", [3.0, 5.5, 2.2], [0, 0, 0.4], 1.0, 1.0, 0.8)
    else:
        soft("top", [-0.6, 0.0, 4.2], [-1.0, 0, 0.3], 2.2, 5.6, 5.0)
        soft("left", [0.6, 5.4, 4.0], [-0.8, 0, 0.4], 5.0, 1.8, 6.0, (1.0, 0.985, 0.96))
        soft("right", [-0.8, -5.4, 4.3], [-1.0, 0, 0.4], 5.0, 1.8, 4.2, (0.96, 0.985, 1.0))
        soft("front", [5.4, 0.8, 2.2], [0.2, 0, 0.3], 2.6, 1.5, 3.2)
        soft("back", [-7.4, -1.2, 4.4], [-2.0, 0, 0.5], 3.0, 1.6, 5.5)
    _draw(d, "studio", ground, [0.05, 0.27, 0.30], 0.6)
    return d


def paddock(
    ground: tuple[float, float],
    textures: dict[str, Any],
    sun: tuple[float, float, float],
    wall_y: float = -4.4,
    awning: bool = True,
) -> dict[str, Any]:
    """Tarmac under a clear sky with a sun, a plain garage wall on one side, an awning's posts and roof."""
    T = mi.ScalarTransform4f
    d: dict[str, Any] = {
        "sky": {
            "type": "sunsky",
            "sun_direction": list(sun),
            "turbidity": 3.5,
            "albedo": {"type": "rgb", "value": 0.2},
            "sun_scale": 1.0,
            "sky_scale": 1.0,
            "sun_aperture": 1.6,
            "to_world": T().rotate([1, 0, 0], 0),
        },
        "floor": {
            "type": "rectangle",
            "to_world": _on_ground(ground) @ T().scale([150, 150, 1]),
            "bsdf": {
                "type": "principled",
                "base_color": {**textures["tarmac"], "to_uv": T().scale([75, 75, 1])},
                "roughness": 0.75,
                "specular": 0.3,
            },
        },
    }
    s = np.sign(wall_y)
    wall = {
        "type": "principled",
        "base_color": {**textures["concrete"], "to_uv": T().scale([4, 1.0, 1])},
        "roughness": 0.8,
        "specular": 0.2,
    }
    d["wall"] = {
        "type": "rectangle",
        "to_world": T().look_at(origin=[-1.2, wall_y, 2.0], target=[-1.2, 0, 2.0], up=[0, 0, 1])
        @ T().scale([14, 2.2, 1]),
        "bsdf": wall,
    }
    door = {
        "type": "principled",
        "base_color": {"type": "rgb", "value": [0.10, 0.16, 0.19]},
        "roughness": 0.45,
        "specular": 0.4,
    }
    for i, x in enumerate((-7.6, -2.2, 3.2, 8.6)):
        for j in range(13):
            d[f"door_{i}_{j}"] = {
                "type": "cube",
                "to_world": T().translate([x, wall_y + s * -0.015, 0.12 + 0.20 * j + ground[0]])
                @ T().scale([1.9, 0.022, 0.094]),
                "bsdf": door,
            }
    kerb = {
        "type": "principled",
        "base_color": {"type": "rgb", "value": [0.34, 0.335, 0.32]},
        "roughness": 0.8,
        "specular": 0.2,
    }
    d["kerb"] = {
        "type": "cube",
        "to_world": T().translate([-1.2, wall_y - s * 0.25, ground[0] - 0.03]) @ T().scale([14, 0.25, 0.10]),
        "bsdf": kerb,
    }
    if awning:
        cloth = {
            "type": "principled",
            "base_color": {"type": "rgb", "value": [0.50, 0.49, 0.46]},
            "roughness": 0.8,
            "specular": 0.2,
        }
        post = {"type": "principled", "base_color": {"type": "rgb", "value": 0.6}, "metallic": 1.0, "roughness": 0.35}
        d["awning"] = {
            "type": "cube",
            "to_world": T().translate([-4.6, wall_y - s * 1.5, 2.55 + ground[0]])
            @ T().rotate([1, 0, 0], float(6 * s))
            @ T().scale([2.6, 1.5, 0.012]),
            "bsdf": cloth,
        }
        for i, x in enumerate((-7.1, -2.1)):
            d[f"post_{i}"] = {
                "type": "cylinder",
                "p0": [x, wall_y - s * 2.9, ground[0]],
                "p1": [x, wall_y - s * 2.9, 2.45 + ground[0]],
                "radius": 0.03,
                "bsdf": post,
            }
    _draw(d, "paddock", ground, [0.62, 0.61, 0.57], 0.7)
    return d


def garage(ground: tuple[float, float], textures: dict[str, Any]) -> dict[str, Any]:
    """A workshop: painted floor, plain walls, strip lights, an open door with daylight on the left."""
    T = mi.ScalarTransform4f
    g = ground[0]
    wall = {
        "type": "principled",
        "base_color": {**textures["concrete"], "to_uv": T().scale([3, 1, 1])},
        "roughness": 0.75,
        "specular": 0.2,
    }
    skirt = {
        "type": "principled",
        "base_color": {"type": "rgb", "value": [0.09, 0.15, 0.17]},
        "roughness": 0.4,
        "specular": 0.4,
    }
    shelf = {
        "type": "principled",
        "base_color": {"type": "rgb", "value": [0.42, 0.43, 0.43]},
        "roughness": 0.45,
        "metallic": 0.8,
    }
    drawer = {
        "type": "principled",
        "base_color": {"type": "rgb", "value": [0.30, 0.12, 0.05]},
        "roughness": 0.35,
        "specular": 0.5,
    }
    d: dict[str, Any] = {
        "floor": {
            "type": "rectangle",
            "to_world": _on_ground(ground) @ T().scale([16, 16, 1]),
            "bsdf": {
                "type": "principled",
                "base_color": {"type": "rgb", "value": [0.27, 0.285, 0.29]},
                "roughness": 0.30,
                "specular": 0.4,
            },
        },
        "fill": {"type": "constant", "radiance": {"type": "rgb", "value": [0.30, 0.31, 0.33]}},
    }

    def box(name: str, at: list[float], half: list[float], bsdf: dict[str, Any]) -> None:
        d[name] = {"type": "cube", "to_world": T().translate(at) @ T().scale(half), "bsdf": bsdf}

    for s, y in (("r", -3.6), ("l", 4.6)):
        box(f"wall_{s}", [-1.5, y, 1.6 + g], [7.0, 0.05, 1.6], wall)
        box(f"skirt_{s}", [-1.5, y + (0.055 if y < 0 else -0.055), 0.5 + g], [7.0, 0.01, 0.5], skirt)
    box("wall_back", [-7.6, 0.5, 1.6 + g], [0.05, 4.2, 1.6], wall)
    box("skirt_back", [-7.53, 0.5, 0.5 + g], [0.01, 4.2, 0.5], skirt)
    for i, x in enumerate((-5.2, -3.9, -2.6)):
        box(f"cabinet_{i}", [x, -3.25, 0.45 + g], [0.58, 0.28, 0.45], drawer)
        for j in range(4):
            box(f"drawer_{i}_{j}", [x, -2.965, 0.16 + 0.2 * j + g], [0.53, 0.012, 0.085], drawer)
            box(f"handle_{i}_{j}", [x, -2.945, 0.21 + 0.2 * j + g], [0.30, 0.010, 0.012], shelf)
    box("bench", [-3.9, -3.22, 0.92 + g], [1.95, 0.33, 0.022], shelf)
    for i in range(3):
        box(f"shelf_{i}", [0.6, -3.42, 1.0 + 0.45 * i + g], [1.6, 0.14, 0.012], shelf)
    for i, x in enumerate((-5.0, -2.2, 0.6)):
        for j, y in enumerate((-1.7, 2.2)):
            d[f"strip_{i}_{j}"] = {
                "type": "rectangle",
                "to_world": T().look_at(origin=[x, y, 3.1 + g], target=[x, y, 0], up=[1, 0, 0])
                @ T().scale([0.18, 0.95, 1]),
                "emitter": {"type": "area", "radiance": {"type": "rgb", "value": [11.0, 11.2, 11.0]}},
            }
    d["door"] = {
        "type": "rectangle",
        "to_world": T().look_at(origin=[5.2, 1.0, 1.4 + g], target=[0, 0, 0.6], up=[0, 0, 1])
        @ T().scale([2.6, 1.4, 1]),
        "emitter": {"type": "area", "radiance": {"type": "rgb", "value": [2.6, 2.9, 3.3]}},
    }
    _draw(d, "garage", ground, [0.045, 0.048, 0.05], 0.7)
    return d
