"""The whole batched network against a plain loop over fluids, ht, CoolProp and scipy, point by point.

The loop (tools/bench/cooling.py) is written on its own: scalar library calls and scipy's root finders, none of the
network code. Friction and Gnielinski come from fluids and ht, the coolant from CoolProp, the effectiveness from ht's
exact quadrature; the louvred fin is the published formula written out again.
"""

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from longlens.systems.cooling.model import Conditions
from longlens.systems.cooling.network import solve

pytestmark = pytest.mark.published

PATH = Path(__file__).parents[2] / "tools" / "bench" / "cooling.py"


@pytest.mark.parametrize("plumbing", ["parallel", "left first", "right first"])
def test_hottest_node_agrees_with_the_libraries(plumbing):
    spec = importlib.util.spec_from_file_location("bench_cooling", PATH)
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    draws = bench.inputs()
    few = {name: value[:4] for name, value in draws.items()}
    speeds = np.array([8.0, 50.0])
    solved = solve(bench.network(few, plumbing), Conditions(speeds[None, :], bench.AIR))
    for draw in (0, 3):
        for k, speed in enumerate(speeds):
            one = {name: float(value[draw, 0]) for name, value in few.items()}
            alone = bench.loop_point(one, plumbing, float(speed))
            # 0.05 K on some 40 K over ambient: the property tables and the loop's mean temperature differ by that.
            assert solved.temperature["water:hot"][draw, k] == pytest.approx(alone, abs=0.05)
