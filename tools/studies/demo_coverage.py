"""Do the survey's 95 % intervals hold the truth on the demo's photographs?

python -m tools.studies.demo_coverage [N] [CAR_STAGE …] [--begun-at-truth]

Each drawing is solved from the marks alone, as a user's document is. With --begun-at-truth the adjustment starts at the true
cameras and places, which leaves screening, adjustment and draws as they are and tells faults of the search from theirs.

The marks are drawn anew N times (other noise on the same features, the one wrong mark left in), surveyed, and each
measure's interval is compared with its true value. Printed: share held, by stage and kind of measure, and what failed.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np

from longlens.demo import marks
from longlens.demo.truth import DATA
from longlens.dossier.exchange import MEASURE_KINDS, read_exchange
from longlens.errors import NotSolvable
from longlens.survey import answer
from longlens.survey.adjust import adjust
from longlens.survey.network import blank_state

STAGES = ("fulmar_test", "fulmar_shown", "gannet_test", "gannet_shown")


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


def held(stage: str, seed: int, wrong: bool = True, search: bool = True) -> list[tuple[str, str, bool, float]] | str:
    """For one drawing of the marks: measure, kind, truth inside, (value − truth)/sd of each; or why it failed.

    ``search`` : find the start from the marks alone; else begin at the truth.
    """
    truth = json.loads((DATA / f"{stage}.truth.json").read_text(encoding="utf-8"))
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
        if a.get("low95") is None:
            continue
        z = (a["value"] - true[name]) / a["sd"] if a.get("sd") else 0.0
        out.append((name, kinds[name], bool(a["low95"] <= true[name] <= a["high95"]), float(z)))
    return out


def rows(stages: Iterable[str], n: int, search: bool = True, tell: bool = True) -> list[dict[str, Any]]:
    """One row for each stage (and ``all``): drawings, answers, share held, the same by kind."""
    out = []
    everything: list[tuple[str, str, bool, float]] = []
    for stage in stages:
        got: list[tuple[str, str, bool, float]] = []
        failed = 0
        t0 = time.time()
        for k in range(n):
            r = held(stage, 1000 + k, search=search)
            if isinstance(r, str):
                failed += 1
            else:
                got += r
            if tell:
                share = sum(x[2] for x in got) / max(len(got), 1)
                print(
                    f"{stage} {k + 1}/{n}: held {share:.3f}, failed {failed}, {time.time() - t0:.0f} s", file=sys.stderr
                )
        everything += got
        out.append(_row(stage, n, failed, got))
    out.append(_row("all", n, sum(r["failed"] for r in out), everything))
    return out


def _row(stage: str, n: int, failed: int, got: list[tuple[str, str, bool, float]]) -> dict[str, Any]:
    by: dict[str, list[bool]] = defaultdict(list)
    for _, kind, ok, _ in got:
        by[kind].append(ok)
    return {
        "stage": stage,
        "drawings": n,
        "failed": failed,
        "answers": len(got),
        "held": sum(x[2] for x in got) / len(got) if got else float("nan"),
        "rms_z": float(np.sqrt(np.mean([x[3] ** 2 for x in got]))) if got else float("nan"),
        "by_kind": {k: (len(v), sum(v) / len(v)) for k, v in sorted(by.items())},
    }


def main() -> None:
    a = argparse.ArgumentParser()
    a.add_argument("n", type=int, nargs="?", default=10)
    a.add_argument("stages", nargs="*")
    a.add_argument("--begun-at-truth", action="store_true")
    o = a.parse_args()
    print(
        "| stage | drawings | not solved | answers | truth in the 95 % interval | rms z | by kind |\n"
        "|---|---|---|---|---|---|---|"
    )
    for r in rows(o.stages or STAGES, o.n, search=not o.begun_at_truth):
        kinds = ", ".join(f"{k} {s:.3f} of {c}" for k, (c, s) in r["by_kind"].items())
        print(
            f"| {r['stage']} | {r['drawings']} | {r['failed']} | {r['answers']} | {r['held']:.3f} | {r['rms_z']:.2f} "
            f"| {kinds} |"
        )


if __name__ == "__main__":
    main()
