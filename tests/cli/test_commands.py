"""Every command: what it does, what it prints, and what it leaves with."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from longlens import cli
from longlens.dossier.exchange import exchange_schema
from longlens.dossier.records import Fact, Mark, Point, Shot, Stage
from longlens.dossier.store import Dossier
from longlens.errors import NotSolvable
from tests.cli.conftest import ANSWER, Done, FakeSurvey
from tests.cli.little_car import TRACK, document

Run = Callable[..., Done]
CAR = Path("fulmar.longlens")


@pytest.fixture
def car(run: Run, folder: Path) -> Path:
    assert run("import", CAR, "fulmar.json").status == 0
    return CAR


def test_new_makes_a_dossier_once(run: Run, folder: Path) -> None:
    done = run("new", "fulmar", "--name", "Fulmar E4", "--maker", "Skerry", "--json")
    assert done.status == 0 and done.json["file"] == "fulmar.longlens"
    assert done.json["vehicle"]["maker"] == "Skerry"
    again = run("new", "fulmar")
    assert again.status == 2 and "already a file" in again.err and again.out == ""
    nowhere = run("new", "none/fulmar")
    assert nowhere.status == 2 and "folder does not exist" in nowhere.err


def test_add_takes_what_it_can_and_names_the_rest(run: Run, folder: Path) -> None:
    run("new", CAR)
    done = run("add", CAR, "front.jpg", "notes.jpg", "none.jpg", "side.jpg", "--stage", "shown", "--source", "kit")
    assert done.status == 2
    assert "front.jpg: shot 'front', 600 × 400 pixels, focal length 833" in done.out
    assert done.err.splitlines() == [
        "notes.jpg: not a photograph but a web page — JPEG, PNG, WebP, TIFF and HEIC are read",
        "none.jpg: there is no such file — check the path",
    ]
    with Dossier.open(CAR) as d:
        assert [(s.id, s.stage, s.source) for s in d.all(Shot)] == [("front", "shown", "kit"), ("side", "shown", "kit")]
        assert d.ids(Stage) == ["shown"]
        assert d.steps(1)[0].label == "add 2 photographs" and d.steps(1)[0].by == "command line"
    whole = run("add", CAR, ".", "--json")  # a folder: the files in it
    outcomes = {a["name"]: a["outcome"] for a in whole.json["photographs"]}
    assert outcomes["rear.jpg"] == "added" and outcomes["front.jpg"] == "same" and whole.status == 2
    assert outcomes[CAR.name] == "refused"


def test_import_and_export_are_each_other_s_inverse(run: Run, folder: Path, car: Path) -> None:
    out = run("export", car)
    assert out.status == 0 and out.json["marks"] == document()["marks"]
    assert run("export", car, "--to", "again.json").status == 0
    assert json.loads(Path("again.json").read_text()) == out.json
    again = run("import", car, "again.json", "--json")
    assert again.json == {"file": "fulmar.longlens", "made": {}, "changed": {}}
    assert "nothing new" in run("import", car, "again.json").out
    assert run("export", car, "--to", "none/x.json").status == 2


def test_import_says_which_equal_lengths_it_leaves_out(run: Run, folder: Path, car: Path) -> None:
    a, b, c = (p["id"] for p in document()["points"][:3])
    rules = [{"one": [a, b], "other": [a, c]}, {"one": [a, b], "other": [b, c]}]
    Path("rules.json").write_text(json.dumps({**document(), "equal_lengths": rules}))
    done = run("import", car, "rules.json", "--json")
    assert done.status == 0 and done.json["made"] == {}
    assert "2 equal lengths are left out" in done.err and "longlens survey FILE.json" in done.err
    assert "left out" not in run("import", car, "fulmar.json").err


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("{", "not JSON"),
        ("[]", "must be one JSON object"),
        ('{"format": "longlens-exchange", "version": 9}', "newer"),
        ('{"format": "longlens-exchange", "version": 1}', "vehicle: this field is missing"),
        (
            '{"format": "longlens-exchange", "version": 1, "vehicle": {"name": "x"}, "marks": [{"shot": "s"}]}',
            "marks[0]",
        ),
    ],
)
@pytest.mark.parametrize("command", ["import", "survey"])
def test_a_document_that_does_not_fit_names_the_place(
    run: Run, folder: Path, command: str, content: str, told: str
) -> None:
    Path("bad.json").write_text(content)
    args = ("import", CAR, "bad.json") if command == "import" else ("survey", "bad.json", "--json")
    done = run(*args)
    assert done.status == 2 and done.out == "" and told in done.err and "Traceback" not in done.err
    assert not CAR.exists()


def test_import_into_what_is_no_dossier_is_refused(run: Run, folder: Path) -> None:
    before = Path("front.jpg").read_bytes()
    done = run("import", "front.jpg", "fulmar.json")
    assert done.status == 2 and "not a dossier" in done.err and Path("front.jpg").read_bytes() == before


def test_schema_prints_the_schema(run: Run) -> None:
    done = run("schema", "exchange")
    assert done.status == 0 and done.json == json.loads(json.dumps(exchange_schema()))
    assert run("schema", "other").status == 2


def test_survey_of_a_file_prints_exactly_the_answer(run: Run, folder: Path, solver: FakeSurvey) -> None:
    done = run("survey", "fulmar.json", "--json", "--seed", "7", "--draws", "500")
    assert done.status == 0 and done.json == ANSWER
    assert solver.calls[0][1:] == (7, 500)
    solver.answer["sigma0"] = float("nan")
    assert run("survey", "fulmar.json", "--json").json["sigma0"] is None
    assert run("survey", "fulmar.json", "--stage", "shown").status == 2


def test_survey_shows_tables_suspects_warnings_and_the_caution(run: Run, folder: Path, solver: FakeSurvey) -> None:
    raw = document()
    raw["measures"].append({"id": "lost", "distance": ["nose", "hoop"]})
    Path("fulmar.json").write_text(json.dumps(raw))
    out = run("survey", "fulmar.json").out
    assert "1449.6 (1447–1452) mm" in out and "not determined" in out
    assert "5120 (5090–5150) px" in out and "nose" in out and "4.8" in out
    assert "! the datum was chosen" in out and "no basis for building" in " ".join(out.split())


def test_what_cannot_be_solved_says_what_it_needs(run: Run, folder: Path, solver: FakeSurvey) -> None:
    solver.error = NotSolvable("the scale is not determined", needs=["one known length"])
    done = run("survey", "fulmar.json", "--json")
    assert done.status == 3
    assert done.json == {"solved": False, "reason": "the scale is not determined", "needs": ["one known length"]}
    plain = run("survey", "fulmar.json")
    assert plain.status == 3 and plain.out == ""
    assert plain.err.splitlines() == ["not solvable: the scale is not determined", "  needs one known length"]


def test_our_own_mistake_shows_no_traceback(
    run: Run, folder: Path, solver: FakeSurvey, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("LONGLENS_TRACE", raising=False)
    solver.error = ZeroDivisionError("division by zero")
    done = run("survey", "fulmar.json", "--json")
    assert done.status == 1 and done.out == "" and "Traceback" not in done.err
    assert "longlens made a mistake (ZeroDivisionError" in done.err
    monkeypatch.setenv("LONGLENS_TRACE", "1")
    assert "Traceback" in run("survey", "fulmar.json").err


def test_numbers_are_shown_with_their_kind_and_trail(run: Run, folder: Path, car: Path, solver: FakeSurvey) -> None:
    with Dossier.open(car) as d:
        d.put(Fact(id="power", of="power", value=250e3, sd=5e3, unit="W", source="maker's sheet"))
        d.put(Fact(id="tyre", text="205/55 R 16", source="sidewall on s1"))
        d.put(Fact(id="drag", of="drag area", value=0.7, sd=0.1, unit="m^2", basis="assumed", reason="open cars"))
    assert run("survey", car, "--json").json == ANSWER
    done = run("numbers", car, "--json")
    assert "solving" in done.err
    rows = {r["id"]: r for r in done.json["numbers"]}
    assert rows["track"]["kind"] == "measured" and rows["track"]["text"] == "1449.6 (1447–1452) mm"
    assert rows["track"]["marks"] == 8 and rows["track"]["facts"] == ["wheelbase"]
    assert "8 marks on s1, s2, s3, s4" in rows["track"]["trail"]
    assert rows["power"]["kind"] == "stated" and "maker's sheet" in rows["power"]["trail"]
    assert rows["drag"]["kind"] == "assumed" and "open cars" in rows["drag"]["trail"]
    assert rows["tyre"]["text"] == "205/55 R 16"
    assert "no basis for building" in done.json["caution"]


def test_facts_are_shown_when_measures_cannot_be_solved(run: Run, folder: Path, car: Path, solver: FakeSurvey) -> None:
    solver.error = NotSolvable("too few marks", needs=["two more marks on shot s3"])
    done = run("numbers", car, "--json")
    rows = {r["id"]: r for r in done.json["numbers"]}
    assert done.status == 3 and "needs two more marks on shot s3" in done.err
    assert "value" not in rows["track"] and rows["wheelbase"]["value"] == 2.5


def test_stages_are_never_surveyed_together(run: Run, folder: Path, car: Path, solver: FakeSurvey) -> None:
    with Dossier.open(car) as d:
        for stage, order in (("test", 1), ("shown", 2)):
            d.put(Stage(id=stage, order=order))
        for shot in d.all(Shot):
            d.change(Shot, shot.id, stage="test" if shot.id in ("s1", "s2") else "shown")
    done = run("survey", car, "--json")
    assert done.status == 2 and "'test', 'shown'" in done.err and "--stage shown" in done.err
    assert run("survey", car, "--json", "--stage", "test").status == 0
    assert [s.id for s in solver.calls[0][0].shots] == ["s1", "s2"]
    assert run("survey", car, "--stage", "shwon").status == 2


def test_history_undo_and_redo(run: Run, folder: Path, car: Path) -> None:
    with Dossier.open(car) as d:
        d.change(Point, "nose", part="bumper", label="name the nose")
    assert "name the nose" in run("history", car).out
    record = run("history", car, "point", "nose")
    assert "made" in record.out and "part:" in record.out and "→ bumper" in record.out
    changes = run("history", car, "point", "nose", "--json").json["changes"]
    assert [c["after"]["part"] for c in changes] == ["", "bumper"]
    assert run("undo", car).out == "undo: name the nose\n"
    assert run("redo", car, "--json").json == {"redo": ["name the nose"]}
    assert run("undo", car, "--times", "9", "--json").json["undo"] == ["name the nose", "import exchange document"]
    assert run("undo", car).out == "nothing to undo\n"
    assert [s["role"] for s in run("history", car, "--json").json["steps"]][:2] == ["undo", "undo"]
    assert run("history", car, "point", "never").status == 2
    assert run("history", car, "point").status == 2


def test_editions_are_frozen_listed_and_exported(run: Run, folder: Path, car: Path, solver: FakeSurvey) -> None:
    run("survey", car)
    made = run("edition", "freeze", car, "first brief", "--note", "sent", "--json")
    assert made.json["contents"]["survey"][""]["measures"] == ANSWER["measures"]
    with Dossier.open(car) as d:
        d.change(Mark, d.ids(Mark)[0], x=1.0)
    (row,) = run("edition", "list", car, "--json").json["editions"]
    assert (row["name"], row["note"], row["changed_since"]) == ("first brief", "sent", 1)
    assert "first brief" in run("edition", "list", car).out
    assert run("export", car, "--edition", "first brief").json["marks"] == document()["marks"]
    assert run("export", car).json["marks"] != document()["marks"]
    assert run("export", car, "--edition", "none").status == 2
    assert run("edition", "freeze", car, "first brief").status == 2


def test_verify_says_sound_or_what_is_wrong(run: Run, folder: Path, car: Path) -> None:
    sound = run("verify", car, "--json")
    assert sound.status == 0 and sound.json["sound"]
    head = sound.json["chain_head"]
    with Dossier.open(car) as d:
        d.remove(Point, "nose")
    assert run("verify", car, "--hash", head).status == 2  # the chain is whole, but marks point to nothing
    run("undo", car)
    assert run("verify", car, "--hash", head).status == 0
    other = run("verify", car, "--hash", "00")
    assert other.status == 2 and "written anew" in other.err
    import sqlite3

    db = sqlite3.connect(car)
    db.execute("UPDATE entry SET after = replace(after, 'nose', 'tail')")
    db.commit()
    db.close()
    broken = run("verify", car, "--json")
    assert broken.status == 2 and not broken.json["sound"] and "was changed after" in broken.err


@pytest.mark.parametrize(
    "args",
    [
        ("add", "x.longlens", "front.jpg"),
        ("export", "x.longlens"),
        ("numbers", "x.longlens"),
        ("survey", "x.longlens"),
        ("history", "x.longlens"),
        ("undo", "x.longlens"),
        ("redo", "x.longlens"),
        ("verify", "x.longlens"),
        ("edition", "list", "x.longlens"),
        ("edition", "freeze", "x.longlens", "e"),
    ],
)
@pytest.mark.parametrize("content", [None, b"", b"not a dossier" * 50])
def test_every_command_refuses_what_is_no_dossier(
    run: Run, folder: Path, args: tuple[str, ...], content: bytes | None
) -> None:
    if content is not None:
        Path("x.longlens").write_bytes(content)
    done = run(*args)
    assert done.status == 2 and done.out == "" and len(done.err.splitlines()) == 1 and "x.longlens" in done.err


def test_a_newer_dossier_is_left_alone(run: Run, folder: Path, car: Path) -> None:
    data = bytearray(car.read_bytes())
    data[60:64] = (99).to_bytes(4, "big")
    car.write_bytes(data)
    for args in (("undo", car), ("add", car, "front.jpg"), ("numbers", car)):
        done = run(*args)
        assert done.status == 2 and "newer longlens" in done.err
    assert car.read_bytes() == bytes(data)


@pytest.mark.parametrize("args", [("fly",), ("survey",), ("survey", "f", "--draws", "1"), ("new", "--nme", "x")])
def test_a_wrong_call_leaves_with_2(run: Run, args: tuple[str, ...]) -> None:
    done = run(*args)
    assert done.status == 2 and done.out == "" and "Error" in done.err


def test_names_from_a_file_cannot_steer_the_terminal(run: Run, folder: Path, car: Path) -> None:
    with Dossier.open(car) as d:
        d.put(Fact(id="f\x1b[2J", of="[red]x[/red]", value=1.0, sd=0.1, unit="kg"), label="\x1b]0;owned\x07")
    for args in (("history", car), ("history", car, "fact", "f\x1b[2J")):
        done = run(*args)
        assert done.status == 0 and "\x1b" not in done.out + done.err and "\x07" not in done.out


def test_the_demo_is_built_by_its_own_floor(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import longlens.demo

    built = []
    monkeypatch.setattr(
        longlens.demo, "build_demo", lambda to, progress: (progress("a", 0.5), built.append(to)), raising=False
    )
    assert run("demo", "--to", "there").status == 0 and built == [Path("there")]


def test_after_a_crash_reading_works_at_once(run: Run, folder: Path, car: Path) -> None:
    """A change left unfinished by kill -9 is rolled back by whichever command comes next."""
    code = (
        "import os, signal, sys; from longlens.dossier.store import Dossier; from pathlib import Path\n"
        "d = Dossier.open(Path(sys.argv[1]))\n"
        "with d.batch('never finished'):\n"
        "    d._db.execute('PRAGMA cache_size = 1')\n"
        "    for i in range(40): d.keep_original(os.urandom(20_000))\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    before = run("export", car).json
    assert subprocess.run([sys.executable, "-c", code, str(car)]).returncode == -signal.SIGKILL
    assert os.path.getsize(f"{car}-journal") > 0
    assert run("export", car).json == before
    assert run("verify", car).status == 0


def test_the_installed_command_answers_for_itself(folder: Path) -> None:
    script = Path(sys.executable).parent / "longlens"
    shown = subprocess.run([script, "--version"], capture_output=True, text=True)
    assert shown.returncode == 0 and shown.stdout.startswith("longlens ")
    bad = subprocess.run([script, "survey", "none.json"], capture_output=True, text=True, env={"LC_ALL": "C"})
    assert bad.returncode == 2 and bad.stdout == "" and "none.json" in bad.stderr
    gone = subprocess.run(f"'{script}' schema exchange | head -1", shell=True, capture_output=True, text=True)
    assert gone.stdout == "{\n" and gone.stderr == ""
    complete = subprocess.run(
        [script], capture_output=True, text=True,
        env={"_LONGLENS_COMPLETE": "complete_bash", "COMP_WORDS": "longlens su", "COMP_CWORD": "1"},
    )  # fmt: skip
    assert complete.stdout.split() == ["survey"]


def test_help_loads_nothing_heavy() -> None:
    code = "import sys; from longlens import cli; print(*sys.modules)"
    loaded = set(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.split())
    assert not loaded & {"numpy", "scipy", "pydantic", "cv2", "PIL", "pint", "sqlite3", "CoolProp"}
    assert cli.app is not None


def test_a_real_survey_from_file_and_dossier_agree(run: Run, folder: Path, car: Path) -> None:
    pytest.importorskip("longlens.survey.answer")
    from_file, from_dossier = run("survey", "fulmar.json", "--json"), run("survey", car, "--json")
    assert from_file.status == 0 and from_file.json == from_dossier.json
    track = from_file.json["measures"]["track"]
    assert abs(track["value"] - TRACK) < 4 * track["sd"] and track["unit"] == "m"
    thin = run("survey", "thin.json", "--json")
    assert thin.status == 3 and thin.json["solved"] is False and thin.json["needs"]
