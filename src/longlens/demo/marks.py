"""Marks as a person would set them on the demo's photographs: from truth and visibility, with seeded noise.

A crisp feature is hit to 1.5 px, a vague one to 3 px. Points seen partly are marked wider; what is hidden but
betrayed by its neighbours is drawn as inferred and not fitted. Some are left out by oversight, one is wrong on purpose.
"""

from __future__ import annotations

import hashlib
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

from longlens.demo.asked import in_reach
from longlens.demo.camera import project
from longlens.demo.truth import PARTLY, SEEN

Array = NDArray[np.float64]

FORGOTTEN = 0.06
SHARPEST, BLURRIEST = 1.5, 3.0
SEED = 20310902


def sd_of(sharp: float, share: float) -> float:
    """A mark's standard deviation, px: by how crisp the feature is and how much of it shows."""
    sd = BLURRIEST - (BLURRIEST - SHARPEST) * min(max(sharp, 0.0), 1.0)
    return round(sd * (1.0 if share >= SEEN else 1.6), 2)


def exchange_of(truth: dict[str, Any], seed: int = SEED, wrong: bool = True) -> dict[str, Any]:
    """The exchange document of a truth file: shots as the engineer knows them, marks, facts, measures in reach.

    Parameters
    ----------
    seed : of the noise; another one gives other marks of the same features.
    wrong : put one wrong mark in (named in ``note`` of nobody: it is for the survey to find).
    """
    stage = f"{truth['vehicle']['name']}/{truth['stage']}"
    rng = np.random.default_rng([seed, zlib.crc32(stage.encode())])
    choice = np.random.default_rng([SEED, zlib.crc32(stage.encode()), 1])
    marks: list[dict[str, Any]] = []
    marked: dict[str, int] = {}
    drawn: set[str] = set()
    for s in truth["shots"]:
        cam = s["camera"]
        for name in sorted(s["seen"]):
            p = truth["points"][name]
            share = s["seen"][name]
            px = project(np.array(p["xyz_m"]), cam)
            oversight = _lot(stage, s["id"], name) < FORGOTTEN
            if p["buried"] or oversight:
                continue
            sd = sd_of(p["sharp"], share)
            error = rng.normal(0, sd, 2)
            if share >= PARTLY:
                marks.append(_mark(s["id"], name, px + error, sd))
                marked[name] = marked.get(name, 0) + 1
            elif share > 0.05:
                marks.append({**_mark(s["id"], name, px + error * 2, round(2 * sd, 2)), "inferred": True})
                drawn.add(name)
        for name in sorted(s["arcs"]):
            m = _circle_mark(s, name, truth["circles"][name], rng, _lot(stage, s["id"], name) < 0.04)
            if m is not None:
                marks.append(m)
    circles_marked = {m["circle"] for m in marks if "circle" in m}
    sizes = {s["id"]: s for s in truth["shots"]}
    need = _needed(truth, marked, marks)
    marks = [m for m in marks if "circle" in m or m["point"] in need or m.get("inferred")]
    if wrong:
        _spoil(marks, choice)
    used = {m["point"] for m in marks if "point" in m} | {_centre_name(c, truth) for c in _rims(circles_marked)}
    points = []
    for name in sorted(used):
        p = truth["points"].get(name) or {}
        item: dict[str, Any] = {"id": name}
        twin = p.get("mirror")
        if twin in used and name.startswith("left."):
            item["mirror"] = twin
            item["mirror_sd"] = 0.0005
        elif p.get("on"):
            item["on"] = p["on"]
        points.append(item)
    circles = []
    for name in sorted(circles_marked):
        c: dict[str, Any] = {"id": name}
        if name in _rims(circles_marked):
            c["centre"] = _centre_name(name, truth)
        if truth["circles"][name]["axis"][1] ** 2 > 0.99:
            c |= {"axis": "lateral", "axis_sd_deg": 1.5}
        circles.append(c)
    ids = {p["id"] for p in points}
    facts = []
    for f in truth["facts"]:
        if "distance" in f and not all(n in ids for n in f["distance"]):
            continue
        if "diameter" in f:
            here = [c for c in f["diameter"] if c in circles_marked]
            if not here:
                continue
            f = {**f, "diameter": here}
        facts.append(f)
    fitted = {m["point"] for m in marks if "point" in m and not m.get("inferred")} | {
        c["centre"] for c in circles if "centre" in c
    }
    asked = [{k: v for k, v in q.items() if k not in ("true", "true_diameter")} for q in truth["measures"]]
    asked = in_reach([_with_edges(q, truth, rng) for q in asked], fitted, circles_marked)
    del sizes
    return {
        "format": "longlens-exchange",
        "version": 1,
        "vehicle": {"name": f"{truth['vehicle']['name']} ({truth['stage']}, invented)"},
        "shots": [_shot(s) for s in truth["shots"]],
        "points": points,
        "circles": circles,
        "facts": facts,
        "marks": marks,
        "measures": asked,
    }


def _lot(*words: str) -> float:
    """A number in [0, 1) drawn by the words alone: what a person overlooks does not hang on the noise."""
    return int.from_bytes(hashlib.blake2s("|".join(words).encode(), digest_size=4).digest(), "big") / 2**32


def _mark(shot: str, name: str, px: Array, sd: float) -> dict[str, Any]:
    return {"shot": shot, "point": name, "x": round(float(px[0]), 2), "y": round(float(px[1]), 2), "sd_px": sd}


def _rims(circles: set[str]) -> set[str]:
    return {c for c in circles if c.split("@")[0].endswith(".rim")}


def _centre_name(circle: str, truth: dict[str, Any]) -> str:
    base, _, stance = circle.partition("@")
    name = f"{base}_centre" + (f"@{stance}" if stance else "")
    if name not in truth["points"]:
        raise KeyError(name)
    return name


def _shot(s: dict[str, Any]) -> dict[str, Any]:
    c = s["camera"]["published"]
    out = {
        "id": s["id"],
        "width": c["width"],
        "height": c["height"],
        "stance": s["stance"],
        "file": f"pictures/{s['file']}",
    }
    if s["crop"]:
        out["cropped"] = True
    for k in ("credit", "licence", "date"):
        if s[k]:
            out[k] = s[k]
    return out


def _circle_mark(
    s: dict[str, Any], name: str, c: dict[str, Any], rng: np.random.Generator, forgotten: bool
) -> dict[str, Any] | None:
    """Points along the visible arc; none when the arc is short or the circle is seen nearly edge-on."""
    what = name.split("@")[0].rsplit(".", 1)[1]
    if what not in ("rim", "tyre", "disc"):
        return None
    ang = np.array(s["arcs"][name])
    if len(ang) < 40 or forgotten:
        return None
    centre, axis = np.array(c["centre_m"]), np.array(c["axis"])
    line = np.array(s["camera"]["position_m"]) - centre
    if abs(line @ axis) / np.linalg.norm(line) < 0.12:
        return None
    n = {"rim": 22, "tyre": 18, "disc": 12}[what]
    pick = ang[np.unique(np.linspace(0, len(ang) - 1, n).round().astype(int))]
    e1 = np.cross(axis, [0, 0, 1.0])
    e1 /= np.linalg.norm(e1)
    e2 = np.cross(axis, e1)
    X = centre + c["radius_m"] * (np.cos(pick)[:, None] * e1 + np.sin(pick)[:, None] * e2)
    sd = {"rim": 1.5, "tyre": 2.2, "disc": 2.5}[what]
    q = project(X, s["camera"]) + rng.normal(0, sd, (len(pick), 2))
    return {
        "shot": s["id"],
        "circle": name,
        "edge": [[round(float(x), 2), round(float(y), 2)] for x, y in q],
        "sd_px": sd,
    }


def _needed(truth: dict[str, Any], marked: dict[str, int], marks: list[dict[str, Any]]) -> set[str]:
    """Points that can be placed: seen twice, or once with their twin seen, or on a known plane; and worth marking."""
    mirror = {n: truth["points"][n]["mirror"] for n in marked}
    del marks
    out = set()
    for n, k in marked.items():
        twin = mirror[n]
        total = k + (marked.get(twin, 0) if twin else 0)
        if total >= 2 or (k >= 1 and truth["points"][n]["on"]):
            out.add(n)
    return out


def _spoil(marks: list[dict[str, Any]], choice: np.random.Generator) -> None:
    """One wrong mark: the neighbouring joint was taken for the right one, some 45 px off."""
    can = [
        i
        for i, m in enumerate(marks)
        if "point" in m and not m.get("inferred") and ".wishbone" not in m["point"] and "fastener" in m["point"]
    ]
    if not can:
        can = [i for i, m in enumerate(marks) if "point" in m and not m.get("inferred")]
    i = can[int(choice.integers(len(can)))]
    a = choice.uniform(0, 2 * np.pi)
    marks[i] = {
        **marks[i],
        "x": round(marks[i]["x"] + 46 * float(np.cos(a)), 2),
        "y": round(marks[i]["y"] + 46 * float(np.sin(a)), 2),
    }


def _with_edges(q: dict[str, Any], truth: dict[str, Any], rng: np.random.Generator) -> dict[str, Any]:
    """A rod's outline as marked on the shot that shows it largest: the true tangents with noise."""
    if "rod_diameter" not in q:
        return q
    r = dict(q["rod_diameter"])
    true_d = next(m["true_diameter"] for m in truth["measures"] if m["id"] == q["id"])
    at, to = (np.array(truth["points"][r[k]]["xyz_m"]) for k in ("at", "towards"))
    shot = next(s for s in truth["shots"] if s["id"] == r["shot"])
    edges = project(np.array(outline(at, to - at, true_d / 2, np.array(shot["camera"]["position_m"]))), shot["camera"])
    sd = 1.0
    edges = edges + rng.normal(0, sd, (2, 2))
    r |= {"edges": [[round(float(x), 2), round(float(y), 2)] for x, y in edges], "sd_px": sd}
    return {**q, "rod_diameter": r}


def outline(at: Array, along: Array, radius: float, eye: Array) -> tuple[Array, Array]:
    """The two points of a round rod's outline, seen from ``eye``, that lie straight across its axis at ``at``."""
    e = along / np.linalg.norm(along)
    v = eye - at
    v = v - e * (v @ e)
    D = float(np.linalg.norm(v))
    u = v / D
    w = np.cross(e, u)
    c = radius / D
    s = float(np.sqrt(1 - c * c))
    return at + radius * (c * u + s * w), at + radius * (c * u - s * w)
