"""Every command and every example shown in the docs is run, and what is shown is what comes out."""

from __future__ import annotations

import doctest
import re
import shlex
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.cli.conftest import Done

DOCS = Path(__file__).parents[2] / "docs"
LIKE = doctest.OutputChecker()
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


def examples(page: str) -> list[tuple[str, str]]:
    """(command, output shown) of every console block, in order."""
    out = []
    for block in re.findall(r"```console\n(.*?)```", (DOCS / page).read_text(encoding="utf-8"), re.S):
        for part in re.split(r"^\$ ", block, flags=re.M)[1:]:
            command, _, shown = part.partition("\n")
            out.append((command, shown))
    return out


def test_the_command_line_page(
    run: Callable[..., Done], folder: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LONGLENS_CACHE", str(folder / "cache"))  # the page empties it
    real = find_spec("longlens.survey.answer") is not None
    if not real:
        from longlens.errors import NotSolvable

        fake = request.getfixturevalue("solver")
    found = examples("command-line.md")
    assert len(found) > 20
    status = 0
    for command, shown in found:
        if command == "echo $?":
            assert shown.strip() == str(status)
            continue
        if not real:
            fake.error = NotSolvable("x", needs=["y"]) if "thin" in command else None
        program, *args = shlex.split(command)
        assert program == "longlens"
        done = run(*args)
        status = done.status
        assert status in (0, 2, 3), (command, done.err)
        told = done.out + done.err if status != 2 else done.err + done.out
        wanted = re.sub(r"…", "...", shown)
        assert LIKE.check_output(wanted, told.replace("…", "..."), FLAGS), f"$ {command}\n{told}"


def test_every_command_is_shown_in_the_docs() -> None:
    from typer.main import get_command

    from longlens.cli import app

    text = "".join(page.read_text(encoding="utf-8") for page in DOCS.rglob("*.md"))
    missing = [name for name in get_command(app).commands if f"longlens {name}" not in text]  # type: ignore[attr-defined]
    assert missing == []


def test_the_python_on_the_dossier_page_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"```python\n(.*?)```", (DOCS / "dossier.md").read_text(encoding="utf-8"), re.S)
    assert len(blocks) >= 2
    from longlens.dossier import kinds

    by_name, by_model = dict(kinds._BY_NAME), dict(kinds._BY_MODEL)
    try:
        for block in blocks:
            exec(compile(block, "docs/dossier.md", "exec"), {"__name__": "docs"})
    finally:
        kinds._BY_NAME.clear(), kinds._BY_NAME.update(by_name)
        kinds._BY_MODEL.clear(), kinds._BY_MODEL.update(by_model)
    assert (tmp_path / "fulmar.longlens").exists()


def test_every_dependency_has_its_reason() -> None:
    import tomllib

    project = tomllib.loads((DOCS.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *(d for group in project["optional-dependencies"].values() for d in group)]
    text = (DOCS / "dependencies.md").read_text(encoding="utf-8")
    told = set(re.findall(r"^\| ([\w-]+) \| \S.{10,} \|$", text, re.M))
    named = {re.split(r"[<>=!~\[; ]", one)[0].lower() for one in wanted}
    assert named - told == set(), "add these to docs/dependencies.md with their reason"
    assert told - named == set(), "these are needed no longer"
