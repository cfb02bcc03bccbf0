"""What the engineer of the demo tells the sheets beside the marks.

The inputs are links to measures, points and facts where there are any, else assumptions with their reason; they hold for both
stages, so they are kept once.
"""

from __future__ import annotations

import json

from longlens.demo.stages import DATA, Progress, Result
from longlens.dossier.store import Dossier
from longlens.systems.from_dossier import keep_given
from longlens.systems.given import Given
from longlens.systems.records import SheetInput


def keep_sheets(dossier: Dossier, result: Result, progress: Progress) -> None:
    """Keep the car's inputs of every area in ``data/CAR.sheets.json`` and, of single areas, ``data/CAR.AREA.sheets.json``."""
    there = {record.area for record in dossier.all(SheetInput)}
    for path in sorted(DATA.glob(f"{result.car}.*sheets.json")):
        for area, given in json.loads(path.read_text(encoding="utf-8")).items():
            if area not in there:
                keep_given(
                    dossier, area, Given(given["inputs"], given["variants"], where="the demo's story (invented)")
                )
