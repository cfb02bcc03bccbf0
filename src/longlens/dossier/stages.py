"""The stages of the vehicle: made when first spoken of, in the order of time."""

from __future__ import annotations

from longlens.dossier.records import Stage
from longlens.dossier.store import Dossier


def make_stage(dossier: Dossier, id: str | None) -> None:
    """Make the stage, as the latest one, unless it is there already; None is no stage."""
    if id is None or dossier.find(Stage, id) is not None:
        return
    latest = max((s.order for s in dossier.all(Stage)), default=0)
    dossier.add(Stage(id=id, name=id, order=latest + 1))
