"""The invented cars. Everything here is made up and says so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path


def build_demo(to: Path, progress: Callable[[str, float], None]) -> str:
    """Build the demo into a folder: see :func:`longlens.demo.build.build_demo`."""
    from longlens.demo.build import build_demo as build

    return build(to, progress)
