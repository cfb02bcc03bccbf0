"""What was worked out before, kept between runs in the user's own cache, never in a dossier.

A dossier may come from a stranger, and an answer that travels in it would be a number that nobody here worked out. So results lie
in a folder that only their owner can read and write, each under a hash of all it depends on, which is its maker's business.

``LONGLENS_CACHE`` names another folder, or says ``off``. Files are written whole (a temporary file, then renamed), so two
processes may keep and read at once; one that is broken, or that another user could have written, is passed over and made anew.
Beyond :data:`LIMIT` those that were not used for longest go first.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import re
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

#: Where results are kept: a folder, or "off".
VARIABLE = "LONGLENS_CACHE"
#: Bytes of all that is kept.
LIMIT = 500 * 1024 * 1024
#: One result takes no more of it than this part.
SHARE = 4
_MAGIC = b"longlens kept 1\n"
_NAME = re.compile(r"[0-9a-f]{64}\.([a-z]+)")
_PART = re.compile(r"\.[0-9a-zA-Z_]+\.part")
#: A temporary file older than this was left by a process that ended, s.
_LEFT = 3600.0


def program(source: Iterable[Path]) -> str:
    """What makes a result, as a text for its key: the source, this version, numpy and scipy, the kind of processor."""
    import numpy
    import scipy

    import longlens

    versions = [longlens.__version__, numpy.__version__, scipy.__version__, sys.version.split()[0], platform.machine()]
    return "\x00".join([source_hash(source), *versions])


def source_hash(paths: Iterable[Path]) -> str:
    """SHA-256 of source files as they lie there now."""
    digest = hashlib.sha256()
    for path in sorted(paths):
        digest.update(f"{path.parent.name}/{path.name}\n".encode() + path.read_bytes())
    return digest.hexdigest()


def read(kind: str, key: str) -> memoryview | None:
    """What was kept under a kind (a word) and a key (a SHA-256, in hexadecimal digits); None where nothing sound is."""
    folder = _folder()
    return None if folder is None else _read(folder / f"{key}.{kind}", key)


def write(kind: str, key: str, body: bytes) -> None:
    """Keep a result. What cannot be kept (too large, no room, no folder) is not: that costs time only, the next time."""
    if len(body) > LIMIT // SHARE:
        return
    folder = _folder(make=True)
    if folder is None:
        return
    with contextlib.suppress(OSError):
        _write(folder, f"{key}.{kind}", _MAGIC + _check(key, body) + body)
        _make_room(folder)


# Seeing and emptying it -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Kept:
    """What lies in the folder. ``folder``: "" where nothing is kept, and ``why``; ``number`` by kind; ``size``: bytes; ``used``:
    last use, seconds since 1970."""

    folder: str
    why: str = ""
    number: dict[str, int] = field(default_factory=dict)
    size: int = 0
    used: float | None = None


def kept() -> Kept:
    """Where results are kept, how many there are and how much room they take."""
    folder, why = _place()
    if folder is None:
        return Kept("", why)
    if os.path.lexists(folder) and _folder() is None:
        return Kept("", f"{folder} is not this user's own")
    number: dict[str, int] = {}
    size, used = 0, 0.0
    for entry in _entries(folder):
        with contextlib.suppress(OSError):
            about = entry.stat(follow_symlinks=False)
            kind = entry.name.partition(".")[2]
            number[kind] = number.get(kind, 0) + 1
            size, used = size + about.st_size, max(used, about.st_mtime)
    return Kept(str(folder), "", number, size, used or None)


def empty() -> int:
    """Remove all that is kept; how many there were. Other files in the folder are left alone."""
    folder = _folder()
    if folder is None:
        return 0
    gone = 0
    for entry in list(_entries(folder)):
        with contextlib.suppress(OSError):
            os.unlink(entry.path)
            gone += 1
    return gone


# The folder -------------------------------------------------------------------------------------------------


def _place() -> tuple[Path | None, str]:
    """The folder, whether it is there or not; or None and why."""
    wanted = os.environ.get(VARIABLE, "").strip()
    if wanted.lower() == "off":
        return None, f"{VARIABLE} is off"
    if wanted:
        return Path(wanted).expanduser().absolute() / "kept", ""
    try:
        return _cache_of_user() / "longlens" / "kept", ""
    except RuntimeError:
        return None, "the user has no home folder"


def _cache_of_user() -> Path:
    """Where this system keeps a user's caches: XDG Base Directory Specification 0.8; macOS and Windows by their custom (from
    memory). Raises RuntimeError: there is no home."""
    xdg = os.environ.get("XDG_CACHE_HOME", "")
    if xdg and Path(xdg).is_absolute():  # a relative one is to be ignored, says the specification
        return Path(xdg)
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    return Path.home() / ".cache"


def _folder(*, make: bool = False) -> Path | None:
    """The folder if nobody else can write to it; made when wanted."""
    folder, _ = _place()
    if folder is None:
        return None
    try:
        if make:
            folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            folder.mkdir(mode=0o700, exist_ok=True)
        found = folder.lstat()
        if hasattr(os, "geteuid"):
            if not folder.is_dir() or folder.is_symlink() or found.st_uid != os.geteuid():
                return None
            if found.st_mode & 0o077:
                folder.chmod(0o700)
    except OSError:
        return None
    return folder


def _entries(folder: Path) -> Iterator[os.DirEntry[str]]:
    try:
        with os.scandir(folder) as found:
            yield from [e for e in found if _NAME.fullmatch(e.name) and e.is_file(follow_symlinks=False)]
    except OSError:
        return


def _read(path: Path, key: str) -> memoryview | None:
    """What stands in a file after its check, or None where it is not there, not whole or not ours alone."""
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0))
    except OSError:
        return None
    with os.fdopen(handle, "rb") as file:
        try:
            about = os.fstat(file.fileno())
            others = hasattr(os, "geteuid") and (about.st_uid != os.geteuid() or about.st_mode & 0o022)
            if others or about.st_size > LIMIT // SHARE + 1000:
                return None
            data = file.read()
        except OSError:
            return None
    head, body = data[: len(_MAGIC) + 65], memoryview(data)[len(_MAGIC) + 65 :]
    if head != _MAGIC + _check(key, body):
        return None
    with contextlib.suppress(OSError):
        os.utime(path)  # what is used stays
    return body


def _check(key: str, body: bytes | memoryview) -> bytes:
    digest = hashlib.sha256(key.encode())
    digest.update(body)
    return digest.hexdigest().encode() + b"\n"


def _write(folder: Path, name: str, data: bytes) -> None:
    """Whole or not at all; mode 0600 (as ``mkstemp`` makes files)."""
    handle, part = tempfile.mkstemp(prefix=".", suffix=".part", dir=folder)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.replace(part, folder / name)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise


def _make_room(folder: Path) -> None:
    """Remove what was not used for longest until the rest is within the limit, and what broken writes left."""
    files = []
    for entry in _entries(folder):
        with contextlib.suppress(OSError):
            about = entry.stat(follow_symlinks=False)
            files.append((about.st_mtime, about.st_size, entry.path))
    total = sum(size for _, size, _ in files)
    for _, size, path in sorted(files):
        if total <= LIMIT:
            break
        with contextlib.suppress(OSError):
            os.unlink(path)
        total -= size
    for left in folder.iterdir():
        if _PART.fullmatch(left.name):
            with contextlib.suppress(OSError):
                if time.time() - left.lstat().st_mtime > _LEFT:
                    left.unlink()
