"""Structure: the whole sheet of the example file against one draw at a time."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np

from longlens.numbers.number import DRAWS

FILE = Path(__file__).parents[2] / "docs" / "examples" / "structure_fulmar.json"
FEW = 100  # the least number of draws that a sheet takes


def rows() -> list[dict[str, Any]]:
    """Rows for the bench's table."""
    import dataclasses

    from longlens.systems import registry
    from longlens.systems.given import read_file
    from longlens.systems.run import run

    sheet, given = registry.sheet("structure"), read_file(FILE, "structure")
    run(sheet, given, cache=None)
    took = {}
    for draws in (DRAWS, FEW):
        one = dataclasses.replace(given, draws=draws)
        times = []
        for _ in range(5):
            began = time.perf_counter()
            run(sheet, one, cache=None)
            times.append(time.perf_counter() - began)
        took[draws] = float(np.median(times))
    return [
        {"what": f"structure sheet of the example, {DRAWS} draws, wall", "value": took[DRAWS], "unit": "s"},
        {"what": f"the same with {FEW} draws", "value": took[FEW], "unit": "s"},
        {"what": "time for twenty times the draws", "value": took[DRAWS] / took[FEW], "unit": "×"},
    ]
