"""Claims and forecasts as words can refer to them; taken from the claims floor where this version has one."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from longlens.publish.basis import Basis, Shown


def held(basis: Basis, kind: str, id: str) -> Shown:
    """What a claim or a forecast says now. Raises LostBasis."""
    from longlens.publish.basis import LostBasis

    raise LostBasis(f"there is no {kind} {id}", fix="name another, or take it out of the text")
