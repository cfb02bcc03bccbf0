"""The adjustment: derivatives of every kind of observation, and optimum and covariance against SciPy's least squares."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from tools.studies.coverage import true_network
from tools.studies.simulated_cars import simulate

from longlens.dossier.exchange import read_exchange
from longlens.survey.adjust import adjust, covariance, move
from longlens.survey.network import BLOCK, PAIR, SINGLE, State
from longlens.survey.observations import all_rows, edge_angles


def everything():
    """A small document with every kind of observation: a second stance, twins that differ, positions, lengths along an axis."""
    case = simulate(2, shots=4, pairs=12, mirror_sd=0.003, facts=("wheelbase", "rim", "positions"))
    doc = case.document
    doc["shots"][1]["stance"] = "dropped"
    doc["shots"][2] |= {"focal_px": case.cameras["s3"]["f"], "focal_sd_px": 50.0, "cropped": True}
    fact = {"id": "along", "value": 1.0, "sd": 0.01, "unit": "m", "source": "", "along": "y"}
    doc["facts"].append(fact | {"distance": ["left.front.wheel_centre", "right.front.wheel_centre"]})
    return case


@pytest.fixture(scope="module")
def problem():
    return true_network(everything())


def test_every_kind_of_observation_is_there(problem):
    net, state = problem
    kinds = {q.kind for q in all_rows(net, state, edge_angles(net, state))[0]}
    assert kinds >= {
        "mark",
        "edge",
        "distance",
        "diameter",
        "position",
        "principal",
        "focal",
        "radial",
        "lateral",
        "twin",
    }
    assert net.count[SINGLE] and net.count[PAIR]


def test_derivatives_are_those_of_the_residuals(problem):
    """Central differences along random directions in all unknowns at once."""
    net, state = problem
    theta = edge_angles(net, state)
    rows, bad = all_rows(net, state, theta)
    assert not bad
    rng = np.random.default_rng(0)
    for _ in range(3):
        d = rng.normal(0, 1e-3, net.columns)
        blocks = {f: rng.normal(0, 1e-3, (net.count[f], BLOCK[f])) for f in (SINGLE, PAIR)}
        h = 1e-3

        def at(e, d=d, blocks=blocks):
            there = move(net, state, e * d, {f: e * b for f, b in blocks.items()})
            return all_rows(net, there, edge_angles(net, there, theta, 6))[0]

        for q, up, down in zip(rows, at(h), at(-h), strict=True):
            slope = np.einsum("nmk,nk->nm", q.Jd, d[q.columns])
            if q.Jb is not None:
                slope += np.einsum("nmb,nb->nm", q.Jb, blocks[q.family][q.block])
            scale = max(np.abs(slope).max(), 1e-12)
            assert (up.r - down.r) / (2 * h) == pytest.approx(slope, abs=2e-4 * scale), q.kind


class Flat:
    """The same problem as one function of one vector, for SciPy."""

    def __init__(self, net, state: State):
        self.net, self.state, self.theta = net, state, edge_angles(net, state)
        fixed = move(net, state, np.ones(net.columns), {f: np.ones((net.count[f], BLOCK[f])) for f in (SINGLE, PAIR)})
        assert fixed is not None
        self.size = net.columns + sum(net.count[f] * BLOCK[f] for f in (SINGLE, PAIR))

    def moved(self, u):
        d, at, blocks = u[: self.net.columns], self.net.columns, {}
        for f in (SINGLE, PAIR):
            n = self.net.count[f] * BLOCK[f]
            blocks[f] = u[at : at + n].reshape(self.net.count[f], BLOCK[f])
            at += n
        return move(self.net, self.state, d, blocks)

    def __call__(self, u):
        there = self.moved(u)
        rows, _ = all_rows(self.net, there, edge_angles(self.net, there, self.theta, 6))
        return np.concatenate([q.r.ravel() for q in rows])


def test_optimum_and_covariance_agree_with_scipy():
    """Source: ``scipy.optimize.least_squares`` (numerical Jacobian); covariance from its Jacobian's pseudo-inverse."""
    net, state = true_network(simulate(3, shots=3, pairs=8))
    fit = adjust(net, state)
    assert fit is not None and fit.converged
    flat = Flat(net, fit.state)
    rng = np.random.default_rng(1)
    # SciPy starts beside our optimum and must come back to it
    start = rng.normal(0, 1e-4, flat.size)
    got = least_squares(flat, start, x_scale="jac", xtol=1e-12, ftol=1e-12, gtol=1e-12, max_nfev=60)
    assert got.cost == pytest.approx(fit.cost, rel=1e-6)
    X = flat.moved(got.x).X
    # what the marks leave free (turning about nothing here: the frame is fixed but for x) may differ
    shift = np.mean((X - fit.state.X)[:, 0])
    assert (X - fit.state.X) * net.free == pytest.approx(np.outer(np.ones(len(X)), [shift, 0, 0]) * net.free, abs=2e-5)

    from longlens.survey.datum import find_datum

    cov = covariance(net, fit.normal, find_datum(net, fit.state, fit.normal).null)
    theirs = np.linalg.pinv(got.jac.T @ got.jac, rcond=1e-13, hermitian=True)
    a, b = (net.body_of[net.point(f"left.{e}.wheel_centre")] for e in ("front", "rear"))
    i, j = net.at_body + 3 * net.slot[a], net.at_body + 3 * net.slot[b]
    pick = np.zeros(flat.size)
    pick[i + 1], pick[j + 1] = 1, -1  # half track in front less half track behind: free of the datum
    ours = pick[: net.columns] @ cov.Sigma @ pick[: net.columns]
    assert np.sqrt(ours) == pytest.approx(np.sqrt(pick @ theirs @ pick), rel=1e-3)


def test_a_start_with_points_behind_cameras_is_refused():
    net, state = true_network(simulate(3, shots=3, pairs=8))
    state.R = state.R * np.array([-1, 1, -1])[:, None]
    assert adjust(net, state) is None


def test_marks_that_were_inferred_or_left_out_are_not_compiled():
    case = simulate(3, shots=3, pairs=8)
    case.document["marks"][0]["inferred"] = True
    net, _ = true_network(case)
    assert 0 in net.inferred and 0 not in net.mark_id
    doc, _ = read_exchange(case.document)
    assert len(net.mark_id) <= sum(m.point is not None for m in doc.marks) - 1
