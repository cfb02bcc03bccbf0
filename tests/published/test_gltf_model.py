"""The model file read by pygltflib (PyPI), and held against what the glTF 2.0 specification (Khronos; ISO/IEC 12113:2022) asks,
section by section."""

from __future__ import annotations

import json
import struct
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from longlens.dossier.store import Dossier
from longlens.publish.basis import Bases
from longlens.publish.data.gltf import glb, quaternion, tube
from longlens.publish.model import Model, model_of
from longlens.survey.camera import look_at

pytestmark = pytest.mark.published
WIDTH = {5121: 1, 5123: 2, 5125: 4, 5126: 4}
PARTS = {"SCALAR": 1, "VEC3": 3}
TYPES = {5123: "<u2", 5125: "<u4", 5126: "<f4"}


def read(data: bytes) -> tuple[dict[str, Any], bytes]:
    """A .glb by section 4.4: header, JSON chunk padded with spaces, binary chunk padded with zeros, all in fours."""
    magic, version, length = struct.unpack_from("<III", data)
    assert (magic, version, length) == (0x46546C67, 2, len(data))
    size, kind = struct.unpack_from("<II", data, 12)
    assert kind == 0x4E4F534A and size % 4 == 0
    doc = json.loads(data[20 : 20 + size])
    rest = data[20 + size :]
    if not rest:
        return doc, b""
    size2, kind2 = struct.unpack_from("<II", rest)
    assert kind2 == 0x004E4942 and size2 % 4 == 0 and len(rest) == 8 + size2
    return doc, rest[8:]


def values(doc: dict[str, Any], blob: bytes, index: int) -> np.ndarray:
    a = doc["accessors"][index]
    view = doc["bufferViews"][a["bufferView"]]
    n = PARTS[a["type"]]
    assert view["byteOffset"] % WIDTH[a["componentType"]] == 0  # 3.6.2.4: aligned to the component
    assert a["count"] * n * WIDTH[a["componentType"]] <= view["byteLength"]
    assert view["byteOffset"] + view["byteLength"] <= doc["buffers"][0]["byteLength"] <= len(blob)
    out = np.frombuffer(blob, TYPES[a["componentType"]], a["count"] * n, view["byteOffset"])
    return out.reshape(-1, n) if n > 1 else out


@pytest.fixture
def made(opened: Callable[[], Dossier]) -> tuple[bytes, Model]:
    model = model_of(Bases(opened()).of(None))
    return glb(model, name="Skerry Fulmar E4", note="invented"), model


def test_an_independent_reader_takes_it(made: tuple[bytes, Model]) -> None:
    import pygltflib

    data, model = made
    got = pygltflib.GLTF2.load_from_bytes(data)
    assert got.asset.version == "2.0" and len(got.cameras) == len(model.cameras) == 2
    names = {n.name for n in got.nodes}
    assert set(model.points) <= names and "sill" in names and "camera of front" in names


def test_the_specification_is_kept(made: tuple[bytes, Model]) -> None:
    doc, blob = read(made[0])
    assert doc["asset"]["version"] == "2.0"
    assert all(v != [] for v in doc.values())  # 5.17: arrays hold at least one item
    for mesh in doc["meshes"]:
        for p in mesh["primitives"]:
            places = values(doc, blob, p["attributes"]["POSITION"])
            a = doc["accessors"][p["attributes"]["POSITION"]]
            assert np.array_equal(np.float32(a["min"]), places.min(axis=0))  # 3.7.2.1: POSITION has its bounds
            assert np.array_equal(np.float32(a["max"]), places.max(axis=0))
            normals = values(doc, blob, p["attributes"]["NORMAL"])
            assert normals.shape == places.shape and np.allclose(np.linalg.norm(normals, axis=1), 1, atol=1e-5)
            index = values(doc, blob, p["indices"])
            assert (
                len(index) % 3 == 0 and index.max() < len(places) and index.max() < 65_535
            )  # 3.7.2.1: no primitive restart
            assert 0 <= p["material"] < len(doc["materials"])
    for view in doc["bufferViews"]:
        assert view["target"] in (34962, 34963)
    children = [c for n in doc["nodes"] for c in n.get("children", [])]
    assert sorted(children) == list(
        range(1, len(doc["nodes"]))
    )  # 3.5.2: a strict tree, every node reached from the root
    for node in doc["nodes"]:
        if "rotation" in node:
            assert np.linalg.norm(node["rotation"]) == pytest.approx(1, abs=1e-9)
    for m in doc["materials"]:
        assert all(0 <= c <= 1 for c in m["pbrMetallicRoughness"]["baseColorFactor"])


def rotated(q: list[float], v: np.ndarray) -> np.ndarray:
    """A vector turned by a unit quaternion (x, y, z, w): v + 2 u × (u × v + w v)."""
    u, w = np.array(q[:3]), q[3]
    return v + 2 * np.cross(u, np.cross(u, v) + w * v)


def test_forward_is_z_up_is_y_left_is_x(made: tuple[bytes, Model]) -> None:
    """Section 3.4: +Y up, +Z forward, -X right."""
    doc, _ = read(made[0])
    q = doc["nodes"][0]["rotation"]
    for vehicle, gltf in (((1, 0, 0), (0, 0, 1)), ((0, 1, 0), (1, 0, 0)), ((0, 0, 1), (0, 1, 0))):
        assert np.allclose(rotated(q, np.array(vehicle, float)), gltf, atol=1e-12)


def test_a_camera_of_the_file_sees_points_where_the_photograph_shows_them(made: tuple[bytes, Model]) -> None:
    """Section 3.10: a camera looks along its -z with +y up; yfov and aspect ratio give the picture."""
    data, model = made
    doc, _ = read(data)
    for name, (camera, width, height) in model.cameras.items():
        node = next(n for n in doc["nodes"] if n["name"] == f"camera of {name}")
        p = doc["cameras"][node["camera"]]["perspective"]
        q = np.array(node["rotation"]) * [-1, -1, -1, 1]
        for place in list(model.points.values())[:6]:
            x, y, z = rotated(list(q), place - np.array(node["translation"]))
            assert z < 0
            f = height / 2 / np.tan(p["yfov"] / 2)
            px = (width - 1) / 2 + f * x / -z, (height - 1) / 2 - f * y / -z
            want = camera.project(place)
            shift = camera.principal - [(width - 1) / 2, (height - 1) / 2]
            assert np.hypot(*(np.array(px) + shift - want)) < 6  # what is left is the lens's radial term
        assert p["aspectRatio"] == pytest.approx(width / height)


def test_quaternions_and_tubes() -> None:
    rng = np.random.default_rng(5)
    for _ in range(50):
        m = look_at(rng.normal(size=3) * 3, np.zeros(3)).T
        q = quaternion(m)
        for v in np.eye(3):
            assert np.allclose(rotated(q, v), m @ v, atol=1e-9)
    places, normals, faces = tube(np.array([[0.0, 0, 0], [0, 0, 1.0]]), 0.1)
    assert np.allclose(np.linalg.norm(places[:, :2], axis=1), 0.1)
    a, b, c = (places[faces[:, i]] for i in range(3))
    outward = np.sum(np.cross(b - a, c - a) * normals[faces[:, 0]], axis=1)
    assert (outward > 0).all()  # 3.7.2.1: triangles wind anticlockwise seen from outside


def test_an_unsolved_dossier_gives_an_empty_but_sound_file() -> None:
    doc, blob = read(glb(Model(), name="none"))
    assert blob == b"" and "children" not in doc["nodes"][0] and "meshes" not in doc and "buffers" not in doc
