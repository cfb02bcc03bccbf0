"""Truth and marks of a car: python -m tools.demo_pictures.make_truth [--out FOLDER] [CAR …].

Writes CAR_STAGE.truth.json and CAR_STAGE.exchange.json into src/longlens/demo/data.
"""

from __future__ import annotations

import argparse
import json
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from longlens.demo import marks, truth
from longlens.demo.shots import project, shots_of
from tools.demo_pictures import render
from tools.demo_pictures.visibility import seen

NAMES = {"fulmar": "Skerry Fulmar E4", "gannet": "Skerry Gannet"}


def rod_measures(car: Any, t: dict[str, Any], models: dict[str, Any]) -> list[dict[str, Any]]:
    """Rod diameters on the shot where the rod is seen and largest."""
    out = []
    for name, part, at, towards in car.rods_to_measure():
        key, _, which = part.partition("#")
        rod = models["static"].rods.get(key)
        if rod is None or at not in t["points"]:
            continue
        d = rod["diameter_m"][int(which)] if which else rod["diameter_m"]
        best, size = None, 0.0
        for s in t["shots"]:
            if s["seen"].get(at, 0) < truth.SEEN or s["stance"] != "static":
                continue
            p, q = np.array(t["points"][at]["xyz_m"]), np.array(t["points"][towards]["xyz_m"])
            a, b = (
                project(x, s["camera"]) for x in marks.outline(p, q - p, d / 2, np.array(s["camera"]["position_m"]))
            )
            view = p - np.array(s["camera"]["position_m"])
            if abs(view @ (q - p)) / np.linalg.norm(view) / np.linalg.norm(q - p) > 0.92:
                continue
            w = float(np.linalg.norm(a - b))
            if w > size:
                best, size = s["id"], w
        if best is not None and size > 14:
            out.append(
                {
                    "id": name,
                    "rod_diameter": {"at": at, "shot": best, "towards": towards, "edges": [[0, 0], [1, 1]]},
                    "true_diameter": d,
                }
            )
    return out


def main() -> None:
    a = argparse.ArgumentParser()
    a.add_argument("cars", nargs="*")
    a.add_argument("--out", type=Path, default=truth.DATA)
    o = a.parse_args()
    o.out.mkdir(parents=True, exist_ok=True)
    for car_name in o.cars or ["fulmar", "gannet"]:
        car = import_module(f"longlens.demo.{car_name}")
        for stage in ("test", "shown"):
            shots = shots_of(car_name, stage)
            models = {st: car.build(stage, st) for st in dict.fromkeys(["static", *(s.stance for s in shots)])}
            solids = {st: render.ready(m, smooth=False) for st, m in models.items()}
            views = {}
            for s in shots:
                m = models[s.stance]
                sc = render.scene_of(solids[s.stance], s.hidden, None, render.bare(m.ground))
                views[s.id] = seen(sc, m, s)[:2]
            circles = sorted(
                {
                    truth.name_in(c, s.stance, models[s.stance].circles[c].centre, models["static"].circles[c].centre)
                    for s in shots
                    for c in models[s.stance].circles
                }
            )
            t = truth.assemble(NAMES[car_name], stage, models, shots, views, car.facts(circles), [], car.sheet(stage))
            asked = [
                *car.measures(stage, models["static"]),
                *car.stanced_measures(set(t["points"])),
                *rod_measures(car, t, models),
            ]
            asked = marks.in_reach(asked, set(t["points"]), set(t["circles"]))
            table = {q["id"]: q for q in asked}
            t["measures"] = [{**q, "true": truth.value_of(q, t, table)} for q in asked]
            doc = marks.exchange_of(t)
            _write(o.out / f"{car_name}_{stage}.truth.json", t)
            _write(o.out / f"{car_name}_{stage}.exchange.json", doc)
            n = {s["id"]: sum(1 for m in doc["marks"] if m["shot"] == s["id"]) for s in doc["shots"]}
            print(
                car_name,
                stage,
                "points",
                len(doc["points"]),
                "circles",
                len(doc["circles"]),
                "marks",
                n,
                "measures",
                len(doc["measures"]),
                "of",
                len(asked),
            )


def _write(path: Any, data: Any) -> None:
    """One item of each list a line: readable in a diff, not too long."""

    def enc(x: Any) -> str:
        return json.dumps(x, ensure_ascii=False, separators=(", ", ": "))

    lines = []
    for key, value in data.items():
        if isinstance(value, list) and value:
            lines.append(f"{json.dumps(key)}: [\n" + ",\n".join(" " + enc(v) for v in value) + "\n]")
        elif isinstance(value, dict) and len(enc(value)) > 400:
            lines.append(
                f"{json.dumps(key)}: {{\n" + ",\n".join(f" {json.dumps(k)}: {enc(v)}" for k, v in value.items()) + "\n}"
            )
        else:
            lines.append(f"{json.dumps(key)}: {enc(value)}")
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
