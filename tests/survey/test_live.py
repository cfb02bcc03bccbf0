"""After one mark was moved: the quick answer is the full survey's, to a small part of the interval, or it says no."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.dossier.exchange import ExchangeDocument, read_exchange
from longlens.survey.answer import Solution, solve
from longlens.survey.live import Live, difference, recompute
from tests.survey.cars import small


@pytest.fixture(scope="module")
def document() -> ExchangeDocument:
    return read_exchange(small(1, shots=5, pairs=12).document)[0]  # its draws are Gaussian


@pytest.fixture(scope="module")
def solution(document: ExchangeDocument) -> Solution:
    return solve(document)


def moved(doc: ExchangeDocument, number: int, dx: float, dy: float = 0.0) -> ExchangeDocument:
    marks = list(doc.marks)
    mark = marks[number]
    marks[number] = mark.model_copy(update={"x": mark.x + dx, "y": mark.y + dy})
    return doc.model_copy(update={"marks": marks})


def point_marks(doc: ExchangeDocument) -> list[int]:
    return [i for i, m in enumerate(doc.marks) if m.point is not None]


def test_nothing_moves_where_nothing_was_moved(document: ExchangeDocument, solution: Solution) -> None:
    got = Live(solution).update(document)
    assert got.solution is not None and got.why == ""
    for m, (value, draws) in solution.values.items():
        sd = np.std(draws)
        assert abs(got.solution.values[m][0] - value) < 1e-4 * sd
        assert np.abs(got.solution.values[m][1] - draws).max() < 1e-3 * sd


@pytest.mark.parametrize("which", [0, 7, 20])
def test_a_moved_mark_gives_what_the_full_survey_gives(
    document: ExchangeDocument, solution: Solution, which: int
) -> None:
    changed = moved(document, point_marks(document)[which], 2.0, -1.5)
    got = Live(solution).update(changed)
    assert got.solution is not None, got.why
    full = solve(changed)
    assert full.drawn.method == "gaussian"
    for m, (value, draws) in full.values.items():
        sd = float(np.std(draws))
        quick, many = got.solution.values[m]
        assert abs(quick - value) < 0.01 * sd, m
        for q in (2.5, 50, 97.5):  # the same streams: far nearer than chance in 2,000 draws would allow
            assert abs(np.percentile(many, q) - np.percentile(draws, q)) < 0.05 * sd, (m, q)


def test_a_corrected_distribution_is_carried_over() -> None:
    """Where the draws are no Gaussian their shape is kept; the full survey makes them anew, so that less can be asked."""
    doc = read_exchange(small(7).document)[0]
    first = solve(doc)
    assert first.drawn.method != "gaussian"
    changed = moved(doc, point_marks(doc)[5], 1.5, 1.0)
    got = Live(first).update(changed)
    assert got.solution is not None, got.why
    full = solve(changed)
    for m, (value, draws) in full.values.items():
        assert abs(got.solution.values[m][0] - value) < 0.25 * np.std(draws), m
        assert np.std(got.solution.values[m][1]) == pytest.approx(np.std(draws), rel=0.2), m


def test_several_moves_one_after_another_end_where_one_would(document: ExchangeDocument, solution: Solution) -> None:
    live = Live(solution)
    doc = document
    for k, number in enumerate(point_marks(document)[3:9]):
        doc = moved(doc, number, 0.8 * (-1) ** k, 0.5)
        assert live.update(doc).solution is not None
    once = Live(solution).update(doc).solution
    assert once is not None
    for m, (value, draws) in once.values.items():
        assert abs(live.solution.values[m][0] - value) < 0.01 * np.std(draws)
        assert np.std(live.solution.values[m][1]) == pytest.approx(np.std(draws), rel=0.01)


def test_a_further_mark_narrows_and_one_taken_away_widens(document: ExchangeDocument, solution: Solution) -> None:
    net = solution.net
    p = next(i for i in range(len(net.points)) if (net.mark_point == i).sum() >= 3)
    numbers = [i for i in point_marks(document) if document.marks[i].point == net.points[p]]
    marks = [m for i, m in enumerate(document.marks) if i != numbers[0]]
    fewer = Live(solution).update(document.model_copy(update={"marks": marks}))
    assert fewer.solution is not None, fewer.why
    width = {
        s: np.linalg.det(np.cov(x.places()[net.points[p]].T)) for s, x in (("all", solution), ("fewer", fewer.solution))
    }
    assert width["fewer"] > width["all"]
    back = Live(fewer.solution).update(document)
    assert back.solution is not None
    again = np.linalg.det(np.cov(back.solution.places()[net.points[p]].T))
    assert again == pytest.approx(width["all"], rel=0.02)


def test_a_wrong_mark_is_left_to_the_full_survey(document: ExchangeDocument, solution: Solution) -> None:
    got = Live(solution).update(moved(document, point_marks(document)[4], 60.0))
    assert got.solution is None
    assert "contradicts" in got.why or "standard deviations" in got.why


def test_what_changes_the_unknowns_is_left_to_the_full_survey(document: ExchangeDocument, solution: Solution) -> None:
    p = next(q.id for q in document.points if q.id.endswith("upper.outer"))
    twin = next((q.mirror for q in document.points if q.id == p), None)
    marks = [m for m in document.marks if m.point not in (p, twin)]
    got = Live(solution).update(document.model_copy(update={"marks": marks}))
    assert got.solution is None and "cannot be placed" in got.why


def test_recompute_asks_the_full_survey_by_itself(document: ExchangeDocument, solution: Solution) -> None:
    quick, why = recompute(solution, moved(document, point_marks(document)[2], 1.0))
    assert why == "" and quick.values
    full, why = recompute(solution, moved(document, point_marks(document)[4], 60.0))
    assert why and full.suspects
    assert full.suspects[0]["point"] == document.marks[point_marks(document)[4]].point


def test_a_facts_value_may_change(document: ExchangeDocument, solution: Solution) -> None:
    facts = list(document.facts)
    k = next(i for i, f in enumerate(facts) if f.distance or f.diameter)
    facts[k] = facts[k].model_copy(update={"value": facts[k].value + 0.5 * facts[k].sd})
    changed = document.model_copy(update={"facts": facts})
    got = Live(solution).update(changed)
    assert got.solution is not None, got.why
    full = solve(changed)
    for m, (value, draws) in full.values.items():
        assert abs(got.solution.values[m][0] - value) < 0.02 * np.std(draws)


def test_steps_between_states_are_the_inverse_of_moving(solution: Solution) -> None:
    from longlens.survey.adjust import move

    net = solution.net
    d, blocks = difference(net, solution.fit.state, solution.drawn.state)
    back = move(net, solution.fit.state, d, blocks)
    for name, value in solution.drawn.state.__dict__.items():
        np.testing.assert_allclose(getattr(back, name), value, rtol=1e-9, atol=1e-9)
