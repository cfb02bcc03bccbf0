"""Cut structures of (draws, speeds) arrays into blocks of draws, and put solutions together again."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from .airside import Outflow
from .model import Solution

Array = Any


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
    return thing


def join(blocks: list[Solution], counts: list[int], width: int) -> Solution:
    def stack(values: list[Array]) -> np.ndarray:
        return np.concatenate(
            [np.broadcast_to(np.asarray(v), (n, width)) for v, n in zip(values, counts, strict=True)], axis=0
        )

    whole = Solution(rounds=max(block.rounds for block in blocks))
    for entry in (
        "flow",
        "given",
        "drop",
        "temperature",
        "inlet",
        "outlet",
        "heat",
        "conductance",
        "air_flow",
        "air_in",
        "air_out",
    ):
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
