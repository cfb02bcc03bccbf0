"""Files that are whole or not there: written under another name beside, then renamed."""

from __future__ import annotations

import os
from pathlib import Path

from longlens.errors import UnusableInput


def write_whole(to: Path, data: bytes | str) -> None:
    """Write a file at once. A crash leaves the earlier one, or none; never half of the new one.

    Raises UnusableInput when the folder cannot be written.
    """
    body = data.encode("utf-8") if isinstance(data, str) else data
    part = to.with_name(f".{to.name}.part")
    try:
        with part.open("wb") as f:
            f.write(body)
            f.flush()
            os.fsync(f.fileno())
        os.replace(part, to)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise UnusableInput(f"cannot be written ({error.strerror})", where=str(to), fix="check the folder") from None


def folder(path: Path) -> Path:
    """The folder, made where it is not there yet. Raises UnusableInput."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnusableInput(
            f"cannot be made ({error.strerror})", where=str(path), fix="choose another folder"
        ) from None
    return path
