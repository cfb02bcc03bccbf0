"""Held against OpenCV: projection, resection, triangulation and calibration on the same synthetic marks.

Source: OpenCV (`cv2.projectPoints`, `Rodrigues`, `undistortPoints`, `solvePnP` with `solvePnPRefineLM`,
`triangulatePoints`, `calibrateCamera`), camera model with one radial term. Each problem is put so that both
sides minimise the same sum of squares; what the exchange document adds (its prior on k1) is far weaker than
the marks here.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from longlens.dossier.exchange import read_exchange
from longlens.survey import camera
from longlens.survey.answer import solve

pytestmark = pytest.mark.published

WIDTH, HEIGHT, FOCAL, K1 = 6000, 4000, 5200.0, -0.015
PRINCIPAL = np.array([2980.0, 2010.0])


@pytest.fixture
def rng():
    return np.random.default_rng(7)


def poses(rng, count):
    """Rotations (count, 3, 3) and places (count, 3) that look at a car's middle from all round."""
    azimuth = np.linspace(0.3, 2.4, count) + rng.normal(0, 0.05, count)
    places = np.stack([6 * np.cos(azimuth), 6 * np.sin(azimuth), rng.uniform(0.8, 2.0, count)], 1)
    return np.array([camera.look_at(p, np.array([0.1, 0.0, 0.5])) for p in places]), places


def seen(X, R, C):
    return camera.project(X, R, C, FOCAL, K1, PRINCIPAL)


def document(X, R, C, marks, known, sd_px, focal_known=False):
    """Points of known place (to a micrometre) and free ones, on shots of one camera."""
    shot = {
        "width": WIDTH,
        "height": HEIGHT,
        "camera": "one",
        "principal_px": [float(v) for v in PRINCIPAL],
        "principal_sd_px": 1e-3,
    }
    if focal_known:
        shot |= {"focal_px": FOCAL, "focal_sd_px": FOCAL * 1e-7}
    raw = {
        "format": "longlens-exchange",
        "version": 1,
        "vehicle": {"name": "synthetic"},
        "shots": [{"id": f"s{i}"} | shot for i in range(len(R))],
        "points": [{"id": f"p{j}"} for j in range(len(X))],
        "facts": [
            {
                "id": f"f{j}",
                "position": f"p{j}",
                "value": [float(v) for v in X[j]],
                "sd": 1e-6,
                "source": "given",
            }
            for j in range(known)
        ],
        "marks": [
            {"shot": f"s{i}", "point": f"p{j}", "x": float(x), "y": float(y), "sd_px": sd_px}
            for i, shot_marks in enumerate(marks)
            for j, (x, y) in enumerate(shot_marks)
        ],
        "measures": [{"id": "m", "distance": ["p0", f"p{len(X) - 1}"]}],
    }
    return read_exchange(raw)[0]


def test_projection_is_that_of_projectpoints(rng):
    R, C = poses(rng, 6)
    X = rng.uniform([-2, -1, 0], [2, 1, 1.2], (50, 3))
    K = np.array([[FOCAL, 0, PRINCIPAL[0]], [0, FOCAL, PRINCIPAL[1]], [0, 0, 1]])
    for r, c in zip(R, C, strict=True):
        theirs, _ = cv2.projectPoints(X, cv2.Rodrigues(r)[0], -r @ c, K, np.array([K1, 0, 0, 0, 0]))
        assert seen(X, r, c) == pytest.approx(theirs.reshape(-1, 2), abs=1e-7)


def test_rotation_vectors_are_those_of_rodrigues(rng):
    for w in [*rng.normal(0, 1.5, (20, 3)), np.zeros(3), np.array([1e-9, 0, 0]), np.array([0, np.pi, 0])]:
        assert camera.rotation(w) == pytest.approx(cv2.Rodrigues(w)[0], abs=1e-12)


def test_rays_undo_the_lens_as_undistortpoints_does(rng):
    pixels = rng.uniform([0, 0], [WIDTH, HEIGHT], (40, 2))
    K = np.array([[FOCAL, 0, PRINCIPAL[0]], [0, FOCAL, PRINCIPAL[1]], [0, 0, 1]])
    theirs = cv2.undistortPoints(pixels.reshape(-1, 1, 2), K, np.array([K1, 0, 0, 0, 0])).reshape(-1, 2)
    rho = np.hypot(WIDTH, HEIGHT) / 2
    ours = camera.rays(pixels, FOCAL, K1 * (rho / FOCAL) ** 2, rho, PRINCIPAL)[:, :2]
    assert ours == pytest.approx(theirs, abs=1e-7)  # OpenCV stops after a few rounds


def test_resection_reaches_the_optimum_of_solvepnp(rng):
    R, C = poses(rng, 1)
    X = rng.uniform([-2, -1, 0], [2, 1, 1.2], (30, 3))
    marks = seen(X, R[0], C[0]) + rng.normal(0, 2.0, (30, 2))
    answer = solve(document(X, R, C, [marks], 30, 2.0, focal_known=True), seed=0, draws=200).answer()
    shot = answer["shots"]["s0"]
    K = np.array([[FOCAL, 0, PRINCIPAL[0]], [0, FOCAL, PRINCIPAL[1]], [0, 0, 1]])
    lens = np.array([shot["k1"], 0, 0, 0, 0])  # the pose of the joint optimum is the best one for its own lens
    _, r, t = cv2.solvePnP(X, marks, K, lens)
    r, t = cv2.solvePnPRefineLM(
        X, marks, K, lens, r, t, (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 100, 1e-12)
    )
    theirs = (-cv2.Rodrigues(r)[0].T @ t).ravel()
    # 20 µm against a standard deviation of some millimetres
    assert shot["position_m"] == pytest.approx(theirs, abs=2e-5)


def test_a_point_is_where_triangulatepoints_puts_it(rng):
    R, C = poses(rng, 2)
    X = np.vstack([rng.uniform([-2, -1, 0], [2, 1, 1.2], (12, 3)), [[0.4, 0.3, 0.6]]])
    marks = [seen(X, r, c) for r, c in zip(R, C, strict=True)]
    for m in marks:
        m[-1] += rng.normal(0, 0.5, 2)
    answer = solve(document(X, R, C, marks, 12, 0.5, focal_known=True), seed=0, draws=200).answer()
    place = np.array(answer["points"]["p12"]["xyz_m"])
    sd = np.sqrt(np.diag(answer["points"]["p12"]["cov_m2"]))
    K = np.array([[FOCAL, 0, PRINCIPAL[0]], [0, FOCAL, PRINCIPAL[1]], [0, 0, 1]])
    flat = [cv2.undistortPoints(m[-1].reshape(1, 1, 2), K, np.array([K1, 0, 0, 0, 0])).reshape(2, 1) for m in marks]
    cameras = [np.hstack([r, (-r @ c)[:, None]]) for r, c in zip(R, C, strict=True)]
    h = cv2.triangulatePoints(*cameras, *flat).ravel()
    # OpenCV's is the linear estimate, which differs from the best one by far less than the scatter
    assert np.all(np.abs(place - h[:3] / h[3]) < 0.1 * sd)


def test_calibration_reaches_the_optimum_of_calibratecamera(rng):
    R, C = poses(rng, 5)
    X = rng.uniform([-2, -1, 0], [2, 1, 1.2], (60, 3))
    marks = [seen(X, r, c) + rng.normal(0, 0.3, (60, 2)) for r, c in zip(R, C, strict=True)]
    answer = solve(document(X, R, C, marks, 60, 0.3), seed=0, draws=200).answer()
    K = np.array([[5000.0, 0, PRINCIPAL[0]], [0, 5000.0, PRINCIPAL[1]], [0, 0, 1]])
    flags = (
        cv2.CALIB_USE_INTRINSIC_GUESS
        | cv2.CALIB_FIX_ASPECT_RATIO
        | cv2.CALIB_FIX_PRINCIPAL_POINT
        | cv2.CALIB_ZERO_TANGENT_DIST
        | cv2.CALIB_FIX_K2
        | cv2.CALIB_FIX_K3
    )
    rms, K, lens, turns, shifts = cv2.calibrateCamera(
        [X.astype(np.float32)] * 5,
        [m.astype(np.float32).reshape(-1, 1, 2) for m in marks],
        (WIDTH, HEIGHT),
        K,
        None,
        flags=flags,
        criteria=(cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 200, 1e-14),
    )
    shot = answer["shots"]["s0"]
    # OpenCV takes the marks in single precision (0.0002 px here): met to 2 % of a standard deviation
    assert shot["focal_px"] == pytest.approx(K[0, 0], abs=0.02 * shot["focal_sd_px"])
    assert shot["k1"] == pytest.approx(float(np.ravel(lens)[0]), abs=2e-4)
    for i, (r, t) in enumerate(zip(turns, shifts, strict=True)):
        theirs = (-cv2.Rodrigues(r)[0].T @ t).ravel()
        assert answer["shots"][f"s{i}"]["position_m"] == pytest.approx(theirs, abs=5e-5)
    # σ0 counts all unknowns, OpenCV's rms counts none
    residuals = rms**2 * 5 * 60 / 0.3**2
    assert answer["redundancy"] == pytest.approx(2 * 5 * 60 - 5 * 6 - 2, abs=4)
    assert answer["sigma0"] ** 2 * answer["redundancy"] == pytest.approx(residuals, rel=0.01)
