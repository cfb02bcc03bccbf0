"""From the exchange form into a dossier, as one undo step."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from longlens.dossier import exchange
from longlens.dossier.exchange import ExchangeDocument
from longlens.dossier.kinds import Record, kind_of
from longlens.dossier.records import Circle, Fact, Mark, Measure, Point, Shot, Stance
from longlens.dossier.stages import make_stage
from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput


@dataclass(frozen=True)
class Imported:
    """How many records were made and how many were changed, by kind; and what a dossier cannot keep."""

    made: dict[str, int]
    changed: dict[str, int]
    remarks: tuple[str, ...] = ()


def from_exchange(dossier: Dossier, document: ExchangeDocument, *, stage: str | None = None) -> Imported:
    """Write a document's records into a dossier.

    A record whose id is there already takes what the document says and keeps the rest (part, note, credit …);
    a mark replaces the one of the same point or circle on the same shot. Records that the document does not
    have stay. The vehicle keeps its name.

    Parameters
    ----------
    stage : written into the shots; made when it is not there yet.

    Raises
    ------
    UnusableInput : a shot has another size than its photograph here, or what comes together does not fit;
        nothing is written then.
    """
    tally = _Tally(dossier)
    with dossier.batch("import exchange document"):
        make_stage(dossier, stage)
        known = set(dossier.ids(Stance))
        for name in dict.fromkeys(s.stance for s in document.shots):
            if name not in known:
                tally.write(Stance, {"id": name})
        for shot in document.shots:
            _check_size(dossier, shot)
            tally.write(Shot, shot.model_dump(exclude_unset=True) | ({"stage": stage} if stage else {}))
        for item in document.points:
            tally.write(Point, item.model_dump(exclude_unset=True))
        for circle in document.circles:
            tally.write(Circle, circle.model_dump(exclude_unset=True))
        for fact in document.facts:  # whole: what it is of may have changed
            tally.write(Fact, fact.model_dump())
        for measure in document.measures:
            tally.write(Measure, measure.model_dump())
        for fields in _marks(dossier, document):
            tally.write(Mark, fields)
    return Imported(dict(tally.made), dict(tally.changed), _not_kept(document))


def _not_kept(document: ExchangeDocument) -> tuple[str, ...]:
    n = len(document.equal_lengths)
    if not n:
        return ()
    rules = "1 equal length is" if n == 1 else f"{n} equal lengths are"
    return (
        f"{rules} left out: a dossier keeps none, its survey reads them from the points' names "
        "(NAME@STANCE); to have these count, survey the document itself: longlens survey FILE.json",
    )


class _Tally:
    def __init__(self, dossier: Dossier) -> None:
        self.dossier = dossier
        self.made: dict[str, int] = defaultdict(int)
        self.changed: dict[str, int] = defaultdict(int)

    def write(self, model: type[Record], fields: dict[str, Any]) -> None:
        old = self.dossier.find(model, fields["id"])
        try:
            record = model.model_validate({**(old.model_dump() if old else {}), **fields})
        except ValidationError as e:
            reason = e.errors()[0]["msg"].removeprefix("Value error, ")
            raise UnusableInput(
                f"does not fit what the dossier has: {reason}",
                where=f"{kind_of(model).name} {fields['id']!r}",
            ) from None
        if old == record:
            return
        self.dossier.put(record)
        (self.made if old is None else self.changed)[kind_of(model).name] += 1


def _check_size(dossier: Dossier, shot: exchange.Shot) -> None:
    old = dossier.find(Shot, shot.id)
    if old is not None and (old.width, old.height) != (shot.width, shot.height):
        raise UnusableInput(
            f"{shot.width} × {shot.height} pixels in the document, {old.width} × {old.height} in the dossier",
            where=f"shot {shot.id!r}",
            fix="marks belong to one size of the picture: give the shot another id",
        )


def _marks(dossier: Dossier, document: ExchangeDocument) -> list[dict[str, Any]]:
    """The document's marks with ids: the n-th of a point on a shot is the n-th that the dossier has of it."""
    there: dict[tuple[str, str, str], list[Mark]] = defaultdict(list)
    taken = set()
    for old in dossier.all(Mark):
        taken.add(old.id)
        if old.form in ("point", "rim") and not old.set_aside:
            there[old.shot, old.form, old.point or old.circle or ""].append(old)
    out = []
    for mark in document.marks:
        form = "point" if mark.point is not None else "rim"
        target = mark.point or mark.circle or ""
        same = there[mark.shot, form, target]
        used = {"shot", "sd_px"} | ({"point", "x", "y"} if form == "point" else {"circle", "edge"})
        fields: dict[str, Any] = mark.model_dump(include=used) | {"form": form}
        if same:
            old = same.pop(0)
            fields["id"] = old.id
            if mark.certainty or mark.inferred != (old.certainty == "inferred"):  # else "partly seen" stays what it was
                fields["certainty"] = _certainty(mark)
        else:
            fields["id"] = _free(f"{mark.shot}:{target}", taken)
            fields["certainty"] = _certainty(mark)
        taken.add(fields["id"])
        out.append(fields)
    return out


def _certainty(mark: exchange.Mark) -> str:
    return mark.certainty or ("inferred" if mark.inferred else "seen")


def _free(wanted: str, taken: set[str]) -> str:
    wanted = wanted[:180]
    free, n = wanted, 1
    while free in taken:
        n += 1
        free = f"{wanted}:{n}"
    return free
