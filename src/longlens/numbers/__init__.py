"""The currency: a quantity with a unit, joint draws, an interval, a kind and a trail.

``Number`` with ``stated``, ``assumed``, ``joint``, ``lift`` and ``beats`` is in :mod:`.number`;
distributions, drivers, units, display and tyre designations each in the module of that name.
"""

from longlens.numbers.distributions import (
    Exact,
    LogNormal,
    Normal,
    Triangular,
    TruncatedNormal,
    Uniform,
    model_factor,
    relative,
    within,
)
from longlens.numbers.interval import Interval, Share
from longlens.numbers.number import DRAWS, Number, assumed, beats, exact, joint, lift, stated
from longlens.numbers.trail import KINDS, Kind, Origin

__all__ = [
    "DRAWS", "KINDS", "Exact", "Interval", "Kind", "LogNormal", "Normal", "Number", "Origin", "Share",
    "Triangular",
    "TruncatedNormal", "Uniform", "assumed", "beats", "exact", "joint", "lift", "model_factor", "relative",
    "stated",
    "within",
]  # fmt: skip
