"""Where else a point shows: patches compared along the line or within the ellipse where it must lie (survey/foretold.py).

``propose`` compares the picture around a mark with pictures along that line or within that ellipse and says where it fits best,
how well, and whether to trust it.

Comparing: the patch is taken to be flat; for each tried place it is pictured on both photographs through the two cameras and the
target is sampled in the source's grid (an affine warp), so that distance, tilt and a turned camera do not count against it. The
score is the normalised correlation of grey values (−1 to 1), blind to brightness and contrast. Source: Lewis 1995, "Fast
Normalized Cross-Correlation"; plane sweep: Collins 1996.

Limits: repeating patterns, glossy surfaces and thin parts in front of a far background mislead any such comparison. A proposal is
therefore refused where the patch has no texture, where nothing fits, or where two places fit nearly alike. A person confirms it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from longlens.survey.camera import Array
from longlens.survey.foretold import FAR, NEAR, Eye, eye_of, where
from longlens.survey.network import place_points

if TYPE_CHECKING:
    from longlens.survey.answer import Solution

#: The patch is (2·HALF + 1)² samples.
HALF = 13
#: A fit below this says nothing; a second place that comes within CLEAR of the best makes it doubtful.
LEAST_SCORE, CLEAR = 0.72, 0.08
#: Least standard deviation of grey values (of 255) in a patch that can be told from others.
LEAST_TEXTURE = 6.0


@dataclass(frozen=True)
class Proposal:
    """Where a point was found. ``score`` −1 to 1; ``second``: the best score elsewhere on the line; ``xyz``: its place by it."""

    x: float
    y: float
    score: float
    second: float
    xyz: Array
    source: str


@dataclass(frozen=True)
class NoProposal:
    """Nothing to propose; false, and says why."""

    why: str

    def __bool__(self) -> bool:
        return False


def propose(
    solution: Solution,
    pictures: dict[str, Array],
    source: tuple[str, float, float],
    shot: str,
    *,
    point: str = "",
    mirrored: bool = False,
) -> Proposal | NoProposal:
    """Find on ``shot`` what is marked at ``source``.

    Parameters
    ----------
    pictures : shot → (h, w) grey or (h, w, 3) picture, upright; of the source and of ``shot``.
    source : (shot, x, y) of the mark that shows what to look for.
    point : where the survey has placed it already, its id: then only its ellipse is searched.
    mirrored : look for the twin across the car; its picture is taken as the mirror image.
    """
    name, x, y = source
    if name not in solution.net._shot_index or shot not in solution.net._shot_index:
        return NoProposal("one of the photographs is not solved yet")
    a, b = eye_of(solution, name), eye_of(solution, shot)
    at = np.array([x, y], float)
    if mirrored:  # the twin looks from the mirrored camera as the part looks from the real one
        a = a.mirrored()
    places = _candidates(solution, a, b, at, shot, point)
    if places is None:
        return NoProposal("it lies outside this photograph")
    grey = {k: _grey(v) for k, v in pictures.items() if k in (name, shot)}
    scale = _scale(a, places[len(places) // 2])
    best: tuple[float, int, Array] | None = None
    curves = []
    for normal in _normals(a, b, places[len(places) // 2]):
        template, grid = _template(grey[name], a, at, scale)
        if template.std() < LEAST_TEXTURE:
            return NoProposal("too little to see there: no edges or texture around the mark")
        scores = np.array([_score(template, _sample(grey[shot], a, b, at, X, normal, grid)) for X in places])
        curves.append(scores)
        k = int(np.nanargmax(scores)) if np.isfinite(scores).any() else -1
        if k >= 0 and (best is None or scores[k] > best[0]):
            best = (float(scores[k]), k, normal)
    if best is None:
        return NoProposal("it lies outside this photograph")
    score, k, normal = best
    scores = np.nan_to_num(np.array(curves), nan=-1.0).max(axis=0)
    xy = b.see(places)
    far = np.linalg.norm(xy - xy[k], axis=1) > 1.2 * _patch_px(a, b, at, places[k], scale)
    second = float(scores[far].max(initial=-1.0))
    template, grid = _template(grey[name], a, at, scale)
    fine, refined, X = _refine(grey[shot], a, b, at, places, k, normal, template, grid)
    score = max(score, refined)
    if score < LEAST_SCORE:
        return NoProposal(f"nothing there looks like it (best fit {score:.2f} of 1)")
    if second > score - CLEAR:
        return NoProposal(f"two places look alike (fits {score:.2f} and {second:.2f} of 1)")
    return Proposal(float(fine[0]), float(fine[1]), float(score), second, X, name)


def _candidates(solution: Solution, a: Eye, b: Eye, at: Array, shot: str, point: str) -> Array | None:
    """(n, 3) places to try, neighbours about a pixel apart on the target."""
    if point:
        region = where(solution, point, shot)
        if region is None or not np.all((region.xy >= 0) & (region.xy < b.size)):
            return None
        net = solution.net
        X = place_points(net, solution.fit.state)[net.point(point)]
        spread = solution.drawn.state.X[:300, net.body_of[net.point(point)]] * [1.0, net.sign[net.point(point)], 1.0]
        d = a.ray(at)
        t0 = float((X - a.C) @ d)
        half = 3 * float(np.std((spread - a.C) @ d)) + 0.002
        t = np.linspace(t0 - half, t0 + half, 400)
    else:
        reach = float(np.linalg.norm(np.median(solution.fit.state.X, axis=0) - a.C))
        d = a.ray(at)
        t = 1 / np.linspace(1 / (NEAR * reach), 1 / (FAR * reach), 4000)
    X = a.C + t[:, None] * d
    xy = b.see(X)
    with np.errstate(invalid="ignore"):
        inside = np.isfinite(xy).all(1) & np.all((xy >= 2) & (xy < b.size - 2), axis=1)
    X, xy = X[inside], xy[inside]
    if len(X) == 0:
        return None
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))])
    steps = np.searchsorted(along, np.arange(0, along[-1] + 1e-9, 1.0))
    return X[np.unique(steps)][:1500]


def _normals(a: Eye, b: Eye, X: Array) -> list[Array]:
    """Tilts to try for the patch: towards the source, between both cameras, across the car, and up."""
    u, v = (e.C - X for e in (a, b))
    u, v = u / np.linalg.norm(u), v / np.linalg.norm(v)
    out = [u, (u + v) / max(float(np.linalg.norm(u + v)), 1e-9)]
    for n in (np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])):
        if abs(n @ u) > 0.35 and abs(n @ v) > 0.35 and (n @ u) * (n @ v) > 0:
            out.append(n)
    return out


def _scale(a: Eye, X: Array) -> float:
    """Source pixels per sample: one, or more where the source is so sharp that a patch would show less than 30 mm."""
    px_per_m = a.f / max(float(np.linalg.norm(X - a.C)), 1e-6)
    return float(np.clip(px_per_m * 0.03 / (2 * HALF), 1.0, 4.0))


def _template(grey: Array, a: Eye, at: Array, scale: float) -> tuple[Array, Array]:
    """The source's patch (n, n) and its offsets (n·n, 2) px."""
    import cv2

    k = np.arange(-HALF, HALF + 1) * scale
    gx, gy = np.meshgrid(k, k)
    grid = np.stack([gx.ravel(), gy.ravel()], axis=1)
    patch = cv2.remap(
        grey,
        (at[0] + gx).astype(np.float32),
        (at[1] + gy).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return patch, grid


def _sample(grey: Array, a: Eye, b: Eye, at: Array, X: Array, normal: Array, grid: Array) -> Array | None:
    """The target (n, n) at the places where the source's grid meets the patch's plane; None where it leaves the picture."""
    import cv2

    corners = np.array([[0, 0], [grid[:, 0].max(), 0], [0, grid[:, 1].max()]])
    d = a.ray(at + corners)
    depth = ((X - a.C) @ normal) / (d @ normal)
    if not np.all(depth > 0):
        return None
    xy = b.see(a.C + depth[:, None] * d)
    if not np.isfinite(xy).all():
        return None
    A = np.stack([(xy[1] - xy[0]) / corners[1, 0], (xy[2] - xy[0]) / corners[2, 1]], axis=1)
    if not 0.1 < abs(np.linalg.det(A)) < 10:
        return None
    p = xy[0] + grid @ A.T
    if p.min() < 0 or np.any(p.max(0) > b.size - 1):
        return None
    n = 2 * HALF + 1
    return cv2.remap(
        grey, p[:, 0].reshape(n, n).astype(np.float32), p[:, 1].reshape(n, n).astype(np.float32), cv2.INTER_LINEAR
    )


def _score(template: Array, patch: Array | None) -> float:
    """Normalised correlation; NaN where there is no patch or nothing on it."""
    if patch is None:
        return float("nan")
    t, p = template - template.mean(), patch - patch.mean()
    size = float(np.linalg.norm(t) * np.linalg.norm(p))
    if p.std() < LEAST_TEXTURE / 3:
        return float("nan")
    return float(np.vdot(t, p) / size)


def _patch_px(a: Eye, b: Eye, at: Array, X: Array, scale: float) -> float:
    """Half the patch's width on the target, px."""
    ratio = (b.f / np.linalg.norm(X - b.C)) / (a.f / np.linalg.norm(X - a.C))
    return float(HALF * scale * ratio)


def _refine(grey: Array, a: Eye, b: Eye, at: Array, places: Array, k: int, normal: Array, template: Array, grid: Array):
    """Sub-pixel place: the best of small shifts to all sides of the best place (the cameras are not perfect), by a paraboloid
    through its neighbours. Returns (xy (2,), score, the place on the ray)."""
    base = b.see(places[k])
    reach = np.arange(-2.0, 3.0)
    table = np.full((5, 5), -1.0)
    moved = grey

    def shifted(dx: float, dy: float) -> float:
        eye = Eye(b.R, b.C, b.f, b.k1, b.principal + np.array([dx, dy]), b.size)
        got = _score(template, _sample(moved, a, eye, at, places[k], normal, grid))
        return got if np.isfinite(got) else -1.0

    for j, dy in enumerate(reach):
        for i, dx in enumerate(reach):
            table[j, i] = shifted(dx, dy)
    j, i = (int(q) for q in np.unravel_index(int(np.argmax(table)), table.shape))
    dx, dy = float(reach[i]), float(reach[j])
    if 0 < i < 4 and 0 < j < 4:
        dx += _peak(*table[j, i - 1 : i + 2])
        dy += _peak(*table[j - 1 : j + 2, i])
    return base + np.array([dx, dy]), float(table[j, i]), places[k]


def _peak(left: float, middle: float, right: float) -> float:
    """Where a parabola through three neighbours is highest, −0.5 to 0.5."""
    bend = left - 2 * middle + right
    return float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5)) if bend < 0 else 0.0


def _grey(picture: Array) -> Array:
    import cv2

    p = np.asarray(picture)
    return cv2.cvtColor(p, cv2.COLOR_RGB2GRAY).astype(np.float32) if p.ndim == 3 else p.astype(np.float32)
