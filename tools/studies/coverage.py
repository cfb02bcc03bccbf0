"""Do the survey's intervals hold the truth, how near does it come to the Cramér–Rao bound, and does it find wrong marks?

python -m tools.studies.coverage [--cars 60] [--few 20] [--wrong 60] [--first 1000] [--only NAME …] [--workers 1]

Invented cars with known truth (``simulated_cars``) are surveyed from their marks alone, under exactly the priors of the
exchange document. Printed for each variant: cars solved, measures given and refused, share of truths inside the 95 %
interval, root mean square of error over bound (and of error over stated standard deviation), median of their sizes, median
time; then what became of one wrong mark planted in each car, and of none.

The bound: inverse Fisher information at the *true* parameters, priors included (the Bayesian or Van Trees form; Van Trees
1968, *Detection, Estimation, and Modulation Theory*, part I, 2.4.3), carried to the measures by their derivatives. Errors over
it have no clip: one car at a false optimum shows.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from longlens.dossier.exchange import read_exchange
from longlens.errors import NotSolvable
from longlens.survey.adjust import Covariance, covariance, move, normal_equations
from longlens.survey.answer import solve
from longlens.survey.datum import find_datum
from longlens.survey.determine import count_out
from longlens.survey.measures import evaluator
from longlens.survey.network import Network, State, blank_state, compile_network
from longlens.survey.observations import all_rows, edge_angles
from tools.studies.simulated_cars import Case, simulate

#: Name, arguments of ``simulate``, and whether it has the full number of cars or the few.
VARIANTS: tuple[tuple[str, dict[str, Any], bool], ...] = (
    ("3–8 shots", {}, True),
    ("3–8 shots, twins differ by 3 mm", {"mirror_sd": 0.003}, False),
    ("3–8 shots of one camera", {"one_camera": True}, False),
    ("3–8 shots, cropped", {"cropped": True}, False),
    ("2 shots", {"shots": 2}, False),
    ("1 shot", {"shots": 1}, False),
)
KINDS = ("slip", "swap", "other")


@dataclass
class Result:
    """One car: by measure (id, inside, error/bound, error/sd); refused ids; what was named; seconds; why it failed."""

    seed: int
    rows: list[tuple[str, bool, float, float]] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    marks: list[tuple[str, str]] = field(default_factory=list)
    facts: list[str] = field(default_factory=list)
    seconds: float = 0.0
    failed: str = ""
    kind: str = ""
    planted: list[tuple[str, str]] = field(default_factory=list)


def true_network(case: Case) -> tuple[Network, State]:
    """The document's network, and its state at the truth."""
    doc, _ = read_exchange(case.document)
    out = count_out(doc)
    net = compile_network(
        doc,
        without_shots=frozenset(out.shots),
        without_points=frozenset(out.points),
        without_circles=frozenset(out.circles),
    )
    st = blank_state(net)
    for i, sid in enumerate(net.shots):
        cam, g = case.cameras[sid], net.camera_of[i]
        st.R[i], st.C[i], st.principal[i] = cam["R"], cam["C"], cam["principal"]
        st.logf[g] = np.log(cam["f"])
        st.kappa[g] = cam["k1"] * (net.rho[g] / cam["f"]) ** 2
    for i in range(len(net.points) - 1, -1, -1):  # of exact twins the first one wins
        st.X[net.body_of[i]] = case.xyz[net.points[i]] * [1, net.sign[i], 1]
    st.X[~net.free] = 0.0
    for m, cid in enumerate(net.circles):
        st.normal[m], st.radius[net.radius_of[m]] = case.axes[cid], case.radius[cid]
    return net, st


def bounds(case: Case) -> dict[str, float]:
    """Cramér–Rao bound (a standard deviation) of every measure whose parts are in the network."""
    net, st = true_network(case)
    rows, _ = all_rows(net, st, edge_angles(net, st))
    normal = normal_equations(net, rows)
    cov = covariance(net, normal, find_datum(net, st, normal).null)
    assert cov is not None
    value = evaluator(net, st_along(net, st, cov))
    out = {}
    for m in net.document.measures:
        try:
            v = np.asarray(value(m))
        except KeyError:  # a part of it was left out by counting
            continue
        n = len(v) // 2
        out[m.id] = float(np.sqrt(np.sum(((v[:n] - v[n:]) / (2 * STEP)) ** 2)))
    return out


#: Step of the central differences, in standard deviations of the whitened unknowns.
STEP = 1e-3


def st_along(net: Network, st: State, cov: Covariance) -> State:
    """States a step up, then a step down, along each of the whitened unknowns."""
    D = len(cov.root)
    size = D + sum(Y.shape[0] * Y.shape[1] for Y in cov.Y.values())
    z = np.concatenate([np.eye(size), -np.eye(size)]) * STEP
    d = z[:, :D] @ cov.root.T
    parts, at = {}, D
    for f, Y in cov.Y.items():
        n, B, _ = Y.shape
        parts[f] = z[:, at : at + n * B].reshape(len(z), n, B)
        at += n * B
    return move(net, st, d, cov.blocks(d, parts))


def plant(case: Case, kind: str, rng: np.random.Generator) -> list[tuple[str, str]]:
    """One wrong mark, in place: a slip of 30 pixels, twins exchanged on one shot, or a mark on another marked thing."""
    marks = [m for m in case.document["marks"] if "point" in m]
    m = marks[rng.integers(len(marks))]
    if kind == "slip":
        a = rng.uniform(0, 2 * np.pi)
        m["x"] += 30 * np.cos(a)
        m["y"] += 30 * np.sin(a)
        return [(m["shot"], m["point"])]
    if kind == "other":
        others = [q for q in marks if q["shot"] == m["shot"] and q is not m]
        q = others[rng.integers(len(others))]
        m["x"], m["y"] = q["x"] + rng.normal(0, m["sd_px"]), q["y"] + rng.normal(0, m["sd_px"])
        return [(m["shot"], m["point"])]
    table = {(q["shot"], q["point"]): q for q in marks}
    both = [k for k in table if k[1].startswith("left.") and (k[0], "right." + k[1][5:]) in table]
    if not both:
        return plant(case, "slip", rng)
    left = both[rng.integers(len(both))]
    right = (left[0], "right." + left[1][5:])
    p, q = table[left], table[right]
    p["x"], p["y"], q["x"], q["y"] = q["x"], q["y"], p["x"], p["y"]
    return [left, right]


def survey(case: Case, seed: int, bound: bool = True) -> Result:
    """Solve a car's document from its marks alone, and compare."""
    out = Result(seed)
    doc, _ = read_exchange(case.document)
    began = time.perf_counter()
    try:
        got = solve(doc).answer()
    except NotSolvable as e:
        out.failed = str(e)
    except Exception as e:  # a study goes on, and says what broke
        out.failed = f"{type(e).__name__}: {e}"
    out.seconds = time.perf_counter() - began
    if out.failed:
        return out
    least = bounds(case) if bound else {}
    for k, m in got["measures"].items():
        error = m["value"] - case.measures[k]
        out.rows.append(
            (k, m["low95"] <= case.measures[k] <= m["high95"], error / least.get(k, np.nan), error / m["sd"])
        )
    out.refused = list(got.get("refused", {}))
    out.marks = [(s["shot"], s.get("point", s.get("circle"))) for s in got["suspect_marks"]]
    out.facts = [f["fact"] for f in got.get("suspect_facts", [])]
    return out


def _clean(job: tuple[int, dict[str, Any]]) -> Result:
    seed, how = job
    return survey(simulate(seed, **how), seed)


def _wrong(job: tuple[int, str]) -> Result:
    seed, kind = job
    case = simulate(seed)
    planted = plant(case, kind, np.random.default_rng(10_000 + seed))
    out = survey(case, seed, bound=False)
    out.kind, out.planted = kind, planted
    return out


def interval(k: int, n: int) -> tuple[float, float]:
    """Clopper–Pearson 95 % interval of a share."""
    from scipy.stats import beta

    low = beta.ppf(0.025, k, n - k + 1) if k else 0.0
    high = beta.ppf(0.975, k + 1, n - k) if k < n else 1.0
    return float(low), float(high)


def by_car(results: list[Result], rng: np.random.Generator) -> tuple[float, float]:
    """95 % interval of the coverage by drawing cars anew: measures of one car hang together."""
    shares = [(sum(r[1] for r in q.rows), len(q.rows)) for q in results if q.rows]
    if len(shares) < 2:
        return float("nan"), float("nan")
    pick = rng.integers(len(shares), size=(4000, len(shares)))
    table = np.array(shares, float)[pick].sum(1)
    low, high = np.percentile(table[:, 0] / table[:, 1], [2.5, 97.5])
    return float(low), float(high)


def summary(name: str, results: list[Result]) -> dict[str, Any]:
    """Figures of one variant."""
    rows = [r for q in results for r in q.rows]
    e = np.array([r[2] for r in rows])
    z = np.array([r[3] for r in rows])
    e = e[np.isfinite(e)]
    solved = [q for q in results if not q.failed]
    alarmed = [q for q in solved if q.marks or q.facts]
    rms = [float(np.sqrt(np.mean(v**2))) if len(v) else float("nan") for v in (e, z)]
    size = float(np.median(np.abs(e)) / 0.6745) if len(e) else float("nan")
    return {
        "case": name,
        "cars": len(results),
        "solved": len(solved),
        "measures": len(rows),
        "refused": sum(len(q.refused) for q in solved),
        "inside": sum(r[1] for r in rows) / max(len(rows), 1),
        "inside_ci": by_car(results, np.random.default_rng(0)),
        "rms_over_bound": rms[0],
        "median_over_bound": size,
        "rms_over_sd": rms[1],
        "worst_over_bound": float(np.abs(e).max()) if len(e) else float("nan"),
        "false_alarms": len(alarmed),
        "seconds": float(np.median([q.seconds for q in results])),
        "slowest": max(q.seconds for q in results),
    }


HEAD = (
    "| case | cars solved | measures (refused) | truth inside 95 % | rms error / bound | median size / bound | rms error / sd | "
    "worst / bound | clean cars with something named | median (longest) s |\n|" + " --- |" * 10
)


def line(s: dict[str, Any]) -> str:
    low, high = s["inside_ci"]
    return (
        f"| {s['case']} | {s['solved']} of {s['cars']} | {s['measures']} ({s['refused']}) | {100 * s['inside']:.1f} % "
        f"({100 * low:.0f}–{100 * high:.0f}) | {s['rms_over_bound']:.2f} | {s['median_over_bound']:.2f} | "
        f"{s['rms_over_sd']:.2f} | {s['worst_over_bound']:.1f} | {s['false_alarms']} | {s['seconds']:.1f} ({s['slowest']:.0f}) |"
    )


def wrong_lines(results: list[Result]) -> Iterable[str]:
    yield "| planted | cars | named | of them nothing else named | truth inside 95 % |\n|" + " --- |" * 5
    groups: dict[str, list[Result]] = defaultdict(list)
    for q in results:
        groups[q.kind].append(q)
    groups["all"] = results
    for kind, members in groups.items():
        named = [q for q in members if not q.failed and set(q.planted) <= set(q.marks)]
        alone = [q for q in named if set(q.marks) == set(q.planted) and not q.facts]
        rows = [r for q in members for r in q.rows]
        low, high = interval(len(named), len(members))
        yield (
            f"| {kind} | {len(members)} | {len(named)} ({100 * low:.0f}–{100 * high:.0f} %) | {len(alone)} | "
            f"{100 * sum(r[1] for r in rows) / max(len(rows), 1):.1f} % |"
        )


def odd(results: list[Result]) -> Iterable[str]:
    """Cars worth a look."""
    for q in results:
        if q.failed:
            yield f"  seed {q.seed}: not solved: {q.failed[:120]} …"
            continue
        far = [r for r in q.rows if abs(r[2]) > 4]
        if far:
            yield f"  seed {q.seed}: {len(far)} of {len(q.rows)} measures beyond 4 bounds: {[r[0] for r in far][:4]}"
        extra = (set(q.marks) - set(q.planted)) | {("fact", f) for f in q.facts}
        missed = set(q.planted) - set(q.marks)
        if extra or missed:
            yield f"  seed {q.seed} {q.kind}: planted {q.planted}, missed {sorted(missed)}, besides {sorted(extra)}"


def main() -> None:
    p = argparse.ArgumentParser(prog="python -m tools.studies.coverage", description=(__doc__ or "").splitlines()[0])
    p.add_argument("--cars", type=int, default=60)
    p.add_argument("--few", type=int, default=20)
    p.add_argument("--wrong", type=int, default=60)
    p.add_argument("--first", type=int, default=1000, help="first seed")
    p.add_argument("--only", nargs="*", default=None, help="names of variants (part of the name), or 'wrong'")
    p.add_argument("--workers", type=int, default=1)
    a = p.parse_args()
    with ProcessPoolExecutor(a.workers) as pool:
        print(HEAD, flush=True)
        for name, how, full in VARIANTS:
            if a.only is not None and not any(w in name for w in a.only):
                continue
            jobs = [(a.first + k, how) for k in range(a.cars if full else a.few)]
            results = list(pool.map(_clean, jobs))
            print(line(summary(name, results)), flush=True)
            print("\n".join(odd(results)), flush=True)
        if a.wrong and (a.only is None or "wrong" in a.only):
            results = list(pool.map(_wrong, [(a.first + k, KINDS[k % 3]) for k in range(a.wrong)]))
            print("\n".join(wrong_lines(results)), flush=True)
            print("\n".join(odd(results)), flush=True)


if __name__ == "__main__":
    main()
