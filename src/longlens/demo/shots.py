"""Every photograph of the demo, car by car."""

from __future__ import annotations

from longlens.demo.camera import Shot, camera_of, project
from longlens.demo.fulmar.shots import SHOTS as FULMAR
from longlens.demo.gannet.shots import SHOTS as GANNET

__all__ = ["FULMAR", "GANNET", "Shot", "camera_of", "project", "shots_of"]


def shots_of(car: str, stage: str | None = None) -> list[Shot]:
    """The photographs of a car, of one stage or of all."""
    everything: dict[str, tuple[Shot, ...]] = {"fulmar": FULMAR, "gannet": GANNET}
    return [s for s in everything[car] if stage in (None, s.stage)]
