"""Cut structures of (draws, speeds) arrays into blocks of draws, and put solutions together again."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from .airside import Outflow
from .model import Solution

Array = Any
TABLES = (
    "flow",
    "given",
    "drop",
    "temperature",
    "inlet",
    "outlet",
    "heat",
    "conductance",
    "air_flow",
    "duct_flow",
    "air_in",
    "air_out",
    "gas_out",
)


def draws(thing: Any) -> int:
    """Length of the leading axis of the (draws, speeds) arrays found in ``thing``."""
    longest = 1
    for leaf in leaves(thing):
        if isinstance(leaf, np.ndarray) and leaf.ndim == 2:
            longest = max(longest, leaf.shape[0])
    return longest


def leaves(thing: Any) -> Any:
    if isinstance(thing, np.ndarray):
        yield thing
    elif dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        for entry in dataclasses.fields(thing):
            if entry.name != "path":
                yield from leaves(getattr(thing, entry.name))
    elif isinstance(thing, tuple | list):
        for item in thing:
            yield from leaves(item)
    elif isinstance(thing, dict):
        for item in thing.values():
            yield from leaves(item)


def take(thing: Any, count: int, part: slice, axis: int = 0) -> Any:
    """The same structure with every (draws, cases) array cut to ``part`` along ``axis`` (0 draws, 1 cases)."""
    if isinstance(thing, np.ndarray):
        if thing.ndim != 2 or thing.shape[axis] != count or count == 1:
            return thing
        return thing[part] if axis == 0 else thing[:, part]
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        changed = {
            entry.name: take(getattr(thing, entry.name), count, part, axis)
            for entry in dataclasses.fields(thing)
            if entry.init and entry.name != "path"
        }
        return dataclasses.replace(thing, **changed)
    if isinstance(thing, tuple) and hasattr(thing, "_fields"):
        return type(thing)(*(take(item, count, part, axis) for item in thing))
    if isinstance(thing, tuple):
        return tuple(take(item, count, part, axis) for item in thing)
    if isinstance(thing, dict):
        return {name: take(item, count, part, axis) for name, item in thing.items()}
    return thing


def pick(thing: Any, mask: np.ndarray) -> Any:
    """The same structure for the points of ``mask`` (draws, cases) alone, as (points, 1)."""
    if isinstance(thing, np.ndarray):
        if thing.ndim != 2 or thing.size == 1:
            return thing
        return np.broadcast_to(thing, mask.shape)[mask][:, None]
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        changed = {
            entry.name: pick(getattr(thing, entry.name), mask)
            for entry in dataclasses.fields(thing)
            if entry.init and entry.name != "path"
        }
        return dataclasses.replace(thing, **changed)
    if isinstance(thing, tuple) and hasattr(thing, "_fields"):
        return type(thing)(*(pick(item, mask) for item in thing))
    if isinstance(thing, tuple | list):
        return type(thing)(pick(item, mask) for item in thing)
    if isinstance(thing, dict):
        return {name: pick(item, mask) for name, item in thing.items()}
    return thing


def put_back(whole: Solution, part: Solution, mask: np.ndarray) -> None:
    """Write the points of ``part`` (points, 1) into ``whole`` where ``mask`` is true."""

    def mixed(old: Array, new: Array) -> np.ndarray:
        result = np.array(np.broadcast_to(old, mask.shape), dtype=np.result_type(old, new))
        result[mask] = np.broadcast_to(new, (int(mask.sum()), 1))[:, 0]
        return result

    for entry in TABLES:
        table, other = getattr(whole, entry), getattr(part, entry)
        for name in table:
            table[name] = mixed(table[name], other[name])
    for entry in ("pressure_error", "heat_error", "converged"):
        setattr(whole, entry, mixed(getattr(whole, entry), getattr(part, entry)))
    for name, old in whole.outflow.items():
        new = part.outflow[name]
        whole.outflow[name] = Outflow(
            mixed(old.speed, new.speed), mixed(old.temperature, new.temperature), mixed(old.drag, new.drag)
        )
    whole.rounds = max(whole.rounds, part.rounds)


def join(blocks: list[Solution], counts: list[int], width: int) -> Solution:
    def stack(values: list[Array]) -> np.ndarray:
        return np.concatenate(
            [np.broadcast_to(np.asarray(v), (n, width)) for v, n in zip(values, counts, strict=True)], axis=0
        )

    whole = Solution(rounds=max(block.rounds for block in blocks))
    for entry in TABLES:
        tables = [getattr(block, entry) for block in blocks]
        setattr(whole, entry, {name: stack([table[name] for table in tables]) for name in tables[0]})
    for entry in ("pressure_error", "heat_error", "converged"):
        setattr(whole, entry, stack([getattr(block, entry) for block in blocks]))
    for name in blocks[0].outflow:
        parts = [block.outflow[name] for block in blocks]
        whole.outflow[name] = Outflow(
            stack([p.speed for p in parts]),
            stack([p.temperature for p in parts]),
            stack([p.drag for p in parts]),
        )
    return whole
