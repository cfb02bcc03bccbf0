"""docs/suspension.md names every hardpoint and every input, and no other."""

from __future__ import annotations

from pathlib import Path

from longlens.systems import registry
from longlens.systems.suspension.corner import REQUIRED
from longlens.systems.suspension.names import EXTRA

TEXT = (Path(__file__).parents[3] / "docs" / "suspension.md").read_text("utf-8")


def test_every_hardpoint_is_in_the_table() -> None:
    for point in {p for ps in REQUIRED.values() for p in ps} | set(EXTRA):
        part, _, end = point.partition(".")
        assert f"`{point}`" in TEXT or (f"`{part}`" in TEXT and f"`.{end}`" in TEXT), point


def test_every_input_is_in_the_table() -> None:
    for x in registry.sheet("suspension").inputs:
        front = x.name.removesuffix("_rear") + "_front" if x.name.endswith("_rear") else x.name
        assert f"`{front}`" in TEXT or x.name == "installation_stiffness", x.name
    assert "`installation_stiffness`" in TEXT
