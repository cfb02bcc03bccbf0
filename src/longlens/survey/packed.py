"""A solution as bytes, and back: every array bit for bit, nothing in it that runs.

A head of JSON tells how the solution is built (dataclasses of this floor, lists, tables, numbers, words), then the arrays
follow as they lie in memory. The document is not among it: what is read back speaks of the document that is asked about, whose
credits and sources may be newer. Reading takes nothing from the bytes but values: dataclasses are those of this floor, made
without calling them, and arrays are plain numbers.

>>> from longlens.survey.determine import Determined
>>> head = pack(Determined(points={"a": ("seen once", "another photograph")}))
>>> unpack(head, None)
Determined(shots={}, points={'a': ('seen once', 'another photograph')}, circles={})
"""

from __future__ import annotations

import importlib
import json
import re
from dataclasses import is_dataclass
from typing import Any

import numpy as np

from longlens.dossier.exchange import ExchangeDocument

#: What arrays may hold: truth values, whole numbers, floating point.
KINDS = "?biuf"
#: Arrays begin at multiples of so many bytes, as numpy's own do at least.
ALIGNED = 64
_FLOOR = "longlens.survey"


class Unpackable(ValueError):
    """Something is not what a solution is made of."""


def pack(solution: Any) -> bytes:
    """The bytes of a solution. Raises Unpackable."""
    packer = _Packer()
    tree = packer.node(solution)
    head = json.dumps({"tree": tree, "arrays": packer.table}, separators=(",", ":")).encode()
    size = len(head).to_bytes(8, "big")
    return b"".join([size, head, *packer.parts])


def unpack(data: bytes | memoryview, document: ExchangeDocument | None) -> Any:
    """What was packed, with ``document`` where the solution has its own. Raises Unpackable."""
    data = memoryview(data)
    try:
        size = int.from_bytes(data[:8], "big")
        head = json.loads(bytes(data[8 : 8 + size]))
        body = np.frombuffer(data, np.uint8, offset=8 + size).copy()  # aligned, and its owner may write to it
        return _Unpacker(head["arrays"], body, document).node(head["tree"])
    except (LookupError, TypeError, ValueError, AttributeError, ImportError, RecursionError, OverflowError) as e:
        raise Unpackable(f"not a packed solution ({type(e).__name__}: {e})") from None


class _Packer:
    """Nodes of JSON; what is met twice is written once, so that it is one thing again when read back."""

    def __init__(self) -> None:
        self.table: list[list[Any]] = []
        self.parts: list[bytes] = []
        self._at = 0
        self._known: dict[int, int] = {}
        self._alive: list[Any] = []  # an id is only told apart while its object lives

    def node(self, x: Any) -> Any:
        if x is None or type(x) in (bool, int, float, str):
            return x
        if isinstance(x, ExchangeDocument):
            return ["document"]
        if isinstance(x, np.generic):
            return ["scalar", *self._array(np.asarray(x))]
        if id(x) in self._known:
            return ["again", self._known[id(x)]]
        self._known[id(x)] = len(self._known)
        self._alive.append(x)
        if isinstance(x, np.ndarray):
            return ["array", *self._array(x)]
        if type(x) in (list, tuple, set, frozenset):
            return [type(x).__name__, [self.node(v) for v in x]]
        if type(x) is dict:
            return ["dict", [[self.node(k), self.node(v)] for k, v in x.items()]]
        if is_dataclass(x) and not isinstance(x, type) and hasattr(x, "__dict__"):
            return ["made", _name_of(type(x)), [[k, self.node(v)] for k, v in vars(x).items()]]
        raise Unpackable(f"a {type(x).__name__} is no part of a solution")

    def _array(self, a: np.ndarray) -> list[int]:
        """Its number in the table: type, shape, the axes from slow to fast, where it begins."""
        if a.dtype.kind not in KINDS or a.dtype.itemsize > 8:
            raise Unpackable(f"an array of {a.dtype} is no part of a solution")
        axes = sorted(range(a.ndim), key=lambda k: -abs(a.strides[k]) if a.size and a.shape[k] > 1 else 0)
        laid = np.ascontiguousarray(a.transpose(axes)) if a.ndim else a
        self.table.append([a.dtype.str, list(a.shape), axes, self._at])
        raw = laid.tobytes()
        gap = -len(raw) % ALIGNED
        self.parts += [raw, bytes(gap)]
        self._at += len(raw) + gap
        return [len(self.table) - 1]


class _Unpacker:
    def __init__(self, table: list[list[Any]], body: np.ndarray, document: ExchangeDocument | None) -> None:
        self.table, self.body, self.document = table, body, document
        self._met: list[Any] = []

    def node(self, node: Any) -> Any:
        if not isinstance(node, list):
            return node
        tag, *rest = node
        if tag == "document":
            return self.document
        if tag == "scalar":
            return self._array(rest[0])[()]
        if tag == "again":
            return self._met[rest[0]]
        place = len(self._met)
        self._met.append(None)
        if tag == "made":
            made: Any = object.__new__(_class_of(rest[0]))
            self._met[place] = made
            made.__dict__.update({str(k): self.node(v) for k, v in rest[1]})
            return made
        self._met[place] = found = self._plain(tag, rest[0])
        return found

    def _plain(self, tag: str, content: Any) -> Any:
        if tag == "array":
            return self._array(content)
        if tag == "dict":
            return {self.node(k): self.node(v) for k, v in content}
        values = [self.node(v) for v in content]
        if tag == "list":
            return values
        return {"tuple": tuple, "set": set, "frozenset": frozenset}[tag](values)

    def _array(self, number: int) -> np.ndarray:
        kind, shape, axes, at = self.table[number]
        dtype = np.dtype(str(kind))
        if dtype.kind not in KINDS or dtype.itemsize > 8 or at < 0 or sorted(axes) != list(range(len(shape))):
            raise Unpackable("an array that no solution has")
        laid = [int(shape[k]) for k in axes]
        count = int(np.prod(laid, dtype=object))
        if min(laid, default=0) < 0 or at + count * dtype.itemsize > len(self.body):
            raise Unpackable("an array that reaches beyond the end")
        flat = self.body[at : at + count * dtype.itemsize].view(dtype)
        return flat.reshape(laid).transpose([int(k) for k in np.argsort(axes)]) if laid else flat.reshape(())


def _name_of(kind: type) -> str:
    if not kind.__module__.startswith(f"{_FLOOR}."):
        raise Unpackable(f"{kind.__name__} is not of this floor")
    return f"{kind.__module__.removeprefix(f'{_FLOOR}.')}.{kind.__name__}"


def _class_of(name: str) -> type:
    if not re.fullmatch(r"[a-z_]+\.[A-Za-z_]+", name):
        raise Unpackable("a name that no solution has")
    module, _, own = name.partition(".")
    found = getattr(importlib.import_module(f"{_FLOOR}.{module}"), own)
    if not (isinstance(found, type) and is_dataclass(found) and found.__module__ == f"{_FLOOR}.{module}"):
        raise Unpackable(f"{name} is no part of a solution")
    return found
