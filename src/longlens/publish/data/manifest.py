"""The manifest of an edition: every file with its size and hash, and the state of the dossier it was made from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path, PurePosixPath
from typing import Any

from longlens.dossier.store import Dossier
from longlens.errors import UnusableInput
from longlens.publish.whole import write_whole

NAME = "manifest.json"
MAX_BYTES = 50_000_000


def write_manifest(dossier: Dossier, root: Path, files: Iterable[Path], **more: Any) -> Path:
    """Write the manifest last, when every file it names is whole."""
    from longlens import __version__

    body = {
        "format": "longlens-edition",
        "version": 1,
        "made_by": f"longlens {__version__}",
        "vehicle": dossier.vehicle.name,
        "dossier": {"revision": dossier.revision, "journal_sha256": dossier.chain_head},
        **more,
        "files": [
            {"path": p.relative_to(root).as_posix(), "bytes": p.stat().st_size, "sha256": _sha256(p)}
            for p in sorted(set(files))
        ],
    }
    to = root / NAME
    write_whole(to, json.dumps(body, indent=1, ensure_ascii=False) + "\n")
    return to


def read_manifest(root: Path) -> dict[str, Any]:
    """The manifest of a folder. Raises UnusableInput where there is none, or it is no manifest of ours."""
    path = root / NAME
    try:
        if path.stat().st_size > MAX_BYTES:
            raise UnusableInput("is too large for a manifest", where=str(path))
        body = json.loads(path.read_text(encoding="utf-8"))
    except OSError:
        raise UnusableInput(
            "there is no manifest.json", where=str(root), fix="name a folder that longlens publish wrote"
        ) from None
    except ValueError:
        body = None
    if (
        not isinstance(body, dict)
        or body.get("format") != "longlens-edition"
        or not isinstance(body.get("files"), list)
    ):
        raise UnusableInput("is no manifest of an edition", where=str(path), fix="publish again")
    return body


def check_edition(root: Path) -> list[str]:
    """What is wrong with an edition: files that are missing, changed, or not named in its manifest."""
    body = read_manifest(root)
    wrong = []
    named = {NAME}
    for entry in body["files"]:
        name = entry.get("path") if isinstance(entry, dict) else None
        if not isinstance(name, str) or PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
            wrong.append(f"a path that leads out of the edition: {name!r}")
            continue
        named.add(name)
        path = root / name
        if not path.is_file():
            wrong.append(f"{name}: missing")
        elif path.stat().st_size != entry.get("bytes") or _sha256(path) != entry.get("sha256"):
            wrong.append(f"{name}: changed since it was published")
    for path in sorted(root.rglob("*")):
        if path.is_file() and path.relative_to(root).as_posix() not in named and not path.name.startswith("."):
            wrong.append(f"{path.relative_to(root).as_posix()}: not named in the manifest")
    return wrong


def _sha256(path: Path) -> str:
    h = hashlib.sha256()
    with path.open("rb") as f:
        for block in iter(lambda: f.read(1 << 20), b""):
            h.update(block)
    return h.hexdigest()
