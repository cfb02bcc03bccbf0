"""What holds for all tests: surveys that were solved are kept in a folder of this run, never in the user's own cache."""

from __future__ import annotations

import os
import shutil
import tempfile

import pytest

CACHE = "LONGLENS_CACHE"
_made = pytest.StashKey[str]()


def pytest_configure(config: pytest.Config) -> None:
    """One folder for the whole run; the workers of pytest-xdist, and what tests start, find it in their environment."""
    if not hasattr(config, "workerinput"):
        config.stash[_made] = os.environ[CACHE] = tempfile.mkdtemp(prefix="longlens-tests-")


def pytest_unconfigure(config: pytest.Config) -> None:
    if _made in config.stash:
        shutil.rmtree(config.stash[_made], ignore_errors=True)
