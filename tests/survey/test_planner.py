"""The planner's promise against actually making the observation, in simulation."""

from __future__ import annotations

import copy

import numpy as np
import pytest

from longlens.dossier.exchange import read_exchange
from longlens.errors import UnusableInput
from longlens.survey.answer import Solution, solve
from longlens.survey.camera import project
from longlens.survey.linear import Linear
from longlens.survey.measures import evaluator
from longlens.survey.planner import Advice, Plan, Sight, plan, position_in_words, usual_sd
from tests.survey.cars import see, small


@pytest.fixture(scope="module")
def case():
    return small(1, shots=5, pairs=12)


@pytest.fixture(scope="module")
def solution(case) -> Solution:
    return solve(read_exchange(case.document)[0])


@pytest.fixture(scope="module")
def lin(solution: Solution) -> Linear:
    return Linear(solution)


def width_after(document: dict, measure: str) -> float:
    got = solve(read_exchange(document)[0])
    return float(np.std(got.values[measure][1]))


def best(solution: Solution, lin: Linear, kind: str) -> tuple[Plan, Advice]:
    """The measure for which this kind of advice helps most."""
    plans = [plan(solution, m, kinds=(kind,), linear=lin) for m in solution.values]
    plans = [p for p in plans if p.advice]
    p = max(plans, key=lambda p: p.advice[0].gain)
    return p, p.advice[0]


def test_a_further_mark_does_what_was_promised(case, solution: Solution, lin: Linear) -> None:
    p, advice = best(solution, lin, "mark")
    assert advice.gain > 0.05
    doc = copy.deepcopy(case.document)
    x, y = see(case, advice.shot, case.xyz[advice.point]) + np.random.default_rng(0).normal(0, usual_sd(solution), 2)
    doc["marks"].append({"shot": advice.shot, "point": advice.point, "x": x, "y": y, "sd_px": usual_sd(solution)})
    assert width_after(doc, p.number) == pytest.approx(advice.sd, rel=0.12)


def test_a_fact_does_what_was_promised(case) -> None:
    """Where one loose length gives the scale, knowing it twice as well must show."""
    doc = copy.deepcopy(case.document)
    doc["facts"] = [next(f for f in doc["facts"] if "distance" in f)]
    fact = doc["facts"][0]
    fact["sd"] = 0.01 * abs(fact["value"])
    loose = solve(read_exchange(doc)[0])
    m = next(m for m in loose.values if m != fact["id"] and np.std(loose.values[m][1]) > 0.008 * loose.values[m][0])
    advice = next(a for a in plan(loose, m, kinds=("fact",), most=50).advice if a.fact)
    assert advice.gain > 0.2
    fact["sd"] /= 2
    assert width_after(doc, m) == pytest.approx(advice.sd, rel=0.12)


def test_a_photograph_does_what_was_promised(case, solution: Solution, lin: Linear) -> None:
    p, advice = best(solution, lin, "camera")
    pose = advice.pose
    assert pose is not None and advice.gain > 0.1
    assert pose.rotation @ pose.rotation.T == pytest.approx(np.eye(3))
    doc = copy.deepcopy(case.document)
    doc["shots"].append({"id": "new", "width": pose.width, "height": pose.height})
    rng, sd = np.random.default_rng(1), usual_sd(solution)
    pp = np.array([(pose.width - 1) / 2, (pose.height - 1) / 2])
    for name in advice.shows:
        x, y = project(case.xyz[name], pose.rotation, pose.position, pose.focal_px, 0.0, pp) + rng.normal(0, sd, 2)
        doc["marks"].append({"shot": "new", "point": name, "x": float(x), "y": float(y), "sd_px": sd})
    assert width_after(doc, p.number) == pytest.approx(advice.sd, rel=0.15)


def test_the_interval_is_told_before_and_after(solution: Solution, lin: Linear) -> None:
    p = plan(solution, next(iter(solution.values)), linear=lin)
    assert p.low < p.value < p.high
    gains = [a.gain for a in p.advice]
    assert gains == sorted(gains, reverse=True)
    for a in p.advice:
        assert 0 < a.gain < 1 and p.low < a.low < a.high < p.high and a.sd < p.sd
        assert a.words


def test_any_quantity_can_be_asked_for(solution: Solution, lin: Linear) -> None:
    a, b = solution.net.document.measures[:2]

    def gap(net, st):
        value = evaluator(net, st)
        return value(a) - value(b)

    p = plan(solution, gap, name="gap", unit="m", kinds=("camera",), linear=lin)
    assert p.sd == pytest.approx(np.std(solution.values[a.id][1] - solution.values[b.id][1]), rel=1e-9)
    assert p.advice and p.advice[0].pose is not None


def test_more_information_never_widens(solution: Solution, lin: Linear) -> None:
    for m in list(solution.values)[:4]:
        assert all(a.gain >= 0 for a in plan(solution, m, linear=lin, least=-1.0, most=10_000).advice)


def test_what_nobody_has_seen_is_not_promised(solution: Solution) -> None:
    sight = Sight(solution)
    net, st = solution.net, solution.fit.state
    s, p = int(net.mark_shot[0]), int(net.mark_point[0])
    assert sight.likely(p, st.C[s])
    below = sight.places[p] - np.array([0.0, 0.0, 5.0])
    assert not sight.likely(p, below)


@pytest.mark.parametrize(
    ("xyz", "said"),
    [
        ((4.0, 4.0, 0.4), "from the front left, low, from about 6 m"),
        ((0.0, -3.0, 1.4), "from the right, at eye height, from about 3 m"),
        ((-5.0, 0.0, 2.6), "from the rear, from above, from about 6 m"),
        ((1.0, 0.0, 0.4), "from the front, low, from about 1.1 m"),
    ],
)
def test_positions_in_words(xyz: tuple[float, float, float], said: str) -> None:
    """x ahead, y to the left, as in ISO 8855."""
    assert position_in_words(np.array(xyz), np.zeros(3), 0.0) == said


def test_an_unknown_measure_is_refused(solution: Solution) -> None:
    with pytest.raises(UnusableInput, match="no measure"):
        plan(solution, "nonsense")


def test_a_measure_that_is_not_determined_says_what_it_needs(case) -> None:
    doc = copy.deepcopy(case.document)
    name = doc["points"][0]["id"]
    other = doc["points"][4]["id"]
    doc["points"].append({"id": "lonely"})
    doc["marks"].append({"shot": doc["shots"][0]["id"], "point": "lonely", "x": 100, "y": 100, "sd_px": 2})
    doc["measures"].append({"id": "to_lonely", "distance": ["lonely", other]})
    del name
    got = plan(solve(read_exchange(doc)[0]), "to_lonely")
    assert not got.advice and any("lonely" in n for n in got.needs)
