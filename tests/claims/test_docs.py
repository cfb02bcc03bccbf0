"""The commands of the page on claims are run, and what is shown is what comes out."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from longlens.dossier.records import Mark
from longlens.dossier.store import Dossier
from tests.cli.conftest import Done, folder, run  # noqa: F401  (fixtures)
from tests.cli.test_docs import DOCS, FLAGS, LIKE, examples


@pytest.fixture
def there(folder: Path, run: Callable[..., Done]) -> Path:  # noqa: F811
    """A dossier with a mark to rest on, and the page's question."""
    run("new", "fulmar.longlens", "--name", "Fulmar E4")
    run("import", "fulmar.longlens", "fulmar.json")
    with Dossier.open(folder / "fulmar.longlens") as dossier:
        mark = dossier.all(Mark)[0].id
    (block,) = re.findall(r"```json\n(.*?)```", (DOCS / "claims.md").read_text(encoding="utf-8"), re.S)
    (folder / "plumbing.json").write_text(block.replace("mark:front:nose", f"mark:{mark}"))
    return folder


def test_the_page_on_claims(run: Callable[..., Done], there: Path) -> None:  # noqa: F811
    found = examples("claims.md")
    assert len(found) > 10
    for command, shown in found:
        program, *args = shlex.split(command)
        assert program == "longlens"
        done = run(*args)
        assert done.status == 0, (command, done.err)
        told = (done.out + done.err).replace("…", "...")
        assert LIKE.check_output(shown.replace("…", "..."), told, FLAGS), f"$ {command}\n{told}"


def test_json_everywhere(run: Callable[..., Done], there: Path) -> None:  # noqa: F811
    file = "fulmar.longlens"
    assert run("questions", "put", file, "plumbing.json", "--json").json["leads"] == "one"
    assert run("questions", "list", file, "--json").json["questions"][0]["id"] == "plumbing"
    assert run("questions", "show", file, "plumbing", "--json").json["scale"].startswith("ENFSI")
    (look,) = run("questions", "settle", file, "plumbing", "--no-positions", "--json").json["candidates"]
    assert 0 < look["bits"] < 1
    assert run("forecast", "make", file, "a", "x", "--chance", "0.2", "--json").json["state"] == "open"
    assert run("forecast", "resolve", file, "a", "seen", "--did-not", "--json").json["score"]["brier"] == pytest.approx(
        0.04
    )
    assert run("forecast", "list", file, file, "--json").json["events"] == 2
    assert run("forecast", "check", file, "--json").json == {"forecasts": 1, "problems": []}
    frozen = run("edition", "freeze", file, "first", "--json").json
    assert frozen["contents"]["claims"]["plumbing"]["leads"] == "one"
    assert run("revisions", file, "--since", "first", "--json").json["numbers"] == []


def test_what_cannot_be_used_is_one_line(run: Callable[..., Done], there: Path) -> None:  # noqa: F811
    file = "fulmar.longlens"
    (there / "bad.json").write_text('{"question": ')
    data = json.loads((there / "plumbing.json").read_text())
    data["question"]["alternatives"][0]["prior"] = 0.9
    (there / "more.json").write_text(json.dumps(data))
    for args, words in (
        (("questions", "put", file, "bad.json"), "is not JSON"),
        (("questions", "put", file, "none.json"), "cannot be read"),
        (("questions", "put", file, "more.json"), "priors add up to 1.4"),
        (("questions", "show", file, "zz"), "there is no question 'zz'"),
        (("forecast", "make", file, "x", "x", "--chance", "7"), "not between 0 and 1"),
        (("forecast", "make", file, "x", "x", "--chance", "likely"), "no probability"),
        (("forecast", "resolve", file, "x", "x", "--happened"), "there is no forecast 'x'"),
        (("revisions", file, "--since", "zz"), "there is no edition 'zz'"),
    ):
        done = run(*args)
        assert done.status == 2 and words in done.err and "Traceback" not in done.err, (args, done.err)
