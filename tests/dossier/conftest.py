from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from longlens.dossier.records import Vehicle
from longlens.dossier.store import Dossier


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "fulmar.longlens"


@pytest.fixture
def dossier(path: Path) -> Iterator[Dossier]:
    with Dossier.create(path, Vehicle(name="Fulmar E4", maker="Skerry"), by="test") as one:
        yield one
