"""Where a number comes from: a small tree of origins, down to marks on photographs, published facts and
assumptions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal["stated", "measured", "computed", "assumed"]
KINDS: tuple[Kind, ...] = ("stated", "measured", "computed", "assumed")


@dataclass(frozen=True, eq=False)
class Origin:
    """One number's origin.

    Parameters
    ----------
    name : what the number is called.
    kind : stated (a published fact), measured (from marks), computed, or assumed (common practice, with the
        reason).
    record : id in the dossier as ``kind:id``, e.g. ``fact:wheelbase``, ``measure:pushrod``; empty if none.
    source : where a stated figure was published, or the reference of a model.
    reason : of an assumption: why it is fair.
    model : of a computed number: the relation used.
    inputs : origins that it was made from.
    """

    name: str
    kind: Kind
    record: str = ""
    source: str = ""
    reason: str = ""
    model: str = ""
    inputs: tuple[Origin, ...] = ()

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"a kind is one of {', '.join(KINDS)}, not {self.kind!r}")
        if self.kind == "assumed" and not self.reason:
            raise ValueError(f"the assumption {self.name!r} needs its reason")

    def walk(self) -> Iterator[Origin]:
        """This origin and all below it, each once, nearest first."""
        seen: set[int] = set()
        row = [self]
        while row:
            below: list[Origin] = []
            for one in row:
                if id(one) not in seen:
                    seen.add(id(one))
                    yield one
                    below += one.inputs
            row = below

    def leaves(self) -> list[Origin]:
        """What it rests on in the end: origins without inputs."""
        return [one for one in self.walk() if not one.inputs]

    def records(self) -> list[str]:
        """Ids of all dossier records on the way, sorted, each once."""
        return sorted({one.record for one in self.walk() if one.record})

    def line(self) -> str:
        """One line for people: ``wheelbase (stated: press sheet)``."""
        why = self.reason or self.source or self.model
        return f"{self.name} ({self.kind}: {why})" if why else f"{self.name} ({self.kind})"

    def lines(self, depth: int = 6) -> list[str]:
        """The tree as indented lines; what was shown before is not opened again."""
        shown: set[int] = set()
        out: list[str] = []

        def add(one: Origin, level: int) -> None:
            again = id(one) in shown and bool(one.inputs)
            out.append("  " * level + one.line() + (", see above" if again else ""))
            shown.add(id(one))
            if not again and level < depth:
                for below in one.inputs:
                    add(below, level + 1)

        add(self, 0)
        return out

    def as_json(self) -> dict[str, Any]:
        """Name, kind, records and leaves as plain types (the whole tree would repeat shared branches)."""
        own = {k: getattr(self, k) for k in ("record", "source", "reason", "model") if getattr(self, k)}
        out: dict[str, Any] = {"name": self.name, "kind": self.kind, **own}
        if self.inputs:
            out["records"] = self.records()
            out["rests_on"] = list(dict.fromkeys(leaf.line() for leaf in self.leaves()))
        return out
