"""Invented cars with known truth, for the survey's studies and tests.

Each car is drawn from wide ranges: wheelbase, tracks, wheels, and some dozens of mirrored points where wishbones, rods,
rockers, wings and cores would be, a few points on the centre plane and on the ground. Shots are taken from around it with
focal lengths that the survey is not told. Marks carry normal noise of exactly the stated standard deviation, rim edge
points across the rim; lens and principal point are drawn from the priors of the exchange document.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from longlens.survey.camera import look_at, project

Array = np.ndarray


@dataclass
class Case:
    """An exchange document (plain dict) and its truth."""

    document: dict
    xyz: dict[str, Array]
    radius: dict[str, float]
    measures: dict[str, float]
    cameras: dict[str, dict]
    wrong: list[tuple[str, str]] = field(default_factory=list)
    axes: dict[str, Array] = field(default_factory=dict)  # unit axes of the circles


def car_points(rng: np.random.Generator, pairs: int) -> tuple[dict[str, Array], dict[str, dict]]:
    """Places of named points and their records."""
    wheelbase, half = rng.uniform(2.2, 2.9), rng.uniform(0.65, 0.85)
    xyz: dict[str, Array] = {}
    record: dict[str, dict] = {}

    def twin(name: str, p) -> None:
        p = np.asarray(p, float)
        xyz[f"left.{name}"], xyz[f"right.{name}"] = p, p * [1, -1, 1]
        record[f"left.{name}"] = {"id": f"left.{name}", "mirror": f"right.{name}"}
        record[f"right.{name}"] = {"id": f"right.{name}"}

    for end, x in (("front", 0.0), ("rear", -wheelbase)):
        w = half + rng.normal(0, 0.03)
        twin(f"{end}.wheel_centre", [x, w, rng.uniform(0.28, 0.34)])
        inner = rng.uniform(0.2, 0.32)
        for arm, z in (("upper", 0.42), ("lower", 0.18)):
            twin(f"{end}.{arm}.outer", [x + rng.normal(0, 0.03), w - 0.12, z + rng.normal(0, 0.02)])
            for leg, dx in (("fore", 0.2), ("aft", -0.2)):
                twin(f"{end}.{arm}.{leg}", [x + dx + rng.normal(0, 0.03), inner, z + rng.normal(0, 0.03)])
        twin(f"{end}.rod.outer", [x + 0.03, w - 0.16, 0.2 + rng.normal(0, 0.02)])
        twin(f"{end}.rod.inner", [x + rng.normal(0, 0.05), inner + 0.05, 0.5 + rng.normal(0, 0.03)])
        twin(f"{end}.track_rod.outer", [x + 0.1, w - 0.1, 0.25])
    k = 0
    while len(xyz) < 2 * pairs:
        p = [rng.uniform(-wheelbase - 0.6, 0.8), rng.uniform(0.15, half), rng.uniform(0.08, 0.95)]
        twin(f"part{k}", p)
        k += 1
    for k in range(3):
        name = f"centre{k}"
        xyz[name] = np.array([rng.uniform(-wheelbase - 0.4, 0.7), 0.0, rng.uniform(0.3, 1.0)])
        record[name] = {"id": name, "on": "centre_plane"}
    for k in range(3):
        name = f"ground{k}"
        xyz[name] = np.array([rng.uniform(-wheelbase - 0.5, 1.0), rng.uniform(-1.2, 1.2), 0.0])
        record[name] = {"id": name, "on": "ground"}
    return xyz, record


def simulate(
    seed: int,
    *,
    shots: int | None = None,
    pairs: int | None = None,
    size: tuple[int, int] = (6000, 4000),
    sd: tuple[float, float] = (1.5, 3.0),
    seen: float = 0.75,
    circles: bool = True,
    ground: bool = True,
    facts: tuple[str, ...] = ("wheelbase", "rim"),
    mirror_sd: float = 0.0,
    one_camera: bool = False,
    cropped: bool = False,
) -> Case:
    """One invented car, photographed and marked. All draws come from ``seed``."""
    rng = np.random.default_rng(seed)
    n = shots if shots is not None else int(rng.integers(3, 9))
    xyz, record = car_points(rng, pairs if pairs is not None else int(rng.integers(16, 30)))
    if mirror_sd:
        for name in [k for k in record if "mirror" in record[k]]:
            record[name]["mirror_sd"] = mirror_sd
            xyz[record[name]["mirror"]] = xyz[record[name]["mirror"]] + rng.normal(0, mirror_sd, 3)
    if not ground:
        for name in [k for k in record if record[k].get("on") == "ground"]:
            del record[name], xyz[name]
    middle = np.mean(list(xyz.values()), axis=0)
    radius, axes = {}, {}
    doc: dict = {"format": "longlens-exchange", "version": 1, "vehicle": {"name": f"invented {seed}"}}
    if circles:
        rim = rng.uniform(0.18, 0.24)
        for end in ("front", "rear"):
            for side in ("left", "right"):
                cid = f"{side}.{end}.rim"
                radius[cid] = rim
                tilt = rng.normal(0, np.radians(1.0), 2)
                axis = np.array([tilt[0], 1.0, tilt[1]])
                axes[cid] = axis / np.linalg.norm(axis)
        doc["circles"] = [
            {"id": c, "centre": c.replace(".rim", ".wheel_centre"), "axis": "lateral", "axis_sd_deg": 1.0}
            for c in radius
        ]
    doc["shots"], doc["marks"], cameras = [], [], {}
    common = (np.exp(rng.uniform(np.log(0.8), np.log(2.5))) * size[0], rng.normal(0, 0.01))
    for i in range(n):
        sid = f"s{i + 1}"
        w, h = size
        f, kappa = common if one_camera else (np.exp(rng.uniform(np.log(0.8), np.log(2.5))) * w, rng.normal(0, 0.01))
        rho = np.hypot(w, h) / 2
        k1 = kappa * (f / rho) ** 2
        pp = np.array([(w - 1) / 2, (h - 1) / 2]) + rng.normal(0, 0.005 * w, 2) * (20 if cropped else 1)
        azimuth = rng.uniform(-np.pi, np.pi)
        distance = 4.4 * f / w * rng.uniform(0.9, 1.3)
        place = middle + distance * np.array([np.cos(azimuth), np.sin(azimuth), 0.0])
        place[2] = rng.uniform(0.4, 2.2)
        R = look_at(place, middle + rng.normal(0, 0.15, 3))
        roll = rng.normal(0, 0.02)
        R = np.array([[np.cos(roll), -np.sin(roll), 0], [np.sin(roll), np.cos(roll), 0], [0, 0, 1]]) @ R
        shot = {"id": sid, "width": w, "height": h}
        if one_camera:
            shot["camera"] = "one"
        if cropped:
            shot["cropped"] = True
        doc["shots"].append(shot)
        cameras[sid] = {"f": f, "k1": k1, "principal": pp, "R": R, "C": place}
        s = rng.uniform(*sd)
        names = list(xyz)
        px = project(np.array([xyz[k] for k in names]), R, place, f, k1, pp)
        near = 1 if place[1] > middle[1] else -1
        for name, p in zip(names, px, strict=True):
            hidden = 0.35 if xyz[name][1] * near < -0.1 else 0.0  # the far side is seen less often
            if rng.random() > seen - hidden or not (0 <= p[0] < w and 0 <= p[1] < h):
                continue
            x, y = p + rng.normal(0, s, 2)
            doc["marks"].append({"shot": sid, "point": name, "x": float(x), "y": float(y), "sd_px": float(s)})
        for cid, r in radius.items():
            c = xyz[cid.replace(".rim", ".wheel_centre")]
            if c[1] * near < 0 or abs((place - c) @ axes[cid]) < 0.25 * np.linalg.norm(place - c):
                continue
            edge = rim_edge(rng, c, axes[cid], r, R, place, f, k1, pp, s, w, h)
            if len(edge) >= 5:
                doc["marks"].append({"shot": sid, "circle": cid, "edge": edge, "sd_px": float(s)})
    used = {m["point"] for m in doc["marks"] if "point" in m}
    for name in list(record):  # ids that twins or circles need stay
        needed = {record[k].get("mirror") for k in record} | {c["centre"] for c in doc.get("circles", [])}
        if name not in used and name not in needed and "mirror" not in record[name]:
            del record[name]
    doc["points"] = list(record.values())
    doc["facts"] = known_facts(rng, xyz, radius, facts)
    measures, truth = asked(xyz, radius, record)
    doc["measures"] = measures
    return Case(doc, xyz, radius, truth, cameras, axes=axes)


def rim_edge(rng, c, axis, r, R, place, f, k1, pp, s, w, h) -> list[list[float]]:
    """Edge points on an arc, with noise across the rim only."""
    a = np.cross(axis, [1.0, 0, 0])
    a /= np.linalg.norm(a)
    b = np.cross(axis, a)
    t0, span = rng.uniform(0, 2 * np.pi), rng.uniform(np.pi, 2 * np.pi)
    t = t0 + span * np.linspace(0, 1, int(rng.integers(8, 14)), endpoint=False)

    def px(t):
        return project(c + r * (np.cos(t)[:, None] * a + np.sin(t)[:, None] * b), R, place, f, k1, pp)

    p, d = px(t), px(t + 1e-5) - px(t - 1e-5)
    n = np.stack([-d[:, 1], d[:, 0]], 1) / np.linalg.norm(d, axis=1)[:, None]
    q = p + n * rng.normal(0, s, len(t))[:, None]
    return [[float(x), float(y)] for x, y in q if 0 <= x < w and 0 <= y < h]


def known_facts(rng, xyz, radius, which) -> list[dict]:
    out = []
    if "wheelbase" in which:
        a, b = "left.front.wheel_centre", "left.rear.wheel_centre"
        true = np.linalg.norm(xyz[a] - xyz[b])
        out.append(
            {"id": "wheelbase", "value": float(true + rng.normal(0, 0.002)), "sd": 0.002, "unit": "m",
             "source": "invented", "distance": [a, b]}
        )  # fmt: skip
    if "rim" in which and radius:
        true = 2 * next(iter(radius.values()))
        out.append(
            {"id": "rim", "value": float(true + rng.normal(0, 0.001)), "sd": 0.001, "unit": "m",
             "source": "invented", "diameter": list(radius)}
        )  # fmt: skip
    if "positions" in which:
        for name in [k for k in xyz if k.startswith("left.")][:8]:
            out.append(
                {"id": f"place {name}", "value": [float(v) for v in xyz[name] + rng.normal(0, 0.003, 3)], "sd": 0.003,
                 "unit": "m", "source": "invented", "position": name}
            )  # fmt: skip
    return out


def asked(xyz, radius, record) -> tuple[list[dict], dict[str, float]]:
    """Measures of every plain kind, and their true values."""
    measures, truth = [], {}
    for end in ("front", "rear"):
        for name, a, b in (
            ("fore leg", f"left.{end}.lower.fore", f"left.{end}.lower.outer"),
            ("aft leg", f"right.{end}.upper.aft", f"right.{end}.upper.outer"),
            ("rod", f"left.{end}.rod.inner", f"left.{end}.rod.outer"),
            ("track", f"left.{end}.wheel_centre", f"right.{end}.wheel_centre"),
        ):
            measures.append({"id": f"{end} {name}", "distance": [a, b]})
            truth[f"{end} {name}"] = float(np.linalg.norm(xyz[a] - xyz[b]))
        a, v, b = (f"left.{end}.lower.{k}" for k in ("fore", "outer", "aft"))
        p, q = xyz[a] - xyz[v], xyz[b] - xyz[v]
        measures.append({"id": f"{end} angle", "angle": [a, v, b]})
        truth[f"{end} angle"] = float(np.arccos(p @ q / np.linalg.norm(p) / np.linalg.norm(q)))
        if any(r.get("on") == "ground" for r in record.values()):
            measures.append({"id": f"{end} height", "height": f"left.{end}.upper.outer"})
            truth[f"{end} height"] = float(xyz[f"left.{end}.upper.outer"][2])
    measures.append({"id": "ratio", "ratio": ["front rod", "rear rod"]})
    truth["ratio"] = truth["front rod"] / truth["rear rod"]
    if radius:
        measures.append({"id": "rim", "diameter": "left.front.rim"})
        truth["rim"] = 2 * radius["left.front.rim"]
    return measures, truth
