"""Where air would stay: heights along the measured lines of a circuit.

Air rises and gathers at every local high point from which no way leads upward all the time. A bleed line
takes it to the header tank if it starts at the highest point and never falls on its way (common practice,
no source). Heights come from the survey's draws, so that each answer is a probability.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

Array = Any


class Line(NamedTuple):
    """A measured line: its name and points, (…, points, 3) in m, z up; draws in front, if any."""

    name: str
    points: Array


class BleedAnswer(NamedTuple):
    """Probabilities over draws, and heights (m) for the sentence."""

    starts_highest: Array  # share of draws in which nothing in the circuit lies higher than the line's start
    rises_all_the_way: Array
    lowest_drop: Array  # largest fall along the line, per draw
    above_start: Array  # how far the circuit's highest point lies above the line's start, per draw


def _heights(points: Array) -> np.ndarray:
    heights = np.asarray(points, dtype=float)[..., 2]
    return heights if heights.ndim == 2 else heights[None, :]


def check_bleed_line(bleed: Line, others: list[Line], slack: float = 0.0) -> BleedAnswer:
    """Does the bleed line start at the highest point of the circuit and rise all the way?

    Parameters
    ----------
    bleed : from its low end (on the circuit) to the tank. others : pipes and collectors of the circuit.
    slack : m that count as nothing (bore of the line).
    """
    own = _heights(bleed.points)
    start = own[:, 0]
    highest = np.max(np.concatenate([np.broadcast_to(_top(o), start.shape)[None] for o in others]), axis=0)
    reached = np.maximum.accumulate(own, axis=-1)
    drop = np.max(reached - own, axis=-1)
    above = highest - start
    return BleedAnswer(float(np.mean(above <= slack)), float(np.mean(drop <= slack)), drop, above)


def _top(line: Line) -> np.ndarray:
    return np.max(_heights(line.points), axis=-1)


class AirPocket(NamedTuple):
    """A high point where air would stay: line, place (m), median depth of the air (m), probability."""

    line: str
    place: tuple[float, float, float]
    depth: float
    probability: float


def air_pockets(lines: list[Line], outlets: Array, reach: float = 0.03, slack: float = 0.005) -> list[AirPocket]:
    """Local high points from which air cannot rise on along any line.

    Parameters
    ----------
    lines : all lines of the circuit, bleed lines among them. outlets : (n, 3) places where air may leave (the
        tank, a bleed screw). reach : ends nearer than this (m) are joined. slack : height (m) that counts as
        nothing.

    The lines are made one graph: points are joined along a line, ends to the nearest point of any other line
    within ``reach``. From each local high point air stays, unless an outlet is within reach. Depth is the
    fall (m) on the gentlest way towards an outlet that the air would have to be pushed down.
    """
    draws = max(_heights(line.points).shape[0] for line in lines)
    points, owner, edges = _graph(lines, reach)
    heights = np.stack([np.broadcast_to(h, (draws,)) for h in points["height"]], axis=-1)
    places = points["place"]
    exits = np.atleast_2d(outlets)
    near = [np.min(np.linalg.norm(exits - place, axis=-1)) < reach for place in places]
    goals = [k for k, joined in enumerate(near) if joined]
    fall = _fall_to_goal(heights, edges, goals)
    found = []
    for k in range(len(places)):
        peak = np.all([heights[:, k] >= heights[:, j] for j in edges[k]], axis=0)
        stays = peak & (fall[:, k] > slack)
        if np.mean(stays) >= 0.05:
            depth = float(np.median(fall[stays, k]))
            x, y, z = (float(value) for value in places[k])
            found.append(AirPocket(owner[k], (x, y, z), depth, float(np.mean(stays))))
    return _thin(found, reach)


def _graph(lines: list[Line], reach: float) -> tuple[dict[str, list[Any]], list[str], list[set[int]]]:
    heights: list[Any] = []
    places: list[np.ndarray] = []
    owner: list[str] = []
    edges: list[set[int]] = []
    spans = []
    for line in lines:
        points = np.asarray(line.points, dtype=float)
        middle = points if points.ndim == 2 else np.mean(points, axis=0)
        first = len(places)
        for k in range(middle.shape[0]):
            heights.append(points[..., k, 2])
            places.append(middle[k])
            owner.append(line.name)
            edges.append(set())
            if k:
                edges[-1].add(first + k - 1)
                edges[first + k - 1].add(first + k)
        spans.append((first, len(places)))
    ends = {k for first, last in spans for k in (first, last - 1)}
    together = {k: {k} for k in ends}
    for first, last in spans:
        for end in (first, last - 1):
            for a, b in spans:
                if (a, b) == (first, last):
                    continue
                distance = [np.linalg.norm(places[end] - places[k]) for k in range(a, b)]
                if min(distance) < reach:
                    other = a + int(np.argmin(distance))
                    edges[end].add(other)
                    edges[other].add(end)
                    if other in ends:
                        group = together[end] | together[other]
                        for k in group:
                            together[k] = group
                    else:
                        # A line that ends on another lies as high as that one there.
                        heights[end] = heights[other]
    for met in {frozenset(g) for g in together.values() if len(g) > 1}:
        # Ends that meet are one fitting: air in it reaches the highest of them, in whatever order they are listed.
        top = np.max([np.broadcast_to(heights[k], np.shape(heights[min(met)])) for k in met], axis=0)
        for k in met:
            heights[k] = top
    return {"height": heights, "place": places}, owner, edges


def _fall_to_goal(heights: np.ndarray, edges: list[set[int]], goals: list[int]) -> np.ndarray:
    """Depth below each point of the best way's lowest point to an outlet (0 where air may rise on)."""
    draws, count = heights.shape
    sill = np.full((draws, count), -np.inf)  # the best (highest) lowest point on a way to a goal
    for goal in goals:
        sill[:, goal] = heights[:, goal]
    for _ in range(count):
        before = sill.copy()
        for k in range(count):
            for j in edges[k]:
                sill[:, k] = np.maximum(sill[:, k], np.minimum(sill[:, j], heights[:, k]))
        if np.array_equal(before, sill):
            break
    return heights - np.where(np.isfinite(sill), sill, np.min(heights, axis=-1, keepdims=True))


def _thin(found: list[AirPocket], reach: float) -> list[AirPocket]:
    """One pocket per place: the most probable of those within reach of one another."""
    kept: list[AirPocket] = []
    for pocket in sorted(found, key=lambda p: (-p.probability, -p.depth, p.line, p.place)):
        near = [k for k in kept if np.linalg.norm(np.subtract(k.place, pocket.place)) < reach]
        if not near:
            kept.append(pocket)
    return kept
