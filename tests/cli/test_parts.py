"""``longlens parts`` and its page."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Done
from tests.cli.test_docs import DOCS, FLAGS, LIKE, examples


def run_page(page: str, run: Callable[..., Done]) -> int:
    """Run every example of a page and hold its output against what is shown; returns how many there were."""
    found = examples(page)
    for command, shown in found:
        program, *args = shlex.split(command)
        assert program == "longlens"
        done = run(*args)
        assert done.status in (0, 2, 3), (command, done.err)
        told = done.out + done.err if done.status != 2 else done.err + done.out
        assert LIKE.check_output(re.sub("…", "...", shown), told.replace("…", "..."), FLAGS), f"$ {command}\n{told}"
    return len(found)


def test_the_page(run: Callable[..., Done], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run_page("parts.md", run) >= 5
    for block in re.findall(r"```python\n(.*?)```", (DOCS / "parts.md").read_text(encoding="utf-8"), re.S):
        exec(compile(block, "docs/parts.md", "exec"), {"__name__": "docs"})


def test_json_holds_entries_whole(run: Callable[..., Done]) -> None:
    found = run("parts", "sway", "bar", "--json").json["parts"]
    assert found[0]["id"] == "anti_roll_bar" and found[0]["matched"] == "sway bar"
    assert "end" in found[0]["points"]
    assert len(run("parts", "--json").json["parts"]) >= 150


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--system", "plumbing"), "take one of suspension"),
        (("--add", "heat shield", "--is", "Foil."), "--in"),
        (("--add", "rocker", "--is", "A lever.", "--in", "a.longlens"), "already"),
        (("--add", "heat shield", "--in", "a.longlens"), "--is"),
        (("--add", "heat shield", "--is", "Foil.", "--place", "roof", "--in", "a.longlens"), "--place"),
        (("--add", "!!", "--is", "Foil.", "--in", "a.longlens"), "--add"),
    ],
)
def test_what_cannot_be_is_said(
    run: Callable[..., Done], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    run("new", "a.longlens")
    done = run("parts", *args)
    assert done.status == 2 and said in done.err and "Traceback" not in done.err
