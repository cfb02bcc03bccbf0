"""Positions against SciPy's root finder on the bare distance equations (minpack ``hybr``, tolerance 1e-14).

Nothing of the product is used to set the equations up: the unknowns are the places of the upright's points, the
equations are "every rod and every side of the rigid upright keeps its length" and "the wheel centre has this height".
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.optimize import root

from longlens.systems.suspension.corner import LINKS, Corner
from longlens.systems.suspension.kinematics import solve
from tests.systems.suspension.cars import random_corner

pytestmark = pytest.mark.published

TRAVEL = np.linspace(-0.06, 0.06, 5)
NANOMETRE = 1e-9


def by_distances(c: Corner, travel: float, start: dict[str, np.ndarray]) -> dict[str, np.ndarray] | None:
    """Places of the moving points, from lengths alone."""
    links = [(a, b) for _, a, b in LINKS[c.layout]]
    moving = list(dict.fromkeys([b for _, b in links] + ["wheel.centre"]))
    sides = list(itertools.combinations(moving, 2))
    design = c.points
    rods2 = [np.sum((design[a] - design[b]) ** 2) for a, b in links]
    sides2 = [np.sum((design[a] - design[b]) ** 2) for a, b in sides]
    height = design["wheel.centre"][2] + travel

    def residual(x: np.ndarray) -> np.ndarray:
        now = dict(zip(moving, x.reshape(-1, 3), strict=True))
        return np.array(
            [np.sum((design[a] - now[b]) ** 2) - l2 for (a, b), l2 in zip(links, rods2, strict=True)]
            + [np.sum((now[a] - now[b]) ** 2) - l2 for (a, b), l2 in zip(sides, sides2, strict=True)]
            + [now["wheel.centre"][2] - height]
        )

    x0 = np.concatenate([start[k] for k in moving])
    found = root(residual, x0, method="lm", options={"xtol": 1e-15, "ftol": 1e-15, "gtol": 1e-15, "maxiter": 4000})
    if np.max(np.abs(found.fun)) > 1e-12:
        return None
    return dict(zip(moving, found.x.reshape(-1, 3), strict=True))


@pytest.mark.parametrize("layout", ["double_wishbone", "five_link"])
def test_fifty_random_linkages_agree_to_a_nanometre(layout: str) -> None:
    rng = np.random.default_rng(5)
    checked, worst = 0, 0.0
    while checked < 50:
        c = random_corner(rng, layout)
        m = solve(c, TRAVEL)
        if not m.reached.all():
            continue
        start = {k: np.array(p) for k, p in c.points.items()}
        whole = True
        for half in (range(2, 5), range(1, -1, -1)):
            at = dict(start)
            for k in half:
                found = by_distances(c, float(TRAVEL[k]), at)
                if found is None:
                    whole = False
                    break
                at |= found
                for name, place in found.items():
                    worst = max(worst, float(np.max(np.abs(m.point(name)[k] - place))))
        checked += whole
    assert worst < NANOMETRE
