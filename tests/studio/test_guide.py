"""Help from the survey, held against the simulated truth (tools/studies/simulated_cars): what the studio says of a photograph
must hold there as often as it claims."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.dossier.exchange import read_exchange
from longlens.studio.board.guide import ellipse_of
from longlens.survey.answer import Solution, solve
from longlens.survey.foretold import REGION, Region, ray_on, rim_on, where_all
from tests.survey.cars import Case, see, small


@pytest.fixture(scope="module", params=[3, 8])
def solved(request: pytest.FixtureRequest) -> tuple[Case, Solution]:
    case = small(request.param)
    return case, solve(read_exchange(case.document)[0])


def test_the_place_foretold_is_the_survey_s_own_camera_s(solved: tuple[Case, Solution]) -> None:
    """The best place equals the marks within their residuals; the ellipse is of the size of the scatter of the draws."""
    case, solution = solved
    shot = solution.net.shots[0]
    found = where_all(solution, solution.net.points, shot)
    marked = {
        m["point"]: (m["x"], m["y"]) for m in case.document["marks"] if m["shot"] == shot and m.get("point") in found
    }
    off = np.array([np.subtract(found[p].xy, xy) for p, xy in marked.items()])
    assert len(off) > 5 and np.sqrt(np.mean(off**2)) < 3 * case.document["marks"][0]["sd_px"]
    for region in found.values():
        assert np.isfinite(region.xy).all() and np.linalg.eigvalsh(region.cov).min() > 0


def test_the_ellipse_holds_the_truth_as_often_as_it_says() -> None:
    """95 % of the true places lie within; over four cars, counted with room for their being of one survey each."""
    held, number = 0, 0
    for seed in (11, 12, 13, 14):
        case = small(seed)
        solution = solve(read_exchange(case.document)[0])
        for shot in solution.net.shots:
            for p, region in where_all(solution, solution.net.points, shot).items():
                d = region.xy - see(case, shot, case.xyz[p])
                held += d @ np.linalg.solve(region.cov, d) < REGION**2
                number += 1
    assert number > 150 and held / number > 0.85


def test_the_line_of_a_mark_passes_through_the_true_place_elsewhere(solved: tuple[Case, Solution]) -> None:
    case, solution = solved
    a, b = solution.net.shots[:2]
    near = []
    for p, xyz in case.xyz.items():
        at, there = see(case, a, xyz), see(case, b, xyz)
        line = ray_on(solution, (a, float(at[0]), float(at[1])), b)
        w, h = solution.net.size[solution.net.shots.index(b)]
        if line is None or not (0 < there[0] < w and 0 < there[1] < h):
            continue
        near.append((p, float(_to_path(there, line[:, :2]))))
    assert len(near) > 5
    assert np.median([d for _, d in near]) < 4  # px of pictures some 6000 wide: as well as the cameras are known


def test_a_solved_rim_lies_on_its_marks(solved: tuple[Case, Solution]) -> None:
    case, solution = solved
    seen = 0
    for m in case.document["marks"]:
        if (
            m.get("circle") in solution.net.circles
            and (ring := rim_on(solution, m["circle"], m["shot"], 720)) is not None
        ):
            d = [np.hypot(*(ring - e).T).min() for e in np.asarray(m["edge"], float)]
            assert np.median(d) < 4 * m["sd_px"]
            seen += 1
    assert seen


def test_a_shot_or_point_that_is_not_placed_has_no_guide(solved: tuple[Case, Solution]) -> None:
    _, solution = solved
    assert where_all(solution, solution.net.points, "nowhere") == {}
    assert where_all(solution, ["no such point"], solution.net.shots[0]) == {}
    assert ray_on(solution, (solution.net.shots[0], 1.0, 1.0), solution.net.shots[0]) is None


def test_the_ellipse_of_a_covariance_has_its_axes() -> None:
    """χ²₂ at 95 % is 5.991 (any table of the distribution): half axes are √5.991 standard deviations."""
    e = ellipse_of(Region(np.array([3.0, 4.0]), np.diag([9.0, 4.0])))
    assert np.allclose([e["x"], e["y"], e["a"], e["b"]], [3, 4, 3 * 5.991**0.5, 2 * 5.991**0.5], rtol=1e-3)
    assert abs(np.sin(e["angle"])) < 1e-9


def _to_path(p: np.ndarray, path: np.ndarray) -> float:
    a, b = path[:-1], path[1:]
    t = np.clip(np.sum((p - a) * (b - a), axis=1) / np.sum((b - a) ** 2, axis=1), 0, 1)[:, None]
    return float(np.min(np.linalg.norm(a + t * (b - a) - p, axis=1)))
