"""The survey: one adjustment with covariance against SciPy with a numerical Jacobian, whole runs as a user starts them, growth.

The case of the issue: 12 shots × 150 points, every point on every shot. SciPy's side is written here by itself (one function
of one vector, the same unknowns, the same priors), told the sparsity of its Jacobian, and started from the same place; it gives
no covariance. Growth is shown with each point on six shots.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import least_squares
from scipy.sparse import lil_matrix
from scipy.spatial.transform import Rotation

from longlens.dossier.exchange import read_exchange
from longlens.survey.adjust import adjust, covariance
from longlens.survey.answer import solve
from longlens.survey.camera import look_at, project
from longlens.survey.datum import find_datum
from longlens.survey.network import FREE_LOGF_SD, KAPPA_SD, Network, State, blank_state, compile_network
from tools.studies.simulated_cars import simulate

WIDTH, HEIGHT, SD = 6000, 4000, 2.0
SHOTS, POINTS, SEEN_ON = 12, 150, 6
POSITION_SD = 0.003


def seconds(work: Callable[[], Any], repeats: int = 3) -> float:
    """Best of a few."""
    best = np.inf
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - began)
    return float(best)


def scene(shots: int, points: int, seen_on: int | None) -> tuple[Network, State]:
    """A network of free points in a car's box, eight of known place, cameras all round, focal lengths free; and a start
    some way off the truth. ``seen_on``: shots that see each point, None: all."""
    rng = np.random.default_rng(1)
    X = rng.uniform([-2.6, -0.9, 0.0], [0.8, 0.9, 1.1], (points, 3))
    azimuth = np.linspace(0, 2 * np.pi, shots, endpoint=False) + rng.normal(0, 0.05, shots)
    focal = WIDTH * rng.uniform(0.9, 1.6, shots)
    C = (
        np.array([-0.9, 0, 0.5])
        + (4.6 * focal / WIDTH)[:, None] * np.c_[np.cos(azimuth), np.sin(azimuth), rng.uniform(0.05, 0.3, shots)]
    )
    R = np.array([look_at(c, np.array([-0.9, 0, 0.5])) for c in C])
    pp = np.array([(WIDTH - 1) / 2, (HEIGHT - 1) / 2])
    marks = []
    for j in range(points):
        start = rng.integers(shots)  # neighbouring shots, as a walk around the car gives
        on = range(shots) if seen_on is None else (start + np.arange(min(seen_on, shots))) % shots
        for i in on:
            x, y = project(X[j], R[i], C[i], focal[i], 0.0, pp) + rng.normal(0, SD, 2)
            marks.append({"shot": f"s{i}", "point": f"p{j}", "x": float(x), "y": float(y), "sd_px": SD})
    doc, _ = read_exchange(
        {
            "format": "longlens-exchange", "version": 1, "vehicle": {"name": "bench"},
            "shots": [{"id": f"s{i}", "width": WIDTH, "height": HEIGHT} for i in range(shots)],
            "points": [{"id": f"p{j}"} for j in range(points)],
            "facts": [
                {"id": f"f{j}", "value": X[j].tolist(), "sd": POSITION_SD, "unit": "m", "source": "", "position": f"p{j}"}
                for j in range(0, points, max(1, points // 8))
            ],
            "marks": marks,
        }
    )  # fmt: skip
    net = compile_network(doc)
    st = blank_state(net)
    st.R = Rotation.from_rotvec(rng.normal(0, 0.01, (shots, 3))).as_matrix() @ R
    st.C = C + rng.normal(0, 0.05, C.shape)
    st.logf = np.log(focal) + rng.normal(0, 0.02, shots)
    st.X = X + rng.normal(0, 0.02, X.shape)
    return net, st


def ours(net: Network, start: State) -> Any:
    """Adjustment and the joint covariance of all unknowns."""
    fit = adjust(net, start)
    assert fit is not None and fit.converged
    cov = covariance(net, fit.normal, find_datum(net, fit.state, fit.normal).null)
    assert cov is not None
    return fit


class Plain:
    """The same least squares as one function of one vector: per shot turn (3), place (3), principal point (2), log f, radial
    term; per point its place."""

    def __init__(self, net: Network, start: State):
        self.net, self.start = net, start
        self.S, self.B = len(net.shots), len(net.free)

    def __call__(self, u: np.ndarray) -> np.ndarray:
        net, S = self.net, self.S
        cam, X = u[: 10 * S].reshape(S, 10), u[10 * S :].reshape(-1, 3)
        R = Rotation.from_rotvec(cam[:, :3]).as_matrix() @ self.start.R
        s, b = net.mark_shot, net.mark_body
        Xc = np.einsum("nij,nj->ni", R[s], X[b] - cam[s, 3:6])
        p = np.exp(cam[s, 8])[:, None] * Xc[:, :2] / Xc[:, 2:]
        stretch = 1 + cam[s, 9] * np.sum(p * p, axis=1) / net.rho[net.camera_of[s]] ** 2
        marks = (cam[s, 6:8] + p * stretch[:, None] - net.mark_xy) / net.mark_sd[:, None]
        principal = (cam[:, 6:8] - net.principal0) / net.principal_sd[:, None]
        focal, radial = (cam[:, 8] - net.logf0) / FREE_LOGF_SD, cam[:, 9] / KAPPA_SD
        places = (X[net.body_of[net.position_point]] - net.position_xyz) / net.position_sd[:, None]
        return np.concatenate([a.ravel() for a in (marks, principal, focal, radial, places)])

    def first(self) -> np.ndarray:
        st, S = self.start, self.S
        cam = np.concatenate([np.zeros((S, 3)), st.C, st.principal, st.logf[:, None], st.kappa[:, None]], axis=1)
        return np.concatenate([cam.ravel(), st.X.ravel()])

    def sparsity(self) -> lil_matrix:
        net, S = self.net, self.S
        n, k = len(net.mark_xy), len(net.position_sd)
        A = lil_matrix((2 * n + 4 * S + 3 * k, 10 * S + 3 * self.B), dtype=int)
        i = np.arange(n)
        for r in (0, 1):
            for c in range(10):
                A[2 * i + r, 10 * net.mark_shot + c] = 1
            for c in range(3):
                A[2 * i + r, 10 * S + 3 * net.mark_body + c] = 1
        s = np.arange(S)
        at = 2 * n
        for c in (0, 1):
            A[at + 2 * s + c, 10 * s + 6 + c] = 1
        A[at + 2 * S + s, 10 * s + 8] = 1
        A[at + 3 * S + s, 10 * s + 9] = 1
        for c in range(3):
            A[at + 4 * S + 3 * np.arange(k) + c, 10 * S + 3 * net.body_of[net.position_point] + c] = 1
        return A


def against_scipy() -> list[tuple[str, float, str]]:
    net, start = scene(SHOTS, POINTS, None)
    fit = ours(net, start)
    mine = seconds(lambda: ours(net, start), 5)
    plain = Plain(net, start)
    first, sparsity = plain.first(), plain.sparsity()
    began = time.perf_counter()
    got = least_squares(plain, first, jac_sparsity=sparsity, x_scale="jac", max_nfev=400)
    theirs = time.perf_counter() - began
    far = float(np.abs(got.x[10 * SHOTS :].reshape(-1, 3) - fit.state.X).max())
    case = f"{SHOTS} shots × {POINTS} points, {len(net.mark_xy)} marks"
    return [
        (f"adjustment with joint covariance, {case}", mine, "s"),
        (
            "scipy.optimize.least_squares, numerical Jacobian, sparsity told, default tolerances, no covariance",
            theirs,
            "s",
        ),
        ("ratio", theirs / mine, "×"),
        ("cost of SciPy's optimum over ours, less one", got.cost / fit.cost - 1, ""),
        ("largest difference of a point", 1e6 * far, "µm"),
        ("iterations, ours", fit.iterations, ""),
        ("iterations, SciPy (evaluations of its Jacobian)", got.njev, ""),
    ]


def whole_runs() -> list[tuple[str, float, str]]:
    """As a user starts them: a new process each."""
    command = Path(sys.executable).parent / "longlens"
    case = simulate(1, shots=4)
    doc, _ = read_exchange(case.document)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "four.json"
        path.write_text(json.dumps(case.document), encoding="utf-8")

        def run(*words: str) -> None:
            subprocess.run([str(command), *words], check=True, capture_output=True, timeout=120)

        run("--help")  # compiled files are written
        return [
            ("longlens --help", seconds(lambda: run("--help")), "s"),
            ("longlens survey of a 4-shot file, whole", seconds(lambda: run("survey", str(path), "--json")), "s"),
            ("of that, the survey itself (marks alone to answer)", seconds(lambda: solve(doc).answer()), "s"),
        ]


def growth() -> list[tuple[str, float, str]]:
    """Time per iteration (and of the covariance) as shots and points grow."""
    out: list[tuple[str, float, str]] = []
    for name, cases in (
        ("shots, 600 points", [(n, 600) for n in (4, 8, 16, 32, 64)]),
        ("points, 16 shots", [(16, n) for n in (50, 200, 750, 3000)]),
    ):
        size, spent = [], []
        for shots, points in cases:
            net, start = scene(shots, points, SEEN_ON)
            fit = ours(net, start)
            spent.append(seconds(lambda net=net, start=start: ours(net, start), 2))
            size.append(shots if "600" in name else points)
            out.append(
                (
                    f"{shots} shots, {points} points, {len(net.mark_xy)} marks ({fit.iterations} iterations)",
                    spent[-1],
                    "s",
                )
            )
        slope = np.log(spent[-1] / spent[-2]) / np.log(size[-1] / size[-2])
        out.append((f"last exponent of growth with {name}", float(slope), ""))
    return out


def rows() -> list[dict[str, Any]]:
    """What ``make bench`` prints."""
    table = [*against_scipy(), *whole_runs(), *growth()]
    return [{"what": w, "value": v, "unit": u} for w, v, u in table]


if __name__ == "__main__":
    for row in rows():
        print(f"{row['what']:95s} {row['value']:12.4g} {row['unit']}")
