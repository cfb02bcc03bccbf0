"""Static camber and toe from rims: against the true axes of invented cars, and what must not be taken."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from tools.studies.hardpoint_cars import car

from longlens.dossier.exchange import read_exchange
from longlens.dossier.from_exchange import from_exchange
from longlens.dossier.records import Fact, Vehicle
from longlens.dossier.store import Dossier
from longlens.systems.from_dossier import known_numbers
from longlens.systems.survey_numbers import numbers_of
from longlens.systems.surveying import solve
from longlens.systems.suspension import axes, rims
from longlens.systems.suspension.corner import spin_axis

DEG = np.pi / 180


def pretended(
    turned: dict[str, tuple[float, float]], sd: float = 0.1, spread: float = 2.0, stance: str = "static"
) -> Any:
    """A solved survey, as far as rims need it: axes of rims at camber and steer to the left, degrees, with sd."""
    rng = np.random.default_rng(5)
    normals = []
    for name, (camber, steer) in turned.items():
        left = name.startswith("left")
        g, toe = ((a + rng.normal(0, sd, 4000)) * DEG for a in (camber, -steer if left else steer))
        spin = spin_axis(g, toe)
        normals.append(spin if left else axes.mirror(spin))
    document = SimpleNamespace(
        shots=[SimpleNamespace(id="s1", stance=stance)],
        marks=[SimpleNamespace(shot="s1", circle=c) for c in turned],
        circles=[SimpleNamespace(id=c, axis="lateral", axis_sd_deg=spread) for c in turned],
    )
    state = SimpleNamespace(normal=np.stack(normals, axis=1))
    return SimpleNamespace(
        net=SimpleNamespace(circles=list(turned), document=document), drawn=SimpleNamespace(state=state)
    )


def middles(solution: Any) -> dict[str, float]:
    return {k: float(np.mean(x)) / DEG for k, (x, _) in rims.wheel_angles(solution).items()}


def test_steered_wheels_keep_their_toe() -> None:
    """Both wheels 6° to the left and 0.2° in: steer drops out between the sides."""
    both = {"left.front.rim": (-1.5, 6.0 - 0.2), "right.front.rim": (-1.9, 6.0 + 0.2)}
    told = middles(pretended(both, sd=0.05))
    assert told["toe_front"] == pytest.approx(0.2, abs=0.01)
    assert told["camber_front"] == pytest.approx(-1.7, abs=0.02)
    one = middles(pretended({"left.front.rim": (-1.5, 6.0)}, sd=0.05))
    assert set(one) == {"camber_front"}  # one wheel cannot tell toe from steer
    rear = middles(pretended({"right.rear.rim": (-1.0, 0.1)}, sd=0.05))
    assert rear["camber_rear"] == pytest.approx(-1.0, abs=0.02) and rear["toe_rear"] == pytest.approx(0.1, abs=0.02)


def test_what_says_too_little_or_cannot_be_is_not_taken() -> None:
    assert middles(pretended({"left.rear.rim": (-1.5, 0.0)}, sd=0.9, spread=1.0)) == {}  # the spread, not the marks
    assert middles(pretended({"left.rear.rim": (-1.5, 0.0)}, sd=1.0, spread=5.0)) == {}  # wider than the assumption
    assert "camber_rear" not in middles(pretended({"left.rear.rim": (-20.0, 0.0)}))
    assert middles(pretended({"left.rear.rim": (-1.5, 0.0)}, stance="bump")) == {}


def test_the_surveys_spread_is_taken_out_again() -> None:
    """Marks say −2.0 ± 0.6, the survey's prior 0 ± 1.0: product of two normals, −2/1.36 ± 0.6/√1.36; back to the marks'."""
    rng = np.random.default_rng(1)
    z = rng.standard_normal(200_000)
    z = (z - z.mean()) / z.std()
    back = rims.without_prior(-2.0 / 1.36 + 0.6 / np.sqrt(1.36) * z, 1.0)
    assert back is not None
    assert np.mean(back) == pytest.approx(-2.0, rel=1e-9) and np.std(back) == pytest.approx(0.6, rel=1e-9)


def test_surveyed_cars_hold_their_true_camber() -> None:
    """Truth: the spin axes that the invented cars were drawn with."""
    misses = []
    for seed in range(5101, 5107):
        case = car(seed, shots=5)
        known = numbers_of(solve(read_exchange(case.document)[0], draws=300))
        for end, corner in case.corners.items():
            for what, true in (("camber", axes.camber(corner.spin)), ("toe", axes.toe(corner.spin))):
                n = known.get(f"measure:{what}_{end}")
                if n is not None:
                    assert n.unit == "rad" and n.origin.inputs
                    misses.append((np.mean(n.draws) - true) / np.std(n.draws))
    assert len(misses) >= 8
    assert np.sqrt(np.mean(np.square(misses))) < 1.6 and np.max(np.abs(misses)) < 4.0


def test_in_a_dossier_a_stated_camber_goes_before(tmp_path: Path) -> None:
    case = car(5102, shots=5)
    with Dossier.create(tmp_path / "rims.longlens", Vehicle(name="invented linkage", maker="nobody")) as dossier:
        from_exchange(dossier, read_exchange(json.loads(json.dumps(case.document)))[0])
        known, _ = known_numbers(dossier, draws=200)
        assert "measure:camber_front" in known
        assert any("front.rim" in str(o.record) for o in known["measure:camber_front"].origin.inputs)
        dossier.put(Fact(id="camber_front", of="camber front", value=-1.0, sd=0.1, unit="deg", source="invented sheet"))
        known, _ = known_numbers(dossier, draws=200)
        assert "measure:camber_front" not in known and "fact:camber_front" in known
        assert "measure:camber_rear" in known


def test_a_toe_told_worse_than_assumed_narrows_the_assumption() -> None:
    """Product of two normals by hand: rims 0.30 ± 0.2/√2°, twice the one side's; assumption 0 ± 0.15°."""
    turned = {"left.rear.rim": (-1.5, -0.3), "right.rear.rim": (-1.5, 0.3)}
    solution = pretended(turned, sd=0.30)
    assert "toe_rear" not in rims.wheel_angles(solution)
    x, circles = rims.weighed_toe(solution)["toe_rear"]
    told = np.mean(x) / DEG, np.std(x) / DEG
    s = 0.30 / np.sqrt(2)  # the survey's own hold of 2° hardly matters
    w = 0.15**2 / (0.15**2 + s**2)
    assert told[0] == pytest.approx(w * 0.3, abs=0.01) and told[1] == pytest.approx(0.15 * np.sqrt(1 - w), rel=0.04)
    assert circles == set(turned)
    assert rims.weighed_toe(pretended(turned, sd=0.05)) == {}  # told better: taken as it is
    assert rims.weighed_toe(pretended(turned, sd=0.9)) == {}  # tells nothing
