"""Solve many small sparse linear systems of one pattern at once.

The pattern of a circuit's heat balance is the same for every draw and speed; only the numbers differ. So the
order of elimination is worked out once, in names, and each step is one array operation over all of them.
No pivoting: the heat balance is weakly diagonally dominant with positive diagonal and non-positive rest, for
which elimination along the diagonal is stable (Golub and Van Loan, 4.1).
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np

Array = Any
Name = TypeVar("Name", bound=object)


class System:
    """A growing system A x = b over named unknowns; entries are arrays that broadcast together."""

    def __init__(self, unknowns: list[str]) -> None:
        self.unknowns = list(unknowns)
        self.rows: dict[str, dict[str, Array]] = {name: {} for name in unknowns}
        self.right: dict[str, Array] = dict.fromkeys(unknowns, 0.0)

    def add(self, row: str, column: str, value: Array) -> None:
        """A[row, column] += value."""
        entries = self.rows[row]
        entries[column] = entries[column] + value if column in entries else value

    def add_right(self, row: str, value: Array) -> None:
        """b[row] += value."""
        self.right[row] = self.right[row] + value

    def solve(self) -> dict[str, Array]:
        """All unknowns; ``numpy`` warnings are silenced for systems that have no solution (they give nan)."""
        rows = {name: dict(entries) for name, entries in self.rows.items()}
        right = dict(self.right)
        order = _order(rows)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            for k, pivot_name in enumerate(order):
                pivot_row = rows[pivot_name]
                inverse = 1.0 / pivot_row[pivot_name]
                for name in order[k + 1 :]:
                    row = rows[name]
                    if pivot_name not in row:
                        continue
                    factor = row.pop(pivot_name) * inverse
                    for column, value in pivot_row.items():
                        if column != pivot_name:
                            row[column] = row[column] - factor * value if column in row else -factor * value
                    right[name] = right[name] - factor * right[pivot_name]
            return _back(order, rows, right)


def _back(order: list[str], rows: dict[str, dict[str, Array]], right: dict[str, Array]) -> dict[str, Array]:
    solution: dict[str, Array] = {}
    for name in reversed(order):
        total = right[name]
        for column, value in rows[name].items():
            if column != name and column in solution:
                total = total - value * solution[column]
        solution[name] = total / rows[name][name]
    return solution


def _order(rows: dict[str, dict[str, Array]]) -> list[str]:
    """Least fill first (minimum degree on the symmetric pattern), names breaking ties."""
    near: dict[str, set[str]] = {name: set() for name in rows}
    for name, entries in rows.items():
        for column in entries:
            if column != name:
                near[name].add(column)
                near[column].add(name)
    order = []
    left = set(rows)
    while left:
        name = min(left, key=lambda n: (len(near[n]), n))
        left.remove(name)
        neighbours = near.pop(name)
        for a in neighbours:
            near[a] |= neighbours
            near[a] -= {a, name}
        order.append(name)
    return order
