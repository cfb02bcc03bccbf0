"""Do the suspension's intervals hold the truth, from marks on photographs to the sheet's numbers?

python -m tools.studies.suspension_coverage [--cars 60] [--stances 30] [--first 5000] [--draws 2000] [--workers 1]

Cars whose points are a true linkage (``hardpoint_cars``) are surveyed from their marks alone by ``longlens.survey``, the sheet
runs on the survey's joint draws, and the truth comes from the same kinematics on the true points. Printed: the share of truths
inside the 95 % interval, the root mean square of error over standard deviation, and the median standard deviation, for four
figures of each axle. Then cars photographed in two stances: the same marks with every stance's wheel side by itself, joined
afterwards by the sheet, and coupled in the survey's own adjustment: how wide each way is, and what it holds.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
import time
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np

from longlens.dossier.exchange import read_exchange
from longlens.errors import NotSolvable
from longlens.numbers.number import joint
from longlens.survey.answer import solve
from longlens.systems import registry
from longlens.systems.given import Given
from longlens.systems.run import run
from longlens.systems.suspension.stances import couple
from tools.studies.hardpoint_cars import NAMES, HardpointCar, car, other_inputs

ENDS = ("front", "rear")


@dataclass
class Row:
    """One figure of one car."""

    name: str
    truth: float
    value: float
    sd: float
    inside: bool


@dataclass
class Result:
    seed: int
    rows: dict[str, list[Row]] = field(default_factory=dict)
    seconds: float = 0.0
    failed: str = ""
    sd: dict[str, dict[str, float]] = field(default_factory=dict)


def sheet_on(case: HardpointCar, places: dict[str, np.ndarray], rng: np.random.Generator, draws: int) -> list[Row]:
    """The sheet on a survey's draws, against the truth."""
    known = {f"point:{k}": n for k, n in joint(places, "m", draws=draws).items()}
    given = Given(other_inputs(case, rng), {}, known, case.document["vehicle"]["name"], where="the study", draws=draws)
    out = run(registry.sheet("suspension"), given, cache=None)
    rows = []
    for end in ENDS:
        for name in NAMES:
            number = out.get(f"{name}_{end}")
            if number is None:
                continue
            x, truth = number.draws[np.isfinite(number.draws)], case.truth[f"{name}_{end}"]
            low, high = np.percentile(x, [2.5, 97.5])
            rows.append(Row(name, truth, float(np.median(x)), float(x.std()), bool(low <= truth <= high)))
    return rows


def one_car(seed: int, draws: int = 2000, **how: Any) -> Result:
    """Survey and sheet of one car."""
    case, found = car(seed, **how), Result(seed)
    began = time.perf_counter()
    try:
        solution = solve(read_exchange(case.document)[0], draws=draws)
    except NotSolvable as e:
        found.failed = str(e)
        return found
    found.rows["alone"] = sheet_on(case, solution.places(), np.random.default_rng([seed, 1]), draws)
    found.seconds = time.perf_counter() - began
    return found


def two_stances(seed: int, draws: int = 2000, *, bump: float = 0.02, shots: int = 3, bump_shots: int = 2) -> Result:
    """The same marks three ways: stances apart, joined by the sheet, coupled in the survey."""
    case, found = car(seed, shots=shots, bump=bump, bump_shots=bump_shots), Result(seed)
    document = read_exchange(case.document)[0]
    began = time.perf_counter()
    try:
        apart = solve(document, draws=draws).places()
        coupled = solve(couple(document), draws=draws).places()
    except NotSolvable as e:
        found.failed = str(e)
        return found
    static = {k: p for k, p in apart.items() if "@" not in k}
    for way, places in (
        ("apart", static),
        ("joined", apart),
        ("coupled", {k: p for k, p in coupled.items() if "@" not in k}),
    ):
        found.rows[way] = sheet_on(case, places, np.random.default_rng([seed, 1]), draws)
    for way, places in (("apart", apart), ("coupled", coupled)):
        found.sd[way] = spread(places)
    found.seconds = time.perf_counter() - began
    return found


def spread(places: dict[str, np.ndarray]) -> dict[str, float]:
    """Standard deviation of every left point, m, after each draw as a whole was laid on the mean: where the frame stands is
    no knowledge of the car's shape."""
    names = list(places)
    X = np.stack([places[k] for k in names], axis=1)
    X = X - X.mean(axis=1, keepdims=True)
    middle = X.mean(axis=0)
    u, _, vt = np.linalg.svd(np.einsum("pi,npj->nij", middle, X))
    X = np.einsum("nij,npj->npi", u @ vt, X)
    sd = np.sqrt(np.mean(X.var(axis=0), axis=-1))
    return {k: float(s) for k, s in zip(names, sd, strict=True) if k.startswith("left.")}


def summary(results: Iterable[Result], way: str) -> list[tuple[str, int, float, float, float]]:
    """(figure, count, share inside, rms of error over sd, median sd) for one way; all figures together last."""
    by: dict[str, list[Row]] = {n: [] for n in NAMES}
    for r in results:
        for row in r.rows.get(way, ()):
            by[row.name].append(row)
    by["all four"] = [row for rows in by.values() for row in rows]
    out = []
    for name, rows in by.items():
        if rows:
            z = np.array([(x.value - x.truth) / x.sd for x in rows])
            inside = float(np.mean([x.inside for x in rows]))
            out.append((name, len(rows), inside, float(np.sqrt(np.mean(z**2))), float(np.median([x.sd for x in rows]))))
    return out


def told(results: list[Result], way: str) -> None:
    print(f"{way:10s} {'figure':18s} {'n':>5s} {'inside':>7s} {'rms z':>6s} {'median sd':>10s}")
    for name, n, inside, rms, sd in summary(results, way):
        print(f"{'':10s} {name:18s} {n:5d} {100 * inside:6.1f}% {rms:6.2f} {sd:10.4g}")


def _map(function: Any, seeds: range, workers: int) -> list[Result]:
    """All results; how far it has come goes to standard error."""
    out: list[Result] = []
    with ProcessPoolExecutor(workers) if workers > 1 else contextlib.nullcontext() as pool:
        for found in pool.map(function, seeds) if pool is not None else map(function, seeds):
            out.append(found)
            if len(out) % 10 == 0:
                for way in out[-1].rows:
                    with contextlib.redirect_stdout(sys.stderr):
                        print(f"after {len(out)} of {len(seeds)}")
                        told(out, way)
    return out


def main() -> None:
    p = argparse.ArgumentParser()
    p.add_argument("--cars", type=int, default=60)
    p.add_argument("--stances", type=int, default=30)
    p.add_argument("--first", type=int, default=5000)
    p.add_argument("--draws", type=int, default=2000)
    p.add_argument("--workers", type=int, default=1)
    a = p.parse_args()
    if a.cars:
        _one_stance(a)
    if a.stances:
        _two_stances(a)


def _one_stance(a: argparse.Namespace) -> None:
    results = _map(partial(one_car, draws=a.draws), range(a.first, a.first + a.cars), a.workers)
    failed = [r for r in results if r.failed]
    print(f"{len(results)} cars, 4–7 shots of one stance; {len(failed)} not solved; "
          f"median {np.median([r.seconds for r in results]):.1f} s a car")  # fmt: skip
    for r in failed:
        print(f"  {r.seed}: {r.failed}")
    told(results, "alone")


def _two_stances(a: argparse.Namespace) -> None:
    results = _map(partial(two_stances, draws=a.draws), range(a.first + 1000, a.first + 1000 + a.stances), a.workers)
    failed = [r for r in results if r.failed]
    print(
        f"\n{len(results)} cars in two stances (3 shots standing, 2 with the wheels 20 mm up); {len(failed)} not solved"
    )
    for way in ("apart", "joined", "coupled"):
        told(results, way)
    for way, name in (("joined", "joined by the sheet"), ("coupled", "coupled in the survey")):
        ratios = {n: [] for n in NAMES}
        for r in results:
            for x, y in zip(r.rows.get("apart", ()), r.rows.get(way, ()), strict=True):
                ratios[y.name].append(y.sd / x.sd)
        print(f"{name}, width over that of the stances apart (median): "
              + ", ".join(f"{n} {np.median(v):.2f}" for n, v in ratios.items() if v))  # fmt: skip
    for part in ("static wheel side", "bumped wheel side", "chassis side"):
        gain = []
        for r in results:
            for k, was in r.sd.get("apart", {}).items():
                again = f"{k.partition('@')[0]}@bump" in r.sd["apart"]
                kind = "bumped wheel side" if "@" in k else "static wheel side" if again else "chassis side"
                if kind == part and k in r.sd["coupled"] and "part" not in k:
                    gain.append(r.sd["coupled"][k] / was)
        if gain:
            print(f"{part}: points' standard deviation, coupled over apart (median): {np.median(gain):.2f}")


if __name__ == "__main__":
    main()
