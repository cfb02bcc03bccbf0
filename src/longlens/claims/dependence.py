"""Which items of evidence rest on the same thing, found from their trails.

Two items that rest on the same mark, or on the same fact named by itself, are one observation seen twice: they count once unless
somebody writes down why they are independent. A figure or an assumption in common (the wheelbase of a survey) is flagged only.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

#: Kinds of record that an item is itself an observation of.
OBSERVED = ("mark",)


@dataclass(frozen=True)
class Basis:
    """What one item rests on: records as ``kind:id``, and assumptions in words. ``own``: records that the item names itself.

    ``group``: named by the user. ``apart``: why it is independent of what it shares, as the user says.
    """

    records: frozenset[str] = frozenset()
    assumptions: frozenset[str] = frozenset()
    own: frozenset[str] = frozenset()
    group: str = ""
    apart: str = ""


@dataclass(frozen=True)
class Shared:
    """Two items and what both rest on. ``once``: they count once for it."""

    first: str
    second: str
    on: tuple[str, ...]
    once: bool


def shared(items: Mapping[str, Basis]) -> list[Shared]:
    """Every pair that has something in common."""
    names = list(items)
    out = []
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            x, y = items[a], items[b]
            common = (x.records & y.records) | (x.assumptions & y.assumptions)
            if common:
                twice = {r for r in x.records & y.records if r.partition(":")[0] in OBSERVED} | (x.own & y.own)
                out.append(Shared(a, b, tuple(sorted(twice or common)), bool(twice) and not (x.apart or y.apart)))
    return out


def groups(items: Mapping[str, Basis]) -> list[tuple[str, ...]]:
    """Items that count once together, in order; most are alone."""
    parent = {name: name for name in items}

    def root(name: str) -> str:
        while parent[name] != name:
            name = parent[name]
        return name

    def join(pairs: Iterable[tuple[str, str]]) -> None:
        for a, b in pairs:
            x, y = root(a), root(b)
            if x != y:
                parent[y] = x

    join((s.first, s.second) for s in shared(items) if s.once)
    first: dict[str, str] = {}
    for name, basis in items.items():
        if basis.group:
            join([(first.setdefault(basis.group, name), name)])
    order: dict[str, list[str]] = {}
    for name in items:
        order.setdefault(root(name), []).append(name)
    return [tuple(members) for members in order.values()]
