"""The commands of the README and of the brief's page are run, and what is shown is what comes out."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Done
from tests.cli.test_docs import DOCS, FLAGS, LIKE, examples


def follow(page: str, run: Callable[..., Done]) -> int:
    found = examples(page)
    for command, shown in found:
        program, *args = shlex.split(command)
        assert program == "longlens"
        done = run(*args)
        assert done.status == 0, (command, done.err)
        told = (done.out + done.err).replace("…", "...")
        assert LIKE.check_output(shown.replace("…", "..."), told, FLAGS), f"$ {command}\n{told}"
    return len(found)


def test_the_readme_from_photograph_to_brief(run: Callable[..., Done], folder: Path) -> None:
    assert follow("../README.md", run) > 6
    assert (folder / "fulmar.html").exists()


def test_the_page_on_the_brief(run: Callable[..., Done], folder: Path) -> None:
    run("new", "fulmar.longlens", "--name", "Fulmar E4")
    run("add", "fulmar.longlens", "front.jpg", "side.jpg")
    run("import", "fulmar.longlens", "marks.json")
    assert follow("brief.md", run) == 3


def test_the_page_on_publishing(run: Callable[..., Done], car: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(car.parent)
    assert follow("publish.md", run) == 3


@pytest.mark.parametrize("page", ["../README.md", "index.md", "brief.md", "publish.md"])
def test_links_lead_somewhere(page: str) -> None:
    here = DOCS / page
    for target in re.findall(r"\]\((?!https?:)([^)#]+)", here.read_text(encoding="utf-8")):
        assert (here.parent / target).exists(), target


def test_the_index_lists_every_page() -> None:
    text = (DOCS / "index.md").read_text(encoding="utf-8")
    assert [p.name for p in DOCS.glob("*.md") if p.name != "index.md" and f"({p.name})" not in text] == []
