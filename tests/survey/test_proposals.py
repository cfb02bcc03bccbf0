"""Lines, ellipses and patches on made pictures whose truth is known to the pixel; planes seen straight on."""

from __future__ import annotations

import numpy as np
import pytest

from longlens.dossier.exchange import read_exchange
from longlens.errors import NotSolvable, UnusableInput
from longlens.survey.answer import Solution, solve
from longlens.survey.foretold import eye_of, ray_on, where
from longlens.survey.network import place_points
from longlens.survey.proposals import NoProposal, Proposal, propose
from longlens.survey.straight_on import centre_plane, plane_of_circle, plane_through, straighten
from tests.survey.cars import small

SIZE = (1500, 1000)


@pytest.fixture(scope="module")
def case():
    return small(1, shots=5, pairs=12, size=SIZE, sd=(0.5, 0.8))


@pytest.fixture(scope="module")
def solution(case) -> Solution:
    return solve(read_exchange(case.document)[0])


def texture(u: np.ndarray, v: np.ndarray, seed: int = 0) -> np.ndarray:
    """A smooth random pattern of a plane, grey 0 to 255; waves of 8 to 60 mm."""
    rng = np.random.default_rng(seed)
    out = np.full(np.broadcast(u, v).shape, 128.0)
    for _ in range(24):
        k = 2 * np.pi / rng.uniform(0.008, 0.06)
        a = rng.uniform(0, 2 * np.pi)
        out = out + 14 * np.sin(k * (np.cos(a) * u + np.sin(a) * v) + rng.uniform(0, 6.3))
    return np.clip(out, 0, 255)


def picture(solution: Solution, shot: str, origin: np.ndarray, right: np.ndarray, up: np.ndarray, paint) -> np.ndarray:
    """What a shot would show of one plane: each pixel's ray met with it. ``paint(u, v)`` is its grey."""
    eye = eye_of(solution, shot)
    w, h = SIZE
    xy = np.stack(np.meshgrid(np.arange(w), np.arange(h)), axis=-1).reshape(-1, 2).astype(float)
    d = eye.ray(xy)
    n = np.cross(right, up)
    t = ((origin - eye.C) @ n) / (d @ n)
    X = eye.C + t[:, None] * d - origin
    grey = paint(X @ right, X @ up)
    return np.where(t > 0, grey, 0).reshape(h, w).astype(np.uint8)


def two_shots(solution: Solution, X: np.ndarray, n: np.ndarray) -> tuple[str, str]:
    """The two shots that look most squarely at a plane and have the place in the picture."""
    found = []
    for s in solution.net.shots:
        eye = eye_of(solution, s)
        xy, d = eye.see(X), eye.C - X
        if np.all((xy > 120) & (xy < eye.size - 120)):
            found.append((float(d @ n / np.linalg.norm(d)), s))
    found.sort(reverse=True)
    return found[0][1], found[1][1]


X_ = np.array([1.0, 0.0, 0.0])
Z_ = np.array([0.0, 0.0, 1.0])


@pytest.fixture(scope="module")
def flank(solution: Solution):
    """A painted plane at the car's side, through a point there, that faces the two shots best placed for it."""
    P = place_points(solution.net, solution.fit.state)
    for i in np.argsort(-np.abs(P[:, 1])):
        n = np.array([0.0, np.sign(P[i, 1]), 0.0])
        try:
            a, b = two_shots(solution, P[i], n)
        except IndexError:
            continue
        right = np.cross(Z_, n)
        pictures = {s: picture(solution, s, P[i], right, Z_, texture) for s in (a, b)}
        return P[i], a, b, pictures, right
    raise AssertionError("no two shots share a side")


def test_the_ellipse_holds_the_truth(case, solution: Solution) -> None:
    """Mahalanobis distances of the true pictures: the middle one of χ² with two degrees of freedom is 1.39."""
    far = []
    for shot in solution.net.shots:
        c = case.cameras[shot]
        for p in solution.net.points:
            got = where(solution, p, shot)
            if got is None:
                continue
            from longlens.survey.camera import project

            true = project(case.xyz[p], c["R"], c["C"], c["f"], c["k1"], c["principal"])
            d = true - got.xy
            far.append(float(d @ np.linalg.solve(got.cov + 1e-9 * np.eye(2), d)))
    assert np.median(far) == pytest.approx(1.39, rel=0.6)  # one survey: its errors are common
    assert where(solution, "nothing", solution.net.shots[0]) is None


def test_a_line_passes_through_its_point(solution: Solution) -> None:
    P = place_points(solution.net, solution.fit.state)
    a, b = solution.net.shots[:2]
    done = 0
    for X in P:
        xa, xb = eye_of(solution, a).see(X), eye_of(solution, b).see(X)
        if not (np.all((xa > 0) & (xa < SIZE)) and np.all((xb > 0) & (xb < SIZE))):
            continue
        line = ray_on(solution, (a, *xa), b, steps=4000)
        assert line is not None
        assert np.linalg.norm(line[:, :2] - xb, axis=1).min() < 1.5
        done += 1
    assert done > 3
    assert ray_on(solution, (a, 10.0, 10.0), a) is None


def test_the_twins_line_passes_through_the_twin_even_on_its_own_photograph(solution: Solution) -> None:
    P = place_points(solution.net, solution.fit.state)
    done = 0
    for a in solution.net.shots:
        eye = eye_of(solution, a)
        for X in P[np.abs(P[:, 1]) > 0.2]:
            here, there = eye.see(X), eye.see(X * [1, -1, 1])
            if np.all((here > 0) & (here < SIZE)) and np.all((there > 0) & (there < SIZE)):
                line = ray_on(solution, (a, *here), a, mirrored=True, steps=4000)
                assert line is not None and np.linalg.norm(line[:, :2] - there, axis=1).min() < 1.5
                done += 1
    assert done > 3


@pytest.mark.parametrize("off", [(0.0, 0.0), (0.013, 0.009), (-0.017, 0.012)])
def test_a_textured_place_is_found_to_a_part_of_a_pixel(solution: Solution, flank, off) -> None:
    origin, a, b, pictures, right = flank
    X = origin + off[0] * right + off[1] * Z_
    got = propose(solution, pictures, (a, *eye_of(solution, a).see(X)), b)
    assert isinstance(got, Proposal), got
    true = eye_of(solution, b).see(X)
    assert np.hypot(got.x - true[0], got.y - true[1]) < 0.7
    assert got.score > 0.9 and got.score - got.second > 0.08


def test_nothing_to_see_is_said(solution: Solution, flank) -> None:
    origin, a, b, pictures, _ = flank
    plain = {s: np.full_like(p, 90) for s, p in pictures.items()}
    got = propose(solution, plain, (a, *eye_of(solution, a).see(origin)), b)
    assert isinstance(got, NoProposal) and not got and "texture" in got.why


def test_another_scene_is_no_match(solution: Solution, flank) -> None:
    origin, a, b, pictures, right = flank
    other = picture(solution, b, origin, right, Z_, lambda u, v: texture(u, v, seed=9))
    got = propose(solution, {a: pictures[a], b: other}, (a, *eye_of(solution, a).see(origin)), b)
    assert isinstance(got, NoProposal) and ("looks like it" in got.why or "alike" in got.why)


def spots(*centres: np.ndarray) -> np.ndarray:
    """Soft bright spots on grey."""
    x, y = np.meshgrid(np.arange(SIZE[0]), np.arange(SIZE[1]))
    out = np.full(x.shape, 60.0)
    for c in centres:
        out += 150 * np.exp(-((x - c[0]) ** 2 + (y - c[1]) ** 2) / (2 * 6.0**2))
    return out.astype(np.uint8)


def test_two_places_that_look_alike_are_doubtful(solution: Solution, flank) -> None:
    """A spot, and on the other photograph two of them on the line; with one of them it is found."""
    origin, a, b, _, _ = flank
    at, here = (eye_of(solution, s).see(origin) for s in (a, b))
    line = ray_on(solution, (a, *at), b, steps=4000)
    assert line is not None
    there = line[np.argmin(np.abs(np.linalg.norm(line[:, :2] - here, axis=1) - 90)), :2]
    got = propose(solution, {a: spots(at), b: spots(here, there)}, (a, *at), b)
    assert isinstance(got, NoProposal) and "alike" in got.why
    one = propose(solution, {a: spots(at), b: spots(here)}, (a, *at), b)
    assert isinstance(one, Proposal) and np.hypot(one.x - here[0], one.y - here[1]) < 0.7


def test_the_twin_is_found_by_its_mirror_image(solution: Solution) -> None:
    """A plate on the left and its mirror image on the right, both across the line of sight of one shot."""
    for a in solution.net.shots:
        eye = eye_of(solution, a)
        for X in place_points(solution.net, solution.fit.state):
            twin = X * [1, -1, 1]
            here, there = eye.see(X), eye.see(twin)
            if abs(X[1]) < 0.25 or not all(np.all((p > 150) & (p < np.array(SIZE) - 150)) for p in (here, there)):
                continue
            if np.linalg.norm(here - there) < 200 or abs((eye.C - X)[0]) < np.linalg.norm(eye.C - X) * 0.6:
                continue
            y = np.array([0.0, 1.0, 0.0])
            left = picture(solution, a, X, y, Z_, texture)
            right = picture(solution, a, twin, -y, Z_, texture)
            half = (here[0] + there[0]) / 2
            columns = np.arange(SIZE[0])
            image = np.where((columns < half) == (here[0] < half), left, right).astype(np.uint8)
            got = propose(solution, {a: image}, (a, *here), a, mirrored=True)
            assert isinstance(got, Proposal), got
            assert np.hypot(got.x - there[0], got.y - there[1]) < 0.7
            return
    pytest.fail("no shot shows a point and its twin")


def test_a_plane_straightened_shows_its_paint_true_to_scale(solution: Solution, flank) -> None:
    """A cross of lines of known spacing, 120 mm apart, comes out 120 mm apart and at right angles."""
    origin, a, _, _, right = flank

    def grid(u, v):
        near = np.minimum(np.abs((u + 0.06) % 0.12 - 0.06), np.abs((v + 0.06) % 0.12 - 0.06))
        return np.where(near < 0.004, 230, 40)

    photo = picture(solution, a, origin, right, Z_, grid)
    from longlens.survey.straight_on import Plane

    n = len(solution.drawn.state.logf)
    many = Plane(*(np.broadcast_to(v, (n, 3)) for v in (origin, right, Z_)), (0.3, 0.2))
    view = straighten(solution, a, photo, Plane(origin, right, Z_, (0.3, 0.2), "side", many), mm_per_px=2.0)
    h, w = view.picture.shape
    assert view.mm_per_px == 2.0
    across = view.picture[(h - 1) // 2 + 30].astype(float) > 135
    lines = np.flatnonzero(np.diff(across.astype(int)) == 1)
    assert np.diff(lines) * view.mm_per_px == pytest.approx(np.full(len(lines) - 1, 120), abs=4.1)
    ends = ((w - 1) / 2 - 60, (h - 1) / 2), ((w - 1) / 2 + 60, (h - 1) / 2)
    best, draws = view.length(*ends)
    assert best == pytest.approx(0.24)
    assert np.std(draws) / best == pytest.approx(view.scale_sd, rel=0.3)
    assert 0 < view.scale_sd < 0.05
    wider = view.length(*ends, sd_px=2.0)[1]
    assert np.std(wider) > np.std(draws)


def test_a_wheel_measured_on_its_plane_has_its_diameter(solution: Solution) -> None:
    """Against the survey's own diameter: rim edge points pictured on the photograph and read on the straightened picture."""
    net, st = solution.net, solution.fit.state
    cid = net.circles[0]
    m = net.circle(cid)
    plane = plane_of_circle(solution, cid)
    for shot in net.shots:
        try:
            view = straighten(solution, shot, np.zeros((SIZE[1], SIZE[0]), np.uint8), plane, mm_per_px=1.0)
        except UnusableInput:
            continue
        h, w = view.picture.shape
        r = float(st.radius[net.radius_of[m]])
        a, b = ((w - 1) / 2 - r * 1000, (h - 1) / 2), ((w - 1) / 2 + r * 1000, (h - 1) / 2)
        best, draws = view.length(a, b)
        assert best == pytest.approx(2 * r, rel=1e-6)
        assert np.percentile(draws, 0.5) < 2 * r < np.percentile(draws, 99.5)
        # the way to the photograph and back
        edge = view.to_photograph(np.array([a, b]))
        assert np.isfinite(edge).all()
        return
    pytest.fail("no shot sees the wheel")


def test_planes_that_cannot_be_shown_are_refused(solution: Solution) -> None:
    net = solution.net
    picture = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
    with pytest.raises(UnusableInput, match="three different points"):
        plane_through(solution, [net.points[0], net.points[1], net.points[0]])
    with pytest.raises(NotSolvable):
        plane_through(solution, ["a", "b", "c"])
    plane = centre_plane(solution)
    with pytest.raises(UnusableInput, match="own size"):
        straighten(solution, net.shots[0], picture[:500], plane)
    with pytest.raises(NotSolvable):
        straighten(solution, "nothing", picture, plane)
    eye = eye_of(solution, net.shots[0])
    from longlens.survey.straight_on import Plane

    flat = Plane(plane.origin, *_edge_on(eye.C - plane.origin), (0.1, 0.1), "edge", None)
    with pytest.raises(UnusableInput, match="from its edge"):
        straighten(solution, net.shots[0], picture, flat)


def _edge_on(sight: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    right = sight / np.linalg.norm(sight)
    up = np.cross(right, np.array([0.0, 1.0, 0.0]))
    return right, up / np.linalg.norm(up)


def test_a_plane_through_points_lies_through_them(solution: Solution) -> None:
    net = solution.net
    P = place_points(net, solution.fit.state)
    names = [net.points[0], net.points[2], net.points[5]]
    plane = plane_through(solution, names)
    for n in names:
        assert abs((P[net.point(n)] - plane.origin) @ plane.normal) < 1e-9
    assert plane.draws is not None and len(plane.draws.origin) == len(solution.drawn.state.logf)
