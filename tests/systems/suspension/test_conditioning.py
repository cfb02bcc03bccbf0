"""Joint draws conditioned on what is known: against exact Gaussian conditioning, and against simulated truth."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.errors import NotSolvable
from longlens.systems.suspension import stances
from longlens.systems.suspension.conditioning import Knowledge, Places, condition
from longlens.systems.suspension.hidden import Guess, Inside, Length, OnPlane, SameLength, place
from longlens.systems.suspension.kinematics import solve
from tests.systems.suspension.cars import corner


def test_a_straight_function_conditions_as_the_textbook_says() -> None:
    """Mean and covariance of a Gaussian given a linear observation (Kalman 1960)."""
    rng = np.random.default_rng(1)
    C = np.array([[4.0, 1.5], [1.5, 1.0]])
    x = rng.multivariate_normal([1.0, 2.0], C, 40_000)
    H = np.array([[1.0, 1.0]])
    known = Knowledge("sum", lambda s: (s @ H.T, np.broadcast_to(H, (len(s), 1, 2))), 4.0, 0.5)
    done = condition(x, [known])
    K = C @ H.T / (H @ C @ H.T + 0.25)
    assert np.allclose(done.draws.mean(axis=0), [1.0, 2.0] + K[:, 0] * 1.0, atol=0.03)
    assert np.allclose(np.cov(done.draws.T), C - K @ H @ C, atol=0.04)


@pytest.mark.parametrize("kind", ["distance", "plane", "offset"])
def test_slopes_of_the_functions(kind: str) -> None:
    p = Places(("a", "b", "c", "d"))
    f = {
        "distance": p.difference(("a", "b"), ("c", "d")),
        "plane": p.off_plane("d", ("a", "b", "c")),
        "offset": p.offset("a", "c"),
    }[kind]
    x = np.random.default_rng(2).normal(size=(3, 12))
    value, slope = f(x)
    for j in range(12):
        e = np.zeros(12)
        e[j] = 1e-6
        assert np.allclose((f(x + e)[0] - f(x - e)[0]) / 2e-6, slope[:, :, j], atol=1e-7)
    assert value.shape == slope.shape[:2]


def test_a_hidden_pivot_is_found_from_what_is_known() -> None:
    rng = np.random.default_rng(4)
    n = 3000
    truth = {
        "pivot": (0.0, 0.13, 0.41), "rod": (0.0, 0.17, 0.47), "spring": (0.0, 0.08, 0.48),
        "outer": (0.0, 0.62, 0.18), "boss": (0.002, 0.131, 0.411),
    }  # fmt: skip
    seen = {k: np.array(p) + rng.normal(0, 0.002, (n, 3)) for k, p in truth.items() if k != "pivot"}
    lever = float(np.linalg.norm(np.subtract(truth["pivot"], truth["rod"])))
    done = place(
        seen,
        {"pivot": Guess((0.0, 0.10, 0.45), 0.06)},
        [
            OnPlane("pivot", ("rod", "spring", "outer"), 0.003),
            Length(("pivot", "rod"), lever, 0.001),
            Inside("pivot", "boss", 0.015),
        ],
    )
    assert np.all(done.after["pivot"] < 0.25 * done.before["pivot"])
    low, high = np.quantile(done.points["pivot"], [0.005, 0.995], axis=0)
    assert np.all((low < truth["pivot"]) & (truth["pivot"] < high))
    assert not done.contradicted


def test_a_contradiction_is_named() -> None:
    rng = np.random.default_rng(5)
    seen = {
        k: np.array(p) + rng.normal(0, 0.001, (2000, 3))
        for k, p in {"a": (0, 0, 0), "b": (0.4, 0, 0), "c": (0, 1, 0), "d": (0.43, 1, 0)}.items()
    }
    done = place(seen, {"e": Guess("a", 0.01)}, [SameLength(("a", "b"), ("c", "d")), Inside("e", "a", 0.01)])
    assert done.contradicted == ["a to b is as long as c to d"]


def test_a_hidden_point_that_nothing_ties_is_refused() -> None:
    with pytest.raises(NotSolvable, match="nothing is known about e"):
        place({"a": np.zeros((10, 3))}, {"e": Guess("a")}, [])


def test_stances_together_are_narrower_and_hold_the_truth() -> None:
    """Sixty cars in two stances: pooled 95 % intervals of the wheel-side points hold the truth in 93–97 %."""
    rng = np.random.default_rng(6)
    c = corner()
    moves = {"static": (0.0, 0.0), "bump and steered": (0.03, 0.015)}
    fixed = [k for k in c.points if c.body_of(k) == "chassis"]
    upright = [k for k in c.points if c.body_of(k) not in ("chassis",)]
    inside = total = 0
    gains = []
    for _ in range(60):
        n = 300

        def measured(p: np.ndarray, n: int = n) -> np.ndarray:
            return p + rng.normal(0, 0.002, 3) + rng.normal(0, 0.002, (n, 3))

        chassis = {k: measured(c.points[k]) for k in fixed}
        truth = {s: {k: solve(c, *mv).point(k) for k in upright} for s, mv in moves.items()}
        seen = {s: {k: measured(p) for k, p in ps.items()} for s, ps in truth.items()}
        done = stances.join(chassis, seen, "double_wishbone")
        for s, ps in truth.items():
            for k, p in ps.items():
                low, high = np.quantile(done.points[s][k], [0.025, 0.975], axis=0)
                inside += int(np.sum((low <= p) & (p <= high)))
                total += 3
        gains.append(np.mean([g for (s, _), g in done.narrower.items() if s]))
        assert max(done.tests.values()) < 5
    assert 0.93 < inside / total < 0.97
    assert np.mean(gains) > 1.1
    assert "times narrower" in done.summary()


def test_a_rod_that_changed_between_stances_is_found() -> None:
    rng = np.random.default_rng(8)
    c = corner()
    static, bump = solve(c), solve(c, 0.03)
    upright = ["upper_wishbone.outer", "lower_wishbone.outer", "track_rod.outer"]
    chassis = {k: p + rng.normal(0, 0.001, (2000, 3)) for k, p in c.points.items() if c.body_of(k) == "chassis"}
    chassis["track_rod.inner"] = c.points["track_rod.inner"] + rng.normal(0, 0.001, (2000, 3))
    seen = {
        s: {k: m.point(k) + rng.normal(0, 0.001, (2000, 3)) for k in upright} for s, m in (("a", static), ("b", bump))
    }
    seen["b"]["track_rod.outer"] = seen["b"]["track_rod.outer"] + np.array([0.0, 0.015, 0.0])
    tests = stances.join(chassis, seen, "double_wishbone").tests
    assert "track rod" in max(tests, key=lambda k: tests[k]) or "track_rod" in max(tests, key=lambda k: tests[k])
