"""The Skerry Gannet, an invented turbocharged mid-engined track car with pullrods at both ends, in two stages.

``test``: the camouflaged test car with a tail spoiler and a small charge cooler. ``shown``: the car as presented, with
a wing, a larger charge cooler, an oil cooler, other wheels and a thicker anti-roll bar. Nothing here is a real car.
"""

from longlens.demo.gannet.asked import facts, measures, rods_to_measure, sheet, stanced_measures
from longlens.demo.gannet.car import build
from longlens.demo.gannet.shape import FRONT_TYRE, REAR_TYRE
from longlens.demo.gannet.stance import STANCES
from longlens.demo.gannet.suspension import SPRING_FRONT, SPRING_REAR, corners

__all__ = [
    "FRONT_TYRE",
    "REAR_TYRE",
    "SPRING_FRONT",
    "SPRING_REAR",
    "STANCES",
    "build",
    "corners",
    "facts",
    "measures",
    "rods_to_measure",
    "sheet",
    "stanced_measures",
]
