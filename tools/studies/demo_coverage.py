"""Do the survey's 95 % intervals hold the truth on the demo's photographs?

python -m tools.studies.demo_coverage [N] [CAR_STAGE …] [--only-marks] [--begun-at-truth] [--workers 1]

Everything that a document states with a standard deviation is drawn anew N times, each from what is stated (the one wrong
mark left in): the marks; the values of the facts about the true lengths; the lenses (principal point, radial term) from the
priors of the exchange document; how far twins differ; how far lateral axes lean. Each drawing is solved from its marks
alone, as a user's document is, and each measure's interval is compared with its true value. Printed: share held, by stage and
kind of measure.

A 95 % interval promises 95 % over all of these together. With --only-marks the facts, lenses and twins stay what they are on
these two cars, whose errors were chosen by hand and happen to be smaller than stated: the variance that they carry in the
intervals is then not in the errors, and more than 95 % hold.

With --begun-at-truth the adjustment starts at the true cameras and places, which leaves screening, adjustment and draws as
they are and tells faults of the search from theirs.
"""

from __future__ import annotations

import argparse
import copy
import json
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from longlens.demo import marks
from longlens.demo.truth import DATA, value_of
from longlens.dossier.exchange import MEASURE_KINDS, read_exchange
from longlens.errors import NotSolvable
from longlens.survey import answer
from longlens.survey.adjust import adjust
from longlens.survey.network import KAPPA_SD, PRINCIPAL_SD, blank_state

STAGES = ("fulmar_test", "fulmar_shown", "gannet_test", "gannet_shown")

Truth = dict[str, Any]


@dataclass(frozen=True)
class Held:
    """One answer: the measure, its kind, whether the interval holds the truth, (value − truth)/sd."""

    measure: str
    kind: str
    inside: bool
    z: float


def redrawn(truth: Truth, rng: np.random.Generator) -> Truth:
    """The truth with lenses, twins, lateral axes and the values of the facts drawn from what documents state of them.

    Facts: value about the true length, of this car, with the stated standard deviation. Lenses: principal point and radial term
    by the priors of the exchange document (they are what a survey is told of any lens). Twins: the right one moves by the
    document's ``mirror_sd``, and with it the true measures. Circles that are stated to be lateral lean by ``axis_sd_deg``, each
    by itself, as the survey takes it. Focal lengths are free, so nothing is stated of them.
    """
    out = copy.deepcopy(truth)
    for s in out["shots"]:
        _redraw_lens(s["camera"], rng)
    stated = marks.exchange_of(truth)
    for p in stated["points"]:
        if p.get("mirror_sd"):
            _move(out, p["mirror"], rng.normal(0, p["mirror_sd"], 3))
    for c in stated["circles"]:
        if c.get("axis") == "lateral":
            circle, lean = out["circles"][c["id"]], np.radians(rng.normal(0, c["axis_sd_deg"], 2))
            axis = np.array([lean[0], np.copysign(1.0, circle["axis"][1]), lean[1]])
            circle["axis"] = (axis / np.linalg.norm(axis)).tolist()
    for f in out["facts"]:
        f["value"] = float(_true_length(out, f) + rng.normal(0, f["sd"]))
    table = {q["id"]: q for q in out["measures"]}
    for q in out["measures"]:
        q["true"] = value_of(q, out, table)
    return out


def _redraw_lens(camera: Truth, rng: np.random.Generator) -> None:
    """Principal point and radial term of the published picture; a crop keeps the full picture's principal point."""
    full, c = camera["full"], camera["published"]
    middle = (np.array([full["width"], full["height"]]) - 1) / 2
    principal = middle + rng.normal(0, PRINCIPAL_SD * full["width"], 2)
    moved = np.array(c["principal_px"]) + (principal - full["principal_px"]) * camera["scale"]
    rho = np.hypot(c["width"], c["height"]) / 2
    c["principal_px"] = moved.tolist()
    c["k1"] = float(rng.normal(0, KAPPA_SD) * (c["focal_px"] / rho) ** 2)


def _move(truth: Truth, name: str, by: np.ndarray) -> None:
    """A point and the rim of which it is the centre."""
    p = truth["points"][name]
    p["xyz_m"] = (np.array(p["xyz_m"]) + by).tolist()
    circle = truth["circles"].get(name.replace(".rim_centre", ".rim")) if ".rim_centre" in name else None
    if circle is not None:
        circle["centre_m"] = (np.array(circle["centre_m"]) + by).tolist()


def _true_length(truth: Truth, fact: Truth) -> float:
    """What a fact is of."""
    if "diameter" in fact:
        return 2 * float(truth["circles"][fact["diameter"][0]]["radius_m"])
    return value_of(fact, truth, {})


def from_truth(truth: dict[str, Any]) -> Callable[..., Any]:
    """A stand-in for the survey's search of a start: the robust adjustment begun at the true cameras and places."""

    def start(doc: Any, left: Any, tell: Any) -> Any:
        net = answer._compile(doc, left)
        st = blank_state(net)
        shots = {s["id"]: s["camera"] for s in truth["shots"]}
        for i, name in enumerate(net.shots):
            cam = shots[name]
            c, g = cam["published"], net.camera_of[i]
            st.R[i], st.C[i] = cam["rotation"], cam["position_m"]
            st.principal[i], st.logf[g] = c["principal_px"], np.log(c["focal_px"])
            st.kappa[g] = c["k1"] * (net.rho[g] / c["focal_px"]) ** 2
        for i, name in enumerate(net.points):
            x = np.array(truth["points"][name]["xyz_m"])
            st.X[net.body_of[i]] = x * [1, net.sign[i], 1]
        for i, name in enumerate(net.circles):
            circle = truth["circles"][name]
            n = np.array(circle["axis"])
            st.X[net.circle_body[i]] = np.array(circle["centre_m"]) * [1, net.circle_sign[i], 1]
            st.normal[i] = n if n[1] > 0 else -n
            st.radius[net.radius_of[i]] = circle["radius_m"]
        st.X[~net.free] = 0.0
        fit = adjust(net, st, robust=3.0, tolerance=1e-6)
        if fit is None:
            raise NotSolvable("the adjustment did not run from the truth", needs=["a look at the marks"])
        return net, fit, False, []

    return start


def held(
    stage: str, seed: int, *, wrong: bool = True, search: bool = True, only_marks: bool = False
) -> list[Held] | str:
    """The answers of one drawing, or why it failed.

    ``wrong`` : leave the wrong mark in. ``search`` : find the start from the marks alone; else begin at the truth.
    ``only_marks`` : keep facts, lenses and twins as they are on this car.
    """
    truth = json.loads((DATA / f"{stage}.truth.json").read_text(encoding="utf-8"))
    if not only_marks:
        truth = redrawn(truth, np.random.default_rng([seed, STAGES.index(stage)]))
    document, _ = read_exchange(marks.exchange_of(truth, seed=seed, wrong=wrong))
    kinds = {q.id: next(k for k in MEASURE_KINDS if getattr(q, k) is not None) for q in document.measures}
    found = answer._start
    if not search:
        answer._start = from_truth(truth)
    try:
        got = answer.solve(document, seed=seed).answer()
    except NotSolvable as e:
        return str(e)
    finally:
        answer._start = found
    true = {q["id"]: q["true"] for q in truth["measures"]}
    out = []
    for name, a in got["measures"].items():
        z = (a["value"] - true[name]) / a["sd"] if a["sd"] else 0.0
        out.append(Held(name, kinds[name], bool(a["low95"] <= true[name] <= a["high95"]), float(z)))
    return out


def _job(job: tuple[str, int, dict[str, bool]]) -> list[Held] | str:
    stage, seed, how = job
    return held(stage, seed, **how)


def rows(stages: Iterable[str], n: int, workers: int = 1, first: int = 1000, **how: bool) -> list[dict[str, Any]]:
    """One row for each stage (and ``all``): drawings, answers, share held, the same by kind. ``how``: see :func:`held`."""
    out = []
    everything: list[list[Held]] = []
    with ProcessPoolExecutor(workers) as pool:
        for stage in stages:
            began = time.time()
            results = list(pool.map(_job, [(stage, first + k, how) for k in range(n)]))
            good = [r for r in results if not isinstance(r, str)]
            for why in (r for r in results if isinstance(r, str)):
                print(f"{stage}: not solved: {why}", file=sys.stderr)
            print(f"{stage}: {(time.time() - began) * workers / n:.1f} s a drawing", file=sys.stderr)
            everything += good
            out.append(_row(stage, n, good))
    out.append(_row("all", n * len(out), everything))
    return out


def _row(stage: str, n: int, drawings: list[list[Held]]) -> dict[str, Any]:
    by: dict[str, list[bool]] = defaultdict(list)
    got = [a for d in drawings for a in d]
    for a in got:
        by[a.kind].append(a.inside)
    return {
        "stage": stage,
        "drawings": n,
        "solved": len(drawings),
        "answers": len(got),
        "held": float(np.mean([a.inside for a in got])) if got else float("nan"),
        "held_ci": _by_drawing(drawings),
        "rms_z": float(np.sqrt(np.mean([a.z**2 for a in got]))) if got else float("nan"),
        "by_kind": {k: (len(v), sum(v) / len(v)) for k, v in sorted(by.items())},
    }


def _by_drawing(drawings: list[list[Held]]) -> tuple[float, float]:
    """95 % interval of the share by drawing the drawings anew (bootstrap): the answers of one drawing hang together."""
    if len(drawings) < 2:
        return float("nan"), float("nan")
    table = np.array([(sum(a.inside for a in d), len(d)) for d in drawings], float)
    pick = np.random.default_rng(0).integers(len(table), size=(4000, len(table)))
    sums = table[pick].sum(1)
    low, high = np.percentile(sums[:, 0] / sums[:, 1], [2.5, 97.5])
    return float(low), float(high)


def main() -> None:
    a = argparse.ArgumentParser(prog="python -m tools.studies.demo_coverage")
    a.add_argument("n", type=int, nargs="?", default=10)
    a.add_argument("stages", nargs="*")
    a.add_argument("--only-marks", action="store_true")
    a.add_argument("--begun-at-truth", action="store_true")
    a.add_argument("--first", type=int, default=1000, help="first seed")
    a.add_argument("--workers", type=int, default=1)
    o = a.parse_args()
    print(
        "| stage | drawings solved | answers | truth in the 95 % interval | rms z | by kind |\n|---|---|---|---|---|---|"
    )
    how = {"search": not o.begun_at_truth, "only_marks": o.only_marks}
    for r in rows(o.stages or STAGES, o.n, o.workers, o.first, **how):
        kinds = ", ".join(f"{k} {100 * s:.0f} % of {c}" for k, (c, s) in r["by_kind"].items())
        low, high = r["held_ci"]
        print(
            f"| {r['stage']} | {r['solved']} of {r['drawings']} | {r['answers']} | {100 * r['held']:.1f} % "
            f"({100 * low:.0f}–{100 * high:.0f}) | {r['rms_z']:.2f} | {kinds} |"
        )


if __name__ == "__main__":
    main()
