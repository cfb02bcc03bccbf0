from __future__ import annotations

import json
import sys
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from longlens import cli
from tests.cli.little_car import document
from tests.dossier.pictures import encode, exif, scene


@dataclass
class Done:
    """What one command left behind."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out, parse_constant=_never)


def _never(text: str) -> None:
    raise AssertionError(f"{text} in JSON")


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Done]:
    """Run a command in this process, as the installed ``longlens`` would."""

    def command(*args: str | Path) -> Done:
        monkeypatch.setattr(sys, "argv", ["longlens", *map(str, args)])
        capsys.readouterr()
        try:
            cli.main()
            status = 0
        except SystemExit as e:
            status = 0 if e.code is None else int(e.code)
        told = capsys.readouterr()
        return Done(status, told.out, told.err)

    return command


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with photographs and exchange documents."""
    monkeypatch.chdir(tmp_path)
    tags = exif({0x013B: "Ada Quill"}, {0x920A: 50.0, 0xA405: 50, 0xA002: 600, 0xA003: 400})
    for i, name in enumerate(("front", "side", "rear")):
        (tmp_path / f"{name}.jpg").write_bytes(encode(scene(600, 400, i), exif=tags))
    (tmp_path / "notes.jpg").write_text("<html>not a photograph</html>")
    (tmp_path / "fulmar.json").write_text(json.dumps(document()))
    thin = document()
    thin["facts"] = []
    thin["marks"] = thin["marks"][:3]
    (tmp_path / "thin.json").write_text(json.dumps(thin))
    return tmp_path


ANSWER: dict[str, Any] = {
    "solved": True,
    "sigma0": 1.02,
    "redundancy": 118,
    "shots": {
        "s1": {
            "focal_px": 5120.3,
            "focal_sd_px": 14.1,
            "k1": -0.011,
            "principal_px": [3004.2, 1998.7],
            "position_m": [4.1, 2.2, 1.4],
            "residual_rms_px": 1.9,
        }
    },
    "points": {},
    "measures": {
        "track": {"value": 1.4496, "sd": 0.0012, "low95": 1.4473, "high95": 1.4520, "unit": "m"},
    },
    "suspect_marks": [{"shot": "s1", "point": "nose", "x": 1.0, "y": 2.0, "test": 4.8}],
    "warnings": ["the datum was chosen"],
}


class FakeSurvey:
    """Stands in for the solver, so that the commands are tested for what they do with an answer."""

    def __init__(self) -> None:
        self.answer: dict[str, Any] = json.loads(json.dumps(ANSWER))
        self.error: Exception | None = None
        self.calls: list[tuple[Any, int, int]] = []

    def solve(self, document: Any, *, seed: int = 0, draws: int = 2000, progress: Any = None) -> Any:
        self.calls.append((document, seed, draws))
        progress("adjusting [x]", 0.5)
        if self.error is not None:
            raise self.error
        answer = self.answer

        class Solution:
            def answer(self) -> dict[str, Any]:
                return answer

        return Solution()


@pytest.fixture
def solver(monkeypatch: pytest.MonkeyPatch) -> FakeSurvey:
    monkeypatch.setenv("LONGLENS_CACHE", "off")  # what it makes up is kept for nobody, here neither
    monkeypatch.setattr("longlens.systems.survey_numbers._solutions", OrderedDict())
    fake = FakeSurvey()
    module = ModuleType("longlens.survey.answer")
    module.solve = fake.solve  # type: ignore[attr-defined]
    import longlens.survey

    monkeypatch.setitem(sys.modules, "longlens.survey.answer", module)
    monkeypatch.setattr(longlens.survey, "answer", module, raising=False)  # what another test has imported already
    return fake
