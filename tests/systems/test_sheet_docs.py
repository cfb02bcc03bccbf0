"""The example of docs/sheets.md runs as it stands."""

import doctest
import json
import re
from pathlib import Path

from longlens.systems import run as run_module
from longlens.systems.given import Given
from longlens.systems.run import run_all

PAGE = (Path(__file__).parents[2] / "docs" / "sheets.md").read_text(encoding="utf-8")


def test_the_sheet_and_the_file_on_the_page():
    space: dict = {}
    exec(compile(re.findall(r"```python\n(.*?)```", PAGE, re.S)[0], "docs/sheets.md", "exec"), space)
    data = json.loads(re.findall(r"```json\n(.*?)```", PAGE, re.S)[0])
    runs = run_all(space["SHEET"], Given(data["inputs"], data["variants"], scope=data["name"]), cache=None)
    out = runs[""]
    assert not out.refused
    assert any(f.text.startswith("at 60 m/s the core holds") for f in out.findings)
    assert runs["down-flow"].number("conductance").value < out.number("conductance").value


def test_docstring():
    found = doctest.testmod(run_module)
    assert found.attempted > 0 and found.failed == 0
