"""Every number of a stage as CSV and JSON: unit, interval, kind, trail; and the hardpoints as a plain table."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

from longlens.dossier.records import Fact
from longlens.dossier.store import Dossier
from longlens.publish.basis import Basis, LostBasis, Shown
from longlens.publish.model import model_of
from longlens.publish.page import CAUTION

COLUMNS = ("reference", "name", "system", "kind", "value", "low95", "high95", "unit", "text", "source", "trail")


def areas_answered(basis: Basis) -> list[str]:
    """The areas whose sheet has something to say of this dossier: something was given for it, or the survey gives it."""
    from longlens.systems.records import SheetInput
    from longlens.systems.registry import areas

    given = {r.area for r in basis.dossier.all(SheetInput)}
    return [a for a in areas() if a in given or (a == "suspension" and basis.answer)]


def numbers(basis: Basis) -> list[Shown]:
    """Measures, facts that hold for the stage, and the sheets' single figures, in this order."""
    out: list[Shown] = []
    for measure in basis.document.measures:
        if measure.id in basis.answer.get("measures", {}):
            out.append(basis.number(f"measure:{measure.id}"))
    for fact in basis.dossier.all(Fact):
        if basis.stage is None or fact.stage in (None, basis.stage):
            out.append(basis.number(f"fact:{fact.id}"))
    for area in areas_answered(basis):
        try:
            runs = basis.sheet(area)
        except LostBasis:
            continue
        for variant, run in runs.items():
            head = f"{area}/{variant}" if variant else area
            for name, got in run.get("outputs", {}).items():
                if not isinstance(got["value"], list):
                    out.append(basis.number(f"{head}:{name}"))
    return out


def numbers_csv(found: Sequence[Shown]) -> str:
    """A table with a head; the trail's parts are set apart by ``; ``. No cell begins as a formula of a spreadsheet does."""
    buffer = io.StringIO()
    table = csv.writer(buffer, lineterminator="\n")
    table.writerow(COLUMNS)
    for n in found:
        row = (n.ref, n.name, n.system, n.kind, n.value, n.low, n.high, n.unit, n.text, n.source, "; ".join(n.trail))
        table.writerow([_cell(v) for v in row])
    return buffer.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(value)
    text = " ".join(str(value).split())
    return f"'{text}" if text[:1] in ("=", "+", "@", "\t") else text


def numbers_json(found: Sequence[Shown], basis: Basis) -> str:
    """The same as JSON, with the caution and what each field means."""
    body = {
        "format": "longlens-numbers",
        "version": 1,
        "vehicle": basis.document.vehicle.name,
        "stage": basis.stage,
        "caution": CAUTION,
        "fields": {
            "value": "best estimate, in unit (SI; a fact's own unit)", "low95": "2.5 % of the draws lie below",
            "high95": "2.5 % of the draws lie above", "kind": "stated, measured, computed or assumed",
            "trail": "what it rests on: marks on photographs, facts, models",
        },
        "numbers": [
            {"reference": n.ref, "name": n.name, "system": n.system, "kind": n.kind, "value": n.value, "low95": n.low,
             "high95": n.high, "unit": n.unit, "text": n.text, "source": n.source, "trail": list(n.trail)}
            for n in found
        ],
    }  # fmt: skip
    return json.dumps(body, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def hardpoints_csv(basis: Basis) -> str:
    """The placed points: vehicle axes after ISO 8855 (x forward, y left, z up), mm, with standard deviations."""
    buffer = io.StringIO()
    table = csv.writer(buffer, lineterminator="\n")
    table.writerow(("point", "system", "x_mm", "y_mm", "z_mm", "sd_x_mm", "sd_y_mm", "sd_z_mm"))
    model = model_of(basis)
    for name in sorted(model.points):
        places = [f"{v * 1e3:.2f}" for v in (*model.points[name], *model.sds[name])]
        table.writerow((_cell(name), basis.system_of(name), *places))
    return buffer.getvalue()


def exchange_json(dossier: Dossier, basis: Basis) -> str:
    """The exchange document of the stage, as ``longlens survey`` takes it."""
    from longlens.dossier.exchange import write_exchange

    return json.dumps(write_exchange(basis.document), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
