"""A quasi-steady lap: at each station the car is at its limit of cornering, driving or braking; forward–backward pass.

Source: the usual lap model of the field (e.g. Siegler, Deakin and Crolla, SAE 2000-01-3563: quasi-steady state). Limits: a
point mass with the four tyres' limits, the centre line, no transients, perfect driver: lap times are for comparing variants,
true ones come out some per cent longer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from longlens.numbers.streams import Array
from longlens.systems.running.cornering import Sides, lateral_limit
from longlens.systems.running.grip import GRAVITY
from longlens.systems.running.straight import Car, areas, braking, drive_force, dynamic_pressure, resistance, traction

#: Speeds of the table, m/s.
_TABLE = 61


@dataclass(frozen=True)
class Lap:
    """time (N,) s; speed (N, S) m/s; drive, brake (N,) J at the wheels; limit (N, S): 0 cornering, 1 driving, 2 braking."""

    time: Array
    speed: Array
    drive: Array
    brake: Array
    limit: Array


@dataclass(frozen=True)
class _Limits:
    """Tables (N, T) over even speeds: accelerations by tyres, by power, by brakes; lateral limit; drag and rolling."""

    spacing: float
    tyres: Array
    power: Array
    brakes: Array
    lateral: Array
    resist: Array

    def at(self, table: Array, v: Array) -> Array:
        """Linear between the speeds, one speed per draw."""
        x = v / self.spacing
        i = np.minimum(x.astype(np.intp), table.shape[1] - 2)
        flat = i + np.arange(table.shape[0]) * table.shape[1]
        a = table.ravel().take(flat)
        return a + (x - i) * (table.ravel().take(flat + 1) - a)


def _tables(car: Car, sides: Sides, highest: float, draws: int) -> _Limits:
    v = np.linspace(0.0, highest, _TABLE)
    shape = (draws, _TABLE)
    inertia = np.asarray(car.mass, float) * np.asarray(car.rotating)

    def wide(x: Array) -> Array:
        return np.ascontiguousarray(np.broadcast_to(x, shape))

    drag = dynamic_pressure(car.density, v) * areas(car, v).drag
    brakes = braking(car, v) - drag / np.asarray(car.mass)
    return _Limits(
        v[1], wide(traction(car, v) / inertia), wide(drive_force(car, v) / inertia), wide(brakes),
        wide(lateral_limit(car, sides, v)[0]), wide(resistance(car, v) / np.asarray(car.mass)),
    )  # fmt: skip


def _corner_speeds(lim: _Limits, curvature: Array, highest: float) -> Array:
    """(N, S) speed at which the lateral limit is just used: where v² κ = a_y(v), on the table's own curve."""
    n, t = lim.lateral.shape
    v = np.linspace(0.0, highest, t)
    with np.errstate(divide="ignore"):
        bend = lim.lateral / np.maximum(v, 1e-9) ** 2
    bend = np.minimum.accumulate(bend, axis=1)  # falls with speed; a stretch that rises again cannot be crossed
    wanted = np.log(np.maximum(np.abs(curvature), 1e-9))
    out = np.empty((n, curvature.size))
    logs = np.log(bend[:, 1:])[:, ::-1]
    low = v[1:][::-1]
    logv = np.log(low)
    for k in range(n):
        out[k] = np.interp(wanted, logs[k], logv)
    return np.minimum(np.exp(out), highest)


def drive_lap(
    car: Car,
    sides: Sides,
    curvature: Array,
    step: Array,
    grade: Array,
    closed: bool,
    draws: int,
    highest: float = 110.0,
) -> Lap:
    """Drive a track's stations once (after a lap to get up to speed where it is closed; else from rest).

    Parameters
    ----------
    car, sides : fields of shape (draws, 1) or plain.
    curvature, step, grade : (S,) of :class:`~longlens.systems.running.track.Track`.
    highest : top of the speed table, m/s; nothing goes faster.
    """
    lim = _tables(car, sides, highest, draws)
    bound = _corner_speeds(lim, curvature, highest)
    S = curvature.size
    rotating = np.broadcast_to(np.asarray(car.rotating, float), (draws, 1))[:, 0]
    v2 = bound**2
    pull = GRAVITY * grade
    edge = np.abs(curvature)
    order = range(S) if closed else range(S - 1)
    # backward: brake in time for what comes
    back = v2.copy()
    for _ in range(2 if closed else 1):
        for i in reversed(order):
            j = (i + 1) % S
            v = np.sqrt(back[:, j])
            a_max = lim.at(lim.lateral, v)
            left = np.sqrt(np.maximum(1 - (back[:, j] * edge[j] / a_max) ** 2, 0.0))
            a = (lim.at(lim.brakes, v) * left + lim.at(lim.resist, v)) + pull[i]
            back[:, i] = np.minimum(back[:, i], back[:, j] + 2 * np.maximum(a, 0.0) * step[i])
    # forward: drive as hard as tyres and power allow
    ahead = back.copy()
    if not closed:
        ahead[:, 0] = 0.0
    limit = np.where(back < v2 * (1 - 1e-9), 2.0, 0.0)
    for _ in range(2 if closed else 1):
        for i in order:
            j = (i + 1) % S
            v = np.sqrt(ahead[:, i])
            a_max = lim.at(lim.lateral, v)
            left = np.sqrt(np.maximum(1 - (ahead[:, i] * edge[i] / a_max) ** 2, 0.0))
            tyres = lim.at(lim.tyres, v) * left
            a = np.minimum(tyres, lim.at(lim.power, v)) - (lim.at(lim.resist, v) + pull[i]) / rotating
            reach = np.maximum(ahead[:, i] + 2 * a * step[i], 0.25)
            slower = reach < back[:, j]
            ahead[:, j] = np.where(slower, reach, back[:, j])
            limit[:, j] = np.where(slower, 1, np.where(limit[:, j] == 1, 0, limit[:, j]))
    speed = np.sqrt(ahead)
    return _summed(car, lim, speed, ahead, step, pull, closed, limit, rotating)


def _summed(
    car: Car,
    lim: _Limits,
    speed: Array,
    v2: Array,
    step: Array,
    pull: Array,
    closed: bool,
    limit: Array,
    rotating: Array,
) -> Lap:
    nxt = np.roll(speed, -1, axis=1) if closed else np.concatenate([speed[:, 1:], speed[:, -1:]], axis=1)
    used = step > 0
    time = np.sum(np.where(used, 2 * step / np.maximum(speed + nxt, 1e-6), 0.0), axis=1)
    mass = np.broadcast_to(np.asarray(car.mass, float), (speed.shape[0], 1))
    change = (nxt**2 - v2) / 2 * mass * rotating[:, None]
    index = np.minimum(speed / lim.spacing, lim.resist.shape[1] - 1)
    resist = np.take_along_axis(lim.resist, index.astype(np.intp), axis=1) * mass
    work = np.where(used, change + (resist + pull * mass) * step, 0.0)
    return Lap(time, speed, np.sum(np.maximum(work, 0), axis=1), np.sum(np.maximum(-work, 0), axis=1), limit)
