"""Answers in plain JSON types that were worked out before (a sheet's, a dossier's claims), kept between runs.

Each lies in the user's own cache (:mod:`longlens.systems.user_cache`) under a hash of what it is made from and of this program's
whole source: an answer runs through too many modules for anybody to say which of them it does not depend on.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from longlens.dossier.reading import canonical
from longlens.systems import user_cache

KIND = "answer"


def answered(of: Any, make: Callable[[], Any]) -> Any:
    """What ``make`` gives, plain JSON types; kept from before if it was made from the same.

    ``of``: all that the answer is made from, plain JSON types, the name of what makes it among it. What ``make`` raises is not
    kept.
    """
    key = hashlib.sha256("\x00".join([_program(), canonical({"of": of})]).encode()).hexdigest()
    body = user_cache.read(KIND, key)
    if body is not None:
        return json.loads(bytes(body))["is"]
    made = json.dumps({"is": make()}, separators=(",", ":"), allow_nan=False)
    if user_cache.program(_source()) == _program():  # not replaced under a running program
        user_cache.write(KIND, key, made.encode())
    return json.loads(made)["is"]


@cache
def _program() -> str:
    return user_cache.program(_source())


def _source() -> list[Path]:
    import longlens

    return list(Path(str(longlens.__file__)).parent.rglob("*.py"))
