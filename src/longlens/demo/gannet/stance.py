"""How the Gannet stands: as designed, steered, braking."""

from __future__ import annotations

from dataclasses import dataclass

from longlens.demo.gannet.shape import WHEELBASE


@dataclass(frozen=True)
class Stance:
    """Bumps of front and rear wheels (m, body axes) and rack travel (m, to the left)."""

    front: float = 0.0
    rear: float = 0.0
    rack: float = 0.0

    def ground_plane(self) -> tuple[float, float]:
        """Height at x = 0 and slope dz/dx of the ground in body axes."""
        return self.front, (self.front - self.rear) / WHEELBASE


STANCES = {"static": Stance(), "steered": Stance(rack=-0.030), "braking": Stance(front=0.014, rear=-0.012)}
