"""The Skerry Fulmar E4, an invented battery-electric hill-climb single-seater: its joints, its bodies, two stages.

``test``: the camouflaged test car. ``shown``: the car as presented. What differs between them is what an engineer would
look for: front wing, pushrod foot, heave element, anti-roll bar, second coolers with fans, the coolers' plumbing, end
plates, instrumentation. Nothing here is a real car.
"""

from longlens.demo.fulmar.asked import facts, measures, rods_to_measure, sheet, stanced_measures
from longlens.demo.fulmar.car import build
from longlens.demo.fulmar.shape import FRONT_TYRE, REAR_TYRE
from longlens.demo.fulmar.stance import STANCES
from longlens.demo.fulmar.suspension import SPRING_CHASSIS, corners

__all__ = [
    "FRONT_TYRE",
    "REAR_TYRE",
    "SPRING_CHASSIS",
    "STANCES",
    "build",
    "corners",
    "facts",
    "measures",
    "rods_to_measure",
    "sheet",
    "stanced_measures",
]
