"""What stream reaches wings and duct openings: the wakes of the bodies ahead, the turning by the wings ahead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from longlens.numbers.streams import Array
from longlens.systems.aero import openings, wakes
from longlens.systems.aero.wings import Loads, Wing

#: A wake that takes less of the dynamic pressure than this takes nothing.
LEAST = 1e-4


@dataclass(frozen=True)
class Body:
    """Something that leaves a wake: its rear ``behind`` the front axle, its middle at ``side`` and ``height``; edges ``width``
    and ``tall``; m, (N,). ``on_road``: it stands there, and the road mirrors it. ``twin``: another on the other side."""

    name: str
    drag_area: Array
    width: Array
    tall: Array
    behind: Array
    side: Array
    height: Array
    growth: Array
    on_road: bool = False
    twin: bool = False


@dataclass(frozen=True)
class Place:
    """A part that stands in the stream: middle and extent, m, (N,)."""

    behind: Array
    side: Array
    height: Array
    width: Array
    tall: Array


@dataclass(frozen=True)
class Opening:
    """Inlet and outlet of one duct. ``way``: of wall ahead of the inlet, m, 0 for none; ``depth``: of the inlet square to it."""

    name: str
    place: Place
    kept: Array
    way: Array
    depth: Array
    outlet_cp: Array
    local: Array
    kinds: tuple[str, str] = ("", "")


@dataclass(frozen=True)
class Stream:
    """``pressure``: mean dynamic pressure over the undisturbed; ``turn``: upwards, rad; ``left``: what each thing ahead leaves of
    the pressure; ``close``: names of bodies whose bubble may reach so far."""

    pressure: Array
    turn: Array
    left: Mapping[str, Array] = field(default_factory=dict)
    close: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ahead:
    """All that can lie ahead, with the errors of both models as factors (N,)."""

    bodies: tuple[Body, ...]
    wings: tuple[tuple[Wing, Loads], ...]
    wake_error: Array
    upwash_error: Array

    def at(self, place: Place) -> Stream:
        """The stream that reaches a place."""
        pressure, turn = np.ones(np.shape(self.wake_error)), np.zeros(np.shape(self.wake_error))
        left: dict[str, Array] = {}
        close = []
        for wing, made in self.wings:
            way = place.behind - np.asarray(wing.behind)
            if np.median(way) <= 0:
                continue
            rise = self.upwash_error * wakes.upwash(
                made.lift_area, wing.span, wing.height, way, place.side, place.height, place.width
            )
            turn = turn + rise
            left[wing.name] = self._left(_of_wing(wing, made), place, rise)
        for body in self.bodies:
            way = place.behind - np.asarray(body.behind)
            if np.median(way) <= 0:
                continue
            near = bool(np.median(way / (wakes.NEAR * np.minimum(body.width, body.tall))) < 1)
            left[body.name] = self._left(body, place, np.asarray(0.0), near)
            if near and np.median(left[body.name]) < 0.97:
                close.append(body.name)
        left = {name: np.where(share > 1 - LEAST, 1.0, share) for name, share in left.items()}
        for share in left.values():
            pressure = pressure * share
        return Stream(pressure, turn, left, tuple(close))

    def _left(self, body: Body, place: Place, rise: Array, near: bool = False) -> Array:
        """Share of the dynamic pressure that a body's wake leaves; a wing's wake goes with the stream that it turned.

        ``near``: where the body's bubble may reach; the error counts twice there.
        """
        strength = np.asarray(self.wake_error) ** (2 if near else 1)
        mirror = 2.0 if body.on_road else 1.0
        way = place.behind - np.asarray(body.behind)
        made = wakes.wake(mirror * body.drag_area, body.width, mirror * body.tall, way, body.growth)
        middle = np.asarray(0.0) if body.on_road else body.height + np.maximum(way, 0.0) * rise
        share: Array = np.ones(1)
        for s in (1.0, -1.0) if body.twin else (1.0,):
            share = share * wakes.pressure_left(
                made,
                place.side - s * np.asarray(body.side),
                place.height - middle,
                place.width,
                place.tall,
                strength,
            )
        return share


def _of_wing(wing: Wing, made: Loads) -> Body:
    """A wing as a body that leaves a wake: its profile drag, as tall as its chain of elements."""
    tall = np.maximum(sum(np.asarray(e.chord) * np.sin(np.abs(e.angle)) for e in wing.elements), 0.1 * wing.chord)
    return Body(
        wing.name, np.maximum(made.drag_area - made.induced_area, 0.0), wing.span, tall,
        np.asarray(wing.behind) + 0.75 * wing.chord, np.asarray(0.0), np.asarray(wing.height) + 0.5 * tall, np.asarray(1.0),
    )  # fmt: skip


def place_of(wing: Wing) -> Place:
    """A wing as a part in the stream: its span, as tall as its chain of elements."""
    tall = np.maximum(sum(np.asarray(e.chord) * np.sin(np.abs(e.angle)) for e in wing.elements), 0.02)
    return Place(wing.behind, np.asarray(0.0), np.asarray(wing.height) + 0.5 * tall, wing.span, tall)


@dataclass(frozen=True)
class Inlet:
    """What an opening gets and gives: the stream before it, total pressure coefficient, what the wall's layer leaves, outlet."""

    stream: Stream
    total: Array
    layer: Array
    outlet_cp: Array


def at_openings(every: Iterable[Opening], ahead: Ahead, speed: float) -> dict[str, Inlet]:
    """Inlet and outlet pressures of every duct at a road speed (m/s; it only sets the layer's thickness)."""
    out = {}
    for o in every:
        stream = ahead.at(o.place)
        layer = openings.layer_left(openings.layer_thickness(o.way, speed), o.depth)
        layer = np.where(np.asarray(o.way) > 0, layer, 1.0)
        total = openings.total_at_inlet(stream.pressure, o.kept, layer, o.local)
        out[o.name] = Inlet(stream, total, layer, o.outlet_cp)
    return out


def shares(found: Mapping[str, Stream], names: Iterable[str]) -> tuple[list[str], Any]:
    """Names of all that lies ahead of any of the parts, and (N, parts, ahead) what each takes of the pressure, 1 − left."""
    streams = list(found.values())
    ahead = [n for n in names if any(n in s.left for s in streams)]
    if not ahead:
        return [], None
    count = len(streams[0].pressure)
    rows = [[np.broadcast_to(1 - s.left.get(n, np.ones(1)), (count,)) for n in ahead] for s in streams]
    return ahead, np.moveaxis(np.array(rows), -1, 0)
