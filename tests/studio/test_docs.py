"""What the studio's pages show is so: the commands, the addresses, and every key that is named."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from longlens.studio import elements, frame
from longlens.studio.board.keys import KEYS
from longlens.studio.pages import Page
from tests.studio.conftest import Studio

DOCS = Path(__file__).parents[2] / "docs"


def test_the_command_shown_prints_an_address_of_that_form(
    studio: Callable[..., Studio], fulmar: Path, tmp_path: Path
) -> None:
    text = (DOCS / "studio.md").read_text(encoding="utf-8")
    command, shown = re.search(r"```console\n\$ (.*)\n(.*)\n```", text).groups()  # type: ignore[union-attr]
    assert command == "longlens studio fulmar.longlens"
    file = tmp_path / "fulmar.longlens"
    file.write_bytes(fulmar.read_bytes())
    address = studio(file).address  # the fixture runs the same command, with --no-browser
    assert re.sub(r":\d+/enter/.*", "", address) == re.sub(r":\d+/enter/.*", "", shown)


def test_the_keys_named_on_the_page_are_the_board_s() -> None:
    text = (DOCS / "studio.md").read_text(encoding="utf-8").partition("## Board")[2]
    named = {k for k in re.findall(r"`([^`]+)`", text) if re.fullmatch(r"[a-z0-9]|ctrl\+a", k)}
    assert len(named) > 15
    assert named <= {k["keys"] for k in KEYS}


def test_what_the_page_for_page_writers_names_exists() -> None:
    text = (DOCS / "studio-pages.md").read_text(encoding="utf-8")
    for name in re.findall(r"`(\w+)\(", text.partition("## What `frame` offers")[2].partition("## What `elements`")[0]):
        assert hasattr(frame, name), name
    table = text.partition("## What `elements` offers")[2].partition("Links to the board")[0]
    for name in re.findall(r"`(\w+)\(", table):
        assert hasattr(elements, name), name


def test_the_example_page_is_one() -> None:
    text = (DOCS / "studio-pages.md").read_text(encoding="utf-8")
    code = re.search(r"```python\n(.*?)```", text, re.S).group(1)  # type: ignore[union-attr]
    made: dict[str, object] = {}
    exec(compile(code, "studio-pages.md", "exec"), made)
    assert isinstance(made["PAGE"], Page)


def test_no_key_means_two_things() -> None:
    keys = [k["keys"] for k in KEYS]
    assert len(keys) == len(set(keys))
    assert "g" not in keys  # it leads to the pages
