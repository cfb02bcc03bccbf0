"""Flows in a network of parts: mass exact by construction, pressure closed by Newton over all draws at once.

Unknown are the flows round the independent loops; every part's flow is a sum of loop flows, so that mass is
kept at every node whatever the iteration does. The fall of pressure rises with the flow in every part, so
the loop equations are the gradient of a convex function and have exactly one solution; Newton with halved
steps finds it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np

from .components import Part
from .liquids import Properties

Array = Any
CLOSED = 1e-10  # pressure left over round a loop, relative to the sum of the falls along it
MAX_STEPS = 60


@dataclass(frozen=True)
class Loops:
    """Independent loops of one network: for each, its parts with sign; and the parts on no loop."""

    parts: dict[str, Part]
    loops: list[dict[str, int]]
    dead: list[str]  # bridges: nothing can flow


def find_loops(parts: list[Part], resistance: dict[str, float]) -> Loops:
    """Fundamental loops over a spanning tree of the least resistance.

    Shut valves and thin pipes thereby close loops of their own, which keeps the equations well conditioned.
    The order of ``parts`` does not matter: they are sorted by resistance and name.
    """
    by_name = {part.name: part for part in sorted(parts, key=lambda p: p.name)}
    ranked = sorted(by_name.values(), key=lambda p: (round(np.log10(max(resistance[p.name], 1e-12)), 1), p.name))
    parent = {node: node for part in parts for node in (part.start, part.end)}

    def root(node: str) -> str:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    tree: dict[str, list[tuple[str, str, int]]] = defaultdict(list)
    chords = []
    for part in ranked:
        a, b = root(part.start), root(part.end)
        if a == b:
            chords.append(part)
            continue
        parent[a] = b
        tree[part.start].append((part.end, part.name, 1))
        tree[part.end].append((part.start, part.name, -1))
    loops = []
    for chord in chords:
        loop = {chord.name: 1}
        loop.update(_tree_path(tree, chord.end, chord.start))
        loops.append(loop)
    used = {name for loop in loops for name in loop}
    return Loops(by_name, loops, [name for name in by_name if name not in used])


def _tree_path(tree: dict[str, list[tuple[str, str, int]]], start: str, goal: str) -> dict[str, int]:
    came: dict[str, tuple[str, str, int]] = {start: ("", "", 0)}
    queue = [start]
    while queue:
        node = queue.pop(0)
        if node == goal:
            break
        for other, name, sign in tree[node]:
            if other not in came:
                came[other] = (node, name, sign)
                queue.append(other)
    path: dict[str, int] = {}
    while goal != start:
        goal, name, sign = came[goal]
        path[name] = sign
    return path


@dataclass
class Flows:
    """Loop flows (kg/s), part flows by name, relative pressure error (worst loop), steps taken."""

    loop_flows: list[Array]
    parts: dict[str, Array]
    error: Array
    steps: int


def solve_flows(
    network: Loops, liquid: dict[str, Properties], start: list[Array] | None = None, tolerance: float = CLOSED
) -> Flows:
    """Flow in every part.

    Parameters
    ----------
    network : from :func:`find_loops`. liquid : properties for each part (arrays over draws and speeds).
    start : loop flows to start from; else two linear solutions with resistances at a guessed flow.
    """
    if not network.loops:
        return Flows([], dict.fromkeys(network.parts, 0.0), np.float64(0.0), 0)
    flows = [np.asarray(q) for q in start] if start is not None else _first_flows(network, liquid)
    errors, slopes, relative = _imbalance(network, liquid, flows)
    step = 0
    while step < MAX_STEPS and np.any(relative > tolerance):
        step += 1
        change = _solve_dense(slopes, errors)
        reach: Array = 1.0
        for _ in range(10):
            trial = [q - reach * c for q, c in zip(flows, change, strict=True)]
            new = _imbalance(network, liquid, trial)
            # Rounding leaves nothing to gain once a loop is closed: accept there whatever comes.
            worse = (_norm(new[0]) > _norm(errors)) & (relative > tolerance)
            if not np.any(worse):
                break
            reach = np.where(worse, 0.5 * reach, reach)
        flows, (errors, slopes, relative) = trial, new
    return Flows(flows, part_flows(network, flows), relative, step)


def part_flows(network: Loops, loop_flows: list[Array]) -> dict[str, Array]:
    """Flow of every part as the sum of its loops'."""
    total: dict[str, Array] = dict.fromkeys(network.parts, 0.0)
    for loop, q in zip(network.loops, loop_flows, strict=True):
        for name, sign in loop.items():
            total[name] = total[name] + sign * q
    return total


def _norm(errors: list[Array]) -> Array:
    return sum(e * e for e in errors)


def _imbalance(
    network: Loops, liquid: dict[str, Properties], loop_flows: list[Array]
) -> tuple[list[Array], list[list[Array]], Array]:
    """Pressure left over round each loop, its derivatives, and the worst relative to the falls."""
    flows = part_flows(network, loop_flows)
    live = [name for name in network.parts if name not in network.dead]
    drops = {name: network.parts[name].drop(flows[name], liquid[name]) for name in live}
    errors = [sum(sign * drops[name][0] for name, sign in loop.items()) for loop in network.loops]
    count = len(network.loops)
    slopes: list[list[Array]] = [[0.0] * count for _ in range(count)]
    for i, one in enumerate(network.loops):
        for j in range(i, count):
            other = network.loops[j]
            shared = [sign * other[name] * drops[name][1] for name, sign in one.items() if name in other]
            slopes[i][j] = slopes[j][i] = sum(shared) if shared else 0.0
    worst: Array = 0.0
    for error, loop in zip(errors, network.loops, strict=True):
        scale = sum(np.abs(drops[name][0]) for name in loop) + 1e-3
        worst = np.maximum(worst, np.abs(error) / scale)
    return errors, slopes, worst


def _solve_dense(matrix: list[list[Array]], right: list[Array]) -> list[Array]:
    """Symmetric positive definite systems of a few unknowns, all at once, without pivoting."""
    n = len(right)
    a = [list(row) for row in matrix]
    b = list(right)
    for k in range(n):
        inverse = 1.0 / a[k][k]
        for i in range(k + 1, n):
            if np.isscalar(a[i][k]) and a[i][k] == 0.0:
                continue
            factor = a[i][k] * inverse
            for j in range(k + 1, n):
                a[i][j] = a[i][j] - factor * a[k][j]
            b[i] = b[i] - factor * b[k]
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            b[k] = b[k] - a[k][j] * b[j]
        b[k] = b[k] / a[k][k]
    return b


def _first_flows(network: Loops, liquid: dict[str, Properties], guess: float = 0.3) -> list[Array]:
    """Resistances made linear at a guessed flow, then once more at the flow that gives."""
    flows: dict[str, Array] = {name: np.float64(guess) for name in network.parts}
    loop_flows: list[Array] = []
    for _ in range(3):
        resistance, source = {}, {}
        for name, part in network.parts.items():
            if name in network.dead:
                continue
            size = np.abs(flows[name]) + 1e-4
            idle = part.drop(np.zeros_like(size), liquid[name])[0]
            # Even part of the curve is a source (a pump's pressure), the rest a resistance.
            source[name] = idle
            resistance[name] = (part.drop(size, liquid[name])[0] - idle) / size
        count = len(network.loops)
        matrix: list[list[Array]] = [[0.0] * count for _ in range(count)]
        right = [-sum(sign * source[name] for name, sign in loop.items()) for loop in network.loops]
        for i, one in enumerate(network.loops):
            for j, other in enumerate(network.loops):
                shared = [sign * other[name] * resistance[name] for name, sign in one.items() if name in other]
                matrix[i][j] = sum(shared) if shared else 0.0
        loop_flows = _solve_dense(matrix, right)
        new = part_flows(network, loop_flows)
        flows = {name: 0.5 * (np.abs(flows[name]) + np.abs(new[name])) for name in flows}
    return loop_flows
