"""The Fulmar's cooling: a core in each pod with its pipes, on the shown car a second one with a fan, the header tank.

The test car's cores stand in series, the shown car's side by side.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from longlens.demo import coolers as k
from longlens.demo import details as d
from longlens.demo.mechanics import unit, vec
from longlens.demo.model import Model
from longlens.demo.solids import Array, bent, box, frame, lathe, merge, rod, spline, tube

MAIN_CORE = k.Core(
    (-0.985, 0.652),
    (-1.418, 0.392),
    -0.052,
    0.108,
    0.428,
    0.042,
    collector_start=(0.054, 0.036),
    collector_end=(0.036, 0.054),
)
SMALL_CORE = k.Core(
    (-1.545, 0.575),
    (-1.585, 0.372),
    0.0,
    0.115,
    0.325,
    0.030,
    0.0085,
    0.0018,
    collector_start=(0.032, 0.032),
    collector_end=(0.032, 0.032),
)
TEST_CORE = replace(MAIN_CORE, sagitta=-0.030, top=0.404, thick=0.036)


def add_cooling(m: Model, shown: bool) -> None:
    """Cores, pipes, tank and pump."""
    union = _add_header_tank(m)
    for _ in m.both_sides():
        _add_cooler(m, union, shown)
        if shown:
            _add_second_cooler(m)
        else:
            m.add("second_cooler.blank", box(vec(-1.565, 0.475, 0.22), (0.004, 0.21, 0.21), 0.001), "aluminium")
    if shown:
        _add_tee_pipe(m)
    else:
        _add_cross_pipe(m)
    m.add(
        "pump",
        lathe(
            [(-0.05, 0), (-0.05, 0.036), (0.02, 0.036), (0.024, 0.044), (0.045, 0.044), (0.047, 0)],
            vec(-2.0, 0.10, 0.10),
            vec(0, 1, 0),
            44,
        ),
        "cast",
    )


def _add_header_tank(m: Model) -> Array:
    """The tank between the hoop's stays; the place of its union is returned."""
    at = vec(-1.575, 0.0, 0.700)
    union = k.add_header_tank(m, "header_tank", at, (0.120, 0.170, 0.115))
    m.add("header_tank.strap", box(at - vec(0, 0, 0.062), (0.03, 0.20, 0.006), 0.002), "machined")
    for sgn in (1, -1):
        leg = rod(at + vec(0, sgn * 0.09, -0.06), vec(-1.585, sgn * 0.105, 0.45), 0.006, 16)
        m.add("header_tank.leg", leg, "steel_black")
    return union


def _add_cooler(m: Model, union: Array, shown: bool) -> None:
    """A pod's main core, its pipes and its bleed line."""
    k.add_core(m, "cooler", MAIN_CORE if shown else TEST_CORE, -1.0)
    head = m.left_hand("cooler.collector_end.head")
    foot = m.left_hand("cooler.collector_start.foot")
    # a connector stands square on each collector where it is thickest
    hot_end = head + vec(-0.022, 0.0, -0.032)
    cool_end = foot + vec(-0.010, -0.022, 0.026)
    _add_feed_pipe(m, hot_end, "pipe" if shown else "hose")
    _add_return_pipe(m, cool_end)
    _add_bleed_line(m, head + vec(0, 0, 0.016), vec(union[0], abs(union[1]), union[2]))
    for tag, p in (("hot", hot_end), ("cool", cool_end)):
        m.add(
            f"cooler.connector_{tag}",
            rod(p + (head - p if tag == "hot" else foot - p) * vec(1, 1, 0) * 0.8, p, 0.0165, 28),
            "cast",
        )


def _add_feed_pipe(m: Model, start: Array, kind: str) -> None:
    path = bent(
        [
            start,
            start + vec(-0.085, 0.0, 0.004),
            vec(-1.70, 0.318, 0.415),
            vec(-1.86, 0.235, 0.400),
            vec(-1.93, 0.205, 0.36),
            vec(-1.935, 0.19, 0.315),
        ],
        0.055,
    )
    clips = ((0.52, d.along(path, 0.52)[0] + vec(0.0, -0.045, -0.02)),)
    k.add_pipe(m, "feed_pipe", path, 0.032, kind, True, clips, "coolant, hot", tape=0.36)


def _add_return_pipe(m: Model, start: Array) -> None:
    path = bent(
        [
            start,
            start + vec(-0.075, -0.030, -0.012),
            vec(-1.20, 0.605, 0.088),
            vec(-1.52, 0.520, 0.082),
            vec(-1.86, 0.330, 0.082),
            vec(-1.98, 0.180, 0.092),
        ],
        0.07,
    )
    clips = tuple((s, d.along(path, s)[0] * vec(1, 1, 0) + vec(0, 0.034, 0.041)) for s in (0.24, 0.48, 0.72))
    k.add_pipe(m, "return_pipe", path, 0.030, "pipe", True, clips, "coolant, cool", tape=0.36)


def _add_bleed_line(m: Model, top: Array, union: Array) -> None:
    """From the core's highest place to the header tank's union."""
    bleed = spline(
        [
            top,
            top + vec(-0.004, -0.006, 0.045),
            vec(-1.470, 0.318, 0.535),
            vec(-1.520, 0.225, 0.648),
            union + vec(0, 0.060, -0.004),
            union + vec(0, 0.018, 0),
        ],
        14,
    )
    m.add("bleed_line", tube(bleed, 0.0048, 16), "braided")
    m.add(
        "bleed_line.unions",
        merge(
            [
                lathe(
                    [(-0.004, 0), (-0.004, 0.0085), (0.010, 0.0085), (0.014, 0.0055), (0.024, 0.0055)],
                    bleed[0],
                    vec(0, 0, 1),
                    6,
                ),
                lathe([(0, 0.0055), (0.010, 0.0075), (0.024, 0.0075)], bleed[-1] + vec(0, 0.02, 0), vec(0, -1, 0), 6),
            ]
        ),
        "anodised",
    )
    m.pipe("bleed_line", bleed, 0.0096, carries="coolant and air")
    m.point("bleed_line.low_end", bleed[0] + vec(0, 0, 0.006), 0.009, 0.6)
    for i, s in enumerate((0.32, 0.62)):
        p, e = d.along(bleed, s)
        metal, liner = d.p_clip(p, e, 0.0048, p + vec(-0.004, -0.028, -0.012))
        m.add("bleed_line.bracket", metal, "steel")
        m.add("bleed_line.bracket.liner", liner, "rubber")
        m.point(f"bleed_line.bracket_{i + 1}", p, 0.008, 0.7)


def _add_second_cooler(m: Model) -> None:
    """The core behind the main one, its fan, its loom and its pipe."""
    k.add_core(m, "second_cooler", SMALL_CORE, 1.0)
    n3 = unit(np.array([-0.98, -0.19, 0]))
    c = SMALL_CORE.at(np.array([0.5]), np.array([0.5]))[0] + n3 * 0.024
    m.add("second_cooler.cowl", box(c + n3 * 0.004, (0.212, 0.214, 0.008), 0.003, frame(n3)), "plastic")
    k.add_fan(m, "fan", c + n3 * 0.012, n3, 0.094)
    wire, ties = d.loom(
        spline(
            [
                c + n3 * 0.06,
                c + n3 * 0.09 + vec(0, -0.05, -0.04),
                vec(-1.72, 0.30, 0.14),
                vec(-1.86, 0.255, 0.13),
            ],
            10,
        ),
        0.0055,
        3,
    )
    m.add("fan.loom", wire, "sleeve")
    m.add("fan.loom.ties", ties, "black")
    oil = bent(
        [vec(-1.570, 0.350, 0.30), vec(-1.62, 0.315, 0.30), vec(-1.82, 0.275, 0.275), vec(-2.06, 0.165, 0.26)],
        0.04,
    )
    k.add_pipe(m, "drive_pipe", oil, 0.019, "hose", False, (), "drive unit oil")
    for s in (0.02, 0.98):
        p, e = d.along(oil, s)
        m.add(
            "drive_pipe.union",
            lathe([(-0.012, 0.0095), (-0.012, 0.0145), (0.004, 0.0145), (0.008, 0.0115), (0.014, 0.0105)], p, e, 6),
            "anodised",
        )


def _add_cross_pipe(m: Model) -> None:
    """In series: under the seat from the left core's outlet to the right one's inlet; only its ends show."""
    path = bent(
        [
            vec(-1.065, 0.600, 0.085),
            vec(-1.09, 0.40, 0.05),
            vec(-1.09, -0.40, 0.05),
            vec(-1.065, -0.600, 0.085),
        ],
        0.07,
    )
    k.add_pipe(m, "cross_pipe", path, 0.030, "hose", False, (), "coolant, between the cores")
    m.other["plumbing"] = "series"
    m.other["hidden"] = "cross_pipe"


def _add_tee_pipe(m: Model) -> None:
    """Side by side: one pipe that feeds both cores."""
    path = bent(
        [vec(-1.935, 0.19, 0.315), vec(-1.945, 0.10, 0.245), vec(-1.945, -0.10, 0.245), vec(-1.935, -0.19, 0.315)],
        0.05,
    )
    k.add_pipe(m, "tee_pipe", path, 0.034, "pipe", False, (), "coolant, hot, to both cores")
    m.other["plumbing"] = "parallel"
    m.other["hidden"] = "tee_pipe"
