"""The model as binary glTF 2.0 (Khronos Group, "glTF 2.0 Specification", ISO/IEC 12113:2022): points, rods, cores, pipes,
wheels' circles and cameras.

glTF's axes are x left, y up, z forward for a model that looks ahead (section 3.4: "+Y up, +Z forward, -X right"); the root turns
vehicle axes (x forward, y left, z up) into them. Lengths are metres in both.
"""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np

from longlens.publish.drawing import Array, rgb
from longlens.publish.model import Model
from longlens.publish.names import SYSTEMS, words
from longlens.publish.page import CAUTION
from longlens.publish.perspective import Camera, ring

FLOAT, USHORT, UINT = 5126, 5123, 5125
ARRAY_BUFFER, ELEMENT_ARRAY_BUFFER = 34962, 34963
POINTS, TRIANGLES = 0, 4
#: Radius of what is drawn as a rod, m, where its own is not known.
ROD, RING = 0.008, 0.004
SIDES = 10
#: Turns vehicle axes into glTF's: x to z, y to x, z to y.
ROOT = [-0.5, -0.5, -0.5, 0.5]


def glb(model: Model, *, name: str, note: str = "") -> bytes:
    """The model as the bytes of a .glb file."""
    return _Writer(model, name, note).made()


class _Writer:
    def __init__(self, model: Model, name: str, note: str) -> None:
        self.model = model
        self.blob = bytearray()
        self.materials: dict[tuple[str, bool], int] = {}
        self.doc: dict[str, Any] = {
            "asset": {"version": "2.0", "generator": "longlens", "extras": {"caution": CAUTION, "note": note}},
            "scene": 0,
            "scenes": [{"name": name, "nodes": [0]}],
            "nodes": [{"name": name, "rotation": ROOT, "children": []}],
            "meshes": [], "materials": [], "accessors": [], "bufferViews": [], "cameras": [],
        }  # fmt: skip

    def made(self) -> bytes:
        for name, place in sorted(self.model.points.items()):
            self._point(name, place)
        for part in self.model.parts:
            if part.kind == "core":
                mesh = self._mesh(part.name, _fan(part.path), part.system, thin=True)
            else:
                mesh = self._mesh(part.name, tube(part.path, (part.width or 2 * ROD) / 2), part.system)
            extras = {
                "kind": part.kind,
                "certainty": "inferred" if part.inferred else "seen",
                "through": list(part.through),
            }
            self._child({"name": part.name or part.kind, "mesh": mesh, "extras": extras})
        for name, (centre, axis, radius, system) in sorted(self.model.circles.items()):
            mesh = self._mesh(name, tube(ring(centre, axis, radius, 64), RING, closed=True), system)
            self._child({"name": words(name), "mesh": mesh, "extras": {"kind": "circle", "diameter_m": 2 * radius}})
        for name, (camera, width, height) in sorted(self.model.cameras.items()):
            self._camera(name, camera, width, height)
        return self._packed()

    def _child(self, node: dict[str, Any]) -> None:
        self.doc["nodes"][0]["children"].append(len(self.doc["nodes"]))
        self.doc["nodes"].append(node)

    def _point(self, name: str, place: Array) -> None:
        """A node at the point; all share one small mesh."""
        if not hasattr(self, "_dot"):
            self._dot = self._mesh("point", _octahedron(0.006), "")
        sd = self.model.sds.get(name)
        extras = {"kind": "point"} | ({"sd_m": [round(float(v), 6) for v in sd]} if sd is not None else {})
        self._child({"name": name, "mesh": self._dot, "translation": [float(v) for v in place], "extras": extras})

    def _mesh(self, name: str, shape: tuple[Array, Array, Array], system: str, *, thin: bool = False) -> int:
        places, normals, faces = shape
        attributes = {
            "POSITION": self._accessor(places.astype("<f4"), "VEC3", ARRAY_BUFFER, bounds=True),
            "NORMAL": self._accessor(normals.astype("<f4"), "VEC3", ARRAY_BUFFER),
        }
        small = len(places) < 65_535
        indices = self._accessor(faces.ravel().astype("<u2" if small else "<u4"), "SCALAR", ELEMENT_ARRAY_BUFFER)
        primitive = {
            "attributes": attributes,
            "indices": indices,
            "material": self._material(system, thin),
            "mode": TRIANGLES,
        }
        self.doc["meshes"].append({"name": name or "part", "primitives": [primitive]})
        return len(self.doc["meshes"]) - 1

    def _material(self, system: str, thin: bool) -> int:
        key = (system, thin)
        if key not in self.materials:
            said, colour = SYSTEMS.get(system, SYSTEMS[""])
            factor = [round(_linear(v), 5) for v in rgb(colour)] + [0.55 if thin else 1.0]
            made: dict[str, Any] = {
                "name": said + (", core" if thin else ""),
                "pbrMetallicRoughness": {"baseColorFactor": factor, "metallicFactor": 0.0, "roughnessFactor": 0.6},
            }
            if thin:
                made |= {"doubleSided": True, "alphaMode": "BLEND"}
            self.materials[key] = len(self.doc["materials"])
            self.doc["materials"].append(made)
        return self.materials[key]

    def _accessor(self, data: Array, kind: str, target: int, *, bounds: bool = False) -> int:
        while len(self.blob) % 4:
            self.blob.append(0)
        view = {"buffer": 0, "byteOffset": len(self.blob), "byteLength": data.nbytes, "target": target}
        self.blob += np.ascontiguousarray(data).tobytes()
        self.doc["bufferViews"].append(view)
        code = {"f4": FLOAT, "u2": USHORT, "u4": UINT}[data.dtype.str[1:]]
        accessor: dict[str, Any] = {
            "bufferView": len(self.doc["bufferViews"]) - 1, "componentType": code, "count": len(data), "type": kind,
        }  # fmt: skip
        if bounds:
            accessor |= {"min": data.min(axis=0).astype(float).tolist(), "max": data.max(axis=0).astype(float).tolist()}
        self.doc["accessors"].append(accessor)
        return len(self.doc["accessors"]) - 1

    def _camera(self, name: str, camera: Camera, width: int, height: int) -> None:
        yfov = 2 * float(np.arctan(height / 2 / camera.f))
        self.doc["cameras"].append({
            "name": name, "type": "perspective",
            "perspective": {"yfov": yfov, "aspectRatio": width / height, "znear": 0.05, "zfar": 200.0},
            "extras": {"focal_px": camera.f, "k1": camera.k1, "principal_px": camera.principal.tolist(), "width": width,
                       "height": height},
        })  # fmt: skip
        # a glTF camera looks along its -z, its y up; the columns are its axes in the vehicle's
        axes = np.column_stack([camera.R[0], -camera.R[1], -camera.R[2]])
        node = {"name": f"camera of {name}", "camera": len(self.doc["cameras"]) - 1,
                "translation": [float(v) for v in camera.C], "rotation": quaternion(axes)}  # fmt: skip
        self._child(node)

    def _packed(self) -> bytes:
        while len(self.blob) % 4:
            self.blob.append(0)
        if self.blob:
            self.doc["buffers"] = [{"byteLength": len(self.blob)}]
        if not self.doc["nodes"][0]["children"]:
            del self.doc["nodes"][0]["children"]
        doc = {k: v for k, v in self.doc.items() if v != []}
        text = json.dumps(doc, separators=(",", ":"), allow_nan=False).encode("utf-8")
        text += b" " * (-len(text) % 4)
        chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
        if self.blob:
            chunks += struct.pack("<II", len(self.blob), 0x004E4942) + bytes(self.blob)
        return struct.pack("<III", 0x46546C67, 2, 12 + len(chunks)) + chunks


def _linear(byte: int) -> float:
    """sRGB to linear light (IEC 61966-2-1)."""
    c = byte / 255
    return c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4


def quaternion(m: Array) -> list[float]:
    """The unit quaternion (x, y, z, w) of a rotation matrix (Shepperd 1978: from the largest of the four)."""
    t = np.array([m[0, 0] - m[1, 1] - m[2, 2], m[1, 1] - m[0, 0] - m[2, 2], m[2, 2] - m[0, 0] - m[1, 1], np.trace(m)])
    k = int(np.argmax(t))
    if k == 3:
        q = np.array([m[2, 1] - m[1, 2], m[0, 2] - m[2, 0], m[1, 0] - m[0, 1], 1 + t[3]])
    else:
        i, j = (k + 1) % 3, (k + 2) % 3
        q = np.zeros(4)
        q[k], q[i], q[j], q[3] = 1 + t[k], m[i, k] + m[k, i], m[j, k] + m[k, j], m[j, i] - m[i, j]
    return [float(v) for v in q / np.linalg.norm(q)]


def tube(path: Array, radius: float, *, closed: bool = False) -> tuple[Array, Array, Array]:
    """A round tube along a path (n, 3): places, normals, triangles; open ends are left open."""
    p = np.asarray(path, float)
    keep = np.concatenate([[True], np.linalg.norm(np.diff(p, axis=0), axis=1) > 1e-9])
    p = p[keep]
    if len(p) < 2:
        p = np.vstack([p, p + np.array([0.0, 0.0, 1e-4])])
    ahead = np.roll(p, -1, axis=0) - np.roll(p, 1, axis=0) if closed else np.gradient(p, axis=0)
    ahead /= np.maximum(np.linalg.norm(ahead, axis=1, keepdims=True), 1e-12)
    side = np.zeros_like(ahead)
    last = np.array([0.0, 0.0, 1.0]) if abs(ahead[0, 2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    for k, d in enumerate(ahead):  # carried along, so that the tube does not twist
        last = last - d * float(last @ d)
        last = last / max(float(np.linalg.norm(last)), 1e-12)
        side[k] = last
    other = np.cross(ahead, side)
    t = np.linspace(0, 2 * np.pi, SIDES, endpoint=False)
    normals = np.cos(t)[None, :, None] * side[:, None] + np.sin(t)[None, :, None] * other[:, None]
    places = p[:, None] + radius * normals
    rows = len(p)
    i = np.arange(rows if closed else rows - 1)[:, None]
    j = np.arange(SIDES)[None]
    a, b = i * SIDES + j, i * SIDES + (j + 1) % SIDES
    c, d = ((i + 1) % rows) * SIDES + j, ((i + 1) % rows) * SIDES + (j + 1) % SIDES
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([b, d, c], -1).reshape(-1, 3)])
    return places.reshape(-1, 3), normals.reshape(-1, 3), faces


def _fan(path: Array) -> tuple[Array, Array, Array]:
    """A face over a closed path, as a fan about its middle."""
    p = np.vstack([path, path.mean(axis=0)])
    n = len(path)
    i = np.arange(n)
    faces = np.stack([i, (i + 1) % n, np.full(n, n)], axis=1)
    normal = np.sum(np.cross(p[faces[:, 0]] - p[n], p[faces[:, 1]] - p[n]), axis=0)
    normal = (
        normal / max(float(np.linalg.norm(normal)), 1e-12) if np.linalg.norm(normal) > 1e-12 else np.array([0.0, 0, 1])
    )
    return p, np.tile(normal, (n + 1, 1)), faces


def _octahedron(r: float) -> tuple[Array, Array, Array]:
    n = np.array([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], float)
    faces = np.array([(0, 2, 4), (2, 1, 4), (1, 3, 4), (3, 0, 4), (2, 0, 5), (1, 2, 5), (3, 1, 5), (0, 3, 5)])
    return r * n, n, faces
