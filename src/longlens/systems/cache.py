"""Results by the hash of what they depend on: in memory, the least used dropped first."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Mapping
from typing import Any

import numpy as np

MAX_BYTES = 256 * 1024 * 1024
#: What an object that is no array counts for.
_OBJECT_BYTES = 1024 * 1024


class Cache:
    """Keeps what steps gave. Safe between threads."""

    def __init__(self, max_bytes: int = MAX_BYTES) -> None:
        self._kept: OrderedDict[str, tuple[Mapping[str, Any], int]] = OrderedDict()
        self._bytes, self._max = 0, max_bytes
        self._lock = threading.Lock()
        self.hits = self.misses = 0

    def get(self, key: str) -> Mapping[str, Any] | None:
        """What was kept under the key, or None."""
        with self._lock:
            found = self._kept.get(key)
            if found is None:
                self.misses += 1
                return None
            self.hits += 1
            self._kept.move_to_end(key)
            return found[0]

    def put(self, key: str, value: Mapping[str, Any]) -> None:
        """Keep a step's result; one larger than the whole cache is not kept."""
        size = sum(v.nbytes if isinstance(v, np.ndarray) else _OBJECT_BYTES for v in value.values())
        with self._lock:
            if key in self._kept or size > self._max:
                return
            self._kept[key] = (value, size)
            self._bytes += size
            while self._bytes > self._max:
                self._bytes -= self._kept.popitem(last=False)[1][1]

    def clear(self) -> None:
        """Drop all."""
        with self._lock:
            self._kept.clear()
            self._bytes = 0


#: The process's own.
SHARED = Cache()


def digest(*parts: str) -> str:
    """A key from its parts."""
    return hashlib.sha256("\x00".join(parts).encode()).hexdigest()[:32]
