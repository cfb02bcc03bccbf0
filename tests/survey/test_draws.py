"""Joint draws agree with the covariance they are made from, and keep what the document holds fixed.

A draw takes the turn of the whole car out of its straight step and does it as a turn. That must change nothing to first
order, for every body: once it did not, and twins that were stated to differ by half a millimetre were drawn 10 mm apart.
"""

from __future__ import annotations

import numpy as np
import pytest
from tools.studies.simulated_cars import Case

from longlens.dossier.exchange import read_exchange
from longlens.survey.adjust import move
from longlens.survey.answer import Solution, solve
from longlens.survey.camera import rotation
from longlens.survey.datum import generators, moved_ground, moved_state
from longlens.survey.draws import states_of, unknowns_of
from longlens.survey.network import State, place_points
from tests.survey.cars import small


def in_two_stances(seed: int, *, mirror_sd: float = 0.0005) -> Case:
    """One car, its last two shots called another stance: what stands on the ground there has a plane of its own."""
    case = small(seed, shots=5, mirror_sd=mirror_sd)
    doc = case.document
    there = {s["id"] for s in doc["shots"][3:]}
    for s in doc["shots"]:
        s["stance"] = "steered" if s["id"] in there else "static"
    ground = [p["id"] for p in doc["points"] if p.get("on") == "ground"]
    doc["points"] += [{"id": f"{g}@steered", "on": "ground"} for g in ground]
    for m in doc["marks"]:
        if m["shot"] in there and m.get("point") in ground:
            m["point"] += "@steered"
    return case


@pytest.fixture(scope="module", params=[1, 2])
def solution(request: pytest.FixtureRequest) -> Solution:
    return solve(read_exchange(in_two_stances(request.param).document)[0], draws=200)


def test_small_draws_are_the_straight_steps_of_the_covariance(solution: Solution) -> None:
    """Against ``move`` along the same step, which knows of no turn: to first order they are one."""
    net, fit, cov = solution.net, solution.fit, solution.cov
    z = np.random.default_rng(3).standard_normal((20, unknowns_of(cov)))
    D, h = len(cov.root), 1e-3
    d = z[:, :D] @ cov.root.T * h
    parts, at = {}, D
    for f, Y in cov.Y.items():
        n, B, _ = Y.shape
        parts[f] = z[:, at : at + n * B].reshape(len(z), n, B) * h
        at += n * B
    straight = move(net, fit.state, d, cov.blocks(d, parts))
    drawn = states_of(net, fit, cov, z, h)
    for name in ("X", "C", "R", "normal", "ground"):
        a, b = getattr(straight, name), getattr(drawn, name)
        step = np.abs(a - getattr(fit.state, name)).max(initial=0.0)
        assert np.abs(a - b).max(initial=0.0) <= 0.01 * step, name


def test_drawn_twins_differ_as_stated(solution: Solution) -> None:
    """The document says 0.5 mm in each coordinate; the marks can only narrow it."""
    net, X = solution.net, solution.drawn.state.X
    a, b = net.soft_body.T
    assert len(a) > 5
    gap = X[:, b] - X[:, a] * [1, -1, 1]
    assert np.sqrt(np.mean(gap**2)) < 0.0006


def test_drawn_points_on_the_ground_of_another_stance_lie_on_it(solution: Solution) -> None:
    net, st = solution.net, solution.drawn.state
    assert len(net.ground_body) >= 2
    g = st.ground[:, np.searchsorted(net.ground_used, net.ground_stance)]
    X = st.X[:, net.ground_body]
    off = X[..., 2] - g[..., 0] - g[..., 1] * X[..., 0] - g[..., 2] * X[..., 1]
    assert np.quantile(np.abs(off), 0.99) < 1e-5  # a ray along the ground may not meet it near by


def test_points_scatter_in_the_draws_as_the_covariance_says(solution: Solution) -> None:
    """Where the draws are Gaussian: by another road, the blocks of the inverse, taken with 200 draws' own scatter."""
    if solution.drawn.method != "gaussian":
        pytest.skip("corrected draws need not")
    from longlens.survey.answer import body_covariances

    sd = np.sqrt(np.einsum("pii->pi", body_covariances(solution)))
    known = (sd.max(axis=1) < 0.05) & (sd.max(axis=1) > 1e-4)
    drawn = place_points(solution.net, solution.drawn.state).std(axis=0)
    ratio = drawn[known][sd[known] > 1e-4] / sd[known][sd[known] > 1e-4]
    assert known.sum() > 10
    assert np.median(ratio) == pytest.approx(1.0, abs=0.1)
    assert ratio.min() > 0.75 and ratio.max() < 1.35


def test_a_ground_that_goes_with_the_scene_stays_under_its_points() -> None:
    """Points of a plane, moved as the plane is moved, lie on it."""
    rng = np.random.default_rng(0)
    ground, middle = rng.normal(0, 0.05, 3), rng.normal(0, 1, 3)
    Q, shift, scale = rotation(rng.normal(0, 0.2, 3)), rng.normal(0, 1, 3), 1.3
    xy = rng.normal(0, 2, (6, 2))
    P = np.column_stack([xy, ground[0] + xy @ ground[1:]])
    P = (P - middle) @ Q.T * scale + middle + shift
    new = moved_ground(ground[None], Q, middle, shift, scale)[0]
    assert P[:, 2] == pytest.approx(new[0] + P[:, :2] @ new[1:], abs=1e-12)


def test_generators_are_the_derivatives_of_moving_the_scene(solution: Solution) -> None:
    net, st, h = solution.net, solution.fit.state, 1e-6
    G = generators(net, st)
    T = net.at_ground + np.arange(3 * len(net.ground_used))
    for k in range(7):
        e = np.eye(7)[k] * h
        there: State = moved_state(net, st, e[:3], e[3:6], e[6])
        assert ((there.ground - st.ground) / h).ravel() == pytest.approx(G[T, k], abs=1e-5)
