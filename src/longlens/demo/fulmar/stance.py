"""How the Fulmar stands: as designed, hanging on trestles, with its wheels turned."""

from __future__ import annotations

from dataclasses import dataclass

from longlens.demo.fulmar.shape import WHEELBASE


@dataclass(frozen=True)
class Stance:
    """Ride height and steer: bumps of front and rear wheels (m, body axes), rack travel (m, to the left), the ground
    if not under the tyres, and whether the car stands on trestles."""

    front: float = 0.0
    rear: float = 0.0
    rack: float = 0.0
    ground: tuple[float, float] | None = None
    trestles: bool = False

    def ground_plane(self) -> tuple[float, float]:
        """Height at x = 0 and slope dz/dx of the ground in body axes."""
        if self.ground is not None:
            return self.ground
        return self.front, (self.front - self.rear) / WHEELBASE


STANCES = {
    "static": Stance(),
    "hanging": Stance(front=-0.048, rear=-0.040, rack=0.024, ground=(-0.185, 0.0), trestles=True),
    "turning": Stance(front=0.011, rack=-0.027),
}
