"""Do the intervals hold the truth of things that are no cars: no twins, no planes, no wheels, one known length?

python -m tools.studies.things [--things 60] [--first 5000] [--workers 1]

Each thing is a cloud of 9 to 25 named points (a third of them half on a plane, a fifth flat), 0.2 to 16 m long, photographed
two to five times from one side of it, in portrait or landscape, with lenses that the survey is not told and that just hold it;
85 of 100 points are marked on each photograph. One length between two points is known to 0.2 %. Everything that the document
states is drawn from what it states: marks, lens and principal point, the known length. Asked are eight lengths.

Printed as by ``coverage``: things solved, measures given and refused, share of truths inside the 95 % interval, errors over the
Cramér–Rao bound and over the stated standard deviation; one line for each number of photographs and one for all.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from longlens.survey.camera import look_at, project, rotation
from tools.studies.coverage import HEAD, Result, line, odd, summary, survey
from tools.studies.simulated_cars import Array, Case

SIZES = ((6000, 4000), (4000, 6000), (4032, 3024), (2048, 1365))
#: Of the known length, as a part of it.
LENGTH_SD = 0.002


def cloud(rng: np.random.Generator, seed: int, size: float) -> Array:
    """(n, 3) points of one thing, m, in axes that no photograph is told."""
    n = int(rng.integers(9, 26))
    X = rng.uniform(-0.5, 0.5, (n, 3)) * rng.uniform(0.3, 1, 3) * size
    if seed % 3 == 0:
        X[: n // 2, 2] = 0
    if seed % 5 == 0:
        X[:, 1] *= 0.15
    return X


def simulate_thing(seed: int) -> Case:
    """One thing, photographed and marked. All draws come from ``seed``."""
    rng = np.random.default_rng(seed)
    size = float(10 ** rng.uniform(-0.7, 1.2))
    X = cloud(rng, seed, size)
    names = [f"p{i}" for i in range(len(X))]
    doc: dict = {"format": "longlens-exchange", "version": 1, "vehicle": {"name": f"thing {seed}"}}
    doc |= {"shots": [], "points": [{"id": p} for p in names], "circles": [], "marks": []}
    cameras = {}
    side = rng.uniform(0, 2 * np.pi)
    for k in range(int(rng.integers(2, 6))):
        w, h = SIZES[int(rng.integers(len(SIZES)))]
        cam = camera(rng, X, size, side, w, h)
        x = project(X, cam["R"], cam["C"], cam["f"], cam["k1"], cam["principal"])
        sd = float(rng.uniform(0.8, 3) * w / 6000)
        x = x + rng.normal(0, sd, x.shape)
        doc["shots"].append({"id": f"s{k}", "width": w, "height": h})
        cameras[f"s{k}"] = cam
        for p, (u, v) in zip(names, x, strict=True):
            if rng.random() < 0.85:
                doc["marks"].append({"shot": f"s{k}", "point": p, "x": float(u), "y": float(v), "sd_px": sd})
    far = int(np.argmax(np.linalg.norm(X - X[0], axis=1)))
    true = float(np.linalg.norm(X[far] - X[0]))
    doc["facts"] = [
        {"id": "length", "value": true * (1 + rng.normal(0, LENGTH_SD)), "sd": LENGTH_SD * true, "unit": "m",
         "source": "invented", "distance": [names[0], names[far]]}
    ]  # fmt: skip
    doc["measures"], measures = [], {}
    for k in range(8):
        i, j = rng.choice(len(X), 2, replace=False)
        doc["measures"].append({"id": f"m{k}", "distance": [names[i], names[j]]})
        measures[f"m{k}"] = float(np.linalg.norm(X[i] - X[j]))
    return Case(doc, dict(zip(names, X, strict=True)), {}, measures, cameras)


def camera(rng: np.random.Generator, X: Array, size: float, side: float, w: int, h: int) -> dict:
    """A camera on one side of the thing, its lens no longer than holds the thing, the rest from the exchange form's priors."""
    azimuth, up = side + rng.uniform(-1.2, 1.2), rng.uniform(-0.1, 0.8)
    away = size * rng.uniform(1.5, 4)
    C = away * np.array([np.cos(azimuth) * np.cos(up), np.sin(azimuth) * np.cos(up), np.sin(up)])
    R = rotation(np.array([0, 0, rng.normal(0, 0.08)])) @ look_at(C, rng.normal(0, 0.05, 3) * size)
    y = (X - C) @ R.T
    wide, high = np.abs(y[:, :2] / y[:, 2:]).max(axis=0)
    f = min(rng.uniform(0.7, 2.5) * max(w, h), 0.48 * w / wide, 0.48 * h / high)
    k1 = rng.normal(0, 0.01) * (f / (np.hypot(w, h) / 2)) ** 2
    principal = np.array([(w - 1) / 2, (h - 1) / 2]) + rng.normal(0, 0.005 * w, 2)
    return {"f": float(f), "k1": float(k1), "principal": principal, "R": R, "C": C}


def one(seed: int) -> Result:
    return survey(simulate_thing(seed), seed)


def main() -> None:
    p = argparse.ArgumentParser(prog="python -m tools.studies.things")
    p.add_argument("--things", type=int, default=60)
    p.add_argument("--first", type=int, default=5000, help="first seed")
    p.add_argument("--workers", type=int, default=1)
    a = p.parse_args()
    seeds = range(a.first, a.first + a.things)
    with ProcessPoolExecutor(a.workers) as pool:
        results = list(pool.map(one, seeds))
    shots = [len(simulate_thing(s).cameras) for s in seeds]
    print(HEAD)
    for n in sorted(set(shots)):
        print(line(summary(f"{n} photographs", [r for r, k in zip(results, shots, strict=True) if k == n])))
    print(line(summary("all", results)))
    print("\n".join(odd(results)))


if __name__ == "__main__":
    main()
