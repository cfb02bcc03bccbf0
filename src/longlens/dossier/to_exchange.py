"""From the dossier to the exchange form: what the survey of one stage needs, and nothing else."""

from __future__ import annotations

import hashlib
from typing import Any

from longlens.dossier import exchange
from longlens.dossier.exchange import ExchangeDocument, read_exchange, write_exchange
from longlens.dossier.reading import Reader, canonical
from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Shot, Stage, Vehicle


def to_exchange(reader: Reader, *, stage: str | None = None) -> ExchangeDocument:
    """The exchange document of a dossier, or of a frozen state of it.

    Parameters
    ----------
    stage : only the shots of this stage, the facts that hold for it, and the points and circles that these
        and the measures speak of. Default: everything.

    Left out are drawings that are not surveyed, marks set aside, facts that are of no place or length, and
    what the exchange form has no field for.

    Raises
    ------
    UnusableInput : the stage does not exist; or a record names another that is gone, with the place.
    """
    if stage is not None:
        reader.get(Stage, stage)
    vehicle = reader.all(Vehicle)
    shots = [s for s in reader.all(Shot) if stage is None or s.stage == stage]
    seen_on = {s.id for s in shots}
    marks = [m for m in reader.all(Mark) if m.shot in seen_on and m.form in ("point", "rim") and not m.set_aside]
    facts = [f for f in reader.all(Fact) if f.surveyed and (stage is None or f.stage in (None, stage))]
    points, circles = reader.all(Point), reader.all(Circle)
    document: dict[str, Any] = {
        "format": exchange.FORMAT,
        "version": exchange.VERSION,
        "vehicle": {"name": vehicle[0].name if vehicle else ""},
        "shots": [_fields(s, exchange.Shot) for s in shots],
        "points": [_fields(p, exchange.Point) for p in points],
        "circles": [_fields(c, exchange.Circle) for c in circles],
        "facts": [f.exchange_fields() for f in facts],
        "marks": [_mark(m) for m in marks],
        "measures": [_fields(m, exchange.Measure) for m in _measures(reader, seen_on if stage else None)],
    }
    if stage is not None:
        _keep_only_spoken_of(document)
    return read_exchange(document)[0]


def document_hash(document: ExchangeDocument) -> str:
    """SHA-256 of the document: two documents of the same content have the same."""
    return hashlib.sha256(canonical(write_exchange(document)).encode()).hexdigest()


def stages_with_marks(reader: Reader) -> list[str | None]:
    """The stages whose shots carry marks, earliest first; None stands for shots of no stage."""
    marked = {m.shot for m in reader.all(Mark)}
    found = {s.stage for s in reader.all(Shot) if s.id in marked}
    known = sorted(reader.all(Stage), key=lambda s: s.order)
    return [s.id for s in known if s.id in found] + ([None] if None in found else [])


def _measures(reader: Reader, shots: set[str] | None) -> list[Measure]:
    """The measures; of one stage: without those taken on a shot of another, and the ratios that need them."""
    found = reader.all(Measure)
    if shots is None:
        return found
    away = {m.id for m in found if m.rod_diameter is not None and m.rod_diameter.shot not in shots}
    return [m for m in found if m.id not in away and not away.intersection(m.ratio or ())]


def _fields(record: Any, model: Any) -> dict[str, Any]:
    return record.model_dump(mode="json", include=set(model.model_fields), exclude_none=True)


def _mark(mark: Mark) -> dict[str, Any]:
    out = mark.model_dump(
        mode="json", include={"shot", "sd_px", "point", "x", "y", "circle", "edge"}, exclude_none=True
    )
    if mark.certainty == "inferred":
        out["inferred"] = True
    elif mark.certainty != "seen":
        out["certainty"] = mark.certainty
    return out


def _keep_only_spoken_of(document: dict[str, Any]) -> None:
    """Drop points and circles that no mark, fact or measure leads to, by a twin or a centre either."""
    spoken: set[str] = set()
    for mark in document["marks"]:
        spoken.update(mark[k] for k in ("point", "circle") if k in mark)
    for item in [*document["facts"], *document["measures"]]:
        spoken.update(_texts(item))
    circles = {c["id"]: c for c in document["circles"]}
    points = {p["id"]: p for p in document["points"]}
    twins = {p["mirror"]: p["id"] for p in document["points"] if "mirror" in p}
    waiting = list(spoken)
    while waiting:
        one = waiting.pop()
        leads = [circles.get(one, {}).get("centre"), points.get(one, {}).get("mirror"), twins.get(one)]
        for other in leads:
            if other is not None and other not in spoken:
                spoken.add(other)
                waiting.append(other)
    for name in ("points", "circles"):
        document[name] = [item for item in document[name] if item["id"] in spoken]


def _texts(value: Any) -> set[str]:
    if isinstance(value, str):
        return {value}
    if isinstance(value, dict):
        value = list(value.values())
    return set().union(*(_texts(v) for v in value)) if isinstance(value, (list, tuple)) else set()
