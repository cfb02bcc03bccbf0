"""What a number hangs on: shares add up to its variance, and moving a mark moves what is said to hang on it."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.dossier.exchange import read_exchange
from longlens.survey.adjust import adjust
from longlens.survey.answer import Solution, body_covariances, solve
from longlens.survey.linear import Linear
from longlens.survey.measures import evaluator
from longlens.survey.network import compile_network
from tests.survey.cars import small


@pytest.fixture(scope="module")
def solution() -> Solution:
    return solve(read_exchange(small(1, shots=5, pairs=12).document)[0])


@pytest.fixture(scope="module")
def lin(solution: Solution) -> Linear:
    return Linear(solution)


def test_a_points_rows_have_the_covariance_of_the_adjustment(solution: Solution, lin: Linear) -> None:
    cov = body_covariances(solution)
    for i in (0, 5, 11):
        rows = lin.point(solution.net.points[i])
        np.testing.assert_allclose(rows @ rows.T, cov[i], rtol=1e-6, atol=1e-12)


def test_a_measures_row_is_as_long_as_its_draws_are_wide(solution: Solution, lin: Linear) -> None:
    assert solution.drawn.method == "gaussian"
    for m, (_, draws) in solution.values.items():
        assert np.linalg.norm(lin.measure(m)) == pytest.approx(np.std(draws), rel=0.12)  # 2,000 draws: ± 5 %, bends


def test_shares_come_to_one(solution: Solution, lin: Linear) -> None:
    for m in solution.values:
        shares = lin.shares(lin.measure(m))
        assert sum(s.part for s in shares) == pytest.approx(1, abs=1e-4)
        assert all(s.part >= 0 for s in shares)


def test_slope_is_what_moving_a_mark_does(solution: Solution, lin: Linear) -> None:
    """Against a new adjustment with the mark moved by a hundredth of its standard deviation."""
    m = next(iter(solution.values))
    top = next(
        s for s in lin.shares(lin.measure(m)) if s.kind == "mark" and s.index >= 0 and s.name in solution.net.points
    )
    doc = solution.net.document
    measure = next(x for x in doc.measures if x.id == m)
    moved = []
    for axis in ("x", "y"):
        marks = list(doc.marks)
        mark = marks[top.index]
        marks[top.index] = mark.model_copy(update={axis: getattr(mark, axis) + 0.01 * mark.sd_px})
        net = compile_network(doc.model_copy(update={"marks": marks}))
        fit = adjust(net, solution.fit.state, weights=solution.screened.weights, tolerance=1e-14)
        assert fit is not None
        here = evaluator(solution.net, solution.fit.state)(measure)
        moved.append(float(evaluator(net, fit.state)(measure) - here) / 0.01)
    assert np.hypot(*moved) == pytest.approx(top.slope, rel=0.03)


def test_numbers_that_hang_on_a_point_and_a_fact(solution: Solution, lin: Linear) -> None:
    ids = list(solution.values)
    doc = solution.net.document
    m = next(m for m in doc.measures if m.distance and m.id in solution.values)
    hanging = lin.hang_on(ids, point=m.distance[0])
    assert m.id in hanging and all(0.01 <= v <= 1.0001 for v in hanging.values())
    on_facts = lin.hang_on(ids, fact=doc.facts[0].id, least=0.001)
    assert on_facts


def test_many_rows_at_once_are_those_one_by_one(solution: Solution) -> None:
    one, many = Linear(solution), Linear(solution)
    ids = list(solution.values)
    many.prepare(ids)
    for m in ids:
        np.testing.assert_allclose(many.measure(m), one.measure(m), rtol=1e-7, atol=1e-12)


def test_a_facts_part_is_its_share(solution: Solution, lin: Linear) -> None:
    m = next(iter(solution.values))
    shares = {s.name: s.part for s in lin.shares(lin.measure(m)) if s.kind == "fact"}
    for name, rows in lin.facts().items():
        assert lin.part(lin.measure(m), rows) == pytest.approx(shares.get(name, 0.0), rel=1e-6, abs=1e-9)
